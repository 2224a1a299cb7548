"""The search where recipes have more versions than are at hand: plans of some, a bound of all.

Plans are sought among the versions at hand, by whichever way suits. The bound is proved beside them
on the outline (`Problem.outline`), where each line of a recipe is decided by itself. Then versions
are added around what was found: those of the best week with one line changed, and those that points
of the relaxation are made of; the search goes on with these as long as time is left and they help.

Method: restriction and generation of columns, priced line by line. Source: none is followed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from math import inf

from planopt.deadlines import OutOfTime, ending_at
from planopt.model.daymenus import one_dish_in_steps
from planopt.problem.build import Option, Problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.dishes import Dish
from planopt.solve.bounding.relaxations import Proof, loose_columns, proofs_of, weekly_arrays
from planopt.solve.bounding.worker import BoundWorker, first_bound
from planopt.solve.clock import Clock, ClockPart, for_proof, in_time
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.result import SearchResult, ending_of_search
from planopt.solve.settings import SolveSettings

Key = tuple[str, str]
Way = Callable[[Problem, SolveSettings, Clock, Decisions | None], SearchResult]
Recut = Callable[[list[Key]], Problem]

_TOLERANCE = 2e-6
_FIRST_SHARE, _NEXT_SHARE, _PROOF_SHARE, _WEEKLY_SHARE = 0.5, 0.6, 0.5, 0.5
_WAIT_SECONDS, _BUILD_SHARE = 0.1, 0.4
_LEAST_SECONDS = 0.5
_FEW_OPTIONS = 400
_CUTS_BY_WORK = 2
_MOST_ADDED = 60
_COMPOSITION = (
    "the best of HiGHS's dual bounds of relaxations in which every line of a recipe with very many "
    "versions is decided by itself (every compliant plan satisfies them), less 1e-6 of itself for "
    "tolerances"
)


@dataclass
class _Known:
    """What the search knows so far: the best week and its problem, and what is proved."""

    settings: SolveSettings
    worker: BoundWorker
    problem: Problem
    bound: float = 0.0
    best: Decisions | None = None
    objective: float = inf
    found_by: str = ""
    cuts: int = 0
    tried: set[Key] = field(default_factory=set)

    def proven(self) -> float:
        """Return the best bound known."""
        return max(self.bound, self.worker.bound, 0.0)

    def close_enough(self, objective: float) -> bool:
        """Tell whether a week of this cost is proven within the gap asked for."""
        gap = max(self.settings.gap, _TOLERANCE)
        return objective < inf and objective - self.proven() <= gap * abs(objective)

    def impossible(self) -> bool:
        """Tell whether a relaxation proves that no week complies."""
        return self.best is None and self.worker.ended == INFEASIBLE_WORD

    def take(self, problem: Problem, result: SearchResult) -> bool:
        """Take a week of some versions if it is the cheapest; tell whether it is."""
        self.found_by = result.found_by or self.found_by
        if result.decisions is None:
            return False
        objective = cost_of(problem, result.decisions).objective
        if objective >= self.objective - 1e-9:
            return False
        self.problem, self.best, self.objective = problem, result.decisions, objective
        return True


class _CutClock(ClockPart):
    """The clock of a search among some versions: over as soon as the bound of all proves enough.

    Without a week yet, it has all the time that the whole search has.
    """

    def __init__(self, whole: Clock, seconds: float, known: _Known) -> None:
        super().__init__(whole, seconds)
        self._known = known
        self._best = known.objective

    def left(self) -> float:
        """Return the seconds left; none where the best week told of is proven within the gap."""
        if self._known.close_enough(self._best) or self._known.impossible():
            return 0.0
        return self._whole.left() if self._best == inf else super().left()

    def tell(self, phase: str, best: float | None, bound: float | None) -> None:
        """Report progress, with the bound of all versions in place of that of some."""
        self._best = min(self._best, inf if best is None else best)
        proven = self._known.proven()
        told = None if self._best == inf else self._best
        super().tell(phase, told, proven if proven > 0 else None)


def search_choices(
    problem: Problem,
    settings: SolveSettings,
    clock: Clock,
    start: Decisions | None,
    way: Way,
    recut: Recut | None = None,
) -> SearchResult:
    """Search a problem with an outline: plans by `way`, the bound over all versions.

    `recut` makes the problem anew with versions that are wanted; the result then tells of which
    problem its decisions are.

    Raises:
        BadOption: from the settings.
    """
    outline = problem.bounding
    known = _Known(settings, BoundWorker(), problem)
    single = settings.model_copy(update={"threads": 1})
    beside = settings.threads > 1 and settings.work_limit is None
    lines = _Lines(outline)
    proofs: tuple[Proof, ...] = ()
    # Plans without a proven bound are better than none.
    with suppress(OutOfTime), ending_at(clock.at(clock.seconds() + _BUILD_SHARE * clock.left())):
        proofs = lines.proofs()
    build_seconds = clock.seconds()
    try:
        if beside and proofs:
            known.worker.start(proofs, for_proof(single, clock.left()))
        elif proofs and _first_bound(known, proofs[0], in_time(single, clock)):
            return _result(known, clock, INFEASIBLE_WORD, build_seconds, infeasible=True)

        def prove() -> None:
            if not beside and proofs and not _over(known, clock):
                seconds = clock.left() * (_PROOF_SHARE if recut is not None else 1.0)
                known.worker.run_here(
                    proofs, for_proof(single, seconds), lambda: _over(known, clock)
                )

        _search_cuts(known, lines, clock, start, way, recut, prove)
        while beside and proofs and not _over(known, clock) and known.worker.ended is None:
            known.worker.wait(0.2)
            _tell(known, clock)
    finally:
        known.worker.stop()
    ended = known.worker.ended or "Stopped by the search"
    return _result(known, clock, ended, build_seconds, infeasible=known.impossible())


def _over(known: _Known, clock: Clock) -> bool:
    _tell(known, clock)
    return known.close_enough(known.objective) or known.impossible() or clock.over()


def _tell(known: _Known, clock: Clock) -> None:
    best = None if known.objective == inf else known.objective
    clock.tell("proving", best, known.proven() if known.proven() > 0 else None)


def _first_bound(known: _Known, proof: Proof, settings: SolveSettings) -> bool:
    """Solve the LP of a relaxation, as time may be short for more; tell whether it has no point."""
    bound, infeasible = first_bound(proof, settings)
    known.bound = max(known.bound, bound)
    return infeasible


def _search_cuts(
    known: _Known,
    lines: _Lines,
    clock: Clock,
    start: Decisions | None,
    way: Way,
    recut: Recut | None,
    prove: Callable[[], None],
) -> None:
    """Search among the versions at hand, then among others, as long as there are new ones."""
    problem, share = known.problem, _FIRST_SHARE if recut is not None else 1.0
    known.tried.update(dish.key for dish in problem.dishes)
    counted = known.settings.work_limit is not None
    while True:
        known.cuts += 1
        seconds = share * clock.left()
        part = _CutClock(clock, seconds, known)
        # A bound of some versions is worth no process of its own.
        timed = known.settings.model_copy(update={"threads": 1})
        if not counted:
            timed = timed.model_copy(update={"time_limit_s": max(0.1, seconds)})
        with suppress(OutOfTime):
            known.take(problem, way(replace(problem, outline=None), timed, part, start))
        if known.cuts == 1:
            prove()
        if recut is None or (counted and known.cuts >= _CUTS_BY_WORK):
            return
        wanted = lines.wanted(known)
        while not wanted and known.worker.process_id is not None and known.worker.ended is None:
            if _over(known, clock):
                return
            known.worker.wait(_WAIT_SECONDS)
            wanted = lines.wanted(known)
        if not wanted or _over(known, clock) or clock.left() < _LEAST_SECONDS:
            return
        problem = recut(wanted)
        # What nobody may eat, or cannot be made, is not in the problem and need not be asked again.
        known.tried.update(wanted, (dish.key for dish in problem.dishes))
        start = None if known.best is None else carried_over(known.best, known.problem, problem)
        share = _NEXT_SHARE


class _Lines:
    """The outline's lines: what is proved of them, and which versions its points are made of."""

    def __init__(self, outline: Problem) -> None:
        self.outline = outline
        self._seen = 0
        # In the order of `loose_columns`.
        self._columns = [
            (n, number, option.word)
            for n, cooking in enumerate(outline.cookings)
            for number, line in enumerate(outline.dishes[cooking.dish].loose)
            for option in line
        ]

    def proofs(self) -> tuple[Proof, ...]:
        """Return what is proved of all versions one after the other, each nearer to the problem."""
        outline = self.outline
        few = sum(len(slot.options) for slot in outline.slots) <= _FEW_OPTIONS
        in_steps = one_dish_in_steps(outline)
        found: list[Proof] = []
        if in_steps:
            weekly = weekly_arrays(outline)
            *merged, last = proofs_of(outline, weekly)
            found = [
                *merged,
                replace(last, share=_WEEKLY_SHARE if few else 1.0, started=weekly.loose),
            ]
        if few or not in_steps:
            plain = build_plain(outline)
            found.append(Proof(plain.matrix, 1.0, loose_columns(plain.kitchen, plain.matrix)))
        return tuple(found)

    def wanted(self, known: _Known) -> list[Key]:
        """Return versions to have at hand: those of the best week, and new ones worth a look.

        New ones are those of points of the relaxation, and those that differ from the best week's
        in one line.
        """
        outlines = {dish.recipe_id: dish for dish in self.outline.dishes if dish.loose}
        cooked: set[int] = set()
        if known.best is not None:
            cooked = {known.problem.cookings[n].dish for n in known.best.batches}
        keys = [known.problem.dishes[d].key for d in sorted(cooked)]
        mine = [key for key in keys if key[0] in outlines]
        near = [
            (recipe_id, name)
            for recipe_id, version in mine
            for name in _neighbours(outlines[recipe_id], version)
        ]
        met = [key for point in known.worker.guides[self._seen :] for key in self._versions(point)]
        self._seen = len(known.worker.guides)
        new = [key for key in dict.fromkeys([*met, *near]) if key not in known.tried]
        return [*mine, *new[:_MOST_ADDED]] if new else []

    def _versions(self, point: frozenset[int]) -> Iterator[Key]:
        """Yield versions that a point of the relaxation is made of, lines with several by turns."""
        words: dict[int, dict[int, list[str]]] = {}
        for place in sorted(point):
            n, number, word = self._columns[place]
            words.setdefault(n, {}).setdefault(number, []).append(word)
        for n, lines in words.items():
            outline = self.outline.dishes[self.outline.cookings[n].dish]
            for turn in range(max(len(row) for row in lines.values())):
                rows = [lines.get(number, [""]) for number in range(len(outline.loose))]
                yield outline.recipe_id, _named(row[min(turn, len(row) - 1)] for row in rows)


