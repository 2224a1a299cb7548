"""The working sheet as plain data: one client's week, what to buy and cook, and marks on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

from planopt.edit.asking import ListedChange, OnPlates
from planopt.edit.choices import Choices, Plate, dish_names
from planopt.plan.records import Plan, Portion
from planopt.report.analysis import tables
from planopt.report.page.parts import amount, window_words
from planopt.report.words.plain import (
    cost_sentence,
    dish_words,
    money,
    number,
    pack_text,
    plain,
    plural,
    seller_name,
    short_day,
    span_words,
)
from planopt.scenario.mealwindows import meal_bounds
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Client
from planopt.scenario.windows import ENERGY, day_windows
from planopt.tolerances import meets

Data = dict[str, Any]


@dataclass(frozen=True)
class Marks:
    """What the changes so far put on the sheet, each with what it says of single plates."""

    wishes: tuple[tuple[ListedChange, OnPlates], ...] = ()

    def number_of(self, kind: str, **fields: object) -> int | None:
        """Return the number of the change of this kind with exactly these fields, if any."""
        for wish, _ in self.wishes:
            if wish.asked.model_dump(exclude_defaults=True) == {"kind": kind, **fields}:
                return wish.number
        return None

    def notes_on(self, plate: Plate, names: Mapping[str, str]) -> list[str]:
        """Return what the changes put on a plate, in words."""
        found = []
        for wish, on in self.wishes:
            if plate in on.put and wish.asked.kind in ("move", "put", "skip"):
                put = " and ".join(names.get(name, name) for name in on.put[plate])
                found.append(f"here: {put}" if put else "nothing here")
        return found

    def takes_off(self, plate: Plate, recipe: str) -> bool:
        """Tell whether a change takes a dish off a plate."""
        return any((plate, recipe) in on.off for _, on in self.wishes)


def sheet(
    plan: Plan,
    kitchen: Kitchen,
    client_id: str | None,
    marks: Marks,
    choices: Choices,
) -> Data:
    """Return one client's week with all that stands below it; by default the first client's."""
    scenario = kitchen.scenario
    clients = {client.client_id: client for client in scenario.clients}
    client = clients.get(client_id or "", scenario.clients[0])
    days = range(1, scenario.days + 1)
    names = dish_names(plan, kitchen, choices, client.client_id)
    return {
        "title": title_of(plan),
        "facts": f"{span_words(plan)}. {cost_sentence(plan.solution, plan.currency)}",
        "clients": [{"id": name, "name": one.name} for name, one in clients.items()],
        "client": client.client_id,
        "meals": [{"id": meal, "name": plain(meal)} for meal in scenario.meals],
        "days": [_day(plan, kitchen, client, day, marks) for day in days],
        "plates": _plates(plan, kitchen, client, marks, choices, names),
        "recipes": names,
        "nutrients": _nutrients(kitchen, client),
        "windows": _windows(plan, kitchen, client),
        "visits": _visits(plan, kitchen, marks),
        "pots": _pots(plan, kitchen, marks),
    }


def title_of(plan: Plan) -> str:
    """Return the name of the scenario, without the changes that made the plan."""
    return plan.scenario_name.removesuffix(f": {plan.changes.name}" if plan.changes else "")


def _nutrients(kitchen: Kitchen, client: Client) -> list[Data]:
    """Return all nutrients, those that the client has daily windows of first."""
    mine = client.windows_per_day
    known = kitchen.catalog.nutrients.items()
    ordered = sorted(known, key=lambda pair: (pair[0] != ENERGY, pair[0] not in mine))
    return [{"id": name, "name": f"{one.name}, {one.unit}"} for name, one in ordered]


def _day(plan: Plan, kitchen: Kitchen, client: Client, day: int, marks: Marks) -> Data:
    scenario = kitchen.scenario
    energy = sum(
        row.nutrients.get(ENERGY, 0.0)
        for row in plan.portions
        if row.client_id == client.client_id and row.day == day
    )
    low, high = day_windows(scenario, client, day).get(ENERGY, (0.0, inf))
    return {
        "day": day,
        "name": short_day(scenario.date_of(day)),
        "eats": bool(scenario.meals_of(client, day)),
        "energy": number(energy),
        "window": _span(low, high),
        "outside": not meets(energy, low, high),
        "kept": marks.number_of("keep_day", client=client.client_id, day=day),
    }


def _plates(
    plan: Plan,
    kitchen: Kitchen,
    client: Client,
    marks: Marks,
    choices: Choices,
    names: Mapping[str, str],
) -> dict[str, Data]:
    scenario = kitchen.scenario
    served: dict[Plate, list[Portion]] = defaultdict(list)
    for row in tables.portions_in_order(plan, scenario):
        served[row.client_id, row.day, row.meal].append(row)
    found = {}
    for day in range(1, scenario.days + 1):
        for meal in scenario.meals:
            plate = (client.client_id, day, meal)
            away = meal not in scenario.meals_of(client, day)
            found[f"{day}/{meal}"] = _plate(kitchen, client, plate, served[plate], marks) | {
                "away": away,
                "notes": marks.notes_on(plate, names),
                "options": sorted(choices.get(plate, ())),
            }
    return found


def _plate(
    kitchen: Kitchen,
    client: Client,
    plate: Plate,
    rows: list[Portion],
    marks: Marks,
) -> Data:
    _, day, meal = plate
    energy = sum(row.nutrients.get(ENERGY, 0.0) for row in rows)
    bound = meal_bounds(kitchen.scenario, client, day, meal).get(ENERGY)
    low, high = (bound.low, bound.high) if bound else (0.0, inf)
    return {
        "dishes": [_dish(kitchen, plate, row, marks) for row in rows],
        "energy": number(energy),
        "window": _span(low, high),
        "outside": bool(rows) and not meets(energy, low, high),
        "kept": marks.number_of("keep_meal", client=plate[0], day=day, meal=meal),
        "settled": bool(kitchen.scenario.by_hand.puts_on(*plate)),
    }


def _dish(kitchen: Kitchen, plate: Plate, row: Portion, marks: Marks) -> Data:
    return {
        "recipe": row.recipe_id,
        "name": dish_words(kitchen.catalog, row.recipe_id, row.recipe_name, row.version),
        "servings": plural(row.servings, "serving"),
        "energy": number(row.nutrients.get(ENERGY, 0.0)),
        "off": marks.takes_off(plate, row.recipe_id),
        "kept": marks.number_of("keep_dish", client=plate[0], recipe=row.recipe_id),
    }


def _span(low: float, high: float) -> str:
    return window_words(low or float("nan"), float("nan") if high == inf else high)


def _windows(plan: Plan, kitchen: Kitchen, client: Client) -> list[Data]:
    """Return a client's windows, of days with the same limits together."""
    alone = kitchen.scenario.model_copy(update={"clients": (client,)})
    daily = tables.day_totals(plan, kitchen.catalog, alone)
    weekly = tables.week_totals(plan, kitchen.catalog, alone)
    groups: dict[tuple[str, str, str], list[Data]] = defaultdict(list)
    for frame in (daily, weekly):
        for row in tables.records(frame):
            span = window_words(row["min"], row["max"], _digits(kitchen, row["nutrient_id"]))
            if span:
                per = "a day" if "day" in row else "over the week"
                groups[per, row["nutrient_id"], span].append(row)
    found = []
    for (per, nutrient, span), rows in groups.items():
        digits = _digits(kitchen, nutrient)
        low, high = (amount(pick(r["amount"] for r in rows), digits) for pick in (min, max))
        days = [short_day(kitchen.scenario.date_of(int(r["day"]))) for r in rows if "day" in r]
        if days and len(days) < len(tables.eating_days(kitchen.scenario, client)):
            per = f"on {', '.join(days)}"
        found.append(
            {
                "nutrient": f"{rows[0]['nutrient']}, {rows[0]['unit']}",
                "window": f"{span} {per}",
                "has": low if low == high else f"{low} to {high}",
            }
        )
    return found


