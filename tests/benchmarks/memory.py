"""Memory of this process, and the peak of the bound worker that a search starts.

Linux carries a parent's peak over into `ru_maxrss` of a child that it starts, so the peak is read
from the process table where there is one, and from `resource` elsewhere.
"""

from __future__ import annotations

import resource
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread
from time import sleep
from typing import Any
from unittest.mock import patch

from planopt.solve.bounding.worker import BoundWorker

_LOOK_SECONDS = 0.05


def peak_mb(pid: int | None = None) -> float | None:
    """Return the peak resident memory of a process in MB (10^6 bytes); None = it has ended."""
    status = Path("/proc") / ("self" if pid is None else str(pid)) / "status"
    try:
        for line in status.read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024 / 1e6
    except OSError:
        if pid is None:
            return _rusage_mb(resource.RUSAGE_SELF)
    return None


def resident_mb() -> float:
    """Return the memory that this process holds now in MB (10^6 bytes); its peak elsewhere."""
    status = Path("/proc/self/status")
    try:
        for line in status.read_text(encoding="ascii").splitlines():
            if line.startswith("VmRSS:"):
                return int(line.split()[1]) * 1024 / 1e6
    except OSError:
        pass
    return _rusage_mb(resource.RUSAGE_SELF)


def _rusage_mb(who: int) -> float:
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(who).ru_maxrss * unit / 1e6


@contextmanager
def worker_peak() -> Iterator[list[float]]:
    """Give a list that holds, once a search is over, the peak of its bound worker in MB."""
    found: list[float] = []
    start = BoundWorker.start

    def look(pid: int) -> None:
        while (peak := peak_mb(pid)) is not None:
            found[:] = [peak]
            sleep(_LOOK_SECONDS)

    def started(worker: BoundWorker, *arguments: Any) -> None:
        start(worker, *arguments)
        assert worker.process_id is not None
        if Path("/proc/self/status").exists():
            Thread(target=look, args=(worker.process_id,), daemon=True).start()

    with patch.object(BoundWorker, "start", started):
        yield found
    if not found and _rusage_mb(resource.RUSAGE_CHILDREN) > 0:
        found.append(_rusage_mb(resource.RUSAGE_CHILDREN))
