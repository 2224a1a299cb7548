"""Labels: what stands on each container, and where each label lies on its sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.report.analysis.labelrules import declared
from planopt.report.analysis.worktables import allergen_names, food_names
from planopt.report.words.contact import made_apart_words
from planopt.report.words.keeping import keep_words
from planopt.report.words.plain import (
    dish_words,
    number,
    plain,
    plural,
    sentence_case,
    short_day,
    unbroken,
)
from planopt.scenario.labelsheet import LabelSheet

_MARK_LETTERS = 8


@dataclass(frozen=True)
class Label:
    """The words of one label, and its place: page from 1, corner in mm from the upper left.

    `energy` and the macronutrients are as a label declares them (`report.labelrules`), without
    units. `allergens` are those of the whole dish, and `not_known` its foods whose allergens the
    catalog does not tell. `apart` says what the dish was made apart from for this client, and is
    empty where nothing is claimed. `who` is the client's name with a short mark of the id, since
    two names may look alike. `keep` says where the box is kept and how it is eaten.
    """

    container: Container
    who: str
    dish: str
    part: str
    portion: str
    keep: str
    energy_kcal: str
    protein_g: str
    fat_g: str
    carbohydrate_g: str
    allergens: tuple[str, ...]
    not_known: tuple[str, ...]
    apart: str
    page: int
    left_mm: Decimal
    top_mm: Decimal


def client_marks(ids: Iterable[str]) -> dict[str, str]:
    """Return a short mark for each client id: its first letters, as many as it takes to know it."""
    known = set(ids)

    def mark(one: str) -> str:
        for length in range(_MARK_LETTERS, len(one)):
            if not any(other.startswith(one[:length]) for other in known - {one}):
                return one[:length]
        return one

    return {one: mark(one) for one in known}


def contains_words(allergens: Sequence[str], not_known: Sequence[str]) -> str:
    """Return what a label says of allergens; foods of which they are not known are named."""
    known = "Contains " + ", ".join(allergens) if allergens else "No listed allergen"
    if not not_known:
        return known
    unknown = "Allergens not known: " + ", ".join(not_known)
    return f"{known}. {unknown}" if allergens else unknown


def date_words(box: Container) -> tuple[tuple[str, str], ...]:
    """Return the dates of a label as pairs of words and date, the last being that to eat it by."""
    if box.freeze_by == box.cooked_on:
        dates = [("Cooked, freeze by", box.cooked_on)]
    else:
        dates = [("Cooked", box.cooked_on)]
        if box.freeze_by is not None:
            dates.append(("freeze by", box.freeze_by))
    if box.thaw_on is not None:
        dates.append(("thaw on", box.thaw_on))
    dates.append(("eat by" if box.freeze_by is not None else "use by", box.use_by))
    return tuple((words, short_day(date)) for words, date in dates)


def _places(
    sheet: LabelSheet, boxes: Sequence[Container]
) -> Iterator[tuple[int, Decimal, Decimal]]:
    """Yield page, left and top of as many labels, row by row, after those used up already.

    Each cook day begins a sheet, so that its labels can be printed on the day.
    """
    left, top = sheet.corner_mm()
    place = sheet.skip
    for before, box in zip([None, *boxes], boxes, strict=False):
        if before is not None and before.cook_day != box.cook_day:
            place = -(-place // sheet.per_sheet()) * sheet.per_sheet()
        page, on_page = divmod(place, sheet.per_sheet())
        row, column = divmod(on_page, sheet.columns)
        place += 1
        yield (
            page + 1,
            left + column * (sheet.label_width_mm + sheet.gap_across_mm),
            top + row * (sheet.label_height_mm + sheet.gap_down_mm),
        )


def _who(name: str, mark: str) -> str:
    return name if name == mark else f"{name} \N{MIDDLE DOT} {mark}"


def in_label_order(
    containers: Sequence[Container], sheet: LabelSheet, schedules: Sequence[CookDaySchedule] = ()
) -> list[Container]:
    """Return the boxes of each cook day as the sheet orders them.

    By dish they come as the timetable packs them, or by name where none is given; by client in the
    order of their numbers.
    """
    packed = {
        (day.cook_day, dish.recipe_id, dish.version): dish.packed_minute
        for day in schedules
        for dish in day.dishes
    }

    def key(box: Container) -> tuple[object, ...]:
        if sheet.order == "client":
            return (box.cook_day, box.number)
        at = packed.get((box.cook_day, box.recipe_id, box.version), 0)
        parts = (box.part != "main", box.part)
        return (box.cook_day, at, box.recipe_name, box.recipe_id, box.version, *parts, box.number)

    return sorted(containers, key=key)


def portion_words(box: Container) -> str:
    """Return what a box holds, for example `1.5 servings, 410 g before cooking`."""
    grams = number(box.grams, 0 if box.grams >= 20 else 1)
    return f"{unbroken(plural(box.servings, 'serving'))}, {unbroken(f'{grams} g')} before cooking"


def labels_of(
    containers: Sequence[Container],
    catalog: Catalog,
    sheet: LabelSheet,
    schedules: Sequence[CookDaySchedule] = (),
) -> tuple[Label, ...]:
    """Return the labels of all containers, in the order of the sheet.

    The sheet is taken as it is; `LabelSheet.misfits` tells whether its labels fit the page.
    """
    found = []
    marks = client_marks(box.client_id for box in containers)
    ordered = in_label_order(containers, sheet, schedules)
    for box, (page, left, top) in zip(ordered, _places(sheet, ordered), strict=True):
        told = {
            nutrient_id: declared(nutrient_id, box.nutrients.get(nutrient_id, 0.0))
            for nutrient_id in ("energy_kcal", "protein_g", "fat_g", "carbohydrate_g")
        }
        part = "" if box.parts_of_portion == 1 else f"{plain(box.part)} part"
        found.append(
            Label(
                container=box,
                who=_who(box.client_name, marks[box.client_id]),
                dish=dish_words(catalog, box.recipe_id, box.recipe_name, box.version),
                part=part,
                portion=portion_words(box),
                keep=keep_words(catalog, box),
                allergens=tuple(
                    sentence_case(name) for name in allergen_names(catalog, box.allergens_of_dish)
                ),
                not_known=food_names(catalog, box.foods_not_known),
                apart=made_apart_words(catalog, box.made_apart_from),
                page=page,
                left_mm=left,
                top_mm=top,
                **told,
            )
        )
    return tuple(found)
