"""Importing recipes: what is written, what is asked, what is remembered, what is never done."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from kitchens import tiny_catalog_files, write_catalog
from planopt.catalog.load import load_catalog
from planopt.cli import app
from planopt.faults import BadInput
from planopt.intake.imports import Imported, import_recipes, recipe_id_of
from planopt.intake.settling import ANSWERS_FILE

PORRIDGE: dict[str, Any] = {
    "@context": "https://schema.org",
    "@type": "Recipe",
    "name": "Morning oats",
    "recipeYield": "2 servings",
    "prepTime": "PT5M",
    "cookTime": "PT10M",
    "recipeCategory": "Breakfast",
    "recipeIngredient": ["1 cup rolled oats", "400 ml whole milk", "1 onion"],
    "recipeInstructions": ["Simmer the oats in the milk for 10 minutes {stirring}."],
}
KEEPS = {("keeps", "*", "*"): "suggested"}


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    """Return a kitchen without recipes."""
    files = {name: None for name in tiny_catalog_files() if name.startswith("recipes/")}
    folder = write_catalog(tmp_path / "kitchen", files)
    (folder / "recipes").mkdir(exist_ok=True)
    return folder


def publish(folder: Path, *recipes: dict[str, Any], name: str = "page.json") -> Path:
    """Write recipes to a file."""
    file = folder / name
    file.write_text(json.dumps(list(recipes)), encoding="utf-8")
    return file


def settle(catalog: Path, answers: dict[tuple[str, str, str], str]) -> Path:
    """Write answers by ask, recipe and about."""
    file = catalog / ANSWERS_FILE
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["ask", "recipe", "about", "answer"])
        writer.writerows([*key, answer] for key, answer in answers.items())
    return file


def asked(done: Imported) -> list[tuple[str, str, str]]:
    """Return the open questions: what is asked, about what, and what is suggested."""
    return [(one.ask, one.about, one.suggestion) for one in done.questions]


def test_a_recipe_that_tells_all_but_its_keeping_is_written(kitchen: Path, tmp_path: Path) -> None:
    """The file to the letter: each line beside its sentence, braces made harmless."""
    page = publish(tmp_path, PORRIDGE)
    first = import_recipes([page], kitchen)
    assert (first.written, first.waiting) == ([], ["morning_oats"])
    assert asked(first) == [("keeps", "Morning oats", "leftovers_in_general, 3, 0, reheated")]
    settle(kitchen, KEEPS)
    done = import_recipes([page], kitchen)
    assert (done.written, done.waiting, done.questions) == (["morning_oats"], [], [])
    text = (kitchen / "recipes" / "morning_oats.yaml").read_text(encoding="utf-8")
    head, check, body = text.split("\n", 2)
    assert head == "# Imported by planopt from page.json"
    assert check.startswith("# Checksum of what follows: ")
    assert body == (
        'name: "Morning oats"\n'
        "meals: [breakfast]\n"
        "yield_servings: 2\n"
        "minutes: {hands_on: 5, hands_on_per_extra_batch: 5, unattended: 10}\n"
        "equipment:\n"
        "  hob_minutes: 10\n"
        "keeps:\n"
        "  kind: leftovers_in_general\n"
        "  fridge_days: 3\n"
        "  freezer_months: 0\n"
        "  serve: reheated\n"
        "lines:\n"
        "  # '1 cup rolled oats'; name fits 100%\n"
        "  - {food: oats_rolled, amount: 1, unit: cup}\n"
        "  # '400 ml whole milk'; name fits 100%\n"
        "  - {food: milk_whole, amount: 400, unit: ml}\n"
        "  # '1 onion'; name fits 100%\n"
        "  - {food: onion, amount: 1, unit: each}\n"
        "steps:\n"
        '  - {do: "Simmer the oats in the milk for 10 minutes (stirring)."}\n'
    )
    recipe = load_catalog(kitchen).recipes["morning_oats"]
    assert [line.food for line in recipe.lines] == ["oats_rolled", "milk_whole", "onion"]


def test_what_a_person_changed_or_made_is_never_written_over(kitchen: Path, tmp_path: Path) -> None:
    """An imported file is renewed only while it is as it was imported."""
    page = publish(tmp_path, PORRIDGE)
    settle(kitchen, KEEPS)
    import_recipes([page], kitchen)
    file = kitchen / "recipes" / "morning_oats.yaml"
    assert import_recipes([page], kitchen).unchanged == ["morning_oats"]
    publish(tmp_path, {**PORRIDGE, "recipeYield": "3"})
    assert import_recipes([page], kitchen).written == ["morning_oats"]
    assert "yield_servings: 3" in file.read_text(encoding="utf-8")
    mine = file.read_text(encoding="utf-8").replace("servings: 3", "servings: 4")
    for text in (mine, mine.partition("\n")[2], "name: Mine\n"):
        file.write_text(text, encoding="utf-8")
        with_others = import_recipes([page], kitchen)
        assert (with_others.kept, with_others.written) == (["morning_oats"], [])
        assert file.read_text(encoding="utf-8") == text


LEFT_OPEN: dict[str, Any] = {
    **PORRIDGE,
    "name": "Vague stew",
    "recipeYield": "4-6 servings",
    "prepTime": None,
    "recipeCategory": "Stew",
    "recipeIngredient": [
        "For the pot:", "300 g red lentils", "a handful of rice", "2 large onions", "some salt",
        "3 eggs", "1 tin chopped tomatoes",
    ],
    "recipeInstructions": "Cook it all.",
}  # fmt: skip


def test_all_that_is_open_is_asked_in_one_round(kitchen: Path, tmp_path: Path) -> None:
    """Sentence, food, measure, yield, meals, minutes, hob, heat for raw egg, keeping."""
    done = import_recipes([publish(tmp_path, LEFT_OPEN)], kitchen)
    assert asked(done) == [
        ("sentence", "some salt", ""),
        ("food", "chopped tomatoes", ""),
        ("food", "rice", ""),
        ("measure", "large one of onion", "110 g"),
        ("yield", "Vague stew", "4"),
        ("meals", "Vague stew", "lunch|dinner"),
        ("minutes", "Vague stew", ""),
        ("hob", "Vague stew", "10"),
        ("heat", "Vague stew", "1: 71"),
        ("keeps", "Vague stew", "soups_and_stews, 3, 0, reheated"),
    ]
    text = (kitchen / ANSWERS_FILE).read_text(encoding="utf-8")
    assert text.splitlines()[:2] == [
        "ask,recipe,about,answer,suggestion,why",
        'sentence,*,some salt,,,"it has no amount; write it anew with one amount and one food,'
        ' several with ; or leave out (in vague_stew)"',
    ]


SETTLED = {
    ("sentence", "*", "some salt"): "leave out",
    ("food", "*", "chopped tomatoes"): "leave out",
    ("food", "*", "rice"): "rice_white_long",
    ("measure", "*", "handful of *"): "40 g",
    ("measure", "*", "large one of onion"): "150",
    ("yield", "vague_stew", "Vague stew"): "5",
    ("meals", "*", "*"): "suggested",
    ("minutes", "*", "*"): "20, 40",
    ("hob", "vague_stew", ""): "45",
    ("heat", "*", "*"): "1: 74",
    ("keeps", "*", "*"): "soups_and_stews, 2, 1, reheated",
}


def test_answers_are_used_and_remembered(kitchen: Path, tmp_path: Path) -> None:
    """For one recipe, for every recipe, for every food; the file keeps them all."""
    settle(kitchen, SETTLED)
    done = import_recipes([publish(tmp_path, LEFT_OPEN)], kitchen)
    assert (done.written, done.questions) == (["vague_stew"], [])
    recipe = load_catalog(kitchen).recipes["vague_stew"]
    assert [(line.food, float(line.amount), line.unit) for line in recipe.lines] == [
        ("lentils_red_dry", 300, "g"),
        ("rice_white_long", 40, "g"),
        ("onion", 300, "g"),
        ("egg", 3, "each"),
    ]
    assert (recipe.yield_servings, recipe.meals) == (5, ("lunch", "dinner"))
    assert (recipe.minutes.hands_on, recipe.minutes.unattended) == (20, 40)
    assert (recipe.equipment.hob_minutes, recipe.steps[0].until_internal_c) == (45, 74)
    assert (recipe.keeps.fridge_days, recipe.keeps.freezer_months) == (2, 1)
    notes = (kitchen / "recipes" / "vague_stew.yaml").read_text(encoding="utf-8")
    assert "# taken as a heading: For the pot:\n" in notes
    assert "# left out, as answered: some salt\n" in notes
    with (kitchen / ANSWERS_FILE).open(encoding="utf-8", newline="") as file:
        kept = {(row["ask"], row["recipe"], row["answer"]) for row in csv.DictReader(file)}
    assert kept == {(ask, recipe, answer) for (ask, recipe, _), answer in SETTLED.items()}
    # Another recipe asks nothing that is answered for all.
    other = {**LEFT_OPEN, "name": "Vaguer stew", "recipeYield": "4", "cookTime": None}
    again = import_recipes([publish(tmp_path, other)], kitchen)
    assert asked(again) == [("hob", "Vaguer stew", "")]


def test_a_star_never_stands_for_every_food_or_sentence(kitchen: Path, tmp_path: Path) -> None:
    """One word cannot leave out, or name, all that was not found."""
    answers = {**SETTLED, ("food", "*", "*"): "onion", ("sentence", "*", "*"): "leave out"}
    del answers["food", "*", "rice"], answers["sentence", "*", "some salt"]
    settle(kitchen, answers)
    done = import_recipes([publish(tmp_path, LEFT_OPEN)], kitchen)
    assert asked(done) == [("sentence", "some salt", ""), ("food", "rice", "")]


def test_raw_food_without_its_temperature_is_held_back(kitchen: Path, tmp_path: Path) -> None:
    """A temperature below the published one is not taken, from the page or from an answer."""
    for step, open_ in (
        ("Bake at 180 C for 20 minutes.", True),
        ("Bake at 180 C for 20 minutes until 65 C in the centre.", True),
        ("Bake at 90 C for 20 minutes in the middle of the oven.", True),
        ("Bake on the centre shelf of the oven at 95 C for 20 minutes.", True),
        ("Bake at 180 C for 20 minutes until 160 F inside.", False),
        ("Bake at 180 C for 20 minutes until an internal temperature of 72 °C.", False),
    ):
        bake = {
            **PORRIDGE, "recipeIngredient": ["4 eggs"], "recipeInstructions": step,
            "cookTime": "PT20M",
        }  # fmt: skip
        settle(kitchen, KEEPS)
        done = import_recipes([publish(tmp_path, bake)], kitchen)
        assert [one.ask for one in done.questions] == (["heat"] if open_ else []), step
        assert done.written == ([] if open_ else ["morning_oats"]), step
        (kitchen / "recipes" / "morning_oats.yaml").unlink(missing_ok=True)
    bake["recipeInstructions"] = "Bake at 180 C for 20 minutes."
    settle(kitchen, {**KEEPS, ("heat", "*", "*"): "1: 65"})
    with pytest.raises(BadInput) as raised:
        import_recipes([publish(tmp_path, bake)], kitchen)
    assert [fault.why for fault in raised.value.faults] == [
        "no step reaches the published temperature"
    ]


def test_unknown_allergens_are_told_and_bar_the_dish(kitchen: Path, tmp_path: Path) -> None:
    """They hold no recipe back, since nobody who excludes any is served it."""
    table = kitchen / "foods.csv"
    rows = table.read_text(encoding="utf-8").replace("1.03,milk,", "1.03,,")
    table.write_text(rows, encoding="utf-8")
    settle(kitchen, KEEPS)
    done = import_recipes([publish(tmp_path, PORRIDGE)], kitchen)
    assert done.written == ["morning_oats"]
    assert asked(done) == [("allergens", "milk_whole", "")]
    assert done.drafts[0].notes == ["milk_whole: allergens not known, barred from who excludes any"]
    catalog = load_catalog(kitchen)
    lines = catalog.recipes["morning_oats"].lines
    assert any(catalog.foods[line.food].barred_by(["egg"]) for line in lines)


@pytest.mark.parametrize(("claimed", "asks"), [("300 kcal", False), ("650 kcal", True)])
def test_claimed_energy_finds_misread_amounts(
    kitchen: Path, tmp_path: Path, claimed: str, asks: bool
) -> None:
    """A serving has (81 x 3.79 + 412 x 0.61 + 110 x 0.40) / 2 = 301 kcal."""
    settle(kitchen, KEEPS)
    page = publish(tmp_path, {**PORRIDGE, "nutrition": {"calories": claimed}})
    done = import_recipes([page], kitchen)
    assert [one.ask for one in done.questions] == (["energy"] if asks else [])
    assert done.written == ([] if asks else ["morning_oats"])
    if asks:
        assert done.questions[0].why.startswith(
            "the source claims 650 kcal a serving, these lines give 301;"
        )
        settle(kitchen, {**KEEPS, ("energy", "morning_oats", ""): "ok"})
        assert import_recipes([page], kitchen).written == ["morning_oats"]


def test_one_bad_page_stops_no_other(kitchen: Path, tmp_path: Path) -> None:
    """Files at fault are told; the same recipe twice is one, another of its name gets a number."""
    folder = tmp_path / "pages"
    folder.mkdir()
    publish(folder, PORRIDGE, {**PORRIDGE, "recipeYield": "2"}, name="a.json")
    publish(folder, {**PORRIDGE, "recipeIngredient": ["2 eggs"]}, name="b.json")
    publish(folder, {**PORRIDGE, "recipeIngredient": []}, name="c.json")
    (folder / "d.json").write_text('{"@type": ', encoding="utf-8")
    (folder / "e.html").write_text("<html></html>", encoding="utf-8")
    (folder / "f.txt").write_text("no page", encoding="utf-8")
    settle(kitchen, {**KEEPS, ("heat", "*", "*"): "suggested"})
    done = import_recipes([folder], kitchen)
    assert done.written == ["morning_oats", "morning_oats_2"]
    assert done.twice == ["Morning oats"]
    assert [fault.code for fault in sorted(done.faults)] == ["recipe_incomplete", "json_syntax"]
    assert done.without_recipe == [folder / "e.html"]


def test_faults_of_answers_are_told_together_and_nothing_is_written(
    kitchen: Path, tmp_path: Path
) -> None:
    """Each with its line; the file stays as it is."""
    answers = {
        **SETTLED,
        ("food", "*", "rice"): "rice_wite_long",
        ("measure", "*", "large one of onion"): "big",
        ("yield", "vague_stew", "Vague stew"): "many",
        ("meals", "*", "*"): "supper",
        ("minutes", "*", "*"): "20",
        ("hob", "vague_stew", ""): "long",
        ("keeps", "*", "*"): "soups, 3, 0, reheated",
    }
    file = settle(kitchen, answers)
    before = file.read_bytes()
    with pytest.raises(BadInput) as raised:
        import_recipes([publish(tmp_path, LEFT_OPEN)], kitchen)
    codes = [(fault.line, fault.value, fault.code) for fault in raised.value.faults]
    lines = {key: number for number, key in enumerate(answers, 2)}
    wrong = {
        ("food", "*", "rice"): "unknown_food",
        ("measure", "*", "large one of onion"): "answer_not_understood",
        ("yield", "vague_stew", "Vague stew"): "answer_not_understood",
        ("meals", "*", "*"): "answer_not_understood",
        ("minutes", "*", "*"): "answer_not_understood",
        ("hob", "vague_stew", ""): "answer_not_understood",
        ("keeps", "*", "*"): "answer_not_understood",
    }
    assert codes == sorted((lines[key], answers[key], code) for key, code in wrong.items())
    assert file.read_bytes() == before
    assert list((kitchen / "recipes").iterdir()) == []


def test_a_catalog_at_fault_is_mended_first(kitchen: Path, tmp_path: Path) -> None:
    """But a kitchen need not have a recipe yet."""
    (kitchen / "measures.csv").write_text("food_id,unit\n", encoding="utf-8")
    with pytest.raises(BadInput) as raised:
        import_recipes([publish(tmp_path, PORRIDGE)], kitchen)
    assert {fault.code for fault in raised.value.faults} == {"missing_column"}


@pytest.mark.parametrize(
    ("name", "recipe_id"),
    [
        ("Crème brûlée (for 4)", "creme_brulee_for_4"),
        ("5-minute soup", "minute_soup"),
        ("\u9ebb\u5a46\u8c46\u8150", "recipe"),
        ("x" * 80, "x" * 60),
        ("  Extra X  ", "extra_x"),
    ],
)
def test_ids_of_recipes(name: str, recipe_id: str) -> None:
    """Letters without accents, digits not in front, no more than an id may have."""
    assert recipe_id_of(name) == recipe_id


def test_the_command_line(kitchen: Path, tmp_path: Path) -> None:
    """Foods that are not called quite so are shown with their confidence; faults end with 3."""
    oats = {**PORRIDGE, "recipeIngredient": ["1 cup roled oats", "400 ml whole milk (optional)"]}
    page = publish(tmp_path, oats)
    settle(kitchen, {**KEEPS, ("food", "*", "roled oats"): "oats_rolled"})
    runner = CliRunner()
    result = runner.invoke(app, ["import", "recipes", str(page), "--into", str(kitchen)])
    assert result.exit_code == 0, result.output
    assert result.output == (
        "morning_oats: optional in the source, and always in here: 400 ml whole milk (optional).\n"
        "1 recipe written.\n"
    )
    bake = {**PORRIDGE, "name": "Oat bake", "recipeIngredient": ["200 g rollled oats", "1 egg"]}
    page = publish(tmp_path, bake)
    result = runner.invoke(app, ["import", "recipes", str(page), "--into", str(kitchen)])
    assert result.output.endswith(
        "0 recipes written, 1 recipe waiting for answers.\n"
        f"1 question on 1 recipe in {kitchen / ANSWERS_FILE}: fill in the column answer, then"
        " import again.\n"
    )
    settle(kitchen, {**KEEPS, ("heat", "*", "*"): "suggested"})
    command = ["import", "recipes", str(page), "--into", str(kitchen)]
    assert runner.invoke(app, command).output == (
        "oat_bake: '200 g rollled oats' is taken as oats_rolled, whose name fits 94%.\n"
        "1 recipe written.\n"
    )
    told = json.loads(runner.invoke(app, [*command, "--json"]).output)
    assert (told["ok"], told["unchanged"], told["questions"]) == (True, ["oat_bake"], [])
    assert told["recipes"][0]["lines"][0] == {
        "sentence": "200 g rollled oats",
        "food": "oats_rolled",
        "amount": 200.0,
        "unit": "g",
        "state": None,
        "grams": 200.0,
        "confidence": 0.937,
        "settled": False,
    }
    gone = runner.invoke(app, ["import", "recipes", "gone.json", "--into", str(kitchen)])
    assert (gone.exit_code, gone.stdout) == (3, "0 recipes written.\n")
    assert "gone.json: 'gone.json' [file_missing]" in gone.stderr
    cups = runner.invoke(app, ["import", "recipes", "x", "--into", "y", "--cups", "old"])
    assert cups.exit_code == 2


def test_texts_of_others_are_no_formulas(kitchen: Path, tmp_path: Path) -> None:
    """A spreadsheet that opens the questions runs nothing, and the answers are found again."""
    evil = {**PORRIDGE, "name": "=cmd()", "recipeIngredient": ["+ 1 mystery", "2 eggs"]}
    page = publish(tmp_path, evil)
    import_recipes([page], kitchen)
    file = kitchen / ANSWERS_FILE
    with file.open(encoding="utf-8", newline="") as rows:
        cells = [cell for row in csv.reader(rows) for cell in row]
    assert "'=cmd()" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
    text = file.read_text(encoding="utf-8")
    assert text.count("\nkeeps,") == 1
    file.write_text(text.replace("\nkeeps,cmd,'=cmd(),,", "\nkeeps,cmd,'=cmd(),suggested,"))
    assert "keeps" not in {one.ask for one in import_recipes([page], kitchen).questions}
    sentence = {**evil, "recipeIngredient": ["=salt"]}
    page = publish(tmp_path, sentence)
    import_recipes([page], kitchen)
    text = file.read_text(encoding="utf-8")
    assert "\nsentence,*,'=salt,," in text
    file.write_text(text.replace("'=salt,,", "'=salt,leave out,"), encoding="utf-8")
    assert import_recipes([page], kitchen).drafts[0].notes == ["left out, as answered: =salt"]
