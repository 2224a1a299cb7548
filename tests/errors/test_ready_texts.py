"""Ready portions that cannot be: each fault with its exact text."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kitchens import write_kitchen
from planopt.scenario.households.paths import check_paths, check_paths_and_warn

SOUP: dict[str, Any] = {
    "recipe": "lentil_soup",
    "servings": 2,
    "cooked_on": "2026-11-20",
    "use_by": "2026-12-20",
}
CASES: list[tuple[str, list[dict[str, Any]], str, str, str]] = [
    (
        "unknown_recipe",
        [{**SOUP, "recipe": "lentil_sop"}],
        "ready_portions[0].recipe: 'lentil_sop'",
        "the catalog has no such recipe",
        "did you mean 'lentil_soup'?",
    ),
    (
        "servings_or_grams",
        [{**SOUP, "grams": 500}],
        "ready_portions[0]: 'lentil_soup'",
        "ready portions are told in servings or in grams",
        "write one of servings and grams",
    ),
    (
        "unknown_version",
        [{**SOUP, "version": "99-"}],
        "ready_portions[0].version: '99-'",
        "lentil_soup has no such version",
        "copy the version of the plan that cooked it, or leave it out: as the recipe says",
    ),
    (
        "ready_too_young",
        [{**SOUP, "cooked_on": "2026-11-30"}],
        "ready_portions[0].cooked_on: '2026-11-30'",
        "ready portions are older than the cook days, of which the first is 2026-11-30",
        "write the date of their label; what this week cooks is planned, or goes to by_hand",
    ),
    (
        "range_reversed",
        [{**SOUP, "use_by": "2026-11-19"}],
        "ready_portions[0].use_by: '2026-11-19'",
        "that is before they were cooked, 2026-11-20",
        "write the date of their label",
    ),
    (
        "ready_not_frozen",
        [{**SOUP, "recipe": "oat_porridge"}],
        "ready_portions[0].kept: 'freezer'",
        "oat_porridge is not to be frozen",
        "write kept: fridge, or leave the entry out",
    ),
    (
        "done_twice",
        [SOUP, {**SOUP, "kept": "fridge"}],
        "ready_portions[1]: 'lentil_soup, base, 2026-11-20'",
        "it is listed twice",
        "add the two up in one entry",
    ),
    (
        "unknown_client",
        [{**SOUP, "clients": ["anna"]}],
        "ready_portions[0].clients[0]: 'anna'",
        "the scenario has no such client",
        "did you mean 'ana'?",
    ),
    (
        "money_decimals",
        [{**SOUP, "price": "0.125"}],
        "ready_portions[0].price: '0.125'",
        "USD has 2 decimals",
        "round the price",
    ),
]


@pytest.mark.parametrize(("code", "entries", "where", "why", "mend"), CASES)
def test_ready_portions_that_cannot_be(
    tmp_path: Path, code: str, entries: list[dict[str, Any]], where: str, why: str, mend: str
) -> None:
    """Code, place and value, reason and mend are just these."""
    path = write_kitchen(tmp_path, ready_portions=entries)
    faults = [fault for fault in check_paths([path]) if fault.code == code]
    assert [(f"{f.field}: {f.value!r}", f.why, f.mend) for f in faults] == [(where, why, mend)]


def test_portions_past_their_use_by_are_told(tmp_path: Path) -> None:
    """A warning: nobody gets them any more."""
    entry = {**SOUP, "use_by": "2026-11-29"}
    path = write_kitchen(tmp_path, ready_portions=[entry])
    faults, warnings = check_paths_and_warn([path])
    assert faults == []
    (one,) = [warning for warning in warnings if warning.code == "ready_in_vain"]
    assert one.value == "2026-11-29"
    assert one.why == "the plan begins on 2026-11-30: nobody gets these any more"
    assert one.mend == "throw them away and take the entry out, or correct the date"
