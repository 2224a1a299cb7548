"""Labels: what stands on each container, and where each label lies on its sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container
from planopt.report.analysis.labelrules import declared
from planopt.report.analysis.worktables import allergen_names, food_names
from planopt.report.words.contact import made_apart_words
from planopt.report.words.plain import day_text, dish_words, plain, sentence_case
from planopt.scenario.labelsheet import LabelSheet

_MARK_LETTERS = 8


@dataclass(frozen=True)
class Label:
    """The words of one label, and its place: page from 1, corner in mm from the upper left.

    `energy` and the macronutrients are as a label declares them (`report.labelrules`), without
    units. `allergens` are those of the whole dish, and `not_known` its foods whose allergens the
    catalog does not tell. `apart` says what the dish was made apart from for this client, and is
    empty where nothing is claimed. `who` is the client's name with a short mark of the id, since
    two names may look alike.
    """

    container: Container
    who: str
    dish: str
    part: str
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
    dates = [("Cooked", box.cooked_on)]
    if box.freeze_by is not None:
        dates.append(("freeze by", box.freeze_by))
    if box.thaw_on is not None:
        dates.append(("thaw on", box.thaw_on))
    dates.append(("eat by" if box.freeze_by is not None else "use by", box.use_by))
    return tuple((words, day_text(date)) for words, date in dates)


def _places(sheet: LabelSheet, count: int) -> Iterator[tuple[int, Decimal, Decimal]]:
    """Yield page, left and top of as many labels, row by row, after those used up already."""
    left, top = sheet.corner_mm()
    for place in range(sheet.skip, sheet.skip + count):
        page, on_page = divmod(place, sheet.per_sheet())
        row, column = divmod(on_page, sheet.columns)
        yield (
            page + 1,
            left + column * (sheet.label_width_mm + sheet.gap_across_mm),
            top + row * (sheet.label_height_mm + sheet.gap_down_mm),
        )


def _who(name: str, mark: str) -> str:
    return name if name == mark else f"{name} \N{MIDDLE DOT} {mark}"


def labels_of(
    containers: Sequence[Container], catalog: Catalog, sheet: LabelSheet
) -> tuple[Label, ...]:
    """Return the labels of all containers, in the order of packing.

    The sheet is taken as it is; `LabelSheet.misfits` tells whether its labels fit the page.
    """
    found = []
    marks = client_marks(box.client_id for box in containers)
    for box, (page, left, top) in zip(containers, _places(sheet, len(containers)), strict=True):
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
