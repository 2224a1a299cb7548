"""Names and steps of hand-made recipes, for each version and number of batches."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitchens import edited, tiny_catalog_files, write_catalog
from planopt.audit.conversions import Conversions
from planopt.audit.dishes import make_dish
from planopt.catalog.dishtext import (
    CookedVersion,
    TextUnreadable,
    added_words,
    counted,
    dish_name,
    foods_of,
    parse_text,
    steps_of,
    version_of,
)
from planopt.catalog.load import read_catalog
from planopt.catalog.plainwords import mentions
from planopt.catalog.records import Alternative, Catalog, Line, Recipe, Step
from planopt.plan.records import Batch, BatchLine
from planopt.report.words.locale import Display, showing
from planopt.report.words.steps import changed_steps, dish_steps
from report_samples import sample_catalog, sample_plan


def _recipe(**changes: object) -> Recipe:
    """Return a bake with a choice of fish and parsley that may be left out."""
    recipe = sample_catalog().recipes["fish_bake"]
    lines = (
        Line(
            food="cod",
            amount=Decimal(600),
            unit="g",
            key="fish",
            called="cod",
            alternatives=(Alternative(food="haddock", ratio=0.9),),
        ),
        Line(food="potato", amount=Decimal("1.5"), unit="cup", key="potatoes"),
        Line(food="parsley", amount=Decimal(10), unit="g", optional=True, key="green"),
    )
    steps = (
        Step(do="Skin the {fish}.", only_with=("haddock",)),
        Step(do="{fish} goes in. Bake {fish amount} of it[, with the {green},] until it flakes."),
        Step(do="Cut into {servings wedges} for {boxes boxes}, from {batches dishes}."),
        Step(do="Chop the {green}.", only_with=("green",), until_internal_c=63),
        Step(do="Add salt instead.", without=("parsley",)),
    )
    return recipe.model_copy(
        update={"name": "{fish} bake[ with {green}]", "lines": lines, "steps": steps, **changes}
    )


def _said(version: str, **cooked: object) -> list[str]:
    facts: dict[str, object] = {"servings": 4, "batches": 1, "boxes": 3, "amounts": {0: "600 g"}}
    steps = steps_of(_recipe(), version, sample_catalog(), CookedVersion(**{**facts, **cooked}))  # type: ignore[arg-type]
    return [step.do for step in steps]


@pytest.mark.parametrize(
    ("version", "name"),
    [
        ("base", "Cod bake with parsley"),
        ("0=haddock", "Haddock fillet bake with parsley"),
        ("2-", "Cod bake"),
        ("0=haddock+2-", "Haddock fillet bake"),
    ],
)
def test_a_name_says_the_foods_of_its_version(version: str, name: str) -> None:
    """The choice is named, the optional food with its words only where it is in."""
    recipe, catalog = _recipe(), sample_catalog()
    assert dish_name(recipe, version, catalog) == name
    assert added_words(recipe, version, catalog) == ""


@pytest.mark.parametrize(
    ("version", "words"),
    [
        ("base", "with parsley"),
        ("0=haddock", "with haddock fillet and parsley"),
        ("2-", ""),
        ("0=haddock+2-", "with haddock fillet"),
        ("9=haddock", "9=haddock"),
    ],
)
def test_what_a_name_does_not_say_follows_it(version: str, words: str) -> None:
    """Words are added for what is in the dish, never for what is not."""
    assert added_words(_recipe(name="Plain bake"), version, sample_catalog()) == words


def test_a_name_in_plain_words_is_put_right() -> None:
    """Where the name names what is not there, of which check warns, the words say so."""
    catalog = sample_catalog()
    recipe = _recipe(name="Cod bake with parsley")
    assert added_words(recipe, "base", catalog) == ""
    assert (
        added_words(recipe, "0=haddock+2-", catalog)
        == "with haddock fillet instead of cod, without parsley"
    )


def test_steps_follow_the_version() -> None:
    """A step tied to a food vanishes with it, words in brackets too."""
    assert _said("base") == [
        "Cod goes in. Bake 600 g of it, with the parsley, until it flakes.",
        "Cut into 4 wedges for 3 boxes, from 1 dish.",
        "Chop the parsley.",
    ]
    assert _said("0=haddock+2-", servings=2, batches=0.5, boxes=1) == [
        "Skin the haddock fillet.",
        "Haddock fillet goes in. Bake 600 g of it until it flakes.",
        "Cut into 2 wedges for 1 box, from 1 dish.",
        "Add salt instead.",
    ]


def test_a_version_that_is_none_reads_as_written() -> None:
    """A plan of another catalog still shows steps, those of the recipe as written."""
    assert _said("7=cod") == _said("base")
    assert dish_name(_recipe(), "7=cod", sample_catalog()) == _recipe().name


@pytest.mark.parametrize(
    ("count", "nouns", "text"),
    [
        (2.5, "", "2.5"),
        (2.5, "lidded jars", "3 lidded jars"),
        (3.0000000001, "jars", "3 jars"),
        (1, "boxes", "1 box"),
        (0.5, "dishes", "1 dish"),
        (1, "berries", "1 berry"),
    ],
)
def test_counts_come_with_their_noun(count: float, nouns: str, text: str) -> None:
    """Things are whole, one of them has no plural, and dust of the solver makes none."""
    assert counted(count, nouns, lambda value: f"{value:g}") == text


@pytest.mark.parametrize("text", ["a {b", "a b}", "a [b", "a b]", "a [b [c]]", "{a [b}]"])
def test_signs_without_partner_are_refused(text: str) -> None:
    """No text with a lone brace or bracket is read as if it were sound."""
    with pytest.raises(TextUnreadable):
        parse_text(text)


@pytest.mark.parametrize("version", ["base", "0=haddock", "2-", "0=haddock+2-"])
def test_versions_and_foods_are_two_ways_to_say_one_thing(version: str) -> None:
    """A version rebuilt from its foods is the same text."""
    recipe = _recipe()
    foods = foods_of(recipe, version)
    assert foods is not None
    assert version_of(recipe, foods) == version


def _catalog() -> Catalog:
    catalog = sample_catalog()
    return catalog.model_copy(update={"recipes": {**catalog.recipes, "fish_bake": _recipe()}})


def _batch(batches: float, version: str, *lines: BatchLine) -> Batch:
    batch = next(b for b in sample_plan().batches if b.recipe_id == "fish_bake")
    update = {"batches": batches, "version": version, "servings": 4 * batches, "lines": lines}
    return batch.model_copy(update=update)


@pytest.mark.parametrize(
    ("batches", "units", "fish", "potatoes"),
    [
        (0.5, "recipe", "270 g", "3/4 cup"),
        (3.0, "recipe", "1620 g", "4 1/2 cups"),
        (3.0, "metric", "1620 g", "1.06 l"),
        (3.0, "us", "3 lb 9 oz", "4 1/2 cups"),
    ],
)
def test_amounts_in_steps_are_for_the_batches_cooked(
    batches: float, units: str, fish: str, potatoes: str
) -> None:
    """Half a batch and three batches, in the units that the reports show."""
    catalog = _catalog()
    steps = (Step(do="Take {fish amount} of {fish} and {potatoes amount} of {potatoes}."),)
    recipe = _recipe(steps=steps)
    batch = _batch(
        batches,
        "0=haddock",
        BatchLine(line=0, food_id="haddock", grams=540 * batches, part="main",
                  chosen="alternative"),
        BatchLine(line=1, food_id="potato", grams=225 * batches, part="main",
                  chosen="as written"),
    )  # fmt: skip
    with showing(Display(units=units)):  # type: ignore[arg-type]
        said = dish_steps(sample_plan(), catalog, recipe, batch)
    assert [step.do for step in said] == [
        f"Take {fish} of haddock fillet and {potatoes} of potato."
    ]


def test_pieces_are_bare_numbers_before_their_food() -> None:
    """`2 eggs` and not `2 pieces eggs`."""
    lines = (Line(food="potato", amount=Decimal(2), unit="each", key="potatoes"),)
    recipe = _recipe(lines=lines, steps=(Step(do="Peel {potatoes amount} potatoes."),))
    line = BatchLine(line=0, food_id="potato", grams=900, part="main", chosen="as written")
    said = dish_steps(sample_plan(), _catalog(), recipe, _batch(3.0, "base", line))
    assert [step.do for step in said] == ["Peel 6 potatoes."]


def test_a_swap_says_which_steps_change() -> None:
    """Steps that read otherwise are told by number, with those that come and go."""
    catalog, recipe = _catalog(), _recipe()
    cod = BatchLine(line=0, food_id="cod", grams=600, part="main", chosen="as written")
    green = BatchLine(line=2, food_id="parsley", grams=10, part="main", chosen="optional")
    haddock = cod.model_copy(update={"food_id": "haddock", "grams": 540, "chosen": "alternative"})
    before = _batch(1.0, "base", cod, green)
    swapped = changed_steps(
        sample_plan(), catalog, recipe, before, _batch(1.0, "0=haddock", haddock, green)
    )
    assert swapped == [
        "Step 1: Skin the haddock fillet.",
        "After step 1: Haddock fillet goes in. Bake 540 g of it, with the parsley,"
        " until it flakes.",
    ]
    left_out = changed_steps(sample_plan(), catalog, recipe, before, _batch(1.0, "2-", cod))
    assert left_out == [
        "Step 1: Cod goes in. Bake 600 g of it until it flakes.",
        "Step 3: Add salt instead.",
    ]


def _plain(text: str, *names: str, optional: bool = False, fixed: str = "") -> list[str]:
    """Return what is found in a text where a line may have any of these foods."""
    foods = {
        f"food_{n}": sample_catalog().foods["cod"].model_copy(update={"name": name})
        for n, name in enumerate((*names, fixed))
    }
    line = Line(
        food="food_0",
        amount=Decimal(1),
        unit="g",
        optional=optional,
        alternatives=tuple(Alternative(food=f"food_{n}") for n in range(1, len(names))),
    )
    lines = [line]
    if fixed:
        lines.append(Line(food=f"food_{len(names)}", amount=Decimal(1), unit="g"))
    recipe = sample_catalog().recipes["mash"].model_copy(update={"lines": tuple(lines)})
    return [found.words for found in mentions(text, recipe, foods)]


@pytest.mark.parametrize(
    ("text", "names", "found"),
    [
        ("Toast the almonds.", ("Almonds, shelled", "Sunflower seeds, hulled"), ["almond"]),
        ("Add the seeds.", ("Almonds, shelled", "Sunflower seeds, hulled"), ["seed"]),
        ("Pour in the milk.", ("Whole milk", "Soy milk, fortified"), ["milk"]),
        ("Pour in the soy milk.", ("Whole milk", "Soy milk, fortified"), ["soy milk"]),
        ("Brown the chicken.", ("Chicken breast, boneless", "Chicken thigh"), []),
        ("Brown the thighs.", ("Chicken breast, boneless", "Chicken thigh"), ["thigh"]),
        ("Brown the beef.", ("Ground beef, 93% lean", "Ground beef, 85% lean"), []),
        ("Boil the broccoli.", ("Broccoli", "Broccoli, frozen"), []),
        ("Press in the raspberries.", ("Raspberries", "Blueberries"), ["raspberry"]),
        ("A buttery crust.", ("Butter, unsalted", "Olive oil"), []),
    ],
)
def test_choosable_foods_in_plain_words(
    text: str, names: tuple[str, ...], found: list[str]
) -> None:
    """Words of one food are found in singular and plural; words true of every food are not."""
    assert _plain(text, *names) == found


def test_plain_words_of_an_optional_food() -> None:
    """An optional food is missing from a version, so each of its words is found."""
    assert _plain("Stir in the ham.", "Ham, cooked", optional=True) == ["ham"]


def test_plain_words_that_may_mean_a_food_always_there() -> None:
    """Pumpkin seeds are always in, so `seeds` is no mistake; `coconut milk` is not the milk."""
    assert _plain("Add the seeds.", "Almonds", "Sunflower seeds", fixed="Pumpkin seeds") == []
    assert _plain("Add coconut milk.", "Whole milk", "Soy milk", fixed="Coconut milk") == []


_WORDS = st.sampled_from(["bake", " with ", ", ", "of the ", ". ", " and ", "{fish}", "{potatoes}"])
_INSIDE = st.lists(_WORDS | st.just("{green}"), min_size=1, max_size=4).map("".join)
_NAMES = st.lists(_WORDS | _INSIDE.map(lambda text: f"[{text} {{green}}]"), min_size=1, max_size=6)


@settings(max_examples=150, deadline=None)
@given(_NAMES.map("".join), st.sampled_from(["base", "0=haddock", "2-", "0=haddock+2-"]))
def test_two_readings_written_apart_agree_on_any_name(name: str, version: str) -> None:
    """The audit reads every name as the plan's writer does."""
    recipe, catalog = _recipe(name=name), sample_catalog()
    dish = make_dish(catalog, Conversions(catalog), recipe, version)
    assert dish is not None
    assert dish.name == dish_name(recipe, version, catalog)
    assert "{" not in dish.name
    assert ("parsley" in dish.name.lower()) == ("{green}" in name and "2-" not in version)


