"""The week at a glance: who eats what, the figures against the windows, and what it costs."""

from __future__ import annotations

from collections import Counter, defaultdict
from decimal import Decimal
from typing import Any

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.plan.split import split_bill, split_portions
from planopt.report.analysis import shares, tables
from planopt.report.page.bars import DayAmount, Panel, week_bars
from planopt.report.page.parts import amount, anchor, window_words
from planopt.report.words.plain import (
    dish_words,
    headline,
    money,
    money_code,
    number,
    plain,
    plural,
    short_day,
)
from planopt.scenario.records import Client, Scenario
from planopt.units import exact_decimal, from_minor, minor_digits, round_half_up

Row = dict[str, Any]

_SHORT = {
    "energy_kcal": "kcal",
    "protein_g": "Prot.",
    "fat_g": "Fat",
    "carbohydrate_g": "Carb.",
}
_GONE_TO = {
    shares.EATEN: "Food eaten",
    shares.NOT_EATEN: "Servings cooked and not eaten",
    shares.CARRIED: "Food left that keeps beyond the week",
    shares.WASTED: "Food left that does not keep",
}


class _Costs:
    """The bill by client, day and portion, and where the groceries went."""

    def __init__(self, plan: Plan, scenario: Scenario) -> None:
        self.portion: dict[tuple[object, ...], Decimal] = defaultdict(Decimal)
        self.day: dict[tuple[str, int], Decimal] = defaultdict(Decimal)
        self.batch: dict[tuple[object, ...], Decimal] = defaultdict(Decimal)
        self.gone_to: dict[str, Decimal] = defaultdict(Decimal)
        bill = split_bill(plan, [client.client_id for client in scenario.clients])
        for p, minor in zip(plan.portions, split_portions(plan, bill), strict=True):
            cost = from_minor(minor, plan.currency)
            key = (p.recipe_id, p.version, p.cook_day)
            self.portion[p.client_id, p.day, p.meal, *key] += cost
            self.day[p.client_id, p.day] += cost
        for row in tables.records(shares.cost_shares(plan)):
            if row["recipe_id"]:
                self.batch[row["recipe_id"], row["version"], row["cook_day"]] += row["cost"]
            self.gone_to[row["goes_to"]] += row["cost"]


def _per(total: Decimal, count: float, currency: str) -> str:
    if not count:
        return "-"
    return money(round_half_up(total / exact_decimal(count), minor_digits(currency)), currency)


def _gone_to(plan: Plan, costs: _Costs) -> Row:
    """Return where the groceries of the kitchen went; no client is named, as this is no bill."""
    rows = [
        {"what": words, "cost": money(costs.gone_to[kind], plan.currency)}
        for kind, words in _GONE_TO.items()
        if costs.gone_to[kind]
    ]
    everything = sum(costs.gone_to.values(), Decimal(0))
    return {"rows": rows, "total": money(everything, plan.currency)}


def _bill(plan: Plan, scenario: Scenario) -> Row:
    """Return what each client pays, and the sums of it."""
    rows = [
        {
            "who": row["client"],
            "day": _per(row["pays"], len(tables.eating_days(scenario, client)), plan.currency),
            **{name: money(row[name], plan.currency) for name in ("groceries", "visits", "pays")},
        }
        for client, row in zip(
            scenario.clients, tables.records(tables.split(plan, scenario)), strict=True
        )
    ]
    s = plan.solution
    return {
        "rows": rows,
        "groceries": money(s.grocery_cost, plan.currency),
        "visits": money(s.visit_cost, plan.currency),
        "total": money(s.grocery_cost + s.visit_cost, plan.currency),
    }


def _dish_table(plan: Plan, catalog: Catalog, costs: _Costs) -> list[Row]:
    by_batch = {
        (p.recipe_id, p.version, p.cook_day): p.nutrients.get("energy_kcal", 0.0) / p.servings
        for p in plan.portions
    }
    rows = []
    for b in sorted(plan.batches, key=lambda b: (b.cook_day, b.recipe_name, b.version)):
        key = shares.batch_key(b)
        rows.append(
            {
                "dish": dish_words(catalog, b.recipe_id, b.recipe_name, b.version),
                "cooked": short_day(b.cook_date),
                "servings": number(b.servings, 2),
                "energy": amount(by_batch.get(key, float("nan"))),
                "serving": _per(costs.batch[key], b.servings, plan.currency),
                "cost": money(costs.batch[key], plan.currency),
            }
        )
    return rows


def _meal_rows(menu: list[Row], costs: _Costs, currency: str) -> list[Row]:
    rows = []
    for row in menu:
        dish = f"{row['dish']}, {row['version']}" if row["version"] else row["dish"]
        key = (row["recipe_id"], row["raw_version"], row["cook_day"])
        cost = costs.portion[row["client_id"], row["day"], row["meal"], *key]
        rows.append(
            {
                "meal": plain(row["meal"]).capitalize(),
                "dish": dish,
                "servings": plural(row["servings"], "serving"),
                "frozen": row["stored"] == "freezer",
                "macros": [amount(row[n]) for n in tables.MACROS],
                "cost": money(cost, currency),
            }
        )
    return rows


