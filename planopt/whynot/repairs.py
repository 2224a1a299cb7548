"""Repairs: the least changes of single limits after which a week complies, each tried and audited.

Allergens and exclusions are never offered, and a day's energy is never moved below its floor.

Method: bisection on the value of one limit; for several limits, or where no menus can be listed,
one elastic model (`solve/limits/elastic.py`).
Source: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, inf, isfinite

import numpy as np

from planopt.model.daymenus import MenuTable, supports_menus
from planopt.plan.records import Plan
from planopt.problem.build import build_problem
from planopt.problem.limits import Limit, least_value, with_limits
from planopt.problem.rules import Coefficients
from planopt.scenario.mealwindows import PLATE
from planopt.scenario.records import Client, Scenario
from planopt.scenario.samedish import tie_words
from planopt.solve.limits.elastic import ElasticModel, Give, Given
from planopt.solve.settings import SolveSettings
from planopt.units import minor_digits
from planopt.whynot.conflict import Conflict
from planopt.whynot.leastbudget import LeastBudget, least_budget
from planopt.whynot.moving import moved_scenario, outward
from planopt.whynot.oracle import Answer, Oracle, WitnessWeek, first_week
from planopt.whynot.rules import Rule, rules_of
from planopt.whynot.verify import audited
from planopt.whynot.witness import amount_of

_SECONDS_A_REPAIR = 6.0
_TRIED_COOK_DAYS = 3
_TRIED_PORTIONS = 2
_NOTHING = 1e-6
_LEAST_SECONDS = 1.0


@dataclass(frozen=True)
class Move:
    """One thing moved, `before` to `after`, on some days or, with none named, wherever it holds.

    `rule` is None for what is no limit: `what` is then `cook_day` (`after` is the new day) or
    `portions` (the largest, in servings).
    """

    rule: Rule | None
    what: str
    client: str
    days: tuple[int, ...]
    before: float
    after: float


@dataclass(frozen=True)
class Repair:
    """Moves after which a week complies: `scenario` has them made, and `plan` was audited for it.

    `least` tells that no smaller move of this limit suffices, to its last digit; `at_least` is the
    value that is proven to be needed. `size` is the move as a share of the limit's value; a cook
    day more counts as 1. The plan is one that complies, not the cheapest.
    """

    moves: tuple[Move, ...]
    scenario: Scenario
    plan: Plan
    least: bool
    at_least: float | None
    size: float


def find_repairs(
    oracle: Oracle, conflict: Conflict, least: LeastBudget | None = None
) -> list[Repair]:
    """Return verified repairs of a conflict, the smallest first.

    Only a limit that is part of the conflict can be a repair by itself; what is no limit (a cook
    day, the largest portion) may be one as well. Where no single change suffices, several limits
    move together. Where the `least` budget is known and forbids the scenario's, the budget alone is
    offered: no other change is likely to make up for it, and trying each takes long.
    """
    found: list[Repair | None] = []
    offered = [rule for rule in conflict.rules if rule.relaxable]
    if least is not None:
        offered = [rule for rule in offered if rule.key.kind == "budget"]
        found = [_of_rule(oracle, rule, (), 0.0, least) for rule in offered]
        if any(found):
            return [repair for repair in found if repair is not None]
    # What is known to end the clash comes first, as time may be short.
    offered.sort(key=lambda rule: oracle.week(oracle.limits - set(rule.limits)) is None)
    tied = [rule for rule in conflict.rules if rule.key.kind == "same_dish"]
    for rule in (rule for rule in offered if rule.key.kind == "spacing"):
        found.append(_nearer(oracle, rule))
    found += [_untied(oracle, rule) for rule in tied]
    offered = [rule for rule in offered if rule.key.kind != "spacing"]
    for left, rule in zip(range(len(offered), 0, -1), offered, strict=True):
        found.append(_of_rule(oracle, rule, conflict.days, oracle.deadline.left() / (left + 1)))
    found.append(_more_cooking(oracle))
    found += _larger_portions(oracle, conflict)
    if not any(found):
        found.append(_together(oracle))
    repairs = [repair for repair in found if repair is not None]
    return sorted(repairs, key=lambda repair: (repair.size, repair.moves[0].what))


def _digits(oracle: Oracle, rule: Rule) -> int:
    key = rule.key
    if key.kind == "budget":
        return minor_digits(oracle.scenario.currency)
    if key.kind in ("window", "meal_window"):
        if key.what == PLATE:
            return 0
        return oracle.catalog.amounts[key.what].decimals
    return 1 if key.kind == "servings" else 0


def _settings(oracle: Oracle, seconds: float) -> SolveSettings:
    seconds = max(0.1, min(_SECONDS_A_REPAIR, seconds))
    return oracle.settings.model_copy(update={"time_limit_s": seconds, "gap": 0.0, "options": {}})


def _of_rule(
    oracle: Oracle,
    rule: Rule,
    days: tuple[int, ...],
    seconds: float,
    least: LeastBudget | None = None,
) -> Repair | None:
    """Return the least move of one rule, verified; None if there is none or time was short."""
    if oracle.deadline.left() <= 0:
        return None
    days = days if rule.daily and set(days) < set(rule.days) else ()
    part = rule.on_days(days) if days else rule
    if rule.key.kind == "budget":
        given = _cheapest(oracle, rule, seconds, least)
    else:
        given = _least(oracle, part, min(_SECONDS_A_REPAIR, seconds))
    if given.amounts is None:
        return None
    sign = -1.0 if part.limits[0].from_below else 1.0
    digits = _digits(oracle, rule)
    after = outward(rule, rule.value + sign * given.amounts[0], digits)
    at_least = None
    if isfinite(given.bound) and not _moves_meals(oracle, rule):
        at_least = outward(rule, rule.value + sign * max(0.0, given.bound), digits)
    scenario = moved_scenario(oracle.scenario, [(rule, days, after)])
    move = Move(rule, rule.key.kind, rule.key.client, days, rule.value, after)
    return _verified(oracle, (move,), scenario, given, at_least)


def _nearer(oracle: Oracle, rule: Rule) -> Repair | None:
    """Return the most days between that leave a week, day by day."""
    rest, proven = oracle.limits - set(rule.limits), True
    for days in range(int(rule.value) - 1, -1, -1):
        if oracle.deadline.over():
            return None
        kept = rest | (_moved_limits(rule, rule.value - days) if days else frozenset())
        answer = oracle.ask(kept, _SECONDS_A_REPAIR)
        week = oracle.week(kept)
        if answer is Answer.YES and week is not None:
            scenario = moved_scenario(oracle.scenario, [(rule, (), days)])
            move = Move(rule, rule.key.kind, rule.key.client, (), rule.value, days)
            given = Given((0.0,), 0.0, -inf, week.problem, week.decisions, False, optimal=False)
            return _verified(oracle, (move,), scenario, given, float(days) if proven else None)
        proven = proven and answer is Answer.NO
    return None


def _untied(oracle: Oracle, rule: Rule) -> Repair | None:
    """Return the scenario without one entry of meals that share a dish, if it has a week."""
    rest = oracle.limits - set(rule.limits)
    oracle.ask(rest, _SECONDS_A_REPAIR)
    week = oracle.week(rest)
    if week is None:
        return None
    left = tuple(row for row in oracle.scenario.same_dish if tie_words(row) != rule.key.what)
    scenario = oracle.scenario.model_copy(update={"same_dish": left})
    move = Move(rule, rule.key.kind, "", (), 1.0, 0.0)
    given = Given((0.0,), 0.0, -inf, week.problem, week.decisions, False, optimal=False)
    return _verified(oracle, (move,), scenario, given, None)


def _moves_meals(oracle: Oracle, rule: Rule) -> bool:
    """Tell whether shares of meals move with a day's window, so that less may suffice."""
    key = rule.key
    return key.kind == "window" and any(
        (limit.key.kind, limit.key.client, limit.key.what) == ("meal_window", key.client, key.what)
        for limit in oracle.limits
    )


