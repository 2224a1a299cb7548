"""Turn decisions into a plan that a person can read and the audit can check.

Every figure is computed from the decisions and the catalogs with exact fractions, never copied
from solver values.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from math import isfinite

from planopt import __version__
from planopt.catalog.dishtext import dish_name
from planopt.catalog.facts import facts_of
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import GROUP_UNIT, Catalog
from planopt.plan.cautions import cautions_of
from planopt.plan.labour import exact_seen, exact_taste, exact_work
from planopt.plan.lines import batch_lines
from planopt.plan.nutrients import nutrient_notes
from planopt.plan.ready import ready_batches
from planopt.plan.records import (
    Batch,
    Fate,
    FoodUse,
    Plan,
    Portion,
    Purchase,
    ReadyBatch,
    Solution,
    Status,
)
from planopt.problem.build import Problem
from planopt.problem.decisions import (
    Decisions,
    allocate,
    available_g,
    missed_cost,
    servings_eaten,
)
from planopt.problem.dishes import Dish
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.references import guarded
from planopt.tolerances import NO_GRAMS
from planopt.units import exact, from_minor, minor_digits, round_down, round_half_up


@dataclass(frozen=True)
class SolveFacts:
    """What a plan tells about its solve. `bound` is in units of the currency, not yet rounded."""

    status: Status
    bound: float
    gap_asked: float
    solve_seconds: float
    build_seconds: float
    solver: str
    solver_status: str
    bound_composition: str
    settings: dict[str, str | float | int | bool]


@dataclass(frozen=True)
class Source:
    """Where a plan's scenario and catalogs came from, and what was changed of them."""

    scenario_file: str
    scenario_sha256: str
    catalog_folder: str
    catalog_sha256: str
    changes: Variant | None = None


def extract_plan(
    problem: Problem,
    catalog: Catalog,
    scenario: Scenario,
    decisions: Decisions,
    facts: SolveFacts,
    source: Source,
) -> Plan:
    """Return the plan for decisions that the kitchen can carry out; the problem is the scenario's.

    Raises:
        ValueError: a food is short by more than rounding error.
    """
    scenario = guarded(catalog, scenario)
    uses, wasted = _food_uses(problem, catalog, scenario, decisions)
    batches, uneaten = _batches(problem, catalog, scenario, decisions)
    lost = wasted + uneaten
    ready = ready_batches(problem, catalog, scenario, decisions)
    solution = _solution(problem, scenario, decisions, facts, lost, ready)
    portions = _portions(problem, catalog, scenario, decisions)
    return Plan(
        planopt_version=__version__,
        scenario_name=scenario.name,
        scenario_file=source.scenario_file,
        scenario_sha256=source.scenario_sha256,
        catalog_folder=source.catalog_folder,
        catalog_sha256=source.catalog_sha256,
        catalog_facts=facts_of(
            catalog,
            (batch.recipe_id for batch in (*batches, *ready)),
            (line.food_id for batch in (*batches, *ready) for line in batch.lines),
        ),
        changes=source.changes,
        currency=scenario.currency,
        start_date=scenario.start_date,
        days=scenario.days,
        solution=solution,
        purchases=_purchases(problem, catalog, scenario, decisions),
        batches=batches,
        ready=ready,
        portions=portions,
        food_uses=uses,
        cautions=cautions_of(problem, catalog, scenario, portions),
        nutrient_notes=nutrient_notes(problem, catalog, scenario, portions),
    )


