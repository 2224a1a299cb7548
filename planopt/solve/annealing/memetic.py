"""Search over whole weeks: annealed from nothing, then again among the dishes of two of them.

Method: a memetic algorithm. Its mutation is simulated annealing (`annealing.py`), its crossover the
restriction of a week to the cookings of two good weeks and a few others, where annealing from a
middling temperature settles in a small part of the moves that the whole recipe book would take.
Source: Moscato, On evolution, search, optimization, genetic algorithms and martial arts, Caltech
Concurrent Computation Program report 826 (1989).

What is done in which order hangs on the seed and on the counts below, never on the clock, which
only ends it: so the same seed finds the same weeks on any machine, as far as it comes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from math import inf, isfinite

import numpy as np

from planopt.problem.build import Problem, Slot
from planopt.problem.decisions import Decisions
from planopt.problem.portions import sizes_in
from planopt.solve.annealing.arrays import Floats, Ints, week_arrays
from planopt.solve.annealing.tying import shareable, ties_hold
from planopt.solve.annealing.week import Annealing, Schedule, load_servings, servings_of

# Kitchens differ: where most dishes come as often as they may, whole dishes have to change, and
# windows may press less at first; where they do not, single meals. Anneals take turns.
_SINGLE_MEALS = (0.30, 0.20, 0.15, 0.05, 0.12, 0.12, 0.06)
SCHEDULES = (Schedule(window=30.0), Schedule(moves=_SINGLE_MEALS, hot=2.5), Schedule())
# Where meals are bounded there are many more windows to miss: all that is broken costs more, and
# anneals begin hotter.
_DEARER = Schedule(batch=50.0, rule=50.0, recipe=25.0, minute=1.25, hot=4.0)
BOUNDED_SCHEDULES = (
    replace(_DEARER, window=150.0, each_window=0.5),
    replace(_DEARER, window=100.0, each_window=0.3, moves=_SINGLE_MEALS, hot=5.0),
    replace(_DEARER, window=300.0, each_window=0.3),
)

Servings = dict[tuple[int, int], float]

# Moves of a first anneal at the least and the most, of one client's week with these places.
_LEAST_MOVES, _MOST_MOVES, _PLACES = 150_000, 3_000_000, 28
# Moves a second and core on a modest machine: turns time into moves the same everywhere.
_MOVES_A_SECOND = 1_000_000
_FIRST_POPULATION_SECONDS = 10.0
_POPULATION, _FRESH_SHARE, _CROSS_SHARE = 6, 0.4, 0.5
_CROSS_HOT, _FOREIGN, _BEST_CHOSEN = 1.5, 8, 0.3
_AT_ONCE, _CHUNK = 2, 100_000
_IMMIGRANT_EVERY, _PATIENCE, _ELITE = 10, 16, 2
# What gives way at first must not be left broken: it presses harder as it cools.
_PRESSED, _UNSOUND = 5.0, 40.0
_SAME = 1e-6
_FIRST = 0.1


@dataclass
class Week:
    """A sound week of the search: its money, and cooking and size at each place."""

    money: float
    dish: Ints
    size: Floats


@dataclass(frozen=True)
class Job:
    """One anneal: from nothing, or from `week` among `cookings` alone."""

    moves: int
    hot: float
    seed: int
    schedule: Schedule
    week: Week | None = None
    cookings: Ints | None = None


def suits(problem: Problem) -> bool:
    """Tell whether the account of the annealing counts as this problem does.

    Where a meal may hold several dishes, a wanted food in two of them is one meal, and not two. A
    meal that no dish can serve would count as nothing missing. What a meal must hold bounds the
    size of a dish only where it is all of the meal; and only such meals are tied.
    """
    several = problem.most_dishes_per_meal != 1
    wants = any(rule.per == "meal" and rule.low > 0 for rule in problem.rules)
    fed = all(_served(problem, slot) for slot in problem.slots)
    bounded = any(slot.windows for slot in problem.slots) or bool(problem.order.ties)
    able = bool(problem.cookings) and fed and not (several and (wants or bounded))
    return able and not _settled(problem) and shareable(problem)


def _settled(problem: Problem) -> bool:
    """Tell whether servings, packs or batches are settled by hand, or dishes beside others."""
    several = problem.most_dishes_per_meal != 1
    servings = any(r.servings is not None for slot in problem.slots for r in slot.puts)
    return bool(problem.done) or servings or (several and any(s.puts for s in problem.slots))


def _served(problem: Problem, slot: Slot) -> bool:
    """Tell whether some dish of a meal has a size that is tried."""
    portions = problem.clients[slot.client].portions
    if not slot.windows or portions.step == "any":
        return bool(slot.options)
    dishes = (problem.dishes[option.dish] for option in slot.options)
    return any(sizes_in(portions, dish, slot.windows) for dish in dishes)


def _schedules(problem: Problem) -> tuple[Schedule, ...]:
    """Return the schedules that take turns."""
    bounded = any(slot.windows for slot in problem.slots)
    return BOUNDED_SCHEDULES if bounded else SCHEDULES


class WeekSearch:
    """A population of weeks of one problem."""

    def __init__(self, problem: Problem, seed: int, threads: int) -> None:
        self.problem = problem
        self.arrays = week_arrays(problem)
        self._schedules = _schedules(problem)
        self.threads = min(threads, _AT_ONCE)
        self.weeks: list[Week] = []
        self.best = inf
        self.converged = False
        self.moves_done = 0
        self._chance = np.random.default_rng(seed)
        self._seed = seed
        self._jobs = 0
        self._moves = 0
        self._since = 0
        self._last_end = inf
        self._settled: list[Week] = []
        self._annealings = [Annealing(self.arrays, seed) for _ in range(_AT_ONCE)]
        self._stop = False

    def add(self, start: Decisions) -> None:
        """Take a week into the population, if all its portions are of sizes that are tried."""
        found = load_servings(self.problem, self.arrays, start.servings)
        if found is None or not ties_hold(self.arrays, found[0]):
            return
        annealing = self._annealings[0]
        annealing.load(*found)
        if annealing.penalty < 1e-7:
            self._take(Week(annealing.money, *found))

    def use(self, threads: int) -> None:
        """Anneal on so many cores; which weeks are found does not hang on it."""
        self.threads = min(threads, _AT_ONCE)

    def moves_for(self, seconds: float) -> int:
        """Return the moves of the first anneals from nothing, for a search of so many seconds.

        However long the search, the first population is done soon; longer anneals follow it.
        """
        seconds = min(seconds, _FIRST_POPULATION_SECONDS)
        size = len(self.arrays.menu.place_slot) / _PLACES
        moves = _FRESH_SHARE * _MOVES_A_SECOND * seconds / _POPULATION
        # The fewer meals, the sooner an anneal settles; pairs of meals are what it has to try.
        most = _MOST_MOVES * (size if size >= 1.0 else size**2)
        return int(min(most, max(_LEAST_MOVES * min(1.0, size), moves)))

    def improve(
        self, over: Callable[[], bool], offer: Callable[[Servings], None], moves: int, jobs: int
    ) -> None:
        """Anneal until `over`, or so many jobs, or restarts agree; offer what is better.

        `moves` is what an anneal from nothing takes at first.
        """
        self._stop = False
        if moves > self._moves:
            # Longer anneals than before begin with some from nothing.
            self._moves, self._jobs = moves, 0
        with ThreadPoolExecutor(self.threads) as pool:
            for batch in self._batches(moves, jobs):
                doing = [
                    pool.submit(self._do, job, annealing)
                    for job, annealing in zip(batch, self._annealings, strict=False)
                ]
                self._await(doing, over)
                for future in doing:
                    week = future.result()
                    if week is not None:
                        self._join(week)
                        if week.money < self.best - _SAME:
                            self.best, self._since = week.money, 0
                            offer(servings_of(self.problem, self.arrays, week.dish, week.size))
                if over() or self.converged:
                    return

    def _await(self, doing: list[Future[Week | None]], over: Callable[[], bool]) -> None:
        """Wait for the anneals at work, and ask them to stop when time is over."""
        while wait(doing, timeout=0.1).not_done:
            if over():
                self._stop = True

    def _batches(self, moves: int, jobs: int) -> Iterator[list[Job]]:
        """Yield anneals, a few at once: a first quick one, a population, then crossings."""
        while jobs > 0:
            batch = [self._next(moves) for _ in range(min(_AT_ONCE, jobs))]
            jobs -= len(batch)
            yield batch
            if self._jobs == _POPULATION and self._settled:
                # What earlier populations ended with is crossed with what the new one begins with.
                for week in self._settled:
                    self._join(week)
            if self._since >= _PATIENCE and len(self.weeks) > 1:
                # The population has settled: another, with longer anneals, must find no better.
                if self.best >= self._last_end - _SAME:
                    self.converged = True
                self._last_end = min(self._last_end, self.best)
                moves, self._since, self._jobs = 2 * moves, 0, 0
                self._settled = self.weeks[:_ELITE]
                self.weeks = []

    def _next(self, moves: int) -> Job:
        number = self._jobs
        self._jobs += 1
        schedule = self._schedules[number % len(self._schedules)]
        seed = int(self._chance.integers(2**62))
        crossing = number >= _POPULATION and number % _IMMIGRANT_EVERY and len(self.weeks) > 1
        if not crossing:
            quick = _FIRST if number < _AT_ONCE and not isfinite(self.best) else 1.0
            return Job(max(min(moves, _CHUNK), int(quick * moves)), schedule.hot, seed, schedule)
        self._since += 1
        i, j = sorted(int(k) for k in self._chance.choice(len(self.weeks), 2, replace=False))
        if self._chance.random() < _BEST_CHOSEN:
            i = 0
        one, other = self.weeks[i], self.weeks[max(j, 1)]
        count = len(self.arrays.larder.step)
        foreign = self._chance.choice(count, min(_FOREIGN, count), replace=False)
        cookings = np.unique(np.concatenate([one.dish, other.dish, foreign]))
        kept = cookings[cookings >= 0]
        return Job(int(_CROSS_SHARE * moves), _CROSS_HOT, seed, schedule, one, kept)

    def _do(self, job: Job, annealing: Annealing) -> Week | None:
        """Carry an anneal out in parts, so that it can be stopped; return its best sound week."""
        annealing.reseed(job.seed)
        annealing.follow(job.schedule)
        annealing.only(job.cookings)
        annealing.forget_best()
        if job.week is None:
            annealing.random_week()
        else:
            annealing.load(job.week.dish, job.week.size)
        cold = job.schedule.cold
        parts = max(1, round(job.moves / _CHUNK))
        for part in range(parts):
            if self._stop:
                break
            sound = isfinite(annealing.best) or part < parts // 2
            annealing.press(1.0 + (_PRESSED if sound else _UNSOUND) * (part / parts) ** 2)
            first, last = (job.hot * (cold / job.hot) ** (x / parts) for x in (part, part + 1))
            annealing.run(job.moves // parts, first, last)
            annealing.settle()
        self.moves_done += job.moves
        return Week(annealing.best, *annealing.best_week()) if isfinite(annealing.best) else None

    def _join(self, week: Week) -> None:
        """Let a week into the population in the worst one's place, unless it is there already."""
        if any(abs(week.money - other.money) <= _SAME for other in self.weeks):
            return
        self._take(week)

    def _take(self, week: Week) -> None:
        self.weeks.append(week)
        self.weeks.sort(key=lambda other: other.money)
        del self.weeks[_POPULATION:]
