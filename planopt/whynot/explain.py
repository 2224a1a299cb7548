"""Explain why no week complies: the clash in the user's words, and what would end it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from planopt.catalog.records import Catalog
from planopt.problem.build import Problem, build_problem
from planopt.problem.limits import WHOLE_PLAN, limits_of
from planopt.problem.unserved import unserved_meals
from planopt.scenario.records import Scenario
from planopt.scenario.references import guarded
from planopt.solve.settings import SolveSettings
from planopt.whynot.conflict import Conflict, find_conflict
from planopt.whynot.leastbudget import LeastBudget, budget_conflict, budget_rule, least_budget
from planopt.whynot.oracle import Answer, Deadline, Oracle
from planopt.whynot.repairs import Move, Repair, find_repairs
from planopt.whynot.rules import Rule, limits_in
from planopt.whynot.words import RuleWords

EXPLAIN_SECONDS = 30.0
_FOR_THE_CLASH = 0.4
_SECONDS_A_CLIENT = 4.0
_SECONDS_FOR_BUDGET = 10.0
_FEW_OPTIONS = 400


@dataclass(frozen=True)
class Explanation:
    """Why no week complies.

    `conflict` is None where none could be found in the time given; `client` is the one who has no
    week even alone, where it was found so. `restores` has the rules of the conflict that, left out
    alone, were shown to give the whole scenario a week; none where other rules clash as well.
    `least_budget` is what was found where the budget was looked into by itself. `sentences` tell
    all of it.
    """

    conflict: Conflict | None
    restores: tuple[Rule, ...]
    repairs: tuple[Repair, ...]
    sentences: tuple[str, ...]
    seconds: float
    client: str | None = None
    least_budget: LeastBudget | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the explanation as plain data, for JSON."""
        conflict = self.conflict
        return {
            "sentences": list(self.sentences),
            "alone": self.client,
            "conflict": [rule_dict(rule) for rule in conflict.rules] if conflict else None,
            "minimal": conflict.minimal if conflict else None,
            "clashing_days": list(conflict.days) if conflict else [],
            "restores_a_week": [rule_dict(rule) for rule in self.restores],
            "repairs": [
                {
                    "moves": [_move_dict(move) for move in repair.moves],
                    "least": repair.least,
                    "at_least": repair.at_least,
                    "share": round(repair.size, 6),
                    "objective": str(repair.plan.solution.objective),
                }
                for repair in self.repairs
            ],
            "least_budget": None
            if self.least_budget is None
            else {
                "found": None if self.least_budget.found is None else str(self.least_budget.found),
                "proven": str(self.least_budget.proven),
            },
            "seconds": round(self.seconds, 3),
        }


def rule_dict(rule: Rule) -> dict[str, Any]:
    """Return a rule as plain data, for JSON."""
    key = rule.key
    return {
        "kind": key.kind,
        "client": key.client or None,
        "what": key.what or None,
        "side": key.side or None,
        **({"meal": key.meal} if key.meal else {}),
        "day": None if key.day == WHOLE_PLAN else key.day,
        "every_day": rule.daily,
        "value": rule.value,
    }


def _move_dict(move: Move) -> dict[str, Any]:
    return {
        "what": move.what,
        "rule": None if move.rule is None else rule_dict(move.rule),
        "client": move.client or None,
        "days": list(move.days),
        "before": move.before,
        "after": move.after,
    }


_NOT_FOUND = (
    "Which of the limits clash could not be found in the time given; allow more with --time-limit."
)


def explain(
    catalog: Catalog,
    scenario: Scenario,
    settings: SolveSettings | None = None,
    *,
    seconds: float = EXPLAIN_SECONDS,
    proven: bool = False,
) -> Explanation:
    """Explain why no week of a scenario complies; `proven` tells that this is known already.

    With a work limit in the settings, nodes are counted instead of seconds.
    """
    settings = settings or SolveSettings()
    asked, scenario = scenario, guarded(catalog, scenario)
    deadline = Deadline(settings, seconds)
    whole = Oracle(catalog, scenario, settings, deadline)
    if proven:
        whole.assume_unmet(limits_of(scenario))
    words = RuleWords(catalog, scenario)
    problem = build_problem(catalog, scenario)
    clash = _clash(whole, problem)
    found = words.unserved(unserved_meals(catalog, scenario, problem))
    conflict = clash.conflict
    if conflict is None:
        return Explanation(None, (), (), tuple(found or [_NOT_FOUND]), deadline.spent())
    unserved = bool(found)
    if clash.budget is not None and clash.too_small is not None:
        found += words.least_budget(clash.too_small, clash.budget, conflict)
    else:
        found += words.conflict(conflict)
    found += _guards_in(asked, conflict, words)
    if not conflict.rules and not found:
        found.append(
            "No limit is needed for the clash: recipes, keeping times, portions and cook days "
            "leave no week even without any limit."
        )
    restores = _restores(whole, conflict)
    whole.deadline.share(1.0)
    repairs = tuple(find_repairs(whole, conflict, clash.too_small))
    # A limit that only has to give is also one without which there is a week.
    moved = {repair.moves[0].rule for repair in repairs if len(repair.moves) == 1}
    restores = tuple(rule for rule in conflict.rules if rule in restores or _in(rule, moved))
    if conflict.rules and not restores:
        found.append(_of_single_rules(whole, conflict))
    found += _what_helps(words, conflict, restores, repairs, unserved=unserved)
    return Explanation(
        conflict, restores, repairs, tuple(found), deadline.spent(), clash.client, clash.least
    )