def _solution(
    problem: Problem,
    scenario: Scenario,
    decisions: Decisions,
    facts: SolveFacts,
    lost: Fraction,
    ready: tuple[ReadyBatch, ...],
) -> Solution:
    """Return all costs of a plan and how its search ended; `lost` is food in minor units."""
    currency = scenario.currency
    total, visits = _paid(problem, currency, decisions)
    grocery = _money(total, currency)
    visit_cost = Fraction(scenario.visit_cost * max(0, visits - 1))
    waste = lost / 10 ** minor_digits(currency)
    missed = Fraction(missed_cost(problem, decisions, "reference"))
    ready_cost = sum(
        (exact(row.servings_eaten) * Fraction(row.price) for row in ready), Fraction(0)
    )
    seen = exact_seen(scenario, problem, decisions)
    taste = exact_taste(scenario, problem, decisions)
    work = exact_work(scenario, problem, decisions)
    weighed = exact(scenario.waste_weight) * waste
    soft = missed + taste + ready_cost + seen
    objective = _money(Fraction(grocery) + visit_cost + weighed + soft + work, currency)
    bound = min(_floor_money(facts.bound, currency), objective)
    return Solution(
        status=facts.status,
        grocery_cost=grocery,
        visit_cost=_money(visit_cost, currency),
        waste_cost=_money(waste, currency),
        waste_weight=scenario.waste_weight,
        missed_cost=_money(missed, currency),
        taste_cost=_money(taste, currency),
        work_cost=_money(work, currency),
        ready_cost=_money(ready_cost, currency),
        seen_cost=_money(seen, currency),
        objective=objective,
        best_bound=bound,
        proven_gap=float((objective - bound) / objective) if objective else 0.0,
        gap_asked=facts.gap_asked,
        solve_seconds=round(facts.solve_seconds, 3),
        build_seconds=round(facts.build_seconds, 3),
        solver=facts.solver,
        solver_status=facts.solver_status,
        bound_composition=facts.bound_composition,
        settings=facts.settings,
    )


def _paid(problem: Problem, currency: str, decisions: Decisions) -> tuple[Fraction, int]:
    """Return the exact price of all packs, to be rounded once, and how many visits buy them.

    A line's price is rounded only where any amount is sold.
    """
    total, visits = Fraction(0), set()
    for (s, o), count in decisions.packs.items():
        supply = problem.supplies[s]
        offer = problem.offers[supply.food_id][o]
        total += exact(count) * offer.price_minor
        visits.add((offer.seller_id, supply.shop_day))
    return total / 10 ** minor_digits(currency), len(visits)


def _money(value: Fraction, currency: str) -> Decimal:
    # Grams carry noise far below a cent; take it off before a tie is decided.
    return round_half_up(round_half_up(value, 9), minor_digits(currency))


def _floor_money(value: float, currency: str) -> Decimal:
    # Costs are never negative, so 0 is a bound when the solver has none yet.
    known = value if isfinite(value) and value > 0 else 0
    return round_down(known, minor_digits(currency))


def _purchases(
    problem: Problem, catalog: Catalog, scenario: Scenario, decisions: Decisions
) -> tuple[Purchase, ...]:
    rows = []
    for (s, o), count in decisions.packs.items():
        supply = problem.supplies[s]
        offer = problem.offers[supply.food_id][o]
        pack = catalog.packs[offer.pack_id]
        assert supply.shop_day is not None
        price = Fraction(offer.price_minor) * exact(count) / 10 ** minor_digits(scenario.currency)
        rows.append(
            Purchase(
                shop_day=supply.shop_day,
                shop_date=scenario.date_of(supply.shop_day),
                seller_id=pack.seller_id,
                pack_id=pack.pack_id,
                food_id=pack.food_id,
                food_name=catalog.foods[pack.food_id].name,
                sold=pack.sold,
                count=count,
                size=pack.size,
                unit=pack.unit,
                price_each=from_minor(offer.price_minor, scenario.currency),
                price=_money(price, scenario.currency),
                edible_g=round(count * offer.edible_g, 6),
            )
        )
    rows.sort(key=lambda row: (row.shop_day, row.seller_id, row.food_id, row.pack_id))
    return tuple(rows)


def _food_uses(
    problem: Problem, catalog: Catalog, scenario: Scenario, decisions: Decisions
) -> tuple[tuple[FoodUse, ...], Fraction]:
    """Return the use of every supply, and the value in minor units of what is wasted."""
    taken = allocate(problem, decisions)
    rows = []
    wasted = Fraction(0)
    for s, supply in enumerate(problem.supplies):
        available = available_g(problem, decisions, s)
        if supply.stock_index is None and available <= 0:
            continue
        used = {problem.cook_days[k].day: round(grams, 6) for k, grams in taken.get(s, {}).items()}
        left = exact(available) - sum((exact(grams) for grams in used.values()), Fraction(0))
        left = max(Fraction(0), left)
        value = left * exact(problem.value_minor_per_g[supply.food_id])
        if supply.wasted:
            wasted += value
        fate: Fate = "wasted" if supply.wasted else "carried"
        if left <= exact(NO_GRAMS):
            fate = "nothing left"
        source = (
            f"stock {supply.stock_index}"
            if supply.stock_index is not None
            else f"shop day {supply.shop_day}"
        )
        rows.append(
            FoodUse(
                food_id=supply.food_id,
                food_name=catalog.foods[supply.food_id].name,
                supply=source,
                available_g=round(available, 6),
                used_g=used,
                left_g=round(float(left), 6),
                usable_until=supply.usable_until,
                fate=fate,
                left_value=_money(value / 10 ** minor_digits(scenario.currency), scenario.currency),
            )
        )
    return tuple(rows), wasted


