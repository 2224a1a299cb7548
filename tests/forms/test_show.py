"""`planopt show`: parts of a written plan at 80 columns, with or without the files it names."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from forms.renamed import renamed
from kitchens import CATALOG, write_kitchen
from planopt import cli
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.faults import BadInput, BadOption, ExitCode
from planopt.pipeline import load_kitchen, make_plan
from planopt.plan.records import Plan
from planopt.report.files.folder import plan_json
from planopt.report.files.reopen import open_plan
from planopt.report.terminal.screens import (
    client_screen,
    cook_screen,
    groceries_screen,
    labels_screen,
)
from planopt.report.terminal.show import Part, show_folder
from planopt.report.words.columns import screen_width, wrap
from planopt.report.words.locale import Display, showing
from planopt.scenario.records import Away
from planopt.solve.settings import SolveSettings
from report_samples import sample_catalog, sample_plan, sample_scenario

runner = CliRunner()


def _screens(plan: Any, catalog: Any, scenario: Any) -> dict[Part, str]:
    boxes = containers_of(plan, catalog, scenario)
    return {
        Part.CLIENT: client_screen(plan, catalog, scenario),
        Part.GROCERIES: groceries_screen(plan, catalog, scenario),
        Part.COOK: cook_screen(
            plan, catalog, scenario, schedule_cook_days(plan, catalog, scenario)
        ),
        Part.LABELS: labels_screen(boxes, catalog, scenario),
    }


def _sample() -> dict[Part, str]:
    return _screens(sample_plan(), sample_catalog(), sample_scenario())


def _flat(text: str) -> str:
    return " ".join(text.split())


# ------------------------------------------------------------------ what the screens say


def test_a_clients_week_has_every_portion_and_the_sum_of_the_day() -> None:
    """Meals, dishes in full, servings, energy and where the portion is, day by day."""
    flat = _flat(_sample()[Part.CLIENT])
    for words in (
        "Ana, Mon 2027-01-04 to Tue 2027-01-05",
        "lunch Plain mash 1 308 20.0 fridge",
        "dinner Fish and potato bake, with haddock 1.5 240 30.0 fridge fillet and parsley",
        "day 548 50.0",
        "dinner Fish and potato bake, with haddock 1 160 20.0 freezer",
        "Ben, Mon 2027-01-04",
        "lunch (away) dinner",
    ):
        assert words in flat


def test_the_figures_of_a_day_add_up_to_its_last_line() -> None:
    """A coach who adds the rows up gets the sum below them, however they round."""
    plan = sample_plan()
    odd = {"energy_kcal": 100.4, "protein_g": 7.04, "fat_g": 1.0, "carbohydrate_g": 1.0}
    portions = tuple(one.model_copy(update={"nutrients": odd}) for one in plan.portions)
    changed = plan.model_copy(update={"portions": portions})
    text = client_screen(changed, sample_catalog(), sample_scenario())
    days = [day for day in text.split("\n\n") if "\nday " in day]
    assert days
    for day in days:
        found = re.findall(r"(\d+) +(\d+\.\d)(?: +fridge| +freezer|$)", day, re.MULTILINE)
        *rows, total = [(int(kcal), round(10 * float(protein))) for kcal, protein in found]
        assert tuple(map(sum, zip(*rows, strict=True))) == total
    assert "201       14.1" in text, "the sums are of what is eaten, not of rounded rows"


def test_meals_away_are_marked() -> None:
    """A meal eaten elsewhere and a whole day away are told, so that nothing seems forgotten."""
    scenario = sample_scenario()
    ana, ben = scenario.clients
    gone = ben.model_copy(update={"away": Away(days=(1,), meals={2: ("lunch",)})})
    plan = sample_plan()
    left = [p for p in plan.portions if (p.client_id, p.day) != ("ben", 1)]
    text = client_screen(
        plan.model_copy(update={"portions": tuple(left)}), sample_catalog(),
        scenario.model_copy(update={"clients": (ana, gone)}), "ben",
    )  # fmt: skip
    _, first, second = text.split("\n\n")
    assert first == "Mon 2027-01-04\nAway all day."
    assert re.search(r"^lunch +\(away\)$", second, re.MULTILINE)
    assert re.search(r"^dinner +Fish and potato bake", second, re.MULTILINE)


def test_the_columns_of_all_days_stand_below_each_other() -> None:
    """A long dish on one day does not move the figures of the next."""
    text = client_screen(sample_plan(), sample_catalog(), sample_scenario(), "ana")
    heads = [line.index("Servings") for line in text.splitlines() if line.startswith("Meal")]
    assert len(heads) == 2
    assert len(set(heads)) == 1


def test_one_client_can_be_asked_for() -> None:
    """Only that client's week and labels are shown."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    week = client_screen(plan, catalog, scenario, "ben")
    labels = labels_screen(containers_of(plan, catalog, scenario), catalog, scenario, "ben")
    for text in (week, labels):
        assert "Ben" in text
        assert "Ana" not in text


