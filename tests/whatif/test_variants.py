"""Variants solved from a base plan, compared with it, and what is certain of the difference."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.audit import audit_plan
from planopt.faults import NoCompliantWeek, StoppedByUser
from planopt.pipeline import audit_folder, make_plan, refit
from planopt.plan.records import Plan
from planopt.report.files.folder import write_plan
from planopt.report.files.reopen import open_plan
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.scenario.records import RecipeChoice, Stock, Variant
from planopt.scenario.variants.words import variant_of_words
from planopt.solve.settings import SolveSettings
from planopt.whatif import variants
from planopt.whatif.ask import Questions, ask
from planopt.whatif.compare import compare, verdict
from planopt.whatif.direction import direction_of, only_tightens
from planopt.whatif.robust import Sampling, robustness
from planopt.whatif.shadow import shadow_prices
from planopt.whatif.variants import (
    VariantResult,
    settled,
    solve_variant,
    solve_variants,
)

# Counted: parts of the search take their share of a clock, however small the kitchen is.
EXACT = SolveSettings(gap=0.0, work_limit=20_000, threads=1)


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory: pytest.TempPathFactory) -> Kitchen:
    """Return the tiny kitchen with a budget."""
    folder = tmp_path_factory.mktemp("kitchen")
    return load_kitchen(write_kitchen(folder, budget="30.00", meal_defaults="off"))


@pytest.fixture(scope="module")
def base(kitchen: Kitchen) -> Plan:
    """Return the proven cheapest plan."""
    return make_plan(kitchen, EXACT)


def solved(kitchen: Kitchen, base: Plan, *words: str) -> VariantResult:
    """Return the result of a variant told in words."""
    variant = variant_of_words(words, kitchen.catalog, kitchen.scenario)
    return solve_variant(kitchen, base, variant, EXACT)


@pytest.mark.parametrize(
    ("least", "most", "expected"),
    [
        ("0.01", "3.00", "certainly dearer"),
        ("-3.00", "-0.01", "certainly cheaper"),
        ("0.00", "3.00", "not certain"),
        ("-1.00", "1.00", "not certain"),
    ],
)
def test_only_a_range_without_zero_is_certain(least: str, most: str, expected: str) -> None:
    """Differences within the gaps are called not certain, also those that touch zero."""
    assert verdict(Decimal(least), Decimal(most)) == expected


def test_a_variants_plan_is_audited_for_the_changed_kitchen(kitchen: Kitchen, base: Plan) -> None:
    """Dearer oats and milk make the week dearer, for certain; the plan holds for those prices."""
    found = solved(kitchen, base, "price of oats_rolled +100%", "price of milk_whole +100%")
    assert found.plan is not None
    assert audit_plan(found.plan, found.kitchen.catalog, found.kitchen.scenario) == []
    assert audit_plan(found.plan, kitchen.catalog, kitchen.scenario) != []
    comparison = found.comparison
    assert comparison is not None
    assert comparison.verdict == "certainly dearer"
    assert comparison.least == found.bound - base.solution.objective
    assert comparison.most == found.plan.solution.objective - base.solution.best_bound
    assert comparison.least <= comparison.difference <= comparison.most


@pytest.mark.parametrize("found", [True, False])
def test_ctrl_c_ends_the_variants(
    kitchen: Kitchen, base: Plan, monkeypatch: pytest.MonkeyPatch, found: bool
) -> None:
    """The variant at work keeps what it has, and none after it is begun."""
    asked = []

    def stopped(changed: Kitchen, *_: Any, **__: Any) -> Plan:
        asked.append(changed)
        if not found:
            raise StoppedByUser("stopped")
        solution = base.solution.model_copy(update={"status": "interrupted"})
        return base.model_copy(update={"solution": solution})

    monkeypatch.setattr(variants, "make_plan", stopped)
    wanted = [
        variant_of_words([words], kitchen.catalog, kitchen.scenario)
        # The base plan costs 12.20; where it complies, it is what a variant has at least.
        for words in ("budget 12.10", "budget 25")
    ]
    results = solve_variants(kitchen, base, wanted, EXACT)
    assert len(asked) == len(results) == 1
    assert results[0].stopped
    assert (results[0].plan is not None) == found
    told: list[str] = []
    answers = ask(kitchen, base, Questions(variants=tuple(wanted), budget=True), EXACT, told.append)
    assert (len(answers.variants), answers.budget) == (1, None)
    assert told[-1] == "stopped; what is not answered yet is left out"


def test_the_shopping_differs_by_what_the_plans_buy(kitchen: Kitchen, base: Plan) -> None:
    """With eggs gone from the shops, the difference of all packs is the difference of the tills."""
    found = solved(kitchen, base, "ana away on day 3")
    assert found.plan is not None
    assert found.comparison is not None
    rows = found.comparison.shopping
    money = found.plan.solution.grocery_cost - base.solution.grocery_cost
    assert sum((row.money for row in rows), Decimal(0)) == money
    counts = {p.pack_id: p.count for p in base.purchases}
    after = {p.pack_id: p.count for p in found.plan.purchases}
    for row in rows:
        assert row.more == pytest.approx(after.get(row.pack_id, 0) - counts.get(row.pack_id, 0))


def test_a_plan_beside_itself_differs_in_nothing(kitchen: Kitchen, base: Plan) -> None:
    """No recipe, plate or pack moves, every window is met, and the difference is not certain."""
    same = compare(kitchen, base, kitchen, base)
    assert (same.recipes_in, same.recipes_out, same.shopping) == ((), (), ())
    assert same.portions_moved == 0
    assert same.difference == 0
    assert same.verdict == "not certain"
    met, of = same.windows_met
    # Energy and protein on three days.
    assert met == of == 6
    for row in same.windows:
        assert row.base == row.variant


def test_a_variant_without_a_week_says_why(kitchen: Kitchen, base: Plan) -> None:
    """More protein than any day can hold is a clash that is told, not an error."""
    found = solved(kitchen, base, "ana protein_g min 400")
    assert found.plan is None
    assert found.note == "no week complies"
    assert found.explanation is not None
    assert found.explanation.conflict is not None
    assert "protein_g" in {rule.key.what for rule in found.explanation.conflict.rules}


@pytest.mark.parametrize(
    ("words", "tighter"),
    [
        (["budget 20"], True),
        (["budget 50"], False),
        (["ana protein_g min +5"], True),
        (["ana protein_g min -5"], False),
        (["ana sodium_mg max 9000 over the week"], True),
        (["without recipe egg_rice"], True),
        (["price of egg +10%"], True),
        (["price of egg -10%"], False),
        (["no egg"], True),
        (["budget 20", "cook on day 2"], False),
    ],
)
def test_a_bound_is_kept_only_by_what_certainly_tightens(
    kitchen: Kitchen, words: list[str], tighter: bool
) -> None:
    """Anything else might have a cheaper week, so it must prove its own bound."""
    variant = variant_of_words(words, kitchen.catalog, kitchen.scenario)
    assert only_tightens(kitchen.catalog, kitchen.scenario, variant) == tighter


KEEPS = Stock(food="egg", amount=2, unit="each")
SPOILS = KEEPS.model_copy(update={"use_by": date(2026, 12, 1)})


@pytest.mark.parametrize(
    ("changes", "way"),
    [
        ({"budget": "20"}, "tightens"),
        ({"budget": "50"}, "loosens"),
        ({"recipes_out": ("egg_rice",)}, "tightens"),
        ({"recipes_in": ("egg_rice",)}, "loosens"),
        ({"prices": ({"food": "egg", "percent": 10},)}, "tightens"),
        ({"prices": ({"food": "egg", "amount": "-0.10"},)}, "loosens"),
        ({"prices": ({"food": "egg", "percent": 10}, {"food": "onion", "percent": -10})}, "either"),
        ({"windows": ({"client": "ana", "nutrient": "protein_g", "min_by": 5},)}, "tightens"),
        ({"windows": ({"client": "ana", "nutrient": "protein_g", "min_by": -5},)}, "loosens"),
        (
            {"windows": ({"client": "ana", "nutrient": "energy_kcal", "min_by": 9, "max_by": 9},)},
            "either",
        ),
        ({"stock": (KEEPS.model_copy(update={"amount": Decimal(5)}),)}, "loosens"),
        ({"stock": (KEEPS.model_copy(update={"amount": Decimal(1)}),)}, "tightens"),
        ({"stock_gone": ("egg",)}, "tightens"),
        ({"stock": (KEEPS, SPOILS)}, "either"),
        ({"cook_days": ({"day": 2},)}, "loosens"),
        ({"cook_days": ({"day": 2},), "budget": "20"}, "either"),
        ({"cook_days": ({"day": 2},), "cook_days_out": (1,)}, "either"),
        ({"clients_alike": ("ana",)}, "either"),
        ({"away": ({"client": "ana", "days": (2,)},)}, "either"),
        ({"unavailable": ("oats_rolled",)}, "tightens"),
        ({"unavailable": ("egg",)}, "either"),
    ],
)
def test_logic_tells_which_way_a_change_can_move_the_cost(
    kitchen: Kitchen, changes: dict[str, object], way: str
) -> None:
    """By hand; whatever might go both ways, such as less waste against less food, is `either`."""
    choice = RecipeChoice(exclude=("boiled_eggs",)) if "recipes_in" in changes else RecipeChoice()
    scenario = kitchen.scenario.model_copy(update={"stock": (KEEPS,), "recipes": choice})
    variant = Variant.model_validate({"name": "change", **changes})
    assert direction_of(kitchen.catalog, scenario, variant) == way


def test_the_last_recipe_of_a_list_leaves_all_recipes(kitchen: Kitchen) -> None:
    """An empty list means every recipe, so that leaving out its last entry loosens."""
    choice = RecipeChoice(include=("egg_rice",))
    scenario = kitchen.scenario.model_copy(update={"recipes": choice})
    variant = Variant(name="out", recipes_out=("egg_rice",))
    assert direction_of(kitchen.catalog, scenario, variant) == "either"


@pytest.mark.parametrize(
    ("words", "sign"),
    [
        (["price of egg +30%"], 1),
        (["ana protein_g min +5"], 1),
        (["budget 90"], -1),
        (["price of egg -30%"], -1),
        (["ana protein_g min -20"], -1),
    ],
)
def test_a_range_ends_at_0_where_logic_rules_the_other_side_out(
    kitchen: Kitchen, base: Plan, words: list[str], sign: int
) -> None:
    """With nothing proven of either week, the side that cannot be is cut all the same."""
    unproven = base.solution.model_copy(update={"best_bound": Decimal(0)})
    loose = base.model_copy(update={"solution": unproven})
    variant = variant_of_words(words, kitchen.catalog, kitchen.scenario)
    changed = changed_kitchen(kitchen, variant)
    found = make_plan(changed, EXACT, None, base)
    known = found.model_copy(
        update={"solution": found.solution.model_copy(update={"best_bound": Decimal(0)})}
    )
    way = direction_of(kitchen.catalog, kitchen.scenario, variant)
    cut, whole = (compare(kitchen, loose, changed, known, None, w) for w in (way, "either"))
    assert whole.least < 0 < whole.most
    if sign > 0:
        assert (cut.least, cut.most) == (0, whole.most)
    else:
        assert (cut.least, cut.most) == (whole.least, 0)
    # What is true, both weeks being proven cheapest, lies in the range that is told.
    assert cut.least <= found.solution.objective - base.solution.objective <= cut.most


def test_a_food_on_hand_that_leaves_the_shops_keeps_no_bound(kitchen: Kitchen, base: Plan) -> None:
    """Unsold food has no price, so what is left of it would cost no waste any more."""
    stock = Stock(food="egg", amount=2, unit="each")
    scenario = kitchen.scenario.model_copy(update={"stock": (stock,)})
    variant = Variant(name="gone", unavailable=("egg",))
    assert only_tightens(kitchen.catalog, kitchen.scenario, variant)
    assert not only_tightens(kitchen.catalog, scenario, variant)


def test_a_week_found_with_a_change_serves_the_base_and_the_others(
    kitchen: Kitchen, base: Plan
) -> None:
    """With a dear base plan, the variants' cheaper week becomes the base and each variant's own."""
    dear = solved(kitchen, base, "ana protein_g min +40").plan
    assert dear is not None
    dear = dear.model_copy(update={"changes": None})
    up = solved(kitchen, base, "price of oats_rolled -10%")
    slow = replace(up, plan=refit(up.kitchen, dear, dear.solution))
    kept, (left, _) = settled(kitchen, dear, [slow, up], keep_base=True)
    assert kept == dear
    settled_base, (first, second) = settled(kitchen, dear, [slow, up])
    assert settled_base.solution.objective == base.solution.objective
    assert settled_base.changes is None
    assert up.plan is not None
    for result in (left, first, second):
        assert result.plan is not None
        assert result.comparison is not None
        assert result.plan.solution.objective == up.plan.solution.objective
        assert audit_plan(result.plan, up.kitchen.catalog, up.kitchen.scenario) == []
    assert first.comparison is not None
    assert first.comparison.base == settled_base.solution


def test_a_week_that_does_not_hold_is_not_refitted(kitchen: Kitchen, base: Plan) -> None:
    """The base plan has too little protein for the variant, and costs more than its budget."""
    for words in ("ana protein_g min 90", "budget 5", "no egg"):
        variant = variant_of_words([words], kitchen.catalog, kitchen.scenario)
        assert refit(changed_kitchen(kitchen, variant), base, base.solution) is None
    same = refit(kitchen, base, base.solution)
    assert same == base


def test_a_variant_is_never_dearer_than_a_week_at_hand(kitchen: Kitchen, base: Plan) -> None:
    """Without time to search, the base plan is the variant's plan where it complies."""
    variant = variant_of_words(["price of egg +10%"], kitchen.catalog, kitchen.scenario)
    hasty = SolveSettings(time_limit_s=1e-3, threads=1)
    found = solve_variant(kitchen, base, variant, hasty)
    assert found.plan is not None
    assert found.plan.changes == variant
    at_hand = refit(found.kitchen, base, base.solution)
    assert at_hand is not None
    assert at_hand.solution.status == "time_limit"
    assert found.plan.solution.objective <= at_hand.solution.objective


