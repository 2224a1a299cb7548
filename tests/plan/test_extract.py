"""Plans made from decisions: they pass the audit, and their money is rounded once and half up."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from math import inf
from typing import Any

import pytest

from model.small import SOURCE, catalog, client, facts, food, limit, pack, recipe, scenario
from model.solved import solved, solved_plan
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.plan.extract import SolveFacts, extract_plan
from planopt.plan.records import Plan
from planopt.problem.build import build_problem
from planopt.problem.decisions import Decisions
from planopt.scenario.records import Scenario
from slow import few


def _plan(
    table: Catalog, week: Scenario, decisions: Decisions, told: SolveFacts | None = None
) -> Plan:
    """Return the plan of decisions, which the audit must accept."""
    problem = build_problem(table, week)
    plan = extract_plan(problem, table, week, decisions, told or facts(), SOURCE)
    # Decisions written by hand cook and buy what they please.
    lean = {"needless-pack", "needless-batch", "cheaper-packs"}
    findings = audit_plan(plan, table, week)
    assert [finding.text() for finding in findings if finding.rule not in lean] == []
    return plan


# ------------------------------------------------------------------ the audit accepts


@pytest.mark.parametrize("one_dish", [True, False], ids=["one dish a meal", "any kind of meal"])
@pytest.mark.parametrize("seed", few(range(30), 6))
def test_the_week_found_passes_the_audit(seed: int, one_dish: bool) -> None:
    """What the model calls compliant, the audit calls compliant, and every figure agrees."""
    week = solved(seed, one_dish)
    if week.decisions is not None:
        findings = audit_plan(solved_plan(seed, one_dish), week.drawn.catalog, week.drawn.scenario)
        assert [finding.text() for finding in findings] == []


def test_the_order_of_decisions_does_not_show() -> None:
    """Written in any order, the same decisions give the same plan, row for row."""
    week = next(s for s in map(solved, range(30)) if s.decisions and len(s.decisions.packs) > 2)
    assert week.decisions is not None
    turned = Decisions(*(dict(reversed(table.items())) for table in vars(week.decisions).values()))
    plans = [
        extract_plan(
            week.problem, week.drawn.catalog, week.drawn.scenario, decisions, facts(), SOURCE
        )
        for decisions in (week.decisions, turned)
    ]
    assert plans[0].model_dump_json() == plans[1].model_dump_json()


def test_decisions_without_the_food_are_no_plan() -> None:
    """A batch that nothing was bought for is refused, never written down."""
    table, week = _tie_kitchen(995)
    with pytest.raises(ValueError, match="rice: 995 g short"):
        extract_plan(
            build_problem(table, week), table, week, Decisions({0: 1.0}, {}, {}), facts(), SOURCE
        )


# ------------------------------------------------------------------ rounding


def _tie_kitchen(
    grams: float, size: float = 1000, price: str = "1.00", **keys: Any
) -> tuple[Catalog, Scenario]:
    """Return a kitchen that buys one pack of rice, cooks some grams, and wastes the rest."""
    packs = [pack("rice", size, price)]
    dish = recipe("pot", {"rice": grams}, yield_servings=1)
    return catalog([food("rice", keeps_days=1)], packs, [dish]), scenario(**keys)


ONE_OF_EACH = Decisions({0: 1.0}, {(0, 0): 1.0}, {(0, 0): 1.0})


@pytest.mark.parametrize(
    ("grams", "size", "weight", "waste", "objective"),
    [
        (995, 1000, 1.0, "0.01", "1.01"),  # half a cent wasted: both halves go up
        (995.01, 1000, 1.0, "0.00", "1.00"),
        (994.99, 1000, 1.0, "0.01", "1.01"),
        (985, 1000, 1.0, "0.02", "1.02"),  # 1.5 goes to 2, as 0.5 goes to 1: never to the even one
        (995, 1000, 0.5, "0.01", "1.00"),  # the objective takes the waste before it is rounded
        (990, 1000, 0.5, "0.01", "1.01"),
        (298.5, 300, 1.0, "0.01", "1.01"),  # 1.5 g at a third of a cent: binary falls short
        (697.9, 700, 1.0, "0.00", "1.00"),
        (696.5, 700, 1.0, "0.01", "1.01"),  # 3.5 g at a seventh of a cent
    ],
)
def test_halves_of_a_cent_go_up_once(
    grams: float, size: float, weight: float, waste: str, objective: str
) -> None:
    """Waste and objective are each rounded once from exact sums, halves away from zero."""
    table, week = _tie_kitchen(grams, size, waste_weight=weight)
    told = _plan(table, week, ONE_OF_EACH).solution
    assert (str(told.waste_cost), str(told.objective)) == (waste, objective)
    assert str(told.grocery_cost) == "1.00"


@pytest.mark.parametrize(
    ("currency", "price", "waste", "objective"),
    [("JPY", "100", "1", "101"), ("KWD", "0.100", "0.001", "0.101")],
)
def test_money_is_rounded_to_the_unit_of_its_currency(
    currency: str, price: str, waste: str, objective: str
) -> None:
    """5 g of 1000 g wasted are half a yen or half a fils; both go up."""
    packs = [pack("rice", 1000, price, currency=currency)]
    dish = recipe("pot", {"rice": 995}, yield_servings=1)
    table = catalog([food("rice", keeps_days=1)], packs, [dish])
    told = _plan(table, scenario(currency=currency), ONE_OF_EACH).solution
    assert (str(told.waste_cost), str(told.objective)) == (waste, objective)
    assert told.grocery_cost == Decimal(price)


def test_any_amounts_are_summed_before_they_are_rounded() -> None:
    """Three purchases of 0.4 cents cost 1.2 cents, which is 1 cent and not three times nothing."""
    names = ("beans", "oats", "rice")
    packs = [pack(name, 1000, "1.00", sold="any") for name in names]
    dish = recipe("pot", dict.fromkeys(names, 4), yield_servings=1)
    table = catalog([food(name) for name in names], packs, [dish])
    bought = Decisions({0: 1.0}, {(0, 0): 1.0}, {(s, 0): 0.004 for s in range(3)})
    told = _plan(table, scenario(), bought).solution
    assert (str(told.grocery_cost), str(told.objective)) == ("0.01", "0.01")


# ------------------------------------------------------------------ bound and gap


@pytest.mark.parametrize(
    ("bound", "told"),
    [(0.999, "0.99"), (1.0, "1.00"), (0.99999999, "0.99"), (-3.0, "0.00"), (7.0, "1.00")],
)
def test_the_bound_is_rounded_down_and_never_above_the_objective(bound: float, told: str) -> None:
    """A bound claims no more than was proven; below nothing it says nothing."""
    table, week = _tie_kitchen(1000)
    solution = _plan(table, week, ONE_OF_EACH, facts(bound)).solution
    assert str(solution.best_bound) == told
    assert solution.proven_gap == pytest.approx(1.0 - float(told))


def test_no_bound_at_all_is_told_as_nothing() -> None:
    """A search that ends before any proof, with minus infinity, makes a plan with a bound of 0."""
    table, week = _tie_kitchen(1000)
    solution = _plan(table, week, ONE_OF_EACH, facts(-inf)).solution
    assert (str(solution.best_bound), solution.proven_gap) == ("0.00", 1.0)


@pytest.mark.parametrize(
    ("cooked", "cost", "bound", "gap"),
    [
        (1000, 1.0, 0.9801, 0.02),
        (1000, 1.0, 0.985, 0.0151),
        (1000, 1.0, 1.0 - 1e-9, 0.0),
        (995, 1.005, 0.9899, 0.0151),  # the objective is rounded up and the bound down
        (995, 1.005, 1.005 - 1e-9, 0.0),
    ],
)
def test_rounding_does_not_turn_a_proven_gap_into_a_false_claim(
    cooked: float, cost: float, bound: float, gap: float
) -> None:
    """A run that ended optimal within its gap makes a plan that the audit accepts."""
    assert (cost - bound) / cost <= gap + 1e-8
    told = facts(bound, status="optimal", gap_asked=gap, solver_status="Optimal")
    _plan(*_tie_kitchen(cooked), ONE_OF_EACH, told)


def test_a_week_for_nothing_has_no_gap() -> None:
    """All from stock costs nothing; the gap is 0 and not a division by it."""
    table, _ = _tie_kitchen(100)
    week = scenario(stock=[{"food": "rice", "amount": 100, "unit": "g"}])
    solution = _plan(table, week, Decisions({0: 1.0}, {(0, 0): 1.0}, {})).solution
    assert (str(solution.objective), solution.proven_gap) == ("0.00", 0.0)


# ------------------------------------------------------------------ what the rows say


def _frozen_kitchen(months: float = 0.1, **keys: Any) -> tuple[Catalog, Scenario]:
    """Return a kitchen that cooks on day 1 for three days, with one day in the fridge."""
    keeps = {"kind": "dishes", "fridge_days": 1, "freezer_months": months, "serve": "either"}
    dish = recipe("pot", {"rice": 100}, yield_servings=1, keeps=keeps)
    table = catalog([food("rice")], [pack("rice", 300, "1.00")], [dish], [limit(months=12)])
    return table, scenario(**{"days": 3, **keys})


def test_what_outlasts_the_fridge_is_frozen_and_thawed_the_day_before() -> None:
    """Days 1 and 2 come from the fridge, day 3 from the freezer, thawed on day 2."""
    table, week = _frozen_kitchen()
    three = Decisions({0: 3.0}, {(i, 0): 1.0 for i in range(3)}, {(0, 0): 1.0})
    plan = _plan(table, week, three)
    assert [(p.stored, p.thaw_on) for p in plan.portions] == [
        ("fridge", None), ("fridge", None), ("freezer", date(2026, 3, 3)),
    ]  # fmt: skip
    batch = plan.batches[0]
    assert (batch.use_by_fridge, batch.use_by_freezer) == (date(2026, 3, 3), date(2026, 3, 5))


@pytest.mark.parametrize("months", [0, 0.02, 0.5, 4.1])
@pytest.mark.parametrize("use_freezer", [True, False])
def test_use_by_dates_are_those_of_the_audit(months: float, use_freezer: bool) -> None:
    """However long it freezes, even for less than a day, plan and audit name one date."""
    table, week = _frozen_kitchen(months, days=1, use_freezer=use_freezer)
    plan = _plan(table, week, ONE_OF_EACH)
    if not use_freezer or months == 0:
        assert plan.batches[0].use_by_freezer is None


def test_left_food_is_carried_or_wasted_or_nothing() -> None:
    """Rice lasts and is carried, fish is wasted, beans are used up."""
    foods = [food("beans"), food("fish", keeps_days=1), food("rice")]
    packs = [pack(row["food_id"], 100, "1.00") for row in foods]
    dish = recipe("pot", {"beans": 100, "fish": 60, "rice": 30}, yield_servings=1)
    bought = Decisions({0: 1.0}, {(0, 0): 1.0}, {(s, 0): 1.0 for s in range(3)})
    plan = _plan(catalog(foods, packs, [dish]), scenario(), bought)
    assert [(u.food_id, u.left_g, u.fate, str(u.left_value)) for u in plan.food_uses] == [
        ("beans", 0.0, "nothing left", "0.00"),
        ("fish", 40.0, "wasted", "0.40"),
        ("rice", 70.0, "carried", "0.70"),
    ]
    assert str(plan.solution.waste_cost) == "0.40"


def test_lines_say_what_was_chosen_and_leave_out_what_was_left_out() -> None:
    """An alternative carries its ratio, an optional line its mark, and a left-out line no row."""
    lines: list[dict[str, Any]] = [
        {"food": "rice", "amount": 100, "unit": "g"},
        {
            "food": "beans", "amount": 80, "unit": "g", "optional": True,
            "alternatives": [{"food": "oats", "ratio": 1.5}],
        },
        {"food": "oats", "amount": 10, "unit": "g", "optional": True},
    ]  # fmt: skip
    names = ("beans", "oats", "rice")
    packs = [pack(name, 500, "1.00") for name in names]
    dish = recipe("pot", {}, lines=lines, yield_servings=1)
    table, week = catalog([food(name) for name in names], packs, [dish]), scenario()
    problem = build_problem(table, week)
    written = {}
    for n, cooking in enumerate(problem.cookings):
        j = problem.slots[0].options.index(cooking)
        packs_bought = {(s, 0): 1.0 for s in range(3)}
        plan = _plan(table, week, Decisions({n: 2.0}, {(0, j): 1.0}, packs_bought))
        batch = plan.batches[0]
        written[batch.version] = [(r.line, r.food_id, r.grams, r.chosen) for r in batch.lines]
    rice = (0, "rice", 200.0, "as written")
    assert written == {
        "base": [rice, (1, "beans", 160.0, "optional"), (2, "oats", 20.0, "optional")],
        "2-": [rice, (1, "beans", 160.0, "optional")],
        "1=oats": [rice, (1, "oats", 240.0, "alternative"), (2, "oats", 20.0, "optional")],
        "1=oats+2-": [rice, (1, "oats", 240.0, "alternative")],
        "1-": [rice, (2, "oats", 20.0, "optional")],
        "1-+2-": [rice],
    }


def test_servings_nobody_eats_are_told_and_wasted() -> None:
    """Half of a batch of two servings is left: its food counts as waste at its value."""
    table = catalog([food("rice")], [pack("rice", 100, "1.00")], [recipe("pot", {"rice": 100})])
    plan = _plan(table, scenario(clients=[client()]), ONE_OF_EACH)
    batch = plan.batches[0]
    assert (batch.servings, batch.servings_eaten, batch.servings_left) == (2.0, 1.0, 1.0)
    assert str(plan.solution.waste_cost) == "0.50"


def test_facts_of_the_solve_are_copied() -> None:
    """Status, solver and settings stand in the plan as they were told; seconds to a thousandth."""
    told = replace(facts(0.5), solver="HiGHS 9", settings={"seed": 3}, solve_seconds=1.23456)
    solution = _plan(*_tie_kitchen(1000), ONE_OF_EACH, told).solution
    assert (solution.solver, solution.settings) == ("HiGHS 9", {"seed": 3})
    assert solution.solve_seconds == 1.235
