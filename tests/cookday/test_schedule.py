"""Timetables of whole cook days: lengths, times of the clock, numbers, temperatures."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cookday.kitchens import kitchen, recipe, schedule
from planopt.audit import check_timetables
from planopt.cookday.records import CookDaySchedule
from planopt.cookday.schedule import schedule_cook_days
from report_samples import sample_catalog, sample_plan, sample_scenario
from shipped import shipped_catalog


def test_the_sample_day_by_hand() -> None:
    """The fish bakes and is portioned while the mash is made: 25 + 20 hands-on minutes in a row.

    Fish, 1.5 batches: 20 + 5 = 25 hands-on, 10 ring-minutes a batch, 40 alone, 30 of them in the
    oven. Mash, 2 batches, without heat: 15 + 5. The fish takes 20 + 40 + 5 minutes by itself.
    """
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    (day,) = schedule_cook_days(plan, catalog, scenario)
    assert [dish.recipe_id for dish in day.dishes] == ["fish_bake", "mash"]
    assert day.makespan_minutes == day.lower_bound_minutes == 65
    assert (day.starts_at, day.ends_at) == (
        datetime(2027, 1, 3, 9, 0),
        datetime(2027, 1, 3, 10, 5),
    )
    fish, mash = day.dishes
    assert (fish.hands_on_minutes, fish.packed_minute, fish.wait_minutes) == (25, 65, 5)
    assert (mash.start_minute, mash.packed_minute) == (20, 40)
    assert (fish.grams, mash.grams) == (900 + 337.5 + 15, 800)
    assert [(t.kind, t.start_minute, t.end_minute) for t in day.tasks if t.dish == 0] == [
        ("prepare", 0, 20),
        ("hob", 20, 30),
        ("oven", 30, 60),
        ("portion", 60, 65),
    ]
    assert day.oven_runs[0].temperature_c == 200
    assert check_timetables([day], plan, catalog, scenario) == []


def test_equal_input_gives_equal_timetables() -> None:
    """Nothing depends on the clock, on hashes or on the order of dictionaries."""
    dishes = [(recipe(f"d{n}", 7 + n, oven=(160 + 20 * (n % 3), 25)), 1.0) for n in range(6)]
    assert schedule(dishes) == schedule(dishes)


def _stated(day: CookDaySchedule) -> list[float]:
    return [task.temperature_c for task in day.tasks if task.temperature_c is not None]


def test_an_oven_keeps_a_temperature_as_long_as_it_is_of_use() -> None:
    """Six bakes at two temperatures change it once, whatever order they are listed in."""
    dishes = [(recipe(f"d{n}", 10, oven=((170, 210)[n % 2], 20)), 1.0) for n in range(6)]
    day = schedule(dishes, oven_batches=1)
    assert day.temperature_changes == 1
    assert _stated(day) in ([170] * 3 + [210] * 3, [210] * 3 + [170] * 3)
    assert len(day.oven_runs) == 2


def test_two_dishes_share_an_oven_only_at_one_temperature() -> None:
    """Two batches go in together at 180; at 180 and 200 they follow each other."""
    equal = [(recipe(name, 4, oven=(180, 30)), 1.0) for name in ("ash", "elm")]
    other = [equal[0], (recipe("elm", 4, oven=(200, 30)), 1.0)]
    assert schedule(equal).makespan_minutes == 10 + 30
    assert schedule(other).makespan_minutes == 10 + 30 + 10 + 30
    assert schedule(other, ovens=2).makespan_minutes == 10 + 30
    assert schedule(equal, oven_batches=1).makespan_minutes == 10 + 30 + 30


def test_more_cooks_and_rings_shorten_the_day() -> None:
    """Hands-on work is shared by cooks, and simmering by rings."""
    dishes = [(recipe(name, 4, unattended=30, hob=30), 1.0) for name in ("ash", "elm", "fir")]
    assert schedule(dishes, hob_rings=1).makespan_minutes == 4 + 3 * 30
    assert schedule(dishes).makespan_minutes == 3 * 4 + 30
    assert schedule(dishes, {"cooks": 3}).makespan_minutes == 4 + 30


def test_the_day_may_start_late_and_end_on_the_next() -> None:
    """The end is a date and a time, not a time alone."""
    day = schedule([(recipe("ash", 90), 1.0)], {"starts_at": "23:15"})
    assert day.ends_at == datetime(2027, 1, 5, 0, 45)


def test_a_dish_without_minutes_has_no_tasks() -> None:
    """Nothing to do is an empty day that ends when it starts."""
    day = schedule([(recipe("ash", 0), 1.0)])
    assert (day.tasks, day.makespan_minutes, day.lower_bound_minutes) == ((), 0, 0)
    assert check_timetables([day], *kitchen([(recipe("ash", 0), 1.0)])) == []


@pytest.mark.parametrize("first", range(0, 80, 11))
def test_days_of_shipped_recipes_can_be_cooked_by(first: int) -> None:
    """Twelve recipes a day, all shipped ones in turn: nothing over-booked, food chilled in time.

    One cook; the day ends within an eighth of its lower bound, and the waits stay within the two
    hours of the USDA Food Safety and Inspection Service's guidance on leftovers.
    """
    recipes = list(shipped_catalog().recipes.values())[first : first + 12]
    counts = (0.5, 1.0, 1.5, 2.0)
    plan, catalog, scenario = kitchen([(one, counts[n % 4]) for n, one in enumerate(recipes)])
    (day,) = schedule_cook_days(plan, catalog, scenario)
    assert check_timetables([day], plan, catalog, scenario) == []
    assert day.lower_bound_minutes <= day.makespan_minutes <= 1.12 * day.lower_bound_minutes
    assert max(dish.wait_minutes for dish in day.dishes) <= 120


_MINUTES = st.one_of(st.just(0.0), st.floats(min_value=0.1, max_value=90))
_DISHES = st.lists(
    st.tuples(
        _MINUTES, _MINUTES, _MINUTES, _MINUTES,
        st.one_of(st.none(), st.tuples(st.sampled_from([160, 180.5, 220]), st.floats(0.1, 90))),
        st.floats(min_value=0.01, max_value=7),
    ),
    min_size=1, max_size=3,
)  # fmt: skip


@settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    dishes=_DISHES,
    cooks=st.integers(1, 3),
    ovens=st.integers(1, 2),
    oven_batches=st.floats(min_value=0.4, max_value=5),
    change=st.integers(0, 15),
    rings=st.integers(1, 5),
)
def test_no_kitchen_gives_a_timetable_that_the_check_refuses(
    dishes: list[tuple[float, float, float, float, tuple[float, float] | None, float]],
    cooks: int, ovens: int, oven_batches: float, change: int, rings: int,
) -> None:  # fmt: skip
    """Whatever minutes, batches and appliances are, the day can be cooked by and has its bound."""
    made = []
    for n, (hands_on, extra, alone, hob, oven, count) in enumerate(dishes):
        more = {"extra": extra, "unattended": alone, "hob": hob}
        made.append((recipe(f"d{n}", hands_on, **more, **({"oven": oven} if oven else {})), count))
    given_kitchen = kitchen(
        made, {"cooks": cooks}, ovens=ovens, oven_batches=oven_batches,
        oven_change_minutes=change, hob_rings=rings,
    )  # fmt: skip
    (day,) = schedule_cook_days(*given_kitchen)
    assert check_timetables([day], *given_kitchen) == []
    assert day.lower_bound_minutes <= day.makespan_minutes