def test_an_audited_week_outweighs_a_proof_that_there_is_none(
    kitchen: Kitchen, base: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A solver that errs by its tolerances takes no week away that the audit accepts."""

    def refuse(*_: Any, **__: Any) -> Plan:
        raise NoCompliantWeek(["none"])

    monkeypatch.setattr(variants, "make_plan", refuse)
    found = solved(kitchen, base, "price of egg +10%")
    assert (found.note, found.explanation) == ("", None)
    assert found.plan is not None
    assert audit_plan(found.plan, found.kitchen.catalog, found.kitchen.scenario) == []


def test_a_written_variant_is_audited_from_its_folder(
    kitchen: Kitchen, base: Plan, tmp_path: Path
) -> None:
    """The plan says what was changed of its files; without that it does not hold for them."""
    found = solved(kitchen, base, "price of oats_rolled +100%", "ana away on day 3")
    assert found.plan is not None
    write_plan(found.plan, found.kitchen.catalog, found.kitchen.scenario, tmp_path / "v")
    again, findings = audit_folder(tmp_path / "v")
    assert (again, findings) == (found.plan, [])
    opened = open_plan(tmp_path / "v")
    assert (opened.complete, opened.notes) == (True, ())
    assert opened.scenario == found.kitchen.scenario
    for name in ("report.md", "report.html"):
        text = (tmp_path / "v" / name).read_text(encoding="utf-8")
        assert "Changed beforehand" in text
        assert text.count("ana away on day 3") >= 2
    unsaid = found.plan.model_copy(update={"changes": None})
    write_plan(unsaid, found.kitchen.catalog, found.kitchen.scenario, tmp_path / "u")
    assert audit_folder(tmp_path / "u")[1] != []


@pytest.mark.parametrize("words", [["budget 28"], ["ana protein_g min +15"]])
def test_what_only_tightens_is_never_cheaper(
    kitchen: Kitchen, base: Plan, words: list[str]
) -> None:
    """Solved to the end, a tighter scenario costs at least what the base costs."""
    found = solved(kitchen, base, *words)
    assert found.plan is not None
    assert found.plan.solution.objective >= base.solution.objective
    assert found.bound >= base.solution.best_bound


def test_prices_that_do_not_move_leave_no_regret(kitchen: Kitchen, base: Plan) -> None:
    """With no spread every sample costs what the plan costs, and no plan beats the cheapest."""
    found = robustness(kitchen, base, EXACT, Sampling(0.0, samples=5, solve=1))
    assert found.overtaken == found.most_regret == found.mean_regret == 0.0
    assert found.lowest == found.highest == pytest.approx(found.planned)
    assert found.planned == pytest.approx(float(base.solution.objective), abs=0.005)


def test_sampled_prices_repeat_by_seed_and_stay_within_the_spread(
    kitchen: Kitchen, base: Plan
) -> None:
    """Another seed draws other prices; all costs lie within a tenth of the plan's, cents aside."""
    one = robustness(kitchen, base, EXACT, Sampling(0.1, samples=30, solve=0))
    again = robustness(kitchen, base, EXACT, Sampling(0.1, samples=30, solve=0))
    other = robustness(
        kitchen, base, EXACT.model_copy(update={"seed": 2}), Sampling(0.1, samples=30, solve=0)
    )
    assert one == again
    assert one.costs != other.costs
    assert 0.89 * one.planned < one.lowest < one.middle < one.highest < 1.11 * one.planned


def test_another_plan_that_is_cheaper_is_counted_with_its_regret(
    kitchen: Kitchen, base: Plan
) -> None:
    """A dear plan beside the cheapest one is overtaken in every sample at today's prices."""
    dear = solved(kitchen, base, "ana protein_g min +40").plan
    assert dear is not None
    assert dear.solution.objective > base.solution.objective
    found = robustness(kitchen, dear, EXACT, Sampling(0.0, samples=3, solve=0), others=[base])
    assert found.plans == 2
    assert found.overtaken == 1.0
    regret = float(dear.solution.objective - base.solution.objective)
    assert found.most_regret == pytest.approx(regret, abs=0.011)


@pytest.mark.parametrize("bad", [{"spread": 1.0}, {"spread": -0.1}, {"spread": 0.1, "samples": 0}])
def test_a_spread_that_is_none_is_refused(bad: Any) -> None:
    """Prices that may fall to nothing, or no sample at all, are no question."""
    with pytest.raises(ValueError, match="spread"):
        Sampling(**bad)


def test_limits_are_priced_and_three_are_solved_anew(kitchen: Kitchen, base: Plan) -> None:
    """A looser limit never costs more, and what is told of it lies within what is proven."""
    found = shadow_prices(kitchen, base, EXACT)
    resolved = [price.resolved for price in found if price.resolved is not None]
    assert len(resolved) == 3
    assert all(price.per_unit >= 0 for price in found)
    for answer in resolved:
        assert answer.least <= answer.difference <= answer.most <= 0


def test_energy_prices_stop_at_the_floor(tmp_path: Path) -> None:
    """A least of 1,230 kcal is moved to 1,200 and not a twentieth down."""
    windows = {"energy_kcal": {"min": 1230, "max": 2100}}
    path = write_kitchen(tmp_path, clients=[tiny_client(windows_per_day=windows)])
    kitchen = load_kitchen(path)
    plan = make_plan(kitchen, EXACT)
    moved = {
        (price.rule.key.what, price.rule.key.side): price.after
        for price in shadow_prices(kitchen, plan, EXACT, resolve=5)
        if price.rule.key.kind == "window"
    }
    assert moved["energy_kcal", "min"] == 1200
