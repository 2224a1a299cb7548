"""Find rules that clash and of which none can go: whatever can be left out is left out.

Cheap proofs come first: a day without a menu, then the LP relaxation. What they leave is tried rule
by rule with the oracle. Every rule that is taken out rests on a proof, and every rule that is kept
as needed rests on a week that was found without it.

Method: irreducible infeasible subset by a deletion filter, in chunks that are halved.
Source: Chinneck and Dravnieks, ORSA Journal on Computing 3 (1991); the chunks as in Zeller and
Hildebrandt, Simplifying and isolating failure-inducing input, IEEE Transactions on Software
Engineering 28 (2002). Both from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from planopt.model.daymenus import MenuTable, supports_menus
from planopt.problem.build import build_problem
from planopt.problem.limits import Limit, with_limits
from planopt.scenario.records import Scenario
from planopt.solve.limits.deletionfilter import LpCore
from planopt.whynot.oracle import Answer, Oracle
from planopt.whynot.rules import Rule, limits_in, rules_of

_SECONDS_A_QUESTION = 5.0
_FOR_PROOFS = 0.7

Groups = list[tuple[Rule, ...]]


@dataclass(frozen=True)
class Conflict:
    """Rules that cannot be met together.

    `proven` has the rules whose leaving out was shown, by a week found, to end this conflict;
    where it has them all, the set is minimal. `days` are the days on which it clashes already by
    itself, none where only the days together clash.
    """

    rules: tuple[Rule, ...]
    proven: tuple[Rule, ...]
    days: tuple[int, ...]

    @property
    def minimal(self) -> bool:
        """Tell whether no rule can be left out of the set."""
        return set(self.proven) == set(self.rules)


def find_conflict(oracle: Oracle) -> Conflict | None:
    """Return a conflict of the oracle's scenario, or None if its rules are not known to clash."""
    rules = rules_of(oracle.scenario)
    if oracle.ask(oracle.limits, _SECONDS_A_QUESTION * 2) is not Answer.NO:
        return None

    def asked(limits: Iterable[Limit]) -> bool:
        return oracle.ask(limits, _SECONDS_A_QUESTION) is Answer.NO

    days = clashing_days(oracle, rules)
    if days:
        # One day tells it all, and is quickly answered; the others clash alike.
        def on_first_day(limits: Iterable[Limit]) -> bool:
            return _no_menu(oracle, frozenset(limits), days[0])

        groups = _coarse(oracle.scenario, [_narrowed(rule, days[:1]) for rule in rules])
        groups = _single(_shrunk(on_first_day, groups))
        kept = {rule.key for (rule,) in _shrunk(on_first_day, groups)}
        chosen = tuple(rule for rule in rules if rule.key in kept)
        days = clashing_days(oracle, chosen, days[0])
    else:
        groups = _single(_shrunk(asked, _lp_core(oracle, rules) or _coarse(oracle.scenario, rules)))
        chosen = tuple(rule for (rule,) in _shrunk(asked, groups))
        days = ()
    oracle.deadline.share(_FOR_PROOFS)
    proven = _needed(oracle, chosen, days)
    if len(proven) < len(chosen) and len(days) > 1:
        # Days may clash for different reasons; the first one is told for certain.
        alone = _needed(oracle, chosen, days[:1])
        if len(alone) > len(proven):
            proven, days = alone, days[:1]
    return Conflict(chosen, proven, days)


def _needed(oracle: Oracle, rules: tuple[Rule, ...], days: tuple[int, ...]) -> tuple[Rule, ...]:
    """Return the rules that are needed: for each a week was found that keeps all the others."""
    parts = [_narrowed(rule, days) if days else rule for rule in rules]
    found = []
    for left, rule, part in zip(range(len(rules), 0, -1), rules, parts, strict=True):
        # A week of all other limits shows the same, and more; so that is asked first.
        seconds = min(_SECONDS_A_QUESTION, oracle.deadline.left() / (2 * left - 1))
        wider = oracle.ask(oracle.limits - set(rule.limits), seconds)
        others = limits_in(other for other in parts if other is not part)
        if wider is Answer.YES or oracle.ask(others, seconds) is Answer.YES:
            found.append(rule)
    return tuple(found)