def _usual(panel_days: list[DayAmount]) -> tuple[float, float] | None:
    """Return the window of most days, None where there is none."""
    found = Counter((str(d.least), str(d.most)) for d in panel_days if d.met is not None)
    if not found:
        return None
    least, most = found.most_common(1)[0][0]
    return float(least), float(most)


def _panels(mine: list[Row]) -> list[Panel]:
    panels = []
    for nutrient_id in tables.MACROS:
        rows = [row for row in mine if row["nutrient_id"] == nutrient_id]
        if not rows:
            continue
        days = [
            DayAmount(row["date"], row["amount"], row["min"], row["max"], row["met"])
            for row in rows
        ]
        usual = _usual(days)
        words = f"window {window_words(*usual)}" if usual else ""
        panels.append(Panel(rows[0]["nutrient"], rows[0]["unit"], words, days))
    return panels


def _window_cells(panels: list[Panel], day_of: int | None) -> list[str]:
    """Return the usual window of each panel, or that of one day by its place."""
    cells = []
    for panel in panels:
        if day_of is None:
            cells.append(panel.window.removeprefix("window "))
        else:
            day = panel.days[day_of]
            cells.append(window_words(day.least, day.most) if day.met is not None else "")
    return cells


def _client(
    plan: Plan, scenario: Scenario, client: Client, menu: list[Row], totals: list[Row],
    costs: _Costs,
) -> Row:  # fmt: skip
    panels = _panels(totals)
    usual = _window_cells(panels, None)
    days = []
    for place, day in enumerate(tables.eating_days(scenario, client)):
        today = [row for row in menu if row["day"] == day]
        own = _window_cells(panels, place)
        sums = [
            next((amount(r["amount"]) for r in totals if (r["day"], r["nutrient_id"]) == (day, n)),
                 "-")
            for n in tables.MACROS
        ]  # fmt: skip
        away = [
            plain(meal)
            for meal in (client.meals if client.meals is not None else scenario.meals)
            if meal not in scenario.meals_of(client, day)
        ]
        days.append(
            {
                "day": short_day(scenario.date_of(day)),
                "away": ", ".join(away),
                "meals": _meal_rows(today, costs, plan.currency),
                "sums": sums,
                "window": own if own != usual else None,
                "cost": money(costs.day[client.client_id, day], plan.currency),
            }
        )
    return {
        "name": client.name,
        "anchor": anchor("client", client.client_id),
        "windows": usual if any(usual) else None,
        "days": days,
        "figure": week_bars(anchor("bars", client.client_id), client.name, panels),
        "cautions": [c for c in plan.cautions if c.startswith(f"{client.name}: ")],
    }


def _heading(catalog: Catalog, nutrient_id: str) -> Row:
    """Return a macronutrient's name, its unit, and a name short enough for a phone."""
    nutrient = catalog.amounts.get(nutrient_id)
    name, unit = (nutrient.name, nutrient.unit) if nutrient else (plain(nutrient_id), "")
    return {"name": name, "unit": unit, "short": _SHORT[nutrient_id]}


def glance(plan: Plan, catalog: Catalog, scenario: Scenario) -> Row:
    """Return what the first section shows."""
    costs = _Costs(plan, scenario)
    versions = [p.version for p in tables.portions_in_order(plan, scenario)]
    menu: dict[str, list[Row]] = defaultdict(list)
    for row, version in zip(
        tables.records(tables.menu(plan, catalog, scenario)), versions, strict=True
    ):
        menu[row["client_id"]].append({**row, "raw_version": version})
    totals: dict[str, list[Row]] = defaultdict(list)
    for row in tables.records(tables.day_totals(plan, catalog, scenario)):
        totals[row["client_id"]].append(row)
    s = plan.solution
    return {
        "facts": [
            ("All counted", money_code(s.objective, plan.currency)),
            ("Portions", str(len(plan.portions))),
            ("Cook days", str(len({b.cook_day for b in plan.batches}))),
            ("Shop visits", str(len({(p.seller_id, p.shop_day) for p in plan.purchases}))),
        ],
        "proof": headline(s, plan.currency),
        "macros": [_heading(catalog, n) for n in tables.MACROS],
        "clients": [
            _client(plan, scenario, c, menu[c.client_id], totals[c.client_id], costs)
            for c in scenario.clients
        ],
        "gone_to": _gone_to(plan, costs),
        "bill": _bill(plan, scenario),
        "dishes": _dish_table(plan, catalog, costs),
        "currency": plan.currency,
    }
