"""The report page as HTML: one file, no network, names always as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container, CookDaySchedule
from planopt.plan.records import Plan
from planopt.report.analysis.groupsmet import HEADERS as GROUP_HEADERS
from planopt.report.analysis.groupsmet import TITLE as GROUPS
from planopt.report.analysis.groupsmet import groups_met
from planopt.report.analysis.mealgrid import ABOUT as GRID_ABOUT
from planopt.report.analysis.mealgrid import TIED as GRID_TIED
from planopt.report.analysis.mealgrid import TITLE as GRID
from planopt.report.analysis.mealgrid import USUAL as GRID_USUAL
from planopt.report.analysis.mealgrid import meal_grid
from planopt.report.analysis.references import TITLE, reference_part
from planopt.report.page.cooking import cooking
from planopt.report.page.diary import diary
from planopt.report.page.glance import glance
from planopt.report.page.labelpage import labels_html as labels_html
from planopt.report.page.labelpage import sheet_words
from planopt.report.page.packing import packing
from planopt.report.page.parts import SUBJECTS, cautions_about, own_cautions, plan_mark
from planopt.report.page.shopping import shopping
from planopt.report.page.short import short_form
from planopt.report.page.templating import page_footer, policy, rendered, source
from planopt.report.page.why import leftovers, why
from planopt.report.words.plain import plural, short_day, span_words
from planopt.scenario.records import Scenario

# Standing cautions that stand first of all: what a coach must have read before the week begins.
_FIRST = ("Allergens", "Licensed care first")


_GRID_WORDS = {
    "title": GRID,
    # Written as Markdown; here quotes say the same.
    "about": GRID_ABOUT.replace("`", '"'),
    "usual": GRID_USUAL.replace("`", '"'),
    "tied": GRID_TIED,
}


def report_html(
    plan: Plan,
    catalog: Catalog,
    scenario: Scenario,
    schedules: Sequence[CookDaySchedule],
    containers: Sequence[Container],
) -> str:
    """Return report.html: views to shop, cook, pack and eat from, and what it all comes to.

    Everything is inside the one text; it is readable without script and asks for nothing outside.
    """
    shop = shopping(plan, catalog, scenario)
    cook = cooking(plan, catalog, scenario, schedules, containers)
    script = source("ticks.js").strip()
    mark = plan_mark(plan)
    first = [*own_cautions(plan), *cautions_about(plan, _FIRST)]
    context: dict[str, Any] = {
        "mark": mark,
        "policy": policy(script),
        "css": Markup(source("page.css")),
        "footer": page_footer(plan.scenario_name, mark),
        "script": Markup(script),
        "name": plan.scenario_name,
        "span": span_words(plan),
        "clients": plural(len(scenario.clients), "client"),
        "note": scenario.note,
        "first": first,
        # Printed where they matter, they are not printed a second time.
        "elsewhere": {*first, *cautions_about(plan, SUBJECTS)},
        "diary": diary(shop["visits"], schedules, cook["days"], containers),
        "week": glance(plan, catalog, scenario),
        "mealgrid": meal_grid(plan, scenario),
        "groups_met": groups_met(plan, catalog, scenario),
        "groups_words": {"title": GROUPS, "headers": GROUP_HEADERS},
        "mealgrid_words": _GRID_WORDS,
        "days": [short_day(scenario.date_of(day)) for day in range(1, scenario.days + 1)],
        "shopping": shop,
        "cooking": cook,
        "packing": packing(plan, catalog, schedules, containers),
        "sheet": sheet_words(scenario.label_sheet),
        "leftovers": leftovers(plan, catalog),
        "why": why(plan, catalog, scenario, shop["swaps"]),
        "eaten": short_form(plan, catalog, scenario),
        "cautions": plan.cautions,
        "outside": reference_part(plan, catalog, scenario),
        "outside_title": TITLE,
        "version": plan.planopt_version,
        "scenario_file": plan.scenario_file,
    }
    return rendered("report.html", context)
