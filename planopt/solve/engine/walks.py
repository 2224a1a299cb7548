"""Walks of the search: weeks put together day by day, from nothing, a plan, a guide or batches."""

from __future__ import annotations

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.engine.state import SearchState
from planopt.solve.heuristics.destroyrepair import LocalSearch
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.parameters import PARAMETERS

_WALKS = PARAMETERS.walks


def first_walk(state: SearchState, local: LocalSearch, seconds: float) -> None:
    """Put a first week together, and mend it until the kitchen can carry it out."""
    part = state.part(phase="first plan")
    if not local.start(budget=part):
        return
    trying = state.budget.part(_WALKS.first_share * seconds)
    tries = 0
    while tries < _WALKS.first_tries or (not trying.counted and not trying.over()):
        tries += 1
        if local.sound():
            realize(state, local)
        if state.best is not None or part.over():
            return
        local.improve(state.part(work=_WALKS.first_moves, phase="first plan"))


def walk(state: SearchState, local: LocalSearch, seconds: float, *, anew: bool = False) -> None:
    """Search by whole days from the best plan, or anew, then make its packs exact."""
    part = state.part(seconds, state.budget.by_work(_WALKS.moves_by_work))
    if not _begun(state, local, anew=anew):
        return
    local.improve(part)
    realize(state, local)


def _begun(state: SearchState, local: LocalSearch, *, anew: bool) -> bool:
    """Let a walk begin with a week; tell whether it has one."""
    guides = state.worker.guides
    if anew:
        local.clear()
        return local.start()
    if len(guides) > state.guides_walked:
        # A week that the relaxation likes: start anew from its cookings alone.
        state.guides_walked = len(guides)
        local.clear()
        return local.start(frozenset(range(len(state.problem.cookings))) - state.guide())
    if state.best is not None:
        local.load_servings(state.best.servings)
        return True
    return len(local.menus) == len(local.days)


def realize(state: SearchState, local: LocalSearch) -> None:
    """Make batches and packs of the walk's week exact, and offer the plan if it keeps all rules."""
    # The kitchen is asked whether it can; what clients may be served is the walk's own account.
    found = carried_out(state.problem, local.servings()) if local.within_rules() else None
    if found is not None:
        state.offer(found)
        state.tell("improving")


def whole_menus(
    whole: Problem, problem: Problem, tables: list[MenuTable], start: Decisions
) -> dict[tuple[int, int], DayMenu]:
    """Return the days of a week that are whole and within the windows of this problem.

    `start` is in terms of `whole`, of which `problem` is a restriction.
    """
    chosen = {}
    for (i, j), amount in start.servings.items():
        option = whole.slots[i].options[j]
        if option in problem.slots[i].options:
            chosen[i] = (problem.slots[i].options.index(option), amount)
    found = {}
    for g, group in enumerate(problem.groups):
        for d, slots in enumerate(group.slots):
            if not all(i in chosen and chosen[i][1] in tables[g].sizes for i in slots):
                continue
            amounts = [
                (problem.dishes[problem.slots[i].options[chosen[i][0]].dish], chosen[i][1])
                for i in slots
            ]
            if len({dish.recipe_id for dish, _ in amounts}) == len(amounts) and all(
                low - 1e-7 <= sum(dish.nutrients[n] * amount for dish, amount in amounts)
                and sum(dish.nutrients[n] * amount for dish, amount in amounts) <= high + 1e-7
                for n, (low, high) in group.windows.items()
            ):
                found[g, d] = DayMenu(g, tuple(chosen[i] for i in slots))
    return found
