"""What the page asks for: each kind of change, what it needs, and its words for `adjust`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Literal

from planopt import ranges
from planopt.adjust.week import Written
from planopt.catalog.records import Id, Record
from planopt.edit.choices import Plate
from planopt.faults import BadInput, Fault
from planopt.reading.files import Place, path_text
from planopt.reading.validation import validate
from planopt.report.words.plain import plain, short_day
from planopt.scenario.byhand import Day, PrepDay

WHERE = "page"


class ChangeAsked(Record):
    """One change, as the page tells it; which fields it needs is in `KINDS`."""

    kind: Literal[
        "move", "put", "without", "keep_meal", "keep_dish", "keep_day", "skip", "window", "bought",
        "cooked",
    ]  # fmt: skip
    client: Id | None = None
    recipe: Id | None = None
    day: PrepDay | None = None
    meal: Id | None = None
    to_day: Day | None = None
    to_meal: Id | None = None
    nutrient: Id | None = None
    side: Literal["min", "max"] | None = None
    amount: Annotated[Decimal | None, ranges.NUTRIENT_WINDOW] = None
    week: bool = False
    pack: Id | None = None


@dataclass(frozen=True)
class Kind:
    """A kind of change: the fields it needs, its words for `adjust`, and how the page lists it."""

    needs: tuple[str, ...]
    words: tuple[str, ...]
    label: str


_PLATE = ("client", "day", "meal")
_HERE = "day {day} {meal} for {client}"
KINDS = {
    "move": Kind(
        (*_PLATE, "recipe", "to_day", "to_meal"),
        (f"without {{recipe}} on {_HERE}", "put {recipe} on day {to_day} {to_meal} for {client}"),
        "{who}: {dish} from {when} {what} to {to_when} {to_what}",
    ),
    "put": Kind(
        (*_PLATE, "recipe"), (f"put {{recipe}} on {_HERE}",), "{who}: {dish} on {when} {what}"
    ),
    "without": Kind(
        (*_PLATE, "recipe"),
        (f"without {{recipe}} on {_HERE}",),
        "{who}: no {dish} on {when} {what}",
    ),
    "keep_meal": Kind(_PLATE, (f"keep {_HERE}",), "{who}: keep {when} {what} as it is"),
    "keep_dish": Kind(
        ("client", "recipe"),
        ("keep {recipe} for {client}",),
        "{who}: keep {dish} wherever it is",
    ),
    "keep_day": Kind(("day",), ("keep day {day}{for_client}",), "{who}: keep all of {when}"),
    "skip": Kind(_PLATE, ("{client} skips {meal} on day {day}",), "{who}: no {what} on {when}"),
    "window": Kind(
        ("client", "nutrient", "side", "amount"),
        ("{client} {nutrient} {side} {amount}{span}",),
        "{who}: {side_words} {amount} {unit} of {nutrient_words} {span_words}",
    ),
    "bought": Kind(("day",), ("bought {bought}day {day}",), "Bought: {pack_words}, {when}"),
    "cooked": Kind(("day",), ("cooked {cooked}day {day}",), "Cooked: {dish}, {when}"),
}


def asked_of(data: object) -> ChangeAsked:
    """Return the change that some data tells.

    Raises:
        BadInput: a field is missing, unknown or out of its range; all at once.
    """
    found, misfits = validate(ChangeAsked, data)
    place = Place(WHERE, 0)
    faults = [
        place.fault(path_text(m.path), m.value, m.why, m.mend, m.code) for m in misfits
    ]  # fmt: skip
    if found is not None:
        faults += _missing(found)
    if faults or found is None:
        raise BadInput(faults)
    return found


def _missing(asked: ChangeAsked) -> Iterator[Fault]:
    for name in KINDS[asked.kind].needs:
        if getattr(asked, name) is None:
            why = f"a change of the kind {asked.kind!r} needs it"
            yield Place(WHERE, 0).fault(name, None, why, "say it, too", "missing_field")


@dataclass(frozen=True)
class ListedChange:
    """One change on the list: its number there, its words for `adjust`, and for people."""

    number: int
    asked: ChangeAsked
    words: tuple[str, ...]
    label: str

    @property
    def about(self) -> tuple[object, ...]:
        """Return what the change is about; a later one about the same replaces it."""
        asked = self.asked
        same = {"amount": None} if asked.kind == "window" else {}
        return tuple(asked.model_copy(update=same).model_dump().values())


def wish_of(number: int, asked: ChangeAsked, written: Written, dish: str) -> ListedChange:
    """Return a change in the words of `adjust`, and in words with the names of a kitchen.

    `dish` is the name of its dish, if it has one.
    """
    kind = KINDS[asked.kind]
    told = {name: value for name, value in asked.model_dump().items() if value is not None}
    if asked.amount is not None:
        told["amount"] = format(asked.amount, "f")
    told["for_client"] = f" for {asked.client}" if asked.client else ""
    on_day = f" on day {asked.day}" if asked.day is not None else ""
    told["span"] = " over the week" if asked.week else on_day
    told["bought"] = f"{asked.pack} on " if asked.pack else ""
    told["cooked"] = f"{asked.recipe} on " if asked.recipe else ""
    words = tuple(text.format_map(told) for text in kind.words)
    return ListedChange(
        number, asked, words, kind.label.format_map(told | {"dish": dish} | _named(asked, written))
    )


def _named(asked: ChangeAsked, written: Written) -> dict[str, str]:
    catalog, scenario = written.kitchen.catalog, written.kitchen.scenario
    names = {client.client_id: client.name for client in scenario.clients}

    def day(number: int | None) -> str:
        return "" if number is None else short_day(scenario.date_of(number))

    nutrient = catalog.nutrients.get(asked.nutrient or "")
    pack = catalog.packs.get(asked.pack or "")
    food = catalog.foods.get(pack.food_id) if pack else None
    when = day(asked.day)
    span = f"on {when}" if when else "every day"
    return {
        "who": names.get(asked.client or "", asked.client or "everybody"),
        "when": when,
        "what": plain(asked.meal or ""),
        "to_when": day(asked.to_day),
        "to_what": plain(asked.to_meal or ""),
        "nutrient_words": nutrient.name.lower() if nutrient else asked.nutrient or "",
        "unit": nutrient.unit if nutrient else "",
        "side_words": "at least" if asked.side == "min" else "at most",
        "span_words": "over the week" if asked.week else span,
        "pack_words": food.name if food else asked.pack or "everything",
    }


@dataclass(frozen=True)
class OnPlates:
    """What changes say of single plates: dishes put there, taken off, meals kept or skipped."""

    put: dict[Plate, tuple[str, ...]]
    off: frozenset[tuple[Plate, str]]


def on_plates(asked: ChangeAsked, written: Written) -> OnPlates:
    """Return what one change says of single plates."""
    if asked.client is None or asked.day is None or asked.meal is None:
        return OnPlates({}, frozenset())
    here = (asked.client, asked.day, asked.meal)
    recipe = (asked.recipe,) if asked.recipe else ()
    off = frozenset((here, name) for name in recipe)
    match asked.kind:
        case "move":
            there = (asked.client, asked.to_day or 0, asked.to_meal or "")
            return OnPlates({there: recipe}, off)
        case "put":
            return OnPlates({here: recipe}, frozenset())
        case "without":
            return OnPlates({}, off)
        case "keep_meal":
            kept = tuple(
                row.recipe_id
                for row in written.plan.portions
                if (row.client_id, row.day, row.meal) == here
            )
            return OnPlates({here: kept}, frozenset())
        case _:
            return OnPlates({here: ()}, frozenset())


def contradict(one: OnPlates, other: OnPlates) -> bool:
    """Tell whether two changes settle the same plate, or one takes off what the other puts on."""
    puts = [{(plate, name) for plate, names in each.put.items() for name in names}
            for each in (one, other)]  # fmt: skip
    return bool(one.put.keys() & other.put.keys() or puts[0] & other.off or puts[1] & one.off)
