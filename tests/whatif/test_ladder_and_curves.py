"""Ladders and curves on kitchens small enough to be worked out by hand."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from model.small import EXACT, catalog, client, food, pack, recipe, scenario
from planopt.faults import BadInput, NoPlanInTime, StoppedByUser
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.scenario.reading.changed import with_scenario
from planopt.scenario.reading.load import Kitchen
from planopt.solve.settings import SolveSettings
from planopt.whatif import ladder
from planopt.whatif.ask import Questions, ask
from planopt.whatif.curves import (
    BudgetCurve,
    budget_curve,
    importance_levels,
    missing_allowed,
    short_point,
)
from planopt.whatif.ladder import Rung, climb, shared
from planopt.whatif.windowcurve import parse_target, window_curve

QUICK = SolveSettings(gap=0.0, time_limit_s=600.0, threads=1)


def kitchen_of(*eaters: dict[str, Any], **keys: Any) -> Kitchen:
    """Return a kitchen whose one-serving batches of 100 g cost what their food costs.

    Beans: 500 kcal, 20 g protein, 1.00. Fish: 400 kcal, 30 g, 3.00. Oats: 300 kcal, 10 g, 0.40.
    """
    one = {"yield_servings": 1, "batch": {"step": "whole", "most_per_cook_day": 9}}
    recipes = [recipe(name, {name: 100}, **one) for name in ("beans", "fish", "oats")]
    foods = [
        food("beans", kcal=500, protein=20),
        food("fish", kcal=400, protein=30),
        food("oats", kcal=300, protein=10),
    ]
    packs = [pack("beans", 100, "1.00"), pack("fish", 100, "3.00"), pack("oats", 100, "0.40")]
    usual = {"days": 1, "meals": ["lunch", "dinner"], "cook_days": [{"day": 1}]}
    chosen = scenario(**{**usual, **keys, "clients": list(eaters)})
    return Kitchen(catalog(foods, packs, recipes), chosen, Path("s"), Path("c"), "0", "1")


def ana(**windows: Any) -> dict[str, Any]:
    """Return a supervised client who eats lunch and dinner."""
    return client("ana", medically_supervised=True, windows_per_day=windows)


def rung(value: float, cost: str | None, bound: str, state: Any = "complies") -> Rung:
    """Return a rung by its figures."""
    objective = None if cost is None else Decimal(cost)
    return Rung(value, state, None, objective, Decimal(bound))


def test_bounds_go_up_the_ladder_and_plans_go_down() -> None:
    """A bound of a looser rung holds for tighter ones, a plan of a tighter one for looser ones."""
    found = shared(
        [rung(1, "10", "7"), rung(2, None, "3", "open"), rung(3, "9", "5"), rung(4, "12", "11")]
    )
    assert [r.objective for r in found] == [Decimal(9), Decimal(9), Decimal(9), Decimal(12)]
    assert [r.bound for r in found] == [Decimal(7), Decimal(7), Decimal(7), Decimal(11)]
    assert [r.state for r in found] == ["complies"] * 4


def test_what_has_no_week_keeps_none() -> None:
    """Nothing is lent to a rung that is proven to have no week, and its gap is none."""
    found = shared([rung(1, "10", "7"), rung(2, None, "0", "no week")])
    assert found[1].state == "no week"
    assert found[1].gap is None
    assert found[0].gap == pytest.approx(0.3)


def test_a_ladder_finds_each_rungs_least_cost() -> None:
    """Protein of at least 20, 40, 50 and 60 g from two different dishes, then none.

    By hand: beans and oats 1.40 give 30 g; oats and fish 3.40, 40 g; beans and fish 4.00, 50 g.
    """
    kitchen = kitchen_of(ana(protein_g={"min": 20}))
    steps = []
    for least in (20, 40, 50, 60, 70):
        eater = kitchen_of(ana(protein_g={"min": least})).scenario
        steps.append((float(least), with_scenario(kitchen, eater)))
    found = climb(steps, QUICK, [], 600.0)
    assert [str(r.objective) for r in found] == ["1.40", "3.40", "4.00", "None", "None"]
    assert [r.state for r in found] == ["complies"] * 3 + ["no week"] * 2
    assert all(r.bound == r.objective for r in found[:3])


@pytest.mark.parametrize("found", [True, False])
def test_ctrl_c_ends_a_ladder_and_what_is_asked_after_it(
    monkeypatch: pytest.MonkeyPatch, found: bool
) -> None:
    """The rung at work keeps what it has, the others get next to no time, and no more is asked."""
    kitchen = kitchen_of(ana(protein_g={"min": 30}, energy_kcal={"min": 800}))
    base = make_plan(kitchen, EXACT)
    given: list[float] = []

    def interrupted(changed: Kitchen, settings: SolveSettings, *_: Any, **__: Any) -> Plan:
        given.append(settings.time_limit_s)
        if len(given) > 1 or not found:
            raise (NoPlanInTime if len(given) > 1 else StoppedByUser)("stopped")
        plan = make_plan(changed, EXACT)
        solution = plan.solution.model_copy(update={"status": "interrupted"})
        return plan.model_copy(update={"solution": solution})

    monkeypatch.setattr(ladder, "make_plan", interrupted)
    told: list[str] = []
    questions = Questions(targets=("ana protein_g", "ana energy_kcal"), points=4, curve_s=600.0)
    answers = ask(kitchen, base, questions, EXACT, told.append)
    assert len(answers.windows) == 1
    assert told[-1] == "stopped; what is not answered yet is left out"
    assert given[0] > 100
    assert max(given[1:], default=0.0) < 1
    assert [point.stopped for point in answers.windows[0].points].count(True) == 1


def test_the_price_of_a_window_rises_with_it() -> None:
    """Around a least of 30 g the curve has the present value, proven costs, and the step at it."""
    kitchen = kitchen_of(ana(protein_g={"min": 30, "max": 50}))
    base = make_plan(kitchen, EXACT)
    target = parse_target(kitchen, "ana protein_g")
    assert target == ("ana", "protein_g", "min")
    curve = window_curve(kitchen, target, QUICK, base, points=5, seconds=600.0)
    assert 30.0 in [p.value for p in curve.points]
    for point in curve.points:
        assert str(point.objective) == ("1.40" if point.value <= 30 else "3.40")
        assert point.bound == point.objective


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("ana", "target_not_understood"),
        ("ana protein_g least", "target_not_understood"),
        ("ben protein_g", "unknown_client"),
        ("ana energy_kcal", "window_not_set"),
        ("ana protein_g max", "window_not_set"),
    ],
)
def test_targets_that_are_none_are_refused(text: str, code: str) -> None:
    """Each fault of a target has its code, and names the option."""
    kitchen = kitchen_of(ana(protein_g={"min": 30}))
    with pytest.raises(BadInput) as caught:
        parse_target(kitchen, text)
    (fault,) = caught.value.faults
    assert (fault.code, fault.field) == (code, "--target")


def test_importance_puts_energy_and_protein_first_unless_told() -> None:
    """The default order, and one of the scenario's own; the rest comes last, together."""
    eater = ana(energy_kcal={"min": 800}, protein_g={"min": 20})
    assert importance_levels(kitchen_of(eater).scenario) == [("energy_kcal",), ("protein_g",)]
    told = kitchen_of(eater, importance=["protein_g"]).scenario
    assert importance_levels(told) == [("protein_g",), ("energy_kcal",)]


