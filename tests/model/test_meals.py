"""Windows of meals and the price of work: every formulation has the same weeks at the same cost.

What a meal must hold bounds the sizes of a dish where it is all of the meal; the day-by-day model
states it as rows of its own, and the relaxations as spans of sizes.
"""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from model.audited import audited
from model.everymenu import all_menus, price_of
from model.points import MONEY, optimum
from model.small import EXACT, catalog, client, food, pack, random_kitchen, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.model.daymenus import MenuTable
from planopt.model.kitchen import new_kitchen
from planopt.model.merged import merged_relaxation
from planopt.model.strengthen import Strengthening
from planopt.model.weekly import add_weekly
from planopt.problem.build import build_problem
from planopt.problem.decisions import cost_of
from planopt.solve.annealing import compiled
from planopt.solve.annealing.arrays import week_arrays
from planopt.solve.annealing.memetic import suits
from planopt.solve.annealing.week import Annealing, servings_of
from planopt.solve.budget import Budget
from planopt.solve.engine.search import search
from planopt.solve.heuristics.fullmaster import AllMenus, every_menu
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.highs.matrix import to_matrix
from planopt.solve.settings import SolveSettings
from planopt.whynot.explain import explain
from slow import few

KITCHENS = range(16)


@pytest.mark.parametrize("seed", KITCHENS)
def test_menus_are_those_of_enumeration(seed: int) -> None:
    """The cheapest days are the cheapest of all days whose meals hold what they must."""
    problem = random_kitchen(seed, meals_sized=True).problem
    chance = np.random.default_rng(seed)
    for g, group in enumerate(problem.groups):
        counts = [len(problem.slots[i].options) for i in group.slots[0]]
        prices = [chance.uniform(-1, 3, (2, count)) for count in counts]
        every = sorted(price_of(menu, prices) for menu in all_menus(problem, g))
        found = MenuTable(problem, g).cheapest(prices, 1, inf)
        assert [total for total, _ in found] == pytest.approx(every[:1], abs=1e-9)


@pytest.mark.parametrize("seed", few(KITCHENS, 5))
def test_every_formulation_has_the_same_cheapest_week(seed: int) -> None:
    """Day by day, over all menus and by the search: one cost, and no relaxation is above it."""
    drawn = random_kitchen(seed, meals_sized=True)
    problem = drawn.problem
    plain = search_plain(problem, EXACT)
    menus = every_menu(problem, 5000, Budget(SolveSettings(time_limit_s=20.0)))
    assert menus is not None
    master = AllMenus(problem, menus, strengthen=True).solve(EXACT, cost_weight=1.0)
    found = search(problem, EXACT)
    assert (plain.decisions is None) == (master.decisions is None) == (found.decisions is None)
    if plain.decisions is None or master.decisions is None or found.decisions is None:
        pytest.skip("no week complies")
    least = cost_of(problem, plain.decisions).objective
    assert cost_of(problem, master.decisions).objective == pytest.approx(least, abs=MONEY)
    assert cost_of(problem, found.decisions).objective == pytest.approx(least, abs=MONEY)
    assert found.bound <= least + MONEY
    kitchen = new_kitchen(problem)
    rows = Strengthening(kitchen)
    rows.add()
    add_weekly(kitchen, rows.made)
    for relaxed in (
        optimum(to_matrix(kitchen.lp)),
        optimum(to_matrix(merged_relaxation(problem).lp)),
    ):
        assert relaxed.objective is not None
        assert relaxed.objective <= least + MONEY
    audited(problem, drawn.catalog, drawn.scenario, found.decisions)


def test_several_dishes_add_up_to_what_a_meal_must_hold() -> None:
    """With two dishes a meal the sum counts, in the model, the search and the audit."""
    seen = 0
    for seed in range(12):
        drawn = random_kitchen(seed, one_dish=False, meals_sized=True)
        problem = drawn.problem
        if problem.most_dishes_per_meal == 1:
            continue
        found = search(problem, EXACT)
        plain = search_plain(problem, EXACT)
        assert found.infeasible == plain.infeasible
        if found.decisions is None or plain.decisions is None:
            continue
        seen += 1
        least = cost_of(problem, plain.decisions).objective
        assert cost_of(problem, found.decisions).objective == pytest.approx(least, abs=MONEY)
        audited(problem, drawn.catalog, drawn.scenario, found.decisions)
    assert seen >= 2


