"""What the one rule makes of a recipe's minutes, and what the guide says of it."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cookday.kitchens import recipe
from planopt.cookday.work import Work, work_of
from planopt.scenario.workplace import Appliances
from shipped import shipped_catalog

KIT = Appliances()


def test_a_soup_is_on_the_hob_from_the_end_of_its_preparing() -> None:
    """20 hands-on, 25 alone, 35 ring-minutes: 16 + 4 minutes by hand, the hob from minute 6."""
    soup = recipe("soup", 20, unattended=25, hob=35)
    assert work_of(soup, 1, KIT) == Work(
        prepare=16, hob=35, hob_attended=10, rings=1, loads=(), oven=0, temperature_c=None,
        rest=0, portion=4,
    )  # fmt: skip


def test_a_bake_is_portioned_after_it_has_rested() -> None:
    """15 hands-on, 45 alone, 40 of them in the oven: 12 + 3 minutes by hand, 5 of rest."""
    bake = recipe("bake", 15, unattended=45, oven=(180, 40))
    work = work_of(bake, 1, KIT)
    assert (work.prepare, work.oven, work.temperature_c, work.rest, work.portion) == (
        12, 40, 180, 5, 3,
    )  # fmt: skip
    assert work.loads == (1,)


def test_the_hob_comes_before_the_oven_within_the_recipes_own_time() -> None:
    """40 hands-on, 45 alone, 30 in the oven, 75 ring-minutes: two rings, 38 minutes."""
    pie = work_of(recipe("pie", 40, unattended=45, hob=75, oven=(200, 30)), 1, KIT)
    assert (pie.rings, pie.hob, pie.hob_attended) == (2, 38, 23)
    assert pie.prepare + pie.hob_alone + pie.oven + pie.rest + pie.portion == 40 + 45


def test_what_sees_no_heat_is_packed_as_it_is_made_and_rests_after() -> None:
    """Overnight oats keep the cook for their hands-on minutes alone."""
    oats = work_of(recipe("oats", 12, unattended=240), 1, KIT)
    assert (oats.prepare, oats.portion, oats.rest, oats.heats) == (12, 0, 240, False)


def test_more_batches_take_more_hands_pots_and_loads_and_not_more_simmering() -> None:
    """2.5 batches: extra hands-on minutes for 1.5, three pots at once, loads of 2 and a half."""
    stew = recipe("stew", 20, extra=7, unattended=30, hob=30, oven=(160, 50))
    work = work_of(stew, 2.5, KIT)
    assert work.prepare + work.portion == 31  # 20 + 7 x 1.5 = 30.5
    assert work.loads == (2, Fraction(1, 2))
    # 16 + 0 minutes beside the oven hold 30 ring-minutes only on two rings: 5 pots, in two rounds.
    assert (work.rings, work.hob) == (3, 30)


def test_half_a_batch_takes_as_long_as_a_whole_one() -> None:
    """Half a pot simmers, and half a tin bakes, as long as a full one; it takes half the room."""
    stew = recipe("stew", 20, unattended=30, hob=30, oven=(160, 50))
    half, whole = work_of(stew, 0.5, KIT), work_of(stew, 1, KIT)
    assert (half.oven, half.prepare) == (whole.oven, whole.prepare)
    assert half.loads == (Fraction(1, 2),)
    assert half.hob == whole.hob


def test_pots_that_the_hob_cannot_hold_wait_for_a_second_round() -> None:
    """Three pots of 20 minutes on two rings are two rounds; what is more than one is unattended."""
    rice = recipe("rice", 10, unattended=20, hob=20)
    work = work_of(rice, 3, Appliances(hob_rings=2))
    assert (work.rings, work.hob, work.rest) == (2, 40, 0)


@pytest.mark.parametrize("batches", [0.5, 1.0, 1.5, 2.0, 3.0])
def test_every_shipped_recipe_keeps_its_totals(batches: float) -> None:
    """By the rule no recipe has less than its minutes, and one batch takes its own time exactly."""
    for one in shipped_catalog().recipes.values():
        work = work_of(one, batches, KIT)
        minutes, equipment = one.minutes, one.equipment
        extra = minutes.hands_on_per_extra_batch * max(0, batches - 1)
        assert 0 <= work.prepare + work.portion - (minutes.hands_on + extra) < 1
        assert work.rings * work.hob >= equipment.hob_minutes * batches
        assert work.rings <= KIT.hob_rings
        assert sum(work.loads) == (batches if equipment.oven else 0)
        alone = work.hob_alone + work.oven + work.rest
        assert alone >= minutes.unattended
        if batches <= 1:
            baked = equipment.oven.minutes if equipment.oven else 0
            assert alone == max(minutes.unattended, baked), one.recipe_id
