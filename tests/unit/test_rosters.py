"""Rosters: clients as rows of a table or entries of a document, each with its own faults."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from kitchens import CATALOG, edited, tiny_client, tiny_scenario, write_kitchen
from planopt import cli
from planopt.faults import BadInput, ExitCode
from planopt.report.files.folder import scenario_schema
from planopt.scenario.households.parties import KitchensReading, load_kitchens, read_kitchens
from planopt.scenario.households.paths import check_paths
from planopt.scenario.kitchens import scenario_text
from planopt.scenario.reading.load import load_kitchen, load_scenario

# Of the tiny recipes one has groups.
GROUPED = edited(
    "recipes/egg_rice.yaml", "name: Egg rice\n", "name: Egg rice\ngroups: [rice, eggs]\n"
)
HEADER = "id,name,household,budget,energy_kcal_min,energy_kcal_max,allergens,dislikes,away_meals"


def roster_kitchen(folder: Path, *rows: str, header: str = HEADER, **keys: Any) -> Path:
    """Write the tiny kitchen with its clients in a table, and return the scenario's path."""
    path = write_kitchen(folder, **{"clients": None, "roster": "clients.csv", **keys})
    text = "\n".join([header, *rows]) + "\n"
    (folder / "clients.csv").write_text(text, encoding="utf-8")
    return path


def _texts(reading: KitchensReading) -> list[str]:
    return [fault.text() for fault in reading.all_faults()]


def test_a_row_is_the_same_client_as_an_entry(tmp_path: Path) -> None:
    """Every column lands where the YAML field of the same meaning does."""
    columns = {
        "id": "ana", "name": "Ana, the first", "household": "hill", "note": "rings at noon",
        "energy_kcal_min": "1500", "energy_kcal_max": "2100.5", "protein_g_min": "60",
        "sodium_mg_week_max": "16100", "meals": "breakfast|dinner", "allergens": "wheat | egg",
        "excluded_foods": "rice_white_long", "excluded_recipes": "egg_rice",
        "dislikes": "oats_rolled:1", "wants": "lentils_red_dry:2|onion:1",
        "most_meals_of": "rice:2|eggs : 3", "least_meals_of": "rice:1",
        "away_days": "2", "away_meals": "1:dinner|3:breakfast",
        "portion_step": "any", "portion_smallest": "0.25", "portion_largest": "3",
        "most_repeats": "5", "least_different_recipes": "2", "medically_supervised": "true",
        "most_different_recipes": "9", "days_between": "1",
        "ratings": "egg_rice:1.50|lentil_soup:-2",
    }  # fmt: skip
    entry = {
        "id": "ana", "name": "Ana, the first", "household": "hill",
        "windows_per_day": {"energy_kcal": {"min": 1500, "max": 2100.5}, "protein_g": {"min": 60}},
        "windows_per_week": {"sodium_mg": {"max": 16100}},
        "meals": ["breakfast", "dinner"], "allergens": ["wheat", "egg"],
        "excluded_foods": ["rice_white_long"], "excluded_recipes": ["egg_rice"],
        "dislikes": {"oats_rolled": 1}, "wants": {"lentils_red_dry": 2, "onion": 1},
        "most_meals_of": {"rice": 2, "eggs": 3}, "least_meals_of": {"rice": 1},
        "away": {"days": [2], "meals": {1: ["dinner"], 3: ["breakfast"]}},
        "portions": {"step": "any", "smallest": 0.25, "largest": 3},
        "most_repeats": 5, "least_different_recipes": 2, "medically_supervised": True,
        "most_different_recipes": 9, "days_between": 1,
        "ratings": {"egg_rice": "1.50", "lentil_soup": -2},
    }  # fmt: skip
    row = ",".join(f'"{cell}"' for cell in columns.values())
    from_table = roster_kitchen(tmp_path / "table", row, header=",".join(columns), files=GROUPED)
    from_document = write_kitchen(tmp_path / "document", files=GROUPED, clients=[entry])
    clients = []
    for path in (from_table, from_document):
        reading = read_kitchens(path)
        assert _texts(reading) == []
        (part,) = reading.parts
        clients += [part]
    assert [part.kitchen_id for part in clients] == ["hill", "hill"]
    assert clients[0].scenario is not None
    assert clients[1].scenario is not None
    assert clients[0].scenario.clients == clients[1].scenario.clients


