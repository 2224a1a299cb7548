"""The starter: catalogs and scenarios to begin with, copied where the user wants them."""

from __future__ import annotations

import os
from collections.abc import Iterator
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


def write_starter(target: Path) -> list[Path]:
    """Copy the starter to a new or empty folder and return the files written, sorted.

    Raises:
        BadInput: the folder exists and is not empty, or the system refuses to write.
    """
    source = starter_source()
    settle(target)
    taken = os.path.lexists(target)
    if taken and not (os.path.isdir(target) and not os.listdir(target)):
        raise bad_folder(
            target, "it exists and is not an empty folder", "name a new folder", "starter_dir_taken"
        )
    with folder_beside(target) as fresh:
        for part in PARTS:
            # Contents only, since an installed planopt may be read-only.
            files = _visible_files(source / part)
            fill(fresh, {str(path.relative_to(source)): path.read_bytes() for path in files})
    return sorted(path for path in target.rglob("*") if path.is_file())