def _batches(
    problem: Problem, catalog: Catalog, scenario: Scenario, decisions: Decisions
) -> tuple[tuple[Batch, ...], Fraction]:
    """Return the batches, and the value in minor units of servings nobody eats."""
    quantities = Quantities(catalog)
    eaten = servings_eaten(problem, decisions)
    rows = []
    uneaten_value = Fraction(0)
    for n, count in decisions.batches.items():
        cooking = problem.cookings[n]
        dish = problem.dishes[cooking.dish]
        if dish.ready is not None:
            continue
        cook_day = problem.cook_days[cooking.cook].day
        cook_date = scenario.date_of(cook_day)
        servings = exact(count) * exact(dish.yield_servings)
        left = max(Fraction(0), servings - exact(eaten.get(n, 0.0)))
        for food_id, grams in dish.grams.items():
            value = exact(problem.value_minor_per_g.get(food_id, 0.0))
            uneaten_value += left * exact(grams) / exact(dish.yield_servings) * value
        rows.append(
            Batch(
                cook_day=cook_day,
                cook_date=cook_date,
                recipe_id=dish.recipe_id,
                recipe_name=dish_name(catalog.recipes[dish.recipe_id], dish.version, catalog),
                version=dish.version,
                batches=count,
                servings=float(servings),
                servings_eaten=float(servings - left),
                servings_left=float(left),
                use_by_fridge=cook_date + timedelta(days=dish.fridge_days),
                use_by_freezer=(
                    cook_date + timedelta(days=dish.freezer_days) if dish.freezer_days else None
                ),
                lines=batch_lines(dish, catalog, quantities, count),
            )
        )
    rows.sort(key=lambda row: (row.cook_day, row.recipe_id, row.version))
    return tuple(rows), uneaten_value


def _portions(
    problem: Problem, catalog: Catalog, scenario: Scenario, decisions: Decisions
) -> tuple[Portion, ...]:
    rows = []
    for (i, j), servings in decisions.servings.items():
        slot = problem.slots[i]
        option = slot.options[j]
        dish = problem.dishes[option.dish]
        cook_day = problem.cook_days[option.cook].day
        frozen = slot.day - cook_day > dish.fridge_days
        eat_date = scenario.date_of(slot.day)
        rows.append(
            (
                (slot.client, slot.day, scenario.meals.index(slot.meal), dish.key, cook_day),
                Portion(
                    client_id=problem.clients[slot.client].client_id,
                    day=slot.day,
                    date=eat_date,
                    meal=slot.meal,
                    recipe_id=dish.recipe_id,
                    recipe_name=dish_name(catalog.recipes[dish.recipe_id], dish.version, catalog),
                    version=dish.version,
                    cook_day=cook_day,
                    servings=servings,
                    stored="freezer" if frozen else "fridge",
                    thaw_on=eat_date - timedelta(days=1) if frozen else None,
                    nutrients={
                        nutrient_id: round(amount * servings, 9)
                        for nutrient_id, amount in dish.nutrients.items()
                        if nutrient_id in catalog.nutrients
                    },
                    food_groups_g=_food_groups(catalog, dish, servings),
                ),
            )
        )
    rows.sort(key=lambda pair: pair[0])
    return tuple(portion for _, portion in rows)


def _food_groups(catalog: Catalog, dish: Dish, servings: float) -> dict[str, float]:
    """Return edible grams of each food group in so many servings, those of 0 left out."""
    grams = {
        group: round(dish.nutrients[group + GROUP_UNIT] * servings, 6)
        for group in catalog.food_groups
    }
    return {group: amount for group, amount in grams.items() if amount > 0}
