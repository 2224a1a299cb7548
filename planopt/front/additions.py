"""What adds to a kitchen's files: add_food, add_recipe, add_price, add_client.

Answers are keywords, named as the options of the commands with underscores. What is missing or
wrong is told all at once; `prompt`, where it is given, is asked instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TypedDict, Unpack

from planopt.adding.asking import Asker, Prompt, id_text
from planopt.adding.clients import add_client as _add_client
from planopt.adding.foods import Added, choose
from planopt.adding.foods import add_food as _add_food
from planopt.adding.prices import add_price as _add_price
from planopt.adding.recipes import add_recipe as _add_recipe
from planopt.faults import BadOption, nearest
from planopt.front.sources import PathLike
from planopt.intake.columnmap import FoodsMap, read_map
from planopt.intake.composition import CompositionFood
from planopt.intake.fooddata import read_usda
from planopt.intake.mappedfoods import read_mapped_foods
from planopt.intake.nutritionlabel import read_label
from planopt.intake.sr28 import sr28_foods

Answer = str | float | None


class FoodAnswers(TypedDict, total=False):
    """Where a food's figures come from, and what no table tells of it."""

    composition: str | None
    table: PathLike | None
    column_map: PathLike | None
    label: PathLike | None
    serving_g: float | None
    name: str | None
    state: str | None
    edible_share: Answer
    density: Answer
    allergens: str | None
    aisle: str | None
    storage: str | None
    keeps_days: Answer
    opened_keeps_days: Answer
    safety_group: str | None


class RecipeAnswers(TypedDict, total=False):
    """What is known of a recipe besides its lines and steps; times in minutes."""

    name: str | None
    meals: str | None
    servings: Answer
    hands_on: Answer
    extra: Answer
    unattended: Answer
    hob: Answer
    oven: str | None
    kind: str | None
    fridge_days: Answer
    freezer_months: Answer
    serve: str | None


class PriceAnswers(TypedDict, total=False):
    """What is known of a pack and its price."""

    seller: str | None
    seller_name: str | None
    size: str | None
    price: object
    currency: str | None
    date: object
    sold: str | None


class ClientAnswers(TypedDict, total=False):
    """What is known of a client; ids with commas between."""

    name: str | None
    sex: str | None
    age: Answer
    allergens: str | None
    excluded_foods: str | None


def add_food(
    food_id: str,
    catalog: PathLike = "catalogs",
    *,
    prompt: Prompt | None = None,
    **answers: Unpack[FoodAnswers],
) -> Added:
    """Add a food with its composition, measures and keeping to a catalog.

    Raises:
        BadOption: an answer is missing, wrong or of an unknown name.
        BadInput: the catalog or a table cannot be read, or cannot take it.
    """
    given = _known(FoodAnswers, answers)
    new_id = _checked_id(food_id)
    label, table, column_map, serving_g = (
        given.pop(name, None) for name in ("label", "table", "column_map", "serving_g")
    )
    composition = given.pop("composition", None)
    asker = _asker(given, prompt)
    plain = str(given.get("name") or food_id).replace("_", " ")
    if label is not None:
        read = read_label(
            Path(str(label)), plain, None if serving_g is None else float(str(serving_g))
        )
        added = _add_food(Path(catalog), new_id, read.food, asker)
        unused = "Lines of the label that were not used: " + "; ".join(read.not_used)
        lines = (*added.lines, unused) if read.not_used else added.lines
        return Added(lines, added.warnings)
    foods = _foods(table, column_map)
    source = choose(foods, str(composition or plain), asker)
    return _add_food(Path(catalog), new_id, source, asker)


def add_recipe(
    recipe_id: str,
    lines: Sequence[str] = (),
    steps: Sequence[str] = (),
    catalog: PathLike = "catalogs",
    *,
    prompt: Prompt | None = None,
    **answers: Unpack[RecipeAnswers],
) -> Added:
    """Add a recipe file to a catalog; lines as `200 g oats_rolled`, steps as sentences.

    Raises:
        BadOption: an answer is missing, wrong or of an unknown name.
        BadInput: the catalog cannot take it; the file is then not written.
    """
    asker = _asker(_known(RecipeAnswers, answers), prompt)
    return _add_recipe(Path(catalog), _checked_id(recipe_id), lines, steps, asker)


def add_price(
    food_id: str,
    catalog: PathLike = "catalogs",
    *,
    prompt: Prompt | None = None,
    **answers: Unpack[PriceAnswers],
) -> Added:
    """Add a pack with its price to a catalog, with its seller where that is new.

    Raises:
        BadOption: an answer is missing, wrong or of an unknown name.
        BadInput: the catalog cannot take it; its files are then as they were.
    """
    asker = _asker(_known(PriceAnswers, answers), prompt)
    return _add_price(Path(catalog), food_id, asker, date.today())


def add_client(
    scenario: PathLike,
    client_id: str,
    windows: Sequence[str] = (),
    *,
    prompt: Prompt | None = None,
    **answers: Unpack[ClientAnswers],
) -> Added:
    """Add a client to a scenario, or to its roster; windows as `energy_kcal 1800-2100`.

    Raises:
        BadOption: an answer is missing, wrong or of an unknown name.
        BadInput: the scenario cannot take it; the file is then as it was.
    """
    given = _known(ClientAnswers, answers)
    excluded = given.pop("excluded_foods", None)
    lists = {"excluded_foods": None if excluded is None else str(excluded)}
    new_id = _checked_id(client_id)
    return _add_client(Path(scenario), new_id, windows, lists, _asker(given, prompt))


def _known(kind: type, answers: Mapping[str, object]) -> dict[str, object]:
    known = kind.__annotations__
    for name in answers:
        if name not in known:
            raise BadOption(f"there is no answer {name!r}; {nearest(name, known)}")
    return dict(answers)


def _asker(given: Mapping[str, object], prompt: Prompt | None) -> Asker:
    texts = {
        name.replace("_", "-"): None if value is None else str(value)
        for name, value in given.items()
    }
    return Asker(texts, prompt)


def _checked_id(text: str) -> str:
    try:
        return id_text(text)
    except ValueError as error:
        raise BadOption(f"{text}: {error}") from error


def _foods(table: object, column_map: object) -> list[CompositionFood]:
    if table is None:
        if column_map is not None:
            raise BadOption("--map goes with --table")
        return list(sr28_foods())
    path = Path(str(table))
    if column_map is not None:
        return read_mapped_foods(path, read_map(Path(str(column_map)), FoodsMap))
    return read_usda(path)
