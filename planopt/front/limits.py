"""The limits of a search as keywords, the same for all functions that search."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypedDict

from planopt.faults import BadOption
from planopt.reading.files import path_text, shown
from planopt.reading.validation import validate
from planopt.solve.settings import SolveSettings


class Limits(TypedDict, total=False):
    """How hard to search; what is left out, or None, is as `SolveSettings` has it."""

    time_limit_s: float | None
    gap: float | None
    seed: int | None
    threads: int | None
    work_limit: int | None
    options: Mapping[str, str]


def settings_of(limits: Mapping[str, object]) -> SolveSettings:
    """Return settings with what is given; None stands for what is not.

    Raises:
        BadOption: a name is unknown or a value out of its range.
    """
    told = {name: value for name, value in limits.items() if value is not None}
    settings, problems = validate(SolveSettings, told)
    if settings is None:
        raise BadOption(
            "; ".join(
                f"{path_text(p.path)}: {shown(p.value)!r}: {p.why}; {p.mend}" for p in problems
            )
        )
    return settings
