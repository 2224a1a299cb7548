"""The exact text of the faults of an import: of pages, of recipes in them, of answers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kitchens import write_catalog
from planopt.faults import BadInput
from planopt.intake.imports import import_recipes
from planopt.intake.settling import ANSWERS_FILE

RECIPE = {
    "@type": "Recipe",
    "name": "Rice",
    "recipeYield": "2",
    "recipeCategory": "lunch",
    "prepTime": "PT5M",
    "cookTime": "PT20M",
    "recipeIngredient": ["1 cup white rice", "salt"],
    "recipeInstructions": "Simmer for 20 minutes.",
}
HEAD = "ask,recipe,about,answer\n"
CASES = {
    "json_syntax": (
        '{"@type": "Recipe",\n "name": }',
        "page.json:2: 'page.json' [json_syntax]\n"
        "    why: the JSON-LD cannot be read: expecting value\n"
        "    mend: save the page again, or mend the JSON near this line",
    ),
    "no_recipe_found": (
        "<html></html>",
        "page.json: 'page.json' [no_recipe_found]\n"
        "    why: it has no schema.org Recipe as JSON-LD\n"
        "    mend: name a file or page that has one",
    ),
    "recipe_incomplete": (
        '{"@type": "Recipe", "name": "Air"}',
        "page.json: 'Air' [recipe_incomplete]\n"
        "    why: a recipe in it has no ingredients\n"
        "    mend: add it, or leave the recipe out",
    ),
}
ANSWERS = {
    "sentence,*,salt,to taste": (
        "kitchen/catalogs/import_answers.csv:2: answer: 'to taste' [answer_not_understood]\n"
        "    why: 'to taste': no food is found in it; it has no amount\n"
        "    mend: write one amount and one food, such as 2 tbsp olive oil, or leave out"
    ),
    "food,*,white rice,rice": (
        "kitchen/catalogs/import_answers.csv:2: answer: 'rice' [unknown_food]\n"
        "    why: the catalog has no such food\n"
        "    mend: did you mean 'rice_white_long'?"
    ),
    "keeps,rice,Rice,soup": (
        "kitchen/catalogs/import_answers.csv:2: answer: 'soup' [answer_not_understood]\n"
        "    why: this is not how a dish keeps\n"
        "    mend: write it as {keeps}"
    ),
    "keep,*,*,soup": (
        "kitchen/catalogs/import_answers.csv:2: ask: 'keep' [not_a_choice]\n"
        "    why: nothing of this kind is asked\n"
        "    mend: did you mean 'keeps'?"
    ),
    "yield,rice,Rice,3\nyield,rice,,4": (
        "kitchen/catalogs/import_answers.csv:3: about: '*' [duplicate_id]\n"
        "    why: line 2 has this question already\n"
        "    mend: remove one of the two rows"
    ),
}


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the tiny kitchen, seen from the current folder."""
    write_catalog(tmp_path / "kitchen" / "catalogs")
    monkeypatch.chdir(tmp_path)
    return Path("kitchen")


@pytest.mark.parametrize("code", CASES)
def test_faults_of_pages(kitchen: Path, code: str) -> None:
    """One page at fault in one way."""
    text, expected = CASES[code]
    Path("page.json").write_text(text, encoding="utf-8")
    done = import_recipes([Path("page.json")], kitchen)
    assert [fault.text() for fault in done.faults] == [expected]


def test_a_folder_without_recipes(kitchen: Path) -> None:
    """It is told once, not for each file."""
    Path("pages").mkdir()
    Path("pages/a.html").write_text("<p>", encoding="utf-8")
    done = import_recipes([Path("pages")], kitchen)
    assert [fault.text() for fault in done.faults] == [
        "pages: 'pages' [no_recipe_found]\n"
        "    why: no file in this folder has a recipe as JSON-LD\n"
        "    mend: name a file or page that has one"
    ]


def test_a_folder_that_is_no_kitchen(kitchen: Path) -> None:
    """A catalog is a folder with foods.csv."""
    with pytest.raises(BadInput) as raised:
        import_recipes([], Path("elsewhere"))
    assert str(raised.value) == (
        "elsewhere: 'elsewhere' [catalog_missing]\n"
        "    why: neither this folder nor a folder catalogs in it has a foods.csv\n"
        "    mend: name a kitchen as `planopt new` makes it, or a catalog folder"
    )


@pytest.mark.parametrize("row", ANSWERS)
def test_faults_of_answers(kitchen: Path, row: str) -> None:
    """One answer at fault in one way."""
    Path("page.json").write_text(json.dumps(RECIPE), encoding="utf-8")
    open_ = import_recipes([Path("page.json")], kitchen).questions
    keeps = next(one.suggestion for one in open_ if one.ask == "keeps")
    (kitchen / "catalogs" / ANSWERS_FILE).write_text(f"{HEAD}{row}\n", encoding="utf-8")
    with pytest.raises(BadInput) as raised:
        import_recipes([Path("page.json")], kitchen)
    assert str(raised.value) == ANSWERS[row].replace("{keeps}", keeps)
