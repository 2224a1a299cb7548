"""Solve scenarios that get tighter one by one, and let each answer serve the others.

A plan of a tighter scenario is one of every looser one at the same cost, and a lower limit of a
looser scenario holds for every tighter one. Both are exact, and cost nothing.

Method: a parametric sweep with warm starts; bounds and plans are passed along by monotonicity.
Source: the epsilon-constraint method of Haimes, Lasdon and Wismer, IEEE Transactions on Systems,
Man, and Cybernetics 1 (1971), from memory; the sharing of bounds is common sense, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from time import perf_counter
from typing import Literal

from planopt.faults import NoCompliantWeek, NoPlanInTime, StoppedByUser
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.plan.reread import versions_in, whole_decisions
from planopt.problem.build import build_problem
from planopt.problem.limits import limits_of
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.references import guarded
from planopt.solve.settings import SolveSettings
from planopt.whynot.witness import limits_met

State = Literal["complies", "no week", "open"]


@dataclass(frozen=True)
class Rung:
    """One scenario of a ladder: `value` is the number varied, money is in units of the currency.

    `state` is `no week` where that is proven, and `open` where time was short. `bound` is proven,
    0 where nothing is known. `stopped` tells that Ctrl-C ended its search.
    """

    value: float
    state: State
    plan: Plan | None
    objective: Decimal | None
    bound: Decimal
    stopped: bool = False

    @property
    def gap(self) -> float | None:
        """Return the proven relative gap, None without a plan."""
        if self.objective is None:
            return None
        if not self.objective:
            return 0.0
        return float((self.objective - min(self.bound, self.objective)) / self.objective)


def climb(
    kitchens: Sequence[tuple[float, Kitchen]],
    settings: SolveSettings,
    known: Iterable[Plan],
    seconds: float,
    proven: Mapping[float, Decimal] | None = None,
) -> list[Rung]:
    """Solve kitchens given from the loosest to the tightest, within the seconds for all of them.

    `proven` has lower limits known already, by value. Each kitchen begins from the cheapest plan at
    hand that complies with it, of those known and those found before; it is not solved where that
    plan is proven near enough already.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    ladder = _Ladder(settings, list(known), seconds)
    for left, (value, kitchen) in zip(range(len(kitchens), 0, -1), kitchens, strict=True):
        least = (proven or {}).get(value, Decimal(0))
        ladder.rungs.append(ladder.step(value, kitchen, least, left))
    return shared(ladder.rungs)


class _Ladder:
    """A ladder while it is climbed: its rungs, the plans at hand, and the seconds left for it."""

    def __init__(self, settings: SolveSettings, pool: list[Plan], seconds: float) -> None:
        self.settings = settings
        self.seconds = seconds
        self.rungs: list[Rung] = []
        self._pool = pool
        self._bound = Decimal(0)
        self._blocked = False

    def step(self, value: float, kitchen: Kitchen, least: Decimal, left: int) -> Rung:
        """Return the next rung, with `left` rungs to go, this one counted."""
        if self._blocked:
            return Rung(value, "no week", None, None, Decimal(0))
        self._bound = max(self._bound, least)
        start = cheapest_that_complies(kitchen, self._pool)
        objective = None if start is None else start.solution.objective
        at_hand = Rung(value, "complies" if start else "open", start, objective, self._bound)
        if start is not None and (at_hand.gap or 0.0) <= self.settings.gap:
            return at_hand
        began = perf_counter()
        quick = {"time_limit_s": max(0.2, self.seconds / left)}
        try:
            begin = start or (self._pool[-1] if self._pool else None)
            settings = self.settings.model_copy(update=quick)
            plan = make_plan(kitchen, settings, None, begin, explain_s=0.0)
        except NoCompliantWeek:
            self._blocked = True
            return Rung(value, "no week", None, None, Decimal(0))
        except NoPlanInTime as error:
            return self._told(replace(at_hand, stopped=isinstance(error, StoppedByUser)))
        finally:
            self.seconds = max(0.0, self.seconds - (perf_counter() - began))
        self._pool.append(plan)
        self._bound = max(self._bound, plan.solution.best_bound)
        stopped = plan.solution.status == "interrupted"
        if start is not None and start.solution.objective < plan.solution.objective:
            plan = start
        cost = plan.solution.objective
        return self._told(Rung(value, "complies", plan, cost, self._bound, stopped))

    def _told(self, rung: Rung) -> Rung:
        """Return a rung; where somebody stopped it, the others show what is known of them."""
        if rung.stopped:
            self.seconds = 0.0
        return rung


def cheapest_that_complies(kitchen: Kitchen, plans: Iterable[Plan]) -> Plan | None:
    """Return the cheapest of some plans that keep every limit of a kitchen with the same prices."""
    plans = list(plans)
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(*plans))
    limits = frozenset(limits_of(guarded(kitchen.catalog, kitchen.scenario)))
    fit = []
    for plan in plans:
        decisions = whole_decisions(plan, problem)
        if decisions is not None and limits_met(problem, decisions, limits) == limits:
            fit.append(plan)
    return min(fit, key=lambda plan: plan.solution.objective, default=None)


def shared(rungs: Sequence[Rung]) -> list[Rung]:
    """Return rungs, the loosest first, with what each proves or finds for the others."""
    found = list(rungs)
    for n in range(len(found) - 2, -1, -1):
        # A plan of the tighter one complies here too.
        tighter, here = found[n + 1], found[n]
        if tighter.objective is not None and (
            here.objective is None or tighter.objective < here.objective
        ):
            found[n] = replace(
                here, state="complies", plan=tighter.plan, objective=tighter.objective
            )
    bound = Decimal(0)
    for n, here in enumerate(found):
        bound = max(bound, here.bound)
        if here.state != "no week":
            most = bound if here.objective is None else min(bound, here.objective)
            found[n] = replace(here, bound=most)
    return found
