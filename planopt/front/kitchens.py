"""Kitchens and their files: load, check, new."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import NamedTuple

from planopt.faults import Fault
from planopt.front.sources import PathLike
from planopt.scenario.households.paths import check_paths_and_warn
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.scenario.variants.words import variant_of_words
from planopt.starter import write_empty, write_starter


class Checked(NamedTuple):
    """What is wrong with files, and what may be right and deserves a second look."""

    faults: list[Fault]
    warnings: list[Fault]


def load(scenario: PathLike, *changes: str) -> Kitchen:
    """Return a scenario of one kitchen with its catalog, checked.

    `changes` in the words of `planopt whatif --change` are made to what the files say, for example
    `"price of rice_white_long +30%"`; the files stay as they are.

    Raises:
        BadInput: with every fault of every file, or of the changes.
    """
    kitchen = load_kitchen(Path(scenario))
    if not changes:
        return kitchen
    variant = variant_of_words(changes, kitchen.catalog, kitchen.scenario)
    return changed_kitchen(kitchen, variant)


def check(*paths: PathLike) -> Checked:
    """Return every fault of scenarios, recipes, catalogs, or folders of them, and warnings."""
    return Checked(*check_paths_and_warn(Path(path) for path in paths))


def new(folder: PathLike, *, empty: bool = False) -> list[Path]:
    """Copy starter catalogs and scenarios to a new folder and return the files.

    With `empty` they have no foods, recipes, prices and clients.

    Raises:
        BadInput: the folder exists and is not empty, or cannot be written.
    """
    target = Path(folder)
    return write_empty(target, date.today()) if empty else write_starter(target)
