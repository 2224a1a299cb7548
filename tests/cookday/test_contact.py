"""Cook days on which raw food, allergens, and what must be kept from both are cooked together."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cookday.kitchens import kitchen, recipe
from planopt.audit import check_label_claims, check_timetables
from planopt.catalog.records import Catalog
from planopt.cookday.bounds import lower_bound_minutes
from planopt.cookday.contact import contact_of, is_raw_animal
from planopt.cookday.containers import containers_of
from planopt.cookday.records import RAW, CleanReason, CookDaySchedule, Task
from planopt.cookday.schedule import schedule_cook_days
from planopt.cookday.work import work_of
from planopt.plan.records import Plan
from planopt.scenario.records import Scenario


def _day(*given: Any) -> CookDaySchedule:
    """Return the timetable of a day, which the audit must agree with."""
    (found,) = schedule_cook_days(*given)
    assert check_timetables([found], *given) == []
    return found


def _tasks(day: CookDaySchedule, kind: str, recipe_id: str) -> list[Task]:
    return [t for t in day.tasks if t.kind == kind and day.dishes[t.dish].recipe_id == recipe_id]


def _salmon_and_chickpeas(covered: bool = False, eats: str = "ida") -> CookDaySchedule:
    """Return a day with two trays for one oven, which has room for both at once."""
    dishes = [
        (recipe("bake", 5, unattended=40, oven=(200, 40), foods=["salmon"], covered=covered), 1.0),
        (recipe("pods", 5, unattended=40, oven=(200, 40)), 1.0),
    ]
    return _day(*kitchen(dishes, None, {"bake": ["ana"], "pods": [eats]}))


def _beside(day: CookDaySchedule) -> bool:
    (bake,), (pods,) = _tasks(day, "oven", "bake"), _tasks(day, "oven", "pods")
    return bake.start_minute < pods.end_minute and pods.start_minute < bake.end_minute


def test_chickpeas_for_a_fish_allergy_never_roast_beside_salmon() -> None:
    """Both would fit at once, and do for a client without the allergy or if the fish is covered."""
    assert not _beside(_salmon_and_chickpeas())
    assert _beside(_salmon_and_chickpeas(covered=True))
    assert _beside(_salmon_and_chickpeas(eats="ana"))


def test_dishes_for_an_allergy_come_before_the_allergen() -> None:
    """Where the order alone keeps them apart, nobody has to clean."""
    dishes = [
        (recipe("bake", 20, foods=["sardines"]), 1.0),
        (recipe("pods", 10), 1.0),
    ]
    day = _day(*kitchen(dishes, None, {"bake": ["ana"], "pods": ["ida"]}))
    assert [dish.recipe_id for dish in day.dishes] == ["pods", "bake"]
    assert (day.clean_downs, day.clean_minutes) == ((), 0)
    assert day.makespan_minutes == 30
    assert day.dishes[0].made_apart_from == ("fish",)


def test_portioning_after_raw_chicken_waits_for_a_clean_down() -> None:
    """Chicken 24 + 30 + 6; between its preparing and portioning somebody cleans, and says why."""
    dishes = [(recipe("stew", 30, unattended=30, hob=30, foods=["chicken"]), 1.0)]
    given = kitchen(dishes, None, {"stew": ["ana"]}, clean_down_minutes=7)
    day = _day(*given)
    (clean,) = day.clean_downs
    assert clean.end_minute - clean.start_minute == day.clean_minutes == 7
    assert clean.reasons == (CleanReason(what=RAW, from_dish=0, for_dish=0),)
    assert day.hands_on_minutes == 30
    assert day.makespan_minutes == day.lower_bound_minutes == 60
    assert day.dishes[0].raw_foods == ("chicken",)


def test_the_bound_knows_of_a_clean_down_that_is_certain() -> None:
    """Without heat to wait for, the day is as long as hands-on work and one clean-down."""
    dishes = [(recipe("fry", 30, unattended=1, hob=3, foods=["chicken"]), 1.0)]
    plan, catalog, scenario = kitchen(dishes, None, {"fry": ["ana"]})
    day = _day(plan, catalog, scenario)
    assert day.makespan_minutes == day.lower_bound_minutes == 24 + 5 + 6
    bare = work_of(dishes[0][0], 1.0, scenario.appliances)
    assert lower_bound_minutes([bare], scenario.appliances, 1) < 35


def test_what_is_eaten_as_it_is_comes_before_raw_food() -> None:
    """A cold dish is prepared before the chicken; a stew that is cooked through needs not be."""
    for serve, ready in (("cold", True), ("reheated", False)):
        dishes = [
            (recipe("dip", 10, unattended=5, hob=5, serve=serve), 1.0),
            (recipe("hen", 20, unattended=60, oven=(180, 60), foods=["chicken"]), 1.0),
        ]
        day = _day(*kitchen(dishes, None, {"dip": ["ana"], "hen": ["ana"]}))
        facts = {dish.recipe_id: dish for dish in day.dishes}
        assert facts["dip"].ready_to_eat is ready
        assert not facts["hen"].ready_to_eat
        assert len(day.clean_downs) == 1
    topped = [(recipe("hen", 20, unattended=9, oven=(180, 9), apart=["potato"]), 1.0)]
    assert _day(*kitchen(topped)).dishes[0].ready_to_eat


def test_two_cooks_share_one_surface() -> None:
    """Fish and a dish for a fish allergy are not in hand at once, however many cooks there are."""
    dishes = [
        (recipe("bake", 20, foods=["sardines"]), 1.0),
        (recipe("pods", 20), 1.0),
    ]
    day = _day(*kitchen(dishes, {"cooks": 2}, {"bake": ["ana"], "pods": ["ida"]}))
    assert day.makespan_minutes == 40
    free = _day(*kitchen(dishes, {"cooks": 2}, {"bake": ["ana"], "pods": ["kit"]}))
    assert free.makespan_minutes == 20


@pytest.mark.parametrize("cooks", [1, 2])
def test_a_dish_caught_between_two_others_is_cleaned_for(cooks: int) -> None:
    """Each holds what another's eaters avoid, so that no order does without a clean-down."""
    dishes = [
        (recipe("bake", 10, foods=["sardines"]), 1.0),
        (recipe("curd", 10, foods=["cheese"]), 1.0),
    ]
    day = _day(*kitchen(dishes, {"cooks": cooks}, {"bake": ["kit"], "curd": ["ida"]}))
    (clean,) = day.clean_downs
    assert day.makespan_minutes == 25
    assert [reason.what for reason in clean.reasons] in (["fish"], ["milk"])
    assert {dish.made_apart_from for dish in day.dishes} == {("fish",), ("milk",)}


