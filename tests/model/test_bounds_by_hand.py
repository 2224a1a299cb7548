"""Kitchens so small that their least cost is reckoned by hand, and every relaxation reaches it.

A row of a relaxation that asks for too much would raise its bound above the cost written here, or
leave no week at all; a row that is lost would let the bound fall below. Both are told at once.
Beans come in cans of 240 g for 1.00 and a stew takes 220 g for two servings, unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest

from model.points import MONEY, optimum
from model.small import catalog, client, food, limit, pack, recipe, scenario
from planopt.problem.build import Problem, build_problem
from planopt.solve.bounding.relaxations import merged_arrays, weekly_arrays
from planopt.solve.highs.daymodel import build_plain

CAN = pack("beans", 240, "1.00")
LASTING = {"kind": "dishes", "fridge_days": 9, "serve": "cold"}
# 220 g of beans at 100 kcal are 110 kcal in each of two servings.


def stew(recipe_id: str = "stew", grams: float = 220, **more: Any) -> dict[str, Any]:
    """Return a stew of beans that keeps all week."""
    return recipe(recipe_id, {"beans": grams}, keeps=LASTING, **more)


@dataclass(frozen=True)
class Kitchen:
    """What differs from one stew for one lunch, and what the week costs at least."""

    name: str
    cost: float
    why: str
    keys: dict[str, Any] = field(default_factory=dict)
    recipes: tuple[dict[str, Any], ...] = ()
    packs: tuple[dict[str, Any], ...] = (CAN,)
    beans: dict[str, Any] = field(default_factory=dict)
    others: tuple[dict[str, Any], ...] = ()

    @property
    def problem(self) -> Problem:
        """Return the problem; waste costs nothing unless the keys say so."""
        foods = [food("beans", **self.beans), *self.others]
        table = catalog(foods, self.packs, self.recipes or (stew(),), [limit()])
        return build_problem(table, scenario(**{"waste_weight": 0, **self.keys}))


def eats(**more: Any) -> dict[str, Any]:
    """Return the keys of a kitchen whose one client has these."""
    return {"clients": [client(**more)]}


HALVES = {"step": "half", "most_per_cook_day": 4}
SIZES = {"step": 0.5, "smallest": 0.5, "largest": 2}
BOTH = {"days": 2, "cook_days": [{"day": 1}, {"day": 2}]}
RICE = food("rice")
KITCHENS = (
    Kitchen("a can", 1.00, "one can holds a batch"),
    Kitchen("two batches", 2.00, "three servings are two batches, 440 g, two cans", {"days": 3}),
    Kitchen("four meals", 2.00, "four servings are two batches", {"days": 4}),
    Kitchen("half batches", 1.00, "two halves of a batch are one can",
            {"days": 2}, (stew(batch=HALVES),)),
    Kitchen("three halves", 2.00, "330 g are two cans", {"days": 3}, (stew(batch=HALVES),)),
    Kitchen("stock is enough", 0.00, "120 g on hand are half a batch",
            {"stock": [{"food": "beans", "amount": 120, "unit": "g"}]}, (stew(batch=HALVES),)),
    Kitchen("stock is not enough", 1.00, "60 g of 110 are missing",
            {"stock": [{"food": "beans", "amount": 50, "unit": "g"}]}, (stew(batch=HALVES),)),
    Kitchen("stock for one of two", 1.00, "440 g less 250 g on hand are one can",
            {"days": 3, "stock": [{"food": "beans", "amount": 250, "unit": "g"}]}),
    Kitchen("a dear small pack", 2.00, "880 g: a sack for 2.00, and no small ones",
            {"days": 8}, packs=(pack("beans", 100, "1.00"), pack("beans", 1000, "2.00")),
            recipes=(stew(batch={"step": "whole", "most_per_cook_day": 9}),)),
    Kitchen("any amount", 220 / 240, "220 g of a can sold by the gram",
            packs=(pack("beans", 240, "1.00", sold="any"),)),
    Kitchen("wasted beans", 1 + 20 / 240 + 110 / 240,
            "a can, 20 g that spoil, and a serving that nobody eats",
            {"waste_weight": 1, "carry_days": 7}, beans={"keeps_days": 0}),
    Kitchen("half the weight", 1 + (20 + 110) / 240 / 2, "the same waste at half its value",
            {"waste_weight": 0.5, "carry_days": 7}, beans={"keeps_days": 0}),
    Kitchen("carried beans", 1 + 110 / 240, "what lasts is no waste", {"waste_weight": 1}),
    Kitchen("stock that spoils, beans that last", 1 + 110 / 240, "10 g of stock are used up first",
            {"waste_weight": 1, "carry_days": 7,
             "stock": [{"food": "beans", "amount": 10, "unit": "g", "use_by": "2026-03-02"}]}),
    Kitchen("a budget just met", 1 + 130 / 240, "the budget is for groceries, not for waste",
            {"waste_weight": 1, "carry_days": 7, "budget": "1.00"}, beans={"keeps_days": 0}),
    Kitchen("all is eaten", 1 + 20 / 240, "two servings, and 20 g that spoil",
            {"waste_weight": 1, "carry_days": 7, **eats(portions={**SIZES, "smallest": 2})},
            beans={"keeps_days": 0}),
    Kitchen("the largest portion is needed", 1.00, "two servings have 220 kcal",
            eats(portions=SIZES, windows_per_day={"energy_kcal": {"min": 220}})),
    Kitchen("the smallest portion is needed", 1.00, "half a serving is all that fits",
            eats(portions=SIZES, windows_per_day={"energy_kcal": {"max": 55}})),
    Kitchen("windows of both days", 2.00, "two servings each day, as each asks for 220 kcal",
            {"days": 2, **eats(portions=SIZES, windows_per_day={"energy_kcal": {"min": 220}})}),
    Kitchen("a window of one day", 1.00, "110 kcal on day 1 and as much on day 2",
            {"days": 2, **eats(windows_on_days={1: {"energy_kcal": {"max": 110}}})}),
    Kitchen("a window of the week", 2.00, "440 kcal are four servings in two days",
            {"days": 2,
             **eats(portions=SIZES, windows_per_week={"energy_kcal": {"min": 440, "max": 440}})}),
    Kitchen("repeats", 2.00, "three meals of the stew are allowed",
            {"days": 3, **eats(most_repeats=3)}),
    Kitchen("two kinds", 2.00, "two meals of each kind, 450 g, two cans",
            {"days": 4, **eats(most_repeats=2)}, (stew(), stew("chili", 230))),
    Kitchen("variety", 2.00, "two kinds though one would do",
            {"days": 2, **eats(least_different_recipes=2)}, (stew(), stew("chili", 230))),
    Kitchen("a want", 4.00, "one of two meals has rice, a bag for 3.00, the other beans",
            {"days": 2, **eats(wants={"rice": 1, "beans": 1})},
            (stew(), recipe("pilaf", {"rice": 100}, keeps=LASTING)),
            (CAN, pack("rice", 100, "3.00")), others=(RICE,)),
    Kitchen("dislikes", 4.00, "beans once at most and rice once at most, so one meal of each",
            {"days": 2, **eats(dislikes={"beans": 1, "rice": 1})},
            (stew(), recipe("pilaf", {"rice": 100}, keeps=LASTING)),
            (CAN, pack("rice", 100, "3.00")), others=(RICE,)),
    Kitchen("most servings of a recipe", 4.00, "one serving of each at most",
            {"days": 2, **eats(recipe_servings={"stew": {"max": 1}, "pilaf": {"max": 1}})},
            (stew(), recipe("pilaf", {"rice": 100}, keeps=LASTING)),
            (CAN, pack("rice", 100, "3.00")), others=(RICE,)),
    Kitchen("least servings of a recipe", 3.00, "two servings of pilaf, and no stew",
            {"days": 2, **eats(recipe_servings={"pilaf": {"min": 2}})},
            (stew(), recipe("pilaf", {"rice": 100}, keeps=LASTING)),
            (CAN, pack("rice", 100, "3.00")), others=(RICE,)),
    Kitchen("beans of one day", 1.00, "what spoils is bought for one cook day, not for both",
            BOTH, (stew(),), beans={"keeps_days": 0}),
    Kitchen("versions share a day", 2.00, "a batch on each of two days, as no day has two",
            {"days": 4, "cook_days": [{"day": 1}, {"day": 3}]},
            (stew(batch={"step": "whole", "most_per_cook_day": 1},
                  lines=[{"food": "beans", "amount": 220, "unit": "g",
                          "alternatives": [{"food": "rice"}]}]),),
            (CAN, pack("rice", 240, "1.50")), others=(RICE,)),
    Kitchen("oven", 4.00, "the oven holds one batch of stew, and four meals are two batches",
            {"days": 4, "cook_days": [{"day": 1, "oven_minutes": 30}]},
            (stew(equipment={"oven": {"temperature_c": 180, "minutes": 30}}),
             recipe("pilaf", {"rice": 100}, keeps=LASTING)),
            (CAN, pack("rice", 100, "3.00")), others=(RICE,)),
    Kitchen("minutes of further batches", 4.00, "10 minutes for a batch and 4 for the next are 14",
            {"days": 4, "cook_days": [{"day": 1, "hands_on_minutes": 13}]},
            (stew(), recipe("pilaf", {"rice": 100}, keeps=LASTING,
                            minutes={"hands_on": 3, "hands_on_per_extra_batch": 9})),
            (CAN, pack("rice", 100, "3.00")), others=(RICE,)),
    Kitchen("runs of days", 2.00, "what keeps two days is cooked twice for four",
            {"days": 4, "cook_days": [{"day": 1}, {"day": 3}]},
            (recipe("stew", {"beans": 220},
                    keeps={"kind": "dishes", "fridge_days": 1, "serve": "cold"}),),),
    Kitchen("fresh every day", 3.00, "what keeps no day is cooked on each of three",
            {"days": 3, "cook_days": [{"day": 1}, {"day": 2}, {"day": 3}]},
            (recipe("stew", {"beans": 220},
                    keeps={"kind": "dishes", "fridge_days": 0, "serve": "cold"}),)),
    Kitchen("visits", 4.50, "two sellers on one day: the second visit costs 0.50",
            {"visit_cost": "0.50", "days": 2, **eats(wants={"rice": 1, "beans": 1})},
            (stew(), recipe("pilaf", {"rice": 100}, keeps=LASTING)),
            (CAN, pack("rice", 100, "3.00", "market")), others=(RICE,)),
    Kitchen("one visit", 1.00, "the first visit is free", {"visit_cost": "0.50"}),
)  # fmt: skip
# The merged relaxation pays beans of several dishes by the gram, 450 of 480 g, and knows of no
# visits, no minutes, and no day on which food is cooked or spoils.
MERGED = {
    "two kinds": 450 / 240, "variety": 450 / 240, "visits": 4.00,
    "oven": 2.00, "minutes of further batches": 2.00, "fresh every day": 2.00,
}  # fmt: skip


@pytest.mark.parametrize("kitchen", KITCHENS, ids=lambda kitchen: kitchen.name)
def test_every_model_has_the_cost_reckoned_by_hand(kitchen: Kitchen) -> None:
    """The day-by-day model, with and without its added rows, and both relaxations."""
    problem = kitchen.problem
    found = {
        "plain": optimum(build_plain(problem, strengthen=False).matrix).objective,
        "strong": optimum(build_plain(problem).matrix).objective,
        "weekly": optimum(weekly_arrays(problem).matrix).objective,
        "merged": optimum(merged_arrays(problem)).objective,
    }
    expected = dict.fromkeys(found, kitchen.cost)
    expected["merged"] = MERGED.get(kitchen.name, kitchen.cost)
    assert found == {name: pytest.approx(cost, abs=MONEY) for name, cost in expected.items()}, (
        kitchen.why
    )
