"""Write a folder or a file beside its final place, then swap it in: never half-written, never lost.

What lies beside a folder NAME while it is replaced, each with a random MARK of eight digits:

    .NAME.MARK.new     being filled, or the earlier folder with nothing of the user's left in it
    .NAME.MARK.swap    filled, with a journal in it: to take its place; without one: the earlier one
    .NAME.MARK.old     the earlier folder, whose files of the user still have to move

The journal is a hidden file in the new folder. It names which files are planopt's own, and goes
with the folder as it takes its place. So at any moment names and journal tell what is still to be
done, and `settle` does it: the same code ends an ordinary swap and one that was killed.
"""

from __future__ import annotations

import json
import os
import re
import secrets
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from planopt.diskcalls import Disk, hold, is_held, release
from planopt.faults import BadInput, Fault
from planopt.interrupts import deferred
from planopt.letters import odd_letter

disk = Disk()

_BESIDE = re.compile(r"\.(?P<name>.+)\.(?P<mark>[0-9a-f]{8})\.(?P<kind>new|swap|old)", re.DOTALL)
_JOURNAL = re.compile(r"\.planopt\.[0-9a-f]{8}\.swap")
_REFUSED = "choose another folder, or free the space or the rights it needs"


def bad_folder(path: Path, why: str, mend: str, code: str) -> BadInput:
    """Return the error for a folder that cannot be used as asked."""
    return BadInput([Fault(str(path), 0, "", path.name or str(path), why, mend, code)])


def refuse_current(target: Path) -> None:
    """Refuse the current folder, or one around it: a rename would pull it from under the shell.

    Raises:
        BadInput: `target` is, or contains, the current folder.
    """
    here, there = Path.cwd().resolve(), Path(os.path.realpath(target))
    if here.is_relative_to(there):
        why = "the current folder cannot be replaced while you are in it"
        raise bad_folder(target, why, "name a folder below it, or beside it", "folder_is_current")


def refuse_unwritable(target: Path, named: Path | None = None) -> None:
    """Refuse a folder that could not be written, before any time goes into what it should hold.

    What an earlier, killed command left of it is settled first. The fault speaks of `named` where
    that is another path than `target`.

    Raises:
        BadInput: the system would refuse to make the folder, or to put another in its place.
    """
    settle(target)
    odd = odd_letter(str(target))
    if odd is not None:
        mend = "name it plainly; its name stands in what is written"
        raise bad_folder(target, f"its name holds {odd}", mend, "odd_character")
    final = Path(os.path.realpath(target))
    with _refusals(named or target, "folder_unwritable"):
        if os.path.ismount(final):
            why = "it is a file system of its own, and cannot be replaced as a whole"
            raise bad_folder(target, why, "name a folder in it", "folder_unwritable")
        if final.is_dir() and not os.access(final, os.R_OK | os.W_OK | os.X_OK):
            raise PermissionError(13, os.strerror(13))
        # The first part of the path that is missing is what would be made first.
        first = final
        while not os.path.lexists(first.parent):
            first = first.parent
        # Names that are too long are told by looking for them.
        names = (final, *(first.parent / part for part in final.relative_to(first.parent).parts))
        for name in (*names, _Swap(first.with_name(final.name), "0" * 8).swap):
            with suppress(FileNotFoundError):
                os.lstat(name)
        _remove_trials(first)
        trial = _Swap(first, secrets.token_hex(4)).new
        disk.make_folder(trial)
        disk.remove_folder(trial)


@contextmanager
def folder_beside(target: Path, owned: frozenset[str] = frozenset()) -> Iterator[Path]:
    """Give a fresh folder to fill; on success it takes the place of `target`.

    An existing `target` is replaced. Entries of it whose names are not in `owned` are the user's:
    they move over to the new folder. On any failure the old folder stays as it was; a process that
    is killed leaves what the next `settle` completes or takes away.

    Raises:
        BadInput: the system refuses to write there, or it is the current folder.
    """
    refuse_current(target)
    settle(target)
    swap = _Swap(Path(os.path.realpath(target)), secrets.token_hex(4))
    handle = None
    with _refusals(target, "folder_unwritable"):
        try:
            disk.make_parents(swap.target)
            disk.make_folder(swap.new)
            handle = hold(swap.new)
            yield swap.new
            with deferred():
                swap.put(owned)
        except BaseException:
            with suppress(OSError):
                swap.give_up()
            raise
        finally:
            release(handle)


