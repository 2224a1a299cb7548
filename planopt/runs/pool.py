"""Jobs on this machine: worker processes that read the catalog once and outlive no run.

Workers are spawned, so a script that uses this must keep its own doings under
`if __name__ == "__main__":`, as the standard library asks.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
from collections import deque
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from threading import Thread

from planopt.catalog.records import Catalog
from planopt.interrupts import interrupts_held
from planopt.runs.jobs import JobAnswer, RunJob, lost, solve_job

_END_SECONDS = 3.0
_catalog: Catalog | None = None


def usable_cores() -> int:
    """Return the processor cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0)) or 1
    return os.cpu_count() or 1


def _begin(catalog: bytes) -> None:
    """Prepare a worker: the catalog, and its end when the run ends or is killed."""
    global _catalog
    _catalog = pickle.loads(catalog)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_follow_parent, daemon=True).start()


def _follow_parent() -> None:
    """End this process when the run's process has ended, even by a kill."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _work(job: RunJob) -> JobAnswer:
    assert _catalog is not None
    return solve_job(job, _catalog)


def _new_pool(catalog: bytes, processes: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        max_workers=processes,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_begin,
        initargs=(catalog,),
    )


def _end_pool(pool: ProcessPoolExecutor) -> None:
    """End the workers now, whatever they are doing."""
    processes = list((getattr(pool, "_processes", None) or {}).values())
    for process in processes:
        process.terminate()
    for process in processes:
        process.join(_END_SECONDS)
        if process.is_alive():
            process.kill()
            process.join()
    pool.shutdown(wait=True, cancel_futures=True)


def run_in_processes(jobs: deque[RunJob], catalog: Catalog, processes: int) -> Generator[JobAnswer]:
    """Take the jobs and yield the answer of each as it comes; closing ends the workers.

    More jobs may be added while answers are taken.

    When a worker dies, the jobs that were running are each tried once more in a process that they
    have to themselves, so that only the one which kills its process is lost.
    """
    blob = pickle.dumps(catalog)
    while jobs:
        suspects: list[RunJob] = []
        yield from _until_broken(jobs, suspects, blob, max(1, processes))
        for job in suspects:
            yield from _by_itself(job, blob)


def _until_broken(
    waiting: deque[RunJob], suspects: list[RunJob], blob: bytes, count: int
) -> Iterator[JobAnswer]:
    """Work through `waiting` until it is empty or a worker dies, which names the `suspects`."""
    pool = _new_pool(blob, count)
    running: dict[Future[JobAnswer], RunJob] = {}
    try:
        while waiting or running:
            answers: list[JobAnswer] = []
            broken = not _fill(pool, waiting, running, count)
            done = set(running) if broken else wait(running, return_when=FIRST_COMPLETED).done
            for future in done:
                job = running.pop(future)
                try:
                    answers.append(future.result())
                except BrokenProcessPool:
                    suspects.append(job)
                except Exception as error:
                    answers.append(JobAnswer(job.key, failure=lost(str(error))))
            if not suspects:
                # Before the answers are stored, so that no worker waits for that.
                _fill(pool, waiting, running, count)
            yield from answers
            if suspects:
                suspects += _in_order(running.values())
                return
            if broken:
                return
    finally:
        _end_pool(pool)


def _fill(
    pool: ProcessPoolExecutor,
    waiting: deque[RunJob],
    running: dict[Future[JobAnswer], RunJob],
    count: int,
) -> bool:
    """Give the workers what they can take; what runs is what a dying worker may have killed."""
    while waiting and len(running) < count:
        try:
            with interrupts_held():
                future = pool.submit(_work, waiting[0])
        except BrokenProcessPool:
            return False
        running[future] = waiting.popleft()
    return True


def _in_order(jobs: Iterable[RunJob]) -> list[RunJob]:
    return sorted(jobs, key=lambda job: job.key)


def _by_itself(job: RunJob, blob: bytes) -> Iterator[JobAnswer]:
    pool = _new_pool(blob, 1)
    try:
        with interrupts_held():
            future = pool.submit(_work, job)
        yield future.result()
    except BrokenProcessPool as error:
        yield JobAnswer(job.key, failure=lost(str(error)))
    finally:
        _end_pool(pool)
