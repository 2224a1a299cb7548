"""The families of rows that `kitchen.py` and `menus.py` write, each with a tiny kitchen for it.

A family is known by the meaning of its rows. `text_of` writes the family's rows of its tiny kitchen
as text, with every solver name replaced by what it stands for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pulp

from model.small import catalog, client, food, limit, pack, recipe, scenario
from planopt.catalog.records import Catalog
from planopt.model.kitchen import KitchenModel, new_kitchen
from planopt.model.menus import add_menus
from planopt.problem.build import build_problem
from planopt.scenario.records import Scenario

_SENSE = {
    pulp.LpConstraintLE: "<=",
    pulp.LpConstraintGE: ">=",
    pulp.LpConstraintEQ: "=",
}
_KIND = {"Integer": "integer", "Continuous": "continuous"}


@dataclass(frozen=True)
class Family:
    """Rows whose meaning matches `pattern` wholly, and the scenario keys that call for them."""

    pattern: str
    keys: dict[str, Any]
    versions: bool = False


_TWO_DAYS: dict[str, Any] = {"days": 2, "cook_days": [{"day": 1}, {"day": 2}]}
_CLOCK: dict[str, Any] = {
    "day": 1, "hands_on_minutes": 40, "oven_minutes": 50, "hob_minutes": 60, "most_recipes": 1,
}  # fmt: skip
_ANY = {"step": "any", "smallest": 0, "largest": 2}


def _of(**more: Any) -> dict[str, Any]:
    """Return scenario keys with one client who has these."""
    return {"clients": [client(medically_supervised=True, **more)]}


def _week(**more: Any) -> dict[str, Any]:
    return {**_TWO_DAYS, **_of(**more)}


FAMILIES: dict[str, Family] = {
    "batches": Family(
        r".*: (cooked only if started|started only if cooked|eaten within cooked)", {}
    ),
    "supplies": Family(
        r".* of (stock entry|shop day) .*: (bought, )?used and left",
        {**_TWO_DAYS, "stock": [{"food": "rice", "amount": 30, "unit": "g"}]},
    ),
    "balance": Family(r"\w+ cooked on day -?\d+ comes from supplies", _TWO_DAYS),
    "most_batches": Family(r"\w+: most batches on day .*", {}, versions=True),
    "hands_on": Family(
        r"hands-on minutes day .*|.* day -?\d+: extra batches", {"cook_days": [_CLOCK]}
    ),
    "oven": Family(r"oven minutes day .*", {"cook_days": [_CLOCK]}),
    "hob": Family(r"hob minutes day .*", {"cook_days": [_CLOCK]}),
    "most_recipes": Family(
        r"most recipes day .*|\w+: a version is cooked", {"cook_days": [_CLOCK]}, versions=True
    ),
    "visits": Family(
        r"\[.*\]: bought only on a visit|visits after the first",
        {**_TWO_DAYS, "visit_cost": "1.25"},
    ),
    "budget": Family(r"budget", {"budget": "9.00"}),
    "one_dish": Family(r".*: (portion only if eaten|smallest portion|one dish)", {}),
    "several_dishes": Family(
        r".*: (at least one dish|dishes)", {"most_dishes_per_meal": 2, **_of(portions=_ANY)}
    ),
    "one_cook_day": Family(
        r".*: from one cook day", {**_TWO_DAYS, "most_dishes_per_meal": 2, **_of()}
    ),
    "largest_over_cook_days": Family(
        r".*: largest portion from all cook days",
        {**_TWO_DAYS, "most_dishes_per_meal": "any", **_of()},
    ),
    "meals_held": Family(
        r".*: meal \d+ holds one",
        {
            **_TWO_DAYS,
            "most_dishes_per_meal": 2,
            **_of(dislikes={"beans": 1}, wants={"rice": 1}, most_repeats=1),
        },
    ),
    "day_windows": Family(
        r"\w+ day \d+ \w+: (least|most|exactly)",
        _week(
            windows_per_day={"energy_kcal": {"min": 90, "max": 300}, "protein_g": {"min": 2}},
            windows_on_days={2: {"energy_kcal": {"min": 200, "max": 200}}},
        ),
    ),
    "meal_windows": Family(
        r"\w+ day \d+ \w+ \w+: (least|most|exactly)",
        {
            **_week(
                windows_per_day={"energy_kcal": {"min": 100, "max": 500}},
                windows_per_meal={"lunch": {"energy_kcal": {"min": "15%", "max": "80%"}}},
                windows_per_meal_on_days={2: {"lunch": {"protein_g": {"min": 10, "max": 20}}}},
            ),
            "plate_g": {"min": 20, "max": 400},
        },
    ),
    "portions_taken": Family(
        r"portions taken of cooking \d+", {**_TWO_DAYS, "work_prices": {"box": "0.10"}}
    ),
    "week_windows": Family(
        r"\w+ whole plan \w+: (least|most|exactly)",
        _week(windows_per_week={"energy_kcal": {"min": 150, "max": 500}}),
    ),
    "repeats": Family(r"\w+: repeats of \w+: most \d+", _week(most_repeats=1)),
    "once_a_day": Family(
        r"\w+: \w+ once on day \d+: most 1", {"meals": ["lunch", "dinner"], **_of()}
    ),
    "variety": Family(r"\w+: \w+ seen|\w+: different recipes", _of(least_different_recipes=1)),
    "same_dish": Family(
        r".*: \w+ in meals \d+ and \d+ alike",
        {**_TWO_DAYS, **_of(), "same_dish": [{"meals": ["lunch"], "across": "days"}]},
    ),
    "same_dishes": Family(
        r".*: \w+ in meals \d+ and \d+: held (only )?if picked",
        {
            **_TWO_DAYS,
            **_of(),
            "most_dishes_per_meal": 2,
            "same_dish": [{"meals": ["lunch"], "across": "days"}],
        },
        versions=True,
    ),
    "days_between": Family(
        r"\w+: \w+ from day \d+ to \d+: most 1", {**_TWO_DAYS, **_of(), "days_between": 1}
    ),
    "most_kinds": Family(r"\w+: \w+ had|\w+: most recipes", _week(most_different_recipes=1)),
    "most_recipes_of_plan": Family(
        r"\w+: cooked on some day|most recipes of the plan", {**_TWO_DAYS, "most_recipes": 1}
    ),
    "ratings": Family(
        r"\w+ whole plan ratings above, soft", _week(ratings={"pot": "1.50", "stew": "-0.25"})
    ),
    "dislikes": Family(r"\w+: meals with \w+: most \d+", _week(dislikes={"beans": 1})),
    "wants": Family(r"\w+: meals with \w+: least \d+", _week(wants={"rice": 1})),
    "recipe_servings": Family(
        r"\w+: servings of \w+: (least|most|exactly)",
        _week(recipe_servings={"pot": {"min": 0.5, "max": 1.5}, "stew": {"min": 1, "max": 1}}),
    ),
    "eaten": Family(r"servings eaten of cooking \d+", _TWO_DAYS),
}


def tiny_kitchen(family: Family) -> tuple[Catalog, Scenario]:
    """Return a kitchen of two recipes and two foods that calls for the rows of a family."""
    foods = [food("beans", kcal=340, protein=22), food("rice", kcal=360, protein=7, keeps_days=9)]
    packs = [
        pack("beans", 400, "1.30"), pack("rice", 100, "0.35", sold="loose"),
        pack("rice", 1000, "2.40", "market"),
    ]  # fmt: skip
    pot = recipe(
        "pot", {"beans": 150}, batch={"step": "half", "most_per_cook_day": 2},
        equipment={"hob_minutes": 25},
    )  # fmt: skip
    stew = recipe(
        "stew", {"beans": 60, "rice": 120},
        equipment={"hob_minutes": 10, "oven": {"temperature_c": 180, "minutes": 30}},
    )  # fmt: skip
    if family.versions:
        pot["lines"][0]["alternatives"] = [{"food": "rice", "ratio": 0.8}]
    keys = {**_of(), **family.keys}
    return catalog(foods, packs, [pot, stew], [limit()]), scenario(**keys)


def build(family: Family) -> KitchenModel:
    """Return the day-by-day model of a family's tiny kitchen, without strengthening."""
    kitchen = new_kitchen(build_problem(*tiny_kitchen(family)))
    add_menus(kitchen)
    return kitchen


