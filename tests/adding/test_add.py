"""`planopt new --empty` and `planopt add`: from an empty folder to a kitchen that plans."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from kitchens import write_kitchen
from planopt import cli
from planopt.adding.asking import Asker
from planopt.adding.clients import read_window
from planopt.adding.foods import choose
from planopt.adding.prices import free_id, read_size
from planopt.adding.recipes import read_line, read_oven, read_step
from planopt.catalog.load import load_catalog
from planopt.faults import BadOption, ExitCode
from planopt.intake.sr28 import sr28_foods
from planopt.pipeline import load_kitchen, make_plan
from planopt.scenario.households.paths import check_paths_and_warn
from planopt.solve.settings import SolveSettings
from planopt.starter import write_empty

runner = CliRunner()


def run(*words: str, wanted: ExitCode = ExitCode.OK) -> str:
    """Run a command and return what it printed, both streams."""
    result = runner.invoke(cli.app, list(words))
    assert result.exit_code == wanted, result.output
    return result.output


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty kitchen, which is the current folder."""
    folder = tmp_path / "kitchen"
    write_empty(folder, date(2026, 11, 28))
    monkeypatch.chdir(folder)
    return folder


RICE = ["add", "food", "rice_white_long", "--composition", "20044", "--allergens", "none"]
EGG = ["add", "food", "egg", "--composition", "01123", "--allergens", "egg", "--keeps-days", "28"]
RECIPE = (
    "add recipe egg_rice --name|Egg rice|--meals|breakfast,lunch,dinner,snack|--servings|2|"
    "--hands-on|10|--extra|4|--hob|25|--kind|leftovers_in_general|--serve|reheated|--line|"
    "200 g rice_white_long|--line|4 each egg|--step|Boil the rice.|--step|"
    "Stir in the eggs (until 72 C inside)"
)


def test_an_empty_kitchen_lacks_only_what_is_to_be_added(kitchen: Path) -> None:
    """Facts are there; a Monday to begin on; faults say that recipes and clients are missing."""
    faults, _ = check_paths_and_warn([kitchen])
    assert sorted((fault.field, fault.code) for fault in faults) == [
        ("", "no_recipes"),
        ("clients", "not_a_list"),
    ]
    week = yaml.safe_load((kitchen / "scenarios/first_week.yaml").read_text(encoding="utf-8"))
    assert week["start_date"] == date(2026, 11, 30)
    for name in ("foods", "measures", "yields", "sellers", "packs"):
        assert (kitchen / f"catalogs/{name}.csv").read_text(encoding="utf-8").count("\n") == 1
    for name in ("allergens", "storage_limits", "reference_intakes"):
        assert (kitchen / f"catalogs/{name}.csv").read_text(encoding="utf-8").count("\n") > 5


def test_from_nothing_to_a_plan(kitchen: Path) -> None:
    """Two foods, two prices, a recipe and a client, each by one command; then a plan."""
    run(*RICE, "--safety-group", "grains_and_beans")
    run(*EGG, "--safety-group", "egg")
    price = ["add", "price", "rice_white_long", "--seller", "corner", "--size", "1kg"]
    new = ["--seller-name", "Corner shop", "--currency", "USD", "--price", "1.90"]
    assert "1.90 USD a kilogram" in run(*price, *new)
    # Six eggs of 44 g without shell (SR28's medium egg): 2.40 / 0.264 kg.
    egg = ["add", "price", "egg", "--seller", "corner", "--size", "6 each", "--price", "2.40"]
    assert "9.09 USD a kilogram" in run(*egg)
    first, rest = RECIPE.split(" --name|")
    run(*first.split(), "--name", *rest.split("|"))
    client = ["add", "client", "scenarios/first_week.yaml", "ada", "--allergens", "none"]
    run(*client, "--window", "energy_kcal 1200-1900", "--age", "40", "--sex", "female")
    run("check", ".")
    scenario = kitchen / "scenarios/first_week.yaml"
    text = scenario.read_text(encoding="utf-8")
    # One recipe is eaten once a day.
    text = text.replace("days: 7", "days: 2").replace(
        "[breakfast, lunch, dinner, snack]", "[dinner]"
    )
    text = text.replace("{min: 1200, max: 1900}", "{min: 800}")
    scenario.write_text(text, encoding="utf-8")
    plan = make_plan(load_kitchen(scenario), SolveSettings(work_limit=20, gap=0.5))
    assert plan.portions


