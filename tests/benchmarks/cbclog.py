"""What the log of CBC tells about its bound and its first plan."""

from __future__ import annotations

import re


def cbc_first_plan(log: str) -> float | None:
    """Return the seconds at which CBC's log first tells of a whole-number solution."""
    found = re.findall(r"Integer solution of .*\(([\d.]+) seconds\)", log)
    found += re.findall(r"After ([\d.]+) seconds - Feasibility pump exiting with objective", log)
    return min(map(float, found), default=None)


def cbc_bound(log: str) -> float | None:
    """Return the lower bound at the end of CBC's log."""
    found = re.findall(r"^Lower bound:\s+(\S+)", log, re.MULTILINE)
    if not found:
        found = re.findall(r"best possible ([-\d.e+]+)", log)
    try:
        return float(found[-1]) if found else None
    except ValueError:
        return None
