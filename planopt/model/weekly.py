"""The weekly relaxation: how often each client eats each dish, without saying on which day.

Every compliant plan, summed over its days, satisfies these rows, so a bound proved here bounds the
real problem. Day windows are summed over the days they hold on.

Maths uses Y = times a client takes an option in a meal, Q = servings of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pulp

from planopt.model.kitchen import KitchenModel
from planopt.model.loose import EatenTies, eaten_lines
from planopt.model.spans import slot_spans
from planopt.model.totals import Key, Totals, add_rules, repeats_of
from planopt.problem.build import Option, Problem


@dataclass
class Weekly:
    """Variables of the weekly relaxation by (client, meal, option), and rows tying `eaten`."""

    kitchen: KitchenModel
    times: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    servings: dict[Key, pulp.LpVariable] = field(default_factory=dict)
    eaten_row: list[int] = field(default_factory=list)


def add_weekly(kitchen: KitchenModel, made: dict[str, pulp.LpVariable]) -> Weekly:
    """Add the weekly relaxation of all clients to a kitchen (one dish a meal, portions in steps).

    `made` holds a switch for each recipe, from the strengthening rows.
    """
    weekly = Weekly(kitchen)
    problem = kitchen.problem
    place = {cooking: n for n, cooking in enumerate(problem.cookings)}
    cooked = dict(zip(problem.cookings, kitchen.started, strict=True))
    totals = Totals(kitchen, weekly.times, weekly.servings, cooked, made)
    for c in range(len(problem.clients)):
        reach = _reach(problem, c)
        _meals(weekly, c, reach)
        _links(weekly, c, reach, place)
        _loose(weekly, totals, c)
        add_rules(totals, c)
    ties = EatenTies()
    for (_, option), lines in totals.loose.items():
        ties.add(kitchen.loose[place[option]], lines)
    for cooked_of in kitchen.loose.values():
        ties.tie(kitchen.lp, kitchen.names, cooked_of)
    terms: list[list[tuple[pulp.LpVariable, float]]] = [[] for _ in problem.cookings]
    for (_, _, option), servings in weekly.servings.items():
        terms[place[option]].append((servings, 1.0))
    for n, eaten in enumerate(kitchen.eaten):
        kitchen.row(
            pulp.LpAffineExpression([*terms[n], (eaten, -1.0)]) == 0,
            f"servings eaten of cooking {n}",
        )
        weekly.eaten_row.append(len(kitchen.lp.constraints) - 1)
    if kitchen.taken:
        _taken(weekly, place)
    return weekly


def _taken(weekly: Weekly, place: dict[Option, int]) -> None:
    """Taken: portions of a cooking = sum of Y, for their boxes."""
    kitchen = weekly.kitchen
    terms: list[list[tuple[pulp.LpVariable, float]]] = [[] for _ in kitchen.taken]
    for (_, _, option), times in weekly.times.items():
        terms[place[option]].append((times, 1.0))
    for n, taken in enumerate(kitchen.taken):
        total = pulp.LpAffineExpression([*terms[n], (taken, -1.0)])
        kitchen.row(total == 0, f"portions taken of cooking {n}")


def _loose(weekly: Weekly, totals: Totals, c: int) -> None:
    """Loose lines: what a client eats of each option of an outline, all meals together."""
    kitchen = weekly.kitchen
    client = kitchen.problem.clients[c]
    served: dict[Option, list[pulp.LpVariable]] = {}
    for (who, _, option), servings in weekly.servings.items():
        if who == c and kitchen.problem.dishes[option.dish].loose:
            served.setdefault(option, []).append(servings)
    for option, members in served.items():
        dish = kitchen.problem.dishes[option.dish]
        what = f"{client.client_id}: {dish.key} {option.cook}"
        totals.loose[c, option] = eaten_lines(
            kitchen.lp, kitchen.names, client, dish, pulp.lpSum(members), what
        )


def _reach(problem: Problem, c: int) -> dict[str, dict[Option, set[int]]]:
    """Return, for each meal, the days on which each option can be eaten."""
    found: dict[str, dict[Option, set[int]]] = {}
    for i in problem.slots_of_client[c]:
        slot = problem.slots[i]
        meal = found.setdefault(slot.meal, {})
        for option in slot.options:
            meal.setdefault(option, set()).add(slot.day)
    return found


def _meals(weekly: Weekly, c: int, reach: dict[str, dict[Option, set[int]]]) -> None:
    """Meals: smallest Y <= Q <= largest Y; sum of Y = meals; runs of days can be served (Hall)."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    client = problem.clients[c]
    spans = slot_spans(problem, c)
    for meal, options in reach.items():
        days = [
            problem.slots[i].day
            for i in problem.slots_of_client[c]
            if problem.slots[i].meal == meal
        ]
        for option, reached in options.items():
            what = f"{client.client_id} {meal}: {problem.dishes[option.dish].key} {option.cook}"
            most = min(len(reached), repeats_of(problem, c))
            times = pulp.LpVariable(kitchen.names.new("y", f"times, {what}"), 0, most, "Integer")
            servings = pulp.LpVariable(kitchen.names.new("q", f"servings, {what}"), 0)
            weekly.times[c, meal, option] = times
            weekly.servings[c, meal, option] = servings
            smallest, largest = spans[meal, option.dish]
            kitchen.row(servings <= largest * times, f"{what}: largest portion")
            kitchen.row(servings >= smallest * times, f"{what}: smallest portion")
        every = pulp.lpSum(weekly.times[c, meal, option] for option in options)
        kitchen.row(every == len(days), f"{client.client_id} {meal}: every day")
        told = set()
        for start in range(len(days)):
            for stop in range(start + 1, len(days) + 1):
                run = set(days[start:stop])
                if len(run) == len(days):
                    continue
                serve = [option for option, reached in options.items() if reached & run]
                if len(serve) < len(options) and (frozenset(serve), len(run)) not in told:
                    told.add((frozenset(serve), len(run)))
                    kitchen.row(
                        pulp.lpSum(weekly.times[c, meal, option] for option in serve) >= len(run),
                        f"{client.client_id} {meal}: days {sorted(run)} are served",
                    )


def _links(
    weekly: Weekly, c: int, reach: dict[str, dict[Option, set[int]]], place: dict[Option, int]
) -> None:
    """Links: times a client eats a cooking <= most days x started."""
    kitchen = weekly.kitchen
    problem = kitchen.problem
    terms: dict[Option, list[pulp.LpVariable]] = {}
    days: dict[Option, set[int]] = {}
    for meal, options in reach.items():
        for option, reached in options.items():
            terms.setdefault(option, []).append(weekly.times[c, meal, option])
            days.setdefault(option, set()).update(reached)
    for option, members in terms.items():
        most = min(len(days[option]), repeats_of(problem, c))
        kitchen.row(
            pulp.lpSum(members) - float(most) * kitchen.started[place[option]] <= 0,
            f"{problem.clients[c].client_id} eats cooking {place[option]} only if it is cooked",
        )
