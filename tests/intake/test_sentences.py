"""Ingredient sentences, foods by their names, and amounts as lines of recipes.

These are worked on with the code; what is held out stands in `data/held_out.csv`.
"""

from __future__ import annotations

import json
import socket
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from benchmarks.train_tagger import FOLDER, NAME, trained
from planopt.catalog.records import Catalog
from planopt.intake import libraries
from planopt.intake.amounts import LineAmount, NoGrams, NotClear, Weigher, read_amount
from planopt.intake.libraries import ImportUnavailable
from planopt.intake.matching import FoodMatcher, hinted_allergens
from planopt.intake.sentences import read_sentence, tidy
from shipped import shipped_catalog


@lru_cache(maxsize=1)
def demo() -> tuple[Catalog, FoodMatcher, Weigher]:
    """Return the demo catalog with what reads foods and amounts for it."""
    catalog = shipped_catalog()
    return catalog, FoodMatcher(catalog), Weigher(catalog, lambda unit, food: None)


def amounts(sentence: str) -> list[tuple[float, float, str]]:
    """Return the amounts of a sentence: least, most and unit."""
    return [
        (round(float(a.low), 3), round(float(a.high), 3), a.unit)
        for a in read_sentence(sentence).amounts
    ]


@pytest.mark.parametrize(
    ("sentence", "expected", "food"),
    [
        ("half an onion, diced", (0.5, 0.5, ""), "onion"),
        ("a quarter of a cabbage, shredded", (0.25, 0.25, ""), "cabbage"),
        ("half a dozen eggs", (6, 6, ""), "eggs"),
        ("2 dozen mussels", (24, 24, ""), "mussels"),
        ("1,5 kg potatoes", (1.5, 1.5, "kg"), "potatoes"),
        ("1,000 ml water", (1000, 1000, "ml"), "water"),
        ("3 to 4 carrots", (3, 4, ""), "carrots"),
        ("1 to 1 1/2 cups water", (1, 1.5, "cup"), "water"),
        ("\u2022 2 \u00bd cups vegetable broth", (2.5, 2.5, "cup"), "vegetable broth"),
        ("tofu 400g", (400, 400, "g"), "tofu"),
        ("3 dl buttermilk", (300, 300, "ml"), "buttermilk"),
        ("1 pint milk", (473.176, 473.176, "ml"), "milk"),
        ("1 tablespoon plus 1 teaspoon soy sauce", (1.333, 1.333, "tbsp"), "soy sauce"),
        ("2 x 400g tins chopped tomatoes", (800, 800, "g"), "chopped tomatoes"),
        ("2 (15 oz) cans kidney beans, drained", (30, 30, "oz"), "kidney beans"),
        ("1 (14 oz) can chickpeas, drained", (14, 14, "oz"), "chickpeas"),
        ("2 cans tuna (5 oz each)", (10, 10, "oz"), "tuna"),
        ("two 6-ounce cod fillets", (12, 12, "oz"), "cod fillets"),
        ("4 (4 oz) cod fillets", (16, 16, "oz"), "cod fillets"),
        ("2 chicken breasts (about 400 g in total)", (2, 2, ""), "chicken breasts"),
        ("2 Tbsp olive oil", (2, 2, "tbsp"), "olive oil"),
        ("250 g pack egg noodles", (250, 250, "g"), "egg noodles"),
        ("half a 200g pack feta", (100, 100, "g"), "feta"),
        ("1 bag frozen peas", (1, 1, "bag"), "frozen peas"),
        ("1 heaped tablespoon cocoa", (1, 1, "heaped tbsp"), "cocoa"),
        ("300 g carrots, weighed ready to cook", (300, 300, "g"), "carrots"),
    ],
)
def test_sentences_are_read(sentence: str, expected: tuple[float, float, str], food: str) -> None:
    """The first amount as it counts for the whole sentence, and the food without the rest."""
    reading = read_sentence(sentence)
    assert (amounts(sentence)[0], reading.food, reading.doubts) == (expected, food, ())


