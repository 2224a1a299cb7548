"""Lower bounds and the list rule against facts that others published.

Johnson, Optimal two- and three-stage production schedules with setup times included, Naval
Research Logistics Quarterly 1, 1954. Graham, Bounds on multiprocessing timing anomalies, SIAM
Journal on Applied Mathematics 17, 1969. Carlier, The one-machine sequencing problem, European
Journal of Operational Research 11, 1982; its seven jobs are from memory and checked here.
"""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import permutations

from cookday.kitchens import recipe, schedule
from planopt.cookday.bounds import Stretch, most_over_sets
from planopt.cookday.timetable import Placer
from planopt.cookday.work import work_of
from planopt.scenario.workplace import Appliances

CARLIER = (
    (10, 5, 7), (13, 6, 26), (11, 7, 24), (20, 4, 21), (30, 3, 8), (0, 6, 17), (30, 2, 0),
)  # fmt: skip
Jobs = tuple[tuple[int, int, int], ...]


def _one_machine_bound(jobs: Jobs) -> int:
    stretches = [Stretch(head, minutes, Fraction(1), tail) for head, minutes, tail in jobs]
    return most_over_sets(stretches, lambda some: sum(one.minutes for one in some))


def _jackson(jobs: Jobs) -> int:
    """Return the makespan of Jackson's preemptive schedule: always the longest tail, by minutes."""
    left = [minutes for _, minutes, _ in jobs]
    time = ends = 0
    while any(left):
        ready = [n for n, (head, _, _) in enumerate(jobs) if head <= time and left[n]]
        time += 1
        if ready:
            chosen = max(ready, key=lambda n: jobs[n][2])
            left[chosen] -= 1
            ends = max(ends, time + jobs[chosen][2])
    return ends


def _optimum(jobs: Jobs) -> int:
    best = 10**9
    for order in permutations(jobs):
        time = ends = 0
        for head, minutes, tail in order:
            time = max(time, head) + minutes
            ends = max(ends, time + tail)
        best = min(best, ends)
    return best


def test_the_bound_of_one_cook_is_jacksons_preemptive_schedule() -> None:
    """On Carlier's seven jobs and on random ones the two agree and stay below the optimum."""
    assert _one_machine_bound(CARLIER) == _jackson(CARLIER) <= _optimum(CARLIER) == 50
    draw = random.Random(3)
    for _ in range(40):
        jobs = tuple(
            (draw.randint(0, 12), draw.randint(1, 6), draw.randint(0, 12)) for _ in range(5)
        )
        assert _one_machine_bound(jobs) == _jackson(jobs) <= _optimum(jobs)


def test_the_longest_first_on_two_cooks_is_grahams_worst_case() -> None:
    """Work of 3, 3, 2, 2, 2 placed longest first takes 7 = 7/6 of the best; the search finds 6."""
    minutes = (3, 3, 2, 2, 2)
    dishes = [(recipe(name, m), 1.0) for name, m in zip("abcde", minutes, strict=True)]
    works = [work_of(one, 1, Appliances()) for one, _ in dishes]
    listed = Placer(works, Appliances(), 2).place([(n, "prepare", 0) for n in range(5)])
    assert listed.makespan == 7 == Fraction(7, 6) * 6
    found = schedule(dishes, {"cooks": 2})
    assert (found.makespan_minutes, found.lower_bound_minutes) == (6, 6)


def test_any_list_of_hands_on_work_keeps_grahams_bound() -> None:
    """Longest first never takes more than 4/3 - 1/(3 m) of the optimum."""
    draw = random.Random(5)
    for cooks in (2, 3, 4):
        minutes = sorted((draw.randint(1, 9) for _ in range(11)), reverse=True)
        works = [work_of(recipe(f"d{n}", m), 1, Appliances()) for n, m in enumerate(minutes)]
        listed = Placer(works, Appliances(), cooks).place([(n, "prepare", 0) for n in range(11)])
        found = schedule(
            [(recipe(f"d{n}", m), 1.0) for n, m in enumerate(minutes)], {"cooks": cooks}
        )
        assert found.makespan_minutes == found.lower_bound_minutes  # so this is the optimum
        most = (Fraction(4, 3) - Fraction(1, 3 * cooks)) * found.makespan_minutes
        assert listed.makespan <= most


def _johnson(jobs: list[tuple[int, int]]) -> int:
    """Return the least makespan of a flow shop with two machines, by Johnson's rule."""
    first = sorted((job for job in jobs if job[0] < job[1]), key=lambda job: job[0])
    last = sorted((job for job in jobs if job[0] >= job[1]), key=lambda job: -job[1])
    one = two = 0
    for a, b in first + last:
        one += a
        two = max(two, one) + b
    return two


def test_one_cook_and_one_oven_reach_johnsons_optimum() -> None:
    """Dishes that are only prepared and baked, one at a time, are a flow shop of two machines."""
    draw = random.Random(11)
    for _ in range(12):
        jobs = [(draw.randint(1, 4), draw.randint(1, 6)) for _ in range(6)]
        dishes = [
            (recipe(f"d{n}", a, oven=(180, b)), 1.0) for n, (a, b) in enumerate(jobs)
        ]  # fmt: skip
        found = schedule(dishes, ovens=1, oven_batches=1, oven_change_minutes=0)
        assert found.lower_bound_minutes <= _johnson(jobs) == found.makespan_minutes
