"""The shortest cook day by trying every start of every stretch; only for tiny days.

Written from the rule in README.md, without the scheduler: a stretch is a tuple, a resource is
counted minute by minute.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from planopt.catalog.records import Recipe
from planopt.scenario.records import Appliances


@dataclass(frozen=True)
class Stretch:
    """Minutes of a dish. `rings` apply from `lead` minutes on, for `hob` minutes."""

    dish: int
    hands: int = 0
    lead: int = 0
    hob: int = 0
    rings: int = 0
    oven: int = 0
    temperature_c: float = 0.0
    batches: float = 0.0
    rest: int = 0


def stretches_of(dish: int, recipe: Recipe, batches: float, kitchen: Appliances) -> list[Stretch]:
    """Return what the rule makes of a recipe with whole minutes, in order; no batch is split."""
    first = int(recipe.minutes.hands_on)
    extra = recipe.minutes.hands_on_per_extra_batch * max(0.0, batches - 1)
    hands_on = ceil(first + extra)
    quiet = int(recipe.minutes.unattended)
    oven = recipe.equipment.oven
    bake = int(oven.minutes) if oven else 0
    ring_minutes = int(recipe.equipment.hob_minutes)
    if not oven and not ring_minutes:
        return [Stretch(dish, hands=hands_on)]
    portion = hands_on // 5
    prepare = hands_on - portion
    beside = max(0, quiet - bake)
    found = []
    alone = 0
    if ring_minutes:
        window = first - first // 5 + beside
        pots = next(n for n in range(1, 99) if n == kitchen.hob_rings or ring_minutes <= window * n)
        once = ceil(ring_minutes / pots)
        together = min(prepare, max(0, once - beside))
        alone = once - together
        all_pots = ceil(pots * batches)
        rounds = ceil(all_pots / kitchen.hob_rings)
        rings = ceil(all_pots / rounds)
        if together:
            found.append(Stretch(dish, prepare, prepare - together, once * rounds, rings))
        else:
            found.append(Stretch(dish, prepare))
            found.append(Stretch(dish, hob=once * rounds, rings=rings))
    else:
        found.append(Stretch(dish, prepare))
    if oven:
        loads = [kitchen.oven_batches] * int(batches // kitchen.oven_batches)
        loads += [batches % kitchen.oven_batches] if batches % kitchen.oven_batches else []
        found += [
            Stretch(dish, oven=bake, temperature_c=oven.temperature_c, batches=load)
            for load in loads
        ]
    found.append(Stretch(dish, hands=portion, rest=max(0, beside - alone)))
    return found


MOST_TRIES = 60_000


class TooMany(Exception):
    """The day has more ways than the enumeration may try."""


def shortest_day(
    dishes: list[list[Stretch]],
    kitchen: Appliances,
    cooks: int,
    most: int,
    most_changes: int | None = None,
) -> int | None:
    """Return the least makespan up to `most`, or None if `most` minutes are not enough.

    `most_changes` limits the changes of temperature of all ovens together.

    Raises:
        TooMany: after `MOST_TRIES` starts.
    """
    tries = [0]
    if not _fits(dishes, kitchen, cooks, most, most_changes, tries):
        return None
    best = most
    while best > 0 and _fits(dishes, kitchen, cooks, best - 1, most_changes, tries):
        best -= 1
    return best


def _length(one: Stretch) -> int:
    return max(one.hands, one.lead + one.hob, one.oven)


def _after(rest: list[Stretch]) -> int:
    """Return the least minutes from the start of the first of these to the end of the last."""
    ovens = [one.oven for one in rest if one.oven]
    others = sum(one.rest + _length(one) for one in rest if not one.oven and _takes(one))
    return others + max(ovens, default=0)


def _takes(one: Stretch) -> bool:
    # Resting that nothing follows keeps nobody.
    return bool(one.hands or one.hob or one.oven)


def _changes(baking: list[tuple[int, int, int, float, float]]) -> int:
    loads = sorted(baking)
    pairs = pairwise(loads)
    return sum(first[0] == second[0] and first[3] != second[3] for first, second in pairs)


def _fits(
    dishes: list[list[Stretch]],
    kitchen: Appliances,
    cooks: int,
    horizon: int,
    most_changes: int | None,
    tries: list[int],
) -> bool:
    """Tell whether all stretches fit before the horizon, by depth first through all starts."""
    order = [one for dish in dishes for one in dish if _takes(one)]
    hands = [0] * (horizon + 1)
    rings = [0] * (horizon + 1)
    baking: list[tuple[int, int, int, float, float]] = []

    def room(one: Stretch, start: int) -> list[int]:
        """Return the ovens that can take the stretch; [0] if it needs none, [] if it clashes."""
        if any(hands[t] >= cooks for t in range(start, start + one.hands)):
            return []
        on = range(start + one.lead, start + one.lead + one.hob)
        if any(rings[t] + one.rings > kitchen.hob_rings for t in on):
            return []
        if not one.oven:
            return [0]
        change = kitchen.oven_change_minutes
        if start < change:
            return []
        end = start + one.oven
        free = []
        for oven in range(kitchen.ovens):
            mine = [load for load in baking if load[0] == oven]
            clash = any(
                load[3] != one.temperature_c and start < load[2] + change and load[1] < end + change
                for load in mine
            )
            full = any(
                one.batches + sum(load[4] for load in mine if load[1] <= t < load[2])
                > kitchen.oven_batches
                for t in range(start, end)
            )
            if not clash and not full:
                free.append(oven)
        return free

    def place(n: int, ready: int, baked: int) -> bool:
        if n == len(order):
            return most_changes is None or _changes(baking) <= most_changes
        # Whoever has too little time left for the hands-on work need not try.
        if sum(one.hands for one in order[n:]) > sum(cooks - busy for busy in hands[:horizon]):
            return False
        tries[0] += 1
        if tries[0] > MOST_TRIES:
            raise TooMany
        one = order[n]
        if n and order[n - 1].dish != one.dish:
            ready = baked = 0
        earliest = (ready if one.oven else max(ready, baked)) + one.rest
        left = [other for other in order[n:] if other.dish == one.dish]
        latest = horizon - _after(left) + one.rest
        for start in range(earliest, latest + 1):
            for oven in room(one, start):
                for t in range(start, start + one.hands):
                    hands[t] += 1
                for t in range(start + one.lead, start + one.lead + one.hob):
                    rings[t] += one.rings
                if one.oven:
                    baking.append((oven, start, start + one.oven, one.temperature_c, one.batches))
                end = start + _length(one)
                done = (
                    place(n + 1, ready, max(baked, end)) if one.oven else place(n + 1, end, baked)
                )
                for t in range(start, start + one.hands):
                    hands[t] -= 1
                for t in range(start + one.lead, start + one.lead + one.hob):
                    rings[t] -= one.rings
                if one.oven:
                    baking.pop()
                if done:
                    return True
        return False

    return place(0, 0, 0)
