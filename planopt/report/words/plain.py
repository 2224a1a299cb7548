"""Plain words and numbers that all reports share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from planopt import units
from planopt.catalog.dishtext import added_words
from planopt.catalog.dishtext import sentence_case as sentence_case
from planopt.catalog.records import Catalog, Recipe
from planopt.plan.records import Plan, Purchase, Solution
from planopt.report.words.locale import (
    date_text,
    decimal_text,
    money_text,
    money_with_currency,
    short_date_text,
    units_shown,
)
from planopt.units import exact_decimal, round_half_up

_STATUS_WORDS = {
    "optimal": "The search ended: the plan is proven within the gap asked for.",
    "time_limit": "The time limit stopped the search; a cheaper plan may exist.",
    "work_limit": "The work limit stopped the search; a cheaper plan may exist.",
    "undecided": "The solver gave up before its limits; a cheaper plan may exist.",
    "interrupted": "The search was interrupted; this is the best plan found until then.",
}
# A spreadsheet may run a text cell that starts so as a formula; some read the full-width signs too.
FORMULA_STARTS = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
# The nutrients that daily tables show.
MACROS = ("energy_kcal", "protein_g", "fat_g", "carbohydrate_g")
STOPPED_EARLY = frozenset({"time_limit", "work_limit", "interrupted", "undecided"})


def number(value: float | Decimal, digits: int = 0) -> str:
    """Return a number rounded half up, without needless zeros, in the form of the locale shown."""
    if isinstance(value, int):
        return decimal_text(Decimal(value))
    return decimal_text(round_half_up(value, digits))


def money(amount: Decimal, currency: str) -> str:
    """Return an amount with the decimals of its currency, without the code."""
    return money_text(amount, currency)


def money_code(amount: Decimal, currency: str) -> str:
    """Return an amount with its currency code, or as the locale shown writes the currency."""
    return money_with_currency(amount, currency)


def day_text(value: date) -> str:
    """Return a date with its weekday: ISO 8601 unless a locale is shown."""
    return date_text(value)


def short_day(value: date) -> str:
    """Return a date as paper and page show it, unbroken: `Sun 29 Nov` unless a locale is shown."""
    return short_date_text(value)


def unbroken(text: str) -> str:
    """Return a text that no line breaks, for example `2 x 400 ml`."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def plain(identifier: str) -> str:
    """Return an id as words."""
    return identifier.replace("_", " ")


