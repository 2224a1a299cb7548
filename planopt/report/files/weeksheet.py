"""The first sheet of a workbook: who eats what on which day, as a grid of the week."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.analysis import tables
from planopt.report.words.plain import plain, plural
from planopt.scenario.records import Scenario

_SUMS = (("energy_kcal", "Energy, kcal"), ("protein_g", "Protein, g"))


@dataclass(frozen=True)
class GridRow:
    """A client's meal, or a sum of the client's days, and a cell for each day.

    Cells of sums are numbers, None where nothing is eaten.
    """

    client: str
    name: str
    cells: tuple[str | float | None, ...]
    nutrient_id: str = ""


def grid_dates(scenario: Scenario) -> list[date]:
    """Return the dates that the columns are of."""
    return [scenario.date_of(day) for day in range(1, scenario.days + 1)]


def grid_rows(plan: Plan, catalog: Catalog, scenario: Scenario) -> list[GridRow]:
    """Return the rows of all clients: their meals in the order of the day, then sums of days."""
    menu = tables.records(tables.spelled(tables.menu(plan, catalog, scenario)))
    days = range(1, scenario.days + 1)
    rows = []
    for client in scenario.clients:
        mine = [row for row in menu if row["client_id"] == client.client_id]
        wanted = client.meals if client.meals is not None else scenario.meals
        for meal in dict.fromkeys((*scenario.meals, *(row["meal"] for row in mine))):
            today = [[r for r in mine if (r["day"], r["meal"]) == (day, meal)] for day in days]
            if meal not in wanted and not any(today):
                continue
            cells = [
                "; ".join(map(_dish, dishes))
                or ("-" if meal in scenario.meals_of(client, day) else "away")
                for day, dishes in zip(days, today, strict=True)
            ]
            rows.append(GridRow(client.name, plain(meal).capitalize(), tuple(cells)))
        for nutrient, name in _SUMS:
            eaten = [[r[nutrient] for r in mine if r["day"] == day] for day in days]
            sums = tuple(sum(amounts) if amounts else None for amounts in eaten)
            rows.append(GridRow(client.name, name, sums, nutrient))
    return rows


def _dish(row: dict[str, object]) -> str:
    frozen = ", from the freezer" if row["stored"] == "freezer" else ""
    return f"{row['dish']} ({plural(float(str(row['servings'])), 'serving')}{frozen})"
