"""The few calls that change a folder and what lies beside it, in one place.

All of `folders` goes through a `Disk`, so that a test can end the process before any of them.
"""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path

_AT_FDCWD = -100
# RENAME_EXCHANGE of Linux's renameat2(2), RENAME_SWAP of macOS's renamex_np(2).
_EXCHANGE = 2
# What a kernel or a file system answers that does not know the exchange.
_UNKNOWN = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EPERM}


@cache
def _exchange_call() -> Callable[[bytes, bytes], int] | None:
    """Return the system's call that exchanges two names in one step, or None."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform.startswith("linux"):
            rename = library.renameat2
            return lambda one, other: int(rename(_AT_FDCWD, one, _AT_FDCWD, other, _EXCHANGE))
        if sys.platform == "darwin":
            swap = library.renamex_np
            return lambda one, other: int(swap(one, other, _EXCHANGE))
    except (OSError, TypeError, AttributeError):
        # Windows, or a C library from before these calls.
        pass
    return None


class Disk:
    """What may be done to folders and files; each method is one step, or fails as a whole.

    Only `write` and `remove_tree` take several steps; what they leave half done is never relied on.
    """

    def make_parents(self, path: Path) -> None:
        """Make the folder around a path, and those around it."""
        path.parent.mkdir(parents=True, exist_ok=True)

    def make_folder(self, path: Path) -> None:
        """Make a folder that is not there yet."""
        path.mkdir()

    def write(self, path: Path, content: bytes) -> None:
        """Write a file that nobody reads yet."""
        path.write_bytes(content)

    def copy_mode(self, source: Path, target: Path) -> None:
        """Give a folder the rights of another one."""
        shutil.copymode(source, target)

    def rename(self, source: Path, target: Path) -> None:
        """Rename; a folder only to a name that is free or that of an empty folder."""
        os.rename(source, target)

    def replace(self, source: Path, target: Path) -> None:
        """Rename a file, also over another one."""
        os.replace(source, target)

    def exchange(self, one: Path, other: Path) -> bool:
        """Let two folders change their names in one step; tell whether the system can do that."""
        call = _exchange_call()
        if call is None:
            return False
        if call(os.fsencode(one), os.fsencode(other)) == 0:
            return True
        number = ctypes.get_errno()
        if number in _UNKNOWN:
            return False
        raise OSError(number, os.strerror(number), str(one), None, str(other))

    def remove_file(self, path: Path) -> None:
        """Remove a file; one that is gone already is as well."""
        with suppress(FileNotFoundError):
            os.unlink(path)

    def remove_folder(self, path: Path) -> None:
        """Remove an empty folder; one that is gone already is as well."""
        with suppress(FileNotFoundError):
            os.rmdir(path)

    def remove_tree(self, path: Path) -> None:
        """Remove a folder with all that is in it; links are removed, never followed."""
        with suppress(FileNotFoundError):
            for entry in list(os.scandir(path)):
                if entry.is_dir(follow_symlinks=False):
                    self.remove_tree(Path(entry.path))
                else:
                    self.remove_file(Path(entry.path))
        self.remove_folder(path)


def hold(folder: Path) -> int | None:
    """Mark a folder as being worked on until this process ends or `release`s what is returned."""
    return _locked(folder, "LOCK_EX")[0]


def release(handle: int | None) -> None:
    """End a `hold`."""
    if handle is not None:
        os.close(handle)


def is_held(folder: Path) -> bool:
    """Tell whether somebody who is still alive works on a folder, as far as the system knows."""
    handle, taken = _locked(folder, "LOCK_SH")
    release(handle)
    return taken


def _locked(folder: Path, kind: str) -> tuple[int | None, bool]:
    """Return a lock on a folder if it can be had, and whether somebody else holds one."""
    try:
        import fcntl

        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except (ImportError, OSError):
        return None, False
    try:
        fcntl.flock(handle, getattr(fcntl, kind) | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        return None, isinstance(error, BlockingIOError)
    return handle, False
