"""Nutrients against reference intakes: the notes of a plan, the guard, and their audit."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations, product
from random import Random
from typing import Any

import pytest

from model.small import EXACT, SOURCE, catalog, client, facts, food, pack, recipe, scenario
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog, ReferenceIntake
from planopt.plan.extract import extract_plan
from planopt.plan.records import NutrientNote, Plan
from planopt.problem.build import build_problem
from planopt.report.analysis.references import reference_part, short_lines
from planopt.report.words.plain import cost_sentence
from planopt.scenario.records import Scenario
from planopt.solve.budget import Budget
from planopt.solve.engine.bymenus import search_menus
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import search_plain
from planopt.whynot.explain import explain
from slow import few


def _rows(*cells: tuple[str, str, int, int, str, float]) -> tuple[ReferenceIntake, ...]:
    fields = ("nutrient_id", "sex", "age_from", "age_to", "kind", "amount")
    return tuple(
        ReferenceIntake.model_validate({**dict(zip(fields, row, strict=True)), "source": "Book"})
        for row in sorted(cells)
    )


PROTEIN = _rows(
    ("protein_g", "female", 19, 50, "RDA", 46), ("protein_g", "male", 19, 50, "RDA", 56),
    ("protein_g", "female", 19, 50, "UL", 70), ("protein_g", "male", 19, 50, "UL", 80),
)  # fmt: skip


def _kitchen(
    dishes: dict[str, tuple[str, float | None]], table: tuple[ReferenceIntake, ...]
) -> Catalog:
    """Return dishes of one food each: price and protein of a serving."""
    foods = [food(name, kcal=500, protein=protein) for name, (_, protein) in dishes.items()]
    packs = [pack(name, 100, price) for name, (price, _) in dishes.items()]
    batch = {"step": "whole", "most_per_cook_day": 20}
    recipes = [recipe(name, {name: 100}, yield_servings=1, batch=batch) for name in dishes]
    return catalog(foods, packs, recipes).model_copy(update={"reference_intakes": table})


DISHES: dict[str, tuple[str, float | None]] = {
    "rice": ("1.00", 10), "beans": ("2.00", 30), "fish": ("3.00", 50),
}  # fmt: skip
CATALOG = _kitchen(DISHES, PROTEIN)


def _week(**eater: Any) -> Scenario:
    return scenario(
        days=2,
        meals=["lunch", "dinner"],
        clients=[client(**{"sex": "female", "age_years": 30, **eater})],
    )


def _plan(kitchen: Catalog, week: Scenario) -> Plan:
    problem = build_problem(kitchen, week)
    result = search(problem, EXACT)
    assert result.decisions is not None
    return extract_plan(problem, kitchen, week, result.decisions, facts(), SOURCE)


def _protein(plan: Plan) -> float:
    return sum(row.nutrients["protein_g"] for row in plan.portions)


def test_a_low_average_is_noted_with_its_figures() -> None:
    """Rice and beans are cheapest: 40 g a day where a woman of 30 has 46 g."""
    week = _week()
    plan = _plan(CATALOG, week)
    assert plan.nutrient_notes == (
        NutrientNote(
            client_id="ana", nutrient_id="protein_g", side="below", kind="RDA", reference=46,
            average=40, at_least=False, days_above=0, peak=None, peak_day=None, sex="female",
            ages="19-50", source="Book",
        ),
    )  # fmt: skip
    assert audit_plan(plan, CATALOG, week) == []
    assert short_lines(plan, CATALOG, week) == ["Ana below: protein_g 40 of 46 g"]
    (part,) = reference_part(plan, CATALOG, week).clients
    (line,) = part.lines
    assert (line.average, line.reference) == ("40 g", "46 g or more (RDA, women 19 to 50)")


def test_a_day_with_a_meal_away_counts_by_its_share() -> None:
    """Rice and beans, then rice alone: 50 g in one and a half days are 33.3 g a day."""
    week = _week(away={"meals": {2: ["dinner"]}})
    plan = _plan(CATALOG, week)
    (note,) = plan.nutrient_notes
    assert note.average == pytest.approx(50 / 1.5)
    assert audit_plan(plan, CATALOG, week) == []


def test_the_peak_day_is_noted_where_the_average_is_within() -> None:
    """Fish and beans on day 1 are 80 g, above a woman's 70; the average of both days is 60."""
    week = _week(windows_on_days={1: {"protein_g": {"min": 80}}, 2: {"protein_g": {"max": 40}}})
    plan = _plan(CATALOG, week)
    (note,) = plan.nutrient_notes
    assert (note.side, note.kind, note.average, note.peak, note.peak_day, note.days_above) == (
        "above", "UL", 60, 80, 1, 1,
    )  # fmt: skip
    assert short_lines(plan, CATALOG, week) == ["Ana above: protein_g 80 of 70 g on a day"]
    (part,) = reference_part(plan, CATALOG, week).clients
    assert part.lines[0].peak == "1 day above; highest 80 g on Mon\u00a02\u00a0Mar"


