"""Place stretches of work in time: a list rule, then better lists within a fixed number of tries.

Stretches are taken from a list and each is put at the earliest time at which its dish is far
enough and its resource is free (a serial schedule generation scheme). The first lists follow a
rule: begin with what has the longest time to go after its preparing, dishes of one oven
temperature together; portion what is ready before preparing more, so that cooked food is chilled
soon. Lists with what must be kept clean before what makes the surface dirty come beside them. The
best list is then changed, one stretch moved at a time, as long as that does no harm.

Occupied minutes are bits of whole numbers: bit t is the minute from t to t + 1.
"""

from __future__ import annotations

import random
from bisect import insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise, permutations

from planopt.cookday.surface import Rules, Surface
from planopt.cookday.work import Work
from planopt.scenario.workplace import Appliances
from planopt.units import exact

_TRIES = 2000
_PLACINGS = 30_000  # of all tries together, so that a large day takes no longer than a small one
CHILL_WITHIN_MINUTES = 120
_FEW_TEMPERATURES = 3
_SEED = 1
_WHOLE_DISH = 0.2  # share of moves that take all stretches of a dish

Part = tuple[int, str, int]  # dish, kind, which load


@dataclass(frozen=True)
class PlacedTask:
    """One stretch in time. `oven` is 0-based, and None for all but oven loads."""

    dish: int
    kind: str
    start: int
    end: int
    load: int = 0
    oven: int | None = None


@dataclass(frozen=True)
class Timetable:
    """Stretches in the order of their start, and two figures of how good they are, less is better.

    `cost` is the makespan and the minutes of all temperature changes and clean-downs, with a heavy
    charge for food that waits too long to be chilled. `waits` adds up how long cooked food waits
    for its portioning; of equal costs the least waits are better.
    """

    placed: tuple[PlacedTask, ...]
    makespan: int
    changes: int
    cost: int
    waits: int
    cleans: tuple[int, ...] = ()  # starts of the clean-downs


class _Levels:
    """Units of one resource: `busy[k]` has the minutes in which more than k units are busy."""

    def __init__(self, units: int) -> None:
        self.busy = [0] * units

    def free(self, units: int) -> int:
        """Return the minutes with so many units free, as the complement's bits."""
        return ~self.busy[len(self.busy) - units]

    def take(self, units: int, start: int, minutes: int) -> None:
        span = ((1 << minutes) - 1) << start
        for _ in range(units):
            carried = span
            for level, busy in enumerate(self.busy):
                self.busy[level], carried = busy | carried, busy & carried
                if not carried:
                    break


def _starts(free: int, minutes: int) -> int:
    """Return the bits from which on so many minutes in a row are free."""
    have = 1
    while have < minutes:
        step = min(have, minutes - have)
        free &= free >> step
        have += step
    return free


def _first(bits: int, earliest: int) -> int:
    """Return the first set bit at or after a minute; free time never ends, so there is one."""
    bits >>= earliest
    return earliest + (bits & -bits).bit_length() - 1


def _first_if_any(bits: int, earliest: int) -> int | None:
    return _first(bits, earliest) if bits >> earliest else None


@dataclass
class _Oven:
    loads: list[tuple[int, int, float, Fraction, int]] = field(default_factory=list)

    def free(
        self,
        temperature_c: float,
        load: Fraction,
        most: Fraction,
        change: int,
        not_beside: set[int],
    ) -> int:
        """Return the minutes in which the load may be inside, beside all but those dishes."""
        taken = (1 << change) - 1
        same = []
        for start, end, temperature, batches, dish in self.loads:
            if temperature == temperature_c:
                same.append((start, end, batches))
                if dish in not_beside:
                    taken |= ((1 << (end - start)) - 1) << start
            else:
                low = max(0, start - change)
                taken |= ((1 << (end + change - low)) - 1) << low
        edges = sorted({edge for start, end, _ in same for edge in (start, end)})
        for low, high in pairwise(edges):
            inside = sum(batches for start, end, batches in same if start <= low < end)
            if inside + load > most:
                taken |= ((1 << (high - low)) - 1) << low
        return ~taken


