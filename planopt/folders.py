"""Write a folder or a file beside its final place, then rename it: never half-written."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from planopt.faults import BadInput, Fault


def bad_folder(path: Path, why: str, mend: str, code: str) -> BadInput:
    """Return the error for a folder that cannot be used as asked."""
    return BadInput([Fault(str(path), 0, "", path.name or str(path), why, mend, code)])


def refuse_current(target: Path) -> None:
    """Refuse the current folder, or one around it: a rename would pull it from under the shell.

    Raises:
        BadInput: `target` is, or contains, the current folder.
    """
    here, there = Path.cwd().resolve(), target.resolve()
    if here.is_relative_to(there):
        why = "the current folder cannot be replaced while you are in it"
        raise bad_folder(target, why, "name a folder below it, or beside it", "folder_is_current")


@contextmanager
def folder_beside(target: Path, owned: frozenset[str] = frozenset()) -> Iterator[Path]:
    """Give a fresh folder to fill; on success it takes the place of `target`.

    An existing `target` is replaced. Entries of it whose names are not in `owned` are the user's:
    they move over to the new folder. On any failure the old folder stays as it was.

    Raises:
        BadInput: the system refuses to write there, or it is the current folder.
    """
    refuse_current(target)
    target = Path(os.path.realpath(target))
    mark = secrets.token_hex(4)
    fresh = target.parent / f".{target.name}.{mark}.new"
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh.mkdir()
        yield fresh
        _swap(fresh, target, target.parent / f".{target.name}.{mark}.old", owned)
    except OSError as error:
        raise bad_folder(
            target,
            f"the system refuses to write here: {error.strerror or error}",
            "choose another folder, or free the space or the rights it needs",
            "folder_unwritable",
        ) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def file_beside(target: Path, text: str) -> None:
    """Write a file beside its place and rename it, so that readers see the old or the new one.

    Raises:
        BadInput: the system refuses to write there.
    """
    fresh = target.parent / f".{target.name}.{secrets.token_hex(4)}.new"
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(text, encoding="utf-8", newline="\n")
        os.replace(fresh, target)
    except OSError as error:
        raise bad_folder(
            target,
            f"the system refuses to write here: {error.strerror or error}",
            "choose another folder, or free the space or the rights it needs",
            "folder_unwritable",
        ) from error
    finally:
        fresh.unlink(missing_ok=True)


def _swap(fresh: Path, target: Path, old: Path, owned: frozenset[str]) -> None:
    if not target.exists():
        fresh.rename(target)
        return
    target.rename(old)
    try:
        fresh.rename(target)
    except BaseException:
        old.rename(target)
        raise
    for entry in old.iterdir():
        if entry.name not in owned and not (target / entry.name).exists():
            entry.rename(target / entry.name)
    shutil.rmtree(old, ignore_errors=True)


def write_file(target: Path, content: str | bytes) -> None:
    """Write a file, text as UTF-8, whole or not at all; an existing file is replaced.

    Raises:
        BadInput: the system refuses to write there.
    """
    final = Path(os.path.realpath(target))
    fresh = final.parent / f".{final.name}.{secrets.token_hex(4)}.new"
    try:
        final.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        fresh.replace(final)
    except OSError as error:
        raise bad_folder(
            target,
            f"the system refuses to write this file: {error.strerror or error}",
            "choose another place, or free the space or the rights it needs",
            "file_unwritable",
        ) from error
    finally:
        with suppress(OSError):
            fresh.unlink()
