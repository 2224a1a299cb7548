"""Free words of a catalog that look like slips of another: meals, aisles, food groups, parts.

No list of these is closed, so a word is judged by the others: one that is a single slip away from a
word that more records use, and that nobody uses beside it, is hardly meant.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping

from planopt.catalog.positions import Positions
from planopt.catalog.records import Catalog
from planopt.faults import Fault

_SHORTEST = 4
_USUAL_MEALS = frozenset({"breakfast", "lunch", "dinner", "snack"})


def slip_of(word: str, counts: Mapping[str, int], apart: Collection[str] = ()) -> str | None:
    """Return the word that is probably meant, None where the word stands for itself.

    `counts` tells how often each word is used; those in `apart` are certainly other words.
    """
    near = [
        other
        for other, count in sorted(counts.items())
        if count > counts.get(word, 0) and other not in apart and _one_slip(word, other)
    ]
    return max(near, key=lambda other: counts[other], default=None)


def _one_slip(word: str, other: str) -> bool:
    """Tell whether two words differ by a plural, one letter, or two letters swapped.

    Words that end in numbers or single letters (`snack_1`, `part_a`) are meant to differ there.
    """
    if min(len(word), len(other)) < _SHORTEST or word == other:
        return False
    (head, _, tail), (other_head, _, other_tail) = word.rpartition("_"), other.rpartition("_")
    if head == other_head and head and max(len(tail), len(other_tail)) < 3:
        return False
    if {word, other} & {f"{other}es", f"{word}es"}:
        return True
    short, long = sorted((word, other), key=len)
    if len(long) - len(short) == 1:
        return any(long[:n] + long[n + 1 :] == short for n in range(len(long)))
    if len(long) != len(short):
        return False
    differ = [n for n in range(len(long)) if long[n] != short[n]]
    if len(differ) == 1:
        return True
    return (
        len(differ) == 2
        and differ[1] == differ[0] + 1
        and long[differ[0]] == short[differ[1]]
        and long[differ[1]] == short[differ[0]]
    )


def recipe_meals(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """No meal is a single slip of the pen away from a meal that more recipes have."""
    recipes = catalog.recipes.values()
    counts = Counter(meal for recipe in recipes for meal in set(recipe.meals))
    # Where two are used as often, the usual word is the one that is meant.
    ranked = {meal: 2 * count + (meal in _USUAL_MEALS) for meal, count in counts.items()}
    for recipe in recipes:
        for index, meal in enumerate(recipe.meals):
            beside = {other for r in recipes if meal in r.meals for other in r.meals}
            meant = slip_of(meal, ranked, beside)
            if meant is not None:
                yield at.recipe(recipe.recipe_id, "meals", index).fault(
                    f"meals[{index}]",
                    meal,
                    f"recipes for {meant}: {counts[meant]}, for this: {counts[meal]}",
                    f"did you mean {meant!r}?",
                    "meal_near_another",
                )


def near_words(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    """Yield warnings of aisles, groups of foods and parts of dishes that look like slips."""
    aisles = Counter(food.aisle for food in catalog.foods.values())
    for food in catalog.foods.values():
        meant = slip_of(food.aisle, aisles)
        if meant is not None:
            yield at.row("foods", food.food_id).fault(
                "aisle",
                food.aisle,
                f"foods in {meant}: {aisles[meant]}, in this: {aisles[food.aisle]}",
                f"did you mean {meant!r}?",
                "aisle_near_another",
            )
    yield from _food_groups(catalog, at)
    for recipe in catalog.recipes.values():
        parts = Counter(line.part for line in recipe.lines)
        for index, line in enumerate(recipe.lines):
            meant = slip_of(line.part, parts)
            if meant is not None:
                yield at.recipe(recipe.recipe_id, "lines", index, "part").fault(
                    f"lines[{index}].part",
                    line.part,
                    f"lines of {meant} in this recipe: {parts[meant]}, of this: {parts[line.part]}",
                    f"did you mean {meant!r}?",
                    "part_near_another",
                )


def _food_groups(catalog: Catalog, at: Positions) -> Iterator[Fault]:
    counts = Counter(group for food in catalog.foods.values() for group in food.groups)
    for food in catalog.foods.values():
        for group in food.groups:
            meant = slip_of(group, counts, food.groups)
            if meant is not None:
                yield at.row("foods", food.food_id).fault(
                    "groups",
                    group,
                    f"foods in {meant}: {counts[meant]}, in this: {counts[group]}",
                    f"did you mean {meant!r}?",
                    "food_group_near_another",
                )


def nearest_served(meal: str, meals: Iterable[str]) -> str | None:
    """Return the meal that is meant where no recipe serves the one that is written."""
    return slip_of(meal, Counter(meals))
