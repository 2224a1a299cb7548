"""What `make_plan` raises when a search ends without a plan, or with one that does not hold."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import inf
from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt import pipeline
from planopt.faults import AuditFailed, ExitCode, NoPlanInTime, StoppedByUser
from planopt.pipeline import audit_folder, load_kitchen, make_plan, refit
from planopt.problem import build, offering
from planopt.report.files.folder import write_plan
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Variant
from planopt.solve.result import Ending, SearchResult
from planopt.solve.settings import SolveSettings

QUICK = Path(__file__).resolve().parents[2] / "scenarios" / "one_client_quick.yaml"


@pytest.mark.parametrize(
    ("status", "bound", "code", "words"),
    [
        ("interrupted", 31.5, ExitCode.STOPPED, "was stopped before a compliant plan"),
        ("interrupted", -inf, ExitCode.STOPPED, "was stopped before a compliant plan"),
        ("time_limit", 31.5, ExitCode.NO_PLAN_IN_TIME, "within the limit"),
        ("work_limit", -inf, ExitCode.NO_PLAN_IN_TIME, "within the limit"),
    ],
)
def test_a_search_without_a_plan_says_what_ended_it(
    monkeypatch: pytest.MonkeyPatch, status: Ending, bound: float, code: ExitCode, words: str
) -> None:
    """Ctrl-C and a limit have words and codes of their own; a bound is told only if known."""
    ended = SearchResult(status, "a word", None, bound, "none", False, 1.0, 0.1)
    monkeypatch.setattr(pipeline, "search", lambda *_: ended)
    with pytest.raises(NoPlanInTime, match=words) as raised:
        pipeline.make_plan(pipeline.load_kitchen(QUICK))
    assert raised.value.exit_code == code
    assert isinstance(raised.value, StoppedByUser) == (code == ExitCode.STOPPED)
    assert ("less than 31.50" in str(raised.value)) == (bound == 31.5)
    assert "inf" not in str(raised.value)


# ------------------------------------------------------------------ plans that do not hold

SOON = SolveSettings(threads=1, gap=0.9, time_limit_s=30)


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    """Return the tiny kitchen with a client who excludes eggs, for a day of porridge and soup."""
    ana = tiny_client(allergens=["egg"], windows_per_day={}, portions={"largest": 4})
    return load_kitchen(
        write_kitchen(tmp_path, days=1, meals=["breakfast", "lunch"], clients=[ana])
    )


def test_a_plan_that_the_audit_refuses_is_never_returned(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sum of money that is a cent off is enough, and each finding is told."""
    honest = pipeline.extract_plan

    def a_cent_less(*given: Any) -> Any:
        plan = honest(*given)
        paid = plan.solution.grocery_cost - Decimal("0.01")
        solution = plan.solution.model_copy(update={"grocery_cost": paid})
        return plan.model_copy(update={"solution": solution})

    sound = make_plan(kitchen, SOON)
    monkeypatch.setattr(pipeline, "extract_plan", a_cent_less)
    with pytest.raises(AuditFailed, match=r"\[grocery-cost\]"):
        make_plan(kitchen, SOON)
    assert refit(kitchen, sound, sound.solution) is None
    monkeypatch.undo()
    again = refit(kitchen, sound, sound.solution)
    assert again is not None
    assert again.solution.grocery_cost == sound.solution.grocery_cost


def test_a_planner_that_forgets_allergens_is_refused(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The unsafe dish is the only one left for lunch, so that it must be in the plan."""
    eggs = kitchen.scenario.recipes.model_copy(update={"exclude": ("lentil_soup",)})
    only = kitchen.scenario.model_copy(update={"recipes": eggs})
    monkeypatch.setattr(offering, "may_eat", lambda *_: True)
    with pytest.raises(AuditFailed, match=r"\[allergen\].*expected no egg"):
        make_plan(Kitchen(**{**vars(kitchen), "scenario": only}), SOON)


def test_a_timetable_that_does_not_hold_is_refused(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stretch of work that ends before it begins is found though the plan itself is sound."""
    honest = pipeline.schedule_cook_days

    def backwards(*given: Any) -> Any:
        first, *rest = honest(*given)
        task = first.tasks[0]
        wrong = task.model_copy(update={"end_minute": task.start_minute - 1})
        return (first.model_copy(update={"tasks": (wrong, *first.tasks[1:])}), *rest)

    monkeypatch.setattr(pipeline, "schedule_cook_days", backwards)
    with pytest.raises(AuditFailed):
        make_plan(kitchen, SOON)


def test_a_label_that_claims_too_much_is_refused(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A box that says it was made apart from milk, which nobody keeps from it."""
    honest = pipeline.containers_of

    def claiming(*given: Any) -> Any:
        first, *rest = honest(*given)
        return (first.model_copy(update={"made_apart_from": ("milk",)}), *rest)

    monkeypatch.setattr(pipeline, "containers_of", claiming)
    with pytest.raises(AuditFailed, match="milk"):
        make_plan(kitchen, SOON)


def test_a_folder_is_audited_with_the_changes_its_plan_was_made_with(
    kitchen: Kitchen, tmp_path: Path
) -> None:
    """Dearer oats are in the plan's money; against the files as they are it would not hold."""
    change = {"name": "dear", "prices": [{"food": "oats_rolled", "percent": 50}]}
    changed = changed_kitchen(kitchen, Variant.model_validate(change))
    plan = make_plan(changed, SOON)
    out = tmp_path / "dear"
    write_plan(plan, changed.catalog, changed.scenario, out)
    assert audit_folder(out)[1] == []
    write_plan(plan.model_copy(update={"changes": None}), changed.catalog, changed.scenario, out)
    assert {finding.rule for finding in audit_folder(out)[1]} >= {"price", "grocery-cost"}


def test_a_plan_with_a_guest_is_one_of_the_format(kitchen: Kitchen, tmp_path: Path) -> None:
    """Clients that a change adds are in the plan, and the audit reads them as they are written."""
    guest = tiny_client(id="guest", name="Guest", windows_per_day={}, portions={"largest": 4})
    change = Variant.model_validate({"name": "a guest", "clients_added": [guest]})
    changed = changed_kitchen(kitchen, change)
    plan = make_plan(changed, SOON)
    assert {portion.client_id for portion in plan.portions} == {"ana", "guest"}
    write_plan(plan, changed.catalog, changed.scenario, tmp_path / "out")
    assert audit_folder(tmp_path / "out") == (plan, [])


def test_a_large_week_leaves_time_for_what_follows_the_search(tmp_path: Path) -> None:
    """Of a few meals the search has all the time; of many, timetables and audit get a part of it.

    The part is 0.035 s a meal beyond 20, and at most a half; a work limit knows no time.
    """
    kitchen = load_kitchen(write_kitchen(tmp_path, clients=[tiny_client()]))
    problem = build.build_problem(kitchen.catalog, kitchen.scenario)
    settings = SolveSettings(time_limit_s=20.0)
    assert pipeline._for_search(settings, problem) == settings
    many = replace(problem, slots=problem.slots[:1] * 120)
    assert pipeline._for_search(settings, many).time_limit_s == pytest.approx(16.5)
    most = replace(problem, slots=problem.slots[:1] * 28_000)
    assert pipeline._for_search(settings, most).time_limit_s == pytest.approx(10.0)
    by_work = SolveSettings(time_limit_s=20.0, work_limit=10)
    assert pipeline._for_search(by_work, most) == by_work
