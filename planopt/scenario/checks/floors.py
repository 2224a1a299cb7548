"""Check the energy windows of a scenario against the floor that holds for every eater."""

from __future__ import annotations

from collections.abc import Iterator

from planopt.faults import Fault
from planopt.scenario.checks.subject import Checking, Path
from planopt.scenario.records import Client, Window
from planopt.scenario.windows import (
    ENERGY,
    FLOOR_KCAL,
    energy_floor,
    share_of_day,
    share_of_usual_day,
)
from planopt.tolerances import NOISE


def energy_floor_held(c: Checking) -> Iterator[Fault]:
    """No window may ask for less energy than the floor, 800 kcal a full day, unless supervised."""
    nutrients = c.known["nutrients"]
    for path, client in c.clients():
        if client.medically_supervised:
            continue
        if nutrients is not None and ENERGY not in nutrients:
            yield c.fault(
                path,
                client.client_id,
                f"the catalog has no {ENERGY}, so the floor of {FLOOR_KCAL:g} kcal a day cannot be"
                " held",
                f"give {ENERGY} in nutrients.csv and foods.csv; only if a clinician supervises"
                " this client, set medically_supervised: true",
                "energy_not_in_catalog",
            )
        yield from _windows(c, path, client)


def _windows(c: Checking, path: Path, client: Client) -> Iterator[Fault]:
    days = range(1, c.scenario.days + 1)
    tables: list[tuple[Path, dict[str, Window]]] = [
        ((*path, "windows_per_day"), client.windows_per_day)
    ]
    tables += [((*path, "day_patterns", n), one) for n, one in client.day_patterns.items()]
    for place, daily in tables:
        if ENERGY in daily:
            # They shrink with meals away as the floor does: one comparison for all days.
            share = share_of_usual_day(c.scenario, client)
            yield from _sides(c, (*place, ENERGY), daily[ENERGY], FLOOR_KCAL * share, share)
    for day, windows in client.windows_on_days.items():
        if ENERGY in windows and day in days:
            here = (*path, "windows_on_days", day, ENERGY)
            floor = energy_floor(c.scenario, client, day)
            share = share_of_day(c.scenario, client, day)
            yield from _sides(c, here, windows[ENERGY], floor, share)
    weekly = client.windows_per_week.get(ENERGY)
    floor = sum(energy_floor(c.scenario, client, day) for day in days)
    if weekly is not None and weekly.max is not None and weekly.max < floor - NOISE:
        yield c.fault(
            (*path, "windows_per_week", ENERGY, "max"),
            f"{weekly.max:g}",
            f"this is below {floor:.10g} kcal, {FLOOR_KCAL:g} for each full day that is eaten here;"
            " less needs medical supervision",
            _mend(floor),
            "energy_below_floor",
        )


def _sides(c: Checking, path: Path, window: Window, floor: float, share: float) -> Iterator[Fault]:
    for side, value in (("min", window.min), ("max", window.max)):
        if value is not None and value < floor - NOISE:
            why = f"a day below {FLOOR_KCAL:g} kcal needs medical supervision"
            if share < 1:
                why += f"; with {share * 100:.3g} % of its meals eaten here, {floor:.10g} kcal"
            yield c.fault((*path, side), f"{value:g}", why, _mend(floor), "energy_below_floor")


def _mend(floor: float) -> str:
    return (
        f"write {floor:.10g} or more; only if a clinician supervises this client, set"
        " medically_supervised: true"
    )
