"""Audit: recompute a plan from catalogs and scenario, sharing nothing with the model."""

from __future__ import annotations

from planopt.audit.books import Books
from planopt.audit.byhand import check_by_hand
from planopt.audit.contact import check_label_claims
from planopt.audit.dominance import check_dominance
from planopt.audit.findings import Finding
from planopt.audit.kitchen import check_kitchen
from planopt.audit.meals import check_meals
from planopt.audit.money import check_money
from planopt.audit.nutrition import check_nutrition
from planopt.audit.past import check_past
from planopt.audit.plates import check_plates
from planopt.audit.ready import check_ready
from planopt.audit.references import check_references
from planopt.audit.safety import check_safety
from planopt.audit.shape import check_head, check_numbers, check_unique
from planopt.audit.supplies import check_supplies
from planopt.audit.timetable import check_timetables
from planopt.audit.weekorder import check_week
from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.scenario.records import Scenario

__all__ = ["Finding", "audit_plan", "check_label_claims", "check_timetables"]

_CHECKS = (
    check_head,
    check_unique,
    check_supplies,
    check_kitchen,
    check_meals,
    check_ready,
    check_past,
    check_plates,
    check_nutrition,
    check_money,
    check_safety,
    check_references,
    check_by_hand,
    check_week,
)


def audit_plan(plan: Plan, catalog: Catalog, scenario: Scenario) -> list[Finding]:
    """Return every disagreement found; an empty list means that the plan holds.

    Only the plan's decisions are trusted: packs and counts, batches, portions, grams used of each
    supply. All else it states is recomputed with exact fractions and compared.
    """
    unusable = list(check_numbers(plan))
    if unusable:
        return unusable
    books = Books(plan, catalog, scenario)
    findings = [finding for check in _CHECKS for finding in check(books)]
    # Whether a plan could do with less is asked of plans whose figures hold.
    return findings or list(check_dominance(books))
