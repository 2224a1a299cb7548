"""What sharing a kitchen saves against each client shopping and cooking alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from planopt.plan.records import Plan


@dataclass(frozen=True)
class Saving:
    """All counted costs of a shared kitchen and of its clients alone, each with its proven bound.

    `missing` names clients without a plan alone; then the sums lack them and nothing is concluded.
    """

    kitchen_id: str
    name: str
    clients: int
    shared: Decimal
    shared_bound: Decimal
    separate: Decimal
    separate_bound: Decimal
    missing: tuple[str, ...]

    @property
    def found(self) -> Decimal | None:
        """Return what the plans found save: separate - shared."""
        return None if self.missing else self.separate - self.shared

    @property
    def at_least(self) -> Decimal | None:
        """Return what this plan is proven to save at least, even against the best plans alone.

        Negative when the proofs are not close enough to say that sharing saves.
        """
        return None if self.missing else self.separate_bound - self.shared

    @property
    def at_most(self) -> Decimal | None:
        """Return a proven upper limit of what a shared kitchen can save over these plans alone."""
        return None if self.missing else self.separate - self.shared_bound


def saving_of(
    kitchen_id: str, name: str, plan: Plan, alone: Mapping[str, Plan], names: Mapping[str, str]
) -> Saving:
    """Return the saving of a shared plan over the plans of its clients alone."""
    eaters = sorted({portion.client_id for portion in plan.portions})
    solutions = [alone[client_id].solution for client_id in eaters if client_id in alone]
    return Saving(
        kitchen_id=kitchen_id,
        name=name,
        clients=len(eaters),
        shared=plan.solution.objective,
        shared_bound=plan.solution.best_bound,
        separate=sum((s.objective for s in solutions), Decimal(0)),
        separate_bound=sum((s.best_bound for s in solutions), Decimal(0)),
        missing=tuple(names.get(c, c) for c in eaters if c not in alone),
    )
