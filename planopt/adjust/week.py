"""Adjust a written plan: the verb of this part, for library and command line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from planopt.adjust.words import all_changes
from planopt.audit import audit_plan
from planopt.faults import AuditFailed, NoCompliantWeek, NoPlanInTime
from planopt.folders import settle
from planopt.pipeline import load_kitchen, reported, written_out
from planopt.plan.extract import SolveFacts
from planopt.plan.file import read_plan
from planopt.plan.handles import kitchen_as_named, plan_with_handles
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of, versions_in
from planopt.problem.build import Problem, build_problem
from planopt.problem.change import Before, ChangePrices, Changes, changes_of, prices_from
from planopt.problem.decisions import Decisions
from planopt.problem.limits import limits_of
from planopt.scenario.households.handles import Handles, kitchen_with_handles
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Scenario, Variant
from planopt.solve.engine.adjusting import Adjusted, adjusted
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.settings import SolveSettings
from planopt.whatif.direction import direction_of
from planopt.whynot.explain import explain
from planopt.whynot.rules import Rule, rules_of
from planopt.whynot.witness import limits_met

# A plate with another dish is taken to cost so many times what a plate costs on average; common
# practice, no source.
PRICE_IN_PLATES = 2.0
SECONDS = 5.0


@dataclass(frozen=True)
class Written:
    """A plan as written, and the kitchen that it is of, its own changes made.

    `by_handles` tells that clients go by their ids, though plan or files may have names.
    """

    plan: Plan
    kitchen: Kitchen
    by_handles: bool = False


@dataclass(frozen=True)
class Adjustment:
    """A plan adjusted: what changed of the earlier one, and what is known of it.

    `broken` are the rules that would be broken had all other plates stayed; `uncookable` tells
    that the kitchen could not have cooked it. `within` is how the search ended ring by ring.
    """

    before: Plan
    plan: Plan
    kitchen: Kitchen
    problem: Problem
    earlier: Before
    changes: Changes
    prices: ChangePrices
    within: Adjusted
    broken: tuple[Rule, ...]
    uncookable: bool
    asked: frozenset[int]


def read_written(folder: Path, *, by_handles: bool = False) -> Written:
    """Return the plan of a folder with its kitchen, audited again.

    With `by_handles` both name clients by their ids alone.

    Raises:
        BadInput: the plan, its scenario or its catalogs cannot be read.
        AuditFailed: the plan does not hold for its files as they are now.
    """
    settle(folder)
    plan = read_plan(folder)
    kitchen = load_kitchen(Path(plan.scenario_file))
    if plan.changes is not None:
        kitchen = changed_kitchen(kitchen, plan.changes)
    kitchen = kitchen_as_named(plan, kitchen)
    findings = audit_plan(plan, kitchen.catalog, kitchen.scenario)
    if findings:
        raise AuditFailed(finding.text() for finding in findings)
    if by_handles:
        handles = Handles.of_scenario(kitchen.scenario)
        plan, kitchen = plan_with_handles(plan, handles), kitchen_with_handles(kitchen, handles)
    return Written(plan, kitchen, by_handles)


def plate_price(plan: Plan) -> float:
    """Return the price that a plate with another dish is taken to have, unless told otherwise."""
    return PRICE_IN_PLATES * float(plan.solution.objective) / max(1, len(plan.portions))


def adjust(
    written: Written,
    variant: Variant,
    settings: SolveSettings,
    price: float | None = None,
    told: Callable[[str], None] | None = None,
) -> Adjustment:
    """Return the plan that makes a variant's changes and as few others as pay.

    `price` is that of a plate with another dish, in money; portions, batches and packs go with it.

    Raises:
        NoCompliantWeek: no week makes the changes; proven.
        NoPlanInTime: none was found within the time limit; nothing forbids one.
        AuditFailed: the plan found does not hold.
    """
    plan = written.plan
    prices = prices_from(plate_price(plan) if price is None else price)
    kitchen = again_changed(written, variant)
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(plan))
    start = decisions_of(plan, problem)
    earlier = before_of(plan, problem, start)
    found = adjusted(problem, earlier, start, prices, settings, told)
    if found.decisions is None:
        raise _nothing(found, kitchen, settings)
    asked = frozenset(set(range(len(problem.slots))) - {i for i, _ in start.servings})
    broken, uncookable = _broken(kitchen.scenario, problem, start, found.decisions, asked)
    return Adjustment(
        before=plan,
        plan=written_out(
            kitchen, problem, found.decisions, _facts(written, variant, settings, found)
        ),
        kitchen=kitchen,
        problem=problem,
        earlier=earlier,
        changes=changes_of(problem, earlier, found.decisions),
        prices=prices,
        within=found,
        broken=broken,
        uncookable=uncookable,
        asked=asked,
    )


def _facts(
    written: Written, variant: Variant, settings: SolveSettings, found: Adjusted
) -> SolveFacts:
    """Return what the plan tells of its search; a bound holds on where changes only tighten."""
    before, kitchen, bound = written.plan.solution, written.kitchen, 0.0
    if direction_of(kitchen.catalog, kitchen.scenario, variant) == "tightens":
        bound = float(before.best_bound)
    return SolveFacts(
        status="time_limit",
        bound=bound,
        gap_asked=settings.gap,
        solve_seconds=found.seconds,
        build_seconds=0.0,
        solver=before.solver,
        solver_status="adjusted from an earlier plan",
        bound_composition="bound of the plan that was adjusted" if bound else "none",
        settings=reported(settings),
    )


def again_changed(written: Written, variant: Variant) -> Kitchen:
    """Return the kitchen of a plan's files with its own changes and these."""
    whole = all_changes(written.plan.changes, variant)
    files = load_kitchen(Path(written.plan.scenario_file))
    kitchen = changed_kitchen(files, whole)
    if written.by_handles:
        return kitchen_with_handles(kitchen, Handles.of_scenario(kitchen.scenario))
    return kitchen_as_named(written.plan, kitchen)


