"""Which of many like inputs the fast part of the tests tries; `pytest` alone tries them all."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def few(values: Iterable[Any], fast: int) -> list[Any]:
    """Return parameters of a test, all after the first `fast` marked as slow.

    A tuple is one set of several arguments.
    """
    sets = [value if isinstance(value, tuple) else (value,) for value in values]
    slow = pytest.mark.slow
    return [pytest.param(*one, marks=() if nth < fast else slow) for nth, one in enumerate(sets)]