def test_empty_cells_mean_the_defaults(tmp_path: Path) -> None:
    """A row with nothing but id and name is a client with every default."""
    path = roster_kitchen(tmp_path, "ana,Ana,,,,,,,")
    (part,) = read_kitchens(path).parts
    assert part.scenario is not None
    plain = write_kitchen(tmp_path / "plain", clients=[{"id": "ana", "name": "Ana"}])
    assert part.scenario.clients == load_scenario(plain).clients


def test_all_faults_of_all_rows_come_at_once_with_row_and_column(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every row is judged; what is wrong is named by its line and the header of its column."""
    monkeypatch.chdir(tmp_path)
    path = roster_kitchen(
        Path("k"),
        'ana,Ana,,,"1,500",2100,milk,,',
        "ben,Ben,,,2100,1500,milc,,",
        "Cy,,,,1500,2100,,mushroom:1,",
        "dee,Dee,,,600,2100,,onion,9:dinner",
        "eve,Eve",
        "fay,Fay,,,1500,2100,,onion:1|onion:2,1:supper",
        "gus,Gus,,,1500,2100,,,",
    )
    reading = read_kitchens(path)
    assert reading.faults == ()
    found = [(f.line, f.field, f.value, f.code) for f in reading.all_faults()]
    assert found == [
        (2, "", "ana, breakfast", "meal_without_recipe"),
        (2, "energy_kcal_min", "1,500", "not_a_number"),
        (3, "allergens", "milc", "unknown_allergen"),
        (3, "energy_kcal_min", "2100", "range_reversed"),
        (4, "id", "Cy", "bad_form"),
        (4, "name", "", "empty_cell"),
        (5, "away_meals", "9", "day_beyond_plan"),
        (5, "dislikes", "onion", "not_a_pair"),
        (5, "energy_kcal_min", "600", "energy_below_floor"),
        (6, "", "eve,Eve", "row_length"),
        (7, "away_meals", "supper", "unknown_meal"),
        (7, "dislikes", "onion:1|onion:2", "duplicate_key"),
    ]
    (part,) = reading.parts
    assert part.scenario is not None
    assert [client.client_id for client in part.scenario.clients] == ["gus"]
    assert [out.member.client_id for out in part.left_out] == [
        "ana", "ben", "Cy", "dee", "line 6", "fay",
    ]  # fmt: skip
    assert check_paths([path]) == reading.all_faults()


@pytest.mark.parametrize(
    ("header", "code", "words"),
    [
        ("id,name,allergen", "unknown_column", "did you mean 'allergens'?"),
        ("id,name,protien_g_min", "unknown_column", "did you mean 'protein_g_min'?"),
        ("id,name,energy_kcal_least", "unknown_column", "'energy_kcal_max' or 'energy_kcal_min'?"),
        ("name,id,id", "duplicate_column", "keep one of them"),
        ("id,household", "missing_column", "add the column 'name' to the header"),
        ("id\tname\thousehold", "not_comma_separated", "save the table with commas or semicolons"),
    ],
)
def test_a_fault_of_the_header_concerns_everybody(
    tmp_path: Path, header: str, code: str, words: str
) -> None:
    """A misspelt column of allergens must stop the run: nobody's can be trusted then."""
    path = roster_kitchen(tmp_path, "ana,Ana,", header=header)
    with pytest.raises(BadInput) as caught:
        load_kitchens(path)
    first = caught.value.faults[0]
    assert (first.code, words in first.mend) == (code, True)


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("clients.csv", "", "empty_file"),
        ("clients.csv", "id,name\n", "empty_file"),
        ("clients.txt", "id,name\n", "unknown_file_kind"),
        ("clients.yaml", "[1, 2]", "not_a_mapping"),
        ("clients.yaml", "clients: []", "not_a_list"),
        ("clients.yaml", "clients: [{id: a, name: A}]\ndays: 3", "unknown_field"),
        ("clients.yaml", "clients: [", "yaml_syntax"),
    ],
)
def test_a_roster_that_is_none_is_refused(
    tmp_path: Path, name: str, text: str, code: str
) -> None:  # fmt: skip
    """Empty, unreadable or of another kind: one fault of the roster file."""
    path = write_kitchen(tmp_path, clients=None, roster=name)
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_kitchens(path)
    assert [fault.code for fault in caught.value.faults] == [code]
    assert caught.value.faults[0].file.endswith(name)


def test_a_missing_roster_is_one_fault(tmp_path: Path) -> None:
    """The scenario itself is not blamed for lacking clients."""
    path = write_kitchen(tmp_path, clients=None, roster="none.csv")
    assert [fault.code for fault in check_paths([path])] == ["file_missing"]


