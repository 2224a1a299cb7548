"""Handles: client ids in place of names, so that nothing written tells who a plan is for.

Records get their ids as names before anything is planned or shown; what is free text already, as
the name of a scenario or a fault, has the names in it replaced.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from planopt.faults import Fault
from planopt.reading.documents import read_document
from planopt.reading.files import regular_bytes
from planopt.scenario.households.parties import KitchenPart, Kitchens, LeftOut
from planopt.scenario.kitchens import Member
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Client, Scenario, Variant


@dataclass(frozen=True)
class Handles:
    """Which id stands for which name."""

    ids: Mapping[str, str] = field(default_factory=dict)

    @staticmethod
    def of(pairs: Iterable[tuple[str, str]]) -> Handles:
        """Return the handles of (name, id) pairs; people of one name share a text of all ids."""
        found: dict[str, list[str]] = {}
        for name, handle in pairs:
            if name and name != handle:
                found.setdefault(name, []).append(handle)
        return Handles({name: "/".join(dict.fromkeys(ids)) for name, ids in found.items()})

    @staticmethod
    def of_scenario(scenario: Scenario) -> Handles:
        """Return the handles of all whom a scenario names."""
        people = [*scenario.clients, *(c for v in scenario.variants for c in v.clients_added)]
        homes = [(home.name, home.household_id) for home in scenario.households]
        return Handles.of([*((one.name, one.client_id) for one in people), *homes])

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        # The longest first, so that a name within a name does not cut it in two.
        names = sorted(map(re.escape, self.ids), key=len, reverse=True)
        return re.compile(rf"(?<!\w)(?:{'|'.join(names)})(?!\w)")

    def hide(self, text: str) -> str:
        """Return a text with every name replaced by its id."""
        if not self.ids:
            return text
        return self._pattern.sub(lambda found: self.ids[found[0]], text)


def handles_of_file(path: Path) -> Handles:
    """Return the handles of a scenario file and its roster, also where they have faults."""
    document, _ = read_document(path)
    data = document.data if document is not None else None
    if not isinstance(data, dict):
        return Handles()
    people = _listed(data.get("clients")) + _listed(data.get("households"))
    for variant in data.get("variants") or ():
        if isinstance(variant, dict):
            people += _listed(variant.get("clients_added"))
    if isinstance(data.get("roster"), str):
        people += _roster(path.parent / data["roster"])
    return Handles.of(people)


def _listed(rows: object) -> list[tuple[str, str]]:
    if not isinstance(rows, list):
        return []
    return [
        (row["name"], str(row.get("id") or "client"))
        for row in rows
        if isinstance(row, dict) and isinstance(row.get("name"), str)
    ]


def _roster(path: Path) -> list[tuple[str, str]]:
    if path.suffix != ".csv":
        document, _ = read_document(path)
        data = document.data if document is not None else None
        return _listed(data.get("clients")) if isinstance(data, dict) else []
    try:
        text = regular_bytes(path).decode("utf-8-sig")
        rows: list[Any] = list(csv.DictReader(io.StringIO(text, newline="")))
    except (OSError, ValueError, csv.Error):
        return []
    return [((row.get("name") or "").strip(), (row.get("id") or "").strip() or "client")
            for row in rows]  # fmt: skip


def _named_by_id(client: Client) -> Client:
    return client.model_copy(update={"name": client.client_id})


def _variant(variant: Variant, handles: Handles) -> Variant:
    added = tuple(map(_named_by_id, variant.clients_added))
    return variant.model_copy(update={"name": handles.hide(variant.name), "clients_added": added})


def scenario_with_handles(scenario: Scenario, handles: Handles) -> Scenario:
    """Return a scenario whose clients and households are named by their ids."""
    return scenario.model_copy(
        update={
            "name": handles.hide(scenario.name),
            "note": handles.hide(scenario.note),
            "clients": tuple(map(_named_by_id, scenario.clients)),
            "households": tuple(
                home.model_copy(update={"name": home.household_id}) for home in scenario.households
            ),
            "variants": tuple(_variant(variant, handles) for variant in scenario.variants),
        }
    )


def kitchen_with_handles(kitchen: Kitchen, handles: Handles) -> Kitchen:
    """Return a kitchen whose clients are named by their ids; its files stay what they are."""
    return replace(
        kitchen,
        scenario=scenario_with_handles(kitchen.scenario, handles),
        changes=None if kitchen.changes is None else _variant(kitchen.changes, handles),
        written=tuple(map(_named_by_id, kitchen.written)),
    )


def kitchens_with_handles(kitchens: Kitchens, handles: Handles) -> Kitchens:
    """Return kitchens whose clients, and they themselves, are named by their ids."""
    return replace(
        kitchens,
        common=scenario_with_handles(kitchens.common, handles),
        parts=tuple(_part(part, kitchens.common.name, handles) for part in kitchens.parts),
        written=tuple(map(_named_by_id, kitchens.written)),
    )


def _part(part: KitchenPart, common: str, handles: Handles) -> KitchenPart:
    scenario = part.scenario
    if scenario is not None:
        name = f"{handles.hide(common)}: {part.kitchen_id}"
        scenario = scenario_with_handles(scenario, handles).model_copy(update={"name": name})
    return KitchenPart(
        kitchen_id=part.kitchen_id,
        name=part.kitchen_id,
        members=tuple(Member(one.client_id, one.client_id) for one in part.members),
        scenario=scenario,
        left_out=tuple(
            LeftOut(
                Member(out.member.client_id, out.member.client_id),
                tuple(_fault(fault, handles) for fault in out.faults),
            )
            for out in part.left_out
        ),
        faults=tuple(_fault(fault, handles) for fault in part.faults),
    )


def _fault(fault: Fault, handles: Handles) -> Fault:
    return replace(
        fault,
        value=handles.hide(fault.value),
        why=handles.hide(fault.why),
        mend=handles.hide(fault.mend),
    )