def test_windows_open_but_not_the_floor_of_energy() -> None:
    """A least of 1,500 kcal may fall to 1,200 and no further; a least of 900 stays."""
    high = missing_allowed(kitchen_of(ana(energy_kcal={"min": 1500, "max": 1600})).scenario)
    assert high.clients[0].windows_on_days[1]["energy_kcal"].model_dump() == {
        "min": 1200.0, "max": None,
    }  # fmt: skip
    low = missing_allowed(kitchen_of(ana(energy_kcal={"min": 900}, protein_g={"min": 9})).scenario)
    assert low.clients[0].windows_on_days[1]["energy_kcal"].min == 900.0
    assert "protein_g" not in low.clients[0].windows_on_days[1]


def test_the_least_miss_is_the_one_by_hand() -> None:
    """With 3.50, oats and fish (700 kcal, 40 g) miss 50 g of protein by 10; beans and oats by 20.

    Energy of at least 600 is met either way, so the miss of protein alone is made small.
    """
    eater = ana(energy_kcal={"min": 600}, protein_g={"min": 50})
    kitchen = kitchen_of(eater)
    levels = importance_levels(kitchen.scenario)
    point = short_point(kitchen, Decimal("3.50"), levels, QUICK)
    assert point.missed is not None
    energy, protein = point.missed
    assert energy.share == pytest.approx(0.0, abs=1e-6)
    assert protein.share == pytest.approx(10 / 50, abs=1e-4)
    assert protein.bound == pytest.approx(10 / 50, abs=1e-4)
    assert protein.amounts == (pytest.approx(10.0, abs=1e-3),)


