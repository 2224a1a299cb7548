"""Why no week complies with too small a budget: the least one, what it clashes with, its repair."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from kitchens import write_kitchen
from planopt.faults import NoCompliantWeek
from planopt.pipeline import make_plan
from planopt.plan.records import Plan
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.solve.settings import SolveSettings
from planopt.whynot import explain as explaining
from planopt.whynot.conflict import Conflict
from planopt.whynot.explain import Explanation, explain
from planopt.whynot.leastbudget import budget_conflict, budget_rule, least_budget
from planopt.whynot.oracle import Answer, Deadline, Oracle
from planopt.whynot.rules import limits_in, rules_of

EXACT = SolveSettings(gap=0.0, time_limit_s=600.0, threads=1)


@pytest.fixture(scope="module")
def free(tmp_path_factory: pytest.TempPathFactory) -> Kitchen:
    """Return the tiny kitchen, in which only groceries cost anything."""
    return load_kitchen(write_kitchen(tmp_path_factory.mktemp("free"), waste_weight=0))


@pytest.fixture(scope="module")
def cheapest(free: Kitchen) -> Plan:
    """Return its proven cheapest week."""
    plan = make_plan(free, EXACT)
    assert plan.solution.status == "optimal"
    return plan


def with_budget(free: Kitchen, budget: str) -> Kitchen:
    """Return the kitchen with a budget."""
    return replace(free, scenario=free.scenario.model_copy(update={"budget": Decimal(budget)}))


def explained(
    free: Kitchen, budget: str, monkeypatch: pytest.MonkeyPatch, few: int = 0
) -> Explanation:
    """Return why a budget has no week, as for a kitchen with more than `few` options."""
    monkeypatch.setattr(explaining, "_FEW_OPTIONS", few)
    kitchen = with_budget(free, budget)
    return explain(kitchen.catalog, kitchen.scenario, EXACT, seconds=30.0)


def test_the_least_budget_is_that_of_the_cheapest_week(
    free: Kitchen, cheapest: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Found by another way, the proven least groceries are what is told; and it is repaired."""
    least = cheapest.solution.grocery_cost
    told = explained(free, "9.00", monkeypatch)
    assert told.least_budget is not None
    assert told.least_budget.found == least
    assert least - Decimal("0.05") <= told.least_budget.proven <= least
    first = told.sentences[0]
    assert first.startswith("The budget of 9.00 USD is too small for the other limits: a week ")
    assert (
        f"groceries for {least} USD is found, and below {told.least_budget.proven} USD is" in first
    )
    (repair,) = told.repairs
    assert repair.moves[0].after == float(least)
    assert repair.plan.solution.grocery_cost == least
    assert [rule.key.kind for rule in told.restores] == ["budget"]
    data = told.as_dict()["least_budget"]
    assert data == {"found": str(least), "proven": str(told.least_budget.proven)}


def test_what_the_budget_clashes_with_does_clash(free: Kitchen) -> None:
    """The rules named have no week together, by the oracle's exact answer, and few are named."""
    seen: set[int] = set()
    for budget in ("0.50", "5.00", "9.00"):
        kitchen = with_budget(free, budget)
        oracle = Oracle(kitchen.catalog, kitchen.scenario, EXACT, Deadline(EXACT, 60.0))
        least = least_budget(oracle, 5.0)
        assert least.forbids(float(budget))
        conflict = budget_conflict(oracle, least)
        assert conflict.proven == (budget_rule(kitchen.scenario),)
        seen.add(len(conflict.rules))
        fresh = Oracle(kitchen.catalog, kitchen.scenario, EXACT, Deadline(EXACT, 60.0))
        assert fresh.ask(limits_in(conflict.rules), 20.0) is Answer.NO
        without = [rule for rule in conflict.rules if rule.key.kind != "budget"]
        assert fresh.ask(limits_in(without), 20.0) is Answer.YES
    assert min(seen) == 1
    assert max(seen) < len(rules_of(free.scenario)) + 1


def test_a_budget_that_the_meals_alone_exceed_says_so(
    free: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a dollar does not pay for three days of anything, windows or not."""
    told = explained(free, "0.50", monkeypatch)
    assert told.sentences[1] == (
        "Even without any of the other limits the meals cost more than the budget."
    )
    assert told.conflict is not None
    assert told.conflict.minimal


def test_no_sentence_contradicts_a_repair(free: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    """A repair of one limit shows that this limit alone is in the way: nothing else clashes."""
    for few in (0, 10**6):
        told = explained(free, "9.00", monkeypatch, few)
        assert told.repairs
        text = " ".join(told.sentences)
        assert "Something else clashes" not in text
        assert "could not be decided" not in text
        repaired = {r.moves[0].rule.key for r in told.repairs if r.moves[0].rule is not None}
        assert repaired <= {rule.key for rule in told.restores}


def test_a_limit_repaired_restores_a_week_even_where_nobody_asked(
    free: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where time was short for the question of single limits, the repair itself answers it."""
    monkeypatch.setattr(explaining, "_restores", lambda whole, conflict: ())
    told = explained(free, "9.00", monkeypatch, 10**6)
    assert told.repairs
    assert [rule.key.kind for rule in told.restores] == ["budget"]
    assert not any("single one" in sentence for sentence in told.sentences)


def test_what_is_unknown_of_single_limits_is_not_called_proven(
    free: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without an answer the text says so; with the answer no for each, that something else is."""
    kitchen = with_budget(free, "9.00")
    oracle = Oracle(kitchen.catalog, kitchen.scenario, EXACT, Deadline(EXACT, 60.0))
    budget = budget_rule(kitchen.scenario)
    assert budget is not None
    conflict = Conflict((budget,), (), ())
    assert "could not be decided" in explaining._of_single_rules(oracle, conflict)
    oracle.assume_unmet(oracle.limits - set(budget.limits))
    assert "Something else clashes as well" in explaining._of_single_rules(oracle, conflict)


def test_no_budget_helps_where_no_week_exists(free: Kitchen) -> None:
    """With a window that no menu meets, the budget is not blamed."""
    client = free.scenario.clients[0]
    protein = client.windows_per_day["protein_g"].model_copy(update={"min": 900.0})
    windows = {**client.windows_per_day, "protein_g": protein}
    changed = client.model_copy(update={"windows_per_day": windows})
    scenario = free.scenario.model_copy(
        update={"budget": Decimal(9), "clients": (changed, *free.scenario.clients[1:])}
    )
    oracle = Oracle(free.catalog, scenario, EXACT, Deadline(EXACT, 60.0))
    assert least_budget(oracle, 5.0).infeasible
    with pytest.raises(NoCompliantWeek) as raised:
        make_plan(replace(free, scenario=scenario), EXACT)
    assert not any("budget" in reason.lower() for reason in raised.value.reasons[:1])
