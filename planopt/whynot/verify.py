"""Verify a week: write it out as a plan of a scenario and have the audit recompute it."""

from __future__ import annotations

from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.plan.extract import SolveFacts, Source, extract_plan
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of, versions_in
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions
from planopt.scenario.records import Scenario
from planopt.solve.heuristics.tidy import tidied

_FACTS = SolveFacts("interrupted", 0.0, 0.0, 0.0, 0.0, "HiGHS", "", "none", {})
_SOURCE = Source("", "", "", "")


def audited(
    catalog: Catalog, scenario: Scenario, problem: Problem, decisions: Decisions
) -> Plan | None:
    """Return the plan of a scenario that these decisions make, tidied; None if the audit objects.

    The decisions may be of another problem with the same recipes, shop days and clients.
    """
    try:
        drawn = extract_plan(problem, catalog, scenario, decisions, _FACTS, _SOURCE)
        own = build_problem(catalog, scenario, versions_in(drawn))
        week = tidied(own, decisions_of(drawn, own))
        plan = extract_plan(own, catalog, scenario, week, _FACTS, _SOURCE)
    except ValueError:
        return None
    return None if audit_plan(plan, catalog, scenario) else plan
