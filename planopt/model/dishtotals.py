"""The variables of the merged relaxation: totals of each dish, of clients' servings, of foods."""

from __future__ import annotations

from dataclasses import dataclass, field

import pulp

from planopt.model.loose import CookedLines
from planopt.model.totals import Key


@dataclass
class DishTotal:
    """Variables of one dish over all cook days: `units` are steps (or batches of any amount).

    Beyond the ordered `steps` there is `tail`; both are empty where any amount can be cooked.
    """

    switch: pulp.LpVariable
    units: pulp.LpAffineExpression
    most: float
    steps: list[pulp.LpVariable] = field(default_factory=list)
    tail: pulp.LpVariable | None = None
    loose: CookedLines = field(default_factory=list)


@dataclass
class Merged:
    """The relaxation: its problem for PuLP, and its variables by dish, client and food."""

    lp: pulp.LpProblem
    cooked: dict[int, DishTotal] = field(default_factory=dict)
    made: dict[str, pulp.LpVariable] = field(default_factory=dict)
    used: dict[str, pulp.LpVariable] = field(default_factory=dict)
    times: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    servings: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    packs: list[pulp.LpVariable] = field(default_factory=list)
    objective: list[tuple[pulp.LpVariable, float]] = field(default_factory=list)

    def switches(self) -> list[pulp.LpVariable]:
        """Return what is decided first: which dishes and recipes are made, which foods are used."""
        dishes = [cooked.switch for cooked in self.cooked.values()]
        return list(
            {v.name: v for v in (*dishes, *self.made.values(), *self.used.values())}.values()
        )

    def steps(self) -> list[pulp.LpVariable]:
        """Return what is decided next: how many steps of each dish are cooked."""
        return [step for cooked in self.cooked.values() for step in cooked.steps]

    def loose(self) -> list[pulp.LpVariable]:
        """Return how many units of an outline have each option; whole where they are steps."""
        return [
            one.units
            for cooked in self.cooked.values()
            for line in cooked.loose
            for one in line
            if one.units.cat == "Integer"
        ]
