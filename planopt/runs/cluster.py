"""Jobs on a Dask distributed scheduler: the same jobs, on any number of machines.

The scheduler starts a job again elsewhere when its worker dies. A job may therefore be worked on
twice; its answer arrives once.
"""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Generator
from typing import Any
from uuid import uuid4

from planopt.catalog.records import Catalog
from planopt.faults import BadOption
from planopt.runs.jobs import JobAnswer, RunJob, lost, solve_job

_CONNECT_SECONDS = 10


def run_on_cluster(jobs: deque[RunJob], catalog: Catalog, address: str) -> Generator[JobAnswer]:
    """Take the jobs and yield the answer of each as it comes; closing takes the rest back.

    More jobs may be added while answers are taken.

    Raises:
        BadOption: the `cluster` extra is not installed, or no scheduler answers at the address.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        text = "--cluster needs Dask distributed; install it with: pip install 'planopt[cluster]'"
        raise BadOption(text) from error
    try:
        client = Client(address, timeout=_CONNECT_SECONDS, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        text = f"--cluster: no Dask scheduler answers at {address!r}: {error}"
        raise BadOption(text) from error
    with client:
        token = uuid4().hex[:8]
        # A task and not scattered data: the scheduler can make it again when its holder dies.
        shared = client.submit(pickle.loads, pickle.dumps(catalog), key=f"catalog-{token}")
        sent: dict[Any, RunJob] = {}
        coming = as_completed(loop=client.loop)

        def send() -> None:
            while jobs:
                job = jobs.popleft()
                name = f"week-{job.key}-{len(sent)}-{token}"
                future = client.submit(solve_job, job, shared, key=name, pure=False)
                sent[future] = job
                coming.add(future)

        send()
        for future in coming:
            job = sent[future]
            if future.status == "finished":
                yield future.result()
            else:
                raised = future.exception() if future.status == "error" else None
                words = f"{type(raised).__name__}: {raised}" if raised else future.status
                yield JobAnswer(job.key, failure=lost(words))
            future.release()
            send()
