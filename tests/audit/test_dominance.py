"""Dominance: the audit accuses what could be left out or bought for less, and nothing else."""

from __future__ import annotations

from decimal import Decimal
from random import Random

import pytest

from model.chosen import Chosen
from model.small import (
    EXACT,
    SOURCE,
    Drawn,
    catalog,
    client,
    facts,
    food,
    pack,
    random_kitchen,
    recipe,
    scenario,
)
from planopt.audit import audit_plan
from planopt.audit.books import Books
from planopt.audit.dominance import check_dominance
from planopt.audit.findings import Finding
from planopt.plan.extract import extract_plan
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.solve.engine.search import search
from planopt.solve.heuristics.tidy import carried_out
from slow import few
from solve.drawnservings import drawn_servings

CENT = 0.01


def accused(drawn: Drawn, problem: Problem, week: Decisions) -> list[Finding]:
    """Return what the audit finds that a week could do without, compliant or not."""
    plan = extract_plan(problem, drawn.catalog, drawn.scenario, week, facts(), SOURCE)
    return list(check_dominance(Books(plan, drawn.catalog, drawn.scenario)))


def rules(findings: list[Finding]) -> set[str]:
    """Return the rules of findings."""
    return {finding.rule for finding in findings}


# One food by hand: lentils in packs of 500 g for 2.00 and 200 g for 1.10, and one recipe that
# takes 100 g for two servings in half batches.
def _lentils(**keys: object) -> Drawn:
    dish = recipe("stew", {"lentils": 100})
    dish["batch"] = {"step": "half", "most_per_cook_day": 12}
    packs = [pack("lentils", 200, "1.10"), pack("lentils", 500, "2.00", "market")]
    eater = client(portions={"step": 0.5, "smallest": 0.5, "largest": 20})
    return Drawn(
        catalog([food("lentils")], packs, [dish]), scenario(**{"clients": [eater], **keys})
    )


SMALL, LARGE = (0, 0), (0, 1)


def _judged(
    drawn: Drawn, servings: float, batches: float, packs: dict[tuple[int, int], float]
) -> list[Finding]:
    """Return what is found in a week of these servings, batches and packs."""
    week = Decisions({0: batches}, {(0, 0): servings}, packs)
    return accused(drawn, drawn.problem, week)


def test_a_pack_that_no_dish_needs() -> None:
    """100 g are cooked: a second pack of 200 g could stay in the shop."""
    (finding,) = _judged(_lentils(), 2.0, 1.0, {SMALL: 2.0})
    assert finding.text() == (
        "[needless-pack] purchase of lentils_200_corner on shop day 1: "
        "expected 1 for what is cooked, found 2"
    )
    assert _judged(_lentils(), 2.0, 1.0, {SMALL: 1.0}) == []


def test_all_packs_of_a_food_on_hand_are_needless() -> None:
    """With 300 g in the cupboard, nothing needs to be bought."""
    drawn = _lentils(stock=[{"food": "lentils", "amount": 300, "unit": "g"}])
    stock = {0: 1.0}
    week = Decisions(stock, {(0, 0): 2.0}, {(1, 0): 1.0})
    (finding,) = accused(drawn, drawn.problem, week)
    assert (finding.rule, finding.expected) == ("needless-pack", "0 for what is cooked")


def test_stock_that_spoils_before_the_cook_day_is_no_reason_to_accuse() -> None:
    """What is past its date on the cook day cannot be cooked, so the pack is needed."""
    stock = [{"food": "lentils", "amount": 300, "unit": "g", "use_by": "2026-03-02"}]
    drawn = _lentils(stock=stock, days=2, cook_days=[{"day": 2}], shop_days=[2])
    problem = drawn.problem
    slot = next(i for i, slot in enumerate(problem.slots) if slot.options)
    buy = next(s for s, supply in enumerate(problem.supplies) if supply.shop_day == 2)
    week = Decisions({0: 1.0}, {(slot, 0): 2.0}, {(buy, 0): 1.0})
    assert accused(drawn, problem, week) == []


