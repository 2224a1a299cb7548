"""Cautions that every plan carries, and those that this scenario calls for. Never advice."""

from __future__ import annotations

from collections.abc import Iterable

from planopt.catalog.records import Catalog
from planopt.plan.energy import energy_cautions
from planopt.plan.records import Portion
from planopt.problem.build import Problem
from planopt.scenario.records import Scenario

STANDING = (
    "Storage: fridge and freezer days follow published home guidance, by default the shorter "
    "figure. Fridge at 4 C (40 F) or below, freezer at -18 C (0 F) or below.",
    "Cooling: divide hot food into shallow boxes and chill it within 2 hours "
    "(1 hour above 32 C / 90 F).",
    "Reheating: heat leftovers through to 74 C (165 F). Thaw in the fridge and eat within a day.",
    "Whoever cooks for others as a food business follows local rules and inspection, "
    "which differ from home guidance.",
    "Allergens: exclusions are only as good as the catalog. Read every label, mind cross-contact "
    "between boards, pans and boxes.",
    "Licensed care first: pregnancy or breastfeeding, under 18, kidney or liver disease, diabetes "
    "on insulin or insulin-releasing drugs, a current or past eating disorder, after bariatric "
    "surgery, cancer treatment, frailty, BMI under 18.5.",
    "This is meal arithmetic and not medical advice; windows are set by the coach, within the "
    "limits of local licensing law.",
)


def client_cautions(scenario: Scenario) -> list[str]:
    """Return the cautions that the scenario itself has for its clients, each with the name."""
    return [f"{one.name}: {text}" for one in scenario.clients for text in one.cautions]


def cautions_of(
    problem: Problem, catalog: Catalog, scenario: Scenario, portions: Iterable[Portion]
) -> tuple[str, ...]:
    """Return a plan's cautions: standing ones, the clients' own, low energy, unknown nutrients."""
    found = [*STANDING, *client_cautions(scenario)]
    found += energy_cautions(scenario, portions)
    windowed = sorted(
        {
            nutrient_id
            for client in scenario.clients
            for table in (
                client.windows_per_day,
                client.windows_per_week,
                *client.windows_on_days.values(),
                *client.day_patterns.values(),
            )
            for nutrient_id in table
        }
    )
    foods = sorted({food_id for dish in problem.dishes for food_id in dish.contents})
    for nutrient_id in windowed:
        unknown = [f for f in foods if catalog.foods[f].amount(nutrient_id) is None]
        if unknown:
            names = ", ".join(catalog.foods[f].name for f in unknown[:5])
            more = f" and {len(unknown) - 5} more" if len(unknown) > 5 else ""
            found.append(
                f"{catalog.nutrients[nutrient_id].name} ({nutrient_id}) is unknown for {names}"
                f"{more}; it is counted as 0 there."
            )
    return tuple(found)
