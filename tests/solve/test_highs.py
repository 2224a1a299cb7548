"""How runs end: HiGHS's own status, bound and values are reported, and options are not guessed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import get_args

import highspy
import numpy as np
import pytest

from planopt.faults import BadOption, ExitCode, SolverFailed
from planopt.plan.records import Status
from planopt.report.words.plain import STOPPED_EARLY
from planopt.solve.endings import ENDINGS as ENDING_WORDS
from planopt.solve.endings import FAILURES, INFEASIBLE_WORD, ending_of
from planopt.solve.endings import Ending as EndingWord
from planopt.solve.highs import solver as highs
from planopt.solve.highs.matrix import Floats, Matrix
from planopt.solve.highs.solver import Outcome, new_solver, set_options, solve_matrix
from planopt.solve.settings import SolveSettings
from solve.instances import long_search, matrix

LONG = long_search()
EXACT = SolveSettings(gap=0.0)
A_MOMENT = SolveSettings(gap=0.0, time_limit_s=0.4)


@dataclass(frozen=True)
class Ending:
    """A model whose end is known by hand."""

    model: Matrix
    status: str
    objective: float | None = None


ENDINGS = {
    # 2x + 3y with x + y >= 4 and x <= 2.5 by the second row: x = 2.5, y = 1.5.
    "a linear optimum": Ending(
        matrix([2, 3], [(4, [1, 1], inf), (-inf, [2, 0], 5)], integer=False), "Optimal", 9.5
    ),
    # The same in whole numbers: x = 2, y = 2; and 1.5 that is paid whatever is chosen.
    "a whole optimum": Ending(
        matrix([2, 3], [(4, [1, 1], inf), (-inf, [2, 0], 5)], integer=True, offset=1.5),
        "Optimal",
        11.5,
    ),
    # Coins of 3 and 5 make 7 only with excess: 3 + 5 = 8 costs 2, 3 + 3 + 3 costs 3.
    "a cover": Ending(matrix([1, 1], [(7, [3, 5], inf)], integer=True), "Optimal", 2.0),
    "no linear point": Ending(
        matrix([1, 1], [(4, [1, 1], inf), (-inf, [1, 1], 3)], integer=False), "Infeasible"
    ),
    # 2x + 4y = 5 has real solutions and no whole one.
    "no whole point": Ending(matrix([1, 1], [(5, [2, 4], 5)], integer=True), "Infeasible"),
}


@pytest.mark.parametrize("seed", [0, 1, 20261125])
@pytest.mark.parametrize("presolve", ["on", "off"])
@pytest.mark.parametrize("name", ENDINGS)
def test_known_endings_are_told(name: str, presolve: str, seed: int) -> None:
    """Status, objective and bound are the known ones, with and without presolve, at any seed."""
    ending = ENDINGS[name]
    settings = SolveSettings(gap=0.0, seed=seed, options={"presolve": presolve})
    outcome = solve_matrix(ending.model, settings)
    assert outcome.status == ending.status
    assert outcome.infeasible == (ending.objective is None)
    if ending.objective is None:
        assert outcome.values is None
        assert outcome.objective is None
    else:
        assert outcome.objective == pytest.approx(ending.objective, abs=1e-6)
        assert outcome.bound == pytest.approx(ending.objective, abs=1e-6)
        assert outcome.values is not None
        paid = float(ending.model.cost @ outcome.values) + ending.model.offset
        assert paid == pytest.approx(ending.objective, abs=1e-6)


def test_only_linear_models_have_duals() -> None:
    """Duals come with a linear optimum, in the sign by which they price rows, and never else."""
    linear = solve_matrix(ENDINGS["a linear optimum"].model, EXACT)
    assert linear.row_duals is not None
    assert linear.row_duals == pytest.approx([3.0, -0.5])  # one unit of x saves 1, two of the row
    assert linear.column_duals == pytest.approx([0.0, 0.0])
    assert solve_matrix(ENDINGS["a whole optimum"].model, EXACT).row_duals is None


# ------------------------------------------------------------------ stopped runs


def _root_bound() -> float:
    relaxed = solve_matrix(LONG.relaxed(), EXACT)
    assert relaxed.objective is not None
    return relaxed.objective


def _assert_honest(outcome: Outcome) -> None:
    """A point that was found, its true price, and a bound between the relaxation and it."""
    assert outcome.values is not None
    assert outcome.objective is not None
    assert outcome.objective == pytest.approx(float(LONG.cost @ outcome.values))
    assert _root_bound() - 1e-6 <= outcome.bound < outcome.objective


def test_a_time_limit_is_told_with_the_bound_that_was_reached() -> None:
    """A run that the clock ends is `Time limit reached` and `time_limit`, and never optimal."""
    outcome = solve_matrix(LONG, A_MOMENT)
    assert outcome.status == "Time limit reached"
    assert outcome.ending == "time_limit"
    assert not outcome.infeasible
    assert 0.3 < outcome.seconds < 3
    _assert_honest(outcome)


def test_nothing_is_claimed_before_anything_is_known() -> None:
    """Stopped at once, there is no point, no objective and no bound."""
    outcome = solve_matrix(LONG, SolveSettings(time_limit_s=1e-6))
    assert outcome.status == "Time limit reached"
    assert outcome.values is None
    assert outcome.objective is None
    assert outcome.bound == -inf


def test_a_work_limit_takes_the_place_of_the_clock_and_repeats() -> None:
    """A limit in nodes ends the run as a work limit, twice with the same point and bound."""
    settings = SolveSettings(gap=0.0, work_limit=1, time_limit_s=1e-3)
    first, second = solve_matrix(LONG, settings), solve_matrix(LONG, settings)
    assert first.ending == "work_limit"
    _assert_honest(first)
    assert first.values is not None
    assert second.values is not None
    assert (first.objective, first.bound) == (second.objective, second.bound)
    assert np.array_equal(first.values, second.values)


def test_a_gap_ends_a_run_as_optimal_within_it() -> None:
    """With a gap asked for, `Optimal` comes with a bound within that gap."""
    outcome = solve_matrix(LONG, SolveSettings(gap=0.05, time_limit_s=30))
    assert outcome.status == "Optimal"
    assert outcome.objective is not None
    assert (outcome.objective - outcome.bound) / abs(outcome.objective) <= 0.05


@pytest.mark.parametrize("status", list(highspy.HighsModelStatus.__members__))
def test_optimal_is_said_of_nothing_else(status: str) -> None:
    """Of all that HiGHS can say of a model, only its own `Optimal` becomes our `optimal`.

    Every word it has is either in our vocabulary or a failure, so that a new one of a later HiGHS
    fails here; none is taken for a limit by default.
    """
    member = highspy.HighsModelStatus.__members__[status]
    word = new_solver(EXACT).modelStatusToString(member)
    assert (member in ENDING_WORDS) != (member in FAILURES)
    if member in ENDING_WORDS:
        ending = ending_of(member, word)
        assert ending in get_args(EndingWord)
        assert (ending == "optimal") == (status == "kOptimal")
        assert (ending == "infeasible") == (word == INFEASIBLE_WORD)
    else:
        with pytest.raises(SolverFailed) as failed:
            ending_of(member, word)
        assert word in str(failed.value)
        assert FAILURES[member] in str(failed.value)
        assert failed.value.exit_code == ExitCode.SOLVER_FAILED


def test_plans_and_searches_share_one_vocabulary() -> None:
    """A plan tells every ending but that there is no plan, each in a sentence of its own."""
    assert {*get_args(Status), "infeasible"} == set(get_args(EndingWord))
    assert set(get_args(Status)) == STOPPED_EARLY | {"optimal"}


@pytest.mark.parametrize(("least", "met"), [(0.0, True), (-1.0, True), (1.0, False)])
def test_rows_without_columns_are_judged_as_they_stand(least: float, met: bool) -> None:
    """The sum of nothing is 0, which reaches 0 and not 1; HiGHS calls both `Empty`."""
    one = matrix([1.0], [(least, [1.0], inf)], integer=False, offset=2.5)
    nothing = np.zeros(0)
    empty = replace(
        one,
        names=(),
        cost=nothing,
        lower=nothing,
        upper=nothing,
        integer=nothing.astype(bool),
        start=np.zeros(2, np.int32),
        index=nothing.astype(np.int32),
        value=nothing,
    )
    outcome = solve_matrix(empty, EXACT)
    assert outcome.ending == ("optimal" if met else "infeasible")
    assert outcome.objective == (2.5 if met else None)
    assert outcome.infeasible != met


@pytest.mark.parametrize("whole", [False, True])
def test_a_cost_without_a_least_is_a_failure_and_no_limit(whole: bool) -> None:
    """Minus x for x >= 0: no answer is taken from it, whichever way HiGHS finds out."""
    endless = matrix([-1.0], [(0, [1.0], inf)], integer=whole)
    with pytest.raises(SolverFailed, match=r"\(.*[Uu]nbounded\): no least cost"):
        solve_matrix(endless, EXACT)


def test_a_watcher_sees_the_run_and_can_stop_it() -> None:
    """Told to stop, the run ends as interrupted, long before its time, with what it has."""
    seen: list[tuple[float, float | None, float | None]] = []

    def watch(seconds: float, best: float | None, bound: float | None) -> bool:
        seen.append((seconds, best, bound))
        return best is not None and bound is not None

    outcome = solve_matrix(LONG, SolveSettings(gap=0.0, time_limit_s=60), watch=watch)
    assert outcome.status == "Interrupted by user"
    assert outcome.ending == "interrupted"
    assert outcome.seconds < 20
    _assert_honest(outcome)
    assert seen
    for _, best, bound in seen:
        if best is not None and bound is not None:
            assert bound <= best


def test_a_watcher_that_never_stops_changes_nothing() -> None:
    """Watching alone leaves the ending as it is."""
    outcome = solve_matrix(ENDINGS["a cover"].model, EXACT, watch=lambda *_: False)
    assert (outcome.status, outcome.objective) == ("Optimal", 2.0)


def _start_at(point: Floats) -> Outcome:
    return solve_matrix(LONG, SolveSettings(gap=0.0, time_limit_s=1e-6), start=point)


def test_a_start_is_taken_even_when_there_is_no_time_to_search() -> None:
    """A point given is the point returned, at its own price, when the clock stops at once."""
    point = np.zeros(LONG.columns)
    point[3] = 1.0
    outcome = _start_at(point)
    assert outcome.status == "Time limit reached"
    assert outcome.values is not None
    assert np.array_equal(np.round(outcome.values), point)
    assert outcome.objective == pytest.approx(LONG.cost[3])


def test_a_partial_start_is_completed() -> None:
    """Unknown places are filled in by HiGHS; the known ones are kept."""
    cover = ENDINGS["a cover"].model
    outcome = solve_matrix(cover, EXACT, start=np.array([1.0, np.nan]))
    assert (outcome.status, outcome.objective) == ("Optimal", 2.0)


def test_a_start_that_breaks_the_rows_is_not_believed() -> None:
    """All items at once break every limit: such a start gives no values and no objective."""
    outcome = _start_at(np.ones(LONG.columns))
    assert outcome.values is None
    assert outcome.objective is None


# ------------------------------------------------------------------ options


def _refuse_to_run(monkeypatch: pytest.MonkeyPatch) -> None:
    def run(self: highspy.Highs) -> None:
        raise AssertionError("something was solved")

    monkeypatch.setattr(highs.highspy.Highs, "run", run)


@pytest.mark.parametrize(
    ("name", "value", "word"),
    [
        ("mip_rel_gapp", "0.1", "unknown"),
        ("Presolve", "off", "unknown"),
        ("", "1", "unknown"),
        ("mip_max_nodes", "many", "type"),
        ("mip_max_nodes", "1.5", "type"),
        ("mip_heuristic_effort", "high", "type"),
        ("mip_detect_symmetry", "maybe", "type"),
        ("presolve", "of", "refuses"),
        ("mip_heuristic_effort", "-1", "refuses"),
        ("simplex_strategy", "77", "refuses"),
    ],
)
def test_a_wrong_option_is_refused_and_nothing_is_solved(
    name: str, value: str, word: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A misspelt name, a value of another type or out of range ends in BadOption, not in a run."""
    _refuse_to_run(monkeypatch)
    with pytest.raises(BadOption, match=word) as caught:
        solve_matrix(LONG, SolveSettings(options={name: value}))
    assert repr(name) in str(caught.value)


