"""README.md, the guide and DEVELOPERS.md say what is true of the program that they describe."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

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
    Record,
)
from planopt.faults import ExitCode
from planopt.overview.files import OVERVIEW_FILES
from planopt.reading.validation import field_names
from planopt.report.files.folder import PLAN_FILES
from planopt.runs.layout import INDEX_FILE
from planopt.scenario.changes import AwayChange, PriceChange, WindowChange
from planopt.scenario.defaults import Defaults
from planopt.scenario.households.rosters import COLUMNS
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.records import (
    Away,
    Client,
    CookDay,
    Household,
    Portions,
    RecipeChoice,
    Scenario,
    Stock,
    StockFile,
    Variant,
)
from planopt.scenario.variants.words import FORMS
from planopt.scenario.workplace import Appliances, WorkPrices
from unit.guidepages import GUIDE, README, ROOT, USERS, blocks

CHAPTERS = (
    "planopt/STOPS.md",
    "planopt/model/ALGEBRA.md",
    "planopt/solve/SEARCH.md",
    "planopt/cookday/TIMING.md",
    "planopt/runs/RUNS.md",
    "planopt/whatif/QUESTIONS.md",
    "tests/ERRORS.md",
    "tests/benchmarks/FIGURES.md",
)
# What contributors read, as one text.
DEVELOPERS = "\n".join(
    (ROOT / page).read_text(encoding="utf-8") for page in ("DEVELOPERS.md", *CHAPTERS)
)
PARTS = ("planopt", "tests", "catalogs", "scenarios")
MOST_LINES = {"README.md": 200, "DEVELOPERS.md": 400}
# Typer brings its own click or uses the installed one, so commands are taken as they come.
COMMANDS: dict[str, Any] = vars(typer.main.get_command(cli.app))["commands"]


def rows_under(text: str, heading: str) -> list[list[str]]:
    """Return the cells of the table rows between a heading and the next one, without the header."""
    body = re.split(
        r"^#+ ", f"\n{text}".split(f"\n{heading}\n", 1)[1], maxsplit=1, flags=re.MULTILINE
    )[0]
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


# README.md and the guide


@pytest.mark.parametrize("name", sorted(MOST_LINES))
def test_first_pages_are_short(name: str) -> None:
    """Nobody has to read far; the rest is on pages of its own."""
    assert (ROOT / name).read_text(encoding="utf-8").count("\n") <= MOST_LINES[name]


def test_readme_opens_with_the_job() -> None:
    """After the title comes one paragraph that says what the program is for, then its picture."""
    title, job, picture, after, *_ = README.split("\n\n")
    assert title == "# planopt"
    assert re.match(r"[A-Z]", job), "the job is a paragraph: no list, block or picture"
    for word in (
        "coach", "cooks ahead", "clients", "recipes", "batches", "portion", "whole packs", "costs",
        "left over", "proven", "no week complies",
    ):  # fmt: skip
        assert word in " ".join(job.split()), word
    assert picture.startswith("![")
    assert after.startswith("## ")


def test_readme_has_the_two_commands_first() -> None:
    """The first two blocks do all of their set-up: the demo plan, then the tests."""
    main, tests = (block.text for block in blocks(README)[:2])
    assert [block.count("\n") for block in (main, tests)] == [1, 1]
    for block in (main, tests):
        assert block.startswith("python3 -m venv .venv && .venv/bin/pip install -q ")
    assert "planopt plan scenarios/demo_week.yaml" in main
    assert (ROOT / "scenarios" / "demo_week.yaml").is_file()
    assert tests.rstrip().endswith(".venv/bin/pytest")
    assert README.count("venv .venv") == 2


def test_links_lead_somewhere() -> None:
    """Every page links to files and headings that are there, and README.md to every page."""
    guide = set((ROOT / "planopt" / "guide").glob("*.md"))
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *guide]
    pages += [ROOT / chapter for chapter in CHAPTERS]
    linked: dict[str, set[Path]] = {}
    for page in pages:
        text = page.read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)]+)\)", text):
            if target.startswith("https:"):
                continue
            file, _, anchor = target.partition("#")
            found = (page.parent / file).resolve() if file else page
            assert found.exists(), f"{page.name}: {target}"
            if anchor:
                headings = re.findall(r"^#+ (.*)$", found.read_text(encoding="utf-8"), re.MULTILINE)
                anchors = {
                    re.sub(r"[^\w -]", "", one).lower().replace(" ", "-") for one in headings
                }
                assert anchor in anchors, f"{page.name}: {target}"
            linked.setdefault(page.name, set()).add(found)
    assert guide <= linked["README.md"]
    assert {ROOT / chapter for chapter in CHAPTERS} <= linked["DEVELOPERS.md"]


def test_the_guide_names_every_command_and_option() -> None:
    """Each command has a heading, and each of its options is named below it."""
    for name, command in COMMANDS.items():
        headings = re.findall(rf"^### `planopt {name}(?: .*)?`$", GUIDE["commands"], re.MULTILINE)
        assert len(headings) == 1, name
        section = GUIDE["commands"].split(headings[0], 1)[1]
        section = section.split("\n### ", 1)[0].split("\n## ", 1)[0]
        for option in options_of(command) - {"--help"}:
            assert re.search(rf"`{option}[ `]", section), f"{name} {option}"


@pytest.mark.parametrize(
    "words",
    [
        words[words.index("planopt") :]
        for text in (USERS, DEVELOPERS)
        for block in blocks(text)
        if block.language == "sh"
        for words in block.commands()
        if "planopt" in words
    ],
    ids=" ".join,
)
def test_commands_in_blocks_exist(words: list[str]) -> None:
    """No block shows a command or an option that the program does not have."""
    _, name, *rest = words
    assert name in COMMANDS
    assert {word for word in rest if word.startswith("--")} <= options_of(COMMANDS[name])


def test_the_guide_has_no_heading_for_a_command_that_is_gone() -> None:
    """The headings name commands of the program only."""
    headings = re.findall(r"^### `planopt ([a-z-]+)", GUIDE["commands"], re.MULTILINE)
    assert set(headings) == set(COMMANDS)


def test_exit_codes_are_those_of_the_program() -> None:
    """The table has every code with its name, and no other."""
    rows = rows_under(GUIDE["commands"], "## Exit codes")
    assert {int(code): name.strip("`") for code, name, _ in rows} == {
        int(code): code.name for code in ExitCode
    }


def test_the_guide_names_every_file_of_a_plan_folder() -> None:
    """The table lists what `planopt plan` writes."""
    named = {cells[0].strip("`") for cells in rows_under(GUIDE["output"], "# What comes out")}
    assert named == PLAN_FILES


def test_the_guide_names_what_a_run_writes_and_reads() -> None:
    """The files of a run's folder, the columns of a roster, and the fields of a household."""
    written = rows_under(GUIDE["clients"], "## What a run writes")
    folders = {"plans", "alone", "kitchens", "failed", "outdated"}
    files = {*OVERVIEW_FILES, INDEX_FILE, *folders}
    assert {name for row in written for name in words_in(row[0])} == files
    columns = rows_under(GUIDE["clients"], "## The roster")
    assert set(COLUMNS) <= {name for row in columns for name in words_in(row[0])}
    for name in field_names(Household):
        assert re.search(rf"\b{name}\b", GUIDE["clients"]), name


