"""Meals that no dish can serve: the plainest reason why no week complies."""

from __future__ import annotations

from planopt.problem.build import Problem


def empty_meals(problem: Problem) -> list[str]:
    """Return a sentence for each meal that no dish can serve."""
    found = []
    for slot in problem.slots:
        if not slot.options:
            client = problem.clients[slot.client]
            found.append(
                f"{client.name}, {problem.scenario.date_of(slot.day)} {slot.meal}: no dish may be "
                "eaten, is ready and still keeps; add a cook day, recipes or freezer use."
            )
    return found
