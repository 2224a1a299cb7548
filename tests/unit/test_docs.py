"""README.md and DEVELOPERS.md say what is true of the program that they describe."""

from __future__ import annotations

import ast
import re
import shutil
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import typer
import yaml

from modules import HOUSE, module_row, modules
from planopt import cli, faults
from planopt.catalog.load import _MODELS as TABLES
from planopt.catalog.records import (
    BatchRule,
    Equipment,
    Keeps,
    Line,
    Minutes,
    Recipe,
)
from planopt.faults import ExitCode
from planopt.overview.files import OVERVIEW_FILES
from planopt.reading.validation import field_names
from planopt.report.files.folder import PLAN_FILES
from planopt.runs.layout import INDEX_FILE
from planopt.scenario.households.parties import load_kitchens
from planopt.scenario.households.paths import check_paths
from planopt.scenario.households.rosters import COLUMNS
from planopt.scenario.records import (
    Appliances,
    Away,
    AwayChange,
    Client,
    CookDay,
    Household,
    Portions,
    PriceChange,
    RecipeChoice,
    Scenario,
    Stock,
    StockFile,
    Variant,
    WindowChange,
    WorkPrices,
)
from planopt.scenario.variants.words import FORMS

ROOT = Path(__file__).resolve().parents[2]
GUIDE = sorted((HOUSE / "guide").glob("*.md"))
PAGES = (
    "planopt/model/ALGEBRA.md",
    "planopt/solve/SEARCH.md",
    "planopt/cookday/TIMING.md",
    "planopt/runs/RUNS.md",
    "planopt/whatif/QUESTIONS.md",
    "tests/ERRORS.md",
    "tests/benchmarks/FIGURES.md",
)
# What users read: the first page and the guide; what contributors read.
README = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "README.md", *GUIDE))
DEVELOPERS = "\n".join(
    (ROOT / page).read_text(encoding="utf-8") for page in ("DEVELOPERS.md", *PAGES)
)
# Typer brings its own click or uses the installed one, so commands are taken as they come.
COMMANDS: dict[str, Any] = vars(typer.main.get_command(cli.app))["commands"]


def fenced(text: str, language: str) -> list[str]:
    """Return the bodies of the fenced blocks of a language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def rows_under(text: str, heading: str) -> list[list[str]]:
    """Return the cells of the table rows between a heading and the next one, without the header."""
    body = re.split(r"^#+ ", text.split(f"\n{heading}\n", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]
    lines = [line for line in body.splitlines() if line.startswith("|")]
    return [
        [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in lines[2:]
    ]  # fmt: skip


def options_of(command: Any) -> set[str]:
    """Return the long options of a command."""
    # A group of commands has the options of all of them.
    parts = [command, *getattr(command, "commands", {}).values()]
    return {
        name
        for part in parts
        for parameter in part.params
        for name in parameter.opts
        if name.startswith("--")
    }


# README.md


def test_readme_opens_with_the_job() -> None:
    """After the title comes one paragraph that says what the program is for."""
    title, job, after, *_ = README.split("\n\n")
    assert title == "# planopt"
    assert re.match(r"[A-Z]", job), "the job is a paragraph: no list, block or picture"
    for word in (
        "coach", "cooks ahead", "clients", "recipes", "batches", "portion", "whole packs", "costs",
        "left over", "proven", "no week complies",
    ):  # fmt: skip
        assert word in " ".join(job.split()), word
    assert after.startswith("## ")


def test_readme_has_the_two_commands_first() -> None:
    """The first two blocks do all of their set-up: the demo plan, then the tests."""
    main, tests, *_ = fenced(README, "[a-z]*")
    assert [block.count("\n") for block in (main, tests)] == [1, 1]
    for block in (main, tests):
        assert block.startswith("python3 -m venv .venv && .venv/bin/pip install -q ")
    assert "planopt plan scenarios/demo_week.yaml" in main
    assert (ROOT / "scenarios" / "demo_week.yaml").is_file()
    assert tests.rstrip().endswith(".venv/bin/pytest")


def test_readme_names_every_command_and_option() -> None:
    """Each command has a heading, and each of its options is named below it."""
    for name, command in COMMANDS.items():
        headings = re.findall(rf"^### `planopt {name}(?: .*)?`$", README, re.MULTILINE)
        assert len(headings) == 1, name
        section = README.split(headings[0], 1)[1].split("\n### ", 1)[0].split("\n## ", 1)[0]
        for option in options_of(command) - {"--help"}:
            assert re.search(rf"`{option}[ `]", section), f"{name} {option}"


@pytest.mark.parametrize(
    "words",
    [
        line[line.index("planopt ") :].split()
        for text in (README, DEVELOPERS)
        for block in fenced(text, "sh")
        for line in block.splitlines()
        if "planopt " in line
    ],
    ids=" ".join,
)
def test_commands_in_blocks_exist(words: list[str]) -> None:
    """No block shows a command or an option that the program does not have."""
    _, name, *rest = words
    assert name in COMMANDS
    assert {word for word in rest if word.startswith("--")} <= options_of(COMMANDS[name])


def test_readme_has_no_heading_for_a_command_that_is_gone() -> None:
    """The headings name commands of the program only."""
    assert set(re.findall(r"^### `planopt ([a-z-]+)", README, re.MULTILINE)) == set(COMMANDS)


def test_exit_codes_are_those_of_the_program() -> None:
    """The table has every code with its name, and no other."""
    table = {int(code): name.strip("`") for code, name, _ in rows_under(README, "## Exit codes")}
    assert table == {int(code): code.name for code in ExitCode}


def test_readme_names_every_file_of_a_plan_folder() -> None:
    """The table lists what `planopt plan` writes."""
    named = {cells[0].strip("`") for cells in rows_under(README, "## What comes out")}
    assert named == PLAN_FILES


def test_readme_names_what_a_run_writes_and_reads() -> None:
    """The files of a run's folder, the columns of a roster, and the fields of a household."""
    section = README.split("\n### Many clients\n", 1)[1].split("\n### ", 1)[0]
    named = {name for row in rows_under(README, "### Many clients") for name in words_in(row[0])}
    folders = {"plans", "alone", "kitchens", "failed", "outdated"}
    assert {*OVERVIEW_FILES, INDEX_FILE, *folders} <= named
    assert set(COLUMNS) <= named
    for name in field_names(Household):
        assert re.search(rf"\b{name}\b", section), name


