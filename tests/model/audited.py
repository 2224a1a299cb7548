"""A week as a written plan, which the audit must accept."""

from __future__ import annotations

from model.small import SOURCE, facts
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.plan.extract import extract_plan
from planopt.plan.records import Plan
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.scenario.records import Scenario


def audited(
    problem: Problem, catalog: Catalog, scenario: Scenario, week: Decisions, bound: float = 0.0
) -> Plan:
    """Return the plan of a week, with nothing that the audit finds in it."""
    plan = extract_plan(problem, catalog, scenario, week, facts(bound), SOURCE)
    assert [finding.text() for finding in audit_plan(plan, catalog, scenario)] == []
    return plan