def _narrowed(rule: Rule, days: Sequence[int]) -> Rule:
    return rule.on_days(days) if rule.daily else rule


def _single(groups: Groups) -> Groups:
    return [(rule,) for group in groups for rule in group]


def _coarse(scenario: Scenario, rules: Sequence[Rule]) -> Groups:
    """Group rules that mostly leave together: exclusions, a client's meals, sides of a window."""
    groups: dict[object, list[Rule]] = {}
    for rule in rules:
        key = rule.key
        if not rule.relaxable:
            groups.setdefault(("excluded", key.client), []).append(rule)
        elif key.kind == "meal_window":
            groups.setdefault((key.kind, key.client), []).append(rule)
        elif key.kind == "window":
            groups.setdefault((key.client, key.what, key.day, rule.daily), []).append(rule)
        elif key.client == "" and key.kind != "budget":
            groups.setdefault(("cook day", key.day), []).append(rule)
        else:
            groups.setdefault(key, []).append(rule)
    order = {client.client_id: n for n, client in enumerate(scenario.clients)}
    # Client by client, so that a chunk of the deletion is mostly one client's.
    return [
        tuple(group)
        for group in sorted(groups.values(), key=lambda g: order.get(g[0].key.client, -1))
    ]


def _shrunk(clash: Callable[[Iterable[Limit]], bool], groups: Groups) -> Groups:
    """Leave out groups, half of them at first and then ever fewer, while the rest still clashes.

    A group stays if the oracle has no answer in time; it is then not proven to be needed.
    """
    kept = list(groups)
    size = max(1, len(kept) // 2)
    while True:
        start = 0
        while start < len(kept):
            rest = kept[:start] + kept[start + size :]
            if clash(limits_in(rule for group in rest for rule in group)):
                kept = rest
            else:
                start += size
        if size == 1:
            return kept
        size = (size + 1) // 2


def _lp_core(oracle: Oracle, rules: Sequence[Rule]) -> Groups | None:
    """Return rules that clash in the LP relaxation, exclusions left out if the rest still clashes.

    None where the relaxation has no clash.
    """
    quick = oracle.settings.model_copy(update={"options": {}})
    excluded = tuple(rule for rule in rules if not rule.relaxable)
    for held in ((), excluded) if excluded else ((),):
        others = limits_in(rule for rule in rules if rule.relaxable) | limits_in(held)
        limited = with_limits(oracle.scenario, others)
        problem = build_problem(oracle.catalog, limited, fitting_only=False)
        core = LpCore(problem, [rule.limits for rule in rules], quick).core(oracle.deadline.over)
        if core is not None:
            groups: Groups = [(rules[n],) for n in core]
            return [*groups, held] if held else groups
    return None


def clashing_days(
    oracle: Oracle, rules: Iterable[Rule], known: int | None = None
) -> tuple[int, ...]:
    """Return the days on which the windows of some rules leave a client no menu.

    Without a `known` day, looking ends at the first one; with it, all others are looked at as long
    as there is time.
    """
    limits = limits_in(rules)
    kinds = ("window", "meal_window")
    days = sorted({limit.key.day for limit in limits if limit.key.kind in kinds})
    found = [] if known is None else [known]
    for day in days:
        if found and (known is None or oracle.deadline.over()):
            break
        if day > 0 and day != known and _no_menu(oracle, limits, day):
            found.append(day)
    return tuple(sorted(found))


def _no_menu(oracle: Oracle, limits: frozenset[Limit], day: int) -> bool:
    """Tell whether the limits leave some client no menu on a day."""
    problem = build_problem(oracle.catalog, with_limits(oracle.scenario, limits))
    if problem.outline is not None or not supports_menus(problem):
        return False
    for g, group in enumerate(problem.groups):
        asked = day in group.days and all(problem.slots[i].options for i in group.slots[0])
        if asked and not MenuTable(problem, g).possible():
            return True
    return False