def test_importance_decides_what_is_missed() -> None:
    """At most 700 kcal and at least 50 g: with 4.00 either can be met, so the first one is.

    By hand: fish and oats 700 kcal, 40 g; beans and fish 900 kcal, 50 g.
    """
    eater = ana(energy_kcal={"max": 700}, protein_g={"min": 50})
    missed = {}
    for order in (["energy_kcal", "protein_g"], ["protein_g", "energy_kcal"]):
        kitchen = kitchen_of(eater, importance=order)
        point = short_point(kitchen, Decimal("4.00"), importance_levels(kitchen.scenario), QUICK)
        assert point.missed is not None
        missed[order[0]] = {m.nutrients[0]: round(m.amounts[0], 3) for m in point.missed}
    assert missed["energy_kcal"] == {"energy_kcal": 0.0, "protein_g": 10.0}
    assert missed["protein_g"] == {"energy_kcal": 200.0, "protein_g": 0.0}


def test_a_budget_below_any_week_is_proven_to_have_none() -> None:
    """Two different dishes cost at least 1.40."""
    kitchen = kitchen_of(ana(protein_g={"min": 50}))
    point = short_point(kitchen, Decimal("1.39"), [("protein_g",)], QUICK)
    assert point.missed is None
    assert point.proven


@pytest.fixture(scope="module")
def curve() -> BudgetCurve:
    """Return the budget curve of a kitchen whose two least budgets are 1.40 and 4.00."""
    kitchen = kitchen_of(ana(protein_g={"min": 50}), budget="9.00")
    base: Plan = make_plan(kitchen, EXACT)
    return budget_curve(kitchen, QUICK, base, points=12, seconds=600.0)


def test_a_budget_curve_has_its_two_landmarks_by_hand(curve: BudgetCurve) -> None:
    """A week complies from 4.00 (beans and fish); any week at all needs 1.40 (beans and oats)."""
    assert (curve.complies.found, curve.complies.bound) == (Decimal("4.00"), Decimal("4.00"))
    assert (curve.exists.found, curve.exists.bound) == (Decimal("1.40"), Decimal("1.40"))


def test_a_budget_curve_has_its_points_with_bounds(curve: BudgetCurve) -> None:
    """Twelve budgets: all from 4.00 on cost 4.00; below, protein misses 20 g, from 3.40 on 10."""
    assert len(curve.points) + len(curve.short) == 12
    for point in curve.points:
        assert point.value >= 4.0
        assert point.objective == point.bound == Decimal("4.00")
    for short in curve.short:
        assert short.missed is not None
        (protein,) = short.missed
        assert protein.amounts[0] == pytest.approx(10 if short.budget >= Decimal("3.40") else 20)
        assert protein.bound == pytest.approx(protein.share, abs=1e-4)
