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
from planopt.solve.budget import Budget, BudgetPart
from planopt.solve.endings import INFEASIBLE_WORD
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.parameters import PARAMETERS
from planopt.solve.result import SearchResult, ending_of_search
from planopt.solve.settings import SolveSettings
from planopt.tolerances import CHEAPER, LEAST_GAP

Key = tuple[str, str]
Way = Callable[[Problem, SolveSettings, Budget, Decisions | None], SearchResult]
Recut = Callable[[list[Key]], Problem]

_OUTLINE = PARAMETERS.outline
# A way to search some versions is given no less.
_LEAST_LIMIT_S = 0.1
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
        gap = max(self.settings.gap, LEAST_GAP)
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
        if objective >= self.objective - CHEAPER:
            return False
        self.problem, self.best, self.objective = problem, result.decisions, objective
        return True


class _CutBudget(BudgetPart):
    """The budget of a search among some versions: over as soon as the bound of all proves enough.

    Without a week yet, it has all the time that the whole search has.
    """

    def __init__(self, whole: Budget, seconds: float, known: _Known) -> None:
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
    budget: Budget,
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
    search = _Cuts(problem, settings, budget, way, recut)
    exists = True
    try:
        exists = search.run(start)
    finally:
        search.known.worker.stop()
    if not exists:
        return search.result(INFEASIBLE_WORD, infeasible=True)
    ended = search.known.worker.ended or "Stopped by the search"
    return search.result(ended, infeasible=search.known.impossible())


class _Cuts:
    """A search in cuts: among the versions at hand, then among others, beside the proof of all."""

    def __init__(
        self,
        problem: Problem,
        settings: SolveSettings,
        budget: Budget,
        way: Way,
        recut: Recut | None,
    ) -> None:
        self.known = _Known(settings, BoundWorker(), problem)
        self.settings = settings
        self.budget = budget
        self.way = way
        self.recut = recut
        self.lines = _Lines(problem.bounding)
        self.beside = settings.threads > 1 and not budget.counted
        self.proofs: tuple[Proof, ...] = ()
        # Plans without a proven bound are better than none.
        with suppress(OutOfTime), ending_at(budget.share(_OUTLINE.build_share).end()):
            self.proofs = self.lines.proofs()
        self.build_seconds = budget.seconds()

    def run(self, start: Decisions | None) -> bool:
        """Search until the budget is spent; False where it is proven that no week complies."""
        known, worker, single = self.known, self.known.worker, self.settings.single()
        if self.beside and self.proofs:
            worker.start(self.proofs, self.budget.for_proof(single))
        elif self.proofs:
            # The LP of the first relaxation, as time may be short for more.
            bound, infeasible = first_bound(self.proofs[0], self.budget.within(single))
            known.bound = max(known.bound, bound)
            if infeasible:
                return False
        self._search(start)
        while self.beside and self.proofs and not self.over() and worker.ended is None:
            worker.wait(0.2)
            self.tell()
        return True

    def over(self) -> bool:
        """Tell whether to stop: gap proven, no week at all, time over, or interrupted."""
        self.tell()
        known = self.known
        return known.close_enough(known.objective) or known.impossible() or self.budget.over()

    def tell(self) -> None:
        """Report progress."""
        objective, proven = self.known.objective, self.known.proven()
        best = None if objective == inf else objective
        self.budget.tell("proving", best, proven if proven > 0 else None)

    def _search(self, start: Decisions | None) -> None:
        """Search among the versions at hand, then among others, as long as there are new ones."""
        known, budget, problem = self.known, self.budget, self.known.problem
        share = 1.0 if self.recut is None else _OUTLINE.first_share
        known.tried.update(dish.key for dish in problem.dishes)
        while True:
            known.cuts += 1
            self._cut(problem, share, start)
            if known.cuts == 1:
                self._prove_here()
            if self.recut is None or known.cuts >= budget.by_work(_OUTLINE.cuts_by_work):
                return
            wanted = self._wanted()
            if not wanted or self.over() or budget.left() < _OUTLINE.least_s:
                return
            problem = self.recut(wanted)
            # What nobody may eat, or cannot be made, is not in the problem and not asked for again.
            known.tried.update(wanted, (dish.key for dish in problem.dishes))
            start = None if known.best is None else carried_over(known.best, known.problem, problem)
            share = _OUTLINE.next_share

    def _cut(self, problem: Problem, share: float, start: Decisions | None) -> None:
        """Search among the versions of a problem for a share of the time left."""
        seconds = share * self.budget.left()
        part = _CutBudget(self.budget, seconds, self.known)
        # A bound of some versions is worth no process of its own.
        timed = self.settings.single()
        if not self.budget.counted:
            timed = timed.model_copy(update={"time_limit_s": max(_LEAST_LIMIT_S, seconds)})
        with suppress(OutOfTime):
            self.known.take(problem, self.way(replace(problem, outline=None), timed, part, start))

    def _prove_here(self) -> None:
        """Raise the bound in this process, where none of its own does so."""
        if self.beside or not self.proofs or self.over():
            return
        part = self.budget.share(1.0 if self.recut is None else _OUTLINE.proof_share)
        settings = part.for_proof(self.settings.single())
        self.known.worker.run_here(self.proofs, settings, self.over)

    def _wanted(self) -> list[Key]:
        """Return versions to look at next; waits for points of the relaxation if there are none."""
        worker = self.known.worker
        wanted = self.lines.wanted(self.known)
        while not wanted and worker.process_id is not None and worker.ended is None:
            if self.over():
                return []
            worker.wait(_OUTLINE.wait_s)
            wanted = self.lines.wanted(self.known)
        return wanted

    def result(self, solver_status: str, *, infeasible: bool) -> SearchResult:
        """Return how the search has ended."""
        known = self.known
        return SearchResult(
            status=ending_of_search(
                self.settings,
                infeasible=infeasible,
                proven=known.close_enough(known.objective),
                interrupted=self.budget.interrupted,
            ),
            solver_status=solver_status,
            decisions=known.best,
            bound=known.proven(),
            composition=_COMPOSITION,
            infeasible=infeasible,
            seconds=self.budget.seconds(),
            build_seconds=self.build_seconds,
            found_by=known.found_by,
            problem=known.problem,
        )


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
        few = sum(len(slot.options) for slot in outline.slots) <= PARAMETERS.choosing.few_options
        in_steps = one_dish_in_steps(outline)
        found: list[Proof] = []
        if in_steps:
            weekly = weekly_arrays(outline)
            *merged, last = proofs_of(outline, weekly)
            found = [
                *merged,
                replace(last, share=_OUTLINE.weekly_share if few else 1.0, started=weekly.loose),
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
        return [*mine, *new[: _OUTLINE.most_added]] if new else []

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
