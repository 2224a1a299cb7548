"""The work of one dish as stretches of hands-on, hob, oven and rest, from the totals of a recipe.

A recipe states minutes, not who does what when. One rule turns them into stretches; it is common
practice, no source, and is told to users in the guide (figures.md):

1. Preparing: four fifths of the hands-on minutes, in one go by one cook.
2. Hob, then oven, then rest, all unattended. Where the ring-minutes do not fit into the unattended
   minutes beside the oven, the hob is on during the last part of the preparing; where they do not
   fit into that either, more rings are on at once.
3. Portioning: the last fifth of the hands-on minutes, by one cook.

A dish without hob and oven is portioned as it is prepared, and rests after that. Every batch, whole
or in part, has pots and oven space of its own, and half a batch takes as long as a whole one.
Minutes are rounded up to whole ones.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor

from planopt.catalog.records import Recipe
from planopt.cookday.contact import Contact
from planopt.scenario.workplace import Appliances
from planopt.units import exact

_PORTIONING_SHARE = 5  # one minute in so many


@dataclass(frozen=True)
class Work:
    """Stretches of one dish, in whole minutes.

    The hob is on for `hob` minutes on `rings` rings, the first `hob_attended` of them the last
    ones of the preparing. `loads` are batches in the oven at once, each for `oven` minutes.
    `contact` says what it must be kept from, and what must be kept from it.
    """

    prepare: int
    hob: int
    hob_attended: int
    rings: int
    loads: tuple[Fraction, ...]
    oven: int
    temperature_c: float | None
    rest: int
    portion: int
    contact: Contact = field(default_factory=Contact)

    @property
    def hob_alone(self) -> int:
        """Return the minutes of the hob after the preparing."""
        return self.hob - self.hob_attended

    @property
    def heats(self) -> bool:
        """Tell whether the dish sees hob or oven."""
        return self.hob > 0 or self.oven > 0


def work_of(recipe: Recipe, batches: float, appliances: Appliances) -> Work:
    """Return the work of so many batches of a recipe on one cook day."""
    count = exact(batches)
    minutes, equipment = recipe.minutes, recipe.equipment
    first = exact(minutes.hands_on)
    extra = exact(minutes.hands_on_per_extra_batch) * max(Fraction(0), count - 1)
    oven = ceil(exact(equipment.oven.minutes)) if equipment.oven else 0
    unattended = ceil(exact(minutes.unattended))
    on_rings = exact(equipment.hob_minutes)
    hands_on = ceil(first + extra)
    portion = hands_on // _PORTIONING_SHARE if oven or on_rings else 0
    prepare = hands_on - portion
    beside = max(0, unattended - oven)
    hob = attended = rings = alone = 0
    if on_rings:
        of_one = ceil(first)
        window = of_one - of_one // _PORTIONING_SHARE + beside
        most = appliances.hob_rings
        pots_a_batch = min(most, ceil(on_rings / window) if window else most)
        once = ceil(on_rings / pots_a_batch)
        attended = min(prepare, max(0, once - beside))
        alone = once - attended
        pots = ceil(pots_a_batch * count)
        rounds = ceil(Fraction(pots, most))
        rings = ceil(Fraction(pots, rounds))
        hob = once * rounds
    return Work(
        prepare=prepare,
        hob=hob,
        hob_attended=attended,
        rings=rings,
        loads=_loads(count, exact(appliances.oven_batches)) if oven else (),
        oven=oven,
        temperature_c=equipment.oven.temperature_c if equipment.oven else None,
        rest=max(0, beside - alone),
        portion=portion,
    )


def _loads(count: Fraction, most: Fraction) -> tuple[Fraction, ...]:
    full = floor(count / most)
    left = count - full * most
    return (most,) * full + ((left,) if left else ())