def fill(folder: Path, contents: Mapping[str, str | bytes]) -> None:
    """Write files into a fresh folder by their names in it; text as UTF-8."""
    for name, content in contents.items():
        path = folder / name
        if not path.parent.is_dir():
            disk.make_parents(path)
        disk.write(path, content.encode("utf-8") if isinstance(content, str) else content)


def settle(target: Path) -> None:
    """Complete, or take back, what a killed command left undone beside a folder.

    Nothing happens to what a living process works on, nor where the system refuses.
    """
    final = Path(os.path.realpath(target))
    with suppress(OSError):
        for swap in _swaps(final.parent, final.name):
            swap.settle()


def settle_inside(parent: Path) -> None:
    """Do the same for every folder in a folder, and remove half-written files from it."""
    with suppress(OSError):
        for swap in _swaps(parent, None):
            swap.settle()
    sweep_files(parent)


def sweep_files(folder: Path, name: str | None = None) -> None:
    """Remove what killed commands left of files that were being written in a folder."""
    with suppress(OSError):
        for path, found in _left_beside(folder):
            if found["kind"] == "new" and name in (None, found["name"]) and _is_plain(path):
                disk.remove_file(path)


def is_left_over(path: Path) -> bool:
    """Tell a file or folder that was being written beside its place when a command was killed."""
    return _BESIDE.fullmatch(path.name) is not None


@dataclass(frozen=True)
class _Swap:
    """The swap of one folder: what lies beside it under one mark."""

    target: Path
    mark: str

    def _beside(self, kind: str) -> Path:
        return self.target.parent / f".{self.target.name}.{self.mark}.{kind}"

    @property
    def new(self) -> Path:
        return self._beside("new")

    @property
    def swap(self) -> Path:
        return self._beside("swap")

    @property
    def old(self) -> Path:
        return self._beside("old")

    @property
    def journal(self) -> str:
        return f".planopt.{self.mark}.swap"

    def put(self, owned: frozenset[str]) -> None:
        """Let the folder that is filled take its place."""
        if not os.path.lexists(self.target):
            disk.rename(self.new, self.target)
            return
        disk.copy_mode(self.target, self.new)
        if not os.listdir(self.target):
            with suppress(OSError):
                # In one step where the system lets a folder replace an empty one.
                disk.rename(self.new, self.target)
                return
        told = {"owned": sorted(owned), "replaces": _identity(self.target)}
        disk.write(self.new / self.journal, json.dumps(told).encode("utf-8"))
        disk.rename(self.new, self.swap)
        self.complete()

    def settle(self) -> None:
        """Do what is left to do, unless somebody is at it."""
        working = [self.new, self.swap]
        if os.path.lexists(self.target / self.journal):
            working.append(self.target)
        if not any(map(is_held, working)):
            with deferred():
                self.complete()

    def complete(self) -> None:
        """Go on from wherever it stands to the end."""
        if os.path.lexists(self.swap / self.journal):
            self._take_place()
        if os.path.lexists(self.swap):
            # Without a journal it is the earlier folder, which the exchange has put there.
            disk.rename(self.swap, self.old)
        if os.path.lexists(self.old):
            self._empty_old()
        if os.path.lexists(self.new):
            if os.path.lexists(self.target / self.journal):
                disk.remove_file(self.target / self.journal)
            disk.remove_tree(self.new)

    def give_up(self) -> None:
        """Take away a new folder that has not taken its place."""
        if os.path.lexists(self.swap / self.journal):
            disk.rename(self.swap, self.new)
        if not os.path.lexists(self.target / self.journal):
            disk.remove_tree(self.new)

    def _take_place(self) -> None:
        _, replaces = _told(self.swap / self.journal)
        if not os.path.lexists(self.target):
            disk.rename(self.swap, self.target)
        elif os.path.lexists(self.old) or _identity(self.target) != replaces:
            # Somebody has put another folder there since: that one stays.
            disk.rename(self.swap, self.new)
        elif not disk.exchange(self.swap, self.target):
            disk.rename(self.target, self.old)
            try:
                disk.rename(self.swap, self.target)
            except BaseException:
                disk.rename(self.old, self.target)
                raise

    def _empty_old(self) -> None:
        """Move what is the user's out of the earlier folder; then it may go."""
        if not os.path.lexists(self.target):
            disk.rename(self.old, self.target)
        elif not os.path.lexists(self.target / self.journal):
            # Nobody knows what of it is the user's: it stays, where it is seen.
            disk.rename(self.old, _free(self.target, ".earlier"))
        else:
            owned, _ = _told(self.target / self.journal)
            refused = [
                error
                for entry in sorted(os.listdir(self.old))
                if not _is_own(entry, owned)
                for error in self._moved(entry)
            ]
            if refused:
                place = _free(self.target, ".earlier")
                disk.rename(self.old, place)
                disk.remove_file(self.target / self.journal)
                reason = f"{refused[0].strerror}; what could not move is in {place.name}"
                raise OSError(refused[0].errno, reason)
            disk.rename(self.old, self.new)

    def _moved(self, entry: str) -> list[OSError]:
        """Move an entry of the user's to the new folder; return why it cannot be."""
        place = self.target / entry
        if os.path.lexists(place):
            place = _free(place, ".kept")
        try:
            disk.rename(self.old / entry, place)
        except OSError as error:
            return [error]
        return []


