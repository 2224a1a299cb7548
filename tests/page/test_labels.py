"""Labels and their sheets: what stands on each, where it lies, and what does not fit."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from kitchens import write_kitchen
from planopt.catalog.load import load_catalog
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.faults import BadInput
from planopt.report.analysis.labels import client_marks, labels_of
from planopt.report.page.html import labels_html
from planopt.report.page.labelfit import RUNGS, Words, largest_rung
from planopt.report.terminal.screens import labels_screen
from planopt.report.words.keeping import keep_words, place_of
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.reading.load import load_kitchen
from report_samples import sample_catalog, sample_plan, sample_scenario

CATALOG = Path(__file__).resolve().parents[2] / "catalogs"


def sample_labels(**sheet: Any) -> Any:
    """Return the labels of the sample plan on a sheet."""
    catalog = sample_catalog()
    boxes = containers_of(sample_plan(), catalog, sample_scenario())
    return boxes, labels_of(boxes, catalog, LabelSheet(**sheet))


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_the_usual_grid_fits_both_papers_and_is_centred(page: str) -> None:
    """ISO 216 A4 and ANSI Letter: equal margins left and right, above and below."""
    sheet = LabelSheet.model_validate({"page": page})
    assert list(sheet.misfits()) == []
    (width, height), (left, top) = sheet.grid_mm(), sheet.corner_mm()
    assert (2 * left + width, 2 * top + height) == sheet.page_mm()
    assert min(left, top) > 5, "printers leave a border of some millimetres white"


def test_every_container_has_one_label_in_its_place() -> None:
    """Places run along rows, skip what is used up, and begin anew on the next page."""
    boxes, labels = sample_labels(columns=2, rows=2, skip=3, left_mm=10, top_mm=20, order="client")
    assert [label.container for label in labels] == list(boxes)
    places = [(label.page, label.left_mm, label.top_mm) for label in labels[:4]]
    assert places == [(1, 108, 73), (2, 10, 20), (2, 108, 20), (2, 10, 73)]
    assert all(isinstance(label.left_mm, Decimal) for label in labels)


def test_no_two_labels_overlap() -> None:
    """On each page the labels are whole sheets apart in one direction at least."""
    sheet = LabelSheet()
    _, labels = sample_labels()
    for n, one in enumerate(labels):
        for other in labels[n + 1 :]:
            if one.page == other.page:
                across = abs(one.left_mm - other.left_mm) >= sheet.label_width_mm
                assert across or abs(one.top_mm - other.top_mm) >= sheet.label_height_mm


def test_a_label_tells_what_is_in_its_box() -> None:
    """Ana's fish of day 1: 1.5 servings, 240 kcal, topping apart, energy rounded for labels."""
    boxes, labels = sample_labels(order="client")
    fish = [
        label
        for label, box in zip(labels, boxes, strict=True)
        if (box.client_id, box.day, box.recipe_id) == ("ana", 1, "fish_bake")
    ]
    assert [label.part for label in fish] == ["main part", "cold topping part"]
    assert fish[0].dish == "Fish and potato bake, with haddock fillet and parsley"
    # The nutrients of the catalog's foods, main part of 1.5 of 6 servings: 225 g fish at 75 kcal
    # and 84.375 g potato at 77, 233.7 kcal; 31 g protein.
    assert (fish[0].energy_kcal, fish[0].protein_g) == ("230", "31")


