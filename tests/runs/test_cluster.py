"""Jobs on a real Dask scheduler: two worker processes, one of them killed half-way."""

from __future__ import annotations

import importlib.util
import os
import signal
import socket
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter, sleep

import pytest

import planopt
from kitchens import tiny_client, write_kitchen
from planopt.faults import BadOption, ExitCode
from planopt.pipeline import audit_folder
from planopt.runs.run import RunMoment, plan_weeks
from planopt.solve.settings import SolveSettings

SETTINGS = SolveSettings(threads=1, gap=0.2, time_limit_s=30)
WEEKS = 8

needs_distributed = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None,
    reason="Dask distributed is not installed: pip install 'planopt[cluster]'",
)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def _processes(folder: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Start a scheduler and two workers of one thread, as the guide says; end them after."""
    address = f"tcp://127.0.0.1:{_free_port()}"
    environment = {
        **os.environ,
        "PYTHONPATH": str(Path(planopt.__file__).parents[1]),
        "DASK_DISTRIBUTED__DIAGNOSTICS__NVML": "False",
    }
    started: list[subprocess.Popen[bytes]] = []

    def start(name: str, *words: str) -> None:
        with (folder / f"{name}.log").open("wb") as log:
            started.append(
                subprocess.Popen(
                    [sys.executable, "-m", "dask", *words], cwd=folder, env=environment,
                    stdout=log, stderr=log, start_new_session=True,
                )
            )  # fmt: skip

    try:
        start("scheduler", "scheduler", "--host", address, "--no-dashboard", "--no-show")
        for n in range(2):
            start(
                f"worker{n}", "worker", address, "--nthreads", "1", "--no-nanny",
                "--no-dashboard", "--host", "127.0.0.1", "--death-timeout", "60",
            )  # fmt: skip
        yield address, started
    finally:
        for process in started:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _wait_for_workers(folder: Path) -> None:
    stop = perf_counter() + 120
    logs = [folder / f"worker{n}.log" for n in range(2)]
    while not all(b"Starting established connection" in log.read_bytes() for log in logs):
        assert perf_counter() < stop, [log.read_text() for log in logs]
        sleep(0.1)


@pytest.mark.slow
@needs_distributed
@pytest.mark.skipif(os.name != "posix", reason="a worker is killed in the POSIX way")
def test_a_worker_killed_half_way_loses_no_plan_and_doubles_none(tmp_path: Path) -> None:
    """All plans arrive, each told once and written once, though one of two workers dies."""
    clients = [tiny_client(id=f"c{n}", name=f"C {n}") for n in range(WEEKS)]
    path = write_kitchen(tmp_path, kitchen="separate", clients=clients)
    told: Counter[str] = Counter()
    with _processes(tmp_path) as (address, processes):
        _wait_for_workers(tmp_path)

        def progress(moment: RunMoment) -> None:
            told[moment.text.partition(" ")[0]] += 1
            if moment.done == 2 and processes[1].poll() is None:
                os.killpg(processes[1].pid, signal.SIGKILL)
                processes[1].wait()

        result = plan_weeks(path, tmp_path / "out", SETTINGS, workers=address, progress=progress)
        assert processes[1].poll() is not None, "no worker was killed"
        assert processes[2].poll() is None
    assert result.exit_code == ExitCode.OK
    assert (result.planned, result.failed) == (WEEKS, 0)
    assert told == Counter({"": 1, **{f"c{n}": 1 for n in range(WEEKS)}})
    plans = tmp_path / "out" / "plans"
    assert {p.name for p in plans.iterdir()} == {f"c{n}" for n in range(WEEKS)}
    for n in range(WEEKS):
        assert audit_folder(plans / f"c{n}")[1] == []
    assert result.process_ids <= {process.pid for process in processes[1:]}


@needs_distributed
def test_no_scheduler_at_the_address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong address is a wrong command line, and nothing is planned elsewhere instead."""
    monkeypatch.setattr("planopt.runs.cluster._CONNECT_SECONDS", 1)
    path = write_kitchen(tmp_path)
    for address in (f"tcp://127.0.0.1:{_free_port()}", "nonsense"):
        with pytest.raises(BadOption, match="no Dask scheduler answers at"):
            plan_weeks(path, tmp_path / "out", SETTINGS, workers=address)


def test_without_the_extra_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The package is optional; the message names the extra."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    path = write_kitchen(tmp_path)
    with pytest.raises(BadOption, match=r"pip install 'planopt\[cluster\]'"):
        plan_weeks(path, tmp_path / "out", SETTINGS, workers="tcp://127.0.0.1:1")
