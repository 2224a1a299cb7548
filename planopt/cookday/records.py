"""Records of the work that a plan asks for: the timetable of each cook day, and the containers.

Minutes are whole and count from the start of the cook day; cooks, rings and ovens from 1. Masses
are edible grams before cooking. Times of the clock are local and carry no time zone.
"""

from __future__ import annotations

from datetime import date as Date
from datetime import datetime
from typing import Literal

from pydantic import Field

from planopt.catalog.records import Record

TaskKind = Literal["prepare", "hob", "oven", "rest", "portion"]
RAW = "raw animal food"  # beside allergen ids, which have no spaces


class Task(Record):
    """One stretch of work, heat or rest of one dish.

    `prepare` and `portion` are hands-on and hold one cook. `hob` holds rings, and its first part
    may lie within the preparing. `oven` holds a share of one oven. `rest` holds nothing.
    """

    dish: int = Field(description="0-based position among the dishes of the day")
    kind: TaskKind
    start_minute: int
    end_minute: int
    cook: int | None = None
    rings: tuple[int, ...] = ()
    oven: int | None = None
    temperature_c: float | None = None
    batches: float = Field(description="batches worked on; of an oven load, those in it")
    grams: float = Field(description="edible grams before cooking, of those batches")


class CleanReason(Record):
    """What is cleaned off, the dish that left it, and the dish that has to be kept from it."""

    what: str = Field(description="an allergen id, or `raw animal food`")
    from_dish: int = Field(description="0-based; the last one before that left it")
    for_dish: int = Field(description="0-based; the first one after that must not meet it")


class CleanDown(Record):
    """Minutes in which one cook cleans hands, boards, knives and the surface they are used on."""

    start_minute: int
    end_minute: int
    cook: int
    reasons: tuple[CleanReason, ...] = Field(description="by what is cleaned off")


class OvenRun(Record):
    """An oven at one temperature, from the first dish in to the last dish out."""

    oven: int
    temperature_c: float
    start_minute: int
    end_minute: int
    tasks: tuple[int, ...] = Field(description="0-based positions among the tasks of the day")


class DishWork(Record):
    """One version of one recipe on one cook day, as the timetable has it."""

    recipe_id: str
    recipe_name: str
    version: str
    batches: float
    servings: float
    grams: float = Field(description="edible grams before cooking, of all its lines")
    hands_on_minutes: int = Field(description="preparing and portioning, rounded up")
    start_minute: int
    packed_minute: int = Field(description="end of its last hands-on work")
    ready_minute: int = Field(description="end of everything, resting included")
    wait_minutes: int = Field(
        description="from the end of heat and rest to the end of portioning; chill within 120"
    )
    allergens: tuple[str, ...] = Field(description="allergen ids of its foods")
    raw_foods: tuple[str, ...] = Field(description="raw animal foods in it, the heaviest first")
    ready_to_eat: bool = Field(
        description="preparing it has food in hand that is not cooked afterwards"
    )
    avoided_by: dict[str, tuple[str, ...]] = Field(
        description="clients with allergen exclusions who eat it -> allergen ids"
    )
    made_apart_from: tuple[str, ...] = Field(
        description="of these allergens, those that the timetable keeps from it"
    )


class CookDaySchedule(Record):
    """The timetable of one cook day; dishes in the order in which they are begun.

    `makespan_minutes` ends with the last hands-on work or heat. What only rests after that, such
    as oats that soak overnight, keeps nobody and is in `ready_minute` of its dish.
    """

    cook_day: int
    cook_date: Date
    starts_at: datetime
    ends_at: datetime
    makespan_minutes: int
    lower_bound_minutes: int = Field(description="proven: no order of this work ends earlier")
    cooks: int
    ovens: int
    oven_batches: float = Field(description="most batches in one oven at once")
    oven_change_minutes: int = Field(description="minutes for an oven to reach a temperature")
    hob_rings: int
    hands_on_minutes: int = Field(description="of the dishes; clean-downs are not in it")
    clean_minutes: int = Field(description="all clean-downs together")
    oven_batch_minutes: float = Field(description="batches in the oven times their minutes")
    ring_minutes: int
    temperature_changes: int = Field(description="changes of temperature, all ovens together")
    dishes: tuple[DishWork, ...]
    tasks: tuple[Task, ...] = Field(description="by start, then dish")
    oven_runs: tuple[OvenRun, ...] = Field(description="by oven, then start")
    clean_downs: tuple[CleanDown, ...] = Field(description="by start")


class Container(Record):
    """What one client's box holds for one meal: one part of one portion of one dish.

    Grams are edible grams before cooking, water included: a pot loses or takes up water, so weigh
    out `share_of_part` of what the pot holds instead. Nutrients are those of this box alone.
    """

    number: int = Field(description="1, 2, ... over the whole plan, in the order of packing")
    cook_day: int
    cooked_on: Date
    client_id: str
    client_name: str
    day: int
    date: Date
    meal: str
    recipe_id: str
    recipe_name: str
    version: str
    part: str = Field(description="`main`, or a part of the recipe that is kept apart")
    parts_beside: tuple[str, ...] = Field(
        default=(), description="other parts of the recipe in the same box, such as a topping"
    )
    ready: bool = Field(
        default=False, description="in its box since an earlier week: a new label, nothing to pack"
    )
    parts_of_portion: int = Field(description="boxes that make this portion; 1 = this one alone")
    serve: Literal["reheated", "cold", "either"] = Field(
        description="main: as the recipe is served; every other part: cold, added when eating"
    )
    servings: float
    grams: float
    share_of_part: float = Field(description="share of all that was cooked of this part that day")
    stored: Literal["fridge", "freezer"]
    freeze_by: Date | None = Field(description="frozen: the day it is cooked, once it is cold")
    thaw_on: Date | None
    use_by: Date = Field(
        description="eat by: of a frozen box counted from thawing, of another from cooking"
    )
    nutrients: dict[str, float]
    allergens: tuple[str, ...] = Field(description="allergen ids of the foods in this box")
    allergens_of_dish: tuple[str, ...] = Field(
        description="of the whole dish cooked; what a careful label shows"
    )
    made_apart_from: tuple[str, ...] = Field(
        default=(), description="allergens its client excludes that the timetable keeps from it"
    )
    foods_not_known: tuple[str, ...] = Field(
        description="food ids in the whole dish of which the catalog does not tell the allergens"
    )
