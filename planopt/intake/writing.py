"""Drafts as recipe files, and whether a file that is there may be replaced.

Beside each line stands the sentence it was made of. A checksum in the head tells whether a person
has changed the file since: what was changed is never written over.
"""

from __future__ import annotations

import hashlib
import json
import re
from decimal import Decimal
from typing import Any

from planopt.intake.drafting import Draft
from planopt.intake.lines import DraftLine

_HEAD = "# Imported by planopt from "
_CHECK = re.compile(r"^# Checksum of what follows: ([0-9a-f]{16})$")
# Bare words that YAML reads as something else than text.
_NOT_TEXT = frozenset({"true", "false", "yes", "no", "on", "off", "null", "y", "n"})


def recipe_text(draft: Draft) -> str:
    """Return the recipe file of a draft that is complete."""
    data = draft.data or {}
    keeps, minutes, equipment = data["keeps"], data["minutes"], data["equipment"]
    rows = [
        f"name: {_scalar(data['name'])}",
        f"meals: [{', '.join(data['meals'])}]",
        f"yield_servings: {_scalar(data['yield_servings'])}",
        f"minutes: {_flow(minutes)}",
        "equipment:",
        f"  hob_minutes: {_scalar(equipment['hob_minutes'])}",
    ]
    if "oven" in equipment:
        rows.append(f"  oven: {_flow(equipment['oven'])}")
    rows += ["keeps:", *(f"  {name}: {_scalar(value)}" for name, value in keeps.items())]
    rows.append("lines:")
    for line, told in zip(draft.lines, data["lines"], strict=True):
        rows += [f"  # {_remark(line)}", f"  - {_flow(told)}"]
    if data["steps"]:
        rows.append("steps:")
        rows += [f"  - {_flow(step)}" for step in data["steps"]]
    body = "\n".join(rows) + "\n"
    source = draft.source
    origin = " ".join((source.url or source.file.replace("\\", "/").rsplit("/", 1)[-1]).split())
    notes = "".join(f"# {' '.join(note.split())}\n" for note in draft.notes)
    return f"{_HEAD}{origin}\n# Checksum of what follows: {_checksum(notes + body)}\n{notes}{body}"


def is_ours(text: str) -> bool:
    """Tell whether a recipe file was written by an import."""
    return text.startswith(_HEAD)


def is_unchanged(text: str) -> bool:
    """Tell whether nobody has changed an imported file since."""
    head, _, rest = text.partition("\n")
    check, _, body = rest.partition("\n")
    found = _CHECK.match(check)
    return head.startswith(_HEAD) and found is not None and found[1] == _checksum(body)


def _checksum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _remark(line: DraftLine) -> str:
    """Return what is said of a line: its sentence, what was done to it, how sure the food is."""
    sure = "food settled" if line.settled else f"name fits {line.confidence:.0%}"
    parts = [f"{' '.join(line.sentence.split())!r}", line.amount.how, sure]
    return "; ".join(part for part in parts if part)


def _flow(data: dict[str, Any]) -> str:
    return "{" + ", ".join(f"{name}: {_scalar(value)}" for name, value in data.items()) + "}"


def _scalar(value: Any) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, int):
        return str(value)
    if re.fullmatch(r"[a-z][a-z0-9_]*", value) and value not in _NOT_TEXT:
        return str(value)
    # Text in double quotes is read by YAML as by JSON.
    return json.dumps(value, ensure_ascii=False)
