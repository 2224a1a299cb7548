"""Faults in the user's files, and the errors that end a command.

A `Fault` is a value: where, which field, what value, why, and how to mend it. Readers and checks
gather faults and raise them together, so that a user mends a file once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from difflib import get_close_matches
from enum import IntEnum
from typing import Any, Protocol

from planopt.letters import escaped


class ExitCode(IntEnum):
    """What the process answers to the shell."""

    OK = 0
    INTERNAL = 1
    USAGE = 2
    BAD_INPUT = 3
    NO_COMPLIANT_WEEK = 4
    NO_PLAN_IN_TIME = 5
    AUDIT_FAILED = 6
    SOME_FAILED = 7
    STOPPED = 8
    SOLVER_FAILED = 9
    NOT_SHOWN = 10


@dataclass(frozen=True, order=True)
class Fault:
    """One fault of one file.

    `line` is 1-based and physical; 0 when the fault concerns the whole file. `code` is stable.
    """

    file: str
    line: int
    field: str
    value: str
    why: str
    mend: str
    code: str

    def text(self) -> str:
        """Return the fault as two lines: where and what, then why and how to mend it."""
        where = escaped(f"{self.file}:{self.line}" if self.line else self.file)
        what = f"{escaped(self.field)}: {self.value!r}" if self.field else repr(self.value)
        why, mend = escaped(self.why), escaped(self.mend)
        return f"{where}: {what} [{self.code}]\n    why: {why}\n    mend: {mend}"

    def as_dict(self) -> dict[str, object]:
        """Return the fault as plain data, for JSON."""
        return asdict(self)


class PlanoptError(Exception):
    """Base of all errors that planopt raises on purpose; `exit_code` is for the shell."""

    exit_code: ExitCode = ExitCode.INTERNAL


class BadInput(PlanoptError):
    """The files cannot be used as they are; `faults` lists every fault found."""

    exit_code = ExitCode.BAD_INPUT

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(fault.text() for fault in self.faults))


class Explains(Protocol):
    """What tells as plain data why no week complies; see `planopt.whynot.explain`."""

    @property
    def client(self) -> str | None:
        """Return the client who has no week even alone, if that is what was found."""

    def as_dict(self) -> dict[str, Any]:
        """Return the explanation as plain data, for JSON."""


class NoCompliantWeek(PlanoptError):
    """The solver proved that no plan meets every hard constraint; `reasons` are sentences.

    `explanation` has the same as data: the clash and its repairs; None where none was looked for.
    """

    exit_code = ExitCode.NO_COMPLIANT_WEEK

    def __init__(self, reasons: Iterable[str], explanation: Explains | None = None) -> None:
        self.reasons = tuple(reasons)
        self.explanation = explanation
        super().__init__("No compliant week exists.\n" + "\n".join(self.reasons))


class NoPlanInTime(PlanoptError):
    """The limit was reached before any compliant plan was found."""

    exit_code = ExitCode.NO_PLAN_IN_TIME


class StoppedByUser(NoPlanInTime):
    """A request to stop, as by Ctrl-C, came before any compliant plan was found."""

    exit_code = ExitCode.STOPPED


class SolverFailed(PlanoptError):
    """The solver ended in a way that is neither an answer nor a limit; nothing is claimed of it."""

    exit_code = ExitCode.SOLVER_FAILED


class AuditFailed(PlanoptError):
    """A plan does not agree with its catalogs and scenario; `findings` are sentences."""

    exit_code = ExitCode.AUDIT_FAILED

    def __init__(self, findings: Iterable[str]) -> None:
        self.findings = tuple(findings)
        super().__init__("The audit rejects this plan.\n" + "\n".join(self.findings))


class BadOption(PlanoptError):
    """An option is misspelt or has a value that is refused, by the solver or by a report."""

    exit_code = ExitCode.USAGE


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a mending hint that names the known word nearest to `word`."""
    options = sorted(known)
    close = get_close_matches(word, options, n=1, cutoff=0.5)
    if close:
        return f"did you mean {close[0]!r}?"
    shown = ", ".join(options[:12]) + (", ..." if len(options) > 12 else "")
    return f"use one of: {shown}" if shown else "nothing is defined to choose from"