def test_the_file_has_dates_portion_and_allergens() -> None:
    """Dish, client, cooked on, use by, portion and what it contains stand on the label."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    text = labels_html(plan, catalog, scenario, containers_of(plan, catalog, scenario))
    text = text.replace("\N{NO-BREAK SPACE}", " ")
    for words in (
        "Plain mash", "Ana · ana, lunch", "Sun 3 Jan", "Use by", "1 serving, 200 g before cooking",
        "No listed allergen", "Keep in the freezer, thaw in the fridge; ", "size: 210mm 297mm",
        "freeze by", "thaw on", "Eat by",
    ):  # fmt: skip
        assert words in text, words
    assert " Mar" not in text, "a use-by date months away beside the day of thawing"


def test_labels_come_by_dish_as_packed_or_by_client() -> None:
    """By dish: all boxes of one pot together, in the order in which the timetable packs them."""
    catalog, scenario = sample_catalog(), sample_scenario()
    boxes = containers_of(sample_plan(), catalog, scenario)
    days = schedule_cook_days(sample_plan(), catalog, scenario)
    packed = {dish.recipe_id: dish.packed_minute for day in days for dish in day.dishes}
    assert len(set(packed.values())) == len(packed) > 1
    by_dish = labels_of(boxes, catalog, LabelSheet(), days)
    pots = [(one.container.recipe_id, one.container.part) for one in by_dish]
    runs = [pot for n, pot in enumerate(pots) if n == 0 or pots[n - 1] != pot]
    assert len(runs) == len(set(pots)) > 2
    minutes = [packed[recipe_id] for recipe_id, _ in pots]
    assert minutes == sorted(minutes)
    by_client = labels_of(boxes, catalog, LabelSheet(order="client"), days)
    assert [one.container.number for one in by_client] == [box.number for box in boxes]


def test_each_cook_day_begins_a_sheet() -> None:
    """Labels of the second cook day are on pages of their own, from the first place on."""
    catalog, scenario = sample_catalog(), sample_scenario()
    boxes = [
        box.model_copy(update={"cook_day": int(box.day == 2)})
        for box in containers_of(sample_plan(), catalog, scenario)
    ]
    labels = labels_of(boxes, catalog, LabelSheet(skip=8))
    pages = {day: {one.page for one in labels if one.container.cook_day == day} for day in (0, 1)}
    assert pages == {0: {1, 2}, 1: {3}}
    second = [one for one in labels if one.container.cook_day == 1]
    assert (second[0].left_mm, second[0].top_mm) == LabelSheet().corner_mm()


def test_dry_goods_are_not_told_to_go_in_the_fridge() -> None:
    """A trail mix, rice cakes kept apart and nuts go in a cupboard; bananas and garlic oil do not.

    The shipped catalog says what is in them; that dry food needs no fridge is common practice.
    """
    catalog = load_catalog(CATALOG)
    (box, *_) = containers_of(sample_plan(), sample_catalog(), sample_scenario())

    def kept(recipe_id: str, part: str = "main", stored: str = "fridge") -> str:
        at = box.model_copy(update={"recipe_id": recipe_id, "part": part, "stored": stored})
        return place_of(catalog, at)

    assert kept("seed_nut_trail_mix") == "cupboard"
    assert kept("rice_cakes_peanut_banana", "dry") == "cupboard"
    assert kept("three_bean_salad", "crunchy") == "cupboard"
    assert kept("rice_cakes_peanut_banana", "fruit") == "fridge"
    assert kept("rice_cakes_peanut_banana") == "fridge"
    assert kept("three_bean_salad", "crunchy", "freezer") == "freezer"
    salad = catalog.recipes["three_bean_salad"]
    # Both stand on a shelf; the one keeps for weeks and is mostly water, the other is fresh.
    for food in ("vinegar_cider", "garlic"):
        lines = tuple(
            line.model_copy(update={"food": food}) if line.part == "crunchy" else line
            for line in salad.lines
        )
        recipe = salad.model_copy(update={"lines": lines})
        recipes = {**catalog.recipes, "three_bean_salad": recipe}
        catalog = catalog.model_copy(update={"recipes": recipes})
        assert kept("three_bean_salad", "crunchy") == "fridge", food
    assert keep_words(catalog, box.model_copy(update={"recipe_id": "seed_nut_trail_mix"})) == (
        "Keep closed in a dry cupboard; eat as it is"
    )


def test_type_is_as_large_as_the_label_allows() -> None:
    """Few words are set in the first rung; many in a smaller one, and none below 8 points."""
    few = [Words("Plain mash", "dish", bold=True), Words("Use by Wed 6 Jan", "date", bold=True)]
    assert largest_rung([few], 94, 50) == (0, 0)
    many = [*few, Words("Contains " + "celery, " * 64, "rest", bold=True)]
    choice, rung = largest_rung([many], 94, 50)
    assert (choice, RUNGS[rung].rest) == (0, 8)
    assert largest_rung([many, few], 50, 38) == (1, 0), "fewer words before smaller ones"
    assert largest_rung([many], 50, 38)[1] >= len(RUNGS), "all words before all sizes"


def test_the_day_to_eat_it_by_stays_large_where_there_are_many_words() -> None:
    """A long dish with allergens and what it was made apart from keeps its date at 14 points."""
    words = [
        Words("Quinoa bowl with black beans and roast sweet potato, with dry black beans: "
              "crunchy part", "dish", bold=True),
        Words("June \N{MIDDLE DOT} june, dinner, Mon 30 Nov", "who", bold=True),
        Words("Use by Wed 2 Dec", "date", bold=True, tail="Box 62\N{MIDDLE DOT}265f"),
        Words("Cooked Sun 29 Nov. Keep closed in a dry cupboard; eat as it is", "rest"),
        Words("1 serving, 10 g before cooking: 60 kcal, protein 3 g, fat 5 g, "
              "carbohydrate 1 g", "rest"),
        Words("No listed allergen", "rest", bold=True),
        Words("Made apart from: crustaceans, fish; traces not ruled out", "rest"),
    ]  # fmt: skip
    choice, rung = largest_rung([words], 94, 50)
    assert choice == 0
    assert RUNGS[rung].date == 14
    assert RUNGS[rung].dish < 13, "the dish gives way first"


def test_two_clients_of_one_name_have_labels_that_differ() -> None:
    """A short mark of the id stands beside the name: at least eight letters, or the whole id."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    clients = tuple(one.model_copy(update={"name": "Ana"}) for one in scenario.clients)
    twins = scenario.model_copy(update={"clients": clients})
    boxes = containers_of(plan, catalog, twins)
    ids = {one.client_id for one in clients}
    assert len(ids) == 2
    text = labels_html(plan, catalog, twins, boxes)
    screen = labels_screen(boxes, catalog, twins)
    for one in ids:
        assert f"Ana · {one}, " in text
        assert f"Ana · {one}, " in screen
    long = {"christopher_a": "christopher_a", "christopher_b": "christopher_b", "ana": "ana",
            "anabella_rose": "anabella", "ana_2": "ana_2"}  # fmt: skip
    assert client_marks(long) == long