def before_of(plan: Plan, problem: Problem, start: Decisions) -> Before:
    """Return an earlier plan in terms of a problem, also plates whose dish it does not allow."""
    slot = {(problem.clients[s.client].client_id, s.day, s.meal): i
            for i, s in enumerate(problem.slots)}  # fmt: skip
    plates: dict[int, dict[tuple[str, str], float]] = {}
    for row in plan.portions:
        i = slot.get((row.client_id, row.day, row.meal))
        if i is not None:
            plate = plates.setdefault(i, {})
            key = (row.recipe_id, row.version)
            plate[key] = plate.get(key, 0.0) + row.servings
    return Before(plates, start.batches, start.packs)


def _nothing(
    found: Adjusted, kitchen: Kitchen, settings: SolveSettings
) -> NoCompliantWeek | NoPlanInTime:
    """Return why there is no plan."""
    if found.infeasible:
        explanation = explain(
            kitchen.catalog, kitchen.scenario, settings, seconds=settings.time_limit_s, proven=True
        )
        reasons = list(explanation.sentences)
        if kitchen.scenario.by_hand.plates or kitchen.scenario.by_hand.cooked:
            reasons.append("What is settled by hand was taken as given.")
        return NoCompliantWeek(reasons, explanation)
    text = (
        f"no week with these changes was found in {found.seconds:.1f} s; nothing is known to "
        "forbid one. Allow more time with --time-limit, or plan anew."
    )
    return NoPlanInTime(text)


def _broken(
    scenario: Scenario, problem: Problem, start: Decisions, found: Decisions, asked: frozenset[int]
) -> tuple[tuple[Rule, ...], bool]:
    """Return the rules broken by the plates that had to change alone, all others as before."""
    servings = dict(start.servings)
    servings |= {key: amount for key, amount in found.servings.items() if key[0] in asked}
    only = carried_out(problem, servings)
    if only is None:
        return (), True
    limits = limits_of(scenario)
    met = limits_met(problem, only, limits)
    unmet = frozenset(limits) - met
    rules = [
        rule.on_days(limit.key.day for limit in rule.limits if limit in unmet)
        if rule.daily
        else rule
        for rule in rules_of(scenario)
        if unmet & set(rule.limits)
    ]
    return tuple(rules), False
