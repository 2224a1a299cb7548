"""Computed windows written into a client of a scenario or of a roster."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

from planopt.faults import BadInput, nearest
from planopt.reading.files import Place
from planopt.targets.caution import MARK
from planopt.targets.compute import Targets
from planopt.writing.tablefile import TableFile
from planopt.writing.yamlfile import YamlFile

_BEFORE_WINDOWS = ("age_years", "sex", "meals", "household", "name", "id")
_BEFORE_CAUTIONS = ("windows_per_week", "windows_on_days", "windows_per_day")


class ClientFile(Protocol):
    """One client of a file, to be read and written."""

    sex: str | None
    age_years: int | None

    def write(self, targets: Targets) -> None:
        """Put windows, cautions, sex and age into the client; all else of the file stays.

        Windows of other nutrients stay, and cautions that somebody else wrote.

        Raises:
            BadInput: a place cannot be changed alone, or the system refuses to write.
        """


def client_file(path: Path, client_id: str) -> ClientFile:
    """Return a client of a scenario, or of its roster where it has one, or of a roster.

    Raises:
        BadInput: the file cannot be read, or has no such client.
    """
    if path.suffix.lower() == ".csv":
        return _TableClient(path, client_id)
    file = YamlFile(path)
    data = file.data
    roster = data.get("roster") if isinstance(data, dict) else None
    if isinstance(roster, str):
        return client_file(path.parent / roster, client_id)
    return _YamlClient(file, client_id)


def _unknown(path: Path, line: int, client_id: str, known: Sequence[str]) -> BadInput:
    mend = nearest(client_id, known) if known else "name a file with clients"
    why = "the file has no such client"
    place = Place(str(path), line)
    return BadInput([place.fault("clients", client_id, why, mend, "unknown_client")])


class _YamlClient:
    def __init__(self, file: YamlFile, client_id: str) -> None:
        data = file.data
        clients = data.get("clients") if isinstance(data, dict) else None
        entries = clients if isinstance(clients, list) else []
        ids = [entry.get("id") if isinstance(entry, dict) else None for entry in entries]
        if client_id not in ids:
            line = file.document.line(("clients",))
            raise _unknown(file.path, line, client_id, [str(one) for one in ids if one])
        self.file = file
        self.index = ids.index(client_id)
        self.client: dict[str, Any] = entries[self.index]
        sex, age = self.client.get("sex"), self.client.get("age_years")
        self.sex: str | None = sex if isinstance(sex, str) else None
        self.age_years: int | None = age if isinstance(age, int) else None

    def write(self, targets: Targets) -> None:
        here = ("clients", self.index)
        self.file.set((*here, "sex"), targets.person.sex, ("name", "id"))
        self.file.set((*here, "age_years"), targets.person.age_years, ("sex",))
        self.file.set((*here, "windows_per_day"), targets.windows, _BEFORE_WINDOWS)
        written = self.client.get("cautions")
        texts = [str(text) for text in written] if isinstance(written, list) else []
        self.file.drop((*here, "cautions"))
        self.file.set((*here, "cautions"), _cautions(targets, texts), _BEFORE_CAUTIONS)
        self.file.save()


class _TableClient:
    def __init__(self, path: Path, client_id: str) -> None:
        self.table = TableFile(path)
        self.client_id = client_id
        rows = {row.get("id", ""): row for row in reversed(self.table.rows())}
        if client_id not in rows:
            raise _unknown(path, 0, client_id, list(rows))
        self.row = rows[client_id]
        age = self.row.get("age_years", "")
        self.sex: str | None = self.row.get("sex") or None
        self.age_years: int | None = int(age) if age.isdigit() else None

    def write(self, targets: Targets) -> None:
        written = [text for text in self.row.get("cautions", "").split("|") if text]
        cells = {
            "sex": targets.person.sex,
            "age_years": str(targets.person.age_years),
            "cautions": "|".join(_cautions(targets, written)),
        }
        for nutrient_id, window in targets.windows.items():
            cells |= {f"{nutrient_id}_{side}": str(amount) for side, amount in window.items()}
        self.table.set_cells("id", self.client_id, cells)
        self.table.save()


def _cautions(targets: Targets, written: Sequence[str]) -> list[str]:
    kept = [text for text in written if not text.strip().startswith(MARK)]
    return [*targets.cautions, *kept]
