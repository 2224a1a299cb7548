"""From plain data to records: pydantic does the checking, this module words the problems.

Tables and documents both use `validate`; they add the file and line.
"""

from __future__ import annotations

import re
import types
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from planopt.faults import nearest
from planopt.letters import odd_letter
from planopt.ranges import Range
from planopt.reading.files import PathPart, shown
from planopt.reading.wording import Wording, word_for, wrong_kind

R = TypeVar("R", bound=BaseModel)
Path = tuple[PathPart, ...]
# Fields that hold sentences, perhaps on several lines; all others are names and values.
_PROSE = frozenset({"do", "note", "source", "thawed_source"})
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class Misfit:
    """One fault of some data, before it is known in which file and line."""

    path: Path
    value: object
    why: str
    mend: str
    code: str


@dataclass(frozen=True)
class _Shape:
    """What a field holds, as far as reading needs to know."""

    kind: Literal["model", "list", "map", "date", "number", "other"]
    model: type[BaseModel] | None = None
    item: _Shape | None = None
    key: _Shape | None = None
    range: Range | None = None


def validate(
    model: type[R], data: object, injected: Sequence[str] = ()
) -> tuple[R | None, list[Misfit]]:
    """Return the record, or None and every problem of the data.

    `injected` names fields that the reader filled in; users are not told of them.
    """
    problems = [*odd_texts(data), *_misread(_Shape("model", model), data, ())]
    seen = {problem.path for problem in problems}
    record: R | None = None
    try:
        record = model.model_validate(data)
    except ValidationError as error:
        grouped: dict[Path, list[Any]] = {}
        for detail in error.errors(include_url=False):
            if _is_echo(detail):
                continue
            grouped.setdefault(_data_path(data, detail), []).append(detail)
        problems += [
            _worded(model, path, details, injected)
            for path, details in grouped.items()
            if path not in seen and not _is_other_branch(path, details, grouped)
        ]
    return (None if problems else record), problems


def odd_texts(data: object) -> Iterator[Misfit]:
    """Yield names, and other texts, with characters that cannot be seen; prose may have lines."""
    pending: list[tuple[object, Path]] = [(data, ())]
    while pending:
        value, path = pending.pop()
        if isinstance(value, str) and not value.isprintable():
            named = next((part for part in reversed(path) if isinstance(part, str)), "")
            odd = odd_letter(value.strip(" \n\r\t"), lines=named in _PROSE)
            if odd is not None:
                mend = "write the text again without it"
                yield Misfit(path, value, f"it holds {odd}", mend, "odd_character")
        elif isinstance(value, dict):
            for key, part in value.items():
                if isinstance(key, str) and not key.isprintable():
                    pending.append((key, (*path, key)))
                if isinstance(part, (str, dict, list, tuple)):
                    pending.append((part, (*path, key)))
        elif isinstance(value, (list, tuple)):
            pending += [(part, (*path, n)) for n, part in enumerate(value)]


def _is_other_branch(path: Path, details: list[Any], found: Iterable[Path]) -> bool:
    """Tell whether a mapping is refused only as one of some words; its fields are told apart."""
    inside = any(len(other) > len(path) and other[: len(path)] == path for other in found)
    return inside and all(
        detail["type"] == "literal_error" and isinstance(detail["input"], dict)
        for detail in details
    )


def _data_path(data: object, detail: Any) -> Path:
    """Return the path of an error in the data, without pydantic's names of union branches."""
    path: list[PathPart] = []
    here = data
    last = len(detail["loc"]) - 1
    for place, part in enumerate(detail["loc"]):
        if isinstance(here, dict):
            keys = [key for key in here if key == part or str(key) == str(part)]
            if keys:
                path.append(keys[0])
                here = here[keys[0]]
                continue
            if place < last:
                continue
        elif isinstance(here, (list, tuple)) and isinstance(part, int) and part < len(here):
            path.append(part)
            here = here[part]
            continue
        if detail["type"] == "missing":
            path.append(part)
        break
    return tuple(path)


def _is_echo(detail: Any) -> bool:
    """Tell whether pydantic calls a list too short only because it left out faulty entries."""
    value = detail["input"]
    return (
        detail["type"] == "too_short"
        and isinstance(value, (list, tuple))
        and len(value) >= detail["ctx"]["min_length"]
    )