def test_a_food_has_the_figures_of_the_table_in_the_columns_of_the_catalog(kitchen: Path) -> None:
    """USDA SR28 11246, in a table whose columns stand in another order."""
    foods = kitchen / "catalogs/foods.csv"
    header = foods.read_text(encoding="utf-8").strip().split(",")
    foods.write_text(",".join(reversed(header)) + "\r\n", encoding="utf-8", newline="")
    output = run(
        *("add", "food", "leek", "--composition", "leeks raw", "--keeps-days", "10"),
        *("--safety-group", "produce", "--name", "Leek, cleaned"),
    )
    assert "Its allergens are not known" in output
    assert "state raw, edible-share 0.44, aisle produce, storage fridge" in output
    raw = foods.read_bytes().decode()
    assert raw.count("\r\n") == raw.count("\n") == 2
    (kitchen / "catalogs/recipes/x.yaml").write_text("", encoding="utf-8")
    faults, _ = check_paths_and_warn([kitchen / "catalogs"])
    assert [fault.code for fault in faults] == ["empty_file"]
    (kitchen / "catalogs/recipes/x.yaml").unlink()
    row = dict(zip(reversed(header), raw.splitlines()[1].split(","), strict=False))
    assert row["vitamin_e_mg"] == "0.92"
    measures = (kitchen / "catalogs/measures.csv").read_text(encoding="utf-8")
    assert "leek,each,,89,SR28 portion 11246 leek\n" in measures


def test_what_is_missing_is_told_at_once_with_what_the_name_suggests(kitchen: Path) -> None:
    """No group and no keeping days are guessed for raw chicken."""
    output = run(
        *("add", "food", "chicken_breast", "--composition", "05062"), wanted=ExitCode.USAGE
    )
    assert "--safety-group is needed: Safety group (its name suggests poultry)" in output
    assert "--keeps-days is needed" in output
    assert (kitchen / "catalogs/foods.csv").read_text(encoding="utf-8").count("\n") == 1
    output = run("add", "food", "tomatoes", wanted=ExitCode.USAGE)
    assert "'tomatoes' may mean several foods; give --composition NUMBER" in output
    assert "11529  100.0 %  Tomatoes, red, ripe, raw, year round average" in output
    assert "like 'zzqx'" in run("add", "food", "zzqx", wanted=ExitCode.USAGE)
    assert "letter first" in run("add", "food", "Egg!", wanted=ExitCode.USAGE)


def test_an_addition_with_a_fault_leaves_every_file_as_it_was(kitchen: Path) -> None:
    """Raw chicken that is called ready, and a recipe that leaves eggs raw."""
    run(*EGG, "--safety-group", "egg")
    before = {path: path.read_bytes() for path in kitchen.rglob("*") if path.is_file()}
    output = run(
        *("add", "food", "chicken_breast", "--composition", "05062", "--keeps-days", "2"),
        *("--safety-group", "poultry", "--state", "ready"),
        wanted=ExitCode.BAD_INPUT,
    )
    assert "[state_not_raw]" in output
    first, rest = RECIPE.split(" --name|")
    words = [*first.split(), "--name", *rest.split("|")]
    output = run(*words, wanted=ExitCode.BAD_INPUT)
    assert "rice_white_long" in output
    output = run(*words[:-4], "--line", "1 each egg", wanted=ExitCode.BAD_INPUT)
    assert "[internal_temperature_low]" in output
    assert {path: path.read_bytes() for path in kitchen.rglob("*") if path.is_file()} == before


