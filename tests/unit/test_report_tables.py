"""The neutral tables of a plan."""

from __future__ import annotations

from decimal import Decimal
from math import isnan

from planopt.report.analysis import tables
from planopt.scenario.records import Window
from report_samples import sample_catalog, sample_plan, sample_scenario

BAKE = "Fish and potato bake, with haddock fillet and parsley"


def test_menu_lists_every_portion_in_eating_order() -> None:
    """Portions come by client, then day, then the order of the day's meals."""
    rows = tables.records(tables.menu(sample_plan(), sample_catalog(), sample_scenario()))
    shown = [(row["client"], row["day"], row["meal"], row["servings"]) for row in rows]
    assert shown[:4] == [
        ("Ana", 1, "lunch", 1.0),
        ("Ana", 1, "dinner", 1.5),
        ("Ana", 2, "lunch", 1.0),
        ("Ana", 2, "dinner", 1.0),
    ]
    assert rows[1]["version"] == "with haddock fillet and parsley"
    assert rows[3]["stored"] == "freezer"
    assert len(rows) == 7


def test_groceries_tell_what_each_food_is_for() -> None:
    """A purchase names every dish that takes food from its shop day, as it is spelled elsewhere."""
    rows = tables.records(tables.groceries(sample_plan(), sample_catalog()))
    assert [(row["food"], row["what_for"]) for row in rows] == [
        ("Potato", (BAKE, "Plain mash")),
        ("Haddock fillet", (BAKE,)),
    ]


def test_seller_totals_add_up_to_the_plan() -> None:
    """The visits' totals are the plan's grocery cost, to the cent."""
    plan = sample_plan()
    rows = tables.records(tables.seller_totals(plan, sample_catalog()))
    assert sum((row["total"] for row in rows), Decimal(0)) == plan.solution.grocery_cost


def test_batches_show_parts_and_hands_on_time() -> None:
    """A dish with two parts lists them; one with a single part lists none."""
    rows = tables.records(tables.batches(sample_plan(), sample_catalog()))
    assert rows[0]["parts"] == ("cold_topping", "main")
    assert rows[1]["parts"] == ()
    assert [row["hands_on_min"] for row in rows] == [25, 20]


def test_windows_are_scaled_on_days_with_meals_away() -> None:
    """One of two meals eaten elsewhere halves that day's window, and no window means no verdict."""
    frame = tables.day_totals(sample_plan(), sample_catalog(), sample_scenario())
    rows = [row for row in tables.records(frame) if row["client"] == "Ben" and row["day"] == 2]
    energy, protein = rows[0], rows[1]
    assert (energy["min"], energy["max"], energy["amount"], energy["met"]) == (200, 450, 240, True)
    assert protein["met"] is None
    assert isnan(protein["min"])


def test_a_missed_window_is_called_missed() -> None:
    """An amount outside its window gives met = False, dust of the solver does not."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    verdicts = []
    for least in (548.001, 548.1):
        windows = {"energy_kcal": Window(min=least)}
        ana = scenario.clients[0].model_copy(update={"windows_per_day": windows})
        strict = scenario.model_copy(update={"clients": (ana,)})
        verdicts.append(tables.records(tables.day_totals(plan, catalog, strict))[0]["met"])
    assert verdicts == [True, False]


def test_week_totals_sum_all_days() -> None:
    """A window over the plan is compared with the sum over its days."""
    frame = tables.week_totals(sample_plan(), sample_catalog(), sample_scenario())
    (row,) = tables.records(frame)
    assert (row["amount"], row["min"], row["met"]) == (90, 40, True)
    assert isnan(row["max"])


def test_leftovers_and_stock() -> None:
    """Leftovers list what is not used up, and the stock table what was used of it."""
    plan = sample_plan()
    left = tables.records(tables.leftovers(plan))
    assert [(row["food"], row["fate"]) for row in left] == [
        ("Potato", "carried"),
        ("Haddock fillet", "wasted"),
        ("Parsley, fresh", "wasted"),
    ]
    (stock,) = tables.records(tables.on_hand(plan, sample_catalog(), sample_scenario()))
    assert (stock["available_g"], stock["used_g"], stock["left_g"]) == (20, 15, 5)


def test_tables_of_an_empty_plan_keep_their_columns() -> None:
    """A plan without purchases or batches gives empty tables, not errors."""
    empty = sample_plan().model_copy(
        update={"purchases": (), "batches": (), "portions": (), "food_uses": ()}
    )
    catalog, scenario = sample_catalog(), sample_scenario()
    frames = [
        tables.menu(empty, catalog, scenario),
        tables.groceries(empty, catalog),
        tables.seller_totals(empty, catalog),
        tables.batches(empty, catalog),
        tables.leftovers(empty),
        tables.on_hand(empty, catalog, scenario),
    ]
    assert all(len(frame) == 0 and len(frame.columns) > 5 for frame in frames)
