"""Loose lines: what an outline's versions have, line by line, instead of one version after another.

An outline stands for every version of a recipe. Of its cooked units and of its servings, each loose
line says how much has which option. Maths uses x = units cooked with an option, e = servings eaten
with it, q = servings of it that one client eats.

Any plan of versions gives such a point: add up the versions that share an option. So these rows
keep every plan, at its own cost; what they give up is that lines belong together in a version.
Where a cooking has one step, x is 0 or 1 for each option, and nothing is given up at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pulp

from planopt.model.names import NameTable
from planopt.problem.build import Problem
from planopt.problem.dishes import Dish, LineOption
from planopt.problem.people import Eater
from planopt.problem.rules import LinearRule
from planopt.problem.versions import forbidden


@dataclass(frozen=True)
class LooseUnits:
    """How much of what is cooked has an option of a line: `units` cooked and servings `eaten`."""

    option: LineOption
    units: pulp.LpVariable
    eaten: pulp.LpVariable


# One list for each loose line of an outline, in its order.
CookedLines = list[list[LooseUnits]]
EatenLines = list[list[tuple[LineOption, pulp.LpVariable]]]


def cooked_lines(
    lp: pulp.LpProblem,
    names: NameTable,
    dish: Dish,
    units: pulp.LpAffineExpression | pulp.LpVariable,
    most: float,
    what: str,
) -> CookedLines:
    """Add x and e of each option of an outline of which so many `units` are cooked.

    Rows: sum of x = units; e <= yield x step x x. What is eaten in all is for the caller to tie.
    """
    per_unit = dish.yield_servings * (dish.batch_step or 1.0)
    found = []
    for number, line in enumerate(dish.loose):
        row = []
        for option in line:
            name = f"{what}, line {number} {option.word or 'as written'}"
            kind = "Continuous" if dish.batch_step is None else "Integer"
            cooked = pulp.LpVariable(names.new("x", f"units of {name}"), 0, most, kind)
            eaten = pulp.LpVariable(names.new("e", f"servings eaten of {name}"), 0)
            lp.addConstraint(
                eaten <= per_unit * cooked, names.new("r", f"{name}: eaten within cooked")
            )
            row.append(LooseUnits(option, cooked, eaten))
        every = pulp.lpSum(one.units for one in row)
        lp.addConstraint(every - units == 0, names.new("r", f"{what}: line {number} is something"))
        found.append(row)
    return found


def eaten_lines(
    lp: pulp.LpProblem,
    names: NameTable,
    client: Eater,
    dish: Dish,
    servings: pulp.LpAffineExpression | pulp.LpVariable,
    what: str,
) -> EatenLines:
    """Add q of each option that a client may eat of an outline, of which they eat `servings`.

    Rows: sum of q = servings. What a client must not eat has no variable.
    """
    found = []
    for number, line in enumerate(dish.loose):
        row = [
            (option, pulp.LpVariable(names.new("q", f"{what}, line {number} {option.word}"), 0))
            for option in line
            if not forbidden(client, option)
        ]
        every = pulp.lpSum(variable for _, variable in row)
        lp.addConstraint(
            every - servings == 0, names.new("r", f"{what}: line {number} is something")
        )
        found.append(row)
    return found


class EatenTies:
    """Collects who eats what of an option, and ties it to what is eaten of it in all."""

    def __init__(self) -> None:
        self._terms: dict[str, list[tuple[pulp.LpVariable, float]]] = {}

    def add(self, cooked: CookedLines, eaten: EatenLines) -> None:
        """Note one client's q of an outline whose x and e are given."""
        for whole, mine in zip(cooked, eaten, strict=True):
            total = {one.option: one.eaten for one in whole}
            for option, variable in mine:
                self._terms.setdefault(total[option].name, []).append((variable, 1.0))

    def tie(self, lp: pulp.LpProblem, names: NameTable, cooked: CookedLines) -> None:
        """Add rows: e of each option = sum of q."""
        for line in cooked:
            for one in line:
                terms = [*self._terms.get(one.eaten.name, []), (one.eaten, -1.0)]
                lp.addConstraint(
                    pulp.LpAffineExpression(terms) == 0,
                    names.new("r", f"{one.eaten.name}: eaten by somebody"),
                )


def food_terms(cooked: CookedLines, step: float) -> Iterator[tuple[str, pulp.LpVariable, float]]:
    """Yield (food, x, grams of the food in a unit) of each option that has a food."""
    for line in cooked:
        for one in line:
            if one.option.food_id is not None:
                yield one.option.food_id, one.units, one.option.grams * step


def waste_terms(
    problem: Problem, cooked: CookedLines, dish: Dish, scale: int
) -> list[tuple[pulp.LpVariable, float]]:
    """Return the value of what is cooked with each option, less the value of what is eaten."""
    terms = []
    for line in cooked:
        for one in line:
            if one.option.food_id is None:
                continue
            per_g = problem.value_minor_per_g.get(one.option.food_id, 0.0) / scale
            value = one.option.grams * per_g
            terms.append((one.units, value * (dish.batch_step or 1.0)))
            terms.append((one.eaten, -value / dish.yield_servings))
    return terms


def line_terms(
    eaten: EatenLines, rule: LinearRule, dish: Dish
) -> list[tuple[pulp.LpVariable, float]]:
    """Return what a dish's loose lines count towards a rule, by servings with each option."""
    return [
        (variable, rule.of_line(option, dish.yield_servings))
        for line in eaten
        for option, variable in line
        if rule.of_line(option, dish.yield_servings)
    ]


def servings_with(eaten: EatenLines, rule: LinearRule) -> list[list[pulp.LpVariable]]:
    """Return, for each loose line that may count, the servings that have what counts there."""
    found = [[v for option, v in line if rule.of_line(option, 1.0) > 0] for line in eaten]
    return [line for line in found if line]