def test_a_roster_in_yaml_has_its_faults_by_line(tmp_path: Path) -> None:
    """The entries of a YAML roster are clients; one at fault leaves the others."""
    path = write_kitchen(tmp_path, clients=None, roster="clients.yaml", kitchen="separate")
    entries = [tiny_client(), tiny_client(id="ben", name="Ben", allergens=["milc"])]
    text = yaml.safe_dump({"clients": entries}, sort_keys=False)
    (tmp_path / "clients.yaml").write_text(text, encoding="utf-8")
    reading = read_kitchens(path)
    (fault,) = reading.all_faults()
    line = text[: text.index("milc")].count("\n") + 1
    assert (Path(fault.file).name, fault.line) == ("clients.yaml", line)
    assert fault.field == "clients[1].allergens[0]"
    assert [part.scenario is not None for part in reading.parts] == [True, False]
    # In a folder the roster is read with its scenario, and by itself it says nothing.
    assert [fault.code for fault in check_paths([tmp_path])] == ["unknown_allergen"]
    alone = check_paths([tmp_path / "clients.yaml"])
    assert [(fault.code, fault.mend) for fault in alone] == [
        ("unknown_file_kind", "name the scenario whose `roster` it is")
    ]


FAULTS = {
    "duplicate_id": (
        ["ana,Ana,,,,,,,", "ana,Anna,,,,,,,"],
        "k/clients.csv:2: id: 'ana' [duplicate_id]\n"
        "    why: another client has this id already\n"
        "    mend: give each client an id of their own",
    ),
    "not_a_pair": (
        ["ana,Ana,,,,,,onion:,"],
        "k/clients.csv:2: dislikes: 'onion:' [not_a_pair]\n"
        "    why: 'onion:' is not a pair\n"
        "    mend: write for example mushrooms:1|celery:0",
    ),
    "not_a_pair of meals": (
        ["ana,Ana,,,,,,,dinner"],
        "k/clients.csv:2: away_meals: 'dinner' [not_a_pair]\n"
        "    why: 'dinner' is not a pair\n"
        "    mend: write for example 6:dinner|7:lunch",
    ),
    "budget_not_own": (
        ["ana,Ana,,40,,,,,"],
        "k/clients.csv:2: budget: '40' [budget_not_own]\n"
        "    why: this client shares the common kitchen, whose budget is that of the scenario\n"
        "    mend: empty the cell, or name a household",
    ),
    "budgets_differ": (
        ["ana,Ana,hill,40,,,,,", "ben,Ben,hill,41,,,,,"],
        "k/clients.csv:3: budget: '41' [budgets_differ]\n"
        "    why: the household hill has the budget 40 already\n"
        "    mend: write it once, or alike in every row of the household",
    ),
    "money_decimals": (
        ["ana,Ana,hill,40.125,,,,,"],
        "k/clients.csv:2: budget: '40.125' [money_decimals]\n"
        "    why: USD has 2 decimals\n"
        "    mend: round the amount",
    ),
    "not_a_number": (
        ['ana,Ana,hill,"40,50",,,,,'],
        "k/clients.csv:2: budget: '40,50' [not_a_number]\n"
        "    why: this is not a number\n"
        "    mend: write decimals with a point: 40.50",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_the_text_of_a_roster_fault_is_exact(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each kind of fault that only rosters have."""
    monkeypatch.chdir(tmp_path)
    rows, text = FAULTS[name]
    assert _texts(read_kitchens(roster_kitchen(Path("k"), *rows)))[0] == text


GROUP_FAULTS = {
    "eggz:1,": (
        "k/clients.csv:2: most_meals_of: 'eggz' [unknown_recipe_group]\n"
        "    why: no recipe of the catalog has this group\n"
        "    mend: did you mean 'eggs'?"
    ),
    ",rice": (
        "k/clients.csv:2: least_meals_of: 'rice' [not_a_pair]\n"
        "    why: 'rice' is not a pair\n"
        "    mend: write for example fish:2|soups:1"
    ),
    ",rice:1|rice:2": (
        "k/clients.csv:2: least_meals_of: 'rice:1|rice:2' [duplicate_key]\n"
        "    why: 'rice' stands twice in this cell\n"
        "    mend: keep one of the two"
    ),
    "rice:half,": (
        "k/clients.csv:2: most_meals_of: 'rice:half' [not_a_number]\n"
        "    why: this is not a number\n"
        "    mend: write a plain number, without unit and without thousands separator"
    ),
    "rice:1,rice:2": (
        "k/clients.csv:2: least_meals_of: '2' [range_reversed]\n"
        "    why: most_meals_of allows rice in at most 1 meals\n"
        "    mend: correct one of the two"
    ),
}


@pytest.mark.parametrize("cells", GROUP_FAULTS)
def test_the_text_of_a_fault_in_a_column_of_groups_is_exact(
    cells: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Line, column and value of meals of a group, as of the other pairs."""
    monkeypatch.chdir(tmp_path)
    header = "id,name,most_meals_of,least_meals_of"
    path = roster_kitchen(Path("k"), f"ana,Ana,{cells}", header=header, files=GROUPED)
    assert _texts(read_kitchens(path)) == [GROUP_FAULTS[cells]]


def test_meals_of_groups_outlast_every_writer_of_a_roster(tmp_path: Path) -> None:
    """A client added, windows written into the row, and the kitchen's own file of a run."""
    header = (
        "id,name,most_meals_of,least_meals_of,allergens,sex,age_years,cautions,"
        "energy_kcal_min,energy_kcal_max,protein_g_min,protein_g_max,fat_g_min,fat_g_max,"
        "carbohydrate_g_min,carbohydrate_g_max"
    )
    row = "ana,Ana,rice:3|eggs:4,rice:1" + "," * 12
    path = roster_kitchen(
        tmp_path, row, header=header, files=GROUPED, kitchen="separate", meals=["lunch", "dinner"]
    )
    words = ["add", "client", str(path), "cy", "--allergens", "none"]
    assert CliRunner().invoke(cli.app, words).exit_code == ExitCode.OK
    words = ["targets", "--weight", "60", "--height", "165", "--activity", "light"]
    words += ["--sex", "female", "--age", "35", "--into", str(path), "--client", "ana"]
    assert CliRunner().invoke(cli.app, words).exit_code == ExitCode.OK
    reading = read_kitchens(path)
    assert _texts(reading) == []
    ana, cy = (part.scenario.clients[0] for part in reading.parts if part.scenario)
    assert (ana.most_meals_of, ana.least_meals_of) == ({"rice": 3, "eggs": 4}, {"rice": 1})
    assert ana.windows_per_day["energy_kcal"].min
    assert (cy.most_meals_of, cy.least_meals_of) == ({}, {})
    for part in reading.parts:
        own = tmp_path / "own.yaml"
        assert part.scenario is not None
        own.write_text(scenario_text(part.scenario, CATALOG, "scenario.yaml"), encoding="utf-8")
        assert load_scenario(own).clients == part.scenario.clients


def test_one_plan_is_for_one_kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`plan` refuses what speaks of several kitchens, and names the command that plans them."""
    monkeypatch.chdir(tmp_path)
    keys: list[dict[str, Any]] = [
        {"roster": "clients.csv", "clients": None},
        {"kitchen": "separate"},
        {"households": []},
        {"clients": [tiny_client(household="hill")]},
    ]
    for change in keys:
        with pytest.raises(BadInput) as caught:
            load_kitchen(write_kitchen(Path("k"), **change))
        assert str(caught.value) == (
            "k/scenario.yaml:1: 'scenario.yaml' [several_kitchens]\n"
            "    why: this scenario speaks of households or a roster, and one plan is for one "
            "kitchen\n"
            "    mend: plan it with `planopt weeks`"
        )


def test_the_schema_takes_clients_or_a_roster() -> None:
    """Editors accept a scenario with either of the two, and refuse one with both or neither."""
    validator = Draft202012Validator(scenario_schema())
    clients = tiny_scenario()
    roster = tiny_scenario(clients=None, roster="clients.csv")
    assert validator.is_valid(clients)
    assert validator.is_valid(roster)
    assert not validator.is_valid({**clients, **roster})
    assert not validator.is_valid(tiny_scenario(clients=None))


def test_clients_stand_in_one_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A list of clients beside a roster is a fault: which of the two is meant?"""
    monkeypatch.chdir(tmp_path)
    path = write_kitchen(Path("k"), roster="clients.csv")
    assert _texts(read_kitchens(path)) == [
        "k/scenario.yaml:7: clients: 'a list of 1' [clients_twice]\n"
        "    why: the clients stand in the roster and here\n"
        "    mend: remove this list, or the line `roster`"
    ]
