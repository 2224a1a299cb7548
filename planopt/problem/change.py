"""What a week changes of an earlier plan, plate by plate, and the price put on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from planopt.problem.build import Problem, Slot
from planopt.problem.decisions import Decisions

# A dish and how much of it: recipe, version -> servings.
Plate = dict[tuple[str, str], float]
Key = TypeVar("Key", bound=Hashable)

_EPS = 1e-6
# Another portion is told by a label, another dish by a person; common practice, no source.
_PORTION_SHARE, _BATCH_SHARE, _PACK_SHARE = 0.25, 0.5, 0.1


@dataclass(frozen=True)
class ChangePrices:
    """Money that a change is taken to cost.

    `dish`: another dish on a plate; `portion`: the same in another portion; `batch` and `pack`: one
    more or fewer.
    """

    dish: float
    portion: float
    batch: float
    pack: float


def prices_from(dish: float) -> ChangePrices:
    """Return the prices that go with that of a plate with another dish."""
    return ChangePrices(dish, _PORTION_SHARE * dish, _BATCH_SHARE * dish, _PACK_SHARE * dish)


@dataclass(frozen=True)
class Before:
    """An earlier plan in terms of a problem: `plates` by slot, `batches` and `packs` as there.

    Plates that the earlier plan did not have, such as those of a new client, are left out.
    """

    plates: dict[int, Plate] = field(default_factory=dict)
    batches: dict[int, float] = field(default_factory=dict)
    packs: dict[tuple[int, int], float] = field(default_factory=dict)


@dataclass(frozen=True)
class Changes:
    """What a week changes of what was before. `dishes` and `portions` are slots."""

    dishes: tuple[int, ...]
    portions: tuple[int, ...]
    batches: float
    packs: float

    def price(self, prices: ChangePrices) -> float:
        """Return what the changes are taken to cost."""
        return (
            prices.dish * len(self.dishes)
            + prices.portion * len(self.portions)
            + prices.batch * self.batches
            + prices.pack * self.packs
        )


def plate_of(problem: Problem, slot: Slot, served: dict[int, float]) -> Plate:
    """Return a plate from servings by option position; one dish of several cook days is one."""
    plate: defaultdict[tuple[str, str], float] = defaultdict(float)
    for j, servings in served.items():
        plate[problem.dishes[slot.options[j].dish].key] += servings
    return dict(plate)


def plates_of(problem: Problem, decisions: Decisions) -> dict[int, Plate]:
    """Return what a week has on each plate, by slot."""
    served: defaultdict[int, dict[int, float]] = defaultdict(dict)
    for (i, j), servings in decisions.servings.items():
        served[i][j] = servings
    return {i: plate_of(problem, problem.slots[i], found) for i, found in served.items()}


def changes_of(problem: Problem, before: Before, decisions: Decisions) -> Changes:
    """Return what a week changes of what was before."""
    after = plates_of(problem, decisions)
    dishes, portions = [], []
    for i, plate in sorted(before.plates.items()):
        now = after.get(i, {})
        if set(now) != set(plate):
            dishes.append(i)
        elif any(abs(now[key] - plate[key]) > _EPS for key in plate):
            portions.append(i)
    return Changes(
        dishes=tuple(dishes),
        portions=tuple(portions),
        batches=_apart(before.batches, decisions.batches),
        packs=_apart(before.packs, decisions.packs),
    )


def _apart(one: Mapping[Key, float], other: Mapping[Key, float]) -> float:
    return sum(abs(one.get(key, 0.0) - other.get(key, 0.0)) for key in one.keys() | other.keys())
