"""What a week is, on kitchens small enough to see through: shared dishes, days between, tastes.

Every dish is a batch of one serving and takes 100 g of each of its foods, sold for 1.00; `pricey`
is the dish of two foods. Each plan is audited.
"""

from __future__ import annotations

from typing import Any

import pytest

from model.small import EXACT, SOURCE, catalog, client, facts, food, pack, recipe, scenario
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.plan.extract import extract_plan
from planopt.problem.build import build_problem
from planopt.problem.limits import limits_of, with_limits
from planopt.problem.order import week_kept
from planopt.scenario.records import Scenario
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import search_plain
from planopt.whynot.explain import explain
from planopt.whynot.witness import limits_met


def _menu(**dishes: tuple[str, ...]) -> Catalog:
    names = sorted({name for foods in dishes.values() for name in foods})
    recipes = [
        recipe(dish, dict.fromkeys(used, 100), yield_servings=1) for dish, used in dishes.items()
    ]
    return catalog(
        [food(name, kcal=500) for name in names], [pack(name, 100, "1.00") for name in names],
        recipes,
    )  # fmt: skip


MENU = _menu(plain=("rice",), other=("beans",), pricey=("beans", "rice"))
FEW = _menu(plain=("rice",), pricey=("beans", "rice"))


def _days(count: int, **more: Any) -> dict[str, Any]:
    return {"days": count, "cook_days": [{"day": day} for day in range(1, count + 1)], **more}


def _cost(table: Catalog, week: Scenario) -> float | None:
    """Return the cost of the cheapest week by either way, audited; None if none complies."""
    problem = build_problem(table, week)
    costs = set()
    for result in (search_plain(problem, EXACT), search(problem, EXACT)):
        if result.decisions is None:
            assert result.infeasible
            costs.add(None)
            continue
        plan = extract_plan(problem, table, week, result.decisions, facts(result.bound), SOURCE)
        assert [finding.text() for finding in audit_plan(plan, table, week)] == []
        assert week_kept(problem, result.decisions)
        met = limits_met(problem, result.decisions, limits_of(week))
        assert met == set(limits_of(week))
        costs.add(float(plan.solution.objective))
    (cost,) = costs
    return cost


CASES: list[tuple[str, Catalog, dict[str, Any], dict[str, Any], float | None]] = [
    # Three lunches: the second is the dearer dish, or a day is missed.
    ("a day between", FEW, _days(3, days_between=1), {}, 4.0),
    ("two days between", FEW, _days(3, days_between=2), {}, None),
    ("the client's own", FEW, _days(3, days_between=2), {"days_between": 1}, 4.0),
    ("but for one", FEW, _days(3, days_between=2, days_between_of={"plain": 0}), {}, 3.0),
    ("of one alone", FEW, _days(3), {"days_between_of": {"plain": 2}}, 5.0),
    # What a tie forces is neither too near nor too often; what it does not force is.
    ("tied days", FEW,
     _days(3, days_between=2, same_dish=[{"meals": ["lunch"], "across": "days"}]),
     {"most_repeats": 1}, 3.0),
    ("tied days and one more", FEW,
     _days(3, days_between=1, same_dish=[{"meals": ["lunch"], "days": [1, 2], "across": "days"}]),
     {}, 4.0),
    ("left over", FEW,
     _days(2, meals=["lunch", "dinner"], same_dish=[{"meals": ["lunch"], "as_meal": "dinner"}]),
     {"most_repeats": 1}, None),
    ("left over, three dishes", MENU,
     _days(2, meals=["lunch", "dinner"], same_dish=[{"meals": ["lunch"], "as_meal": "dinner"}]),
     {"most_repeats": 1}, 5.0),
    ("few recipes", MENU, _days(3, days_between=1, most_recipes=2), {}, 3.0),
    ("too few recipes", MENU, _days(3, days_between=2, most_recipes=2), {}, None),
    ("few for the client", MENU, _days(3, days_between=2), {"most_different_recipes": 2}, None),
    ("rated", FEW, _days(2), {"ratings": {"pricey": "1.50"}}, 4.0),
    ("rated, but not enough", FEW, _days(2), {"ratings": {"pricey": "0.40"}}, 2.8),
    ("rated low", FEW, _days(2), {"ratings": {"plain": "-0.25"}}, 2.5),
    ("two dishes, rated low", FEW, _days(1, most_dishes_per_meal=2),
     {"ratings": {"plain": "-1.50"}}, 2.0),
    ("any dishes, none near", FEW,
     _days(2, most_dishes_per_meal="any", days_between=1),
     {"windows_per_day": {"energy_kcal": {"min": 400}},
      "portions": {"step": "any", "smallest": 0, "largest": 1}}, 3.0),
]  # fmt: skip