class _Placing:
    """A timetable while it is made: who and what is busy, and what is placed already."""

    def __init__(self, placer: Placer) -> None:
        self.works, self.rules = placer.works, placer.rules
        self.appliances = placer.appliances
        self.cooks = _Levels(placer.cooks)
        self.surface = Surface(self.rules, self.appliances.clean_down_minutes)
        self.rings = _Levels(self.appliances.hob_rings)
        self.ovens = [_Oven() for _ in range(self.appliances.ovens)]
        # When the next stretch may begin, and when the loads that are in are all out.
        self.ready = [0] * len(self.works)
        self.baked = [0] * len(self.works)
        self.placed: list[PlacedTask] = []

    def put(self, part: Part) -> None:
        """Place one stretch as early as it can be."""
        dish, kind, which = part
        work = self.works[dish]
        if kind == "prepare":
            self._prepare(dish, work)
        elif kind == "hob":
            start = _first(_starts(self.rings.free(work.rings), work.hob), self.ready[dish])
            self.rings.take(work.rings, start, work.hob)
            self.ready[dish] = start + work.hob
            self.placed.append(PlacedTask(dish, kind, start, self.ready[dish]))
        elif kind == "oven":
            self._bake(dish, work, which)
        else:
            self._finish(dish, work)

    def _prepare(self, dish: int, work: Work) -> None:
        lead = work.prepare - work.hob_attended
        on_ring = -1
        if work.hob_attended:
            on_ring = _starts(self.rings.free(work.rings), work.hob) >> lead
        start = self._at_hand((dish, "prepare"), work.prepare, 0, on_ring)
        self.ready[dish] = start + work.prepare
        self.placed.append(PlacedTask(dish, "prepare", start, self.ready[dish]))
        if work.hob_attended:
            on, off = start + lead, start + lead + work.hob
            self.rings.take(work.rings, on, work.hob)
            self.placed.append(PlacedTask(dish, "hob", on, off))
            self.ready[dish] += work.hob_alone

    def _bake(self, dish: int, work: Work, which: int) -> None:
        assert work.temperature_c is not None
        load, apart = work.loads[which], self.rules.not_beside[dish]
        change = self.appliances.oven_change_minutes
        most = exact(self.appliances.oven_batches)
        found = []
        for number, oven in enumerate(self.ovens):
            free = oven.free(work.temperature_c, load, most, change, apart)
            start = _first(_starts(free, work.oven), self.ready[dish])
            other = all(one[2] != work.temperature_c for one in oven.loads)
            found.append((start, other, number))
        start, _, number = min(found)
        end = start + work.oven
        self.ovens[number].loads.append((start, end, work.temperature_c, load, dish))
        self.baked[dish] = max(self.baked[dish], end)
        self.placed.append(PlacedTask(dish, "oven", start, end, which, number))

    def _finish(self, dish: int, work: Work) -> None:
        begin = max(self.ready[dish], self.baked[dish])
        if work.rest:
            self.placed.append(PlacedTask(dish, "rest", begin, begin + work.rest))
        if work.portion:
            start = self._at_hand((dish, "portion"), work.portion, begin + work.rest)
            self.placed.append(PlacedTask(dish, "portion", start, start + work.portion))

    def _at_hand(
        self,
        key: tuple[int, str],
        minutes: int,
        earliest: int,
        also: int = -1,
    ) -> int:
        """Book a cook for a stretch, with a clean-down before it if need be; return the start."""
        hands = self.cooks.free(1)
        starts = _starts(hands, minutes) & also
        start = _first(starts, earliest)
        if self.rules.dirties[key] or self.rules.spoils[key]:
            clean = self.surface.clean
            after = (_starts(hands, minutes + clean) << clean) & also
            as_it_is, cleaned = self.surface.starts(key, minutes, starts, after)
            start = _first(cleaned, earliest)
            soon = _first_if_any(as_it_is, earliest)
            if soon is not None and soon <= start:
                start = soon
            else:
                insort(self.surface.cleans, start - clean)
                self.cooks.take(1, start - clean, clean)
        self.surface.at[key] = (start, start + minutes)
        self.cooks.take(1, start, minutes)
        return start


class Placer:
    """Turns lists of stretches into timetables."""

    def __init__(self, works: Sequence[Work], appliances: Appliances, cooks: int) -> None:
        self.works = works
        self.appliances = appliances
        self.cooks = cooks
        self.parts = [_parts_of(dish, work) for dish, work in enumerate(works)]
        self.rules = Rules([work.contact for work in works])

    def place(self, order: Sequence[Part]) -> Timetable:
        """Return the timetable of a list in which every dish's stretches stand in their order."""
        now = _Placing(self)
        for part in order:
            now.put(part)
        changes = [_changes(oven.loads) for oven in now.ovens]
        return self._judged(now.placed, changes, tuple(now.surface.cleans))

    def _judged(
        self, placed: list[PlacedTask], changes: list[int], cleans: tuple[int, ...]
    ) -> Timetable:
        makespan = waits = late = 0
        cooked = [0] * len(self.works)
        for one in placed:
            if one.kind == "portion":
                wait = one.end - cooked[one.dish]
                waits += wait
                late += max(0, wait - CHILL_WITHIN_MINUTES)
            else:
                cooked[one.dish] = max(cooked[one.dish], one.end)
            if one.kind != "rest":
                makespan = max(makespan, one.end)
        cost = makespan + sum(changes) * self.appliances.oven_change_minutes + 1000 * late
        cost += len(cleans) * self.appliances.clean_down_minutes
        placed.sort(key=lambda one: (one.start, one.dish, one.end))
        return Timetable(tuple(placed), makespan, sum(changes), cost, waits, cleans)


def _parts_of(dish: int, work: Work) -> list[Part]:
    parts: list[Part] = []
    if work.prepare:
        parts.append((dish, "prepare", 0))
    if work.hob and not work.hob_attended:
        parts.append((dish, "hob", 0))
    parts += [(dish, "oven", which) for which in range(len(work.loads))]
    if work.rest or work.portion:
        parts.append((dish, "last", 0))
    return parts


