"""What a shell completes: scenario files, folders of plans, dishes, clients and topics."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated

import typer

from planopt.faults import BadInput
from planopt.guide.pages import sections, topics
from planopt.plan.file import PLAN_FILE, read_plan
from planopt.reading.files import read_text
from planopt.runs.layout import INDEX_FILE

_YAML = (".yaml", ".yml")
_SCENARIO = re.compile(r"^(clients|roster|cook_days):", re.MULTILINE)
_SCENARIOS = "scenarios"


def scenario_files(incomplete: str) -> list[str]:
    """Return scenario files, those in `scenarios` too, and folders to go into."""
    found = list(_entries(incomplete, _is_scenario))
    if os.sep not in incomplete and Path(_SCENARIOS).is_dir():
        inside = _entries(f"{_SCENARIOS}{os.sep}{incomplete}", _is_scenario)
        found += [name for name in inside if not name.endswith(os.sep)]
    return found


def plan_folders(incomplete: str) -> list[str]:
    """Return folders that hold a plan or a run; where there are none, folders to go into."""
    found = list(_entries(incomplete, lambda path: False))
    marked = [
        name for name in found if any(Path(name, one).is_file() for one in (PLAN_FILE, INDEX_FILE))
    ]
    return [name.rstrip(os.sep) for name in marked] or found


def dishes(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the ids of the recipes of the catalog."""
    folder = Path(ctx.params.get("catalog") or "catalogs") / "recipes"
    names = (path.stem for path in folder.glob("*.yaml"))
    return sorted(name for name in names if name.startswith(incomplete))


def clients(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the ids of the clients of the plan that is shown."""
    # Words before an option without its value are not yet given to their parameters.
    folder = next(filter(None, (ctx.params.get("folder"), *ctx.args)), "")
    try:
        plan = read_plan(Path(folder))
    except BadInput:
        return []
    names = dict.fromkeys(portion.client_id for portion in plan.portions)
    return [name for name in names if name.startswith(incomplete)]


def guide_topics(incomplete: str) -> list[str]:
    """Return the pages of the guide, and the commands that it tells of."""
    return [name for name in (*topics(), *sections()) if name.startswith(incomplete)]


def _entries(incomplete: str, wanted: Callable[[Path], bool]) -> Iterator[str]:
    """Yield what begins so: folders with a slash behind, and files that are wanted."""
    start = incomplete.rpartition(os.sep)[2]
    before = incomplete[: len(incomplete) - len(start)]
    place = Path(before or ".")
    try:
        names = sorted(os.listdir(place))
    except OSError:
        return
    for name in names:
        path = place / name
        if not name.startswith(start) or (name.startswith(".") and not start):
            continue
        if path.is_dir():
            yield f"{before}{name}{os.sep}"
        elif wanted(path):
            yield f"{before}{name}"


def _is_scenario(path: Path) -> bool:
    if path.suffix.lower() not in _YAML:
        return False
    text, _ = read_text(path)
    return text is not None and _SCENARIO.search(text) is not None


ScenarioFile = Annotated[
    Path,
    typer.Argument(metavar="SCENARIO", help="Scenario file (YAML).", autocompletion=scenario_files),
]
PlanFolder = Annotated[
    Path, typer.Argument(metavar="DIR", help="Folder of a plan.", autocompletion=plan_folders)
]