def _verified(
    oracle: Oracle,
    moves: tuple[Move, ...],
    scenario: Scenario,
    given: Given,
    at_least: float | None,
) -> Repair | None:
    if given.problem is None or given.decisions is None:
        return None
    plan = audited(oracle.catalog, scenario, given.problem, given.decisions)
    if plan is None:
        return None
    size = sum(abs(m.after - m.before) / max(abs(m.before), 1.0) for m in moves)
    if any(move.what == "cook_day" for move in moves):
        size = 1.0
    least = len(moves) == 1 and at_least is not None and at_least == moves[0].after
    return Repair(moves, scenario, plan, least, at_least, size)


def _least(oracle: Oracle, rule: Rule, until: float) -> Given:
    """Return the least move of a rule, by halving between what fails and what a week needs.

    Every value that fails was proven to; where time is short, `bound` stays below the amount.
    """
    scenario = oracle.scenario
    problem = build_problem(oracle.catalog, scenario)
    if not supports_menus(problem):
        problem = build_problem(oracle.catalog, scenario, fitting_only=False)
        return ElasticModel(problem, [_give(scenario, rule)]).least(_settings(oracle, until))
    halving = _Halving(oracle, rule, until)
    if oracle.ask(halving.rest, until) is not Answer.YES:
        return Given(None, inf, 0.0, None, None, False, optimal=False)
    week = oracle.week(halving.rest)
    if week is None:
        raise AssertionError("an answer of yes comes with its week")
    high = halving.needed(week)
    if high > halving.most:
        answer, found = halving.tried(int(halving.most))
        if found is None:
            return Given(None, inf, 0.0, None, None, answer is Answer.NO, optimal=False)
        week, high = found, halving.needed(found)
    low, high, week = halving.halved(week, high)
    return Given(
        (high * halving.step,),
        high * halving.step,
        max(0, low + 1) * halving.step,
        week.problem,
        week.decisions,
        infeasible=False,
        optimal=high - low <= 1,
    )


