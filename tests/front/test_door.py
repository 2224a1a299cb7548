"""The front door: a function for each command, loaded when it is asked for."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

import planopt
from modules import HOUSE
from planopt import cli
from planopt.front.limits import Limits
from planopt.front.questions import Asked
from planopt.report.files.folder import write_plan
from report_samples import sample_catalog, sample_plan, sample_scenario

# What the door has besides the commands.
ALSO = {"load", "plan_many"}
HEAVY = (
    "pandas", "numpy", "pulp", "highspy", "numba", "matplotlib", "jinja2", "xlsxwriter",
    "icalendar", "weasyprint",
)  # fmt: skip


def _words(command: Any, before: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for name, part in getattr(command, "commands", {}).items():
        if hasattr(part, "commands"):
            yield from _words(part, (*before, name))
        else:
            yield (*before, name)


def loaded_after(code: str) -> set[str]:
    """Return the names of all modules that a fresh Python has loaded after some lines."""
    lines = f"{code}\nimport sys\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())


def test_each_command_has_a_function_of_its_name() -> None:
    """A new command is missed here until the door has it, and a function until it is a command."""
    commands = {"_".join(words) for words in _words(typer.main.get_command(cli.app))}
    functions = {name for name in planopt.__all__ if name.islower()}
    assert functions - ALSO == commands
    assert all(callable(getattr(planopt, name)) for name in planopt.__all__)
    assert planopt.plan_many is planopt.weeks
    page = (HOUSE / "guide" / "library.md").read_text(encoding="utf-8")
    assert [name for name in functions if not re.search(rf"`(planopt\.)?{name}\b", page)] == []


def test_all_searches_have_the_same_limits() -> None:
    """The options of the three commands and the keywords of the library are one list each."""
    limits = {"time_limit", "gap", "seed", "threads", "work_limit", "option"}
    commands = vars(typer.main.get_command(cli.app))["commands"]
    for name in ("plan", "weeks", "whatif"):
        options = {param.name: param.help for param in commands[name].params}
        assert limits <= set(options), name
        assert {options[one] for one in limits} == {
            param.help for param in commands["plan"].params if param.name in limits
        }
    keywords = {name.removesuffix("_s").removesuffix("s") for name in Limits.__annotations__}
    assert keywords == {name.removesuffix("s") for name in limits}
    assert Limits.__annotations__.keys() < Asked.__annotations__.keys()


def test_type_checkers_see_what_the_door_gives() -> None:
    """The imports for type checkers, the table of the door and `__all__` name the same."""
    tree = ast.parse(Path(str(planopt.__file__)).read_text(encoding="utf-8"))
    static = {
        str(node.module).rpartition(".")[2]: tuple(alias.name for alias in node.names)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith("planopt.front.")
    }
    assert static == planopt._DOORS
    assert sorted(planopt._HOME) == planopt.__all__
    assert set(planopt.__all__) <= set(dir(planopt))
    with pytest.raises(AttributeError, match="no attribute 'plam'"):
        planopt.plam  # noqa: B018


def test_the_import_loads_next_to_nothing() -> None:
    """No package of others comes with the name, and no part of the house."""
    found = loaded_after("import planopt")
    assert not found & {*HEAVY, "pydantic", "typer", "yaml"}
    assert {name for name in found if name.startswith("planopt")} == {"planopt"}


def test_reading_a_plan_loads_neither_renderer_nor_solver(tmp_path: Path) -> None:
    """A plan is read, told on a line and as a table of a notebook, without what draws it."""
    write_plan(sample_plan(), sample_catalog(), sample_scenario(), tmp_path / "week")
    found = loaded_after(
        "import planopt, warnings\nwarnings.simplefilter('ignore')\n"
        f"plan = planopt.Plan.read({str(tmp_path / 'week')!r})\n"
        "assert 'Plan' in repr(plan) and '<table>' in plan._repr_html_()"
    )
    assert not found & set(HEAVY)
    assert "planopt.pipeline" not in found


def test_functions_stay_at_the_door_beside_rooms_of_their_names() -> None:
    """`planopt.targets` is a function and the way into the room, whichever is loaded first."""
    loaded_after(
        "import planopt.targets.person as person, planopt\n"
        "assert callable(planopt.targets) and planopt.targets.__name__ == 'targets'\n"
        "assert planopt.targets.person is person\n"
        "from planopt.targets.spans import Span\n"
        "import planopt.targets.spans\n"
        "assert planopt.targets.spans.Span is Span and callable(planopt.targets)"
    )