def test_a_step_that_nobody_eats_from() -> None:
    """Half a batch feeds one serving; a whole batch for it leaves half a batch over."""
    (finding,) = _judged(_lentils(), 1.0, 1.0, {SMALL: 1.0})
    assert finding.text() == (
        "[needless-batch] batch of stew base on cook day 1: expected 0.5 for what is eaten, found 1"
    )
    assert _judged(_lentils(), 1.5, 1.0, {SMALL: 1.0}) == []


def test_packs_that_a_cheaper_set_covers() -> None:
    """Two packs of 200 g cost 2.20, one of 500 g costs 2.00 and what is left of it keeps."""
    drawn = _lentils()
    (finding,) = _judged(drawn, 8.0, 4.0, {SMALL: 2.0})
    assert finding.text() == (
        "[cheaper-packs] purchases of lentils: expected 2 in all for 1 of lentils_500_market on "
        "shop day 1, found 2.2"
    )
    assert _judged(drawn, 8.0, 4.0, {LARGE: 1.0}) == []


def test_a_cheaper_set_that_spoils_is_not_cheaper() -> None:
    """Where leftovers spoil and count, 100 g wasted of the large pack outweigh 0.20 saved."""
    dish = recipe("stew", {"lentils": 100})
    dish["batch"] = {"step": "half", "most_per_cook_day": 12}
    packs = [pack("lentils", 200, "1.10"), pack("lentils", 500, "2.00", "market")]
    eater = client(portions={"step": 0.5, "smallest": 0.5, "largest": 20})
    shelf = [food("lentils", storage="fridge", keeps_days=1)]
    spoiling = Drawn(catalog(shelf, packs, [dish]), scenario(clients=[eater], waste_weight=1))
    free = Drawn(catalog(shelf, packs, [dish]), scenario(clients=[eater], waste_weight=0))
    assert _judged(spoiling, 8.0, 4.0, {SMALL: 2.0}) == []
    assert rules(_judged(free, 8.0, 4.0, {SMALL: 2.0})) == {"cheaper-packs"}


def test_a_cheaper_set_on_a_further_visit_counts_the_visit() -> None:
    """The first visit is free, so one seller in place of another pays no visit; two sellers do."""
    assert rules(_judged(_lentils(visit_cost="5"), 8.0, 4.0, {SMALL: 2.0})) == {"cheaper-packs"}
    # 600 g: 500 + 200 g from two sellers for 3.10 and a visit, or three times 200 g for 3.30.
    three = {SMALL: 3.0}
    assert _judged(_lentils(visit_cost="0.50"), 12.0, 6.0, three) == []
    assert rules(_judged(_lentils(visit_cost="0.10"), 12.0, 6.0, three)) == {"cheaper-packs"}
    both = {SMALL: 1.0, LARGE: 1.0}
    assert rules(_judged(_lentils(visit_cost="0.50"), 12.0, 6.0, both)) == {"cheaper-packs"}


def test_a_cheaper_set_beyond_the_budget_is_no_choice() -> None:
    """Less waste may cost more at the till than the budget has."""
    dish = recipe("stew", {"lentils": 100})
    # 500 g for 2.00 leave 300 g to spoil, worth 1.20; 200 g for 2.20 leave none.
    packs = [pack("lentils", 200, "2.20"), pack("lentils", 500, "2.00", "market")]
    shelf = [food("lentils", storage="fridge", keeps_days=1)]
    eater = client(portions={"step": 1, "smallest": 1, "largest": 20})
    poor, rich = (
        Drawn(catalog(shelf, packs, [dish]), scenario(clients=[eater], budget=budget))
        for budget in ("2.10", "9.00")
    )
    assert _judged(poor, 4.0, 2.0, {LARGE: 1.0}) == []
    assert rules(_judged(rich, 4.0, 2.0, {LARGE: 1.0})) == {"cheaper-packs"}


