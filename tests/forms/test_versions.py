"""Every file and screen of a plan says names and steps for the version that is cooked."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from html import unescape

import openpyxl
import pytest

from planopt.catalog.dishtext import dish_name
from planopt.catalog.records import Alternative, Catalog, Line, Step
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.report.files.folder import plan_contents
from planopt.report.page.shopping import swap_rows
from planopt.report.terminal.screens import client_screen, cook_screen, labels_screen
from report_samples import sample_catalog, sample_plan, sample_scenario

STEPS = (
    "Bake 900 g of haddock fillet, with the parsley, until it flakes.",
    "Share out between 5 trays, 6 squares in all.",
)


def _catalog() -> Catalog:
    """Return the sample catalog with a bake whose texts have placeholders."""
    catalog = sample_catalog()
    bake = catalog.recipes["fish_bake"]
    lines = (
        Line(food="cod", amount=Decimal(600), unit="g", key="fish",
             alternatives=(Alternative(food="haddock"),)),
        bake.lines[1],
        bake.lines[2].model_copy(update={"key": "green"}),
    )  # fmt: skip
    steps = (
        Step(do="Salt the {fish} an hour before.", only_with=("cod",)),
        Step(do="Bake {fish amount} of {fish}[, with the {green},] until it flakes.",
             until_internal_c=63),
        Step(do="Share out between {boxes trays}, {servings squares} in all."),
    )  # fmt: skip
    changed = bake.model_copy(
        update={"name": "{fish} bake[ with {green}]", "lines": lines, "steps": steps}
    )
    return catalog.model_copy(update={"recipes": {**catalog.recipes, "fish_bake": changed}})


def _plan(catalog: Catalog) -> Plan:
    """Return the sample plan, named as the plan's own writer names it."""
    plan = sample_plan()
    rows = {
        table: tuple(
            row.model_copy(
                update={
                    "recipe_name": dish_name(catalog.recipes[row.recipe_id], row.version, catalog)
                }
            )
            for row in getattr(plan, table)
        )
        for table in ("batches", "portions")
    }
    return plan.model_copy(update=rows)


@pytest.mark.parametrize(
    ("file", "has_steps"),
    [
        ("report.md", True),
        ("report.html", True),
        ("labels.html", False),
        ("week.ics", False),
        ("menu.csv", False),
        ("batches.csv", False),
        ("containers.csv", False),
        ("plan.json", False),
    ],
)
def test_files_say_the_version_cooked(file: str, has_steps: bool) -> None:
    """Name and steps have the food chosen; no placeholder, and no food swapped out, is left."""
    catalog = _catalog()
    text = str(plan_contents(_plan(catalog), catalog, sample_scenario())[file])
    flat = unescape(re.sub(r"\s+", " ", text.replace("\r\n ", "")))
    assert "Haddock fillet bake with parsley" in flat
    for step in STEPS:
        assert (step in flat) is has_steps
    assert not re.search(r"\{(fish|green|boxes|servings)|\[, with", flat)
    # The page offers cod as a swap, and says what the steps would then be.
    assert "Salt the" not in flat.replace("Step 1: Salt the cod fillet an hour before.", "")
    assert "bake with parsley, with" not in flat


def test_screens_say_the_version_cooked() -> None:
    """The cook days, the week and the labels on the terminal do the same."""
    catalog, scenario = _catalog(), sample_scenario()
    plan = _plan(catalog)
    schedules = schedule_cook_days(plan, catalog, scenario)
    cook = " ".join(cook_screen(plan, catalog, scenario, schedules).split())
    for step in STEPS:
        assert step in cook
    assert "Salt the" not in cook
    boxes = containers_of(plan, catalog, scenario)
    labels = labels_screen(boxes, catalog, scenario, None)
    for text in (cook, client_screen(plan, catalog, scenario, None), labels):
        assert "Haddock fillet bake with parsley" in " ".join(text.split())
        assert "{" not in text


def test_a_swap_at_the_counter_changes_the_words() -> None:
    """Cod in place of haddock: the dish has another name, and another step comes first."""
    catalog = _catalog()
    cod = catalog.packs["haddock_500"].model_copy(update={"pack_id": "cod_500", "food_id": "cod"})
    catalog = catalog.model_copy(update={"packs": {**catalog.packs, "cod_500": cod}})
    (row,) = swap_rows(_plan(catalog), catalog, sample_scenario())
    assert row["allowed"]
    assert (row["dish"], row["then"]) == (
        "Haddock fillet bake with parsley",
        "Cod fillet bake with parsley",
    )
    assert row["steps"] == [
        "Step 1: Salt the cod fillet an hour before.",
        "After step 1: Bake 900 g of cod fillet, with the parsley, until it flakes.",
    ]
    page = plan_contents(_plan(catalog), catalog, sample_scenario())["report.html"]
    assert "The dish is then: Cod fillet bake with parsley." in str(page)


def _words(content: str | bytes) -> str:
    """Return what a file says, without marks, folds and escapes; of a workbook its cells."""
    if isinstance(content, bytes):
        book = openpyxl.load_workbook(io.BytesIO(content))
        cells = (cell.value for sheet in book for row in sheet.iter_rows() for cell in row)
        text = "\n".join(map(str, cells))
    else:
        text = content.replace("\r\n ", "").replace("\\,", ",")
        text = unescape(re.sub(r"<[^>]*>", " ", text))
    return re.sub(r"\s+", " ", text).replace(" ,", ",")


def test_one_spelling_of_a_dish_in_all_files() -> None:
    """A dish is found by one text in every file of a plan: its name with its version.

    plan.json holds name and version apart; the page also names versions that a swap would make.
    """
    name, version = "Fish and potato bake", ", with haddock fillet and parsley"
    catalog = sample_catalog()
    contents = plan_contents(sample_plan(), catalog, sample_scenario())
    told = 0
    for file, content in contents.items():
        text = _words(content)
        found = [text[match.start() - 30 : match.end() + 40] for match in re.finditer(name, text)]
        told += bool(found)
        for place in found if file != "plan.json" else ():
            swap = "The dish is then: " in place
            assert swap or f"{name}{version}" in place, (file, place)
    assert told >= len(contents) - 3, "all but what is left, who pays and plan.json name it"
    for file in ("menu.csv", "batches.csv", "containers.csv", "schedule.csv"):
        rows = csv.DictReader(io.StringIO(str(contents[file])))
        dishes = {row["dish"] for row in rows if row["dish"]}
        assert dishes == {f"{name}{version}", "Plain mash"}, file