@pytest.mark.parametrize("limit", ["by time", "by work"])
@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("output_flag", "true"),
        ("threads", "1"),
        ("random_seed", "3"),
        ("time_limit", "5"),
        ("mip_rel_gap", "0.1"),
        ("mip_abs_gap", "0.1"),
        ("mip_feasibility_tolerance", "1e-5"),
        ("primal_feasibility_tolerance", "1e-5"),
        ("dual_feasibility_tolerance", "1e-5"),
    ],
)
def test_an_option_that_has_a_setting_of_its_own_is_refused(
    name: str, value: str, limit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the plan reports as its settings cannot be undone by an option beside them."""
    _refuse_to_run(monkeypatch)
    settings = SolveSettings(options={name: value}, work_limit=9 if limit == "by work" else None)
    with pytest.raises(BadOption, match="a setting of its own") as caught:
        solve_matrix(LONG, settings)
    assert repr(name) in str(caught.value)


def test_a_limit_of_nodes_is_refused_only_beside_the_work_limit() -> None:
    """Nodes may be limited by option while the clock rules, and not against a work limit."""
    options = {"mip_max_nodes": "12"}
    solver = new_solver(SolveSettings(options=options))
    assert solver.getOptionValue("mip_max_nodes")[1] == 12
    with pytest.raises(BadOption, match="a setting of its own"):
        new_solver(SolveSettings(options=options, work_limit=9))


def test_a_wrong_extra_is_refused_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Options that the program itself adds are held to the same rule."""
    _refuse_to_run(monkeypatch)
    with pytest.raises(BadOption, match="unknown"):
        solve_matrix(LONG, EXACT, extra={"mip_max_nods": 1})
    with pytest.raises(BadOption, match="refuses"):
        solve_matrix(LONG, EXACT, extra={"mip_max_nodes": 1.5})


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("presolve", "off", "off"),
        ("mip_max_nodes", "12", 12),
        ("mip_heuristic_effort", "0.25", 0.25),
        ("mip_detect_symmetry", "False", False),
        ("mip_detect_symmetry", "on", True),
    ],
)
def test_text_becomes_the_type_of_the_option(name: str, text: str, value: object) -> None:
    """Texts of a settings file arrive in HiGHS as words, numbers and switches."""
    solver = new_solver(EXACT)
    set_options(solver, {name: text})
    assert solver.getOptionValue(name)[1] == value


