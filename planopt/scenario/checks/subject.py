"""What every check of a scenario is given: the scenario, its catalog, and the places of faults."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from planopt.catalog.records import Catalog
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

    def clients(self) -> Iterator[tuple[Path, Client]]:
        """Yield the clients with their paths."""
        for index, client in enumerate(self.scenario.clients):
            yield ("clients", index), client


Check = Callable[[Checking], Iterator[Fault]]