def test_a_plan_that_does_not_hold_is_told_that_first() -> None:
    """Figures that are wrong come before packs that are too many."""
    drawn = _lentils()
    week = Decisions({0: 1.0}, {(0, 0): 2.0}, {SMALL: 2.0})
    plan = extract_plan(drawn.problem, drawn.catalog, drawn.scenario, week, facts(), SOURCE)
    assert rules(audit_plan(plan, drawn.catalog, drawn.scenario)) == {"needless-pack"}
    wrong = plan.model_copy(
        update={"solution": plan.solution.model_copy(update={"grocery_cost": Decimal(9)})}
    )
    assert "needless-pack" not in rules(audit_plan(wrong, drawn.catalog, drawn.scenario))


@pytest.mark.parametrize("seed", range(150))
def test_weeks_that_cost_the_least_are_never_accused(seed: int) -> None:
    """The cheapest batches and packs for portions at random: the audit has nothing to say."""
    drawn = random_kitchen(seed, one_dish=seed % 3 > 0)
    problem = drawn.problem
    for draw in range(2):
        servings = drawn_servings(problem, 7 * seed + draw)
        week = None if servings is None else carried_out(problem, servings)
        if week is not None:
            assert accused(drawn, problem, week) == []


@pytest.mark.parametrize("seed", few(range(0, 100, 4), 2))
def test_plans_of_the_search_are_never_accused(seed: int) -> None:
    """The search's own plans of random kitchens stand before the whole audit."""
    drawn = random_kitchen(seed, one_dish=seed % 8 > 0)
    result = search(drawn.problem, EXACT.model_copy(update={"gap": 0.1}))
    if result.decisions is not None:
        plan = extract_plan(
            drawn.problem, drawn.catalog, drawn.scenario, result.decisions, facts(), SOURCE
        )
        assert audit_plan(plan, drawn.catalog, drawn.scenario) == []


def _bought_otherwise(seed: int) -> tuple[Decisions, Decisions] | None:
    """Return a lean week and the same with other packs of one food; None where there is none."""
    problem = random_kitchen(seed).problem
    servings = drawn_servings(problem, seed)
    lean = None if servings is None else carried_out(problem, servings)
    if lean is None or not lean.packs:
        return None
    rng = Random(seed)
    food_id = problem.supplies[rng.choice(sorted(lean.packs))[0]].food_id
    packs = {k: n for k, n in lean.packs.items() if problem.supplies[k[0]].food_id != food_id}
    keys = [
        (s, o)
        for s, supply in enumerate(problem.supplies)
        if supply.food_id == food_id and supply.stock_index is None
        for o, _ in enumerate(problem.offers[food_id])
    ]
    packs |= {key: count for key in keys if (count := float(rng.choice([0, 0, 1, 2, 4])))}
    week = Decisions(lean.batches, lean.servings, packs)
    try:
        cost_of(problem, week)
    except ValueError:
        return None
    return lean, week


OTHERWISE = Chosen(lambda seed: _bought_otherwise(seed) is not None)


@pytest.mark.parametrize("nth", range(24))
def test_other_packs_are_accused_where_they_cost_more(nth: int) -> None:
    """Packs of one food bought otherwise are accused if they cost a cent more, else never."""
    seed = OTHERWISE[nth]
    drawn = random_kitchen(seed)
    problem = drawn.problem
    weeks = _bought_otherwise(seed)
    assert weeks is not None
    lean, week = weeks
    costs = cost_of(problem, week)
    dearer = costs.objective - cost_of(problem, lean).objective
    found = accused(drawn, problem, week)
    budget = problem.budget
    if dearer > CENT + 1e-6 and (budget is None or costs.grocery <= float(budget)):
        assert found != []
        assert rules(found) <= {"needless-pack", "cheaper-packs"}
    elif dearer < CENT - 1e-6:
        # A pack for next to nothing may still be needless.
        assert "cheaper-packs" not in rules(found)