def _labelled() -> tuple[CookDaySchedule, Plan, Catalog, Scenario]:
    dishes = [
        (recipe("bake", 20, foods=["sardines"]), 1.0),
        (recipe("pods", 10), 1.0),
    ]
    given = kitchen(dishes, None, {"bake": ["ana"], "pods": ["ida", "ana"]})
    return (_day(*given), *given)


def test_a_box_claims_what_its_own_client_excludes_and_a_timetable_keeps_away() -> None:
    """Ida's box says it; Ana's box of the same dish does not, nor any box without a timetable."""
    day, *given = _labelled()
    boxes = containers_of(*given, [day])
    claims = {(box.client_id, box.recipe_id): box.made_apart_from for box in boxes}
    assert claims == {("ida", "pods"): ("fish",), ("ana", "pods"): (), ("ana", "bake"): ()}
    assert check_label_claims(boxes, [day], *given) == []
    assert all(box.made_apart_from == () for box in containers_of(*given))


def test_a_claim_without_cover_is_found() -> None:
    """Claims of another allergen, of another client, and under a broken timetable are findings."""
    day, *given = _labelled()
    boxes = containers_of(*given, [day])

    def rules(some: Any, days: list[CookDaySchedule]) -> list[str]:
        return [one.rule for one in check_label_claims(some, days, *given)]

    for box in boxes:
        for claim in (("milk",), ("fish", "milk")):
            others = [
                other.model_copy(update={"made_apart_from": claim}) if other is box else other
                for other in boxes
            ]
            assert rules(others, [day]) == ["label-claim"]
    assert rules(boxes, []) == ["label-claim"]
    swapped = [
        task.model_copy(
            update={
                "start_minute": task.start_minute + (20 if task.dish == 0 else -10),
                "end_minute": task.end_minute + (20 if task.dish == 0 else -10),
            }
        )
        for task in day.tasks
    ]
    broken = day.model_copy(update={"tasks": tuple(swapped)})
    assert rules(boxes, [broken]) == ["label-claim"]


def test_a_dish_is_for_those_who_eat_it_alone() -> None:
    """Whoever is in the kitchen and eats none of it asks nothing of a dish."""
    dishes = [(recipe("pods", 10), 1.0)]
    plan, catalog, scenario = kitchen(dishes, None, {"pods": ["uma", "kit"]})
    day = _day(plan, catalog, scenario)
    assert day.dishes[0].avoided_by == {"kit": ("milk",), "uma": ("fish", "milk")}
    (batch,) = plan.batches
    contact = contact_of(batch, dishes[0][0], plan, catalog, scenario)
    assert contact.avoids == {"fish", "milk"}
    none = plan.model_copy(update={"portions": ()})
    assert contact_of(batch, dishes[0][0], none, catalog, scenario).avoids == frozenset()


def test_raw_animal_food_is_raw_and_of_a_class() -> None:
    """Raw produce is no raw animal food, nor is canned fish."""
    _, catalog, _ = kitchen([(recipe("pods", 10), 1.0)])
    raw = {food_id for food_id, food in catalog.foods.items() if is_raw_animal(catalog, food)}
    assert raw == {"chicken", "salmon"}


def test_clean_downs_are_on_the_clock_of_the_day() -> None:
    """They lie within the day, in order, and hold one of its cooks."""
    dishes = [
        (recipe("hen", 25, unattended=40, oven=(180, 40), foods=["chicken"]), 1.0),
        (recipe("bake", 20, unattended=20, oven=(180, 20), foods=["salmon"]), 1.0),
        (recipe("pods", 15, unattended=30, hob=30), 1.0),
        (recipe("curd", 10, foods=["cheese"]), 1.0),
    ]
    eaters = {"hen": ["kit"], "bake": ["ana"], "pods": ["uma"], "curd": ["ida"]}
    day = _day(*kitchen(dishes, {"cooks": 2}, eaters))
    assert 1 <= len(day.clean_downs) <= 4
    assert all(one.start_minute >= 0 for one in day.clean_downs)
    assert all(one.end_minute <= day.makespan_minutes for one in day.clean_downs)
    assert day.ends_at - day.starts_at == timedelta(minutes=day.makespan_minutes)
    assert {dish.recipe_id: dish.made_apart_from for dish in day.dishes} == {
        "hen": ("milk",), "bake": (), "pods": ("fish", "milk"), "curd": ("fish",),
    }  # fmt: skip
