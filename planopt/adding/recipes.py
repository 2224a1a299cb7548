"""Adding a recipe file to a catalog."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, get_args

from planopt.adding.asking import Asker, any_text, number, one_of
from planopt.adding.foods import STATES, Added
from planopt.adding.trial import found_in, on_trial
from planopt.catalog.load import RECIPES_FOLDER, read_catalog
from planopt.catalog.records import Catalog, Unit
from planopt.faults import nearest
from planopt.folders import write_file
from planopt.writing.yamlfile import flow_text

_UNITS = get_args(Unit)
_LINE = re.compile(r"(\d+(?:\.\d+)?)\s*([a-z]+)\s+([a-z][a-z0-9_]*)((?:\s+[a-z]+)*)")
_UNTIL = re.compile(r"(.*?)\s*\(until (\d+(?:\.\d+)?) ?C inside\)\s*\.?")
_OVEN = re.compile(r"(\d+)\s*C?\s+(\d+)(?:\s*min)?", re.IGNORECASE)


def read_line(text: str) -> dict[str, Any]:
    """Return a line of a recipe from `200 g oats_rolled`, with a state or `optional` behind it.

    Raises:
        ValueError: the text is no such line.
    """
    found = _LINE.fullmatch(text.strip())
    if found is None:
        raise ValueError("write amount, unit and food, as in 200 g oats_rolled")
    if found[2] not in _UNITS:
        raise ValueError(f"unit {found[2]!r}: {nearest(found[2], _UNITS)}")
    line: dict[str, Any] = {"food": found[3], "amount": _plain(found[1]), "unit": found[2]}
    for word in found[4].split():
        if word in STATES:
            line["state"] = word
        elif word == "optional":
            line["optional"] = True
        else:
            raise ValueError(f"{word!r} is neither a state ({', '.join(STATES)}) nor optional")
    return line


def read_step(text: str) -> dict[str, Any]:
    """Return a step from its words; `(until 74 C inside)` at its end is what it must reach."""
    found = _UNTIL.fullmatch(text.strip())
    if found is None:
        return {"do": any_text(text.strip())}
    words = found[1] if found[1].endswith(".") else f"{found[1]}."
    return {"do": words, "until_internal_c": _plain(found[2])}


def read_oven(text: str) -> dict[str, Any]:
    """Return oven use from `180 C 30 min`.

    Raises:
        ValueError: the text is no such thing.
    """
    found = _OVEN.fullmatch(text.strip())
    if found is None:
        raise ValueError("write degrees and minutes, as in 180 C 30 min")
    return {"temperature_c": int(found[1]), "minutes": int(found[2])}


def _plain(text: str) -> int | float:
    value = float(text)
    return int(value) if value.is_integer() else value


def add_recipe(
    folder: Path, recipe_id: str, lines: Sequence[str], steps: Sequence[str], asker: Asker
) -> Added:
    """Add a recipe; `lines` and `steps` are as written, and asked for one by one where empty.

    Raises:
        BadOption: an answer is missing or wrong.
        BadInput: the catalog cannot take it; the file is then not written.
    """
    catalog = read_catalog(folder).catalog
    path = folder / RECIPES_FOLDER / f"{recipe_id}.yaml"
    if path.exists():
        asker.complain(f"{recipe_id}: {path} exists already")
    head = _answers(catalog, recipe_id, asker)
    foods = _several(asker, "line", lines, "Ingredient, as 200 g oats_rolled", read_line)
    if not foods:
        asker.complain("--line is needed: at least one ingredient, as 200 g oats_rolled")
    told = _several(asker, "step", steps, "Step, as Simmer. (until 74 C inside)", read_step)
    asker.done()
    with on_trial([path], lambda: found_in(folder)) as warnings:
        write_file(path, _recipe_text(head, foods, told))
    return Added((f"{recipe_id} written to {path}.", *asker.told()), tuple(warnings))


def _answers(catalog: Catalog, recipe_id: str, asker: Asker) -> dict[str, Any]:
    """Return the head of the recipe: all that stands before its lines."""
    minutes = number(0, 10000)
    plain = recipe_id.replace("_", " ")
    name = asker.get("name", "Name", any_text, plain[:1].upper() + plain[1:])
    meals = asker.get("meals", "Meals with commas between, such as lunch, dinner", _words)
    servings = asker.get("servings", "Servings of one batch", number(0.1, 1000))
    hands_on = asker.get("hands-on", "Minutes of work for one batch", minutes)
    extra = asker.get("extra", "Minutes of work a further batch adds", minutes)
    unattended = asker.get("unattended", "Minutes it cooks by itself", minutes, "0")
    hob = asker.get("hob", "Minutes on the hob, all rings added up", minutes, "0")
    oven = asker.get("oven", "Oven, such as 180 C 30 min, if any", read_oven, needed=False)
    work = {"hands_on": _plain(hands_on or "0"), "hands_on_per_extra_batch": _plain(extra or "0")}
    if unattended and float(unattended) > 0:
        work["unattended"] = _plain(unattended)
    equipment: dict[str, Any] = {}
    if hob and float(hob) > 0:
        equipment["hob_minutes"] = _plain(hob)
    if oven:
        equipment["oven"] = oven
    return {
        "name": name,
        "meals": meals,
        "yield_servings": _plain(servings or "1"),
        "batch": {"step": "half", "most_per_cook_day": 4},
        "minutes": work,
        "equipment": equipment,
        "keeps": _keeps(catalog, asker),
    }


def _keeps(catalog: Catalog, asker: Asker) -> dict[str, Any]:
    """Ask how the dish keeps, and how it is served."""
    kinds = [*catalog.storage_limits]
    kind = asker.get("kind", f"How it keeps: {', '.join(kinds)}", one_of(kinds))
    limit = catalog.storage_limits.get(kind or "")
    shortest = None if limit is None else f"{limit.fridge_days_shortest}"
    fridge = asker.get("fridge-days", "Days in the fridge", number(0, 365), shortest)
    freezer = asker.get(
        "freezer-months", "Months in the freezer, 0 = not frozen", number(0, 24), "0"
    )
    serve = asker.get("serve", "reheated, cold or either", one_of(("reheated", "cold", "either")))
    keeps: dict[str, Any] = {"kind": kind, "fridge_days": _plain(fridge or "0")}
    if freezer and float(freezer) > 0:
        keeps["freezer_months"] = _plain(freezer)
    keeps["serve"] = serve
    return keeps


def _words(text: str) -> list[str]:
    found = [word for part in text.split(",") if (word := part.strip())]
    if not found:
        raise ValueError("write at least one meal")
    return found


def _several(
    asker: Asker, option: str, given: Sequence[str], words: str, read: Any
) -> list[dict[str, Any]]:
    found = []
    for text in given:
        try:
            found.append(read(text))
        except ValueError as error:
            asker.complain(f"--{option} {text}: {error}")
    while asker.asks and not given:
        entry = asker.get(option, f"{words}; nothing = no more", read, needed=False)
        if entry is None:
            break
        found.append(entry)
    return found


def _recipe_text(
    head: Mapping[str, Any], lines: Sequence[Mapping[str, Any]], steps: Sequence[Mapping[str, Any]]
) -> str:
    """Return a recipe file in the order in which the guide shows one."""
    rows = []
    for key, value in head.items():
        if key in ("equipment", "keeps") and value:
            rows.append(f"{key}:")
            rows += [f"  {name}: {flow_text(part)}" for name, part in value.items()]
        elif value or value == 0:
            rows.append(f"{key}: {flow_text(value)}")
    rows += ["lines:", *(f"  - {flow_text(line)}" for line in lines)]
    if steps:
        rows += ["steps:", *(f"  - {flow_text(step)}" for step in steps)]
    return "\n".join(rows) + "\n"
