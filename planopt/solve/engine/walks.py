"""Walks of the search: weeks put together day by day, from nothing, a plan, a guide or batches."""

from __future__ import annotations

from planopt.model.daymenus import DayMenu, MenuTable
from planopt.problem.build import Problem
from planopt.problem.decisions import Decisions
from planopt.solve.engine.state import SearchState
from planopt.solve.heuristics.tidy import carried_out
from planopt.solve.settings import SolveSettings

MOST_MOVES = 10**6
_WALK_MOVES = 200
_FIRST_TRIES = 8
_FIRST_MOVES = 15
_FIRST_SHARE = 0.25


def first_walk(state: SearchState, settings: SolveSettings, seconds: float) -> None:
    """Put a first week together, and mend it until the kitchen can carry it out."""
    local = state.local
    assert local is not None

    def over() -> bool:
        state.tell("first plan")
        return state.over()

    if not local.start(over=over):
        return
    began, tries = state.clock.seconds(), 0
    while tries < _FIRST_TRIES or (
        settings.work_limit is None and state.clock.seconds() < began + _FIRST_SHARE * seconds
    ):
        tries += 1
        if local.sound():
            realize(state)
        if state.best is not None or over():
            return
        local.improve(over, _FIRST_MOVES)


def walk(
    state: SearchState, settings: SolveSettings, seconds: float, *, anew: bool = False
) -> None:
    """Search by whole days from the best plan, or anew, then make its packs exact."""
    local = state.local
    assert local is not None
    began = state.clock.seconds()
    clocked = settings.work_limit is None

    def over() -> bool:
        state.tell("improving" if state.best is not None else "first plan")
        return state.over() or (clocked and state.clock.seconds() > began + seconds)

    def spent() -> float:
        return (state.clock.seconds() - began) / max(seconds, 1e-9)

    guides = state.worker.guides
    if anew:
        local.clear()
        if not local.start():
            return
    elif len(guides) > state.guides_walked:
        # A week that the relaxation likes: start anew from its cookings alone.
        state.guides_walked = len(guides)
        local.clear()
        if not local.start(frozenset(range(len(state.problem.cookings))) - state.guide()):
            return
    elif state.best is not None:
        local.load_servings(state.best.servings)
    elif len(local.menus) < len(local.days):
        return
    if clocked:
        local.improve(over, MOST_MOVES, spent)
    else:
        local.improve(over, _WALK_MOVES)
    realize(state)


def realize(state: SearchState) -> None:
    """Make batches and packs of the walk's week exact, and offer the plan if it keeps all rules."""
    local = state.local
    assert local is not None
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