def _changes(loads: list[tuple[int, int, float, Fraction, int]]) -> int:
    temperatures = [load[2] for load in sorted(loads, key=lambda load: load[0])]
    return sum(a != b for a, b in pairwise(temperatures))


def best_timetable(
    works: Sequence[Work], appliances: Appliances, cooks: int, bound: int
) -> Timetable:
    """Return the best timetable found; the same for the same work on every machine.

    `bound` is a makespan that nothing beats; the search ends early when nothing can be better.
    """
    placer = Placer(works, appliances, cooks)
    temperatures = {work.temperature_c for work in works if work.temperature_c is not None}
    changes = max(0, len(temperatures) - appliances.ovens)
    cleans = any(work.portion and work.contact.spoils_itself for work in works)
    ideal = (
        bound + changes * appliances.oven_change_minutes + cleans * appliances.clean_down_minutes,
        sum(work.portion for work in works),
    )
    best: Timetable | None = None
    order: list[Part] = []
    for tried in _first_lists(placer, temperatures):
        found = placer.place(tried)
        if best is None or (found.cost, found.waits) < (best.cost, best.waits):
            best, order = found, tried
    assert best is not None
    draw = random.Random(_SEED)
    for _ in range(min(_TRIES, _PLACINGS // len(order)) if order else 0):
        if (best.cost, best.waits) <= ideal:
            break
        tried = _moved(order, draw)
        found = placer.place(tried)
        if (found.cost, found.waits) <= (best.cost, best.waits):
            best, order = found, tried
    return best


def _first_lists(placer: Placer, temperatures: set[float]) -> Iterator[list[Part]]:
    rules = placer.rules
    for dishes in _dish_orders(placer.works, temperatures):
        yield _list_of(placer, dishes)
        if rules.any:
            # Clean work first, and portioning after all preparing: few clean-downs.
            for some in (dishes, sorted(dishes, key=rules.danger)):
                yield _list_of(placer, some)
                parts = [part for dish in some for part in placer.parts[dish]]
                yield sorted(parts, key=lambda part: part[1] == "last")


def _dish_orders(works: Sequence[Work], temperatures: set[float]) -> Iterator[list[int]]:
    """Yield orders of dishes: longest to go first, temperatures together in several orders."""

    def to_go(dish: int) -> int:
        work = works[dish]
        baking = work.oven * len(work.loads)
        return work.hob_alone + baking + (work.rest if work.heats else 0) + work.portion

    def key(dish: int) -> tuple[int, int, int]:
        return (-to_go(dish), -works[dish].prepare, dish)

    dishes = sorted(range(len(works)), key=key)
    yield dishes
    hot = sorted(temperatures)
    orders = list(permutations(hot)) if len(hot) <= _FEW_TEMPERATURES else [hot, hot[::-1]]
    for temperature_order in orders:
        rank = {temperature: n for n, temperature in enumerate(temperature_order)}
        bakes = [dish for dish in dishes if works[dish].temperature_c is not None]
        others = [dish for dish in dishes if works[dish].temperature_c is None]
        bakes.sort(key=lambda dish: (rank[works[dish].temperature_c or 0.0], key(dish)))
        yield bakes + others
        # What bakes last should not hold back what simmers longest.
        yield [dish for pair in _zipped(bakes, others) for dish in pair]


def _zipped(first: list[int], second: list[int]) -> Iterator[list[int]]:
    for place in range(max(len(first), len(second))):
        yield first[place : place + 1] + second[place : place + 1]


def _list_of(placer: Placer, dishes: list[int]) -> list[Part]:
    """Return the list of a dish order; a dish is portioned as soon as it would be done alone."""
    now = 0
    waiting: list[tuple[int, Part]] = []
    order: list[Part] = []
    for dish in dishes:
        work = placer.works[dish]
        while waiting and waiting[0][0] <= now:
            _, part = waiting.pop(0)
            now += placer.works[part[0]].portion
            order.append(part)
        now += work.prepare
        for part in placer.parts[dish]:
            if part[1] == "last":
                waiting.append((now + work.hob_alone + work.oven + work.rest, part))
            else:
                order.append(part)
        waiting.sort()
    return order + [part for _, part in waiting]


def _moved(order: list[Part], draw: random.Random) -> list[Part]:
    """Return the list with one stretch elsewhere, or all stretches of one dish.

    The stretches of a dish keep their order.
    """
    here = draw.randrange(len(order))
    dish = order[here][0]
    if draw.random() < _WHOLE_DISH:
        mine = [part for part in order if part[0] == dish]
        rest = [part for part in order if part[0] != dish]
        places = sorted(draw.randint(0, len(rest)) for _ in mine)
        for passed, (place, part) in enumerate(zip(places, mine, strict=True)):
            rest.insert(place + passed, part)
        return rest
    low, high = here, here
    while low > 0 and order[low - 1][0] != dish:
        low -= 1
    while high < len(order) - 1 and order[high + 1][0] != dish:
        high += 1
    there = draw.randint(low, high)
    rest = order[:here] + order[here + 1 :]
    return [*rest[:there], order[here], *rest[there:]]
