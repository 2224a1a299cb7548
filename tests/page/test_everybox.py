"""Every box, in every form: each label and each row tells its own box and no other's.

The sample kitchen has four kinds of boxes here: mash without allergens, fish with fish and wheat,
its topping of which allergens are not known, and what is made apart for one client alone. What
each must say is written by hand. Whether the plan is safe is not asked here: it was never audited.
"""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from planopt.catalog.records import Allergen, Catalog, Pack
from planopt.cookday.containers import containers_of
from planopt.cookday.records import Container
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.report.analysis.swaps import counter_swaps
from planopt.report.analysis.tables import records
from planopt.report.files.folder import CSV_FILES, csv_texts, plan_contents
from planopt.report.page.html import labels_html
from planopt.report.terminal.screens import labels_screen
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.records import Scenario, Window
from report_samples import START, sample_catalog, sample_plan, sample_scenario

NAMES = {"fish": "Fish", "wheat": "Wheat", "milk": "Milk"}
EXCLUDED = {"ana": ("fish",), "ben": ("milk",)}
FISH = "Contains fish, wheat. Allergens not known: parsley, fresh"
MASH = "No listed allergen"


def kitchen() -> tuple[Catalog, Scenario]:
    """Return the sample kitchen with allergens in the fish and unknown ones in its topping."""
    catalog = sample_catalog()
    held = {"haddock": ("wheat", "fish"), "parsley": ("not_known",)}
    foods = {
        name: catalog.foods[name].model_copy(update={"allergens": allergens})
        for name, allergens in held.items()
    }
    allergens = {one: Allergen(allergen_id=one, name=name) for one, name in NAMES.items()}
    scenario = sample_scenario()
    clients = tuple(
        client.model_copy(update={"allergens": EXCLUDED[client.client_id]})
        for client in scenario.clients
    )
    return (
        catalog.model_copy(update={"foods": {**catalog.foods, **foods}, "allergens": allergens}),
        scenario.model_copy(update={"clients": clients}),
    )


def boxes_of(catalog: Catalog, scenario: Scenario) -> tuple[Container, ...]:
    """Return the boxes where every dish is made apart from fish and milk."""
    plan = sample_plan()
    schedules = tuple(
        day.model_copy(
            update={
                "dishes": tuple(
                    dish.model_copy(update={"made_apart_from": ("fish", "milk")})
                    for dish in day.dishes
                )
            }
        )
        for day in schedule_cook_days(plan, catalog, scenario)
    )
    return containers_of(plan, catalog, scenario, schedules)


# client, day, meal, part, what it contains, what it is made apart from: in the order of packing.
EXPECTED = [
    ("Ana", 1, "lunch", "", MASH, "fish"),
    ("Ana", 1, "dinner", "main", FISH, "fish"),
    ("Ana", 1, "dinner", "cold topping", FISH, "fish"),
    ("Ana", 2, "lunch", "", MASH, "fish"),
    ("Ana", 2, "dinner", "main", FISH, "fish"),
    ("Ana", 2, "dinner", "cold topping", FISH, "fish"),
    ("Ben", 1, "lunch", "", MASH, "milk"),
    ("Ben", 1, "dinner", "main", FISH, "milk"),
    ("Ben", 1, "dinner", "cold topping", FISH, "milk"),
    ("Ben", 2, "dinner", "main", FISH, "milk"),
    ("Ben", 2, "dinner", "cold topping", FISH, "milk"),
]  # fmt: skip
# Fridge days of the 3rd are over on the 6th; what thaws on the 4th is eaten by the 5th.
USE_BY = {1: "2027-01-06", 2: "2027-01-05"}


def test_every_box_has_its_label_with_its_own_allergens() -> None:
    """Number, dish, client, meal and allergens of each label, read from the page itself."""
    catalog, scenario = kitchen()
    scenario = scenario.model_copy(update={"label_sheet": LabelSheet(order="client")})
    text = labels_html(sample_plan(), catalog, scenario, boxes_of(catalog, scenario))
    text = text.replace("\N{NO-BREAK SPACE}", " ")
    found = re.findall(r"<article.*?</article>", text, re.S)
    assert len(found) == len(EXPECTED)
    for number, (label, row) in enumerate(zip(found, EXPECTED, strict=True), 1):
        client, day, meal, part, contains, apart = row
        dish = "Plain mash" if contains == MASH else "Fish and potato bake, with haddock"
        assert f"<h2>{dish}" in label
        assert (f": {part} part</h2>" in label) == bool(part)
        assert f"{client} · {client.lower()}, {meal}, " in label
        assert f"{meal}, {('Mon', 'Tue')[day - 1]} {3 + day} Jan" in label
        assert f'<span class="box">Box {number}\N{MIDDLE DOT}' in label
        assert f'<p class="contains">{contains}</p>' in label
        assert re.findall(r"Made apart from: ([a-z, ]+);", label) == [apart]