def test_groceries_add_up_to_the_cent() -> None:
    """Lines, visits and the whole agree with the plan; what is on hand follows."""
    text = _sample()[Part.GROCERIES]
    assert re.findall(r"^ +Total +([\d.]+)$", text, re.MULTILINE) == ["2.40", "12.70"]
    assert "All sellers: 15.10 USD" in text
    assert "2 x 500 g" in text
    assert "Parsley, fresh" in text.split("Already on hand")[1]


def test_cook_days_have_timetable_quantities_steps_and_storage() -> None:
    """A cook finds hours, what holds the oven, grams and cups, temperatures and dates."""
    text = _sample()[Part.COOK]
    (day,) = schedule_cook_days(sample_plan(), sample_catalog(), sample_scenario())
    flat = _flat(text)
    for words in (
        "Cook on Sun 2027-01-03",
        f"From 09:00 to {day.ends_at:%H:%M}, {day.makespan_minutes} min; no order of this work",
        f"takes less than {day.lower_bound_minutes} min.",
        f"Hands-on work: {day.hands_on_minutes} min; besides, no clean-down is needed in this",
        "oven 1, 200 C (392 F)",
        "338 g 2 1/4 cups Potato",
        "15 g Parsley, fresh, optional, left in, cold topping",
        "900 g Haddock fillet, swapped in",
        "Inside at least 63 C (145 F).",
        "Fridge: eat by Wed 2027-01-06. Freezer: freeze 2.5 servings by Sun 2027-01-03, as soon"
        " as cold; thaw in the fridge by Thu 2027-03-04 and eat within 1 day.",
    ):
        assert words in flat
    assert "…" not in text, "no name is cut"
    timetable = [line for line in text.splitlines() if re.match(r"\d\d:\d\d  ", line)]
    assert len(timetable) == len(day.tasks)


