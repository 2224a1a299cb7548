"""Cautions about days of little energy. Never advice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from planopt.plan.records import Portion
from planopt.scenario.records import Client, Scenario
from planopt.scenario.windows import ENERGY, share_of_day, share_of_usual_day
from planopt.tolerances import ENERGY_KCAL

SOFT_FLOOR_KCAL = 1200
_WHY = (
    "The 2013 AHA/ACC/TOS guideline treats with 1,200-1,500 kcal (women) and 1,500-1,800 kcal "
    "(men); below 800 kcal only under medical supervision. The 1,200 line is a cautious choice of "
    "this program, not a legal one."
)


def energy_cautions(scenario: Scenario, portions: Iterable[Portion]) -> tuple[str, ...]:
    """Return a caution for each client whose window starts low, or whose days hold little energy.

    Both are held against 1,200 kcal a full day, less the share of the meals not eaten here.
    """
    rows = list(portions)
    found = []
    for client in scenario.clients:
        said = [*_low_window(scenario, client), *_lean_days(scenario, client, rows)]
        if said:
            found.append(f"{client.name}: {'; '.join(said)}. {_WHY}")
    return tuple(found)


def _low_window(scenario: Scenario, client: Client) -> Iterator[str]:
    usual = share_of_usual_day(scenario, client)
    tables = [(one, usual) for one in (client.windows_per_day, *client.day_patterns.values())]
    tables += [
        (windows, share_of_day(scenario, client, day))
        for day, windows in client.windows_on_days.items()
    ]
    low = [
        (value, SOFT_FLOOR_KCAL * share)
        for windows, share in tables
        if ENERGY in windows and (value := windows[ENERGY].min) is not None
    ]
    below = [(value, line) for value, line in low if value < line]
    if below:
        value, line = min(below)
        yield f"the energy window starts at {value:g} kcal, below {line:,.0f} kcal"


def _lean_days(scenario: Scenario, client: Client, rows: list[Portion]) -> Iterator[str]:
    eaten: dict[int, float] = defaultdict(float)
    for row in rows:
        if row.client_id == client.client_id:
            eaten[row.day] += row.nutrients.get(ENERGY, 0.0)
    full = {
        day: eaten[day] / share
        for day in range(1, scenario.days + 1)
        if (share := share_of_day(scenario, client, day)) > 0
    }
    lean = [day for day, kcal in full.items() if kcal < SOFT_FLOOR_KCAL - ENERGY_KCAL]
    if lean:
        day = min(lean, key=lambda day: (full[day], day))
        meals = len(scenario.meals_of(client, day))
        of_all = len(scenario.meals)
        part = "" if meals == of_all else f" in {meals} of the day's {of_all} meals"
        yield (
            f"{len(lean)} of {len(full)} days {'has' if len(lean) == 1 else 'have'} less energy "
            "than 1,200 kcal a full day (a day with meals away counts by its share), the leanest "
            f"is {scenario.date_of(day)} with {eaten[day]:,.0f} kcal{part}"
        )