def test_the_screen_has_every_label_too() -> None:
    """One block a box, in the same order."""
    catalog, scenario = kitchen()
    blocks = labels_screen(boxes_of(catalog, scenario), catalog, scenario).split("\n\n")
    assert len(blocks) == len(EXPECTED)
    for block, (client, _, _, _, contains, _) in zip(blocks, EXPECTED, strict=True):
        words = " ".join(block.split())
        assert client in words
        assert contains in words


def rows_of(name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV file of the sample plan."""
    catalog, scenario = kitchen()
    schedules = schedule_cook_days(sample_plan(), catalog, scenario)
    texts = csv_texts(sample_plan(), catalog, scenario, schedules, boxes_of(catalog, scenario))
    return list(csv.DictReader(io.StringIO(texts[name], newline="")))


def _told(row: dict[str, Any]) -> tuple[Any, ...]:
    contains = (str(row["allergens"] or ""), str(row["allergens_not_known"] or ""))
    return (row["client"], str(row["date"])[:10], row["meal"], *contains, row["made_apart_from"])


def _wanted() -> list[tuple[Any, ...]]:
    return [
        (client, f"2027-01-0{3 + day}", meal,
         *(("", "") if contains == MASH else ("Fish; Wheat", "parsley, fresh")),
         NAMES[apart])
        for client, day, meal, _, contains, apart in EXPECTED
    ]  # fmt: skip


def test_the_table_of_containers_has_a_row_of_its_own_for_each() -> None:
    """Allergens, unknown foods, claims and dates are those of the row's box."""
    rows = rows_of("containers.csv")
    assert [_told(row) for row in rows] == _wanted()
    for row, (_, day, _, _, contains, _) in zip(rows, EXPECTED, strict=True):
        assert row["use_by"] == ("2027-01-06" if contains == MASH else USE_BY[day])


@pytest.mark.parametrize("name", sorted(CSV_FILES))
def test_no_table_ends_after_its_first_row(name: str) -> None:
    """Rows are counted off the plan: purchases, portions, batches, supplies and clients."""
    plan = sample_plan()
    day, = schedule_cook_days(plan, *kitchen())  # fmt: skip
    counts = {
        "groceries.csv": len(plan.purchases),
        "menu.csv": len(plan.portions),
        "batches.csv": len(plan.batches),
        "schedule.csv": len(day.tasks) + len(day.clean_downs),
        "containers.csv": len(EXPECTED),
        "leftovers.csv": len(plan.food_uses),
        "split.csv": 2,
    }
    assert min(counts.values()) > 1
    assert len(rows_of(name)) == counts[name]


def test_the_workbook_has_every_box() -> None:
    """The sheet of boxes has their allergens row by row."""
    catalog, scenario = kitchen()
    contents = plan_contents(sample_plan(), catalog, scenario)
    book = openpyxl.load_workbook(io.BytesIO(contents["plan.xlsx"]))  # type: ignore[arg-type]
    head, *rows = book["Containers"].iter_rows(values_only=True)
    place = {str(title): n for n, title in enumerate(head)}
    for row, (client, _, meal, _, contains, _) in zip(rows, EXPECTED, strict=True):
        assert (row[place["Client"]], row[place["Meal"]]) == (client, meal)
        told = [row[place[title]] or "" for title in ("Allergens", "Allergens not known")]
        assert told == (["", ""] if contains == MASH else ["Fish; Wheat", "parsley, fresh"])


# ------------------------------------------------------------------ swaps, for everybody who eats


@pytest.mark.parametrize("who", ["ana", "ben"])
@pytest.mark.parametrize(
    ("keys", "why"),
    [
        ({"allergens": ("milk", "wheat")}, "brings wheat, which {} excludes"),
        ({"excluded_foods": ("potato", "cod")}, "{} excludes it"),
        ({"dislikes": {"cod": 0}}, "more often than {} wishes"),
        ({"wants": {"haddock": 1}}, "{} wants haddock fillet more often"),
    ],
)
def test_swaps_are_judged_for_everybody_who_eats_the_dish(
    who: str, keys: dict[str, Any], why: str
) -> None:
    """Cod brings wheat here; it is refused whichever of the two eaters it is wrong for."""
    catalog, scenario = kitchen()
    cod = catalog.foods["cod"].model_copy(update={"allergens": ("wheat",)})
    catalog = catalog.model_copy(update={"foods": {**catalog.foods, "cod": cod}})
    clients = tuple(
        client.model_copy(
            update={"allergens": (), "windows_per_day": {}, "windows_per_week": {}}
            | (keys if client.client_id == who else {})
        )
        for client in scenario.clients
    )
    rows = records(
        counter_swaps(sample_plan(), catalog, scenario.model_copy(update={"clients": clients}))
    )
    (row,) = [row for row in rows if row["instead_id"] == "cod"]
    assert (row["allowed"], row["why"]) == (False, why.format(who.title()))


@pytest.mark.parametrize(("who", "most"), [("ana", 555), ("ben", 860)])
def test_windows_are_judged_for_everybody_who_eats_the_dish(who: str, most: float) -> None:
    """Cod brings 11.25 kcal more: Ana has 548 kcal on day 1 without it, and Ben 856."""
    catalog, scenario = kitchen()
    clients = tuple(
        client.model_copy(
            update={"allergens": (), "windows_per_week": {}, "windows_per_day": {}}
            | (
                {"windows_per_day": {"energy_kcal": Window(max=most)}}
                if client.client_id == who
                else {}
            )
        )
        for client in scenario.clients
    )
    rows = records(
        counter_swaps(sample_plan(), catalog, scenario.model_copy(update={"clients": clients}))
    )
    (row,) = [row for row in rows if row["instead_id"] == "cod"]
    assert row["why"] == f"breaks the energy window of {who.title()}"


@pytest.mark.parametrize(("days", "allowed"), [(0, False), (1, True), (None, True)])
def test_a_swap_must_keep_until_its_cook_day(days: int | None, allowed: bool) -> None:
    """Bought the day before it is cooked, cod has to keep a day."""
    catalog, scenario = kitchen()
    cod = catalog.foods["cod"].model_copy(update={"keeps_days": days})
    catalog = catalog.model_copy(update={"foods": {**catalog.foods, "cod": cod}})
    plan = sample_plan()
    eve = {"shop_day": -1}
    plan = plan.model_copy(
        update={
            "purchases": tuple(row.model_copy(update=eve) for row in plan.purchases),
            "food_uses": tuple(
                row.model_copy(update={"supply": row.supply.replace("day 0", "day -1")})
                for row in plan.food_uses
            ),
        }
    )
    rows = records(counter_swaps(plan, catalog, scenario))
    (row,) = [row for row in rows if row["instead_id"] == "cod"]
    assert row["allowed"] is allowed
    assert ("does not keep until the cook day" in row["why"]) is not allowed


def cost_changes(plan: Plan) -> list[Decimal | None]:
    """Return what taking cod for haddock changes in the groceries, a batch a row."""
    catalog, scenario = kitchen()
    cod = Pack(
        pack_id="cod_400", food_id="cod", seller_id="quay", sold="pack", size=Decimal(400),
        unit="g", price=Decimal("4.10"), currency="USD", price_date=START,
    )  # fmt: skip
    catalog = catalog.model_copy(update={"packs": {**catalog.packs, "cod_400": cod}})
    rows = records(counter_swaps(plan, catalog, scenario))
    return [row["cost_change"] for row in rows if row["instead_id"] == "cod"]


def with_second_batch() -> Plan:
    """Return the sample plan with a second batch that takes 100 g of the haddock."""
    plan = sample_plan()
    fish = plan.batches[0]
    lines = tuple(line.model_copy(update={"grams": line.grams / 9}) for line in fish.lines)
    second = fish.model_copy(update={"cook_day": 1, "lines": lines})
    used = plan.food_uses[0].model_copy(update={"used_g": {0: 900, 1: 100}})
    return plan.model_copy(
        update={"batches": (*plan.batches, second), "food_uses": (used, *plan.food_uses[1:])}
    )


def test_a_swap_saves_no_pack_that_another_batch_needs() -> None:
    """The second batch's 100 g leave two packs of 500 g needed; a pack of cod comes on top."""
    assert Decimal("4.10") in cost_changes(with_second_batch())


def test_a_swap_pays_nothing_for_packs_that_are_bought_anyway() -> None:
    """A pack of 400 g cod with 200 g used has room for the 100 g of the second batch."""
    plan = with_second_batch()
    cod = plan.purchases[0].model_copy(
        update={"pack_id": "cod_400", "food_id": "cod", "count": 1, "price": Decimal("4.10")}
    )
    used = plan.food_uses[0].model_copy(update={"food_id": "cod", "used_g": {0: 200}})
    plan = plan.model_copy(
        update={"purchases": (*plan.purchases, cod), "food_uses": (*plan.food_uses, used)}
    )
    assert Decimal("0.00") in cost_changes(plan)
