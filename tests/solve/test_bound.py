"""The bound worker: what it proves, how it ends, and that it keeps out of the way."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
from dataclasses import replace
from math import inf
from pathlib import Path
from time import perf_counter, sleep

import pytest

import planopt
from model.small import EXACT
from planopt.solve.bounding.relaxations import Proof, proofs_of, weekly_arrays
from planopt.solve.bounding.worker import BoundWorker, Told, prove, safe_bound
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.settings import SolveSettings
from slow import few
from solve.instances import long_search, matrix
from solve.smallweeks import least_cost, week

ALONE = EXACT.model_copy(update={"threads": 1})
LONG = (Proof(long_search(), 1.0, (0, 1, 2)),)


def _until(met: object, seconds: float = 20.0) -> None:
    """Wait until a condition holds."""
    assert callable(met)
    stop = perf_counter() + seconds
    while not met():
        assert perf_counter() < stop, "waited in vain"
        sleep(0.02)


def _proofs(seed: int) -> tuple[Proof, ...]:
    problem = week(seed)
    return proofs_of(problem, weekly_arrays(problem))


def _run(proofs: tuple[Proof, ...], settings: SolveSettings = ALONE) -> BoundWorker:
    """Run a worker to its end."""
    worker = BoundWorker()
    worker.start(proofs, settings)
    try:
        worker.wait(30.0)
        _until(lambda: worker.ended is not None)
    finally:
        worker.stop()
    return worker


# The first seeds whose week has a plan; finding out at every collection is dear.
FEASIBLE = (1, 2, 4, 10)


@pytest.mark.parametrize("seed", few(FEASIBLE, 1))
def test_a_worker_ends_by_itself_with_a_bound_below_every_plan(seed: int) -> None:
    """The bound is the best of the relaxations less a millionth, so no week costs less."""
    proofs = _proofs(seed)
    worker = _run(proofs)
    best = max(solve_matrix(proof.matrix, EXACT).bound for proof in proofs)
    least = least_cost(seed)
    assert least is not None
    assert worker.ended == "Optimal"
    assert worker.bound <= least + 1e-5
    assert worker.bound == pytest.approx(safe_bound(best), abs=2e-6 * max(1.0, best))
    cookings = set(range(len(week(seed).cookings)))
    assert all(guide <= cookings for guide in worker.guides)


@pytest.mark.parametrize("seed", FEASIBLE)
def test_the_weekly_optimum_is_below_the_least_cost(seed: int) -> None:
    """What the worker solves is a relaxation: its optimum never exceeds that of the real week."""
    least = least_cost(seed)
    assert least is not None
    assert solve_matrix(weekly_arrays(week(seed)).matrix, EXACT).bound <= least + 1e-5


@pytest.mark.parametrize("seed", FEASIBLE)
def test_each_proof_is_nearer_to_the_week(seed: int) -> None:
    """More whole numbers, and then cook days too, never cost less; no proof passes the week."""
    least = least_cost(seed)
    assert least is not None
    bounds = [solve_matrix(proof.matrix, EXACT).bound for proof in _proofs(seed)]
    assert bounds[0] <= bounds[1] + 1e-6
    assert max(bounds) <= least + 1e-5


def test_proving_here_tells_what_the_worker_tells() -> None:
    """The same bound and guides, and it stops when told to, with what it has until then."""
    proofs = _proofs(FEASIBLE[0])
    worker, here = _run(proofs), BoundWorker()
    here.run_here(proofs, ALONE, lambda: False)
    assert (here.ended, here.guides) == (worker.ended, worker.guides)
    assert here.bound == pytest.approx(worker.bound, rel=1e-9)
    heard: list[Told] = []

    def enough(told: Told) -> bool:
        heard.append(told)
        return told.bound is not None

    assert prove(LONG, ALONE, enough) != "Optimal"
    assert heard[-1].bound is not None


def test_a_worker_is_killed_and_says_nothing_more(capfd: pytest.CaptureFixture[str]) -> None:
    """Stopped in the middle of a proof it is gone at once; its last bound stays, and no claim.

    Nothing that it reports comes out on our own streams.
    """
    worker = BoundWorker()
    worker.start(LONG, ALONE.model_copy(update={"time_limit_s": 60.0}))
    _until(lambda: worker.bound > -inf)
    assert worker.ended is None
    began = perf_counter()
    worker.wait(0.05)
    worker.stop()
    assert perf_counter() - began < 5.0
    assert worker.ended is None
    told = worker.bound
    sleep(0.1)
    assert worker.bound == told
    worker.stop()
    assert capfd.readouterr() == ("", "")


def test_ctrl_c_is_not_the_workers_to_hear(capfd: pytest.CaptureFixture[str]) -> None:
    """A terminal sends it to the whole group, even while the worker is still importing."""
    worker = BoundWorker()
    worker.start(_proofs(FEASIBLE[0]), ALONE)
    assert worker.process_id is not None
    os.kill(worker.process_id, signal.SIGINT)
    try:
        _until(lambda: worker.ended is not None)
    finally:
        worker.stop()
    assert worker.ended == "Optimal"
    assert capfd.readouterr() == ("", "")


def test_a_worker_that_cannot_begin_is_told_and_proves_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A process that ends before it has read its job is no error of the search."""
    monkeypatch.setattr(sys, "executable", "/bin/false")
    worker = _run(LONG)
    assert (worker.bound, worker.guides) == (-inf, [])
    assert worker.ended == "The bound's process ended early"