def and_words(words: Sequence[str]) -> str:
    """Return words as a list in a sentence."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def fahrenheit(celsius: float) -> str:
    """Return a temperature in both scales, Fahrenheit first where US units are shown."""
    c, f = f"{number(celsius, 1)} C", f"{number(celsius * 9 / 5 + 32)} F"
    return f"{f} ({c})" if units_shown() == "us" else f"{c} ({f})"


def percent_up(share: Decimal | float, digits: int = 2) -> str:
    """Return a share as percent, rounded up so that it never claims too much."""
    return number(units.percent_up(share, digits), digits)


def plural(count: float, word: str, many: str = "") -> str:
    """Return a count with its noun; `many` is the plural of a noun that has its own."""
    ending = "es" if word.endswith(("ch", "sh", "x")) else "s"
    return f"{number(count, 2)} " + (word if count == 1 else many or word + ending)


def gap_text(objective: Decimal, bound: Decimal) -> str:
    """Return the most of a cost that could be saved, in percent with one decimal, rounded up."""
    share = (objective - bound) / objective if objective > 0 else Decimal(0)
    return f"{percent_up(max(Decimal(0), share), 1)} %"


def weighed_waste(solution: Solution) -> Decimal:
    """Return what of the cost is waste, weighed: all that the other parts are not."""
    s = solution
    others = s.visit_cost + s.missed_cost + s.work_cost + s.ready_cost + s.seen_cost + s.taste_cost
    return s.objective - s.grocery_cost - others


def cost_sentence(solution: Solution, currency: str) -> str:
    """Say what a week costs, all counted, and of which parts that figure is made."""
    s = solution
    weighed = weighed_waste(s)
    total = money_code(s.objective, currency)
    parts = [f"groceries {money(s.grocery_cost, currency)}"]
    if s.visit_cost:
        parts.append(f"shop visits after the first {money(s.visit_cost, currency)}")
    if weighed:
        parts.append(f"waste {money(weighed, currency)}")
        if s.waste_weight != 1:
            weight = number(s.waste_weight, 4)
            parts[-1] += f" ({money(s.waste_cost, currency)} at weight {weight})"
    if s.work_cost:
        parts.append(f"the cook's time and boxes {money(s.work_cost, currency)}")
    if s.taste_cost:
        parts.append(f"dishes liked less, as rated, {money(s.taste_cost, currency)}")
    if s.missed_cost:
        parts.append(f"reference intakes missed {money(s.missed_cost, currency)}")
    if s.ready_cost:
        parts.append(f"portions that were ready {money(s.ready_cost, currency)}")
    if s.seen_cost:
        parts.append(f"dishes had in earlier weeks {money(s.seen_cost, currency)}")
    if len(parts) == 1:
        return f"This week costs {total}, all of it groceries."
    return f"This week costs {total}, all counted: {', '.join(parts)}."


def bound_sentence(solution: Solution, currency: str) -> str:
    """Say what is proven about the figure of `cost_sentence`."""
    objective, bound = solution.objective, solution.best_bound
    if bound <= 0 < objective:
        return "No useful lower limit of that was proven."
    if bound >= objective:
        return "It is proven that no compliant week costs less."
    return (
        f"No compliant week can cost less than {money_code(bound, currency)}; "
        f"at most {gap_text(objective, bound)} could be saved."
    )


def headline(solution: Solution, currency: str) -> str:
    """Return the one headline of a plan: its cost, all counted, the proven limit, and the gap."""
    return f"{cost_sentence(solution, currency)} {bound_sentence(solution, currency)}"


def _counted(solution: Solution) -> str:
    """Return what all counted is made of: work and missed intakes only where they have a price."""
    parts = ["bill", "weighed waste"]
    parts += ["work"] if solution.work_cost else []
    parts += ["missed intakes"] if solution.missed_cost else []
    return and_words(parts)


def cost_rows(solution: Solution) -> list[tuple[str, Decimal]]:
    """Return the figures of a plan's cost, each named so that it tells what is in it.

    Bill, waste as weighed, and what else is priced add up to the cost, all counted.
    """
    s = solution
    return [
        ("Groceries", s.grocery_cost),
        ("Shop visits after the first", s.visit_cost),
        ("Bill: groceries and visits", s.grocery_cost + s.visit_cost),
        (f"Waste, weight {number(s.waste_weight, 4)}", weighed_waste(s)),
        *([("Cook's time and boxes, as priced", s.work_cost)] if s.work_cost else []),
        *([("Dishes liked less, as rated", s.taste_cost)] if s.taste_cost else []),
        *([("Reference intakes missed, as priced", s.missed_cost)] if s.missed_cost else []),
        *([("Portions that were ready, as priced", s.ready_cost)] if s.ready_cost else []),
        *([("Dishes had in earlier weeks, as priced", s.seen_cost)] if s.seen_cost else []),
        (f"All counted: {_counted(s)}", s.objective),
        ("No compliant week can cost less than", s.best_bound),
    ]


def status_sentence(solution: Solution) -> str:
    """Say how the search ended."""
    return _STATUS_WORDS[solution.status]


def food_name(catalog: Catalog, food_id: str) -> str:
    """Return a food's name, or its id as words where the catalog lacks it."""
    food = catalog.foods.get(food_id)
    return food.name if food else plain(food_id)


def version_words(catalog: Catalog, recipe: Recipe | None, version: str) -> str:
    """Return what a version has and its name does not say, for example `with soy milk`.

    Empty where the name says it all. A version that does not fit the recipe is shown as it is.
    """
    if recipe is None:
        return "" if version == "base" else version
    return added_words(recipe, version, catalog)


def dish_words(catalog: Catalog, recipe_id: str, recipe_name: str, version: str) -> str:
    """Return a dish with its version in one text."""
    words = version_words(catalog, catalog.recipes.get(recipe_id), version)
    return f"{recipe_name}, {words}" if words else recipe_name


def size_text(size: Decimal, unit: str) -> str:
    """Return a pack size, for example `500 g` or `12 pieces`."""
    if unit == "each":
        return plural(float(size), "piece")
    return f"{number(size, 3)} {unit}"


def pack_text(purchase: Purchase) -> str:
    """Return what to take from the shelf, for example `2 x 500 g` or `1.3 kg loose`."""
    if purchase.sold == "pack":
        return f"{number(purchase.count, 2)} x {size_text(purchase.size, purchase.unit)}"
    total = exact_decimal(purchase.count) * purchase.size
    text = size_text(round_half_up(total, 3), purchase.unit)
    return f"{text} loose" if purchase.sold == "loose" else text


def seller_name(catalog: Catalog, seller_id: str) -> str:
    """Return a seller's name, or its id as words where the catalog lacks it."""
    seller = catalog.sellers.get(seller_id)
    return seller.name if seller else plain(seller_id)


def span_text(plan: Plan) -> str:
    """Return first and last day of the plan."""
    last = date.fromordinal(plan.start_date.toordinal() + plan.days - 1)
    if plan.days == 1:
        return day_text(plan.start_date)
    return f"{day_text(plan.start_date)} to {day_text(last)}"


def span_words(plan: Plan) -> str:
    """Return first and last day of the plan as paper and page show them, with the year."""
    last = date.fromordinal(plan.start_date.toordinal() + plan.days - 1)
    if plan.days == 1:
        return f"{short_day(last)} {last.year}"
    return f"{short_day(plan.start_date)} to {short_day(last)} {last.year}"