@dataclass(frozen=True)
class _Clash:
    """What clashes, and of which client alone; the least budget, where it was looked for.

    `too_small` is that budget where it is above the scenario's, `budget`.
    """

    conflict: Conflict | None
    client: str | None = None
    least: LeastBudget | None = None
    too_small: LeastBudget | None = None
    budget: Rule | None = None


def _clash(whole: Oracle, problem: Problem) -> _Clash:
    """Find what clashes: the budget with all else, where it is proven too small, or any limits."""
    least, budget = _least_budget(whole, problem), budget_rule(whole.scenario)
    if least is not None and budget is not None and least.forbids(budget.value):
        return _Clash(budget_conflict(whole, least), None, least, least, budget)
    conflict, client = _conflict(whole)
    return _Clash(conflict, client, least)


def _what_helps(
    words: RuleWords,
    conflict: Conflict,
    restores: Sequence[Rule],
    repairs: Sequence[Repair],
    *,
    unserved: bool,
) -> list[str]:
    """Return sentences on what would suffice, or that nothing was found."""
    if repairs:
        told = [f"- {words.repair(repair)}" for repair in repairs]
        return ["What would suffice, the smallest change first:", *told]
    if restores:
        named = "; ".join(words.rules(restores, conflict.days))
        return [
            f"Without this a week is found: {named}. By how much it has to give was not found in "
            "the time given."
        ]
    if conflict.rules or not unserved:
        return ["No single change that suffices was found in the time given."]
    return []


def _in(rule: Rule, moved: Iterable[Rule | None]) -> bool:
    return any(other is not None and other.key == rule.key for other in moved)


def _of_single_rules(whole: Oracle, conflict: Conflict) -> str:
    """Say what is known of leaving out one rule, where no single rule is known to end the clash."""
    if all(whole.ask(whole.limits - limits_in([r]), 0.0) is Answer.NO for r in conflict.rules):
        return "Something else clashes as well: it is proven that no single one of these may go."
    return (
        "Whether leaving out a single one of these would be enough could not be decided in the "
        "time given."
    )


def _least_budget(whole: Oracle, problem: Problem) -> LeastBudget | None:
    """Return the least budget of a large kitchen, where finding a clash takes long; else None."""
    options = sum(len(slot.options) for slot in problem.slots)
    empty = any(not slot.options for slot in problem.slots)
    if whole.scenario.budget is None or options <= _FEW_OPTIONS or empty:
        return None
    return least_budget(whole, min(_SECONDS_FOR_BUDGET, whole.deadline.left() / 3))


def _guards_in(asked: Scenario, conflict: Conflict, words: RuleWords) -> list[str]:
    """Return a sentence on the limits of the clash that come from `nutrient_guard` alone."""
    by_id = {client.client_id: client for client in asked.clients}
    rules = [
        rule
        for rule in conflict.rules
        if rule.key.kind == "window"
        and not rule.daily
        and rule.key.day == WHOLE_PLAN
        and by_id[rule.key.client].nutrient_guard == "limit"
        and getattr(by_id[rule.key.client].windows_per_week.get(rule.key.what), rule.key.side, None)
        != rule.value
    ]
    if not rules:
        return []
    return [
        "Set by nutrient_guard: limit, from published reference intakes for the days eaten: "
        + "; ".join(words.rules(rules))
        + "."
    ]


def _conflict(whole: Oracle) -> tuple[Conflict | None, str | None]:
    """Find a conflict of one client alone, and say whose; else one of all clients together."""
    clients = whole.scenario.clients
    whole.deadline.share(_FOR_THE_CLASH)
    if len(clients) > 1:
        for client in clients:
            alone = Oracle(
                whole.catalog,
                whole.scenario.model_copy(update={"clients": (client,)}),
                whole.settings,
                whole.deadline,
            )
            if alone.ask(alone.limits, _SECONDS_A_CLIENT) is Answer.NO:
                return find_conflict(alone), client.client_id
    return find_conflict(whole), None


def _restores(whole: Oracle, conflict: Conflict) -> tuple[Rule, ...]:
    return tuple(
        rule
        for rule in conflict.rules
        if whole.ask(whole.limits - limits_in([rule]), whole.deadline.left() / 8) is Answer.YES
    )