def words_in(cell: str) -> list[str]:
    """Return what stands in code type in a cell."""
    return re.findall(r"`([^`]+)`", cell)


@pytest.mark.parametrize("table", TABLES)
def test_the_guide_lists_the_columns_of_each_table(table: str) -> None:
    """Each table is described column by column."""
    body = GUIDE["tables"].split(f"\n`{table}.csv`, ", 1)[1].split("\n\n", 2)[1]
    columns = [line.split("|")[1].strip() for line in body.splitlines()[2:]]
    expected = [
        "each nutrient's id" if name == "nutrients" else f"`{name}`"
        for name in field_names(TABLES[table])
    ]
    assert columns == expected


def fields_told(page: str, header: str) -> set[str]:
    """Return the names in the first column of the table of a page with that header."""
    table = page.split(f"\n| {header} |", 1)[1].split("\n\n", 1)[0]
    rows = [line.split("|")[1] for line in table.splitlines()[2:]]
    return {name for row in rows for name in words_in(row)}


@pytest.mark.parametrize(
    ("header", "record"),
    [
        ("Field", Scenario),
        ("Field of a cook day", CookDay),
        ("Field of `appliances`", Appliances),
        ("Field of `label_sheet`", LabelSheet),
        ("Field of a client", Client),
        ("Field of a variant", Variant),
    ],
)
def test_the_guide_lists_the_fields_of_a_scenario(header: str, record: type[Record]) -> None:
    """The tables of fields have every field, in the first column, and no other."""
    assert fields_told(GUIDE["scenario"], header) == set(field_names(record))


