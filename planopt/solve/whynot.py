"""Name what fails alone when no week complies: meals, windows and clients, each by itself."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from planopt.model.daymenus import MenuTable, supports_menus
from planopt.problem.build import Problem, only_clients
from planopt.solve.plain import search_plain
from planopt.solve.settings import SolveSettings


def lone_failures(problem: Problem, settings: SolveSettings) -> list[str]:
    """Return sentences on what cannot be met by itself; never empty."""
    found = empty_meals(problem)
    if supports_menus(problem):
        found += failing_windows(problem)
    if found:
        return found
    quick = settings.model_copy(update={"time_limit_s": 10.0, "work_limit": None, "options": {}})
    for c, client in enumerate(problem.clients):
        alone = search_plain(only_clients(problem, (c,)), quick)
        if alone.infeasible:
            found.append(
                f"{client.name}: no compliant week even alone; every day can be met by itself, so "
                "the clash is between days, repeats, variety, whole-plan windows, budget or "
                "cook-day limits."
            )
    if not found:
        found.append(
            "Each client could be planned alone within the time tried, or could not be decided; "
            "the clash is between clients: cook-day limits or the budget."
        )
    return found


def empty_meals(problem: Problem) -> list[str]:
    """Return a sentence for each meal that no dish can serve."""
    found = []
    for slot in problem.slots:
        if not slot.options:
            client = problem.clients[slot.client]
            found.append(
                f"{client.name}, {problem.scenario.date_of(slot.day)} {slot.meal}: no dish may be "
                "eaten, is ready and still keeps; add a cook day, recipes or freezer use."
            )
    return found


def failing_windows(problem: Problem) -> list[str]:
    """Return a sentence for each day window that no menu meets, alone or with the others."""
    found = []
    for g, group in enumerate(problem.groups):
        if any(not problem.slots[i].options for i in group.slots[0]):
            continue
        if _possible(problem, g, group.windows):
            continue
        client = problem.clients[group.client]
        days = ", ".join(str(problem.scenario.date_of(day)) for day in group.days)
        alone = [
            nutrient_id
            for nutrient_id, window in group.windows.items()
            if not _possible(problem, g, {nutrient_id: window})
        ]
        if alone:
            for nutrient_id in alone:
                low, high = group.windows[nutrient_id]
                upper = "any" if high == inf else f"{high:g}"
                found.append(
                    f"{client.name}, {days}: {nutrient_id} from {low:g} to {upper} cannot be met "
                    "by any choice of dishes and portions, even with no other window."
                )
        else:
            names = ", ".join(sorted(group.windows))
            found.append(
                f"{client.name}, {days}: each day window can be met alone, but not all of "
                f"{names} together."
            )
    return found


def _possible(problem: Problem, g: int, windows: dict[str, tuple[float, float]]) -> bool:
    groups = list(problem.groups)
    groups[g] = replace(groups[g], windows=windows)
    table = MenuTable(replace(problem, groups=tuple(groups)), g)
    return bool(table.cheapest(table.no_prices(), 1, inf))