@pytest.mark.parametrize(("name", "table", "keys", "own", "cost"), CASES, ids=[c[0] for c in CASES])
def test_what_a_week_costs(
    name: str, table: Catalog, keys: dict[str, Any], own: dict[str, Any], cost: float | None
) -> None:
    """The cheapest week is the one that a look at the kitchen tells."""
    assert _cost(table, scenario(**keys, clients=[client(**own)])) == cost


def test_who_eats_together_has_what_all_may_have() -> None:
    """Bo must not have rice: alone Ana has it, together both have beans; or the tie is named."""
    both = [client("ana"), client("bo", excluded_foods=["rice"])]
    table = _menu(plain=("rice",), other=("beans", "roots"))
    together = {"same_dish": [{"meals": ["lunch"], "across": "clients"}]}
    assert _cost(table, scenario(clients=both)) == 3.0
    assert _cost(table, scenario(clients=both, **together)) == 4.0
    neither = [client("ana", excluded_foods=["roots"]), both[1]]
    week = scenario(clients=neither, **together)
    assert _cost(table, week) is None
    told = explain(table, week, EXACT)
    assert told.sentences[:2] == (
        "These cannot all be met together: everybody: lunch together every day; Ana: no roots; "
        "Bo: no rice.",
        "Each of them is needed for the clash: without any one, the others can be met.",
    )
    assert told.sentences[-1] == (
        "- without `same_dish` for everybody: lunch together every day: suffices."
    )


def test_two_dishes_of_a_meal_are_shared_together() -> None:
    """With two dishes a meal, who eats together has both alike."""
    wants = {"windows_per_day": {"energy_kcal": {"min": 900}}}
    both = [client("ana", **wants), client("bo")]
    keys: dict[str, Any] = {"most_dishes_per_meal": 2, "clients": both}
    table = _menu(plain=("rice",), other=("beans",))
    assert _cost(table, scenario(**keys)) == 3.0
    together = [{"meals": ["lunch"], "across": "clients"}]
    assert _cost(table, scenario(**keys, same_dish=together)) == 4.0


def test_days_between_that_are_too_many_are_told_with_what_would_do() -> None:
    """Of two dishes none can come with two days between on three days; with one it can."""
    week = scenario(**_days(3, days_between=2), clients=[client()])
    told = explain(FEW, week, EXACT)
    assert told.sentences[0] == (
        "This cannot be met by itself: Ana: at least 2 days between meals of one dish."
    )
    assert told.sentences[-1] == (
        "- Ana: at least 1 day between meals of one dish: suffices, and nothing less does; now 2."
    )


def test_limits_of_the_week_are_kept_or_left_one_by_one() -> None:
    """A scenario made of all of its limits is as it was; without one, that alone is gone."""
    week = scenario(
        **_days(3, meals=["lunch", "dinner"], days_between=2, days_between_of={"plain": 1}),
        most_recipes=3, clients=[client(most_different_recipes=3, days_between_of={"pricey": 0})],
        same_dish=[{"meals": ["lunch"], "across": "days"}, {"meals": ["dinner"], "days": [1, 2],
                                                            "across": "both"}],
    )  # fmt: skip
    kinds = ("spacing", "most_kinds", "same_dish")
    mine = [limit for limit in limits_of(week) if limit.key.kind in kinds]
    assert len(mine) == 6
    assert limits_of(with_limits(week, limits_of(week))) == limits_of(week)
    for left in mine:
        rest = [limit for limit in limits_of(week) if limit != left]
        assert set(limits_of(with_limits(week, rest))) == set(rest)