def test_labels_have_what_a_box_needs() -> None:
    """Dish, client, dates, portion, rounded figures and allergens stand on each label."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    fish = catalog.foods["haddock"].model_copy(update={"allergens": ("fish",)})
    named = catalog.model_copy(update={"foods": {**catalog.foods, "haddock": fish}})
    boxes = containers_of(plan, named, scenario)
    text = labels_screen(boxes, named, scenario)
    frozen = sum(box.stored == "freezer" for box in boxes)
    assert text.count("use by") == len(boxes) - frozen
    dates = "Cooked, freeze by Sun 3 Jan, thaw on Mon 4 Jan, eat by Tue"
    assert " ".join(text.split()).count(dates) == frozen > 0
    # The freezer's limit is 4 March; a lone date so far away reads as that of the dish.
    assert " Mar" not in text
    assert text.count("Contains fish") == sum("fish" in box.allergens_of_dish for box in boxes) > 0
    assert "No listed allergen" in text
    assert "Keep in the freezer, thaw in the fridge" in text
    assert "Ben · ben, Tue 5 Jan, dinner: 1.5 servings" in text


# ------------------------------------------------------------------ 80 columns


@given(
    name=st.text(
        st.sampled_from("aW é漢字한\u0301\u200d\x1b\n\t|🍲=,") | st.characters(),
        min_size=1, max_size=120,
    ),
    locale=st.sampled_from((None, "en_US", "de_DE", "fr_FR", "ja_JP")),
)  # fmt: skip
@settings(max_examples=12, deadline=None)
def test_no_part_is_wider_than_80_columns(name: str, locale: str | None) -> None:
    """However odd or long the names are, in any locale, every line fits and prints."""
    with showing(Display(locale, "us")):
        for part, text in _screens(*renamed(name)).items():
            for line in text.split("\n"):
                assert screen_width(line) <= 80, part
                assert line.isprintable(), part


def test_long_dish_names_are_wrapped_and_not_cut() -> None:
    """A client reads the whole name of a dish, over several lines."""
    name = "Slowly roasted winter roots with barley, brown butter and a sharp green sauce of herbs"
    _, text = client_screen(*renamed(name)).split("\n\n", 1)
    assert name in _flat(re.sub(r"^(?:lunch|dinner) |  +[\d.]+ .*$", "", text, flags=re.MULTILINE))
    assert "…" not in text.split("\n\n", 1)[0]


@given(text=st.text(st.sampled_from("ab漢 \n"), max_size=60), width=st.integers(4, 30))
@settings(deadline=None)
def test_wrapping_loses_no_letter(text: str, width: int) -> None:
    """Lines are at most as wide as asked, and hold the letters of the text in order."""
    lines = wrap(text, width)
    assert all(screen_width(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


# ------------------------------------------------------------------ from the folder


@dataclass(frozen=True)
class Written:
    """A plan of the tiny kitchen in `home`, in the folder `week`."""

    home: Path
    plan: Plan


@pytest.fixture(scope="module")
def solved(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """The tiny kitchen, planned once."""
    home = tmp_path_factory.mktemp("home")
    write_kitchen(home, days=1, stock=[{"food": "egg", "amount": 2, "unit": "each"}])
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(home)
        plan = make_plan(load_kitchen(Path("scenario.yaml")), SolveSettings(threads=1, gap=0.05))
    (home / "week").mkdir()
    (home / "week" / "plan.json").write_text(plan_json(plan), encoding="utf-8")
    return Written(home, plan)


@pytest.fixture
def written(solved: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Written:
    """A copy of kitchen and plan of its own for each test, entered."""
    home = tmp_path / "home"
    shutil.copytree(solved.home, home)
    monkeypatch.chdir(home)
    return Written(home, solved.plan)


def test_the_files_the_plan_names_are_found_from_anywhere(
    written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the folder of planning, or from elsewhere with the kitchen around the plan."""
    here = show_folder(Path("week"), Part.COOK)
    (tmp_path / "away").mkdir()
    monkeypatch.chdir(tmp_path / "away")
    assert show_folder(written.home / "week", Part.COOK) == here
    assert here[1] == ()
    assert open_plan(written.home / "week").complete


