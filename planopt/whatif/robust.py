"""Robustness: how a plan's cost, and the choice of plan, hold up when prices differ.

Method: price sampling (Monte Carlo), and the regret of a plan against others at each sample.
Source: Metropolis and Ulam, The Monte Carlo method, Journal of the American Statistical Association
44 (1949); regret as in Savage, The theory of statistical decision, the same journal 46 (1951).
Both from memory.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from time import perf_counter

from planopt.faults import NoPlanInTime
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of, versions_in, whole_decisions
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import Decisions, cost_of
from planopt.problem.supplies import PackOffer, value_per_g
from planopt.scenario.reading.changed import with_scenario
from planopt.scenario.reading.load import Kitchen
from planopt.solve.settings import SolveSettings
from planopt.units import from_minor, to_minor

_CENT = 0.005


@dataclass(frozen=True)
class Robustness:
    """What sampled prices do to a plan; money is all counted, in units of the currency.

    `spread` is the share by which each food's prices may lie above or below. `plans` is the number
    of plans compared, `solved` how many of them were found by solving a sample. `overtaken` is the
    share of samples in which another of these plans is cheaper, and regret is by how much: how
    much dearer the plan is than the cheapest of them, over all samples. True regret, against every
    plan there is, can only be larger.
    """

    spread: float
    samples: int
    plans: int
    solved: int
    planned: float
    lowest: float
    low_tenth: float
    middle: float
    high_tenth: float
    highest: float
    overtaken: float
    mean_regret: float
    most_regret: float
    costs: tuple[float, ...]


@dataclass(frozen=True)
class Sampling:
    """Which prices to try: each food's move together, by up to `spread` of them, up or down.

    So many samples are drawn, and the first `solve` of them are solved.

    Raises:
        ValueError: `spread` is not from 0 to below 1, or there is no sample.
    """

    spread: float
    samples: int = 200
    solve: int = 3

    def __post_init__(self) -> None:
        if not 0 <= self.spread < 1 or self.samples < 1:
            raise ValueError("spread must be from 0 to below 1, and samples at least 1")

    def drawn(self, problem: Problem, seed: int) -> list[dict[str, float]]:
        """Return for each sample the factor of each food's prices, drawn evenly."""
        chance, low, high = random.Random(seed), 1.0 - self.spread, 1.0 + self.spread
        foods = sorted(problem.offers)
        return [{food: chance.uniform(low, high) for food in foods} for _ in range(self.samples)]


def robustness(
    kitchen: Kitchen,
    plan: Plan,
    settings: SolveSettings,
    sampling: Sampling,
    *,
    others: Sequence[Plan] = (),
    seconds: float = 30.0,
) -> Robustness:
    """Sample prices and compare a plan with others that the same kitchen may carry out.

    Plans of `others` that do not fit the kitchen's own problem are left out; the samples that are
    solved begin from the plan, within the seconds. Limits but for the budget do not depend on
    prices, and the budget is not applied to a sample.

    Raises:
        AuditFailed: a plan found does not hold.
    """
    free = with_scenario(kitchen, kitchen.scenario.model_copy(update={"budget": None}))
    problem = build_problem(free.catalog, free.scenario, versions_in(plan, *others))
    drawn = sampling.drawn(problem, settings.seed)
    known = [decisions_of(plan, problem)]
    known += [d for other in others if (d := whole_decisions(other, problem)) is not None]
    solved = 0
    kitchens = [_priced_kitchen(free, factors) for factors in drawn[: sampling.solve]]
    for found in _solved(kitchens, plan, settings, seconds):
        solved += 1
        decisions = whole_decisions(found, problem)
        if decisions is not None and decisions not in known:
            known.append(decisions)
    each = [_costs(_priced(problem, factors), known) for factors in drawn]
    regrets = [costs[0] - min(costs) for costs in each]
    ranked = sorted(costs[0] for costs in each)
    return Robustness(
        spread=sampling.spread,
        samples=sampling.samples,
        plans=len(known),
        solved=solved,
        planned=cost_of(problem, known[0]).objective,
        lowest=ranked[0],
        low_tenth=_quantile(ranked, 0.1),
        middle=_quantile(ranked, 0.5),
        high_tenth=_quantile(ranked, 0.9),
        highest=ranked[-1],
        overtaken=sum(regret > _CENT for regret in regrets) / len(regrets),
        mean_regret=sum(regrets) / len(regrets),
        most_regret=max(regrets),
        costs=tuple(costs[0] for costs in each),
    )


def _solved(
    kitchens: Sequence[Kitchen], plan: Plan, settings: SolveSettings, seconds: float
) -> Iterator[Plan]:
    """Yield plans of kitchens, each begun from a plan, within the seconds for all of them."""
    until = perf_counter() + seconds
    for n, kitchen in enumerate(kitchens):
        left = until - perf_counter()
        if left <= 0:
            return
        each = max(0.2, left / (len(kitchens) - n))
        quick = settings.model_copy(update={"time_limit_s": each})
        with suppress(NoPlanInTime):
            yield make_plan(kitchen, quick, None, plan, explain_s=0.0)


def _costs(priced: Problem, known: Sequence[Decisions]) -> list[float]:
    return [cost_of(priced, decisions).objective for decisions in known]


def _price(minor: int, factor: float) -> int:
    return int(minor * factor + 0.5)


def _priced(problem: Problem, factors: dict[str, float]) -> Problem:
    """Return the problem at sampled prices; what waste is worth follows the prices."""

    def moved(food: str, offers: tuple[PackOffer, ...]) -> tuple[PackOffer, ...]:
        return tuple(
            replace(offer, price_minor=_price(offer.price_minor, factors[food])) for offer in offers
        )

    offers = {food: moved(food, found) for food, found in problem.offers.items()}
    values = {food: value_per_g(found) for food, found in offers.items()}
    return replace(problem, offers=offers, value_minor_per_g=values)


def _priced_kitchen(kitchen: Kitchen, factors: dict[str, float]) -> Kitchen:
    """Return the kitchen at sampled prices, for a solve; the same cents as in `_priced`."""
    packs = {}
    for pack_id, pack in kitchen.catalog.packs.items():
        factor = factors.get(pack.food_id, 1.0)
        minor = _price(to_minor(pack.price, pack.currency), factor)
        packs[pack_id] = pack.model_copy(update={"price": from_minor(minor, pack.currency)})
    catalog = kitchen.catalog.model_copy(update={"packs": packs})
    return replace(kitchen, catalog=catalog)


def _quantile(ranked: Sequence[float], share: float) -> float:
    return ranked[min(len(ranked) - 1, int(share * len(ranked)))]
