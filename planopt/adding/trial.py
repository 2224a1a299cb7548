"""Changes of several files that stay only if they bring no new fault."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from planopt.catalog.load import read_catalog
from planopt.faults import BadInput, Fault
from planopt.folders import write_file
from planopt.reading.files import regular_bytes

Found = tuple[list[Fault], list[Fault]]


@contextmanager
def on_trial(
    paths: Iterable[Path], check: Callable[[], Found], still_open: Collection[str] = ()
) -> Iterator[list[Fault]]:
    """Let the body change files; put them back if it fails, or if a fault is there that was not.

    Gives a list that holds, afterwards, the warnings that are new; faults with a code of
    `still_open` are for a later addition to end, and are told among them.

    Raises:
        BadInput: with the new faults.
    """
    old = {path: regular_bytes(path) if path.is_file() else None for path in paths}
    before = {_same(fault) for part in check() for fault in part}
    warnings: list[Fault] = []
    try:
        yield warnings
        faults, told = check()
        new = [fault for fault in faults if _same(fault) not in before]
        if any(fault.code not in still_open for fault in new):
            raise BadInput(new)
        warnings += new
        warnings += [warning for warning in told if _same(warning) not in before]
    except BaseException:
        for path, content in old.items():
            if content is None:
                path.unlink(missing_ok=True)
            else:
                write_file(path, content)
        raise


def found_in(folder: Path) -> Found:
    """Return the faults and the warnings of a catalog."""
    reading = read_catalog(folder)
    return list(reading.faults), reading.warnings()


def _same(fault: Fault) -> tuple[str, ...]:
    """Return what tells a fault apart wherever its line has moved to."""
    return (fault.file, fault.field, fault.value, fault.why, fault.code)