def test_a_worker_keeps_to_its_time() -> None:
    """With little time it ends by itself and says so."""
    worker = _run(LONG, ALONE.model_copy(update={"time_limit_s": 0.3}))
    assert worker.ended == "Time limit reached"
    assert worker.bound < 0


def test_a_worker_never_started_may_be_waited_for_and_stopped() -> None:
    """The search may end before there is anything to stop."""
    worker = BoundWorker()
    worker.wait(5.0)
    worker.stop()
    assert (worker.bound, worker.guides, worker.ended) == (-inf, [], None)


def test_files_of_the_current_folder_are_not_run(tmp_path: Path) -> None:
    """A script beside a `highspy.py` of its own is not run again, nor is that file."""
    (tmp_path / "highspy.py").write_text("open('taken', 'w').close()\n", encoding="utf-8")
    for name in ("json.py", "numpy.py", "planopt.py"):
        (tmp_path / name).write_text("raise SystemExit('taken')\n", encoding="utf-8")
    script = tmp_path / "elsewhere" / "plan_it.py"
    script.parent.mkdir()
    script.write_text(
        textwrap.dedent("""
            import sys
            from solve.test_bound import ALONE, _proofs, _run
            worker = _run(_proofs(int(sys.argv[1])))
            print("ended", worker.ended, worker.bound > 0)
        """),
        encoding="utf-8",
    )
    house = [str(Path(planopt.__file__).parents[1]), str(Path(__file__).parents[1])]
    done = subprocess.run(
        [sys.executable, "-P", str(script), str(FEASIBLE[0])],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(house)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("ended Optimal True\n", "")
    assert not (tmp_path / "taken").exists()


@pytest.mark.parametrize("bound", [-5.0, 0.0, 0.5, 123.456])
def test_a_safe_bound_is_a_little_lower(bound: float) -> None:
    """Tolerances are taken off, never added; no bound stays none."""
    assert bound - 2e-6 * max(1.0, abs(bound)) <= safe_bound(bound) < bound
    assert safe_bound(inf) == safe_bound(-inf) == -inf


def test_a_failed_proof_keeps_what_was_proven_before() -> None:
    """A relaxation without a least cost, which is a fault: its words are told, no bound is lost."""
    endless = replace(LONG[0], matrix=matrix([-1.0], [(0, [1.0], inf)], integer=True), started=())
    heard: list[Told] = []

    def hear(told: Told) -> bool:
        heard.append(told)
        return False

    good = _proofs(FEASIBLE[0])[0]
    word = prove((good, endless), ALONE, hear)
    assert word.startswith("the solver failed (Primal infeasible or unbounded)")
    assert any(told.bound is not None for told in heard)