class _Halving:
    """A rule moved by whole steps of its last digit, until the least that suffices is known."""

    def __init__(self, oracle: Oracle, rule: Rule, until: float) -> None:
        self.oracle = oracle
        self.rule = rule
        self.rest = oracle.limits - set(rule.limits)
        self.step = 10.0 ** -_digits(oracle, rule)
        self.most = _give(oracle.scenario, rule).most / self.step + _NOTHING
        self._until = until
        self._began = oracle.deadline.spent()

    def left(self) -> float:
        """Return the seconds left for the rule."""
        return self._until - (self.oracle.deadline.spent() - self._began)

    def needed(self, week: WitnessWeek) -> int:
        """Return the steps that a week needs the rule to give."""
        given = 0.0
        for limit in self.rule.limits:
            amount = amount_of(week.problem, week.decisions, limit.key)
            miss = limit.value - amount if limit.from_below else amount - limit.value
            share = limit.value / self.rule.value if self.rule.value else 1.0
            given = max(given, miss / share)
        return ceil(given / self.step - _NOTHING)

    def tried(self, steps: int) -> tuple[Answer, WitnessWeek | None]:
        """Ask whether so many steps suffice; a yes comes with its week."""
        moved = _moved_limits(self.rule, steps * self.step)
        answer = self.oracle.ask(self.rest | moved, self.left())
        return answer, self.oracle.week(self.rest | moved) if answer is Answer.YES else None

    def halved(self, week: WitnessWeek, high: int) -> tuple[int, int, WitnessWeek]:
        """Return the most steps proven too few, the least known to suffice, and their week."""
        low = 0
        first = _menus_need(self.oracle, self.rule, self.step)
        if first is not None and high > 1:
            low = max(low, first - 1)
        while high - low > 1:
            middle = first if first is not None and low < first < high else (low + high) // 2
            answer, found = self.tried(middle)
            if answer is Answer.NO:
                low = middle
            elif found is not None:
                week, high = found, min(middle, self.needed(found))
            else:
                break
            if self.left() <= 0:
                break
        return low, high, week


def _moved_limits(rule: Rule, by: float) -> frozenset[Limit]:
    found = []
    for limit in rule.limits:
        share = limit.value / rule.value if rule.value else 1.0
        sign = -1.0 if limit.from_below else 1.0
        found.append(replace(limit, value=round(limit.value + sign * by * share, 9)))
    return frozenset(found)


def _menus_need(oracle: Oracle, rule: Rule, step: float) -> int | None:
    """Return the least steps that the menus of single days need; None where menus cannot tell."""
    if rule.key.kind != "window" or not rule.days:
        return None
    rest = oracle.limits - set(rule.limits)
    problem = build_problem(oracle.catalog, with_limits(oracle.scenario, rest))
    if problem.outline is not None or not supports_menus(problem):
        return None
    worst = 0.0
    sign = -1.0 if rule.limits[0].from_below else 1.0
    by_day = {limit.key.day: limit for limit in rule.limits}
    for g, group in enumerate(problem.groups):
        mine = [by_day[day] for day in group.days if day in by_day]
        if not mine or problem.clients[group.client].client_id != rule.key.client:
            continue
        table = MenuTable(problem, g)
        counts = Coefficients(problem.dishes).of(rule.key.kind, rule.key.what)
        prices = []
        for i in group.slots[0]:
            per_serving = np.zeros((2, len(problem.slots[i].options)))
            for j, option in enumerate(problem.slots[i].options):
                per_serving[0, j] = sign * counts.get(option.dish, 0.0)
            prices.append(per_serving)
        best = table.cheapest(prices, 1, inf)
        if not best:
            return None
        amount = sign * best[0][0]
        for limit in mine:
            miss = limit.value - amount if limit.from_below else amount - limit.value
            worst = max(worst, miss * (rule.value / limit.value if limit.value else 1.0))
    return ceil(worst / step - _NOTHING)


def _give(scenario: Scenario, rule: Rule, weight: float = 1.0) -> Give:
    limits = [(limit, limit.value / rule.value if rule.value else 1.0) for limit in rule.limits]
    most = inf
    if rule.limits[0].from_below:
        most = min((limit.value - least_value(scenario, limit)) / share for limit, share in limits)
    return Give(tuple(limits), most, weight)


