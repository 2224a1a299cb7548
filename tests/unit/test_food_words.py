"""Names of foods against allergens and safety groups: what is asked about, and what is let be."""

from __future__ import annotations

import pytest

from planopt.catalog.foodwords import suggested_allergens, without, words_of
from planopt.catalog.load import CatalogReading
from planopt.catalog.records import Catalog, Food
from planopt.catalog.safetychecks import suggested_groups
from shipped import shipped_reading

SHIPPED = shipped_reading()


def with_food(name: str, description: str = "", **more: object) -> tuple[Food, Catalog]:
    """Return a raw food of that name without allergens or group, in the shipped catalog."""
    catalog = SHIPPED.catalog
    food = catalog.foods["onion"].model_copy(
        update={
            "food_id": "new_food", "name": name, "sr28_description": description,
            "allergens": (), "safety_group": "none", **more,
        }
    )  # fmt: skip
    return food, catalog.model_copy(update={"foods": {**catalog.foods, "new_food": food}})


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Peanut sauce", {"peanut"}),
        ("PEANUTS, roasted", {"peanut"}),
        ("Almond flour", {"tree_nuts"}),
        ("Mixed nuts", {"tree_nuts"}),
        ("Wheat noodles", {"wheat", "gluten_cereals"}),
        ("Rye crispbread, rye", {"gluten_cereals"}),
        ("Shrimp paste", {"crustaceans", "sulphites"}),
        ("Tofu, smoked", {"soy"}),
        ("Tempeh", {"soy"}),
        ("Edamame beans", {"soy"}),
        ("Tahini paste", {"sesame"}),
        ("Dijon mustard", {"mustard"}),
        ("Celeriac", {"celery"}),
        ("Lupin seeds", {"lupin"}),
        ("Squid rings", {"molluscs"}),
        ("Anchovies in oil", {"fish"}),
        ("Crème fraîche", {"milk"}),
        ("Ghee", {"milk"}),
        ("Greek yogurt", {"milk"}),
        ("Poached eggs", {"egg"}),
        ("Feta in oil", {"milk"}),
        # Look-alikes.
        ("Coconut milk", set()),
        ("Cocoa butter", set()),
        ("Butternut squash", set()),
        ("Buckwheat flour", set()),
        ("Butter beans, canned", set()),
        ("Rice noodles", set()),
        ("Oyster mushrooms", set()),
        ("Eggplant", set()),
        ("Nutmeg", set()),
        ("Cream of tartar", set()),
    ],
)
def test_a_name_suggests_its_allergens_and_no_others(name: str, expected: set[str]) -> None:
    """The shipped words catch what a name says and leave out what only sounds like it."""
    food, catalog = with_food(name)
    assert {allergen for allergen, _ in suggested_allergens(food, catalog)} == expected


def test_what_the_row_has_is_not_asked_again() -> None:
    """A food that carries the allergen of its name needs no warning."""
    food, catalog = with_food("Peanut sauce", allergens=("peanut",))
    assert list(suggested_allergens(food, catalog)) == []


def test_kin_in_the_food_table_are_asked_about() -> None:
    """Every vinegar has sulphites, so that another one is asked about; salt is no vinegar."""
    food, catalog = with_food("Distilled spirit", "Vinegar, distilled")
    assert [allergen for allergen, _ in suggested_allergens(food, catalog)] == ["sulphites"]
    food, catalog = with_food("Distilled spirit", "Salt, distilled")
    assert list(suggested_allergens(food, catalog)) == []


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Chicken thighs", ["poultry"]),
        ("Chicken mince", ["poultry"]),
        ("Minced beef", ["ground_meat"]),
        ("Lamb shoulder", ["whole_meat"]),
        ("Smoked mackerel", ["fish"]),
        ("Prawns, peeled", ["shellfish"]),
        ("Duck eggs", ["egg"]),
        ("Sliced radishes", []),
        ("Scrambled eggs", ["egg"]),
        ("Lamb's lettuce", []),
        ("Beef tomatoes", []),
        ("Chicken broth", ["cooked_meat"]),
        ("Rice, cooked", ["grains_and_beans"]),
        ("Rice cakes", []),
        ("Goat cheese", ["dairy"]),
    ],
)
def test_a_name_suggests_the_group_that_asks_most(name: str, expected: list[str]) -> None:
    """A row without a group is told the hottest one that its name belongs to."""
    food, catalog = with_food(name)
    found = [group.group_id for one, group, _ in suggested_groups(catalog) if one == food]
    assert found == expected


def test_phrases_are_taken_out_whole_and_leave_a_gap() -> None:
    """The longest phrase goes first, and its neighbours do not become a phrase of their own."""
    assert without(words_of("Coconut milk butter"), ["milk", "coconut milk"]) == ("", "butter")
    assert words_of("Lamb\N{RIGHT SINGLE QUOTATION MARK}s, nüsse 12") == ("lamb", "nusse")
    for one, many in (
        ("tomato", "tomatoes"),
        ("peach", "peaches"),
        ("roe", "roes"),
        ("cookie", "cookies"),
        ("berry", "berries"),
        ("quiche", "quiches"),
        ("noodle", "noodles"),
        ("anchovy", "anchovies"),
        ("mollusc", "molluscs"),
    ):
        assert words_of(one) == words_of(many)
    left = without(words_of("peanut coconut milk butter"), ["coconut milk", "peanut butter"])
    assert left == ("peanut", "", "butter")


def _warned(reading: CatalogReading) -> set[str]:
    return {warning.code for warning in reading.warnings()}


def test_the_shipped_catalog_answers_every_question() -> None:
    """No shipped food is unknown, and none has a name that its row belies."""
    assert SHIPPED.faults == ()
    assert _warned(SHIPPED) == set()
    assert all(allergen.hint_words for allergen in SHIPPED.catalog.allergens.values())


def test_every_word_of_the_shipped_lists_can_match() -> None:
    """A hint that its own exceptions swallow, or without a letter, would be a dead entry."""
    catalog = SHIPPED.catalog
    for about in (*catalog.allergens.values(), *catalog.safety_groups.values()):
        for hint in about.hint_words:
            assert without(words_of(hint), about.not_words) == words_of(hint) != (), hint
        assert len(set(about.hint_words)) == len(about.hint_words)
