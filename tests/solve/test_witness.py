"""Which limits a week meets, where the catalog does not tell all of what it holds."""

from __future__ import annotations

from model.small import catalog, food, pack, recipe, scenario
from planopt.problem.build import build_problem
from planopt.problem.decisions import Decisions
from planopt.problem.limits import Limit, LimitKey
from planopt.whynot.witness import amount_of, limits_met


def test_a_dish_of_unknown_allergens_breaks_every_exclusion_of_its_eater() -> None:
    """It may have any allergen, so that no week with it proves that an exclusion can be kept."""
    table = catalog(
        [food("sauce", allergens=["not_known"])],
        [pack("sauce", 100, "1.00")],
        [recipe("dip", {"sauce": 100})],
    )
    problem = build_problem(table, scenario())
    week = Decisions({0: 1.0}, {(0, 0): 1.0}, {(0, 0): 1.0})
    milk, fish = (Limit(LimitKey("allergen", "ana", name)) for name in ("milk", "fish"))
    other = Limit(LimitKey("allergen", "ben", "milk"))
    assert limits_met(problem, week, [milk, fish, other]) == {other}
    assert amount_of(problem, week, milk.key) > 0