def meanings(kitchen: KitchenModel) -> list[str]:
    """Return the meaning of every row, in order."""
    return [plain_meaning(kitchen, name) for name in kitchen.lp.constraints]


def plain_meaning(kitchen: KitchenModel, name: str) -> str:
    """Return what a name stands for, with the names that occur in it replaced likewise."""
    meaning = kitchen.names.meaning(name)
    return re.sub(r"\bp\d+\b", lambda found: f"[{kitchen.names.meaning(found[0])}]", meaning)


def text_of(family: Family) -> str:
    """Return the family's rows and the bounds of their variables, one a line."""
    kitchen = build(family)
    lines = []
    variables: dict[str, pulp.LpVariable] = {}
    for name, row in kitchen.lp.constraints.items():
        meaning = plain_meaning(kitchen, name)
        if re.fullmatch(family.pattern, meaning) is None:
            continue
        lines.append(f"{meaning}:")
        terms = [(kitchen.names.meaning(v.name), c, v) for v, c in row.items()]
        terms.sort(key=lambda term: term[:2])
        lines += [f"    {c:+.10g} [{what}]" for what, c, _ in terms]
        lines.append(f"    {_SENSE[row.sense]} {0.0 - row.constant:.10g}")
        variables |= {what: v for what, _, v in terms}
    lines.append("bounds:")
    lines += [f"    {_bounds(what, v)}" for what, v in sorted(variables.items())]
    return "\n".join(lines) + "\n"


def objective_text() -> str:
    """Return the objective of a kitchen with visits, stock and food that is wasted."""
    family = Family("", {
        **_TWO_DAYS, "visit_cost": "1.25", "waste_weight": 0.5, "carry_days": 30,
        "work_prices": {"cook_hour": "12", "washing_up_minutes": 5, "box": "0.10"},
        "stock": [{"food": "beans", "amount": 30, "unit": "g", "use_by": "2026-03-03"}],
    })  # fmt: skip
    kitchen = build(family)
    rows = sorted((kitchen.names.meaning(v.name), c) for v, c in kitchen.lp.objective.items())
    lines = [f"    {c:+.10g} [{what}]" for what, c in rows]
    return "\n".join(["minimize:", *lines]) + "\n"


def _bounds(what: str, variable: pulp.LpVariable) -> str:
    high = "" if variable.upBound is None else f" <= {variable.upBound:.10g}"
    return f"{variable.lowBound:.10g} <= [{what}]{high}, {_KIND[variable.cat]}"
