"""What each client asks of foods and of groups of foods and recipes, beside what the plan has."""

from __future__ import annotations

from collections import defaultdict

from planopt.catalog.records import GROUP_MEAL_G, Catalog
from planopt.plan.records import Plan, Portion
from planopt.report.analysis.tables import day_totals, records, week_totals
from planopt.report.words.plain import number, plain
from planopt.scenario.records import Scenario

TITLE = "Groups met"
HEADERS = ("What", "Needs", "Got", "Met")

_ROUNDING = 1e-6

# By client id; the rows are texts under HEADERS.
GroupsMet = dict[str, tuple[tuple[str, str, str, str], ...]]


def groups_met(plan: Plan, catalog: Catalog, scenario: Scenario) -> GroupsMet:
    """Return the needs of each client who has any: meals counted, then grams of food groups."""
    found: dict[str, list[tuple[str, str, str, str]]] = defaultdict(list)
    held = _Held(plan, catalog)
    for client in scenario.clients:
        mine = [row for row in plan.portions if row.client_id == client.client_id]
        for kind, what, least, asked in client.meals_counted():
            count = len({(row.day, row.meal) for row in mine if held.holds(row, kind, what)})
            met = count >= asked if least else count <= asked
            needs = f"at {'least' if least else 'most'} {asked}"
            name = f"Meals with {_words(catalog, kind, what)}"
            found[client.client_id].append((name, needs, str(count), "yes" if met else "NO"))
    days = [row for row in records(day_totals(plan, catalog, scenario)) if row["met"] is not None]
    weeks = records(week_totals(plan, catalog, scenario))
    for rows, when in ((days, "a day"), (weeks, "over the plan")):
        of_group: dict[tuple[str, str], list[dict[str, object]]] = defaultdict(list)
        for row in rows:
            if row["nutrient_id"] not in catalog.nutrients:
                of_group[str(row["client_id"]), f"{row['nutrient']} {when}"].append(row)
        for (client_id, what), weighed in of_group.items():
            found[client_id].append(_weighed(what, weighed))
    return {client_id: tuple(rows) for client_id, rows in found.items()}


def _words(catalog: Catalog, kind: str, what: str) -> str:
    if kind == "food":
        return catalog.foods[what].name.lower()
    return f"recipes of {plain(what)}" if kind == "group" else plain(what)


class _Held:
    """What a portion holds: a food, a recipe's group, a food group."""

    def __init__(self, plan: Plan, catalog: Catalog) -> None:
        self._catalog = catalog
        self._foods = {
            (b.recipe_id, b.version, b.cook_day): {line.food_id for line in b.lines}
            for b in plan.sources
        }

    def holds(self, row: Portion, kind: str, what: str) -> bool:
        """Tell whether a portion counts."""
        if kind == "food":
            return what in self._foods[row.recipe_id, row.version, row.cook_day]
        if kind == "group":
            return what in self._catalog.recipes[row.recipe_id].groups
        grams = row.food_groups_g.get(what, 0.0) / row.servings
        return grams >= GROUP_MEAL_G - _ROUNDING


def _weighed(what: str, rows: list[dict[str, object]]) -> tuple[str, str, str, str]:
    amounts = [float(str(row["amount"])) for row in rows]
    got = number(min(amounts))
    if number(max(amounts)) != got:
        got += f" to {number(max(amounts))}"
    spans = dict.fromkeys(_span(float(str(r["min"])), float(str(r["max"]))) for r in rows)
    met = all(row["met"] for row in rows)
    return what, "; ".join(spans), f"{got} g", "yes" if met else "NO"


def _span(low: float, high: float) -> str:
    # Open sides are not numbers there.
    sides = [f"at least {number(low)}"] if low == low else []
    sides += [f"at most {number(high)}"] if high == high else []
    return f"{', '.join(sides)} g"
