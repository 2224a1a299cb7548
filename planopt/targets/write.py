"""Computed windows written into a client of a scenario or of a YAML roster."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from planopt.catalog.files import Place
from planopt.faults import BadInput, nearest
from planopt.targets.caution import MARK
from planopt.targets.compute import Targets
from planopt.writing.yamlfile import YamlFile

_BEFORE_WINDOWS = ("age_years", "sex", "meals", "household", "name", "id")
_BEFORE_CAUTIONS = ("windows_per_week", "windows_on_days", "windows_per_day")


class ClientFile:
    """One client of a file, to be read and written."""

    def __init__(self, path: Path, client_id: str) -> None:
        """Find the client.

        Raises:
            BadInput: the file cannot be read, or has no such client.
        """
        self.file = YamlFile(path)
        data = self.file.data
        clients = data.get("clients") if isinstance(data, dict) else None
        entries = clients if isinstance(clients, list) else []
        ids = [entry.get("id") if isinstance(entry, dict) else None for entry in entries]
        if client_id not in ids:
            place = Place(str(path), self.file.document.line(("clients",)))
            why = "the file has no such client"
            if isinstance(data, dict) and "roster" in data:
                why = f"the clients of this scenario stand in its roster, {data['roster']}"
            known = [str(one) for one in ids if one is not None]
            mend = nearest(client_id, known) if known else "name a file with a list of clients"
            raise BadInput([place.fault("clients", client_id, why, mend, "unknown_client")])
        self.index = ids.index(client_id)
        self.client: dict[str, Any] = entries[self.index]

    def write(self, targets: Targets) -> None:
        """Put windows, cautions, sex and age into the client; all else of the file stays.

        Windows of other nutrients stay, and cautions that somebody else wrote. Of a nutrient's
        window only `min` and `max` change.

        Raises:
            BadInput: a place cannot be changed alone, or the system refuses to write.
        """
        here = ("clients", self.index)
        self.file.set((*here, "sex"), targets.person.sex, ("name", "id"))
        self.file.set((*here, "age_years"), targets.person.age_years, ("sex",))
        self.file.set((*here, "windows_per_day"), targets.windows, _BEFORE_WINDOWS)
        kept = [text for text in self._cautions() if not text.startswith(MARK)]
        self.file.drop((*here, "cautions"))
        self.file.set((*here, "cautions"), [*targets.cautions, *kept], _BEFORE_CAUTIONS)
        self.file.save()

    def _cautions(self) -> list[str]:
        written = self.client.get("cautions")
        return [str(text) for text in written] if isinstance(written, list) else []