def test_a_client_shown_by_id_alone_has_no_mark_besides() -> None:
    """Where the id stands for the name it is not said twice."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    clients = tuple(one.model_copy(update={"name": one.client_id}) for one in scenario.clients)
    boxes = containers_of(plan, catalog, scenario.model_copy(update={"clients": clients}))
    assert "·" not in labels_screen(boxes, catalog, scenario)


def test_allergens_that_are_not_known_are_named_on_the_label() -> None:
    """A dish of which one food is unknown says so, whatever else is known of it."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    foods = {
        "haddock": catalog.foods["haddock"].model_copy(update={"allergens": ("fish",)}),
        "potato": catalog.foods["potato"].model_copy(update={"allergens": ("not_known",)}),
    }
    changed = catalog.model_copy(update={"foods": {**catalog.foods, **foods}})
    boxes = containers_of(plan, changed, scenario)
    assert all(box.foods_not_known == ("potato",) for box in boxes)
    assert not any("not_known" in (*box.allergens, *box.allergens_of_dish) for box in boxes)
    for text in (
        labels_html(plan, changed, scenario, boxes),
        " ".join(labels_screen(boxes, changed, scenario).split()),
    ):
        assert "Contains fish. Allergens not known: potato" in text
        assert "No listed allergen" not in text


@pytest.mark.parametrize(
    ("sheet", "field", "why"),
    [
        ({"columns": 3}, "columns",
         "the labels and gaps need 290 mm across, the page is 210 mm wide"),
        ({"rows": 6}, "rows", "the labels and gaps need 315 mm down, the page is 297 mm high"),
        ({"left_mm": 19}, "columns",
         "the labels and gaps need 211 mm across, the page is 210 mm wide"),
        ({"skip": 10}, "skip", "a sheet has only 10 labels"),
        ({"page": {"width_mm": 100, "height_mm": 400}}, "columns",
         "the labels and gaps need 192 mm across, the page is 100 mm wide"),
    ],
)  # fmt: skip
def test_a_sheet_that_does_not_fit_is_refused(
    tmp_path: Path, sheet: dict[str, Any], field: str, why: str
) -> None:
    """The scenario has a fault at the field to blame."""
    with pytest.raises(BadInput) as caught:
        load_kitchen(write_kitchen(tmp_path, label_sheet=sheet))
    (fault,) = caught.value.faults
    assert (fault.code, fault.field) == ("label_sheet_misfit", f"label_sheet.{field}")
    assert fault.why == why


def test_labels_too_small_to_read_are_refused() -> None:
    """Below 50 x 38 mm the words would be smaller than print may be on food.

    Regulation (EU) No 1169/2011, Article 13(3): an x-height of 0.9 mm at least on small packs.
    """
    with pytest.raises(ValidationError):
        LabelSheet(label_height_mm=Decimal(37))