def test_an_average_with_unknown_foods_is_said_as_at_least() -> None:
    """Rice does not tell its protein, so 30 g a day is a lower limit."""
    kitchen = _kitchen({**DISHES, "rice": ("1.00", None)}, PROTEIN)
    week = _week()
    plan = _plan(kitchen, week)
    (note,) = plan.nutrient_notes
    assert (note.average, note.at_least) == (30, True)
    part = reference_part(plan, kitchen, week)
    assert part.clients[0].lines[0].average == "at least 30 g"
    assert any(text.startswith("At least: some food") for text in part.about)
    assert short_lines(plan, kitchen, week) == ["Ana below: protein_g 30+ of 46 g"]
    hidden = plan.model_copy(
        update={"nutrient_notes": (note.model_copy(update={"at_least": False}),)}
    )
    assert {f.rule for f in audit_plan(hidden, kitchen, week)} == {"nutrient-note"}


def test_sex_and_age_not_given_are_said() -> None:
    """A least of 46 and a most of 70 g, of whichever group has the smaller one."""
    week = _week(sex=None, age_years=None)
    plan = _plan(CATALOG, week)
    (note,) = plan.nutrient_notes
    assert (note.reference, note.sex, note.ages) == (46, None, None)
    (part,) = reference_part(plan, CATALOG, week).clients
    assert part.remark.startswith("Sex and age are not given, so the widest range")
    assert part.lines[0].reference == "46 g or more (RDA, widest adult range)"


def test_off_and_children_are_not_compared_and_that_is_said() -> None:
    """Nothing is listed, and the reports say why."""
    for fields, words in (
        ({"nutrient_guard": "off"}, "Not looked at (nutrient_guard: off)."),
        ({"age_years": 12}, "Not compared: these reference intakes are for adults from 19 years."),
    ):
        week = _week(**fields)
        plan = _plan(CATALOG, week)
        assert plan.nutrient_notes == ()
        assert reference_part(plan, CATALOG, week).clients[0].remark == words
        assert audit_plan(plan, CATALOG, week) == []


def test_a_plan_that_hides_or_bends_a_note_is_a_finding() -> None:
    """Whatever is changed in the notes, left out or added, the audit finds."""
    week = _week()
    plan = _plan(CATALOG, week)
    (note,) = plan.nutrient_notes
    bent: dict[str, Any] = {
        "client_id": "ben", "nutrient_id": "energy_kcal", "side": "above", "kind": "AI",
        "reference": 40.0, "average": 45.9, "at_least": True, "days_above": 1, "peak": 40.0,
        "peak_day": 1, "sex": "male", "ages": None, "source": "Another book",
    }  # fmt: skip
    assert set(bent) == set(NutrientNote.model_fields)
    wrong = [(note.model_copy(update={field: value}),) for field, value in bent.items()]
    for notes in ((), (note, note), *wrong):
        changed = plan.model_copy(update={"nutrient_notes": notes})
        assert {f.rule for f in audit_plan(changed, CATALOG, week)} == {"nutrient-note"}, notes


def test_a_guard_that_limits_makes_the_week_comply() -> None:
    """At least 92 g in two days: rice with beans once, rice with fish once is the least money."""
    week = _week(nutrient_guard="limit")
    plan = _plan(CATALOG, week)
    assert (_protein(plan), str(plan.solution.grocery_cost)) == (100.0, "7.00")
    assert plan.nutrient_notes == ()
    assert audit_plan(plan, CATALOG, week) == []
    loose = _plan(CATALOG, _week())
    found = {f.rule for f in audit_plan(loose, CATALOG, week)}
    assert found == {"nutrient-guard"}


def test_why_not_tells_which_limit_the_guard_has_set() -> None:
    """Without fish and beans nothing reaches 46 g; the guard's limit can be moved in words."""
    few = _kitchen({"rice": ("1.00", 10), "oats": ("2.00", 12)}, PROTEIN)
    week = _week(nutrient_guard="limit")
    found = explain(few, week, EXACT.model_copy(update={"time_limit_s": 6.0}), seconds=6.0)
    assert found.sentences[0] == (
        "This cannot be met by itself: Ana: protein_g at least 92 g over the plan."
    )
    assert (
        "Set by nutrient_guard: limit, from published reference intakes for the days eaten: Ana: "
        "protein_g at least 92 g over the plan."
    ) in found.sentences
    (repair,) = [r for r in found.repairs if r.moves[0].what == "window"]
    assert repair.moves[0].after == 44.0
    assert audit_plan(repair.plan, few, repair.scenario) == []