def test_every_setting_reaches_the_solver() -> None:
    """Limits, tolerances, seed and threads in force are those that the plan will report."""
    settings = SolveSettings(
        time_limit_s=7, gap=0.03, seed=5, threads=2, integrality_tolerance=1e-5,
        feasibility_tolerance=1e-8,
    )  # fmt: skip
    solver = new_solver(settings)
    expected = {
        "time_limit": 7.0, "mip_rel_gap": 0.03, "mip_abs_gap": 0.0, "random_seed": 5, "threads": 2,
        "mip_feasibility_tolerance": 1e-5, "primal_feasibility_tolerance": 1e-8,
        "dual_feasibility_tolerance": 1e-8, "output_flag": False,
    }  # fmt: skip
    assert {name: solver.getOptionValue(name)[1] for name in expected} == expected
    by_work = new_solver(SolveSettings(work_limit=9, time_limit_s=7))
    assert by_work.getOptionValue("mip_max_nodes")[1] == 9
    assert by_work.getOptionValue("time_limit")[1] == inf


def test_runs_are_silent(capfd: pytest.CaptureFixture[str]) -> None:
    """Neither a run nor a refused option writes to the terminal."""
    solve_matrix(ENDINGS["a cover"].model, EXACT)
    with pytest.raises(BadOption):
        new_solver(SolveSettings(options={"no_such_option": "1"}))
    assert capfd.readouterr() == ("", "")


def test_one_process_may_solve_with_different_numbers_of_threads() -> None:
    """A second run with another number of threads ends as it would have alone."""
    for threads in (2, 1, 2):
        outcome = solve_matrix(ENDINGS["a cover"].model, SolveSettings(gap=0.0, threads=threads))
        assert (outcome.status, outcome.objective) == ("Optimal", 2.0)
