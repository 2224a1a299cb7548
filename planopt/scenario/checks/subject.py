"""What every check of a scenario is given: the scenario, its catalog, and the places of faults."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from planopt.catalog.records import GROUP_UNIT, Catalog
from planopt.faults import Fault, nearest
from planopt.reading.files import PathPart, Place, path_text
from planopt.scenario.records import Client, Scenario

Path = tuple[PathPart, ...]
Locate = Callable[[Path], Place]


@dataclass(frozen=True)
class Checking:
    """One scenario under check. `known` has the ids by table, None where they are not known.

    `complete` is false when records of the catalog are missing because they are at fault.
    """

    scenario: Scenario
    catalog: Catalog
    locate: Locate
    known: Mapping[str, frozenset[str] | None]
    complete: bool

    def fault(self, path: Path, value: object, why: str, mend: str, code: str) -> Fault:
        """Return a fault at a path of the scenario file."""
        return self.locate(path).fault(path_text(path), value, why, mend, code)

    def unknown(self, table: str, path: Path, word: str) -> Iterator[Fault]:
        """Yield a fault if the catalog has no such id."""
        known = self.known[table]
        if known is not None and word not in known:
            what = table.removesuffix("s")
            yield self.fault(
                path,
                word,
                f"the catalog has no such {what}",
                nearest(word, known),
                f"unknown_{what}",
            )

    def unknown_amount(self, path: Path, word: str) -> Iterator[Fault]:
        """Yield a fault if a window may not name it: neither a nutrient nor a group of foods."""
        known = self.known["nutrients"]
        if known is not None and word not in known and word not in self.catalog.amounts:
            why = "the catalog has no such nutrient"
            if word.endswith(GROUP_UNIT) and self.catalog.food_groups:
                why += f", and no food in the group {word.removesuffix(GROUP_UNIT)}"
            mend = nearest(word, {*known, *self.catalog.amounts})
            yield self.fault(path, word, why, mend, "unknown_nutrient")

    def clients(self) -> Iterator[tuple[Path, Client]]:
        """Yield the clients with their paths."""
        for index, client in enumerate(self.scenario.clients):
            yield ("clients", index), client


Check = Callable[[Checking], Iterator[Fault]]


def listed_twice(
    c: Checking, path: Path, seen: set[tuple[object, ...]], key: tuple[object, ...]
) -> Iterator[Fault]:
    """Yield a fault for what another entry has said already; `seen` takes it up."""
    if key in seen:
        yield c.fault(
            path,
            ", ".join(map(str, key)),
            "it is listed twice",
            "add the two up in one entry",
            "done_twice",
        )
    seen.add(key)
