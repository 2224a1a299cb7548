"""Reading a scenario of several kitchens, so that one client's faults stop nobody else."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from pathlib import Path as FilePath

from planopt.catalog.load import CatalogReading, catalog_sha256
from planopt.catalog.prices import catalog_on
from planopt.catalog.records import Catalog
from planopt.faults import BadInput, Fault, nearest
from planopt.reading.documents import Document, read_document
from planopt.reading.files import Place, path_text
from planopt.reading.validation import validate
from planopt.scenario.checks.stock import (
    StockReading,
    linked_stock_files,
    read_stock_file,
    read_stock_files,
    with_stock,
)
from planopt.scenario.checks.subject import Locate
from planopt.scenario.checks.whole import REFERRED, check_scenario
from planopt.scenario.households.onekitchen import of_one_kitchen, without_these
from planopt.scenario.households.rosters import read_roster
from planopt.scenario.kitchens import SHARED, Group, Member, grouped, kitchen_scenario
from planopt.scenario.reading.entries import ClientEntry, FieldPlace, Path, document_entries
from planopt.scenario.reading.gather import as_written, check_stock_files, read_catalog_of
from planopt.scenario.records import Client, Household, Scenario
from planopt.scenario.variants.checks import check_variants
from planopt.units import minor_digits, to_minor

# Stands in for the clients while the rest of a scenario is checked; its own faults are dropped.
_NOBODY = {"id": "nobody", "name": "nobody"}
_NOWHERE = Place("", 0)


@dataclass(frozen=True)
class LeftOut:
    """A client who cannot be planned because of faults in the data."""

    member: Member
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class KitchenPart:
    """One kitchen: its scenario with all sound clients, and those left out.

    `scenario` is None when no client is sound, or when the kitchen itself has `faults`.
    """

    kitchen_id: str
    name: str
    members: tuple[Member, ...]
    scenario: Scenario | None
    left_out: tuple[LeftOut, ...]
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class KitchensReading:
    """What was read; `faults` are those that concern everybody.

    `written` are all clients that could be read, as their files have them.
    """

    common: Scenario | None
    catalog_folder: FilePath | None
    catalog: CatalogReading | None
    parts: tuple[KitchenPart, ...]
    faults: tuple[Fault, ...]
    written: tuple[Client, ...] = ()

    def all_faults(self) -> list[Fault]:
        """Return the faults of all files, those of single clients and kitchens included."""
        found = set(self.faults)
        for part in self.parts:
            found.update(part.faults)
            for out in part.left_out:
                found.update(out.faults)
        return sorted(found)


@dataclass(frozen=True)
class Kitchens:
    """The kitchens of a scenario with their checked catalog, and the clients as written."""

    common: Scenario
    parts: tuple[KitchenPart, ...]
    scenario_path: FilePath
    catalog: Catalog
    catalog_folder: FilePath
    catalog_sha256: str
    written: tuple[Client, ...] = ()


def load_kitchens(scenario_path: FilePath) -> Kitchens:
    """Read and check a scenario of one or many kitchens, its roster and its catalog.

    Raises:
        BadInput: with the faults that concern everybody; those of single clients and kitchens are
            in the parts.
    """
    reading = read_kitchens(scenario_path)
    if reading.faults or not (reading.common and reading.catalog and reading.catalog_folder):
        raise BadInput(reading.faults)
    return Kitchens(
        common=reading.common,
        parts=reading.parts,
        scenario_path=scenario_path,
        catalog=catalog_on(reading.catalog.catalog, reading.common.start_date),
        catalog_folder=reading.catalog_folder,
        catalog_sha256=catalog_sha256(reading.catalog_folder),
        written=reading.written,
    )


def read_kitchens(
    scenario_path: FilePath, catalogs: dict[FilePath, CatalogReading] | None = None
) -> KitchensReading:
    """Read a scenario, its roster and its catalog; raises nothing.

    `catalogs` keeps catalogs already read, by resolved folder.
    """
    document, faults = read_document(scenario_path)
    if document is None:
        return KitchensReading(None, None, None, (), tuple(faults))
    folder, catalog, found = read_catalog_of(scenario_path, document, catalogs)
    faults += found
    if catalog is not None:
        faults += catalog.faults
    entries, found = _entries(scenario_path, document, catalog)
    faults += found
    data = document.data
    kept = data
    if isinstance(data, dict) and (entries or "roster" in data):
        kept = {**data, "clients": [_NOBODY]}
    common, problems = validate(Scenario, kept)
    faults += document.faults(problems)
    if not entries and not faults:
        # An empty `roster:` stands in for a list of clients and names none.
        why, mend = "no file is named, and there are no clients", "name the file of the clients"
        faults.append(document.place(("roster",)).fault("roster", "", why, mend, "no_clients"))
    if common is None or catalog is None or not entries:
        return KitchensReading(common, folder, catalog, (), tuple(sorted(set(faults))))
    check = _Check(document, common, catalog)
    faults += check.common_faults()
    stock, found = read_stock_files(scenario_path, document, common)
    found += check_stock_files(stock, common, catalog)
    if found:
        faults += found
    else:
        common = with_stock(common, stock)
    folder_of_stock, found = _stock_folder(scenario_path, document, common)
    faults += found
    twins = {} if folder_of_stock is None else linked_stock_files(folder_of_stock)
    check = _Check(document, common, catalog, folder_of_stock, twins)
    parts, found = _parts(check, entries)
    return KitchensReading(
        common,
        folder,
        catalog,
        tuple(parts),
        tuple(sorted(set(faults) | set(found))),
        tuple(entry.client for entry in entries if entry.client is not None),
    )


def _stock_folder(
    scenario_path: FilePath, document: Document, common: Scenario
) -> tuple[FilePath | None, list[Fault]]:
    """Return the folder of the kitchens' stock files, or its absence as a fault."""
    name = common.stock_folder
    if name is None:
        return None, []
    folder = FilePath(os.path.normpath(scenario_path.parent / name))
    if os.path.isdir(folder):
        return folder, []
    why, mend = "there is no such folder", "`planopt carry` makes one from a run of `planopt weeks`"
    place = document.place(("stock_folder",))
    return None, [place.fault("stock_folder", name, why, mend, "stock_folder_missing")]


