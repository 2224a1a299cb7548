"""Reading a written plan back, with faults instead of tracebacks; nothing is loaded to show it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from planopt.faults import BadInput, Fault
from planopt.plan.records import FORMAT_VERSION, Plan
from planopt.reading.files import MOST_PLAN_BYTES, path_text, regular_bytes
from planopt.reading.validation import odd_texts

PLAN_FILE = "plan.json"


def _no_constant(text: str) -> Any:
    raise ValueError(f"{text} is not a number in JSON")


def plan_faults(path: Path, error: ValidationError) -> list[Fault]:
    """Return a fault for every field of a plan that is not as it should be."""
    faults = []
    for detail in error.errors(include_url=False):
        field = ".".join(str(step) for step in detail["loc"])
        mend = "mend this field, or solve the scenario again"
        if field == "format_version":
            mend = f"this planopt reads format {FORMAT_VERSION}; solve the scenario again"
        value = str(detail["input"])
        shown = value if len(value) <= 60 else f"{value[:59]}…"
        faults.append(Fault(str(path), 0, field, shown, detail["msg"], mend, "plan_field"))
    return faults


def _assert_plain(path: Path, data: object) -> None:
    """Refuse a plan with characters that cannot be seen; planopt itself writes none."""
    faults = [
        Fault(str(path), 0, path_text(p.path), str(p.value), p.why, p.mend, p.code)
        for p in odd_texts(data)
    ]
    if faults:
        raise BadInput(faults)


def read_plan(folder: Path) -> Plan:
    """Read plan.json of a folder.

    Raises:
        BadInput: the file is missing, is not JSON, or is not a plan.
    """
    path = folder / PLAN_FILE
    again = "solve the scenario again"

    def fault(why: str, mend: str, code: str, line: int = 0) -> BadInput:
        return BadInput([Fault(str(path), line, "", PLAN_FILE, why, mend, code)])

    try:
        text = regular_bytes(path, MOST_PLAN_BYTES).decode("utf-8")
    except OSError as error:
        why = f"it cannot be read: {error.strerror or error}"
        mend = "name a folder that `planopt plan` wrote"
        raise fault(why, mend, "plan_unreadable") from error
    except UnicodeDecodeError as error:
        why = f"it is not UTF-8 text: byte {error.start + 1} is wrong"
        raise fault(why, again, "plan_encoding") from error
    try:
        _assert_plain(path, json.loads(text, parse_constant=_no_constant))
        return Plan.model_validate_json(text)
    except json.JSONDecodeError as error:
        why = f"it is not JSON: {error.msg}, column {error.colno}"
        raise fault(why, again, "plan_json", error.lineno) from error
    except ValidationError as error:
        raise BadInput(plan_faults(path, error)) from error
    except (ValueError, RecursionError) as error:
        raise fault(f"it is not JSON: {error}", again, "plan_json") from error
