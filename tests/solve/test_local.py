"""Local search over whole days: every menu complies, and no step makes the best week dearer."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from model.audited import audited
from model.chosen import Chosen
from model.everymenu import all_menus, complies
from model.points import real_optimum
from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.model.daymenus import MenuTable
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of, servings_eaten
from planopt.solve.budget import Budget, BudgetPart
from planopt.solve.heuristics.columngeneration import MenuMaster
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.tidy import tidied
from slow import few

KITCHENS = range(40)
MOVES = 25


@lru_cache
def _tables(seed: int) -> tuple[Problem, list[MenuTable]]:
    problem = random_kitchen(seed).problem
    return problem, [MenuTable(problem, g) for g in range(len(problem.groups))]


def _begun(seed: int, *, chance: int = 1) -> LocalSearch | None:
    """Return a search with a whole week, None where some day has no menu."""
    problem, tables = _tables(seed)
    if any(table.empty for table in tables):
        return None
    local = LocalSearch(problem, tables, chance)
    return local if local.start() else None


def _week(seed: int, *, chance: int = 1) -> LocalSearch:
    """Return a search with a whole week in a kitchen that has one."""
    local = _begun(seed, chance=chance)
    assert local is not None
    return local


WITH_WEEK = Chosen(lambda seed: _begun(seed) is not None)


def _moves(count: int) -> BudgetPart:
    return Budget(EXACT).part(work=count)


def _assert_complies(local: LocalSearch) -> None:
    assert sorted(local.menus) == sorted(local.days)
    for (g, _), menu in local.menus.items():
        assert menu.group == g
        assert complies(local.problem, menu)


@pytest.mark.parametrize("seed", KITCHENS)
def test_every_menu_put_back_complies(seed: int) -> None:
    """At the start and after every few moves, each day has a menu that meets all its windows."""
    local = _begun(seed)
    if local is None:
        problem, _ = _tables(seed)
        assert any(not all_menus(problem, g) for g in range(len(problem.groups)))
    else:
        _assert_complies(local)
        for _ in range(5):
            local.improve(_moves(4))
            _assert_complies(local)


def test_enough_of_the_kitchens_have_a_week() -> None:
    """The tests of this file are not idle: many kitchens have a menu for every day."""
    assert sum(_begun(seed) is not None for seed in KITCHENS) >= 15


@pytest.mark.parametrize("nth", range(24))
def test_what_is_eaten_is_what_the_menus_serve(nth: int) -> None:
    """The running total of servings stays that of the week, however often days are changed."""
    local = _week(WITH_WEEK[nth])
    local.improve(_moves(MOVES))
    servings = Decisions({}, local.servings(), {})
    eaten = servings_eaten(local.problem, servings)
    expected = [eaten.get(n, 0.0) for n in range(len(local.problem.cookings))]
    assert local.eaten == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("nth", range(24))
def test_a_week_survives_being_told_as_servings(nth: int) -> None:
    """Servings read out and loaded again give the same menus, cost and servings."""
    seed = WITH_WEEK[nth]
    local = _week(seed)
    servings = local.servings()
    assert {slot for slot, _ in servings} == set(range(len(local.problem.slots)))
    other = LocalSearch(*_tables(seed), seed=5)
    other.load_servings(servings)
    assert other.menus == local.menus
    assert other.servings() == servings
    assert other.cost() == pytest.approx(local.cost(), abs=1e-9)


@pytest.mark.parametrize("nth", range(24))
def test_improving_never_ends_dearer_than_it_began(nth: int) -> None:
    """The cost returned is that of the week kept, and is at most the cost before."""
    local = _week(WITH_WEEK[nth])
    before = local.cost()
    for moves in (1, 3, MOVES):
        after = local.improve(_moves(moves))
        assert after <= before + 1e-9
        assert local.cost() == pytest.approx(after, abs=1e-9)
        before = after


def test_improving_gains_on_some_kitchens() -> None:
    """Moves are not idle: some first weeks become cheaper."""
    gains = 0
    for seed in KITCHENS:
        local = _begun(seed)
        if local is not None:
            before = local.cost()
            gains += local.improve(_moves(MOVES)) < before - 1e-6
    assert gains >= 3


@pytest.mark.parametrize("nth", range(0, 24, 4))
def test_the_same_seed_gives_the_same_week(nth: int) -> None:
    """Chance comes from the seed alone."""
    first, second = (_week(WITH_WEEK[nth], chance=7) for _ in range(2))
    first.improve(_moves(MOVES))
    second.improve(_moves(MOVES))
    assert first.menus == second.menus


def test_told_to_stop_it_keeps_the_week() -> None:
    """A search that is over before its first move gives back the week it had."""
    local = _begun(1)
    assert local is not None
    menus = dict(local.menus)
    assert local.improve(_moves(0)) == local.cost()
    assert local.menus == menus


def _is_sound(seed: int) -> bool:
    local = _begun(seed)
    if local is None:
        return False
    local.improve(_moves(MOVES))
    return local.sound()


SOUND = Chosen(_is_sound)


@pytest.mark.parametrize("nth", few(range(12), 5))
def test_a_sound_week_becomes_a_plan_that_the_audit_accepts(nth: int) -> None:
    """What the account calls sound, the kitchen can cook: rules of clients and limits hold."""
    seed = SOUND[nth]
    local = _week(seed)
    local.improve(_moves(MOVES))
    assert local.sound()
    # The account knows neither the budget nor that versions share the most batches of a recipe.
    drawn = random_kitchen(seed)
    week = drawn.scenario.model_copy(update={"budget": None})
    problem = replace(local.problem, budget=None)
    decisions = MenuMaster(problem, EXACT).realize(local.servings(), 10.0)
    if decisions is None:
        assert any(dish.version != "base" for dish in problem.dishes)
    else:
        decisions = tidied(problem, decisions)
        audited(problem, drawn.catalog, week, decisions)
        real = real_optimum(seed)
        if real is not None and drawn.scenario.budget is None:
            assert cost_of(problem, decisions).objective >= real - 1e-5


def test_many_weeks_are_sound() -> None:
    """The test above is not idle."""
    sound = 0
    for seed in KITCHENS:
        local = _begun(seed)
        if local is not None:
            local.improve(_moves(MOVES))
            sound += local.sound()
    assert sound >= 8


# Two dishes, each of one food; every rule below is broken by eating only the cheaper one.
RULES = {
    "repeats": {"most_repeats": 1},
    "variety": {"least_different_recipes": 2},
    "dislikes": {"dislikes": {"rice": 1}},
    "wants": {"wants": {"beans": 1}},
    "servings": {"recipe_servings": {"dear": {"min": 1}}},
    "most servings": {"recipe_servings": {"cheap": {"max": 1}}},
    "least of the plan": {"windows_per_week": {"protein_g": {"min": 11}}},
    "most of the plan": {"windows_per_week": {"energy_kcal": {"max": 600}}},
}


@pytest.mark.parametrize("rule", RULES)
def test_rules_of_the_whole_plan_are_known(rule: str) -> None:
    """A week of the cheaper dish alone is unsound under each rule; improving mends it."""
    foods = [food("beans", kcal=100, protein=9), food("rice", kcal=400, protein=3)]
    packs = [pack("beans", 100, "3.00"), pack("rice", 100, "1.00")]
    dishes = [
        recipe("cheap", {"rice": 100}, yield_servings=1),
        recipe("dear", {"beans": 100}, yield_servings=1),
    ]
    eater = client(medically_supervised=True, **RULES[rule])
    week = scenario(days=2, clients=[eater])
    problem = build_problem(catalog(foods, packs, dishes), week)
    cheap = next(n for n, dish in enumerate(problem.dishes) if dish.recipe_id == "cheap")
    local = LocalSearch(problem, [MenuTable(problem, g) for g in range(len(problem.groups))], 1)
    only_cheap = {
        (i, j): 1.0
        for i, slot in enumerate(problem.slots)
        for j, option in enumerate(slot.options)
        if option.dish == cheap
    }
    local.load_servings(only_cheap)
    assert local.rule_penalty(0) > 0
    assert not local.sound()
    local.improve(_moves(MOVES))
    assert local.sound()
    assert local.cost() == pytest.approx(4.0)
