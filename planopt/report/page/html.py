"""The report page as HTML: one file, no network, names always as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis.references import TITLE, reference_part
from planopt.report.page.cooking import cooking, storing
from planopt.report.page.glance import glance
from planopt.report.page.labelpage import labels_html as labels_html
from planopt.report.page.labelpage import sheet_words
from planopt.report.page.parts import plan_mark
from planopt.report.page.shopping import shopping
from planopt.report.page.templating import policy, rendered, source
from planopt.report.page.why import leftovers, why
from planopt.report.words.plain import plural, span_text
from planopt.scenario.records import Scenario


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
    script = source("ticks.js").strip()
    context: dict[str, Any] = {
        "mark": plan_mark(plan),
        "policy": policy(script),
        "css": Markup(source("page.css")),
        "script": Markup(script),
        "name": plan.scenario_name,
        "span": span_text(plan),
        "clients": plural(len(scenario.clients), "client"),
        "note": scenario.note,
        "week": glance(plan, catalog, scenario),
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
    return rendered("report.html", context)