def test_two_amounts_of_one_thing_are_both_kept() -> None:
    """A count with its weight, or a weight with its volume."""
    assert amounts("6 medium tomatoes (about 700 g)") == [(6, 6, ""), (700, 700, "g")]
    assert amounts("200 g (1 cup) quinoa") == [(200, 200, "g"), (1, 1, "cup")]


@pytest.mark.parametrize(
    ("sentence", "doubt"),
    [
        ("salt and pepper, to taste", "it names several foods: salt, pepper"),
        ("salt, to taste", "it has no amount"),
        ("1 cup butter or margarine", "it names several foods: butter, margarine"),
        ("juice of half a lemon", "it is a part of the food, not the whole of it: juice of"),
        ("3 eggs, plus 1 egg yolk", "there is another amount in its words"),
        ("1 tbsp cornstarch dissolved in 2 tbsp water", "there is another amount in its words"),
        ("a few sprigs of parsley", "the amount 'few sprigs' is not understood"),
        ("2 cans (15 oz) kidney beans", "15 oz may be of one or of all"),
        ("2 chicken breasts, about 500 g", "500 g may be of one or of all"),
        ("2 chicken breasts (200 g)", "200 g may be of one or of all"),
        ("2 eggs + 1 yolk", "there is another amount in its words"),
        ("4 medjool dates or 6 regular dates", "there is another amount in its words"),
        ("1 lime, juiced", "it is a part of the food, not the whole of it: juiced"),
    ],
)
def test_what_can_be_read_in_two_ways_is_doubted(sentence: str, doubt: str) -> None:
    """Such a sentence is for a person to rewrite, never read the likelier way."""
    assert doubt in read_sentence(sentence).doubts


def test_cups_of_another_land_are_larger() -> None:
    """An imperial pint is a fifth more than one of the United States; metric cups are 250 ml."""
    assert float(read_sentence("1 pint milk", "imperial").amounts[0].low) == pytest.approx(568.261)
    assert amounts("1 cup rice") == [(1, 1, "cup")]
    metric = read_sentence("1 cup rice", "metric").amounts[0]
    assert (float(metric.low), metric.unit) == (250, "ml")


def test_tidy_leaves_plain_words_alone() -> None:
    """Only numbers in words and what stands in front of them change."""
    for text in ("200 g half-fat cream", "2 cups quartered figs", "a few leaves of mint"):
        assert tidy(text) == text


