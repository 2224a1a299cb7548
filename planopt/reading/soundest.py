"""What is left of a faulty record, so that later checks find its other faults in the same round.

Fields at fault are left out, or filled with something harmless where a value is needed. Such a
record is for checks alone: a reading that has a fault is never planned with.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import deepcopy
from typing import Any, TypeVar

from pydantic import BaseModel

from planopt.faults import Fault
from planopt.reading.files import PathPart
from planopt.reading.validation import validate

R = TypeVar("R", bound=BaseModel)
Path = tuple[PathPart, ...]
_ROUNDS = 20
_UNSET = object()

# Where a value is needed and the one written is at fault. Faults at these places are dropped.
_HARMLESS: dict[str, Any] = {
    "name": "x",
    "amount": 1,
    "unit": "g",
    "size": 1,
    "price": 1,
    "grams": 1,
    "grams_per_g": 1,
    "edible_share": 1,
    "currency": "USD",
    "price_date": "2026-01-01",
    "sold": "pack",
    "state": "ready",
    "aisle": "x",
    "storage": "shelf",
    "source": "x",
    "start_date": "2026-01-01",
    "cook_days": [{"day": 1}],
    "clients": [{"id": "nobody", "name": "x"}],
    "yield_servings": 1,
    "hands_on": 0,
    "hands_on_per_extra_batch": 0,
    "temperature_c": 180,
    "minutes": {"hands_on": 0, "hands_on_per_extra_batch": 0},
    "fridge_days": 0,
    "serve": "either",
    "do": "...",
}


def soundest(
    model: type[R], data: object, injected: Sequence[str] = ()
) -> tuple[R | None, tuple[Path, ...]]:
    """Return the record that is left of faulty data, None if nothing is, and the places changed."""
    rest = deepcopy(data)
    changed: list[Path] = []
    for _ in range(_ROUNDS):
        record, problems = validate(model, rest, injected)
        if record is not None:
            return record, tuple(changed)
        for problem in problems:
            place = _mended(rest, problem.path, changed)
            if place is None:
                return None, tuple(changed)
            changed.append(place)
    return None, tuple(changed)


def _mended(data: Any, path: Path, changed: Sequence[Path]) -> Path | None:
    """Change the data at a path, or at what holds it; return where, None if nothing can be done."""
    while path:
        owner = _at(data, path[:-1])
        last = path[-1]
        if isinstance(owner, dict):
            value = _HARMLESS.get(str(last), _UNSET)
            if value is not _UNSET and path not in changed:
                # A length in minutes and a block `minutes` bear one name.
                inside_block = len(path) > 1 and path[-2] == "oven"
                owner[last] = 1 if inside_block and last == "minutes" else deepcopy(value)
                return path
            if last in owner:
                del owner[last]
                return path
        path = path[:-1]
    return None


def _at(data: Any, path: Iterable[PathPart]) -> Any:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def without_echoes(
    faults: Iterable[Fault], file: str, fields: Iterable[str], line: int | None = None
) -> list[Fault]:
    """Return faults without those at fields of the file that were changed, or inside them.

    `line` is for a table, whose rows all have the same fields.
    """
    names = tuple(fields)

    def echo(fault: Fault) -> bool:
        if fault.file != file or (line is not None and fault.line != line):
            return False
        return any(
            fault.field == name or fault.field.startswith((f"{name}.", f"{name}["))
            for name in names
        )

    return [fault for fault in faults if not echo(fault)]