def _cheapest(oracle: Oracle, budget: Rule, seconds: float, known: LeastBudget | None) -> Given:
    """Return how far the budget is short of the cheapest groceries that the search finds."""
    seconds = max(0.1, min(_SECONDS_A_REPAIR, seconds))
    least = known if known is not None else least_budget(oracle, seconds)
    if least.decisions is None or least.found is None:
        return Given(None, inf, 0.0, None, None, least.infeasible, optimal=False)
    short = float(least.found) - budget.value
    # A bound below the budget says no more than what is known: that the budget does not do.
    bound = float(least.proven) - budget.value
    bound = bound if bound > 0 else -inf
    return Given((short,), short, bound, least.problem, least.decisions, False, optimal=False)


def _tried(oracle: Oracle, scenario: Scenario, move: Move) -> Repair | None:
    """Return a changed scenario as a repair, if it has a week."""
    if oracle.deadline.left() < _LEAST_SECONDS:
        return None
    problem = build_problem(oracle.catalog, scenario)
    seconds = min(_SECONDS_A_REPAIR, oracle.deadline.left())
    result = first_week(problem, oracle.settings, seconds)
    if result.decisions is None:
        return None
    given = Given((0.0,), 0.0, -inf, problem, result.decisions, False, optimal=False)
    return _verified(oracle, (move,), scenario, given, None)


def _more_cooking(oracle: Oracle) -> Repair | None:
    """Return one more cook day, with the limits of the last one, if that alone suffices."""
    scenario = oracle.scenario
    known = {cook.day for cook in scenario.cook_days}
    middle = (min(known) + scenario.days) / 2
    days = [day for day in range(min(known) + 1, scenario.days + 1) if day not in known]
    for day in sorted(days, key=lambda day: abs(day - middle))[:_TRIED_COOK_DAYS]:
        cook = scenario.cook_days[-1].model_copy(update={"day": day})
        cook_days = tuple(sorted((*scenario.cook_days, cook), key=lambda cook: cook.day))
        changed = scenario.model_copy(update={"cook_days": cook_days})
        before = float(len(scenario.cook_days))
        move = Move(None, "cook_day", "", (day,), before, before + 1)
        repair = _tried(oracle, changed, move)
        if repair is not None:
            return repair
    return None


def _larger_portions(oracle: Oracle, conflict: Conflict) -> list[Repair | None]:
    named = {rule.key.client for rule in conflict.rules}
    found = []
    for client in oracle.scenario.clients:
        if client.client_id in named:
            found.append(_larger_for(oracle, client))
    return found


def _larger_for(oracle: Oracle, client: Client) -> Repair | None:
    sizes = client.portions
    for times in range(1, _TRIED_PORTIONS + 1):
        by = 0.25 * sizes.largest if sizes.step == "any" else sizes.step
        largest = sizes.largest + times * by
        bigger = client.model_copy(
            update={"portions": sizes.model_copy(update={"largest": largest})}
        )
        clients = tuple(bigger if c is client else c for c in oracle.scenario.clients)
        changed = oracle.scenario.model_copy(update={"clients": clients})
        move = Move(None, "portions", client.client_id, (), sizes.largest, largest)
        repair = _tried(oracle, changed, move)
        if repair is not None:
            return repair
    return None


def _together(oracle: Oracle) -> Repair | None:
    """Return moves of several limits that together suffice, the sum of their shares the least."""
    if oracle.deadline.left() < _LEAST_SECONDS:
        return None
    # What a model counts of days between is meals, and not days.
    rules = [r for r in rules_of(oracle.scenario) if r.relaxable and r.key.kind != "spacing"]
    gives = [_give(oracle.scenario, rule, 1.0 / max(rule.value, 1.0)) for rule in rules]
    problem = build_problem(oracle.catalog, oracle.scenario, fitting_only=False)
    given = ElasticModel(problem, gives).least(_settings(oracle, oracle.deadline.left()))
    if given.amounts is None:
        return None
    moved = []
    for rule, amount in zip(rules, given.amounts, strict=True):
        if amount > _NOTHING:
            sign = -1.0 if rule.limits[0].from_below else 1.0
            after = outward(rule, rule.value + sign * amount, _digits(oracle, rule))
            moved.append((rule, after))
    if not moved:
        return None
    scenario = moved_scenario(oracle.scenario, [(rule, (), after) for rule, after in moved])
    moves = tuple(
        Move(rule, rule.key.kind, rule.key.client, (), rule.value, after) for rule, after in moved
    )
    return _verified(oracle, moves, scenario, given, None)