def _entries(
    scenario_path: FilePath, document: Document, catalog: CatalogReading | None
) -> tuple[list[ClientEntry], list[Fault]]:
    """Return the clients, from the roster or from the document itself, and faults of its form."""
    data = document.data
    if not isinstance(data, dict):
        return [], []
    roster, clients = data.get("roster"), data.get("clients")
    if isinstance(roster, str):
        if "clients" in data:
            why = "the clients stand in the roster and here"
            mend = "remove this list, or the line `roster`"
            place = document.place(("clients",))
            return [], [place.fault("clients", clients, why, mend, "clients_twice")]
        amounts = None if catalog is None else catalog.amounts
        read = read_roster(scenario_path.parent / roster, amounts)
        return list(read.entries), list(read.faults)
    return (document_entries(document, clients) if isinstance(clients, list) else []), []


@dataclass(frozen=True)
class _Check:
    """Checks one part of a scenario at a time, so that each fault has one owner."""

    document: Document
    common: Scenario
    catalog: CatalogReading
    stock_folder: FilePath | None = None
    stock_twins: Mapping[str, str] = field(default_factory=dict)

    def _faults(self, scenario: Scenario, locate: Locate) -> list[Fault]:
        known = {table: self.catalog.positions.known(table) for table in REFERRED}
        found = check_scenario(
            scenario, self.catalog.catalog, locate, known, complete=self.catalog.complete
        )
        return [fault for fault in found if fault.file]

    def common_faults(self) -> list[Fault]:
        """Return faults of all but the clients."""

        def locate(path: Path) -> Place:
            return _NOWHERE if path[0] == "clients" else self.document.place(path)

        known = {table: self.catalog.positions.known(table) for table in REFERRED}
        # No client is known here to check variants with, and no kitchen takes them over.
        plain = without_these(self.common)
        return [
            *of_one_kitchen(self.common, self.document),
            *self._faults(as_written(plain, self.document), locate),
            *check_variants(plain, self.catalog.catalog, locate, known),
        ]

    def household_faults(self, household: Household, place: int) -> list[Fault]:
        """Return faults of what a household says for itself."""

        def locate(path: Path) -> Place:
            if path[0] == "clients":
                return _NOWHERE
            whole = ("households", place, *path)
            return FieldPlace.of(self.document.place(whole), path_text(whole))

        scenario = kitchen_scenario(self.common, household, "", self.common.clients)
        # The order of the file, as faults count the cook days.
        written = household.cook_days or self.common.cook_days
        return self._faults(scenario.model_copy(update={"cook_days": written}), locate)

    def with_own_stock(
        self, kitchen_id: str, household: Household | None, place: int | None
    ) -> tuple[Household | None, list[Fault]]:
        """Return the household with the stock of its file in the stock folder, if it has one.

        `place` is that of the household in the scenario, None where it is not listed.
        """
        path = None if self.stock_folder is None else self.stock_folder / f"{kitchen_id}.yaml"
        if path is None or not os.path.lexists(path):
            return household, []
        document, content, faults = read_stock_file(path)
        if document is None or content is None:
            return household, faults
        if kitchen_id in self.stock_twins:
            why = f"this is the file of kitchen {self.stock_twins[kitchen_id]} too, by a link"
            mend = "give each kitchen a file of its own, or its food counts twice"
            same = document.place().fault("", path.name, why, mend, "duplicate_stock_file")
            return household, [same]
        if place is not None and household is not None and household.stock is not None:
            where: Path = ("households", place, "stock")
            why = f"{path.name} in the stock folder says what this household has on hand"
            mend = "move these entries into that file, or take the file away"
            fault = self.document.place(where).fault(
                path_text(where), kitchen_id, why, mend, "stock_twice"
            )
            return household, [fault]
        read = StockReading(path, document, content)
        faults += check_stock_files([read], self.common, self.catalog)
        base = household or Household.model_validate({"id": "household"})
        return base.model_copy(update={"stock": content.stock}), faults

    def client_faults(self, scenario: Scenario, entry: ClientEntry, client: Client) -> list[Fault]:
        """Return faults of one client in the scenario of a kitchen."""

        def locate(path: Path) -> Place:
            return entry.locate(path[2:]) if path[0] == "clients" else _NOWHERE

        return self._faults(scenario.model_copy(update={"clients": (client,)}), locate)


