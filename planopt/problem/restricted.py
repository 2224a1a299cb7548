"""A problem restricted to some of its cookings."""

from __future__ import annotations

from dataclasses import replace

from planopt.problem.build import Option, Problem


def restrict(problem: Problem, cookings: set[Option]) -> Problem:
    """Return the problem with only some cookings; every plan of it is a plan of the whole."""
    slots = tuple(
        replace(slot, options=tuple(o for o in slot.options if o in cookings))
        for slot in problem.slots
    )
    kept = tuple(cooking for cooking in problem.cookings if cooking in cookings)
    return replace(problem, slots=slots, cookings=kept)
