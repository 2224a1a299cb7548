"""The starter: catalogs and scenarios to begin with, copied where the user wants them."""

from __future__ import annotations

import shutil
from pathlib import Path

from planopt.folders import bad_folder, folder_beside

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


def _copy_tree(source: Path, target: Path) -> None:
    """Copy visible files; contents only, since an installed planopt may be read-only."""
    target.mkdir()
    for entry in sorted(source.iterdir()):
        if entry.name.startswith((".", "__")):
            continue
        if entry.is_dir():
            _copy_tree(entry, target / entry.name)
        else:
            shutil.copyfile(entry, target / entry.name)


def write_starter(target: Path) -> list[Path]:
    """Copy the starter to a new or empty folder and return the files written, sorted.

    Raises:
        BadInput: the folder exists and is not empty, or the system refuses to write.
    """
    source = starter_source()
    taken = target.is_symlink() or target.exists()
    if taken and not (target.is_dir() and not any(target.iterdir())):
        raise bad_folder(
            target, "it exists and is not an empty folder", "name a new folder", "starter_dir_taken"
        )
    with folder_beside(target) as fresh:
        for part in PARTS:
            _copy_tree(source / part, fresh / part)
    return sorted(path for path in target.rglob("*") if path.is_file())