def _parts(
    check: _Check, entries: Sequence[ClientEntry]
) -> tuple[list[KitchenPart], list[Fault]]:  # fmt: skip
    keys = [entry.key for entry in entries]
    groups = grouped(
        [entry.household for entry in entries], keys, check.common.kitchen == "separate"
    )
    listed: dict[str, tuple[int, Household]] = {}
    faults = []
    for place, household in enumerate(check.common.households):
        fault_at = partial(_household_fault, check.document, place, household.household_id)
        known = {group.kitchen_id for group in groups}
        if household.household_id in listed:
            why, mend = "another household has this id already", "give it another id"
            faults.append(fault_at(why, mend, "duplicate_id"))
        elif household.household_id not in known:
            why = "no client names this household"
            faults.append(fault_at(why, nearest(household.household_id, known), "empty_household"))
        listed[household.household_id] = (place, household)
    doubled = _doubled(entries, groups)
    return [_part(check, entries, group, listed, doubled) for group in groups], faults


def _household_fault(
    document: Document, place: int, household_id: str, why: str, mend: str, code: str
) -> Fault:
    path: Path = ("households", place, "id")
    return document.place(path).fault(path_text(path), household_id, why, mend, code)


def _doubled(entries: Sequence[ClientEntry], groups: Sequence[Group]) -> dict[int, Fault]:
    """Return faults of entries that share an id: nobody can tell which one is meant."""
    by_key: dict[str, list[int]] = {}
    for place, entry in enumerate(entries):
        by_key.setdefault(entry.key, []).append(place)
    found = {}
    for key, places in by_key.items():
        for place in places if len(places) > 1 else ():
            why, mend = "another client has this id already", "give each client an id of their own"
            found[place] = entries[place].locate(("id",)).fault("", key, why, mend, "duplicate_id")
    # An own kitchen carries the client's id; a household of that name would take the client in.
    for group in groups:
        homes = {entries[place].household for place in group.places}
        if len(homes) > 1 and "" in homes and group.kitchen_id != SHARED:
            for place in group.places:
                if not entries[place].household:
                    why = f"a household is called {group.kitchen_id!r}, and this client names none"
                    mend = "give this client another id, or name the household"
                    where = entries[place].locate(("id",))
                    found[place] = where.fault("", entries[place].key, why, mend, "duplicate_id")
    return found


