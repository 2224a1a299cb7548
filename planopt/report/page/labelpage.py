"""The label sheets as HTML: a label for each container, its type as large as the label allows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis.labels import Label, contains_words, date_words, labels_of
from planopt.report.page.labelfit import (
    GAP,
    HEAD_LINE,
    LAST_RUNGS,
    LINE,
    PAD_ACROSS,
    PAD_DOWN,
    RUNGS,
    TIGHT_ACROSS,
    TIGHT_DOWN,
    TIGHT_GAP,
    Words,
    largest_rung,
)
from planopt.report.page.parts import plan_mark, readable
from planopt.report.page.templating import rendered
from planopt.report.words.plain import number, plain, plural, short_day, unbroken
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.records import Scenario

_MARK_LETTERS = 4


def sheet_words(sheet: LabelSheet) -> str:
    """Return a label sheet in words."""
    width, height = sheet.page_mm()
    page = sheet.page if isinstance(sheet.page, str) else "of another size"
    return (
        f"{sheet.columns} by {sheet.rows} labels of {number(sheet.label_width_mm, 1)} x "
        f"{number(sheet.label_height_mm, 1)} mm on a page {page} "
        f"({number(width, 1)} x {number(height, 1)} mm)"
    )


def _paragraphs(words: dict[str, Any]) -> list[Words]:
    """Return the words of a label as its template sets them."""
    dish = f"{words['dish']}: {words['part']}" if words["part"] else words["dish"]
    by, until = words["dates"][-1]
    before = ", ".join(f"{word} {date}" for word, date in words["dates"][:-1])
    macros = f": {words['macros']}" if words["macros"] else ""
    lines = [
        Words(dish, "dish", bold=True),
        Words(f"{words['client']}, {words['meal']}, {words['day']}", "who", bold=True),
        Words(f"{by} {until}", "date", bold=True, tail=f"Box {words['mark']}"),
        Words(f"{before}. {words['keep']}", "rest"),
        Words(f"{words['portion']}{macros}", "rest"),
        Words(words["contains"], "rest", bold=True),
    ]
    return [*lines, Words(words["apart"], "rest")] if words["apart"] else lines


def _label(label: Label, sheet: LabelSheet, place: str, mark: str) -> dict[str, Any]:
    box = label.container
    words: dict[str, Any] = {
        "dish": label.dish,
        "part": label.part,
        "client": label.who,
        "meal": plain(box.meal),
        "day": short_day(box.date),
        "keep": label.keep,
        "mark": mark,
        "portion": label.portion,
        "macros": ", ".join(
            unbroken(text)
            for text in (
                f"{label.energy_kcal} kcal",
                f"protein {label.protein_g} g",
                f"fat {label.fat_g} g",
                f"carbohydrate {label.carbohydrate_g} g",
            )
        ),
        "contains": contains_words(label.allergens, label.not_known),
        "apart": label.apart,
    }
    words = {name: readable(text) for name, text in words.items()}
    *before, (by, until) = date_words(box)
    words["dates"] = [*before, (by.capitalize(), until)]
    # What is claimed and what is for information can be left out; what must be known cannot.
    choices = [words, {**words, "apart": ""}, {**words, "apart": "", "macros": ""}]
    chosen, rung = largest_rung(
        [_paragraphs(one) for one in choices],
        float(sheet.label_width_mm),
        float(sheet.label_height_mm),
    )
    return {
        **choices[chosen],
        "place": place,
        "size": f"r{rung}" + (" tight" if rung >= len(RUNGS) else ""),
    }


def labels_html(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    containers: Sequence[Container],
    schedules: Sequence[CookDaySchedule] = (),
) -> str:
    """Return labels.html: a label for each container, on pages of the scenario's label sheet."""
    sheet = scenario.label_sheet
    labels = labels_of(containers, catalog, sheet, schedules)
    spots = sorted({(label.top_mm, label.left_mm) for label in labels})
    names = {spot: f"at{n}" for n, spot in enumerate(spots)}
    pages: dict[int, list[dict[str, Any]]] = {}
    week = plan_mark(plan)[:_MARK_LETTERS]
    for label in labels:
        spot = (label.top_mm, label.left_mm)
        # Tells a box from those of other weeks.
        mark = f"{label.container.number}\N{MIDDLE DOT}{week}"
        pages.setdefault(label.page, []).append(_label(label, sheet, names[spot], mark))
    width, height = sheet.page_mm()
    context: dict[str, Any] = {
        "name": plan.scenario_name,
        "count": plural(len(labels), "label"),
        "sheet": sheet_words(sheet),
        "order": "dish, as packed" if sheet.order == "dish" else "client",
        # Lengths in CSS have a decimal point in every locale.
        "width": f"{width:f}",
        "height": f"{height:f}",
        "label_width": f"{sheet.label_width_mm:f}",
        "label_height": f"{sheet.label_height_mm:f}",
        "pads": f"{PAD_DOWN:g}mm {PAD_ACROSS:g}mm",
        "tight_pads": f"{TIGHT_DOWN:g}mm {TIGHT_ACROSS:g}mm",
        "gap": f"{GAP:g}",
        "tight_gap": f"{TIGHT_GAP:g}",
        "line": f"{LINE:g}",
        "head_line": f"{HEAD_LINE:g}",
        "rungs": [
            {name: f"{getattr(rung, name):g}" for name in ("dish", "date", "who", "rest")}
            for rung in (*RUNGS, *LAST_RUNGS)
        ],
        "places": [
            {"name": names[spot], "top": f"{spot[0]:f}", "left": f"{spot[1]:f}"} for spot in spots
        ],
        "pages": [pages[page] for page in sorted(pages)],
    }
    return rendered("labels.html", context)
