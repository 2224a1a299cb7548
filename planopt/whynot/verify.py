"""Verify a week: write it out as a plan of a scenario and have the audit recompute it."""

from __future__ import annotations

from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.plan.extract import SolveFacts, Source, extract_plan
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions
from planopt.scenario.records import Scenario

_FACTS = SolveFacts("interrupted", 0.0, 0.0, 0.0, 0.0, "HiGHS", "", "none", {})
_SOURCE = Source("", "", "", "")


def audited(
    catalog: Catalog, scenario: Scenario, problem: Problem, decisions: Decisions
) -> Plan | None:
    """Return the plan of a scenario that these decisions make; None if the audit finds anything.

    The decisions may be of another problem with the same recipes, shop days and clients.
    """
    try:
        drawn = extract_plan(problem, catalog, decisions, _FACTS, _SOURCE)
        own = build_problem(catalog, scenario)
        plan = extract_plan(own, catalog, decisions_of(drawn, own), _FACTS, _SOURCE)
    except ValueError:
        return None
    return None if audit_plan(plan, catalog, scenario) else plan
