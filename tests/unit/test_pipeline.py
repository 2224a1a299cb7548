"""What `make_plan` raises when a search ends without a plan."""

from __future__ import annotations

from math import inf
from pathlib import Path

import pytest

from planopt import pipeline
from planopt.faults import ExitCode, NoPlanInTime, StoppedByUser
from planopt.solve.result import Ending, SearchResult

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
