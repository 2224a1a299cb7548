"""The search around an earlier plan: rings of plates that may change, each wider than the last.

HiGHS solves the day-by-day model with a price on every change. In the first ring only the plates
that must change are free; then their days; then their clients; then all. What is proven of a ring
is proven of all weeks that change no other plates. The cheapest week of all rings counts, the price
of its changes counted.

Method: large neighbourhoods around a solution, solved whole; restriction of a model. Source: the
idea of fixing most of a plan and solving the rest is common practice; no paper is followed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import inf, isfinite
from time import perf_counter

from planopt.model.changes import add_change_price
from planopt.model.kitchen import new_kitchen
from planopt.model.menus import add_menus
from planopt.model.strengthen import Strengthening
from planopt.problem.build import Problem, Slot
from planopt.problem.byhand import PlateRule, standing_batches
from planopt.problem.change import Before, ChangePrices, Changes, changes_of, plate_of
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.order import week_kept
from planopt.solve.annealing.compiled import Compilation
from planopt.solve.annealing.nearby import Nearby, suits_nearby
from planopt.solve.budget import Budget
from planopt.solve.heuristics.columngeneration import translate
from planopt.solve.heuristics.tidy import carried_out, tidied
from planopt.solve.highs.daymodel import PlainModel
from planopt.solve.highs.matrix import to_matrix
from planopt.solve.highs.solver import solve_matrix
from planopt.solve.parameters import PARAMETERS
from planopt.solve.settings import SolveSettings

_ADJUST = PARAMETERS.adjust
_MANY_TURNS = 10**6
_EPS = 1e-6
_SLACK = 1e-7


@dataclass(frozen=True)
class Ring:
    """Which plates may change: `free` in every way, `portions` in their portion alone."""

    name: str
    free: frozenset[int]
    portions: frozenset[int] = frozenset()


@dataclass(frozen=True)
class RingResult:
    """How a ring ended. `total` counts money and the price of change, as does `bound`.

    `proven` tells that no week within the ring has less; without a week, that there is none.
    """

    ring: Ring
    total: float
    bound: float
    proven: bool
    changes: Changes | None
    money: float


@dataclass(frozen=True)
class Adjusted:
    """The cheapest week found, price of change counted; None where no ring has one.

    `infeasible` tells that no week at all complies: proven where every plate is free.
    """

    decisions: Decisions | None
    total: float
    rings: tuple[RingResult, ...]
    infeasible: bool
    seconds: float


def adjusted(
    problem: Problem,
    before: Before,
    start: Decisions,
    prices: ChangePrices,
    settings: SolveSettings,
    progress: Callable[[str], None] | None = None,
) -> Adjusted:
    """Return the cheapest week near an earlier plan, of which `start` is what still fits.

    Raises:
        BadOption: a solver option is unknown or refused.
    """
    near = _Near(problem, before, start, prices, settings)
    with near.budget.hearing_interrupt():
        if all(slot.options for slot in problem.slots):
            near.anneal()
            near.go_through_rings(progress)
    return near.result()


class _Near:
    """The search near an earlier plan, of which `start` is what still fits."""

    def __init__(
        self,
        problem: Problem,
        before: Before,
        start: Decisions,
        prices: ChangePrices,
        settings: SolveSettings,
    ) -> None:
        self.problem = problem
        self.before = before
        self.start = start
        self.prices = prices
        self.settings = settings
        self.budget = Budget(settings)
        self.rings: list[RingResult] = []
        self.best: Decisions | None = None
        self.total = inf
        self.infeasible = False

    def offer(self, week: Decisions, total: float) -> bool:
        """Take a week if it is cheaper, the price of its changes counted; tell whether it is."""
        if total < self.total - _EPS:
            self.best, self.total = week, total
            return True
        return False

    def anneal(self) -> None:
        """Anneal weeks from the earlier plan until several in a row are no cheaper."""
        idle = 0
        for week in self._annealed():
            total = cost_of(self.problem, week).objective
            total += changes_of(self.problem, self.before, week).price(self.prices)
            idle = 0 if self.offer(week, total) else idle + 1
            if idle >= _ADJUST.patience:
                break

    def _annealed(self) -> Iterator[Decisions]:
        """Yield weeks annealed from the earlier plan, where the compiled search can do so."""
        problem, compilation = self.problem, Compilation()
        if not suits_nearby(problem):
            return
        compilation.begin()
        counted = self.budget.counted
        if not (compilation.wait() if counted else compilation.ready()):
            return
        part = self.budget.share(_ADJUST.anneal_share)
        turns = _ADJUST.turns_by_work if counted else _MANY_TURNS
        nearby = Nearby(problem, self.before, self.start.servings, self.prices, self.settings.seed)
        moves = min(_ADJUST.moves, _ADJUST.moves_a_plate * len(problem.slots))
        for servings in nearby.weeks(part.over, moves, turns, self.settings.threads):
            found = carried_out(problem, servings)
            if found is not None and week_kept(problem, found):
                yield found

    def go_through_rings(self, progress: Callable[[str], None] | None) -> None:
        """Solve ring after ring, each in a share of the time that is left."""
        budget, shares = self.budget, _ADJUST.ring_shares
        for place, ring in enumerate(rings_of(self.problem, self.before, self.start)):
            # By work alone nothing ends a large ring soon; it is for where no week is known.
            if budget.over() or (budget.counted and place > 1 and self.best is not None):
                break
            if progress is not None:
                progress(ring.name)
            found, result = self._solved(ring, budget.share(shares[min(place, len(shares) - 1)]))
            self.rings.append(result)
            if found is not None:
                self.offer(found, result.total)
            whole = len(ring.free) == len(self.problem.slots)
            self.infeasible = whole and self.best is None and result.proven

    def result(self) -> Adjusted:
        """Return how the search has ended."""
        nobody = any(not slot.options for slot in self.problem.bounding.slots)
        rings, infeasible = tuple(self.rings), self.infeasible or nobody
        return Adjusted(self.best, self.total, rings, infeasible, self.budget.seconds())

    def _solved(self, ring: Ring, budget: Budget) -> tuple[Decisions | None, RingResult]:
        """Solve one ring in its time."""
        problem, prices = self.problem, self.prices
        smaller = _narrowed(problem, self.start, ring)
        model, constant = self._priced(smaller)
        settings = budget.within(self.settings).model_copy(update={"gap": 0.0})
        point = model.point(_known(self.start, problem, smaller))
        begin = point if model.matrix.integer.any() else None
        outcome = solve_matrix(
            model.matrix, settings, start=begin, watch=lambda *_: budget.interrupted
        )
        bound = outcome.bound + constant if isfinite(outcome.bound) else -inf
        proven = outcome.infeasible or outcome.ending == "optimal"
        if outcome.values is None:
            return None, RingResult(ring, inf, bound, proven, None, inf)
        found = tidied(problem, translate(model.decisions(outcome.values), smaller, problem))
        changes = changes_of(problem, self.before, found)
        money = cost_of(problem, found).objective
        total = money + changes.price(prices)
        return found, RingResult(ring, total, min(bound, total), proven, changes, money)

    def _priced(self, smaller: Problem) -> tuple[PlainModel, float]:
        """Return the model of a ring with the price of change, and what of that is certain."""
        began = perf_counter()
        cookings, batches = self.problem.cookings, self.before.batches
        place = {cooking: n for n, cooking in enumerate(smaller.cookings)}
        kept = {place[cookings[n]]: c for n, c in batches.items() if cookings[n] in place}
        gone = sum(c for n, c in batches.items() if cookings[n] not in place)
        kitchen = new_kitchen(smaller)
        Strengthening(kitchen).add()
        menus = add_menus(kitchen)
        constant = add_change_price(menus, replace(self.before, batches=kept), self.prices)
        model = PlainModel(kitchen, menus, to_matrix(kitchen.lp), perf_counter() - began)
        return model, constant + self.prices.batch * gone


def rings_of(problem: Problem, before: Before, start: Decisions) -> Iterator[Ring]:
    """Yield the rings around what must change, each wider than the last, the last of all plates."""
    served = {i for i, _ in start.servings}
    slots = frozenset(range(len(problem.slots)))
    forced = frozenset(i for i in slots if i not in served)
    # Plates that share a dish with one of them change with it.
    forced |= {i for tied in problem.order.sets if forced & set(tied) for i in tied}
    days = {(problem.slots[i].client, problem.slots[i].day) for i in forced}
    days |= set(broken_days(problem, start))
    of_days = frozenset(i for i in slots if (problem.slots[i].client, problem.slots[i].day) in days)
    clients = {c for c, _ in days}
    of_clients = frozenset(i for i in slots if problem.slots[i].client in clients)
    seen: set[tuple[frozenset[int], frozenset[int]]] = set()
    for ring in (
        Ring("only what was asked for" if forced else "nothing else", forced),
        Ring("only that and portions on the same days", forced, of_days - forced),
        Ring(
            "only plates of the same days and their clients' portions",
            of_days,
            of_clients - of_days,
        ),
        Ring(
            "only plates of the same clients and portions of the others",
            of_clients,
            slots - of_clients,
        ),
        Ring("every plate", slots),
    ):
        key = (ring.free, ring.portions)
        # With nothing free a ring tells whether all may stay; the packs are chosen anew.
        if key not in seen:
            seen.add(key)
            yield ring


def broken_days(problem: Problem, week: Decisions) -> Iterator[tuple[int, int]]:
    """Yield (client, day) whose windows a week breaks."""
    of_slot: dict[int, list[tuple[int, float]]] = {}
    for (i, j), servings in week.servings.items():
        of_slot.setdefault(i, []).append((problem.slots[i].options[j].dish, servings))
    for group in problem.groups:
        for day, members in zip(group.days, group.slots, strict=True):
            eaten = [pair for i in members for pair in of_slot.get(i, [])]
            for nutrient, (low, high) in group.windows.items():
                amount = sum(problem.dishes[d].nutrients[nutrient] * s for d, s in eaten)
                slack = _SLACK * max(1.0, low if not isfinite(high) else high)
                if not low - slack <= amount <= high + slack:
                    yield group.client, day
                    break


def _narrowed(problem: Problem, start: Decisions, ring: Ring) -> Problem:
    """Return the problem in which plates outside the ring stay as in a week."""
    served: dict[int, dict[int, float]] = {}
    for (i, j), servings in start.servings.items():
        served.setdefault(i, {})[j] = servings
    slots = []
    for i, slot in enumerate(problem.slots):
        mine = served.get(i, {})
        if i in ring.free or not mine:
            slots.append(slot)
        elif i in ring.portions:
            kept = {problem.dishes[slot.options[j].dish].key for j in mine}
            options = tuple(o for o in slot.options if problem.dishes[o.dish].key in kept)
            slots.append(replace(slot, options=options))
        else:
            slots.append(_held(problem, slot, mine))
    taken = {option for slot in slots for option in slot.options}
    taken |= {problem.cookings[n] for n in standing_batches(problem)}
    cookings = tuple(cooking for cooking in problem.cookings if cooking in taken)
    return replace(problem, slots=tuple(slots), cookings=cookings, outline=None)


def _held(problem: Problem, slot: Slot, mine: dict[int, float]) -> Slot:
    """Return a slot that has the dishes and portions that it had, from whichever cook day."""
    plate = plate_of(problem, slot, mine)
    who = problem.clients[slot.client].client_id
    # Not held to the ranges of what people write: servings are what they are.
    where = PlateRule(client=who, day=slot.day, meal=slot.meal)
    puts = tuple(
        where.model_copy(update={"put": recipe, "version": version, "servings": servings})
        for (recipe, version), servings in sorted(plate.items())
    )
    options = tuple(o for o in slot.options if problem.dishes[o.dish].key in plate)
    return replace(slot, options=options, puts=puts)


def _known(start: Decisions, problem: Problem, smaller: Problem) -> Decisions:
    """Return the servings of a week as a smaller problem knows them."""
    servings = {}
    for (i, j), amount in start.servings.items():
        option = problem.slots[i].options[j]
        if option in smaller.slots[i].options:
            servings[i, smaller.slots[i].options.index(option)] = amount
    return Decisions({}, servings, {})