def _digits(kitchen: Kitchen, nutrient_id: str) -> int:
    nutrient = kitchen.catalog.nutrients.get(nutrient_id)
    return nutrient.decimals if nutrient else 0


def _visits(plan: Plan, kitchen: Kitchen, marks: Marks) -> list[Data]:
    """Return what to buy by day and seller; `done` is the change that says so, `over` a fact."""
    bought = {(row.pack, row.day) for row in kitchen.scenario.by_hand.bought}
    visits: dict[tuple[int, str], list[Data]] = defaultdict(list)
    dates = {row.shop_day: row.shop_date for row in plan.purchases}
    named = [(row.shop_day, seller_name(kitchen.catalog, row.seller_id), row.food_name, row)
             for row in plan.purchases]  # fmt: skip
    for day, seller, food, row in sorted(named, key=lambda found: found[:3]):
        visits[day, seller].append(
            {
                "pack": row.pack_id,
                "text": f"{pack_text(row)} {food}",
                "price": money(row.price, plan.currency),
                "done": marks.number_of("bought", pack=row.pack_id, day=day)
                or marks.number_of("bought", day=day),
                "over": (row.pack_id, day) in bought,
            }
        )
    return [
        {
            "day": day,
            "date": short_day(dates[day]),
            "name": f"{short_day(dates[day])}, {seller}",
            "all": marks.number_of("bought", day=day),
            "lines": lines,
        }
        for (day, seller), lines in visits.items()
    ]


def _pots(plan: Plan, kitchen: Kitchen, marks: Marks) -> list[Data]:
    """Return what to cook by day, all versions of a dish together, as they are marked together."""
    cooked = {(row.recipe, row.day) for row in kitchen.scenario.by_hand.cooked}
    days: dict[int, dict[str, Data]] = defaultdict(dict)
    dates = {row.cook_day: row.cook_date for row in plan.batches}
    for row in sorted(plan.batches, key=lambda b: (b.cook_day, b.recipe_name, b.version)):
        text = (
            f"{dish_words(kitchen.catalog, row.recipe_id, row.recipe_name, row.version)}, "
            f"{plural(row.batches, 'batch', 'batches')}, {plural(row.servings, 'serving')}"
        )
        line = days[row.cook_day].setdefault(
            row.recipe_id,
            {
                "recipe": row.recipe_id,
                "text": "",
                "done": marks.number_of("cooked", recipe=row.recipe_id, day=row.cook_day)
                or marks.number_of("cooked", day=row.cook_day),
                "over": (row.recipe_id, row.cook_day) in cooked,
            },
        )
        line["text"] = "; ".join(filter(None, (line["text"], text)))
    return [
        {
            "day": day,
            "date": short_day(dates[day]),
            "name": short_day(dates[day]),
            "all": marks.number_of("cooked", day=day),
            "lines": list(lines.values()),
        }
        for day, lines in days.items()
    ]