FOODS = {
    "milk_whole": ("1 cup whole milk",),
    "chicken_thigh": ("3 boneless skinless chicken thighs", "500 g skinless chicken thighs, diced"),
    "ground_beef_93": ("1 lb ground beef (93% lean)",),
    "ground_beef_85": ("500 g beef mince, 85% lean",),
    "black_beans_canned": ("1 can black beans", "200 g drained black beans"),
    "black_beans_dry": ("200 g dried black beans",),
    "spinach_frozen": ("100 g frozen spinach",),
    "spinach": ("100 g spinach", "2 cups baby spinach leaves"),
    "zucchini": ("2 courgettes",),
    "scallion": ("3 spring onions", "4 green onions"),
    "flour_white": ("1 cup all-purpose flour", "200 g plain flour"),
    "vegetable_broth": ("1 cup vegetable stock",),
    "yogurt_plain_whole": ("150 g natural yoghurt",),
    "tomatoes_canned_diced": ("1 tin chopped tomatoes",),
    "rice_brown_long": ("1 cup brown rice",),
    "cilantro": ("1 tbsp fresh coriander",),
    "hot_sauce": ("1 tbsp hot sauce",),
    "butter_unsalted": ("30 g butter",),
    "cumin_ground": ("1 tsp cumin",),
    None: (
        "1 cup milk", "1 cup skim milk", "2 cups rice", "200 g black beans", "1 lb ground beef",
        "400 g tin cannellini beans", "1 tsp cumin seeds", "1 cup almond flour", "200 ml cream",
        "50 g cheese", "2 tbsp light soy sauce", "1 cup beef stock", "2 tbsp oil", "1 cup red wine",
        "1 can corn", "1 lettuce", "150 g smoked salmon", "4 egg whites", "200 g silken tofu",
        "1 tsp garlic powder", "1 cup apple juice", "1 peach", "1 cup strawberry yogurt",
        "100 g peanuts, salted", "200 g gluten-free pasta", "1 tbsp vegan butter", "1 tsp thyme",
        "200 ml oat cream", "100 g butter beans", "4 sausages", "100 g cranberries", "1 cup sauce",
        "1 tsp ground coriander", "100 g beef", "100 g fat-free cottage cheese",
        "1 kg chicken thighs, bone in",
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("sentence", "food"), [(text, food) for food, texts in FOODS.items() for text in texts]
)
def test_foods_are_found_or_asked_for(sentence: str, food: str | None) -> None:
    """What is called quite so is taken; what is merely like it, or may be either, is not."""
    reading = read_sentence(sentence)
    around = f"{reading.preparation} {reading.remarks} {reading.container}"
    assert demo()[1].find(reading.food, around).sure == food


def test_a_slip_of_the_pen_is_found_with_less_confidence() -> None:
    """Letters are compared: a misspelt name is no other food, and short words must be equal."""
    matcher = demo()[1]
    best = matcher.find("cauliflowr").matches[0]
    assert best.food_id == "cauliflower"
    assert 0.85 < best.confidence < 1
    assert [m.food_id for m in matcher.find("beef").matches if m.food_id == "beet"] == []


def test_words_that_suggest_an_allergen_the_food_lacks_are_asked_about() -> None:
    """However well a name fits, it is not taken against the hint words of the catalog."""
    catalog = demo()[0]
    plain = catalog.foods["honey"].model_copy(update={"name": "Almond honey", "food_id": "syrup_x"})
    changed = catalog.model_copy(update={"foods": {"syrup_x": plain}})
    found = FoodMatcher(changed).find("almond honey spread")
    assert hinted_allergens("almond honey", changed) == ["tree_nuts"]
    assert found.sure is None
    whole = FoodMatcher(changed).find("honey with almond")
    assert whole.why_unsure == "the words suggest tree_nuts, which the food does not have"


LINES = {
    "1 (400g) tin chickpeas, drained": (228.0, "400 g as bought, 57 % of it edible"),
    "400 g tin chickpeas": (228.0, "400 g as bought, 57 % of it edible"),
    "700 g tomatoes": (637.0, "700 g as bought, 91 % of it edible"),
    "100 g peeled carrots": (100.0, ""),
    "100 g carrots, weighed ready to cook": (100.0, ""),
    "10 g basil leaves": (10.0, ""),
    "2 cups cooked white rice": (2 * 158 / 2.80, ""),
    "200 g cooked quinoa": (200 / 3.05, ""),
    "cooked bulgur (1 cup)": (182 / 4.09, ""),
    "1 beetroot, cooked": (82.0, ""),
    "200 g drained black beans": (200 / 0.61, ""),
    "3 carrots": (183.0, ""),
    "2 large eggs": (100.0, ""),
    "2 stalks celery": (80.0, ""),
    "2 ribs celery": (80.0, ""),
    "1 head cauliflower": (588.0, ""),
    "3 to 4 carrots": (213.5, "middle of 3 to 4"),
    "300 ml buttermilk": (300 * 1.036, ""),
    "1 pint cherry tomatoes": (149 * 473.176473 / 236.5882365, ""),
    "1/3 cup feta": (50.0, ""),
}


@pytest.mark.parametrize("sentence", LINES)
def test_amounts_in_grams(sentence: str) -> None:
    """By the catalog's measures, yields and edible shares, worked out here by hand."""
    catalog, matcher, weigher = demo()
    reading = read_sentence(sentence)
    food = matcher.find(reading.food, f"{reading.preparation} {reading.container}").sure
    line = weigher.line_amount(reading, catalog.foods[food or ""])
    assert isinstance(line, LineAmount)
    grams, how = LINES[sentence]
    assert (line.how, weigher.grams(food or "", line)) == (how, pytest.approx(grams, rel=2e-3))


@pytest.mark.parametrize(
    ("sentence", "food", "unit"),
    [
        ("1 large onion", "onion", "large one"),
        ("2 medium eggs", "egg", "medium one"),
        ("1 bunch parsley", "parsley", "bunch"),
        ("3 chicken breasts", "chicken_breast", "one"),
        ("1 can black beans", "black_beans_canned", "can"),
        ("1 heaped tablespoon honey", "honey", "heaped tbsp"),
        ("a large handful of mint", "mint", "large handful"),
        ("1 cup ground turkey", "ground_turkey", "cup"),
    ],
)
def test_units_that_no_measure_tells_are_asked_for(sentence: str, food: str, unit: str) -> None:
    """Also sizes other than the one measured."""
    catalog, _, weigher = demo()
    asked = weigher.line_amount(read_sentence(sentence), catalog.foods[food])
    assert isinstance(asked, NoGrams)
    assert (asked.unit, asked.food_id) == (unit, food)


def test_amounts_that_are_not_clear() -> None:
    """Two amounts that differ, cooked food without a yield, what a can holds or what is drained."""
    catalog, _, weigher = demo()

    def why(sentence: str, food: str) -> str:
        found = weigher.line_amount(read_sentence(sentence), catalog.foods[food])
        assert isinstance(found, NotClear)
        return found.why

    assert why("500 g (2 lb) carrots", "carrot") == "it tells two amounts that differ"
    assert "no yield" in why("200 g cooked oats", "oats_rolled")
    assert "what is in the can" in why("240 g canned chickpeas", "chickpeas_canned")


def test_amounts_of_answers() -> None:
    """A number with a unit of mass or volume, in decimals or fractions; grams without one."""
    assert read_amount("25 g") == (25, "g")
    assert read_amount("1 1/2 tsp") == (1.5, "tsp")
    assert read_amount("0,5") == (0.5, "g")
    for text in ("", "some", "2 pieces", "0 g", "1/0 g", "-3 g"):
        assert read_amount(text) is None


def test_the_tagger_is_what_its_script_makes() -> None:
    """Nobody has edited the shipped files, and training is the same each time."""
    folder = FOLDER / "taggers" / NAME
    for kind, content in trained().items():
        shipped = json.loads((folder / f"{NAME}.{kind}.json").read_text(encoding="utf-8"))
        assert shipped == content, kind


def test_nothing_is_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tagger that NLTK would download is found in planopt, with every network call refused."""

    def refuse(*args: Any, **kwargs: Any) -> Any:
        raise AssertionError("the network was called")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    import nltk.data

    found = nltk.data.find(f"taggers/{NAME}/{NAME}.weights.json")
    assert Path(str(found)).is_relative_to(libraries.TAGGER)
    assert read_sentence("3 unheardof berries").food == "unheardof berries"


def test_without_the_libraries_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra is named, and the exit code is that of a wrong command."""

    def missing(name: str) -> Any:
        raise ImportError(f"No module named {name!r}", name=name)

    monkeypatch.setattr(libraries.importlib, "import_module", missing)
    with pytest.raises(ImportUnavailable) as raised:
        libraries._module("ingredient_parser")
    assert str(raised.value) == (
        "recipes cannot be imported here: ingredient_parser is not installed; install it with"
        " `pip install 'planopt[import]'`"
    )
    assert raised.value.exit_code == 2