@pytest.mark.parametrize("seed", few(range(12), 2))
def test_guarded_weeks_are_those_of_enumeration(seed: int) -> None:
    """Every menu of two days is tried; search and plain model find the same least money."""
    rng = Random(seed)
    dishes: dict[str, tuple[str, float | None]] = {
        f"dish_{n}": (f"{rng.randint(80, 400) / 100:.2f}", rng.randint(5, 60)) for n in range(5)
    }
    low, high = rng.randint(30, 60), rng.randint(61, 90)
    table = _rows(
        ("protein_g", "female", 19, 50, "AI", low), ("protein_g", "female", 19, 50, "UL", high)
    )
    kitchen = _kitchen(dishes, table)
    away = {"meals": {2: ["dinner"]}} if seed % 3 == 0 else {}
    week = _week(nutrient_guard="limit", away=away)
    pairs = list(permutations(dishes, 2))
    second: list[tuple[str, ...]] = [(name,) for name in dishes] if away else list(pairs)
    days = Fraction(3, 2) if away else Fraction(2)
    costs = []
    for one, two in product(pairs, second):
        eaten = (*one, *two)
        total = sum(Fraction(dishes[name][1] or 0) for name in eaten)
        if low * days <= total <= high * days:
            costs.append(sum(Fraction(dishes[name][0]) for name in eaten))
    problem = build_problem(kitchen, week)
    results = [
        search_plain(problem, EXACT),
        search_menus(problem, EXACT, Budget(EXACT)),
    ]
    for result in results:
        if not costs:
            assert result.infeasible
            continue
        assert result.decisions is not None
        plan = extract_plan(problem, kitchen, week, result.decisions, facts(), SOURCE)
        assert Fraction(plan.solution.grocery_cost) == min(costs)
        assert audit_plan(plan, kitchen, week) == []


@pytest.mark.parametrize("seed", few(range(12), 2))
def test_priced_misses_are_weighed_as_enumeration_weighs_them(seed: int) -> None:
    """Money plus the price of what is missed, over every menu of two days, is least here too."""
    rng = Random(seed + 50)
    dishes: dict[str, tuple[str, float | None]] = {
        f"dish_{n}": (f"{rng.randint(80, 400) / 100:.2f}", rng.randint(5, 60)) for n in range(5)
    }
    low, high = rng.randint(40, 90), rng.randint(40, 90)
    table = _rows(
        ("protein_g", "female", 19, 50, "AI", low), ("protein_g", "female", 19, 50, "UL", high)
    )
    kitchen = _kitchen(dishes, table)
    price = Fraction(rng.choice(["0.10", "0.35", "1.20"]))
    week = _week(nutrient_guard="limit", nutrient_price=str(float(price)))
    costs = []
    for one, two in product(permutations(dishes, 2), repeat=2):
        total = sum(Fraction(dishes[name][1] or 0) for name in (*one, *two))
        money = sum(Fraction(dishes[name][0]) for name in (*one, *two))
        missed = max(Fraction(0), 2 * low - total) / (2 * low)
        missed += max(Fraction(0), total - 2 * high) / (2 * high)
        costs.append(money + missed * 10 * price)
    problem = build_problem(kitchen, week)
    for result in (
        search_plain(problem, EXACT),
        search_menus(problem, EXACT, Budget(EXACT)),
        search(problem, EXACT),
    ):
        assert result.decisions is not None
        plan = extract_plan(problem, kitchen, week, result.decisions, facts(), SOURCE)
        assert float(plan.solution.objective) == pytest.approx(float(min(costs)), abs=0.0051)
        assert result.bound <= float(min(costs)) + 1e-4
        assert audit_plan(plan, kitchen, week) == []
        wrong = plan.solution.model_copy(update={"missed_cost": plan.solution.missed_cost + 1})
        found = audit_plan(plan.model_copy(update={"solution": wrong}), kitchen, week)
        assert "missed-cost" in {f.rule for f in found}


def test_what_a_miss_costs_is_said() -> None:
    """Rice and beans miss 6 of 46 g a day: 1.3 tenths at 0.50, beside 6.00 of groceries."""
    week = _week(nutrient_guard="limit", nutrient_price="0.50")
    plan = _plan(CATALOG, week)
    assert (str(plan.solution.missed_cost), str(plan.solution.objective)) == ("0.65", "6.65")
    assert "reference intakes missed 0.65" in cost_sentence(plan.solution, plan.currency)
    (part,) = reference_part(plan, CATALOG, week).clients
    assert part.remark == (
        "Each tenth of a reference that an average misses counts as 0.5 (nutrient_price) for: "
        "protein_g."
    )


def test_a_repair_of_a_priced_week_counts_what_it_misses() -> None:
    """The clash is elsewhere; the week that mends it still has its misses priced and audited."""
    eater = {"nutrient_guard": "limit", "nutrient_price": "0.50"}
    week = _week(**eater, windows_per_week={"protein_g": {"max": 30}})
    found = explain(CATALOG, week, EXACT.model_copy(update={"time_limit_s": 6.0}), seconds=6.0)
    assert found.repairs
    for repair in found.repairs:
        assert repair.plan.solution.missed_cost > 0
        assert audit_plan(repair.plan, CATALOG, repair.scenario) == []
