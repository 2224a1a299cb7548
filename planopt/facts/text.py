"""Recipe facts as text for a terminal and as data for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from fractions import Fraction
from math import ceil
from typing import Any

from planopt.catalog.dishtext import CookedVersion, sentence_case, steps_of, version_of
from planopt.catalog.records import NOT_KNOWN, Catalog
from planopt.facts.recipe import Facts, Substitute, allergens_known
from planopt.facts.rounding import NAMES, Rules, rounded
from planopt.units import minor_digits, round_half_up

_WIDTH = 80
# As on labels; the others follow by name.
_FIRST = (
    "energy_kcal",
    "fat_g",
    "saturated_fat_g",
    "carbohydrate_g",
    "fibre_g",
    "sugars_g",
    "protein_g",
    "sodium_mg",
)


def facts_text(facts: Facts, catalog: Catalog, rules: Rules) -> str:
    """Return all facts as text of eighty columns."""
    parts = [
        _head(facts),
        _amounts(facts, catalog),
        _nutrition(facts, catalog, rules),
        _cost(facts, catalog),
        _safety(facts, catalog),
        _substitutes(facts, catalog),
        _steps(facts, catalog),
    ]
    return "\n\n".join(part for part in parts if part)


def _head(facts: Facts) -> str:
    recipe = facts.recipe
    lines = [
        *_wrapped(f"{facts.name} ({recipe.recipe_id})"),
        f"{_number(facts.servings)} servings, {_number(facts.batches)} of a batch of"
        f" {recipe.yield_servings:g}; for {', '.join(recipe.meals)}",
    ]
    if not facts.fits:
        step = {"whole": "whole", "half": "half"}[recipe.batch.step]
        lines += _wrapped(f"A plan cooks it in {step} batches only, so not as many as these.")
    return "\n".join(lines)


def _amounts(facts: Facts, catalog: Catalog) -> str:
    recipe = facts.recipe
    rows = ["Ingredient                                   amount      edible g"]
    grams = _line_grams(facts)
    for line, edible in zip(recipe.lines, grams, strict=True):
        name = _short(catalog.foods[line.food].name, 40)
        amount = f"{_number(Fraction(line.amount) * facts.batches)} {line.unit}"
        marks = [*([line.state] if line.state else []), *(["optional"] if line.optional else [])]
        row = f"{name:<40} {amount:>10} {edible:>12,.0f}   {', '.join(marks)}"
        rows.append(row.rstrip())
    return "\n".join(rows)


def _line_grams(facts: Facts) -> list[float]:
    """Return the edible grams of each line for all the batches."""
    return [grams * float(facts.batches) for grams in facts.line_g]


def _nutrition(facts: Facts, catalog: Catalog, rules: Rules) -> str:
    rows = ["Nutrition of a serving                  exact   on a label"]
    first = {name: n for n, name in enumerate(_FIRST)}
    for nutrient in sorted(
        catalog.nutrients.values(),
        key=lambda one: (first.get(one.nutrient_id, len(first)), one.name),
    ):
        amount = facts.version.nutrients[nutrient.nutrient_id]
        exact = f"{amount:,.{nutrient.decimals + 1}f} {nutrient.unit}"
        least = "+" if nutrient.nutrient_id in facts.version.unknown else " "
        label = rounded(nutrient.nutrient_id, amount, rules)
        told = f"{label} {nutrient.unit}" if label else ""
        rows.append(f"{_short(nutrient.name, 28):<28} {exact:>16}{least}  {told}".rstrip())
    notes = [f"Labels round by {NAMES[rules]}. Raw or as-listed amounts; cooking losses left out."]
    if facts.version.unknown:
        foods = sorted({f for silent in facts.version.unknown.values() for f in silent})
        notes.append(f"+ or more: not known for {_names(foods, catalog)}, counted as 0 there.")
    return "\n".join([*rows, *(row for note in notes for row in _wrapped(note))])


def _cost(facts: Facts, catalog: Catalog) -> str:
    cost, servings = facts.cost, facts.servings
    least = "at least " if cost.unpriced else ""
    used = _money(cost.used / servings, cost.currency)
    packs = _money(Fraction(cost.packs) / servings, cost.currency)
    rows = [
        f"Cost of a serving     {least}{used} as used, each food at its cheapest gram",
        f"                      {least}{packs} in whole packs for {_number(servings)} servings,"
        " nothing at home",
    ]
    if cost.unpriced:
        rows += _wrapped(f"Not sold in {cost.currency}: {_names(cost.unpriced, catalog)}.")
    return "\n".join(rows)


def _safety(facts: Facts, catalog: Catalog) -> str:
    version, keeps = facts.version, facts.recipe.keeps
    told = []
    for allergen_id, foods in sorted(version.allergens.items()):
        if allergen_id == NOT_KNOWN:
            continue
        allergen = catalog.allergens.get(allergen_id)
        told.append(f"{allergen.name if allergen else allergen_id} ({_names(foods, catalog)})")
    line = "Allergens: " + ("; ".join(told) if told else "none that the catalog lists") + "."
    if not allergens_known(version):
        line += f" Not known for {_names(version.allergens[NOT_KNOWN], catalog)}."
    rows = _wrapped(line + " Read every label.")
    days, months = version.keeping.fridge_days, version.keeping.freezer_months
    span = f"{days[0]}" if days[0] == days[1] else f"{days[0]} to {days[1]}"
    words = f"Keeps {span} days in the fridge, "
    if months[1] > 0:
        most = f"{months[0]:g}" if months[0] == months[1] else f"{months[0]:g} to {months[1]:g}"
        words += f"{most} months in the freezer, {version.keeping.thawed_days} once it thaws; "
    else:
        words += "not for the freezer; "
    words += f"served {keeps.serve}. Limits of {', '.join(version.keeping.kinds)}."
    rows += _wrapped(words)
    for food_id, degrees in version.keeping.temperatures:
        name = sentence_case(catalog.foods[food_id].name)
        rows += _wrapped(f"Heat {name} to {degrees:g} C inside.")
    return "\n".join(rows)


def _substitutes(facts: Facts, catalog: Catalog) -> str:
    if not facts.substitutes:
        return ""
    rows = ["What can be changed, and what that does to a serving:"]
    for one in facts.substitutes:
        rows += textwrap.wrap(
            _substitute(one, facts, catalog),
            _WIDTH,
            initial_indent="- ",
            subsequent_indent="  ",
        )
    return "\n".join(rows)


def _substitute(one: Substitute, facts: Facts, catalog: Catalog) -> str:
    old = sentence_case(catalog.foods[one.old].name)
    words = (
        f"without {old}"
        if one.new is None
        else f"{sentence_case(catalog.foods[one.new].name)} for {old}"
    )
    told = []
    for nutrient_id in ("energy_kcal", "protein_g", "fat_g", "carbohydrate_g"):
        nutrient = catalog.nutrients.get(nutrient_id)
        if nutrient is not None:
            change = one.nutrients[nutrient_id]
            told.append(f"{change:+.{nutrient.decimals}f} {nutrient.unit} {nutrient.name.lower()}")
    if one.cost is not None:
        sign = "+" if one.cost >= 0 else "-"
        told.append(f"{sign}{_money(abs(one.cost), facts.cost.currency)}")
    else:
        told.append("price not known")
    for sign, allergens in (("brings", one.more_allergens), ("takes out", one.fewer_allergens)):
        names = [
            "allergens that are not known"
            if allergen == NOT_KNOWN
            else catalog.allergens[allergen].name.lower()
            for allergen in allergens
            if allergen == NOT_KNOWN or allergen in catalog.allergens
        ]
        if names:
            told.append(f"{sign} {', '.join(names)}")
    before, after = one.fridge_days
    if before != after:
        told.append(f"keeps {after} days in place of {before}")
    return f"{words}: {', '.join(told)}"


def _steps(facts: Facts, catalog: Catalog) -> str:
    version = version_of(facts.recipe, facts.version.foods)
    amounts = {
        n: f"{_number(Fraction(line.amount) * facts.batches)} {line.unit}"
        for n, line in enumerate(facts.recipe.lines)
    }
    cooked = CookedVersion(
        servings=float(facts.servings),
        batches=float(facts.batches),
        boxes=ceil(facts.servings),
        amounts=amounts,
    )
    rows = ["Steps"]
    for nth, step in enumerate(steps_of(facts.recipe, version, catalog, cooked), start=1):
        words = f"{nth}. {step.do}{_until(step.until_internal_c)}"
        rows += textwrap.wrap(words, _WIDTH, subsequent_indent="   ")
    return "\n".join(rows) if len(rows) > 1 else ""


def _until(degrees: float | None) -> str:
    return "" if degrees is None else f" Until {degrees:g} C inside."


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH)


def _names(foods: Iterable[str], catalog: Catalog) -> str:
    return ", ".join(sentence_case(catalog.foods[food_id].name) for food_id in foods)


def _short(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def _number(value: Fraction) -> str:
    return f"{float(value):.4g}"


def _money(amount: Fraction, currency: str) -> str:
    digits = minor_digits(currency)
    return f"{round_half_up(amount, digits):.{digits}f} {currency}"


def facts_data(facts: Facts, rules: Rules) -> dict[str, Any]:
    """Return the facts as plain data; money of a serving is a number that is not rounded."""
    cost, version = facts.cost, facts.version
    return {
        "recipe_id": facts.recipe.recipe_id,
        "name": facts.name,
        "servings": float(facts.servings),
        "batches": float(facts.batches),
        "grams": {food: grams * float(facts.batches) for food, grams in version.grams.items()},
        "nutrients_per_serving": version.nutrients,
        "nutrients_unknown": {key: list(foods) for key, foods in version.unknown.items()},
        "label_rules": NAMES[rules],
        "label": {
            key: told
            for key, amount in version.nutrients.items()
            if (told := rounded(key, amount, rules))
        },
        "currency": cost.currency,
        "cost_per_serving_as_used": float(cost.used / facts.servings),
        "cost_per_serving_in_packs": float(Fraction(cost.packs) / facts.servings),
        "not_sold": list(cost.unpriced),
        "allergens": {key: list(foods) for key, foods in version.allergens.items()},
        "fridge_days": list(version.keeping.fridge_days),
        "freezer_months": list(version.keeping.freezer_months),
        "heat_to_c": dict(version.keeping.temperatures),
        "substitutes": [
            {
                "food": one.old,
                "by": one.new,
                "nutrients": one.nutrients,
                "cost": None if one.cost is None else float(one.cost),
                "allergens_more": list(one.more_allergens),
                "allergens_fewer": list(one.fewer_allergens),
                "fridge_days": one.fridge_days[1],
            }
            for one in facts.substitutes
        ],
    }
