"""The starter: catalogs and scenarios to begin with, copied where the user wants them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from planopt.folders import bad_folder, fill, folder_beside, settle

PARTS = ("catalogs", "scenarios")


def starter_source() -> Path:
    """Return the folder that holds the shipped catalogs and scenarios.

    An installed planopt carries them inside; a source tree has them at its root.

    Raises:
        FileNotFoundError: this installation has lost them.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "_starter", package.parent):
        if all((folder / part).is_dir() for part in PARTS):
            return folder
    raise FileNotFoundError("planopt was installed without its starter files")


def _visible_files(folder: Path) -> Iterator[Path]:
    for entry in sorted(folder.iterdir()):
        if entry.name.startswith((".", "__")):
            continue
        if entry.is_dir():
            yield from _visible_files(entry)
        else:
            yield entry


# What an empty kitchen keeps: published facts. The other tables keep their header alone.
_FACTS = (
    "allergens.csv",
    "nutrients.csv",
    "reference_intakes.csv",
    "safe_temperatures.csv",
    "safety_groups.csv",
    "storage_limits.csv",
)
_FIRST_WEEK = """\
# Your first week. Add what it needs, and look with `planopt check` what is still missing:
#   planopt add food rice_white_long     a food, from the composition table
#   planopt add price rice_white_long    where it is sold, and for how much
#   planopt add recipe rice_and_beans    a recipe
#   planopt add client scenarios/first_week.yaml ada
name: First week
catalog: ../catalogs
currency: USD
start_date: {start}          # day 1, a Monday
days: 7
meals: [breakfast, lunch, dinner, snack]

cook_days:
  - {{day: 0}}                    # the eve; limits such as hands_on_minutes: 240 go beside it

clients:
"""


def write_empty(target: Path, today: date) -> list[Path]:
    """Write a kitchen without foods, recipes, prices and clients; return the files, sorted.

    Tables of published facts are filled: nutrients, allergens, temperatures, keeping, intakes. The
    week begins on the Monday after `today`.

    Raises:
        BadInput: the folder exists and is not empty, or the system refuses to write.
    """
    source = starter_source() / "catalogs"
    settle(target)
    _refuse_taken(target)
    monday = today + timedelta(days=7 - today.weekday())
    with folder_beside(target) as fresh:
        texts = {}
        for entry in sorted(source.glob("*.csv")):
            text = entry.read_text(encoding="utf-8")
            kept = text if entry.name in _FACTS else text.split("\n", 1)[0] + "\n"
            texts[f"catalogs/{entry.name}"] = kept.encode("utf-8")
        week = _FIRST_WEEK.format(start=monday.isoformat())
        texts["scenarios/first_week.yaml"] = week.encode("utf-8")
        fill(fresh, texts)
        (fresh / "catalogs" / "recipes").mkdir()
    return sorted(path for path in target.rglob("*") if path.is_file())


def _refuse_taken(target: Path) -> None:
    taken = os.path.lexists(target)
    if taken and not (os.path.isdir(target) and not os.listdir(target)):
        raise bad_folder(
            target, "it exists and is not an empty folder", "name a new folder", "starter_dir_taken"
        )


def write_starter(target: Path) -> list[Path]:
    """Copy the starter to a new or empty folder and return the files written, sorted.

    Raises:
        BadInput: the folder exists and is not empty, or the system refuses to write.
    """
    source = starter_source()
    settle(target)
    _refuse_taken(target)
    with folder_beside(target) as fresh:
        for part in PARTS:
            # Contents only, since an installed planopt may be read-only.
            files = _visible_files(source / part)
            fill(fresh, {str(path.relative_to(source)): path.read_bytes() for path in files})
    return sorted(path for path in target.rglob("*") if path.is_file())