def _swaps(parent: Path, name: str | None) -> list[_Swap]:
    """Return the swaps begun in a folder, those of one name or all."""
    found = {
        (match["name"], match["mark"])
        for path, match in _left_beside(parent)
        if name in (None, match["name"]) and path.is_dir() and not path.is_symlink()
    }
    return [_Swap(parent / target, mark) for target, mark in sorted(found)]


def _left_beside(folder: Path) -> Iterator[tuple[Path, re.Match[str]]]:
    for entry in os.listdir(folder):
        match = _BESIDE.fullmatch(entry) if entry.startswith(".") else None
        if match is not None:
            yield folder / entry, match


def _remove_trials(target: Path) -> None:
    """Remove the empty trial folders of killed commands."""
    for path, match in _left_beside(target.parent):
        if match["name"] == target.name and match["kind"] == "new" and not is_held(path):
            with suppress(OSError):
                disk.remove_folder(path)


def _told(journal: Path) -> tuple[frozenset[str], list[int] | None]:
    """Return which entries a journal calls planopt's own, and which folder it replaces."""
    try:
        told = json.loads(journal.read_bytes())
        return frozenset(map(str, told["owned"])), told["replaces"]
    except (OSError, ValueError, KeyError, TypeError):
        # A disk that lost power may have lost this too; then all is the user's.
        return frozenset(), None


def _identity(path: Path) -> list[int]:
    facts = path.stat()
    return [facts.st_dev, facts.st_ino]


def _is_own(entry: str, owned: frozenset[str]) -> bool:
    """Tell planopt's own entries of a folder, with what a kill has left of their making."""
    left = _BESIDE.fullmatch(entry)
    return (
        entry in owned
        or _JOURNAL.fullmatch(entry) is not None
        or (left is not None and left["kind"] == "new" and left["name"] in owned)
    )


def _is_plain(path: Path) -> bool:
    return path.is_file() and not path.is_symlink()


def _free(path: Path, ending: str) -> Path:
    """Return a name like a path's that nothing has yet."""
    free, count = path.with_name(path.name + ending), 1
    while os.path.lexists(free):
        count += 1
        free = path.with_name(f"{path.name}{ending}-{count}")
    return free


@contextmanager
def _refusals(target: Path, code: str) -> Iterator[None]:
    """Turn what the system refuses into the fault of a folder or a file."""
    try:
        yield
    except OSError as error:
        what, other = ("this file", "place") if code == "file_unwritable" else ("here", "folder")
        raise bad_folder(
            target,
            f"the system refuses to write {what}: {error.strerror or error}",
            f"choose another {other}, or free the space or the rights it needs",
            code,
        ) from error


def file_beside(target: Path, text: str) -> None:
    """Write a file beside its place and rename it, so that readers see the old or the new one.

    Raises:
        BadInput: the system refuses to write there.
    """
    with _refusals(target, "folder_unwritable"):
        _file_beside(target, text.encode("utf-8"))


def write_file(target: Path, content: str | bytes) -> None:
    """Write a file, text as UTF-8, whole or not at all; an existing file is replaced.

    Raises:
        BadInput: the system refuses to write there.
    """
    final = Path(os.path.realpath(target))
    sweep_files(final.parent, final.name)
    with _refusals(target, "file_unwritable"):
        _file_beside(final, content if isinstance(content, bytes) else content.encode("utf-8"))


def _file_beside(final: Path, content: bytes) -> None:
    fresh = final.parent / f".{final.name}.{secrets.token_hex(4)}.new"
    try:
        disk.make_parents(final)
        disk.write(fresh, content)
        disk.replace(fresh, final)
    finally:
        with suppress(OSError):
            disk.remove_file(fresh)
