"""The shortest cook day by trying every start of every stretch; only for tiny days.

Written from the rule in the guide, without the scheduler: a stretch is a tuple, a resource is
counted minute by minute.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

from planopt.catalog.records import Recipe
from planopt.scenario.workplace import Appliances


@dataclass(frozen=True)
class Stretch:
    """Minutes of a dish. `rings` apply from `lead` minutes on, for `hob` minutes.

    `leaves` is what it leaves on the surface, or in the oven; `shuns` what it must not meet there.
    """

    dish: int
    hands: int = 0
    lead: int = 0
    hob: int = 0
    rings: int = 0
    oven: int = 0
    temperature_c: float = 0.0
    batches: float = 0.0
    rest: int = 0
    leaves: frozenset[str] = frozenset()
    shuns: frozenset[str] = frozenset()


def in_contact(
    stretches: list[Stretch],
    holds: set[str],
    avoids: set[str],
    *,
    raw: bool = False,
    ready: bool = False,
    covered: bool = False,
) -> list[Stretch]:
    """Return the stretches of a dish with what they leave and shun, by the rule of the guide."""
    ready = ready or len(stretches) == 1
    found = []
    for n, one in enumerate(stretches):
        if one.oven:
            leaves, shuns = (set() if covered else holds), avoids
        elif not one.hands:
            leaves, shuns = set(), set()
        elif n == 0:
            leaves = holds | ({"raw"} if raw else set())
            shuns = avoids | ({"raw"} if ready else set())
        else:
            leaves, shuns = holds, avoids | {"raw"}
        found.append(replace(one, leaves=frozenset(leaves), shuns=frozenset(shuns)))
    return found


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
    most_cleans: int = 99,
) -> int | None:
    """Return the least makespan up to `most`, or None if `most` minutes are not enough.

    `most_changes` limits the changes of temperature of all ovens together, `most_cleans` the
    clean-downs.

    Raises:
        TooMany: after `MOST_TRIES` starts.
    """
    tries = [0]
    if not _fits(dishes, kitchen, cooks, most, most_changes, most_cleans, tries):
        return None
    best = most
    while best > 0 and _fits(dishes, kitchen, cooks, best - 1, most_changes, most_cleans, tries):
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
    most_cleans: int,
    tries: list[int],
) -> bool:
    """Tell whether all stretches fit before the horizon, by depth first through all starts."""
    order = [one for dish in dishes for one in dish if _takes(one)]
    hands = [0] * (horizon + 1)
    rings = [0] * (horizon + 1)
    baking: list[tuple[int, int, int, float, float]] = []
    inside: list[Stretch] = []
    handled: list[tuple[int, int, Stretch]] = []
    clean = kitchen.clean_down_minutes

    def gaps(one: Stretch, start: int) -> list[tuple[int, int]] | None:
        """Return where clean-downs have to lie for a stretch, or None if one has no room."""
        found = []
        end = start + one.hands
        for begin, finish, other in handled:
            for first, then, left, right in (
                (other, one, finish, start),
                (one, other, end, begin),
            ):
                before = begin < end if first is other else start < finish
                if before and first.leaves & then.shuns:
                    if left + clean > right:
                        return None
                    found.append((left, right))
        return found

    def cleaned(open_gaps: list[tuple[int, int]], most: int) -> bool:
        """Tell whether so many clean-downs, each with a cook at hand, reach all gaps."""
        if not open_gaps:
            return True
        if not most:
            return False
        left, right = min(open_gaps, key=lambda gap: gap[1])
        for at in range(left, right - clean + 1):
            span = range(at, at + clean)
            if any(hands[t] >= cooks for t in span):
                continue
            for t in span:
                hands[t] += 1
            rest = [gap for gap in open_gaps if not (gap[0] <= at and at + clean <= gap[1])]
            done = cleaned(rest, most - 1)
            for t in span:
                hands[t] -= 1
            if done:
                return True
        return False

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
            spoils = any(
                there.dish != one.dish
                and (there.leaves & one.shuns or one.leaves & there.shuns)
                and load[0] == oven
                and load[1] < end
                and start < load[2]
                for load, there in zip(baking, inside, strict=True)
            )
            full = any(
                one.batches + sum(load[4] for load in mine if load[1] <= t < load[2])
                > kitchen.oven_batches
                for t in range(start, end)
            )
            if not clash and not full and not spoils:
                free.append(oven)
        return free

    def place(n: int, ready: int, baked: int, to_clean: tuple[tuple[int, int], ...]) -> bool:
        if n == len(order):
            few = most_changes is None or _changes(baking) <= most_changes
            return few and cleaned(list(dict.fromkeys(to_clean)), most_cleans)
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
            between = gaps(one, start) if one.hands else []
            for oven in room(one, start) if between is not None else []:
                assert between is not None
                for t in range(start, start + one.hands):
                    hands[t] += 1
                for t in range(start + one.lead, start + one.lead + one.hob):
                    rings[t] += one.rings
                if one.oven:
                    baking.append((oven, start, start + one.oven, one.temperature_c, one.batches))
                    inside.append(one)
                if one.hands:
                    handled.append((start, start + one.hands, one))
                end = start + _length(one)
                after = (*to_clean, *between)
                done = (
                    place(n + 1, ready, max(baked, end), after)
                    if one.oven
                    else place(n + 1, end, baked, after)
                )
                if one.hands:
                    handled.pop()
                for t in range(start, start + one.hands):
                    hands[t] -= 1
                for t in range(start + one.lead, start + one.lead + one.hob):
                    rings[t] -= one.rings
                if one.oven:
                    baking.pop()
                    inside.pop()
                if done:
                    return True
        return False

    return place(0, 0, 0, ())
