"""Meals that share a dish: what a scenario ties together, plate by plate."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from planopt import ranges
from planopt.catalog.records import Id, Record

if TYPE_CHECKING:
    from planopt.scenario.records import Scenario

Day = Annotated[int, ranges.DAY]
# A client's id, a day, a meal.
Plate = tuple[str, int, str]


class SameDish(Record):
    """Meals that have one dish, in whatever portions. What is left out means all.

    `across: days`: each client has one dish at the meal on all these days; `clients`: these clients
    eat together, on each day another dish; `both`: together, and on all days the same. Or else the
    meals are what `as_meal` was some days before. One dish is one recipe: foods that somebody must
    not have are met by its versions.
    """

    meals: tuple[Id, ...] = Field(min_length=1, description="each of them by itself")
    days: tuple[Day, ...] = Field(default=(), description="default: every day")
    clients: tuple[Id, ...] = Field(default=(), description="default: all clients")
    across: Literal["days", "clients", "both"] | None = Field(
        default=None, description="over what the dish is the same"
    )
    as_meal: Id | None = Field(default=None, description="the meal that these are the rest of")
    days_before: Annotated[int, ranges.DAYS_BEFORE] | None = Field(
        default=None, description="of `as_meal`, before the day of the meals; default: 1"
    )

    @property
    def back(self) -> int:
        """Return how many days before the meals their dish was eaten first."""
        return 1 if self.days_before is None else self.days_before


def tied_by(scenario: Scenario, row: SameDish) -> Iterator[tuple[Plate, ...]]:
    """Yield the sets of plates that an entry ties; those of one plate are left out."""
    eaten = {
        (client.client_id, day, meal)
        for client in scenario.clients
        for day in range(1, scenario.days + 1)
        for meal in scenario.meals_of(client, day)
    }
    clients = [c.client_id for c in scenario.clients if c.client_id in (row.clients or c.client_id)]
    days = [day for day in range(1, scenario.days + 1) if day in (row.days or (day,))]
    for meal in row.meals:
        for plates in _sets(row, clients, days, meal):
            found = tuple(plate for plate in plates if plate in eaten)
            if len(found) > 1:
                yield found


def _sets(
    row: SameDish, clients: Sequence[str], days: Sequence[int], meal: str
) -> list[list[Plate]]:
    if row.as_meal is not None:
        source = row.as_meal
        return [[(who, d - row.back, source), (who, d, meal)] for who in clients for d in days]
    if row.across == "days":
        return [[(who, day, meal) for day in days] for who in clients]
    if row.across == "clients":
        return [[(who, day, meal) for who in clients] for day in days]
    return [[(who, day, meal) for who in clients for day in days]]


def kept_for(rows: Iterable[SameDish], clients: Iterable[str]) -> tuple[SameDish, ...]:
    """Return the entries that are about some of these clients, and about no others."""
    mine = set(clients)
    cut = (
        row.model_copy(update={"clients": tuple(c for c in row.clients if c in mine)})
        for row in rows
        if not row.clients or mine & set(row.clients)
    )
    return tuple(row for row in cut if row.across != "clients" or len(row.clients) != 1)


def joined(sets: Iterable[Iterable[Plate]]) -> list[tuple[Plate, ...]]:
    """Return sets that share no plate: those that do are one. Each is in order."""
    found: list[set[Plate]] = []
    for plates in sets:
        mine = set(plates)
        for other in [one for one in found if one & mine]:
            mine |= other
            found.remove(other)
        found.append(mine)
    return sorted(tuple(sorted(one)) for one in found)


def tie_words(
    row: SameDish,
    name: Callable[[str], str] = str,
    dates: Callable[[Sequence[int]], str] | None = None,
) -> str:
    """Return an entry in words; without names and dates they tell entries apart."""
    meals = _listed([meal.replace("_", " ") for meal in row.meals])
    who = _listed([name(client) for client in row.clients]) or "everybody"
    days = sorted(set(row.days))
    on = (dates(days) if dates else f"day {_listed([str(day) for day in days])}") if days else ""
    when = f" on {on}" if on else " every day"
    if row.as_meal is not None:
        ago = "the day before" if row.back == 1 else f"{row.back} days before"
        return f"{who}: {meals}{when} is the {row.as_meal.replace('_', ' ')} of {ago}"
    if row.across == "days":
        return f"{who}: one dish at {meals}{when}"
    if row.across == "clients":
        return f"{who}: {meals} together{when}"
    return f"{who}: {meals} together, one dish{when}"


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