def _part(
    check: _Check,
    entries: Sequence[ClientEntry],
    group: Group,
    listed: dict[str, tuple[int, Household]],
    doubled: dict[int, Fault],
) -> KitchenPart:
    members = [entries[place] for place in group.places]
    place, household = listed.get(group.kitchen_id, (0, None))
    household, faults = _with_budget(check.common, group.kitchen_id, household, members)
    if group.kitchen_id in listed and household is not None and not faults:
        faults = check.household_faults(household, place)
    if not faults:
        listed_at = place if group.kitchen_id in listed else None
        household, faults = check.with_own_stock(group.kitchen_id, household, listed_at)
    name = _kitchen_name(group.kitchen_id, household, members)
    pattern = kitchen_scenario(check.common, household, name, check.common.clients)
    sound: list[Client] = []
    left_out = []
    for n, entry in zip(group.places, members, strict=True):
        found = list(entry.faults)
        if n in doubled:
            found.append(doubled[n])
        if entry.budget and group.kitchen_id == SHARED:
            why = "this client shares the common kitchen, whose budget is that of the scenario"
            mend = "empty the cell, or name a household"
            place_of_budget = FieldPlace.of(entry.locate(("id",)), "budget")
            found.append(place_of_budget.fault("", entry.budget, why, mend, "budget_not_own"))
        rest = entry.client or entry.rest
        if rest is not None and n not in doubled:
            more = check.client_faults(pattern, entry, rest)
            said = {(fault.line, fault.field) for fault in found}
            found += [fault for fault in more if (fault.line, fault.field) not in said]
        if found or entry.client is None:
            left_out.append(LeftOut(Member(entry.key, entry.name), tuple(sorted(set(found)))))
        else:
            sound.append(entry.client)
    usable = bool(sound) and not faults
    return KitchenPart(
        kitchen_id=group.kitchen_id,
        name=name,
        members=tuple(Member(entry.key, entry.name) for entry in members),
        scenario=kitchen_scenario(check.common, household, name, sound) if usable else None,
        left_out=tuple(left_out),
        faults=tuple(sorted(set(faults))),
    )


def _kitchen_name(
    kitchen_id: str, household: Household | None, members: Sequence[ClientEntry]
) -> str:
    if household is not None and household.name:
        return household.name
    if len(members) == 1 and not members[0].household:
        return members[0].name
    return "shared kitchen" if kitchen_id == SHARED else kitchen_id


def _has_minor_units(amount: Decimal | None, currency: str) -> bool:
    try:
        return amount is None or to_minor(amount, currency) >= 0
    except ValueError:
        return False


def _with_budget(
    common: Scenario, kitchen_id: str, household: Household | None, members: Sequence[ClientEntry]
) -> tuple[Household | None, list[Fault]]:
    """Return the household with the budget that its rows of the roster give, and their faults."""
    given = [entry for entry in members if entry.budget]
    # Whoever gives a budget to the common kitchen is left out of it, see `_part`.
    if not given or kitchen_id == SHARED:
        return household, []
    faults = []
    base = household or Household.model_validate({"id": "household"})
    first: Household | None = None
    for entry in given:
        place = FieldPlace.of(entry.locate(("id",)), "budget")
        made, problems = validate(Household, {"id": "any", "budget": entry.budget})
        for problem in problems:
            faults.append(place.fault("", entry.budget, problem.why, problem.mend, problem.code))
        if made is None:
            continue
        if not _has_minor_units(made.budget, common.currency):
            why = f"{common.currency} has {minor_digits(common.currency)} decimals"
            faults.append(place.fault("", entry.budget, why, "round the amount", "money_decimals"))
        first = first or made
        known = base.budget if base.budget is not None else first.budget
        if made.budget != known:
            why = f"the household {kitchen_id} has the budget {known} already"
            mend = "write it once, or alike in every row of the household"
            faults.append(place.fault("", entry.budget, why, mend, "budgets_differ"))
    if faults or first is None:
        return household, faults
    return base.model_copy(update={"budget": first.budget}), []
