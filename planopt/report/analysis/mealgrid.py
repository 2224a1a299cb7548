"""The grid of each client's week: energy and grams of every meal beside what the meal may hold."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import inf

from planopt.plan.records import Plan, Portion
from planopt.report.words.plain import day_text, number, plain
from planopt.scenario.mealwindows import PLATE, MealBound, meal_bounds
from planopt.scenario.records import Client, Scenario
from planopt.scenario.samedish import tied_by
from planopt.scenario.windows import ENERGY

TITLE = "Energy by meal"
ABOUT = (
    "Energy of each meal in kcal, in brackets the least and the most that it may have, and grams "
    "of food before cooking. `again`: a dish of the same day or of the day before."
)
USUAL = (
    "Sizes that nobody wrote are the usual ones (common practice, no source): breakfast 15 to 35 % "
    "of the day's energy, lunch and dinner 25 to 45 %, a snack 5 to 20 %, and at most 800 g; "
    "`meal_defaults: off` in the scenario switches them off."
)

TIED = "`tied`: a meal that the scenario gives the dish of others (`same_dish`)."

_ROUNDING = 1e-6


@dataclass(frozen=True)
class ClientGrid:
    """One client's days, each with a cell for every meal of the plan."""

    client_id: str
    name: str
    meals: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class MealGrid:
    """All clients' grids; `usual` tells whether some sizes are the usual ones.

    `tied` tells whether meals share a dish because the scenario says so.
    """

    clients: tuple[ClientGrid, ...]
    usual: bool
    tied: bool = False


def meal_grid(plan: Plan, scenario: Scenario) -> MealGrid:
    """Return the grids of all clients of a plan."""
    batch_g = {
        (b.recipe_id, b.version, b.cook_day): sum(line.grams for line in b.lines) / b.servings
        for b in plan.sources
    }
    served: dict[tuple[str, int, str], list[Portion]] = defaultdict(list)
    for portion in plan.portions:
        served[portion.client_id, portion.day, portion.meal].append(portion)
    usual = False
    tied = {plate for row in scenario.same_dish for one in tied_by(scenario, row) for plate in one}
    clients = []
    for client in scenario.clients:
        rows = []
        for day in range(1, scenario.days + 1):
            eaten = scenario.meals_of(client, day)
            near = _near(served, client, day, scenario.meals)
            cells = []
            for meal in scenario.meals:
                if meal not in eaten:
                    cells.append("-")
                    continue
                bounds = meal_bounds(scenario, client, day, meal)
                usual = usual or any(bound.usual for bound in bounds.values())
                plate = (client.client_id, day, meal)
                cell = _cell(served[plate], bounds, batch_g, [] if plate in tied else near)
                cells.append(f"{cell}, tied" if plate in tied else cell)
            rows.append((day_text(scenario.date_of(day)), *cells))
        names = tuple(plain(meal) for meal in scenario.meals)
        clients.append(ClientGrid(client.client_id, client.name, names, tuple(rows)))
    return MealGrid(tuple(clients), usual, bool(tied))


def _near(
    served: dict[tuple[str, int, str], list[Portion]],
    client: Client,
    day: int,
    meals: tuple[str, ...],
) -> list[str]:
    """Return the recipes of the day and of the day before, each as often as it is eaten."""
    return [
        portion.recipe_id
        for when in (day - 1, day)
        for meal in meals
        for portion in served.get((client.client_id, when, meal), [])
    ]


def _cell(
    portions: list[Portion],
    bounds: dict[str, MealBound],
    batch_g: dict[tuple[str, str, int], float],
    near: list[str],
) -> str:
    energy = sum(p.nutrients.get(ENERGY, 0.0) for p in portions)
    grams = sum(p.servings * batch_g[p.recipe_id, p.version, p.cook_day] for p in portions)
    text = number(energy)
    if ENERGY in bounds:
        text += f" ({_span(bounds[ENERGY])})"
    text += f", {number(grams)} g"
    if PLATE in bounds and not bounds[PLATE].usual:
        text += f" ({_span(bounds[PLATE])})"
    held = ((energy, bounds.get(ENERGY)), (grams, bounds.get(PLATE)))
    if any(bound is not None and _outside(amount, bound) for amount, bound in held):
        text += ", OUTSIDE"
    again = any(near.count(portion.recipe_id) > 1 for portion in portions)
    return f"{text}, again" if again else text


def _outside(amount: float, bound: MealBound) -> bool:
    return not bound.low * (1 - _ROUNDING) <= amount <= bound.high * (1 + _ROUNDING)


def _span(bound: MealBound) -> str:
    if bound.high == inf:
        return f"at least {number(bound.low)}"
    return f"{number(bound.low)} to {number(bound.high)}" if bound.low else (
        f"at most {number(bound.high)}"
    )  # fmt: skip
