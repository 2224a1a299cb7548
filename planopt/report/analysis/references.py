"""Nutrients outside published reference intakes, in words: for page, Markdown and terminal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planopt.catalog.records import Catalog
from planopt.plan.records import NutrientNote, Plan
from planopt.report.words.plain import number, plain, plural, short_day
from planopt.scenario.records import Client, Scenario
from planopt.scenario.references import ADULT_FROM_YEARS, guard_references, too_young

TITLE = "Outside published reference intakes"
_KINDS = {
    "RDA": "recommended dietary allowance",
    "AI": "adequate intake",
    "UL": "tolerable upper intake level",
    "CDRR": "chronic disease risk reduction intake",
}
_ABOUT = (
    "Averages of what is eaten from this kitchen, for a full day (a day with meals eaten elsewhere "
    "counts by its share), against published reference intakes for healthy adults. They are no "
    "diagnosis and no advice: what they mean for a person, and for anybody who is pregnant, "
    "breastfeeding, ill or on medicine, is for licensed care to say."
)
_AT_LEAST = (
    "At least: some food that is eaten does not tell this nutrient, so the true average is not "
    "known and may be higher."
)
_NO_TABLE = "The catalog has no reference_intakes.csv, so nutrients were compared with nothing."


@dataclass(frozen=True)
class ReferenceLine:
    """One nutrient of one client, as cells."""

    nutrient: str
    average: str
    reference: str
    peak: str


@dataclass(frozen=True)
class ClientPart:
    """What is said of one client: a remark, if any, then a line for each nutrient outside."""

    name: str
    client_id: str
    remark: str
    lines: tuple[ReferenceLine, ...]


@dataclass(frozen=True)
class ReferencePart:
    """All that the reports say: paragraphs, the clients, and the sources."""

    about: tuple[str, ...]
    clients: tuple[ClientPart, ...]
    sources: tuple[str, ...]


def reference_part(plan: Plan, catalog: Catalog, scenario: Scenario) -> ReferencePart:
    """Return what the reports say of nutrients outside published reference intakes."""
    if not catalog.reference_intakes and not plan.nutrient_notes:
        return ReferencePart((_NO_TABLE,), (), ())
    clients = tuple(_client(plan, catalog, client) for client in scenario.clients)
    used = {note.kind for note in plan.nutrient_notes}
    about = [_ABOUT]
    if used:
        about.append("; ".join(f"{k}: {words}" for k, words in _KINDS.items() if k in used) + ".")
    if any(note.at_least for note in plan.nutrient_notes):
        about.append(_AT_LEAST)
    sources = dict.fromkeys(note.source for note in plan.nutrient_notes)
    return ReferencePart(tuple(about), clients, tuple(sorted(sources)))


def _client(plan: Plan, catalog: Catalog, client: Client) -> ClientPart:
    notes = [note for note in plan.nutrient_notes if note.client_id == client.client_id]
    remarks = [*_remarks(client, bool(notes)), *_guard(catalog, client)]
    lines = tuple(_line(plan, catalog, note) for note in notes)
    return ClientPart(client.name, client.client_id, " ".join(remarks), lines)


def _remarks(client: Client, outside: bool) -> Iterator[str]:
    if client.nutrient_guard == "off":
        yield "Not looked at (nutrient_guard: off)."
        return
    if too_young(client):
        yield f"Not compared: these reference intakes are for adults from {ADULT_FROM_YEARS} years."
        return
    if not outside:
        yield "No nutrient of the table is outside."
    missing = [
        word for word, value in (("sex", client.sex), ("age", client.age_years)) if value is None
    ]
    if missing:
        yield (
            f"{' and '.join(missing).capitalize()} {'is' if len(missing) == 1 else 'are'} not "
            "given, so the widest range of the adult groups is used: the smallest recommended "
            "amount, and the smallest upper one."
        )


def _guard(catalog: Catalog, client: Client) -> Iterator[str]:
    if client.nutrient_guard == "limit":
        guarded = {one.row.nutrient_id for one in guard_references(catalog, client)}
        names = ", ".join(_name(catalog, nutrient_id) for nutrient_id in sorted(guarded))
        if client.nutrient_price is None:
            yield f"Averages are held within the references (nutrient_guard: limit) for: {names}."
        else:
            yield (
                f"Each tenth of a reference that an average misses counts as "
                f"{number(float(client.nutrient_price), 4)} (nutrient_price) for: {names}."
            )


def _name(catalog: Catalog, nutrient_id: str) -> str:
    nutrient = catalog.nutrients.get(nutrient_id)
    return nutrient.name if nutrient else plain(nutrient_id)


def _amount(catalog: Catalog, nutrient_id: str, value: float, unit: bool = True) -> str:
    nutrient = catalog.nutrients.get(nutrient_id)
    text = number(value, nutrient.decimals if nutrient else 1)
    return f"{text} {nutrient.unit}" if nutrient and unit else text


def _line(plan: Plan, catalog: Catalog, note: NutrientNote) -> ReferenceLine:
    average = _amount(catalog, note.nutrient_id, note.average)
    side = "or more" if note.side == "below" else "or less"
    group = "widest adult range"
    if note.sex is not None and note.ages is not None:
        first, _, last = note.ages.partition("-")
        years = f"from {first}" if int(last) >= 120 else f"{first} to {last}"
        group = f"{'women' if note.sex == 'female' else 'men'} {years}"
    return ReferenceLine(
        nutrient=_name(catalog, note.nutrient_id),
        average=f"at least {average}" if note.at_least else average,
        reference=f"{_amount(catalog, note.nutrient_id, note.reference)} {side} "
        f"({note.kind}, {group})",
        peak=_peak(plan, catalog, note),
    )


def _peak(plan: Plan, catalog: Catalog, note: NutrientNote) -> str:
    if note.peak is None or note.peak_day is None:
        return ""
    dates = {portion.day: portion.date for portion in plan.portions}
    day = dates.get(note.peak_day)
    on = f" on {short_day(day)}" if day is not None else ""
    above = plural(note.days_above, "day")
    return f"{above} above; highest {_amount(catalog, note.nutrient_id, note.peak)}{on}"


def short_lines(plan: Plan, catalog: Catalog, scenario: Scenario) -> list[str]:
    """Return one short sentence for each client with nutrients outside, for a terminal."""
    found = []
    for client in scenario.clients:
        notes = [note for note in plan.nutrient_notes if note.client_id == client.client_id]
        parts = []
        for side in ("below", "above"):
            words = [_short(catalog, note) for note in notes if note.side == side]
            if words:
                parts.append(f"{side}: {', '.join(words)}")
        if parts:
            found.append(f"{client.name} {'; '.join(parts)}")
    return found


def _short(catalog: Catalog, note: NutrientNote) -> str:
    value = note.average
    if note.side == "above" and note.peak is not None and note.average <= note.reference:
        # Only single days are above: the highest of them says it.
        value = note.peak
    text = _amount(catalog, note.nutrient_id, value, unit=False)
    more = "+" if note.at_least else ""
    peak = " on a day" if value == note.peak and value != note.average else ""
    of = _amount(catalog, note.nutrient_id, note.reference)
    return f"{_name(catalog, note.nutrient_id)} {text}{more} of {of}{peak}"
