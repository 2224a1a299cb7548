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

import numpy as np

from planopt.interrupts import interrupts_held
from planopt.solve.weekarrays import Larder, Menu, Needs, WeekArrays

_HERE = Path(__file__).resolve().parent


def installed() -> bool:
    """Tell whether numba, which compiles, is installed for this Python."""
    return importlib.util.find_spec("numba") is not None


def way() -> str:
    """Return what compiles, with its version."""
    return f"numba {version('numba')}" if installed() else "no compiler"


class Compilation:
    """The compiled search as it becomes ready: at once where it was compiled before."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._ready = installed() and _done()
        self.failed = not installed()

    def begin(self) -> None:
        """Compile in a process of its own, if that is not done or under way."""
        if self._ready or self.failed or self._process is not None:
            return
        package = str(_HERE.parents[1])
        path = os.pathsep.join([package, os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
        with interrupts_held():
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "planopt.solve.compiled"],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": path},
            )

    @property
    def running(self) -> bool:
        """Tell whether it is being compiled now."""
        return self._process is not None and self._process.poll() is None

    def ready(self) -> bool:
        """Tell whether the compiled search can begin now, without waiting for a compiler."""
        if not self._ready and self._process is not None and self._process.poll() is not None:
            self._ready = self._process.returncode == 0
            self.failed = not self._ready
            self._process = None
        return self._ready

    def wait(self) -> bool:
        """Compile to the end; tell whether the compiled search is ready."""
        self.begin()
        if self._process is not None:
            self._process.wait()
        return self.ready()


def _mark() -> Path:
    """Return the file that says so, for this source, Python and compiler, in its cache."""
    from planopt.solve import annealkernel

    sources = b"".join(path.read_bytes() for path in sorted(_HERE.glob("anneal*.py")))
    source = sha256(sources).hexdigest()[:16]
    python = f"{sys.version_info.major}{sys.version_info.minor}"
    cache = Path(str(annealkernel.anneal.stats.cache_path))
    return cache / f"annealkernel-{source}-{python}-{version('numba')}.compiled"


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
            none, none, none, none, run, none, none, run, none, np.ones((1, 1), bool), run, one
        ),
        needs=Needs(
            one[:, None].copy(), wide, open_, wide, open_, one, none, run - run, none[:0],
            one[:0], one[:0], np.zeros(0, bool),
        ),
        larder=Larder(
            per_step=one, step=one, whole=np.ones(1, bool), waste=one, full=one, recipe=none,
            cook=none, group=none, take_start=run, pool=none, grams=one, table_start=run,
            table_g=one, table_cost=one, table_price=one, stock_g=one, stock_value=one, charge=one,
            loose=one, most=one, group_cook=none, hands=one, extra=one, oven=one, hob=one,
            minutes=np.full((3, 1), np.inf), most_recipes=np.full(1, np.inf), budget=np.inf,
        ),
        places_a_slot=1,
        once_a_day=True,
        unit=1.0,
        constant=0.0,
    )  # fmt: skip


def compile_now() -> None:
    """Compile, by one short anneal of a tiny kitchen, and leave the mark."""
    from planopt.solve.annealing import Annealing

    mark = _mark()
    # What was compiled of other sources goes: the compiler looks at one file's age alone.
    for old in mark.parent.glob("anneal*.nb[ci]"):
        old.unlink()
    for old in mark.parent.glob("anneal*.compiled"):
        old.unlink()
    annealing = Annealing(tiny_arrays(), 1)
    annealing.random_week()
    annealing.run(1, 1.0, 0.5)
    mark.parent.mkdir(parents=True, exist_ok=True)
    mark.write_text("", encoding="utf-8")


if __name__ == "__main__":
    compile_now()
