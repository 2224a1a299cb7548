"""The eating part of the weekly relaxation: what can be eaten of batches, without foods and money.

Least value of servings left over is the objective, up to what is cooked.
"""

from __future__ import annotations

import pulp

from planopt.model.kitchen import KitchenModel, add_batches, serving_value
from planopt.model.names import NameTable
from planopt.model.weekly import add_weekly
from planopt.problem.build import Problem


def eating_part(problem: Problem) -> KitchenModel:
    """Return batches and totals of meals of a problem of one dish a meal, portions in steps."""
    kitchen = KitchenModel(pulp.LpProblem("eating", pulp.LpMinimize), NameTable(), problem)
    add_batches(kitchen)
    add_weekly(kitchen, _made(kitchen))
    weight = problem.waste_weight
    kitchen.lp.setObjective(
        pulp.LpAffineExpression(
            [
                (eaten, -weight * serving_value(problem, cooking.dish))
                for eaten, cooking in zip(kitchen.eaten, problem.cookings, strict=True)
            ]
        )
    )
    return kitchen


def _made(kitchen: KitchenModel) -> dict[str, pulp.LpVariable]:
    """Return a switch for each recipe that is on if and only if a cooking of it is."""
    members: dict[str, list[pulp.LpVariable]] = {}
    problem = kitchen.problem
    for cooking, started in zip(problem.cookings, kitchen.started, strict=True):
        members.setdefault(problem.dishes[cooking.dish].recipe_id, []).append(started)
    made = {}
    for recipe_id, switches in members.items():
        made[recipe_id] = pulp.LpVariable(kitchen.names.new("d", f"{recipe_id} is made"), 0, 1)
        for switch in switches:
            kitchen.row(switch <= made[recipe_id], f"{recipe_id} is made")
        kitchen.row(made[recipe_id] <= pulp.lpSum(switches), f"{recipe_id} only if cooked")
    return made
