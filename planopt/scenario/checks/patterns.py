"""Checks of kinds of days: each is known, has its days, and no day is of two kinds."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault, nearest
from planopt.scenario.checks.subject import Check, Checking


def kinds_of_days(c: Checking) -> Iterator[Fault]:
    """Kinds that have days have windows and the other way round; a day is of one kind, once."""
    for path, client in c.clients():
        for name in client.day_patterns:
            if name not in client.pattern_days:
                yield c.fault(
                    (*path, "day_patterns", name),
                    name,
                    "no day is of this kind",
                    f"write its days, `pattern_days: {{{name}: [1, 3]}}`, or an empty list",
                    "pattern_without_days",
                )
        kind_of: dict[int, str] = {}
        for name, days in client.pattern_days.items():
            if name not in client.day_patterns:
                yield c.fault(
                    (*path, "pattern_days", name),
                    name,
                    "day_patterns of this client has no such kind of day",
                    nearest(name, client.day_patterns),
                    "unknown_pattern",
                )
            for index, day in enumerate(days):
                if day in kind_of:
                    yield c.fault(
                        (*path, "pattern_days", name, index),
                        day,
                        f"this day is one of {kind_of[day]} already",
                        "leave it in one of the lists, once",
                        "duplicate_day",
                    )
                kind_of.setdefault(day, name)


PATTERN_CHECKS: tuple[Check, ...] = (kinds_of_days,)