def test_the_guide_lists_the_fields_of_the_defaults() -> None:
    """What a person may write into the file of defaults stands with what comes out."""
    assert fields_told(GUIDE["output"], "Field of the defaults") == set(field_names(Defaults))


def test_the_guide_lists_the_fields_inside_a_variant() -> None:
    """Every part of a change is named in its row."""
    section = GUIDE["scenario"].split("\n## Variants of a scenario", 1)[1]
    for record in (PriceChange, WindowChange, AwayChange):
        for name in field_names(record):
            assert re.search(rf"\b{name}\b", section), name


def test_the_guide_shows_every_form_of_a_change_in_words() -> None:
    """Each form that the command line understands stands in the list, and is understood."""
    section = GUIDE["commands"].split("Changes in words:", 1)[1].split("\n\n", 1)[0]
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


def test_the_guide_names_the_fields_inside_fields() -> None:
    """Nothing that a user may write in a scenario or a recipe goes unnamed."""
    for record in (Stock, StockFile, RecipeChoice, Away, Portions, WorkPrices):
        for name in field_names(record):
            assert re.search(rf"\b{name}\b", GUIDE["scenario"]), name
    for record in (Recipe, Line, BatchRule, Minutes, Equipment, Keeps):
        for name in set(field_names(record)) - {"recipe_id"}:
            assert re.search(rf"\b{name}\b", GUIDE["recipes"]), name


# DEVELOPERS.md


def test_the_module_map_has_every_module_with_a_purpose() -> None:
    """The printed map names each module once, says what it is for, and knows its imports."""
    known = modules()
    rows = [module_row(name, path, known) for name, path in known.items()]
    assert len(rows) == len(list(HOUSE.rglob("*.py")))
    assert all(re.match(r"planopt[\w.]*: \S.*", row) for row in rows)
    (pipeline,) = [row for row in rows if row.startswith("planopt.pipeline:")]
    assert "solve.engine.search" in pipeline.splitlines()[1]


def test_developers_name_only_files_that_exist() -> None:
    """Paths of the source, the tests and the catalogs lead somewhere."""
    named = set(re.findall(r"`((?:planopt|tests|catalogs|scenarios)/[\w./]+)`", DEVELOPERS))
    assert len(named) > 20
    lost = {name for name in named if not (ROOT / name).exists() and "NAME" not in name}
    # Elsewhere the end of a path is enough, such as `engine/walks.py`.
    there = [f"/{path.relative_to(ROOT)}" for part in PARTS for path in (ROOT / part).rglob("*.*")]
    short = set(re.findall(r"`([a-z]\w*(?:/\w+)*\.(?:py|txt|md))`", DEVELOPERS))
    lost |= {name for name in short if not any(path.endswith(f"/{name}") for path in there)}
    assert lost == set()


def test_fault_codes_are_those_of_the_source() -> None:
    """Each code of the table is in the source, and each plain code there is in the table."""
    shown = {
        code
        for cells in rows_under(DEVELOPERS, "# Errors")
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
    section = DEVELOPERS.split("\n# Errors\n", 1)[1].split("\n# ", 1)[0]
    pairs = dict(re.findall(r"`(\w+)` (\d)", section))
    errors = {
        name: str(int(error.exit_code))
        for name, error in vars(faults).items()
        if isinstance(error, type)
        and issubclass(error, faults.PlanoptError)
        and error is not faults.PlanoptError
    }
    assert pairs == errors
