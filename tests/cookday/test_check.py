"""Whatever is changed in a sound timetable, the check finds it.

Fields are found by walking the records, so that a field added later is covered or fails here.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

import planopt.audit.contact
import planopt.audit.timetable
from cookday.kitchens import EXCLUDED, kitchen, recipe
from planopt.audit import check_timetables
from planopt.catalog.records import Catalog
from planopt.cookday.records import CookDaySchedule
from planopt.cookday.schedule import schedule_cook_days
from planopt.plan.records import Plan
from planopt.scenario.records import Scenario

Data = dict[str, Any]


@lru_cache(maxsize=1)
def _day() -> tuple[CookDaySchedule, Plan, Catalog, Scenario]:
    """Return a day with every kind of stretch: two temperatures, two loads, many rings, rests.

    Chicken and salmon are in hand as well, food that is eaten as it is, and a dish without fish.
    """
    dishes = [
        (recipe("ash", 20, extra=5, unattended=50, oven=(180, 40), foods=["salmon"]), 3.0),
        (recipe("elm", 15, unattended=30, hob=40, oven=(200, 20), foods=["chicken"]), 1.0),
        (recipe("fir", 20, unattended=25, hob=60, foods=["cheese"]), 1.5),
        (recipe("oak", 10, unattended=240), 1.0),
        (recipe("yew", 10, unattended=15, oven=(180, 15)), 0.5),
    ]
    eaters = {"ash": ["kit"], "fir": ["ida"], "yew": ["uma", "ana"]}
    given = kitchen(dishes, {"cooks": 2}, eaters)
    (found,) = schedule_cook_days(*given)
    return (found, *given)


def _rules(data: Data) -> set[str]:
    _, *given = _day()
    schedule = CookDaySchedule.model_validate(data)
    return {finding.rule for finding in check_timetables([schedule], *given)}


def _data() -> Data:
    """Return the day as plain data, its rows in lists so that they can be changed."""
    data: Data = _changeable(copy.deepcopy(_day()[0].model_dump()))
    return data


def _changeable(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _changeable(inner) for key, inner in value.items()}
    if isinstance(value, tuple) and value and isinstance(value[0], dict):
        return [_changeable(inner) for inner in value]
    return value


def _leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, (*path, key))
    elif isinstance(value, (list, tuple)) and value and isinstance(value[0], dict):
        for index, inner in enumerate(value):
            yield from _leaves(inner, (*path, index))
    else:
        yield path, value


def _others(name: str, value: Any) -> list[Any]:
    """Return other values of the same kind."""
    if name in ("allergens", "raw_foods", "made_apart_from") or name in EXCLUDED:
        return [(*value, "soy"), value[1:] if value else ("milk",)]
    if isinstance(value, bool):
        return [not value]
    if name == "kind":
        return [kind for kind in ("prepare", "hob", "oven", "rest", "portion") if kind != value]
    if isinstance(value, datetime):
        return [value + timedelta(minutes=1), value - timedelta(days=1)]
    if isinstance(value, date):
        return [value + timedelta(days=1)]
    if isinstance(value, (int, float)):
        return [value + 1, value - 1, value * 2 + 3]
    if isinstance(value, str):
        return [value + "x"]
    if isinstance(value, tuple):
        return [(*value, 1), value[1:]] if value else [(1,)]
    assert value is None, name
    return [1]


def test_a_sound_timetable_has_no_findings() -> None:
    """What the other tests find is due to their changes; the day has every kind of stretch."""
    assert _rules(_data()) == set()
    day = _day()[0]
    assert {task.kind for task in day.tasks} == {"prepare", "hob", "oven", "rest", "portion"}
    assert day.temperature_changes == 1
    assert len(day.clean_downs) >= 2
    assert [dish.made_apart_from for dish in day.dishes if dish.recipe_id == "yew"] == [
        ("fish", "milk")
    ]


def test_every_field_is_checked() -> None:
    """No field of a timetable can be changed unseen, but for the two that may be otherwise."""
    unseen = []
    for path, value in _leaves(_data()):
        for other in _others(str(path[-1]), value):
            data = _data()
            inner: Any = data
            for part in path[:-1]:
                inner[part] = dict(inner[part]) if isinstance(inner[part], dict) else inner[part]
                inner = inner[part]
            inner[path[-1]] = other
            if not _rules(data):
                unseen.append((path, value, other))
    # The bound's proof is not in the timetable; any cook who is free can do a stretch as well.
    excused = {one for one in unseen if one[0][-1] == "lower_bound_minutes" or one[0][-1] == "cook"}
    assert set(unseen) - excused == set()
    assert all(value in (1, 2) for path, _, value in excused if path[-1] == "cook")


def test_a_clean_down_left_out_is_found() -> None:
    """None of the clean-downs is there for nothing."""
    for index in range(len(_data()["clean_downs"])):
        data = _data()
        minutes = _day()[3].appliances.clean_down_minutes
        data["clean_downs"] = [
            one for place, one in enumerate(data["clean_downs"]) if place != index
        ]
        data["clean_minutes"] -= minutes
        assert "contact-surface" in _rules(data)


def test_a_task_left_out_is_found() -> None:
    """No stretch of any dish can be dropped."""
    for index in range(len(_data()["tasks"])):
        data = _data()
        data["tasks"] = data["tasks"][:index] + data["tasks"][index + 1 :]
        assert _rules(data)


def _tasks(data: Data, kind: str, recipe_id: str | None = None) -> list[Data]:
    names = [dish["recipe_id"] for dish in data["dishes"]]
    return [
        task
        for task in data["tasks"]
        if task["kind"] == kind and recipe_id in (None, names[task["dish"]])
    ]


def _move(task: Data, minutes: int) -> None:
    task["start_minute"] += minutes
    task["end_minute"] += minutes


def _one_cook(data: Data) -> None:
    for kind in ("prepare", "portion"):
        for task in _tasks(data, kind):
            task["cook"] = 1


def _one_ring(data: Data) -> None:
    first, second = (_tasks(data, "hob", name)[0] for name in ("elm", "fir"))
    second["rings"] = (*second["rings"][:-1], first["rings"][0])
    _move(second, first["start_minute"] - second["start_minute"])


def _oven_full(data: Data) -> None:
    first, second = _tasks(data, "oven", "ash")
    _move(second, first["start_minute"] - second["start_minute"])


def _oven_cold(data: Data) -> None:
    for task in _tasks(data, "oven"):
        _move(task, -task["start_minute"])


def _oven_swings(data: Data) -> None:
    other = _tasks(data, "oven", "elm")[0]
    last = max(task["end_minute"] for task in _tasks(data, "oven", "ash"))
    other = _tasks(data, "oven", "elm")[0]
    _move(other, last + 5 - other["start_minute"])


def _before_it_is_baked(data: Data) -> None:
    _move(_tasks(data, "portion", "ash")[0], -30)


def _hob_off_early(data: Data) -> None:
    task = _tasks(data, "hob", "fir")[0]
    task["end_minute"] = task["start_minute"] + 3


def _third_cook(data: Data) -> None:
    _tasks(data, "prepare")[0]["cook"] = 3


def _fifth_ring(data: Data) -> None:
    task = _tasks(data, "hob")[0]
    task["rings"] = (*task["rings"][:-1], 5)


def _second_oven(data: Data) -> None:
    _tasks(data, "oven")[0]["oven"] = 2


def _less_work(data: Data) -> None:
    _tasks(data, "prepare", "ash")[0]["end_minute"] -= 2


def _baked_short(data: Data) -> None:
    _tasks(data, "oven", "elm")[0]["end_minute"] -= 1


def _too_hot(data: Data) -> None:
    _tasks(data, "oven", "elm")[0]["temperature_c"] += 10


def _rested_short(data: Data) -> None:
    _tasks(data, "rest", "oak")[0]["end_minute"] -= 1


def _holds_a_ring_to_rest(data: Data) -> None:
    _tasks(data, "rest")[0]["rings"] = (1,)


def _ends_before_it_starts(data: Data) -> None:
    task = _tasks(data, "rest", "oak")[0]
    task["end_minute"] = task["start_minute"] - 1


def _half_the_grams(data: Data) -> None:
    _tasks(data, "oven", "ash")[0]["grams"] /= 2


def _fewer_batches(data: Data) -> None:
    _tasks(data, "prepare", "ash")[0]["batches"] = 1


def _dish_twice(data: Data) -> None:
    data["dishes"] = [*data["dishes"], data["dishes"][0]]


def _dish_lighter(data: Data) -> None:
    data["dishes"] = [{**data["dishes"][0], "grams": 1}, *data["dishes"][1:]]


def _dish_sooner(data: Data) -> None:
    data["dishes"] = [{**data["dishes"][0], "packed_minute": 1}, *data["dishes"][1:]]


def _ends_sooner(data: Data) -> None:
    data["makespan_minutes"] -= 1


def _bound_too_high(data: Data) -> None:
    data["lower_bound_minutes"] = data["makespan_minutes"] + 1


def _at(data: Data, kind: str, recipe_id: str, start: int) -> None:
    (task, *_) = _tasks(data, kind, recipe_id)
    _move(task, start - task["start_minute"])


def _fish_just_before(data: Data) -> None:
    clean = _tasks(data, "prepare", "yew")[0]
    fish = _tasks(data, "prepare", "ash")[0]
    _move(fish, clean["start_minute"] - fish["end_minute"])


def _fish_beside(data: Data) -> None:
    clean = _tasks(data, "prepare", "yew")[0]
    _at(data, "prepare", "ash", clean["start_minute"])


def _chicken_beside_what_is_eaten_as_it_is(data: Data) -> None:
    _at(data, "prepare", "elm", _tasks(data, "prepare", "oak")[0]["start_minute"])


def _chicken_then_portions(data: Data) -> None:
    portion = _tasks(data, "portion", "fir")[0]
    chicken = _tasks(data, "prepare", "elm")[0]
    _move(chicken, portion["start_minute"] - chicken["end_minute"])


def _cooked_fish_beside(data: Data) -> None:
    _at(data, "portion", "ash", _tasks(data, "portion", "yew")[0]["start_minute"])


def _bakes_beside_the_fish(data: Data) -> None:
    _at(data, "oven", "yew", _tasks(data, "oven", "ash")[0]["start_minute"] + 1)


def _fish_pushed_in_beside(data: Data) -> None:
    _at(data, "oven", "ash", _tasks(data, "oven", "yew")[0]["start_minute"] - 10)


def _no_clean_down(data: Data) -> None:
    data["clean_downs"], data["clean_minutes"] = [], 0


def _hurried(data: Data) -> None:
    data["clean_downs"] = [
        {**one, "end_minute": one["start_minute"] + 1} for one in data["clean_downs"]
    ]


def _cleaned_too_late(data: Data) -> None:
    for one in data["clean_downs"]:
        _move(one, 6)


def _cleaned_while_the_fish_is_in_hand(data: Data) -> None:
    fish = _tasks(data, "prepare", "ash")[0]
    data["clean_downs"] = [
        {**one, "start_minute": fish["end_minute"] - 1, "end_minute": fish["end_minute"] + 4}
        for one in data["clean_downs"]
    ]


def _cleaned_for_nothing(data: Data) -> None:
    last = data["makespan_minutes"]
    more = {**data["clean_downs"][0], "start_minute": last, "end_minute": last + 5}
    data["clean_downs"] = [*data["clean_downs"], more]
    data["clean_minutes"] += 5


def _another_reason(data: Data) -> None:
    first = data["clean_downs"][0]
    reasons = [{**one, "what": "celery"} for one in first["reasons"]]
    data["clean_downs"] = [{**first, "reasons": reasons}, *data["clean_downs"][1:]]


def _cleans_with_busy_hands(data: Data) -> None:
    busy = data["clean_downs"][0]
    task = _tasks(data, "prepare", "ash")[0]
    task["cook"] = busy["cook"]
    _move(task, busy["start_minute"] - task["start_minute"])


def _dish(data: Data, recipe_id: str, **fields: Any) -> None:
    data["dishes"] = [
        {**dish, **(fields if dish["recipe_id"] == recipe_id else {})} for dish in data["dishes"]
    ]


def _claims_more(data: Data) -> None:
    _dish(data, "fir", made_apart_from=("fish", "milk"))


def _claims_in_spite_of_the_oven(data: Data) -> None:
    _bakes_beside_the_fish(data)


def _forgets_the_fish(data: Data) -> None:
    _dish(data, "ash", allergens=())


def _forgets_who_is_allergic(data: Data) -> None:
    _dish(data, "yew", avoided_by={})


def _cooks_it_through(data: Data) -> None:
    _dish(data, "oak", ready_to_eat=False)


CHANGES: tuple[tuple[str, Callable[[Data], None]], ...] = (
    ("over-booked", _one_cook),
    ("over-booked", _one_ring),
    ("over-booked", _oven_full),
    ("oven-heats", _oven_cold),
    ("oven-heats", _oven_swings),
    ("order", _before_it_is_baked),
    ("order", _hob_off_early),
    ("hob-work", _hob_off_early),
    ("capacity", _third_cook),
    ("capacity", _fifth_ring),
    ("capacity", _second_oven),
    ("hands-on-work", _less_work),
    ("oven-work", _baked_short),
    ("oven-work", _too_hot),
    ("unattended", _rested_short),
    ("task-holds", _holds_a_ring_to_rest),
    ("task-time", _ends_before_it_starts),
    ("task-grams", _half_the_grams),
    ("task-batches", _fewer_batches),
    ("dish-row", _dish_twice),
    ("dish-facts", _dish_lighter),
    ("dish-times", _dish_sooner),
    ("timetable-head", _ends_sooner),
    ("timetable-sums", _ends_sooner),
    ("lower-bound", _bound_too_high),
    ("contact-surface", _fish_just_before),
    ("contact-surface", _fish_beside),
    ("contact-surface", _chicken_beside_what_is_eaten_as_it_is),
    ("contact-surface", _chicken_then_portions),
    ("contact-surface", _cooked_fish_beside),
    ("contact-surface", _no_clean_down),
    ("contact-surface", _cleaned_too_late),
    ("contact-surface", _cleaned_while_the_fish_is_in_hand),
    ("contact-oven", _bakes_beside_the_fish),
    ("contact-oven", _fish_pushed_in_beside),
    ("contact-claim", _claims_more),
    ("contact-claim", _fish_just_before),
    ("contact-claim", _claims_in_spite_of_the_oven),
    ("contact-facts", _forgets_the_fish),
    ("contact-facts", _forgets_who_is_allergic),
    ("contact-facts", _cooks_it_through),
    ("clean-down", _hurried),
    ("clean-down-why", _cleaned_for_nothing),
    ("clean-down-why", _another_reason),
    ("over-booked", _cleans_with_busy_hands),
)


@pytest.mark.parametrize(("rule", "change"), CHANGES, ids=lambda one: getattr(one, "__name__", one))
def test_each_rule_finds_its_breach(rule: str, change: Callable[[Data], None]) -> None:
    """A timetable that breaks one rule is named by that rule."""
    data = _data()
    change(data)
    assert rule in _rules(data)


def test_a_day_without_or_with_two_timetables_is_found() -> None:
    """Every cook day with a batch has one timetable, and no other day has any."""
    day, *given = _day()
    for some, found in (([], "0"), ([day, day], "2")):
        findings = check_timetables(some, *given)
        assert [(one.rule, one.found) for one in findings] == [("timetable", found)]
    idle = given[0].model_copy(update={"batches": ()})
    assert [one.rule for one in check_timetables([day], idle, *given[1:])] == ["timetable"]


def test_every_rule_of_the_check_has_a_change_here() -> None:
    """The rules named in the check's code are those broken in this file."""
    modules = (planopt.audit.timetable, planopt.audit.contact)
    text = "".join(Path(one.__file__).read_text(encoding="utf-8") for one in modules)
    named = set(re.findall(r'(?:Finding|unequal)\(\s*"([a-z-]+)"', text))
    # Labels have their own test, in test_contact.py.
    assert named == {rule for rule, _ in CHANGES} | {"timetable", "label-claim"}