def test_many_choices_do_not_slow_a_check_down(tmp_path: Path) -> None:
    """Forty lines with four foods each have more versions than anyone can read through."""
    foods = ["egg", "onion", "water", "milk_whole"]
    lines = ""
    for n in range(40):
        first, *others = foods[n % 4 :] + foods[: n % 4]
        offered = ", ".join(f"{{food: {food}}}" for food in others)
        lines += f"  - {{food: {first}, amount: 10, unit: g, optional: true, key: line_{n},"
        lines += f" alternatives: [{offered}]}}\n"
    soup = tiny_catalog_files()["recipes/egg_rice.yaml"]
    head, _, tail = soup.partition("  - {food: rice_white_long")
    text = head + lines + "steps:" + tail.partition("steps:")[2]
    reading = read_catalog(write_catalog(tmp_path, {"recipes/egg_rice.yaml": text}))
    assert reading.faults == ()
    assert {warning.code for warning in reading.warnings()} == {"food_in_plain_words"}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Divide among four pots.", ["four pots"]),
        ("Spoon into 6 small lidded jars and chill.", ["6 small lidded jars"]),
        ("Pack six boxes.", ["six boxes"]),
        ("Cool, cut into six, and wrap.", ["six"]),
        ("Cut each into eight wedges of 2 cm.", []),
        ("Add 2 cups of water in two rounds and roast over two trays.", []),
        ("Pack two halves for each serving into {boxes boxes}.", []),
        ("Bake for 20 to 25 minutes, then stand for five.", []),
    ],
)
def test_counts_in_plain_words(tmp_path: Path, text: str, found: list[str]) -> None:
    """Numbers of pots and pieces are found; sizes, measures, times and shares are not."""
    files = edited("recipes/lentil_soup.yaml", "Soften the onion, add lentils and water", text)
    warnings = read_catalog(write_catalog(tmp_path, files)).warnings()
    assert [w.value for w in warnings if w.code == "count_in_plain_words"] == found
