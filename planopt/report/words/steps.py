"""The steps of a dish as the cook reads them: the foods chosen, amounts for all the batches."""

from __future__ import annotations

from dataclasses import replace
from difflib import SequenceMatcher

from planopt.catalog.dishtext import CookedVersion, SaidStep, steps_of
from planopt.catalog.records import Catalog, Recipe
from planopt.plan.records import Batch, Plan
from planopt.report.words.kitchen import kitchen_amount
from planopt.report.words.plain import food_name, number
from planopt.report.words.scaled import scaled

# A spare share smaller than this is dust of the solver and gets no box.
_SPARE_SERVINGS = 0.005


def _in_text(amount: str, grams: float) -> str:
    """Return an amount as it stands before a food: pieces are bare numbers, else grams at least."""
    if not amount:
        return f"{number(grams, 0 if grams >= 20 else 1)} g"
    for word in (" pieces", " piece"):
        amount = amount.removesuffix(word)
    return amount


def boxes_of(plan: Plan, batch: Batch) -> int:
    """Return how many boxes a batch is packed into: one a portion, one more for what is spare."""
    portions = sum(
        (p.recipe_id, p.version, p.cook_day) == (batch.recipe_id, batch.version, batch.cook_day)
        for p in plan.portions
    )
    return portions + (batch.servings_left > _SPARE_SERVINGS)


def dish_steps(
    plan: Plan, catalog: Catalog, recipe: Recipe | None, batch: Batch, boxes: int | None = None
) -> list[SaidStep]:
    """Return the steps of a batch in words; none where the catalog lacks the recipe.

    `boxes` is how many it is packed into, None = as the plan has it.
    """
    if recipe is None:
        return []
    amounts = {
        line.line: _in_text(kitchen_amount(catalog, recipe, line, batch.batches), line.grams)
        for line in batch.lines
    }
    cooked = CookedVersion(
        servings=batch.servings,
        batches=batch.batches,
        boxes=boxes_of(plan, batch) if boxes is None else boxes,
        amounts=amounts,
        number=lambda count: number(count, 2),
    )
    foods = [(food_name(catalog, line.food_id), line.grams) for line in batch.lines]
    said = steps_of(recipe, batch.version, catalog, cooked)
    return [replace(step, do=scaled(step.do, foods)) for step in said]


def changed_steps(
    plan: Plan, catalog: Catalog, recipe: Recipe, batch: Batch, after: Batch
) -> list[str]:
    """Return what is done otherwise when a batch is cooked as another version, step by step."""
    boxes = boxes_of(plan, batch)
    old = [step.do for step in dish_steps(plan, catalog, recipe, batch, boxes)]
    new = [step.do for step in dish_steps(plan, catalog, recipe, after, boxes)]
    lines: list[str] = []
    for kind, i, i_end, j, j_end in SequenceMatcher(None, old, new, False).get_opcodes():
        if kind != "equal":
            lines += [f"Leave out step {n + 1}." for n in range(i + (j_end - j), i_end)]
            lines += [
                f"Step {i + n + 1}: {text}" if n < i_end - i else f"After step {i_end}: {text}"
                for n, text in enumerate(new[j:j_end])
            ]
    return lines
