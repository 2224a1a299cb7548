"""Free words of a catalog: which look like a slip of another, and which stand for themselves."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchens import edited, tiny_catalog_files, write_catalog
from planopt.catalog.load import read_catalog
from planopt.catalog.nearwords import slip_of


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("snacks", "snack"),
        ("lunches", "lunch"),
        ("diner", "dinner"),
        ("dimner", "dinner"),
        ("luhcn", None),
        ("lucnh", "lunch"),
        ("brunch", None),
        ("supper", None),
        ("snack_2", None),
        ("snack", None),
        ("tea", None),
        ("breakfast", None),
    ],
)
def test_a_slip_is_one_step_from_a_word_that_is_used_more(word: str, meant: str | None) -> None:
    """A plural, one letter, or two letters swapped; other words and numbered ones are words."""
    counts = {"breakfast": 9, "lunch": 9, "dinner": 9, "snack": 5, "snack_1": 5, "teas": 5}
    assert slip_of(word, {**counts, word: counts.get(word, 1)}) == meant


def test_the_word_used_more_is_no_slip_of_the_other() -> None:
    """Of two near words only the rarer one is asked about, and of equals neither."""
    assert slip_of("snack", {"snack": 5, "snacks": 1}) is None
    assert slip_of("snack", {"snack": 5, "snacks": 5}) is None


def test_meals_that_one_recipe_serves_together_are_two_meals(tmp_path: Path) -> None:
    """Who writes both in one recipe means both."""
    files = edited("recipes/lentil_soup.yaml", "[lunch, dinner]", "[lunch, dinner, diner]")
    assert read_catalog(write_catalog(tmp_path / "both", files)).faults == ()
    slip = edited("recipes/lentil_soup.yaml", "[lunch, dinner]", "[lunch, diner]")
    assert [f.code for f in read_catalog(write_catalog(tmp_path / "slip", slip)).faults] == [
        "meal_near_another"
    ]


def test_a_word_of_ones_own_is_taken_as_it_is(tmp_path: Path) -> None:
    """A catalog may call all its snacks `snacks`, and its lunches `midday`."""
    files = {
        name: text.replace("snack", "snacks").replace("lunch", "midday")
        for name, text in tiny_catalog_files().items()
        if name.startswith("recipes/")
    }
    assert read_catalog(write_catalog(tmp_path / "own", files)).faults == ()
