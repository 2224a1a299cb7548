"""Adding a client to a scenario, or to its roster where that is a table."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from planopt.adding.asking import Asker, any_text, one_of, whole
from planopt.adding.foods import Added
from planopt.adding.trial import on_trial
from planopt.faults import BadInput, Fault
from planopt.reading.documents import read_document
from planopt.scenario.households.paths import check_paths_and_warn
from planopt.scenario.reading.gather import read_catalog_of
from planopt.writing.tablefile import TableFile
from planopt.writing.yamlfile import YamlFile

# What recipes and prices that come later will end.
_FOR_LATER = ("meal_without_recipe",)
_WINDOW = re.compile(r"([a-z][a-z0-9_]*)\s*[:= ]\s*(\d+(?:\.\d+)?)?\s*(?:-|to)\s*(\d+(?:\.\d+)?)?")


def read_window(text: str) -> tuple[str, dict[str, float | int]]:
    """Return nutrient and window from `energy_kcal 1800-2100`, `protein_g 80-` or `fat_g -70`.

    Raises:
        ValueError: the text is no window.
    """
    found = _WINDOW.fullmatch(text.strip())
    if found is None or not (found[2] or found[3]):
        raise ValueError("write nutrient, least and most, as in energy_kcal 1800-2100")
    sides = {"min": found[2], "max": found[3]}
    return found[1], {side: _plain(value) for side, value in sides.items() if value}


def _plain(text: str) -> int | float:
    value = float(text)
    return int(value) if value.is_integer() else value


def add_client(
    path: Path,
    client_id: str,
    windows: Sequence[str],
    lists: Mapping[str, str | None],
    asker: Asker,
) -> Added:
    """Add a client; `lists` are comma-separated texts of `allergens` and `excluded_foods`.

    Raises:
        BadOption: an answer is missing or wrong.
        BadInput: the scenario cannot take it; the file is then as it was.
    """
    file = YamlFile(path)
    answers = _answers(path, client_id, lists, asker)
    answers["windows_per_day"] = daily = _windows(windows, asker)
    asker.done()
    client = {key: value for key, value in answers.items() if value}
    data = file.data if isinstance(file.data, dict) else {}
    roster = data.get("roster")
    target = path.parent / roster if isinstance(roster, str) else path
    found = on_trial([target], lambda: check_paths_and_warn([path]), _FOR_LATER)
    with found as warnings:
        if target.suffix.lower() == ".csv":
            _into_table(target, client)
        else:
            _into_yaml(YamlFile(target), client)
    told = [f"{client_id} added to {target}."]
    if not daily:
        told.append("Without windows nothing but the energy floor holds; see planopt targets.")
    return Added((*told, *asker.told()), tuple(warnings))


def _answers(
    path: Path, client_id: str, lists: Mapping[str, str | None], asker: Asker
) -> dict[str, Any]:
    """Return the client's entry, in which the windows have their place but are still to come."""
    allergens = _known_allergens(path)
    name = asker.get("name", "Name for reports", any_text, client_id.replace("_", " ").capitalize())
    sex = asker.get("sex", "female or male, if known", one_of(("female", "male")), needed=False)
    age = asker.get("age", "Age in years, if known", whole(0, 120), needed=False)
    told = f"Allergens to exclude, with commas between, or none: {', '.join(allergens)}"
    return {
        "id": client_id,
        "name": name,
        "sex": sex,
        "age_years": int(age) if age else None,
        "windows_per_day": {},
        "allergens": asker.get("allergens", told, _several(allergens)),
        "excluded_foods": _listed(lists.get("excluded_foods")),
    }


def _windows(windows: Sequence[str], asker: Asker) -> dict[str, dict[str, float | int]]:
    """Return the windows of a day, those given or, without any, those told one by one."""
    given = list(windows)
    while asker.asks and not windows:
        words = "Window of a day, as energy_kcal 1800-2100; nothing = no more"
        text = asker.get(
            "window", words, lambda text: text if read_window(text) else "", needed=False
        )
        if text is None:
            break
        given.append(text)
    daily = {}
    for text in given:
        try:
            nutrient_id, window = read_window(text)
            daily[nutrient_id] = window
        except ValueError as error:
            asker.complain(f"--window {text}: {error}")
    return daily


def _into_yaml(file: YamlFile, client: Mapping[str, Any]) -> None:
    clients = file.data.get("clients") if isinstance(file.data, dict) else None
    count = len(clients) if isinstance(clients, list) else 0
    file.set(("clients", count), dict(client))
    file.save()


def _into_table(path: Path, client: Mapping[str, Any]) -> None:
    table = TableFile(path)
    cells: dict[str, str] = {}
    for key, value in client.items():
        if key == "windows_per_day":
            for nutrient_id, window in value.items():
                cells |= {f"{nutrient_id}_{side}": f"{part:g}" for side, part in window.items()}
        elif isinstance(value, list):
            cells[key] = "|".join(value)
        else:
            cells[key] = str(value)
    table.append(cells)
    table.save()


def _known_allergens(path: Path) -> tuple[str, ...]:
    document, faults = read_document(path)
    if document is None:
        raise BadInput(faults)
    _, reading, found = read_catalog_of(path, document)
    missing: list[Fault] = list(found)
    if missing:
        raise BadInput(missing)
    return () if reading is None else tuple(reading.catalog.allergens)


def _several(known: Sequence[str]) -> Any:
    check = one_of([*known, "none"])

    def read(text: str) -> list[str]:
        parts = _listed(text)
        for part in parts:
            check(part)
        if not parts:
            raise ValueError("write allergens, or none")
        return [] if parts == ["none"] else [part for part in parts if part != "none"]

    return read


def _listed(text: str | None) -> list[str]:
    return [part.strip() for part in (text or "").replace("|", ",").split(",") if part.strip()]