def _named(words: Iterable[str]) -> str:
    """Return the name of the version with these words, line by line."""
    return "+".join(word for word in words if word) or "base"


def _neighbours(outline: Dish, version: str) -> Iterator[str]:
    """Yield the names of versions that differ from one in a single line."""
    words = set() if version == "base" else set(version.split("+"))
    chosen = [next((one.word for one in line if one.word in words), "") for line in outline.loose]
    for number, line in enumerate(outline.loose):
        for one in line:
            if one.word != chosen[number]:
                yield _named([*chosen[:number], one.word, *chosen[number + 1 :]])


def carried_over(decisions: Decisions, source: Problem, target: Problem) -> Decisions:
    """Return decisions of one problem as those of another that has other versions of recipes.

    Meals, packs and batches of versions that the target lacks are left out.
    """
    dish = {found.key: d for d, found in enumerate(target.dishes)}

    def taken(option: Option, where: dict[tuple[int, int], int]) -> int | None:
        key = source.dishes[option.dish].key
        return where.get((dish.get(key, -1), option.cook))

    place = {(one.dish, one.cook): n for n, one in enumerate(target.cookings)}
    batches = {}
    for n, amount in decisions.batches.items():
        there = taken(source.cookings[n], place)
        if there is not None:
            batches[there] = amount
    servings = {}
    for (i, j), amount in decisions.servings.items():
        where = {(one.dish, one.cook): m for m, one in enumerate(target.slots[i].options)}
        there = taken(source.slots[i].options[j], where)
        if there is not None:
            servings[i, there] = amount
    supply = {(s.food_id, s.shop_day, s.stock_index): n for n, s in enumerate(target.supplies)}
    packs = {}
    for (s, o), count in decisions.packs.items():
        row = source.supplies[s]
        there = supply.get((row.food_id, row.shop_day, row.stock_index))
        if there is not None:
            packs[there, o] = count
    return Decisions(batches, servings, packs)


def _result(
    known: _Known,
    clock: Clock,
    solver_status: str,
    build_seconds: float,
    *,
    infeasible: bool = False,
) -> SearchResult:
    return SearchResult(
        status=ending_of_search(
            known.settings,
            infeasible=infeasible,
            proven=known.close_enough(known.objective),
            interrupted=clock.interrupted,
        ),
        solver_status=solver_status,
        decisions=known.best,
        bound=known.proven(),
        composition=_COMPOSITION,
        infeasible=infeasible,
        seconds=clock.seconds(),
        build_seconds=build_seconds,
        found_by=known.found_by,
        problem=known.problem,
    )
