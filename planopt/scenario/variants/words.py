"""Changes in plain words, as given on the command line, turned into a variant."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from planopt.catalog.records import Catalog
from planopt.faults import BadInput, Fault
from planopt.reading.files import Place, path_text
from planopt.reading.validation import validate
from planopt.scenario.checks.subject import Checking
from planopt.scenario.checks.whole import REFERRED
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.variants.checks import check_variant

WHERE = "command line"
_ID = r"([a-z][a-z0-9_]*)"
_NUMBER = r"(\d+(?:\.\d+)?)"
_MOVE = r"([+-]\d+(?:\.\d+)?)"
_DAYS = r"(-?\d+(?:[ ,]+-?\d+)*)"

_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

Fields = dict[str, Any]

# The forms, as the guide and the mending hint show them, each with what it means.
FORMS: tuple[tuple[str, str, Callable[..., Fields]], ...] = (
    ("budget 130", rf"budget {_NUMBER}", lambda amount: {"budget": amount}),
    (
        "price of FOOD +30%",
        rf"price of {_ID} {_MOVE} ?%",
        lambda food, by: {"prices": [{"food": food, "percent": float(by)}]},
    ),
    (
        "price of FOOD +0.40",
        rf"price of {_ID} {_MOVE}",
        lambda food, by: {"prices": [{"food": food, "amount": by}]},
    ),
    (
        "prices at SELLER -10%",
        rf"prices at {_ID} {_MOVE} ?%",
        lambda seller, by: {"prices": [{"seller": seller, "percent": float(by)}]},
    ),
    (
        "prices at SELLER +0.20",
        rf"prices at {_ID} {_MOVE}",
        lambda seller, by: {"prices": [{"seller": seller, "amount": by}]},
    ),
    (
        "cook hour 18",
        rf"cook hour {_NUMBER}",
        lambda amount: {"work_prices": {"cook_hour": amount}},
    ),
    ("box 0.05", rf"box {_NUMBER}", lambda amount: {"work_prices": {"box": amount}}),
    (
        "washing up 5 minutes",
        rf"washing up {_NUMBER} minutes",
        lambda minutes: {"work_prices": {"washing_up_minutes": float(minutes)}},
    ),
    (
        "meal defaults off",
        r"meal defaults (on|off)",
        lambda word: {"meal_defaults": word},
    ),
    ("with recipe RECIPE", rf"with recipe {_ID}", lambda recipe: {"recipes_in": [recipe]}),
    ("without recipe RECIPE", rf"without recipe {_ID}", lambda recipe: {"recipes_out": [recipe]}),
    ("one more like CLIENT", rf"one more like {_ID}", lambda who: {"clients_alike": [who]}),
    (
        "CLIENT away on day 2, 3",
        rf"{_ID} away(?: on days? {_DAYS})?",
        lambda who, days: {"away": [{"client": who, "days": _numbers(days)}]},
    ),
    (
        "CLIENT skips dinner on day 2",
        rf"{_ID} skips {_ID} on days? {_DAYS}",
        lambda who, meal, days: {
            "away": [{"client": who, "days": _numbers(days), "meals": [meal]}]
        },
    ),
    (
        "put RECIPE on day 2 dinner for CLIENT",
        rf"put {_ID} on day (\d+) {_ID}(?: for {_ID})?(?: as {_NUMBER})?",
        lambda recipe, day, meal, who, servings: {
            "by_hand": [_plate("put", recipe, day, meal, who, servings)]
        },
    ),
    (
        "without RECIPE on day 2 dinner for CLIENT",
        rf"without {_ID} on day (\d+)(?: (?!for\b){_ID})?(?: for {_ID})?",
        lambda recipe, day, meal, who: {
            "by_hand": [_plate("without", recipe, day, meal, who, None)]
        },
    ),
    (
        "CLIENT NUTRIENT min +20 on day 2",
        rf"{_ID} {_ID} (min|max) ([+-]?\d+(?:\.\d+)?)(?: on day (\d+)|( over the week))?",
        lambda *found: {"windows": [_window(*found)]},
    ),
    (
        "cook on day 3",
        r"cook on day (-?\d+)",
        lambda day: {"cook_days": [{"day": int(day)}]},
    ),
    (
        "no cooking on day 3",
        r"no cooking on day (-?\d+)",
        lambda day: {"cook_days_out": [int(day)]},
    ),
    (
        "stock FOOD 500 g",
        rf"stock {_ID} {_NUMBER} ([a-z]+)",
        lambda food, amount, unit: {"stock": [{"food": food, "amount": amount, "unit": unit}]},
    ),
    ("no stock of FOOD", rf"no stock of {_ID}", lambda food: {"stock_gone": [food]}),
    ("no FOOD", rf"no {_ID}", lambda food: {"unavailable": [food]}),
)


def _numbers(text: str | None) -> list[int]:
    return [int(word) for word in re.findall(r"-?\d+", text or "")]


def _window(
    who: str, nutrient: str, side: str, amount: str, day: str | None, week: str | None
) -> Fields:
    moved = amount.startswith(("+", "-"))
    found: Fields = {
        "client": who,
        "nutrient": nutrient,
        f"{side}_by" if moved else side: float(amount),
    }
    if day is not None:
        found["day"] = int(day)
    if week is not None:
        found["week"] = True
    return found


def _plate(
    side: str, recipe: str, day: str, meal: str | None, who: str | None, servings: str | None
) -> Fields:
    told = {"client": who, "meal": meal, "servings": None if servings is None else float(servings)}
    found: Fields = {side: recipe, "day": int(day)}
    return found | {name: value for name, value in told.items() if value is not None}


def with_day_numbers(text: str, scenario: Scenario) -> str:
    """Return a change with the days of the week as day numbers, where the plan has one such day."""

    def number(found: re.Match[str]) -> str:
        wanted = _WEEKDAYS.index(found[1].lower())
        days = [
            day for day in range(1, scenario.days + 1) if scenario.date_of(day).weekday() == wanted
        ]
        return f"day {days[0]}" if len(days) == 1 else found[0]

    return re.sub(rf"\b({'|'.join(_WEEKDAYS)})(?:'s)?\b", number, text, flags=re.IGNORECASE)


def variant_of_words(texts: Iterable[str], catalog: Catalog, scenario: Scenario) -> Variant:
    """Return the variant that makes all the changes told, named after them.

    Raises:
        BadInput: with every change that is not understood, and every fault of the others.
    """
    told = tuple(with_day_numbers(" ".join(text.split()), scenario) for text in texts)
    fields: Fields = {"name": "; ".join(told)}
    faults: list[Fault] = []
    for text in told:
        found = _read(text)
        if found is None:
            faults.append(
                Place(WHERE, 0).fault(
                    "--change",
                    text,
                    "this change is not understood",
                    "write one of: " + "; ".join(form for form, _, _ in FORMS),
                    "change_not_understood",
                )
            )
            continue
        for name, value in found.items():
            if name == "by_hand":
                value = {"plates": [*fields.get(name, {"plates": []})["plates"], *value]}
            if isinstance(value, list):
                fields[name] = [*fields.get(name, []), *value]
            elif isinstance(value, dict):
                fields[name] = {**fields.get(name, {}), **value}
            else:
                fields[name] = value
    variant, problems = validate(Variant, fields)
    place = Place(WHERE, 0)
    faults += [
        place.fault(path_text(problem.path), problem.value, problem.why, problem.mend, problem.code)
        for problem in problems
    ]
    if variant is not None:
        known = {table: frozenset(getattr(catalog, table)) for table in REFERRED}
        checking = Checking(scenario, catalog, lambda _: place, known, complete=True)
        # Changes that are not understood may be what the others lack, so only ids count then.
        own = check_variant(checking, (), variant)
        faults += [fault for fault in own if not faults or fault.code.startswith("unknown_")]
    if faults or variant is None:
        raise BadInput(faults)
    return variant


def _read(text: str) -> Fields | None:
    for _, pattern, meaning in FORMS:
        found = re.fullmatch(pattern, text)
        if found:
            return meaning(*found.groups())
    return None