@pytest.mark.skipif(not compiled.installed(), reason="numba is not installed")
def test_the_compiled_search_counts_work_and_keeps_sizes() -> None:
    """Its account of work and boxes is the plan's, and what it calls sound the audit lets pass."""
    agreed, worked = 0, 0
    for seed in range(30):
        drawn = random_kitchen(seed, meals_sized=True)
        week = drawn.scenario.model_copy(update={"visit_cost": 0, "budget": None})
        problem = build_problem(drawn.catalog, week)
        if not suits(problem):
            continue
        annealing = Annealing(week_arrays(problem), seed)
        annealing.random_week()
        annealing.run(10_000, 3.5, 0.2)
        money = annealing.money
        annealing.settle()
        assert annealing.money == pytest.approx(money, abs=1e-7)
        if not np.isfinite(annealing.best):
            continue
        servings = servings_of(problem, annealing.arrays, *annealing.best_week())
        plan = carried_out(problem, servings)
        assert plan is not None
        costs = cost_of(problem, plan)
        audited(problem, drawn.catalog, week, plan)
        agreed += abs(costs.objective - annealing.best - annealing.arrays.constant) < 1e-6
        worked += costs.work > 0
    assert agreed >= 3
    assert worked >= 5


def test_an_hour_of_the_cook_spares_a_second_pot() -> None:
    """A dearer dish that one pot makes is cooked where the cook's hour costs more than it saves."""
    cheap = recipe("cheap", {"beans": 100}, yield_servings=1)
    dear = recipe("dear", {"rice": 200}, yield_servings=2)
    foods = catalog(
        [food("beans"), food("rice")],
        [pack("beans", 100, "0.50", sold="loose"), pack("rice", 100, "0.55", sold="loose")],
        [cheap, dear],
    )
    two_days = {"days": 2, "clients": [client()], "waste_weight": 0}

    def cooked(**keys: object) -> tuple[set[str], float]:
        problem = build_problem(foods, scenario(**two_days, **keys))
        found = search(problem, EXACT)
        assert found.decisions is not None
        names = {
            problem.dishes[problem.cookings[n].dish].recipe_id for n in found.decisions.batches
        }
        return names, cost_of(problem, found.decisions).work

    assert cooked() == ({"cheap"}, 0.0)
    # Ten minutes and four for a second batch against ten: 0.40 at six an hour, more than 0.10.
    assert cooked(work_prices={"cook_hour": "6"}) == ({"dear"}, 1.0)


def _two_dishes() -> Catalog:
    """Return beans and rice, each a dish of lunch and dinner: 300 and 350 kcal a serving."""
    return catalog(
        [food("beans", kcal=300, protein=20), food("rice", kcal=350, protein=7)],
        [pack("beans", 100, "0.50", sold="loose"), pack("rice", 100, "0.55", sold="loose")],
        [recipe("bowl", {"beans": 200}), recipe("pot", {"rice": 200})],
    )


def _why(energy: dict[str, float], **keys: object) -> list[str]:
    portions = {"step": 0.5, "smallest": 0.5, "largest": 3}
    eater = client(portions=portions, windows_per_day={"energy_kcal": energy})
    week = scenario(days=2, meals=["lunch", "dinner"], clients=[eater], **keys)
    counted = SolveSettings(work_limit=2000)
    return list(explain(_two_dishes(), week, counted, seconds=20).sentences)


def test_a_meal_that_nothing_fits_is_named_and_moved() -> None:
    """A most of a lunch below the smallest portion: told as such, with the least that would do."""
    told = _why({"min": 600, "max": 900}, windows_per_meal={"lunch": {"energy_kcal": {"max": 100}}})
    assert told == [
        "These meals have no dish, because no dish has a portion of a size that they may have:",
        "- Ana: lunch, every day",
        "Widen what the meals may hold (`windows_per_meal`, `plate_g`; `meal_defaults: off` for "
        "the usual sizes) or the `portions`, or use other recipes.",
        "This cannot be met by itself: Ana: energy_kcal at lunch at most 100 kcal.",
        "What would suffice, the smallest change first:",
        "- Ana: energy_kcal at lunch at most 150 kcal: suffices, and nothing less does; "
        "now 100 kcal.",
    ]


def test_meals_that_clash_with_their_day_are_named() -> None:
    """Shares of meals that cannot make up the day clash with it, each by its name."""
    small = {"lunch": {"energy_kcal": {"max": "20%"}}, "dinner": {"energy_kcal": {"max": "35%"}}}
    told = _why({"min": 600, "max": 900}, windows_per_meal=small)
    assert told[0] == (
        "These cannot all be met together: Ana: energy_kcal at least 600 kcal a day; "
        "Ana: energy_kcal at lunch at most 180 kcal; Ana: energy_kcal at dinner at most 315 kcal."
    )
    assert "- Ana: energy_kcal at lunch at most 350 kcal: suffices, and nothing less does; "\
        "now 180 kcal." in told  # fmt: skip


def test_a_usual_size_says_that_it_is_one() -> None:
    """Where the usual sizes clash, the words say so: nobody has written them."""
    lunch = {"lunch": {"energy_kcal": {"max": 160}}}
    told = _why({"min": 850, "max": 900}, meal_defaults="on", windows_per_meal=lunch)
    assert told[0] == (
        "These cannot all be met together: Ana: energy_kcal 850 to 900 kcal a day; "
        "Ana: energy_kcal at dinner 326 to 622 kcal (usual size)."
    )