def test_what_is_there_already_is_told(kitchen: Path) -> None:
    """Before anything else is asked for."""
    run(*EGG, "--safety-group", "egg")
    output = run(*EGG, "--safety-group", "egg", wanted=ExitCode.USAGE)
    assert "egg: the catalog has this food already" in output
    output = run("add", "price", "egs", "--size", "1bag", "--price", "cheap", wanted=ExitCode.USAGE)
    for text in ("did you mean 'egg'?", "--seller is needed", "--size 1bag", "--price cheap"):
        assert text in output


def test_a_label_and_a_table_of_ones_own(kitchen: Path) -> None:
    """A bar by its label, and bread by a column map."""
    (kitchen / "bar.txt").write_text("Serving size 1 bar (40 g)\nCalories 180\nHello\n")
    common = ["--storage", "shelf", "--aisle", "snacks", "--safety-group", "none"]
    common += ["--allergens", "none", "--state", "ready"]
    output = run("add", "food", "oat_bar", "--label", "bar.txt", *common, "--edible-share", "1")
    assert "Lines of the label that were not used: Hello" in output
    assert "Not in the table, so unknown: calcium_mg" in output
    (kitchen / "t.csv").write_text("code,name,kcal\n7,White bread,265\n", encoding="utf-8")
    (kitchen / "m.yaml").write_text(
        "source: My table\nkey: code\ndescription: name\nnutrients: {energy_kcal: kcal}\n"
    )
    table = ["--table", "t.csv", "--map", "m.yaml", "--composition", "bread"]
    run("add", "food", "bread", *table, *common)
    foods = (kitchen / "catalogs/foods.csv").read_text(encoding="utf-8").splitlines()
    assert foods[1].startswith('oat_bar,Oat bar,,"nutrition label : oat bar, nutrition label",450')
    assert foods[2].startswith("bread,Bread,,My table 7: White bread,265,")
    run("add", "food", "x", "--map", "m.yaml", wanted=ExitCode.USAGE)


