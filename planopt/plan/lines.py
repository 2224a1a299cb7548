"""What a batch has of each food, after the choice of alternatives and optional lines."""

from __future__ import annotations

from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog
from planopt.plan.records import BatchLine, Chosen
from planopt.problem.dishes import Dish


def batch_lines(
    dish: Dish, catalog: Catalog, quantities: Quantities, count: float
) -> tuple[BatchLine, ...]:
    """Return the lines of so many batches of a dish."""
    chosen: dict[int, str] = {}
    for word in dish.version.split("+"):
        if word.endswith("-"):
            chosen[int(word[:-1])] = ""
        elif "=" in word:
            place, _, food = word.partition("=")
            chosen[int(place)] = food
    rows = []
    for index, line in enumerate(catalog.recipes[dish.recipe_id].lines):
        food_id = chosen.get(index, line.food)
        if not food_id:
            continue
        ratio = 1.0
        kind: Chosen = "optional" if line.optional else "as written"
        if index in chosen:
            kind = "alternative"
            ratio = next(alt.ratio for alt in line.alternatives if alt.food == food_id)
        grams = quantities.line_grams(line.food, line.amount, line.unit, line.state)
        rows.append(
            BatchLine(
                line=index,
                food_id=food_id,
                grams=round(grams * ratio * count, 6),
                part=line.part,
                chosen=kind,
            )
        )
    return tuple(rows)