def words_in(cell: str) -> list[str]:
    """Return what stands in code type in a cell."""
    return re.findall(r"`([^`]+)`", cell)


@pytest.mark.parametrize("table", TABLES)
def test_readme_lists_the_columns_of_each_table(table: str) -> None:
    """Each table is described column by column."""
    body = README.split(f"\n`{table}.csv`, ", 1)[1].split("\n\n", 2)[1]
    columns = [line.split("|")[1].strip() for line in body.splitlines()[2:]]
    expected = [
        "each nutrient's id" if name == "nutrients" else f"`{name}`"
        for name in field_names(TABLES[table])
    ]
    assert columns == expected


@pytest.mark.parametrize("record", [Scenario, Client])
def test_readme_lists_the_fields_of_a_scenario(record: type[Scenario] | type[Client]) -> None:
    """The tables of fields have every field, in the first column, and no other."""
    cells = [row[0] for row in rows_under(README, "### A scenario")]
    named = [re.findall(r"`(\w+)`", cell) for cell in cells]
    split = cells.index("Field of a client")
    mine = named[:split] if record is Scenario else named[split + 2 :]
    assert {name for names in mine for name in names} == set(field_names(record))


def test_readme_lists_the_fields_of_a_variant() -> None:
    """The table has every kind of change, and no other."""
    cells = [row[0] for row in rows_under(README, "### Variants of a scenario")]
    named = [name for cell in cells for name in re.findall(r"`(\w+)`", cell)]
    assert sorted(named) == sorted(field_names(Variant))
    section = README.split("\n### Variants of a scenario", 1)[1].split("\n## ", 1)[0]
    for record in (PriceChange, WindowChange, AwayChange):
        for name in field_names(record):
            assert re.search(rf"\b{name}\b", section), name


def test_readme_shows_every_form_of_a_change_in_words() -> None:
    """Each form that the command line understands stands in the list, and is understood."""
    section = README.split("Changes in words:", 1)[1].split("\n\n", 1)[0]
    shown = re.findall(r"`([^`]+)`", section)
    forms = [pattern for _, pattern, _ in FORMS]
    words = {"FOOD": "egg", "SELLER": "shop", "RECIPE": "soup", "CLIENT": "ana", "NUTRIENT": "fat"}
    told = []
    for text in shown:
        for word, example in words.items():
            text = text.replace(word, example)
        told.append(text)
    for text in told:
        assert any(re.fullmatch(pattern, text) for pattern in forms), text
    for pattern in forms:
        assert any(re.fullmatch(pattern, text) for text in told), pattern


