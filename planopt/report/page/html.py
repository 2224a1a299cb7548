"""The report page and the label sheets as HTML: one file each, no network, names always as text."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from decimal import Decimal
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis.labels import Label, contains_words, date_words, labels_of
from planopt.report.analysis.mealgrid import ABOUT as GRID_ABOUT
from planopt.report.analysis.mealgrid import TITLE as GRID
from planopt.report.analysis.mealgrid import USUAL as GRID_USUAL
from planopt.report.analysis.mealgrid import meal_grid
from planopt.report.analysis.references import TITLE, reference_part
from planopt.report.markdown.cooksheets import REHEAT_C
from planopt.report.page.cooking import cooking, storing
from planopt.report.page.glance import glance
from planopt.report.page.parts import clean, plan_mark
from planopt.report.page.shopping import shopping
from planopt.report.page.why import leftovers, why
from planopt.report.words.plain import day_text, fahrenheit, number, plain, plural, span_text
from planopt.scenario.labelsheet import LabelSheet
from planopt.scenario.records import Scenario

# Letters on a label for each square millimetre; above these its type is set smaller. Found by
# setting long labels in a browser; tests/page measures that nothing is cut off.
_DATE_LETTERS = 15
_USUAL, _TIGHT, _FULL = Decimal("0.075"), Decimal("0.115"), Decimal("0.32")


def _shown(value: object) -> object:
    """Return what a template shows, texts without what cannot be read; markup of ours as it is."""
    return clean(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("planopt.report.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )


def _source(name: str) -> str:
    environment = _environment()
    assert environment.loader is not None
    return environment.loader.get_source(environment, name)[0]


def _policy(script: str) -> str:
    """Return a content policy that lets nothing in from outside and runs only our own script."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"


def sheet_words(sheet: LabelSheet) -> str:
    """Return a label sheet in words."""
    width, height = sheet.page_mm()
    page = sheet.page if isinstance(sheet.page, str) else "of another size"
    return (
        f"{sheet.columns} by {sheet.rows} labels of {number(sheet.label_width_mm, 1)} x "
        f"{number(sheet.label_height_mm, 1)} mm on a page {page} "
        f"({number(width, 1)} x {number(height, 1)} mm)"
    )


def report_html(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    containers: Sequence[Container],
) -> str:
    """Return report.html: the week, shopping, cook days, containers, leftovers, reasons, cautions.

    Everything is inside the one text; it is readable without script and asks for nothing outside.
    """
    shop = shopping(plan, catalog, scenario)
    script = _source("ticks.js").strip()
    context: dict[str, Any] = {
        "mark": plan_mark(plan),
        "policy": _policy(script),
        "css": Markup(_source("page.css")),
        "script": Markup(script),
        "name": plan.scenario_name,
        "span": span_text(plan),
        "clients": plural(len(scenario.clients), "client"),
        "note": scenario.note,
        "week": glance(plan, catalog, scenario),
        "mealgrid": meal_grid(plan, scenario),
        "mealgrid_words": {"title": GRID, "about": GRID_ABOUT, "usual": GRID_USUAL},
        "shopping": shop,
        "cooking": cooking(plan, catalog, scenario, schedules, containers),
        "storing": {
            **storing(plan, catalog, containers),
            "sheet": sheet_words(scenario.label_sheet),
        },
        "leftovers": leftovers(plan, catalog),
        "why": why(plan, catalog, scenario, shop["swaps"]),
        "cautions": plan.cautions,
        "outside": reference_part(plan, catalog, scenario),
        "outside_title": TITLE,
        "version": plan.planopt_version,
        "scenario_file": plan.scenario_file,
    }
    return _environment().get_template("report.html").render(context)


def _keep(box: Container) -> str:
    frozen = box.stored == "freezer"
    where = "Keep in the freezer, thaw in the fridge" if frozen else "Keep in the fridge"
    hot = f"heat through to {fahrenheit(REHEAT_C)}"
    served = {"reheated": hot, "cold": "eat cold", "either": f"eat cold, or {hot}"}[box.serve]
    return f"{where}; {served}"


def _label(label: Label, sheet: LabelSheet, place: str) -> dict[str, Any]:
    box = label.container
    words = {
        "dish": label.dish,
        "part": label.part,
        "client": label.who,
        "meal": plain(box.meal),
        "day": day_text(box.date),
        "keep": _keep(box),
        "number": str(box.number),
        "portion": plural(box.servings, "serving"),
        "energy": label.energy_kcal,
        "protein": label.protein_g,
        "fat": label.fat_g,
        "carbohydrate": label.carbohydrate_g,
        "contains": contains_words(label.allergens, label.not_known),
        "apart": label.apart,
    }
    dates = date_words(box)
    letters = sum(len(text) for text in words.values()) + 75
    # A date counts alike in every locale, so that words alone decide on the size of the letters.
    letters += (
        sum(len(word) + _DATE_LETTERS for word, _ in dates) + _DATE_LETTERS - len(words["day"])
    )
    crowd = Decimal(letters) / (sheet.label_width_mm * sheet.label_height_mm)
    if crowd > _FULL:
        # What is claimed can be left out; what must be known cannot.
        words["apart"] = ""
    size = "" if crowd <= _USUAL else " tight" if crowd <= _TIGHT else " dense"
    return {**words, "dates": dates, "place": place, "size": size}


def labels_html(
    plan: Plan, catalog: Catalog, scenario: Scenario, containers: Sequence[Container]
) -> str:
    """Return labels.html: a label for each container, on pages of the scenario's label sheet."""
    sheet = scenario.label_sheet
    labels = labels_of(containers, catalog, sheet)
    spots = sorted({(label.top_mm, label.left_mm) for label in labels})
    names = {spot: f"at{n}" for n, spot in enumerate(spots)}
    pages: dict[int, list[dict[str, Any]]] = {}
    for label in labels:
        spot = (label.top_mm, label.left_mm)
        pages.setdefault(label.page, []).append(_label(label, sheet, names[spot]))
    width, height = sheet.page_mm()
    context: dict[str, Any] = {
        "name": plan.scenario_name,
        "count": plural(len(labels), "label"),
        "sheet": sheet_words(sheet),
        # Lengths in CSS have a decimal point in every locale.
        "width": f"{width:f}",
        "height": f"{height:f}",
        "label_width": f"{sheet.label_width_mm:f}",
        "label_height": f"{sheet.label_height_mm:f}",
        "places": [
            {"name": names[spot], "top": f"{spot[0]:f}", "left": f"{spot[1]:f}"} for spot in spots
        ],
        "pages": [pages[page] for page in sorted(pages)],
    }
    return _environment().get_template("labels.html").render(context)
