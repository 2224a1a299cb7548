"""A lower bound on the length of a cook day, whatever the order of its work.

Each stretch has a head (the least time before it) and a tail (the least time after it). For any
set of stretches that share a resource, least head + work / capacity + least tail is a bound; for
one cook the best of these is the makespan of Jackson's preemptive schedule (Carlier, The
one-machine sequencing problem, European Journal of Operational Research 11, 1982). The longest
dish alone is a bound too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from planopt.cookday.work import Work
from planopt.scenario.workplace import Appliances
from planopt.units import exact


@dataclass(frozen=True)
class Stretch:
    """Minutes on so many units of a resource, with the least time before and after."""

    head: int
    minutes: int
    units: Fraction
    tail: int
    temperature_c: float | None = None


def lower_bound_minutes(works: Sequence[Work], appliances: Appliances, cooks: int) -> int:
    """Return minutes that the work takes at least, resting after all heat and hands left out."""
    hands: list[Stretch] = []
    hob: list[Stretch] = []
    oven: list[Stretch] = []
    cleans: list[Stretch] = []
    longest = 0
    for work in works:
        longest = max(longest, _of_dish(work, appliances, (hands, hob, oven, cleans)))
    capacity = exact(appliances.oven_batches) * appliances.ovens

    def oven_minutes(stretches: Sequence[Stretch]) -> int:
        if appliances.ovens > 1:
            return _busy(stretches, capacity)
        # One oven has one temperature at a time.
        groups: dict[float | None, list[Stretch]] = {}
        for stretch in stretches:
            groups.setdefault(stretch.temperature_c, []).append(stretch)
        changes = appliances.oven_change_minutes * (len(groups) - 1)
        return changes + sum(_busy(group, capacity) for group in groups.values())

    def by_hands(stretches: Sequence[Stretch]) -> int:
        return most_over_sets(stretches, lambda some: _busy(some, Fraction(cooks)))

    return max(
        longest,
        by_hands(hands),
        *(by_hands([*hands, clean]) for clean in set(cleans)),
        most_over_sets(hob, lambda some: _busy(some, Fraction(appliances.hob_rings))),
        most_over_sets(oven, oven_minutes),
    )


def _of_dish(work: Work, appliances: Appliances, lists: tuple[list[Stretch], ...]) -> int:
    """Add a dish's stretches of hands, hob, oven and cleaning; return its least minutes alone."""
    hands, hob, oven, cleans = lists
    heat_from = work.prepare + work.hob_alone
    baking = 0
    if work.oven:
        heat_from = max(heat_from, appliances.oven_change_minutes)
        # Full loads cannot share an oven.
        full = floor(sum(work.loads) / exact(appliances.oven_batches))
        baking = work.oven * max(1, ceil(Fraction(full, appliances.ovens)))
    after_heat = work.rest + work.portion if work.portion else 0
    longest = total = heat_from + baking + after_heat
    one = Fraction(1)
    clean = appliances.clean_down_minutes
    if work.prepare and work.portion and work.contact.spoils_itself:
        # A clean-down after its preparing and before its portioning; dishes may share one.
        longest = max(longest, work.prepare + clean + work.portion)
        cleans.append(Stretch(work.prepare, clean, one, work.portion))
    hands.append(Stretch(0, work.prepare, one, work.hob_alone + baking + after_heat))
    hands.append(Stretch(total - work.portion, work.portion, one, 0))
    begins = work.prepare - work.hob_attended
    hob.append(Stretch(begins, work.hob, Fraction(work.rings), baking + after_heat))
    oven += [
        Stretch(heat_from, work.oven, load, after_heat, work.temperature_c) for load in work.loads
    ]
    return longest


def _busy(stretches: Sequence[Stretch], capacity: Fraction) -> int:
    work = sum((s.minutes * s.units for s in stretches), Fraction(0))
    return max(ceil(work / capacity), max(s.minutes for s in stretches))


def most_over_sets(
    stretches: Sequence[Stretch], minutes: Callable[[Sequence[Stretch]], int]
) -> int:
    """Return the best bound over all sets of stretches with at least some head and some tail."""
    real = [s for s in stretches if s.minutes]
    best = 0
    for head in {s.head for s in real}:
        for tail in {s.tail for s in real}:
            some = [s for s in real if s.head >= head and s.tail >= tail]
            if some:
                best = max(best, head + minutes(some) + tail)
    return best