def test_readme_names_the_fields_inside_fields() -> None:
    """Nothing that a user may write in a scenario or a recipe goes unnamed."""
    inside = (CookDay, Appliances, Stock, StockFile, RecipeChoice, Away, Portions, WorkPrices)
    for record in inside:
        for name in field_names(record):
            assert re.search(rf"\b{name}\b", README.split("### A scenario", 1)[1]), name
    section = README.split("\n### A recipe", 1)[1].split("\n### ", 1)[0]
    for record in (Recipe, Line, BatchRule, Minutes, Equipment, Keeps):
        for name in set(field_names(record)) - {"recipe_id"}:
            assert re.search(rf"\b{name}\b", section), name


def test_examples_of_the_readme_are_sound(tmp_path: Path) -> None:
    """The recipe, the scenarios and the roster shown are accepted, with the shipped catalog."""
    blocks = fenced(README, "yaml")
    (recipe,) = [block for block in blocks if "\nlines:" in block]
    (variants,) = [block for block in blocks if block.startswith("variants:")]
    scenario, many = sorted(set(blocks) - {recipe, variants}, key=lambda text: "roster" in text)
    (roster,) = fenced(README, "csv")
    assert "lines" in yaml.safe_load(recipe)
    assert "clients" in yaml.safe_load(scenario)
    assert "variants" in yaml.safe_load(variants)
    scenario = f"{scenario}\n{variants}"
    shutil.copytree(ROOT / "catalogs", tmp_path / "catalogs")
    (tmp_path / "catalogs" / "recipes" / "of_the_readme.yaml").write_text(recipe, encoding="utf-8")
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "first.yaml").write_text(scenario, encoding="utf-8")
    (tmp_path / "scenarios" / "round.yaml").write_text(many, encoding="utf-8")
    (tmp_path / "scenarios" / "clients.csv").write_text(roster, encoding="utf-8")
    parts = load_kitchens(tmp_path / "scenarios" / "round.yaml").parts
    assert [part.kitchen_id for part in parts] == ["cleo", "hill"]
    assert [fault.text() for fault in check_paths([tmp_path])] == []


def test_the_library_example_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The lines shown for use as a library plan the quick scenario to the proven optimum."""
    (code,) = fenced(README, "python")
    monkeypatch.chdir(ROOT)
    exec(compile(code, "README.md", "exec"), {"__name__": "readme"})
    objective, bound, purchases = capsys.readouterr().out.split()
    # The objective is rounded half up, and its proof down.
    assert 0 <= Decimal(objective) - Decimal(bound) <= Decimal("0.01")
    assert int(purchases) > 0


# DEVELOPERS.md


def test_the_module_map_has_every_module_with_a_purpose() -> None:
    """The printed map names each module once, says what it is for, and knows its imports."""
    rows = [module_row(name, path, modules()) for name, path in modules().items()]
    assert len(rows) == len(list(HOUSE.rglob("*.py")))
    assert all(re.match(r"planopt[\w.]*: \S.*", row) for row in rows)
    (pipeline,) = [row for row in rows if row.startswith("planopt.pipeline:")]
    assert "solve.engine.search" in pipeline.splitlines()[1]


def test_developers_name_only_files_that_exist() -> None:
    """Paths of the source, the tests and the catalogs lead somewhere."""
    named = set(re.findall(r"`((?:planopt|tests|catalogs|scenarios)/[\w./]+)`", DEVELOPERS))
    assert len(named) > 20
    lost = {name for name in named if not (ROOT / name).exists() and "NAME" not in name}
    assert lost == set()


def test_fault_codes_are_those_of_the_source() -> None:
    """Each code of the table is in the source, and each plain code there is in the table."""
    shown = {
        code
        for cells in rows_under(DEVELOPERS, "## Errors")
        for code in re.findall(r"`([a-z0-9_]+)`", cells[1])
    }
    text = "\n".join(path.read_text(encoding="utf-8") for path in modules().values())
    made = {code for code in shown if code.startswith("unknown_")}
    assert {code for code in shown - made if f'"{code}"' not in text} == set()
    assert set(_codes()) <= shown


def _codes() -> Iterator[str]:
    makers = {"fault", "Fault", "Wording", "bad_folder", "_say"}
    for path in modules().values():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            last = node.args[-1]
            if (
                getattr(node.func, "attr", getattr(node.func, "id", "")) in makers
                and isinstance(last, ast.Constant)
                and re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)+", str(last.value))
            ):
                yield str(last.value)


def test_developers_name_the_errors_with_their_codes() -> None:
    """The exit codes given for the errors are theirs."""
    section = DEVELOPERS.split("\n## Errors\n", 1)[1].split("\n## ", 1)[0]
    pairs = dict(re.findall(r"`(\w+)` (\d)", section))
    errors = {
        name: str(int(error.exit_code))
        for name, error in vars(faults).items()
        if isinstance(error, type)
        and issubclass(error, faults.PlanoptError)
        and error is not faults.PlanoptError
    }
    assert pairs == errors