def test_a_file_that_is_unchanged_goes_before_one_of_the_same_name(
    written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another kitchen in the current folder is not taken for the plan's own."""
    other = tmp_path / "other"
    write_kitchen(other, name="Other", days=2)
    monkeypatch.chdir(other)
    opened = open_plan(written.home / "week")
    assert opened.scenario.name == "Tiny week"
    assert opened.notes == ()


def test_a_changed_kitchen_is_told(written: Written) -> None:
    """The plan is shown with the names of now, and the reader is told."""
    path = written.home / CATALOG / "foods.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("Onion", "Red onion"), "utf-8")
    text, notes = show_folder(Path("week"), Part.COOK)
    assert len(notes) == 1
    assert "scenario.yaml or its catalog has changed since this plan was made" in notes[0]
    assert text


def test_labels_of_a_food_that_has_changed_are_refused(written: Written) -> None:
    """The box was packed with what the catalog said then; other prices change no label."""
    catalog = written.home / CATALOG
    prices = catalog / "packs.csv"
    prices.write_text(prices.read_text(encoding="utf-8").replace("2.40", "2.50"), "utf-8")
    before, _ = show_folder(Path("week"), Part.LABELS)
    assert "Contains egg" in before
    foods = catalog / "foods.csv"
    text = foods.read_text(encoding="utf-8")
    assert ",egg,dairy_and_eggs" in text
    foods.write_text(text.replace(",egg,dairy_and_eggs", ",egg|milk,dairy_and_eggs"), "utf-8")
    with pytest.raises(BadInput) as caught:
        show_folder(Path("week"), Part.LABELS)
    assert str(caught.value) == (
        "week/plan.json: batches: 'foods/egg' [label_fact_changed]\n"
        "    why: it has changed since this plan was made, so a label made now might not tell what "
        "is in the box\n"
        "    mend: use labels.html of the plan's folder, or plan again"
    )
    for part in (Part.COOK, Part.CLIENT, Part.GROCERIES, Part.SUMMARY):
        note = show_folder(Path("week"), part)[1][0]
        assert "Changed since: foods/egg; " in note


def test_labels_of_a_plan_without_facts_need_the_catalog_as_it_was(written: Written) -> None:
    """A plan from before facts were kept cannot tell which change matters."""
    plan = Path("week/plan.json")
    data = json.loads(plan.read_text(encoding="utf-8"))
    del data["catalog_facts"]
    plan.write_text(json.dumps(data), encoding="utf-8")
    assert show_folder(Path("week"), Part.LABELS)[1] == ()
    prices = written.home / CATALOG / "packs.csv"
    prices.write_text(prices.read_text(encoding="utf-8").replace("2.40", "2.50"), "utf-8")
    with pytest.raises(BadInput, match="label_fact_changed"):
        show_folder(Path("week"), Part.LABELS)


def test_a_scenario_moved_on_to_the_next_week_keeps_the_dates_of_the_plan(written: Written) -> None:
    """The file is next week's now: names come from it, dates and amounts from the plan."""
    path = written.home / "scenario.yaml"
    text = path.read_text(encoding="utf-8").replace("2026-11-30", "2026-12-07")
    path.write_text(text.replace("name: Ana", "name: Anastasia"), encoding="utf-8")
    week, notes = show_folder(Path("week"), Part.CLIENT)
    assert notes[0].startswith("scenario.yaml is of another week than this plan; dates, grams,")
    assert "Anastasia, Mon 2026-11-30" in week
    assert "2026-12-07" not in week
    labels, _ = show_folder(Path("week"), Part.LABELS)
    assert "Anastasia · ana, Mon 30 Nov" in labels
    cook, _ = show_folder(Path("week"), Part.COOK)
    assert "Cook on Mon 2026-11-30" in cook
    assert "From 09:00 to" in cook


def test_stock_of_another_food_lends_no_date(written: Written) -> None:
    """A stock entry that is now another food says nothing about the food of the plan."""
    path = written.home / "scenario.yaml"
    egg = "food: egg\n  amount: 2\n  unit: each\n"
    text = path.read_text(encoding="utf-8")
    assert egg in text
    onion = "food: onion\n  amount: 2\n  unit: each\n  use_by: 2026-12-01\n"
    path.write_text(text.replace(egg, onion), encoding="utf-8")
    stock = show_folder(Path("week"), Part.GROCERIES)[0].split("Already on hand")[1]
    assert stock.splitlines()[-1].endswith(" -")


@pytest.mark.parametrize("damage", ["gone", "broken"])
def test_without_its_kitchen_a_plan_still_shows_what_it_holds(
    written: Written, damage: str
) -> None:
    """Menu, groceries and quantities are in the plan; labels need the catalog's allergens."""
    scenario = written.home / "scenario.yaml"
    if damage == "gone":
        scenario.unlink()
    else:
        scenario.write_text("name: [", encoding="utf-8")
    summary, notes = show_folder(Path("week"))
    assert "ana" in summary
    assert f"{written.plan.solution.grocery_cost}" in summary
    assert ("which `planopt check` lists" in notes[0]) == (damage == "broken")
    assert "names of clients" in notes[0]
    week, _ = show_folder(Path("week"), Part.CLIENT, "ana")
    assert all(portion.recipe_name.split()[0] in week for portion in written.plan.portions)
    cook, _ = show_folder(Path("week"), Part.COOK)
    assert "Fridge: eat by" in cook
    assert "Serve" not in cook, "how to serve is in the recipe, and a guess could harm"
    groceries, _ = show_folder(Path("week"), Part.GROCERIES)
    assert f"{written.plan.solution.grocery_cost} USD" in groceries
    with pytest.raises(BadInput) as caught:
        show_folder(Path("week"), Part.LABELS)
    food = min(line.food_id for batch in written.plan.batches for line in batch.lines)
    assert str(caught.value) == (
        f"week/plan.json: batches: '{food}' [label_food_unknown]\n"
        "    why: labels name allergens, and the catalog of this plan is not found or lacks this "
        "food\n"
        "    mend: run it from the folder in which the plan was made, or plan again"
    )


def _edit(written: Written, change: Any) -> None:
    data = json.loads(plan_json(written.plan))
    change(data)
    (written.home / "week" / "plan.json").write_text(json.dumps(data), encoding="utf-8")


def test_labels_of_a_plan_that_contradicts_itself_are_refused(written: Written) -> None:
    """A portion of a dish that nobody cooks has no box and no label."""
    _edit(written, lambda data: data["portions"][0].update(cook_day=-3))
    with pytest.raises(BadInput) as caught:
        show_folder(Path("week"), Part.LABELS)
    portion = written.plan.portions[0]
    assert str(caught.value) == (
        "week/plan.json: batches: 'portions' [portion_not_cooked]\n"
        f"    why: ana eats {portion.recipe_id} {portion.version} of cook day -3, which the plan "
        "does not cook\n"
        "    mend: run `planopt audit` on the plan, then plan again"
    )


@pytest.mark.parametrize("named", ["", "/", "a" * 5000, "week/plan.json/x"])
def test_odd_names_of_the_scenario_are_not_found(written: Written, named: str) -> None:
    """Whatever a plan edited by hand names, it is a file that is not there, and no traceback."""
    _edit(written, lambda data: data.update(scenario_file=named))
    assert "is not found from here" in show_folder(Path("week"))[1][0]


def test_a_plan_that_no_scenario_could_have_is_a_fault(written: Written) -> None:
    """Without its scenario, a plan with a client id that is none cannot be shown, and says so."""
    (written.home / "scenario.yaml").unlink()
    _edit(written, lambda data: data["portions"][0].update(client_id="Not An Id"))
    with pytest.raises(BadInput) as caught:
        show_folder(Path("week"), Part.CLIENT)
    assert {fault.code for fault in caught.value.faults} == {"plan_field"}


@pytest.mark.parametrize(
    ("part", "client", "words"),
    [
        (Part.CLIENT, "anna", "the plan has no client 'anna'; did you mean 'ana'?"),
        (Part.GROCERIES, "ana", "groceries is not of one client; only client and labels are"),
    ],
)
def test_clients_that_cannot_be_shown_are_refused(
    written: Written, part: Part, client: str, words: str
) -> None:
    """An unknown client, or one asked of a part that is of all, is a wrong option."""
    with pytest.raises(BadOption) as caught:
        show_folder(Path("week"), part, client)
    assert str(caught.value) == words


# ------------------------------------------------------------------ the command


def test_the_command_prints_text_to_stdout_and_notes_to_stderr(written: Written) -> None:
    """What is asked for can be piped; what is to be known about it cannot get lost in it."""
    result = runner.invoke(cli.app, ["show", "week", "cook", "--units", "metric"])
    assert (result.exit_code, result.stderr) == (ExitCode.OK, "")
    text, _ = show_folder(Path("week"), Part.COOK, None, Display(None, "metric"))
    assert result.stdout == f"{text}\n"
    (written.home / "scenario.yaml").unlink()
    result = runner.invoke(cli.app, ["show", "week"])
    assert result.exit_code == ExitCode.OK
    assert result.stderr.startswith("scenario.yaml is not found from here")
    assert result.stdout.startswith("Plan for Tiny week\n")


def test_the_command_follows_the_locale(written: Written) -> None:
    """A decimal comma in the terminal too."""
    result = runner.invoke(cli.app, ["show", "week", "--locale", "de_DE"])
    cost = f"{written.plan.solution.objective}".replace(".", ",")
    assert f"This week costs {cost}\N{NO-BREAK SPACE}$, all counted" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["week", "kitchen"], ExitCode.USAGE, "kitchen"),
        (["week", "--locale", "xx_XX"], ExitCode.USAGE, "'xx_XX' is no locale"),
        (["week", "--units", "imperial"], ExitCode.USAGE, "is not one of recipe, metric, us"),
        (["week", "client", "--client", "x"], ExitCode.USAGE, "the plan has no client 'x'"),
        (["nowhere"], ExitCode.BAD_INPUT, "[plan_unreadable]"),
    ],
)
def test_wrong_use_is_told(
    written: Written, arguments: list[str], code: ExitCode, words: str
) -> None:
    """Each wrong argument has its exit code and a sentence; nothing is printed to stdout."""
    result = runner.invoke(cli.app, ["show", *arguments])
    assert result.exit_code == code
    assert words in result.stderr
    assert result.stdout == ""