def test_on_a_terminal_each_answer_is_asked_for(
    kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Slips are asked again with their reason; Enter takes what is proposed."""
    monkeypatch.setattr(cli.add, "on_terminal", lambda: True)
    answers = ["01123", "", "", "", "", "mik", "egg", "", "", "egg", "28", ""]
    result = runner.invoke(
        cli.app,
        ["add", "food", "egg", "--composition", "egg whole raw"],
        input="\n".join(answers) + "\n",
    )
    assert result.exit_code == ExitCode.OK, result.output
    assert "mik: did you mean 'milk'?" in result.output
    text = (kitchen / "catalogs/foods.csv").read_text(encoding="utf-8")
    assert text.splitlines()[1].startswith("egg,Egg,01123,")
    answers = ["corner", "Corner shop", "6 each", "2.40", "USD", "2026-11-20", ""]
    result = runner.invoke(cli.app, ["add", "price", "egg"], input="\n".join(answers) + "\n")
    assert result.exit_code == ExitCode.OK, result.output
    answers = ["Eggs", "snack", "1", "3", "1", "12", "12", "", "hard_cooked_eggs", "5", "", "cold"]
    answers += ["2 each egg", "two eggs", "", "Boil them (until 75 C inside)", ""]
    result = runner.invoke(cli.app, ["add", "recipe", "eggs"], input="\n".join(answers) + "\n")
    assert result.exit_code == ExitCode.OK, result.output
    assert "two eggs: write amount, unit and food" in result.output
    recipe = load_catalog(kitchen / "catalogs").recipes["eggs"]
    assert len(recipe.lines) == 1
    assert recipe.steps[0].until_internal_c == 75
    answers = ["Ada", "", "", "egg", "energy_kcal 1500-1900", "lots", ""]
    path = "scenarios/first_week.yaml"
    result = runner.invoke(cli.app, ["add", "client", path, "ada"], input="\n".join(answers) + "\n")
    assert result.exit_code == ExitCode.OK, result.output
    (client,) = yaml.safe_load(Path(path).read_text(encoding="utf-8"))["clients"]
    assert client == {
        "id": "ada",
        "name": "Ada",
        "windows_per_day": {"energy_kcal": {"min": 1500, "max": 1900}},
        "allergens": ["egg"],
    }


def test_a_client_goes_into_the_roster_where_there_is_one(tmp_path: Path) -> None:
    """In the columns that it has; one that it lacks is told and nothing is written."""
    path = write_kitchen(tmp_path, clients=None, roster="clients.csv", kitchen="separate")
    roster = tmp_path / "clients.csv"
    roster.write_text("id;name;energy_kcal_min;allergens\nbo;Bo;1500;milk\n", encoding="utf-8")
    roster.write_text("id,name,energy_kcal_min,allergens\nbo,Bo,1500,milk\n", encoding="utf-8")
    words = ["add", "client", str(path), "cy", "--allergens", "milk,egg"]
    output = run(*words, "--window", "energy_kcal 1600-1900", wanted=ExitCode.BAD_INPUT)
    assert "add the column 'energy_kcal_max' to the header" in output
    output = run(*words, "--window", "energy_kcal 1600-")
    assert "look at this: " in output
    assert "[meal_without_recipe]" in output
    assert roster.read_text(encoding="utf-8").splitlines()[-1] == "cy,Cy,1600,milk|egg"


def test_a_client_of_a_known_id_is_refused(tmp_path: Path) -> None:
    """The scenario stays as it was."""
    path = write_kitchen(tmp_path)
    text = path.read_text(encoding="utf-8")
    known = yaml.safe_load(text)["clients"][0]["id"]
    output = run(
        "add", "client", str(path), known, "--allergens", "none", wanted=ExitCode.BAD_INPUT
    )
    assert "[duplicate_id]" in output
    assert path.read_text(encoding="utf-8") == text
    output = run("add", "client", str(path), "cy", "--window", "much", wanted=ExitCode.USAGE)
    assert "--allergens is needed" in output
    assert "--window much" in output


def test_forms_of_answers() -> None:
    """Sizes, lines, steps, ovens, windows, ids."""
    assert read_size("500g") == read_size("500 G") == ("500", "g")
    assert read_line("1.5 cup rice cooked optional") == {
        "food": "rice", "amount": 1.5, "unit": "cup", "state": "cooked", "optional": True
    }  # fmt: skip
    assert read_step("Simmer.") == {"do": "Simmer."}
    assert read_step("Roast (until 74 C inside).") == {"do": "Roast.", "until_internal_c": 74}
    assert read_oven("180 C 30 min") == read_oven("180 30")
    assert read_window("fat_g -70") == ("fat_g", {"max": 70})
    assert read_window("energy_kcal: 1800 to 2100") == ("energy_kcal", {"min": 1800, "max": 2100})
    assert free_id("Egg, 6each!", {"egg_6each"}) == "egg_6each_2"
    for read, text in (
        (read_size, "500"),
        (read_size, "1 bag"),
        (read_line, "rice"),
        (read_line, "1 bag rice"),
        (read_line, "1 g rice burnt"),
        (read_oven, "hot"),
        (read_window, "energy_kcal -"),
    ):
        with pytest.raises(ValueError, match=r".+"):
            read(text)  # type: ignore[operator]


def test_choosing_without_anybody_to_ask() -> None:
    """By number, by words that fit one food, else refused with the nearest."""
    foods = sr28_foods()
    assert choose(foods, "01123", Asker({})).key == "01123"
    assert choose(foods, "leek raw", Asker({})).key == "11246"
    with pytest.raises(BadOption, match="may mean several"):
        choose(foods, "egg", Asker({}))
