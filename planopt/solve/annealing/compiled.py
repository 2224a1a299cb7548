"""Whether the compiled search is ready, and compiling it ahead in a process of its own.

The first run on a machine compiles for some seconds. This is done beside the search that needs no
compiling, and kept on disk where Python keeps compiled modules, so that it is paid once.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from threading import Thread
from time import monotonic, sleep, time

import numpy as np

from planopt.interrupts import interrupts_held
from planopt.solve.annealing.arrays import Larder, Menu, Needs, WeekArrays
from planopt.solve.annealing.orderarrays import no_order

_HERE = Path(__file__).resolve().parent
_SOURCES = [
    _HERE / f"{name}.py"
    for name in ("basics", "columns", "costs", "dishmoves", "kernel", "moves", "ties", "week")
]
# Compiling takes half a minute on a slow machine; a lock as old as this was left behind.
_LOCK_SECONDS = 180.0


def installed() -> bool:
    """Tell whether numba, which compiles, is installed for this Python."""
    return importlib.util.find_spec("numba") is not None


def way() -> str:
    """Return what compiles, with its version."""
    return f"numba {version('numba')}" if installed() else "no compiler"


class Compilation:
    """The compiled search as it becomes ready: at once where it was compiled before."""

    def __init__(self) -> None:
        self._ready = installed() and _done()
        self._process: subprocess.Popen[bytes] | None = None
        self._begun = False
        self.failed = not installed()

    def begin(self) -> None:
        """Compile in a process of its own, if that is not done or under way, here or elsewhere."""
        if self._ready or self.failed or self._begun:
            return
        self._begun = True
        if not _take_lock():
            return
        package = str(_HERE.parents[2])
        path = os.pathsep.join([package, os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
        with interrupts_held():
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "planopt.solve.annealing.compiled"],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": path},
                # It outlives the search that began it, and a Ctrl-C too: the next one is served.
                start_new_session=True,
            )
        # Somebody has to hear of its end, whether or not the search is still there.
        Thread(target=self._process.wait, daemon=True).start()

    @property
    def running(self) -> bool:
        """Tell whether it is being compiled now."""
        return self._begun and not self.ready() and not self.failed

    def ready(self) -> bool:
        """Tell whether the compiled search can begin now, without waiting for a compiler."""
        if not self._ready and self._begun:
            self._ready = _done()
            ended = self._process is not None and self._process.poll() is not None
            self.failed = ended and not self._ready
        return self._ready

    def wait(self) -> bool:
        """Compile to the end; tell whether the compiled search is ready."""
        self.begin()
        until = monotonic() + _LOCK_SECONDS
        while self.running and monotonic() < until:
            sleep(0.1)
        return self.ready()


def _lock() -> Path:
    return _mark().with_suffix(".compiling")


def _take_lock() -> bool:
    """Tell whether it is ours to compile: nobody else does, or whoever did was long ago."""
    lock = _lock()
    try:
        lock.parent.mkdir(parents=True, exist_ok=True)
        if lock.exists() and time() - lock.stat().st_mtime > _LOCK_SECONDS:
            lock.unlink(missing_ok=True)
        os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        return False
    except OSError:
        # No place to keep it: the compiler finds one of its own, or this search goes without.
        return True
    return True


def _mark() -> Path:
    """Return the file that says so, for this source, Python and compiler, in its cache."""
    from planopt.solve.annealing import kernel

    sources = b"".join(path.read_bytes() for path in _SOURCES)
    source = sha256(sources).hexdigest()[:16]
    python = f"{sys.version_info.major}{sys.version_info.minor}"
    cache = Path(str(kernel.anneal.stats.cache_path))
    return cache / f"kernel-{source}-{python}-{version('numba')}.compiled"


def _done() -> bool:
    try:
        return _mark().is_file()
    except OSError:
        return False


def tiny_arrays() -> WeekArrays:
    """Return the arrays of a kitchen of one dish, with the types of all kitchens."""
    one, none = np.ones(1), np.zeros(1, np.int64)
    run = np.array([0, 1], np.int64)
    wide, open_ = np.zeros((1, 1)), np.full((1, 1), np.inf)
    return WeekArrays(
        menu=Menu(
            none, none, none, none, run, none, none, run, none, np.ones((1, 1), bool),
            run.reshape(1, 1, 2), one,
        ),
        needs=Needs(
            one[:, None].copy(), wide, open_, wide, open_, np.zeros((1, 1, 4)), one, none, one,
            run - run, none[:0], one[:0], one[:0], np.zeros(0, bool),
        ),
        larder=Larder(
            per_step=one, step=one, whole=np.ones(1, bool), waste=one, full=one, recipe=none,
            cook=none, group=none, take_start=run, pool=none, grams=one, table_start=run,
            table_g=one, table_cost=one, table_price=one, stock_g=one, stock_value=one, charge=one,
            loose=one, most=one, group_cook=none, hands=one, extra=one, oven=one, hob=one,
            start_price=one, extra_price=one, box_price=one,
            minutes=np.full((3, 1), np.inf), most_recipes=np.full(1, np.inf), budget=np.inf,
        ),
        places_a_slot=1,
        once_a_day=True,
        unit=1.0,
        constant=0.0,
        order=no_order(1, 1),
    )  # fmt: skip


def compile_now() -> None:
    """Compile, by one short anneal of a tiny kitchen, and leave the mark."""
    from planopt.solve.annealing.week import Annealing

    mark = _mark()
    # What was compiled of older sources goes: the compiler looks at the age of one file alone.
    newest = max(path.stat().st_mtime for path in _SOURCES)
    for old in mark.parent.glob("*.nb[ci]"):
        if old.stat().st_mtime < newest:
            old.unlink(missing_ok=True)
    annealing = Annealing(tiny_arrays(), 1)
    annealing.random_week()
    annealing.run(1, 1.0, 0.5)
    for old in mark.parent.glob("kernel-*.compiled"):
        old.unlink(missing_ok=True)
    mark.parent.mkdir(parents=True, exist_ok=True)
    mark.write_text("", encoding="utf-8")


if __name__ == "__main__":
    try:
        compile_now()
    finally:
        _lock().unlink(missing_ok=True)
