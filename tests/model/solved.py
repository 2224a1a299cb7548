"""Random kitchens with a cheap week, kept so that each is solved once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from model.small import EXACT, SOURCE, Drawn, facts, random_kitchen
from planopt.plan.extract import extract_plan
from planopt.plan.records import Plan
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.heuristics.tidy import tidied
from planopt.solve.highs.daymodel import search_plain


@dataclass(frozen=True)
class Solved:
    """A kitchen and the decisions of a cheap week, None when no week complies."""

    drawn: Drawn
    problem: Problem
    decisions: Decisions | None
    bound: float


@lru_cache
def solved(seed: int, one_dish: bool = True) -> Solved:
    """Return a random kitchen with a week by the day-by-day model, within a tenth of the best."""
    drawn = random_kitchen(seed, one_dish=one_dish)
    problem = drawn.problem
    result = search_plain(problem, EXACT.model_copy(update={"gap": 0.1}))
    assert result.infeasible or result.decisions is not None
    week = None if result.decisions is None else tidied(problem, result.decisions)
    return Solved(drawn, problem, week, result.bound)


def solved_plan(seed: int, one_dish: bool = True) -> Plan:
    """Return the plan of a kitchen that has one."""
    week = solved(seed, one_dish)
    assert week.decisions is not None
    told = facts(week.bound)
    return extract_plan(
        week.problem, week.drawn.catalog, week.drawn.scenario, week.decisions, told, SOURCE
    )
