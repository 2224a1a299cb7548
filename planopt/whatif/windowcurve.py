"""The price of a window: what a week costs against one side of one client's window.

Method: a parametric sweep (`ladder.py`). Source: as there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from time import perf_counter
from typing import Literal

from planopt.faults import BadInput, Fault, nearest
from planopt.plan.records import Plan
from planopt.problem.limits import CAUTION_KCAL
from planopt.scenario.changes import WindowChange
from planopt.scenario.reading.changed import with_scenario
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Client, Variant
from planopt.scenario.variants.apply import apply_variant
from planopt.scenario.windows import ENERGY
from planopt.solve.settings import SolveSettings
from planopt.tolerances import NOISE
from planopt.whatif.ladder import Rung, climb

_LOWEST, _HIGHEST = 0.7, 1.3


@dataclass(frozen=True)
class WindowCurve:
    """Cost against a target; `points` by rising value, `now` is the value of the scenario."""

    client: str
    client_name: str
    nutrient: str
    unit: str
    side: Literal["min", "max"]
    now: float
    points: tuple[Rung, ...]
    seconds: float


# Client, nutrient and side of a window.
Target = tuple[str, str, Literal["min", "max"]]


def parse_target(kitchen: Kitchen, text: str) -> Target:
    """Return client, nutrient and side of a target told as `CLIENT NUTRIENT` or with min or max.

    Without a side the least amount is meant, or the most where there is no least.

    Raises:
        BadInput: the words are not understood, or the client has no such window of every day.
    """
    words = text.split()
    clients = {client.client_id: client for client in kitchen.scenario.clients}

    def bad(value: str, why: str, mend: str, code: str) -> BadInput:
        return BadInput([Fault("command line", 0, "--target", value, why, mend, code)])

    if len(words) not in (2, 3) or (len(words) == 3 and words[2] not in ("min", "max")):
        why = "a target is a client, a nutrient and perhaps min or max"
        raise bad(text, why, "write for example: ivo protein_g min", "target_not_understood")
    if words[0] not in clients:
        why = "there is no such client"
        raise bad(words[0], why, nearest(words[0], clients), "unknown_client")
    windows = clients[words[0]].windows_per_day
    window = windows.get(words[1])
    if window is None:
        why = f"{words[0]} has no window of every day for it"
        raise bad(words[1], why, nearest(words[1], windows), "window_not_set")
    side: Literal["min", "max"] = "min" if window.min is not None else "max"
    if len(words) == 3:
        side = "min" if words[2] == "min" else "max"
    if getattr(window, side) is None:
        raise bad(text, f"this window has no {side}", "leave it out", "window_not_set")
    return words[0], words[1], side


def window_curve(
    kitchen: Kitchen,
    target: tuple[str, str, Literal["min", "max"]],
    settings: SolveSettings,
    base: Plan,
    *,
    points: int = 12,
    seconds: float = 60.0,
) -> WindowCurve:
    """Return what a week costs for values around that of the scenario.

    The values lie between 0.7 and 1.3 times the present one, which is one of them. A least of
    energy goes no lower than 1,200 kcal, or the present one if that is lower.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    began = perf_counter()
    client_id, nutrient, side = target
    client = next(c for c in kitchen.scenario.clients if c.client_id == client_id)
    now = float(getattr(client.windows_per_day[nutrient], side))
    values = _values(client, nutrient, side, now, points)
    ladder = []
    for value in values if side == "min" else reversed(values):
        moved = {"client": client_id, "nutrient": nutrient, side: value}
        move = WindowChange.model_validate(moved)
        variant = Variant(name=f"{client_id} {nutrient} {side} {value:g}", windows=(move,))
        _, scenario = apply_variant(kitchen.catalog, kitchen.scenario, variant)
        ladder.append((value, with_scenario(kitchen, scenario)))
    rungs = climb(ladder, settings, [base], seconds, {now: base.solution.best_bound})
    rows = tuple(sorted(rungs, key=lambda rung: rung.value))
    unit = kitchen.catalog.amounts[nutrient].unit
    spent = perf_counter() - began
    return WindowCurve(client_id, client.name, nutrient, unit, side, now, rows, spent)


def _values(
    client: Client, nutrient: str, side: Literal["min", "max"], now: float, points: int
) -> list[float]:
    window = client.windows_per_day[nutrient]
    lowest, highest = _LOWEST * now, _HIGHEST * now
    if nutrient == ENERGY:
        lowest = max(lowest, min(now, CAUTION_KCAL))
    if side == "min" and window.max is not None:
        highest = min(highest, window.max)
    if side == "max" and window.min is not None:
        lowest = max(lowest, window.min)
    digits = 0 if now >= 50 else 1
    scale = 10**digits
    below = max(1, round((points - 1) * (now - lowest) / max(highest - lowest, NOISE)))
    down = [lowest + n * (now - lowest) / below for n in range(below)]
    above = max(1, points - 1 - below)
    up = [now + n * (highest - now) / above for n in range(1, above + 1)]
    rounded = {ceil(v * scale - NOISE) / scale for v in down} | {
        floor(v * scale + NOISE) / scale for v in up
    }
    return sorted(rounded | {now})
