"""Which parts of a dish share a box, and which need one of their own."""

from __future__ import annotations

from collections.abc import Iterable

from planopt.catalog.records import Recipe

MAIN = "main"


def boxes_of_parts(recipe: Recipe, parts: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Return the parts of each box of a portion; that with the main part is first.

    A dish eaten cold is in one box, one that is warmed in one for its main part and one for all
    that is added when eating. What `parts_apart` names is in a box of its own.
    """
    found = list(dict.fromkeys(parts))
    apart = set(recipe.parts_apart)
    if recipe.keeps.serve != "cold":
        apart.add(MAIN)
    together = tuple(part for part in found if part not in apart)
    boxes: list[tuple[str, ...]] = [(part,) for part in found if part in apart]
    if together:
        boxes.append(together)
    return tuple(sorted(boxes, key=lambda box: (MAIN not in box, found.index(box[0]))))