def _worded(
    model: type[BaseModel], path: Path, details: list[Any], injected: Sequence[str]
) -> Misfit:
    first = details[0]
    if first["type"] in ("extra_forbidden", "invalid_key"):
        shape = _shape_at(_Shape("model", model), path[:-1])
        owner = shape.model if shape is not None else None
        known = [name for name in _fields(owner) if name not in injected] if owner else []
        return Misfit(
            path,
            path[-1],
            "there is no such field here",
            nearest(str(path[-1]), known),
            "unknown_field",
        )
    at_key = first["loc"][-1:] == ("[key]",)
    here = _shape_at(_Shape("model", model), path[:-1] if at_key else path)
    here = here.key if here is not None and at_key else here
    words: Wording = word_for(first, str(path[-1]) if path else "", here.range if here else None)
    mend = words.mend
    for other in details[1:]:
        if other["type"] == "literal_error" and isinstance(other["input"], str):
            mend += f", or write {other['ctx']['expected']}"
        elif (
            words.code == "not_a_number"
            and other["type"] == "string_pattern_mismatch"
            and "%" in other["ctx"]["pattern"]
        ):
            mend += ", or a share of the day such as 15%"
    value = None if first["type"] == "missing" else first["input"]
    return Misfit(path, value, words.why, mend, words.code)


def _misread(shape: _Shape | None, data: object, path: Path) -> Iterator[Misfit]:
    """Find values that pydantic would accept with another meaning than the user's.

    A bare number as a date would become a day of 1970, and `yes` as an amount would become 1.
    """
    if shape is None or data is None:
        return
    if shape.kind == "date":
        if isinstance(data, date) or (isinstance(data, str) and _ISO_DATE.fullmatch(data.strip())):
            return
        words = wrong_kind("date", shown(data))
        yield Misfit(path, data, words.why, words.mend, words.code)
    elif shape.kind == "number":
        if isinstance(data, bool):
            words = wrong_kind("number", shown(data))
            yield Misfit(path, data, words.why, words.mend, words.code)
        elif _is_extreme(data):
            yield Misfit(
                path,
                data,
                "no kitchen has so large or so small a number",
                "write a number from 1e-12 to 1e12",
                "out_of_range",
            )
    elif shape.kind == "model" and shape.model is not None and isinstance(data, dict):
        fields = _fields(shape.model)
        for key, value in data.items():
            yield from _misread(fields.get(str(key)), value, (*path, key))
    elif shape.kind == "map" and isinstance(data, dict):
        for key, value in data.items():
            yield from _misread(shape.key, key, (*path, key))
            yield from _misread(shape.item, value, (*path, key))
    elif shape.kind == "list" and isinstance(data, (list, tuple)):
        for index, value in enumerate(data):
            yield from _misread(shape.item, value, (*path, index))


def _is_extreme(data: object) -> bool:
    """Tell whether exact arithmetic with a number would need absurdly many digits."""
    if isinstance(data, int):
        return abs(data) > 10**12
    if not isinstance(data, (float, str)):
        return False
    try:
        number = Decimal(str(data).strip())
    except InvalidOperation:
        return False
    return number.is_finite() and number != 0 and not -12 <= number.adjusted() <= 12


def _shape_at(shape: _Shape | None, path: Path) -> _Shape | None:
    for part in path:
        if shape is None:
            return None
        if shape.kind == "model" and shape.model is not None:
            shape = _fields(shape.model).get(str(part))
        else:
            shape = shape.item
    return shape


@lru_cache(maxsize=64)
def _fields(model: type[BaseModel]) -> dict[str, _Shape]:
    """Return the fields of a model as users write them, with their shapes."""
    return {
        info.alias or name: _ranged(_shape(info.annotation), info.metadata)
        for name, info in model.model_fields.items()
    }


def field_names(model: type[BaseModel]) -> tuple[str, ...]:
    """Return the names of a model's fields as users write them."""
    return tuple(_fields(model))


def number_names(model: type[BaseModel]) -> tuple[str, ...]:
    """Return the names of a model's fields that are numbers, as users write them."""
    return tuple(name for name, shape in _fields(model).items() if shape.kind == "number")


def _ranged(shape: _Shape, metadata: Sequence[object]) -> _Shape:
    found = next((one for one in metadata if isinstance(one, Range)), None)
    return shape if found is None else replace(shape, range=found)


def _shape(annotation: Any) -> _Shape:
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *metadata = get_args(annotation)
        return _ranged(_shape(inner), metadata)
    if origin in (Union, types.UnionType):
        shapes = [_shape(part) for part in get_args(annotation) if part is not type(None)]
        return next((shape for shape in shapes if shape.kind != "other"), shapes[0])
    if origin is tuple:
        return _Shape("list", item=_shape(get_args(annotation)[0]))
    if origin is dict:
        key, item = get_args(annotation)
        return _Shape("map", item=_shape(item), key=_shape(key))
    if isinstance(annotation, type):
        if issubclass(annotation, BaseModel):
            return _Shape("model", annotation)
        if issubclass(annotation, date):
            return _Shape("date")
        if annotation in (int, float, Decimal):
            return _Shape("number")
    return _Shape("other")
