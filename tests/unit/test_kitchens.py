"""Kitchens of a scenario: who shares one, what holds in it, and its text."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kitchens import tiny_client, write_kitchen
from planopt.reading.validation import validate
from planopt.scenario.households.parties import load_kitchens, read_kitchens
from planopt.scenario.households.paths import check_paths
from planopt.scenario.kitchens import alone_scenario, grouped, path_from, scenario_text
from planopt.scenario.reading.load import load_scenario
from planopt.scenario.records import Client, Scenario

ROOT = Path(__file__).resolve().parents[2]


def _client(name: str, **keys: Any) -> dict[str, Any]:
    return tiny_client(id=name, name=name.title(), **keys)


def test_groups_of_shared_and_separate_kitchens() -> None:
    """A named household is a kitchen; who names none shares one, or has their own."""
    households, keys = ["hill", "", "hill", ""], ["a", "b", "c", "d"]
    shared = [(group.kitchen_id, group.places) for group in grouped(households, keys, False)]
    assert shared == [("hill", [0, 2]), ("shared", [1, 3])]
    separate = [(group.kitchen_id, group.places) for group in grouped(households, keys, True)]
    assert separate == [("b", [1]), ("d", [3]), ("hill", [0, 2])]


def test_a_household_says_what_differs(tmp_path: Path) -> None:
    """What it gives replaces the scenario's; what it leaves out stays, and lists are whole."""
    path = write_kitchen(
        tmp_path,
        budget="50.00",
        visit_cost="1.00",
        stock=[{"food": "egg", "amount": 2, "unit": "each"}],
        households=[
            {
                "id": "hill",
                "name": "The hill",
                "budget": "30.00",
                "cook_days": [{"day": 2}, {"day": 1, "most_recipes": 2}],
                "stock": [],
                "sellers": ["corner"],
            }
        ],
        clients=[_client("ana", household="hill"), _client("ben"), _client("cyd")],
    )
    hill, shared = load_kitchens(path).parts
    assert hill.scenario is not None
    assert shared.scenario is not None
    assert (hill.name, shared.name) == ("The hill", "shared kitchen")
    assert (hill.scenario.budget, shared.scenario.budget) == (Decimal("30.00"), Decimal("50.00"))
    assert hill.scenario.visit_cost == Decimal("1.00")
    assert [cook.day for cook in hill.scenario.cook_days] == [1, 2]
    assert (hill.scenario.stock, hill.scenario.sellers) == ((), ("corner",))
    assert len(shared.scenario.stock) == 1
    assert [client.client_id for client in shared.scenario.clients] == ["ben", "cyd"]
    assert {client.household for client in hill.scenario.clients} == {None}
    assert hill.scenario.households == ()


def test_faults_of_a_household_are_its_own(tmp_path: Path) -> None:
    """An unknown food in one household's stock leaves the others to be planned."""
    path = write_kitchen(
        tmp_path,
        kitchen="separate",
        households=[{"id": "hill", "stock": [{"food": "eg", "amount": 1, "unit": "each"}]}],
        clients=[_client("ana", household="hill"), _client("ben")],
    )
    kitchens = load_kitchens(path)
    ben, hill = kitchens.parts
    assert (ben.scenario is not None, hill.scenario) == (True, None)
    (fault,) = hill.faults
    assert (fault.field, fault.code) == ("households[0].stock[0].food", "unknown_food")
    line = path.read_text(encoding="utf-8").split("food: eg\n")[0].count("\n") + 1
    assert fault.line == line


@pytest.mark.parametrize(
    ("households", "code", "mend"),
    [
        ([{"id": "hil"}], "empty_household", "did you mean 'hill'?"),
        ([{"id": "hill"}, {"id": "hill"}], "duplicate_id", "give it another id"),
        ([{"id": "hill", "budgets": 3}], "unknown_field", "did you mean 'budget'?"),
    ],
)
def test_faults_of_the_list_of_households_concern_everybody(
    tmp_path: Path, households: list[dict[str, Any]], code: str, mend: str
) -> None:
    """A household that nobody names, or that stands twice, may be a misspelt one."""
    clients = [_client("ana", household="hill")]
    reading = read_kitchens(write_kitchen(tmp_path, households=households, clients=clients))
    assert [(fault.code, fault.mend) for fault in reading.faults] == [(code, mend)]


def test_an_own_kitchen_cannot_carry_the_name_of_a_household(tmp_path: Path) -> None:
    """The client would be taken into the household unasked; the household goes on."""
    clients = [_client("hill"), _client("ana", household="hill")]
    (part,) = load_kitchens(write_kitchen(tmp_path, kitchen="separate", clients=clients)).parts
    assert part.scenario is not None
    assert [client.client_id for client in part.scenario.clients] == ["ana"]
    assert [fault.code for out in part.left_out for fault in out.faults] == ["duplicate_id"]


def test_faults_of_the_scenario_concern_everybody(tmp_path: Path) -> None:
    """A wrong seller of the common part, and a fault of the catalog, stop the run."""
    path = write_kitchen(
        tmp_path,
        files={"yields.csv": None},
        sellers=["corne"],
        clients=[_client("ana", household="hill", allergens=["milc"])],
    )
    reading = read_kitchens(path)
    assert {fault.code for fault in reading.faults} == {"unknown_seller", "file_missing"}
    codes = {fault.code for fault in reading.all_faults()}
    assert codes == {"unknown_seller", "file_missing", "unknown_allergen"}


def test_stock_files_are_stock_of_every_kitchen_that_has_none_of_its_own(tmp_path: Path) -> None:
    """Their entries follow the scenario's; the kitchen's own file names no other file."""
    left = "stock: [{food: egg, amount: 3, unit: each}]\n"
    (tmp_path / "left.yaml").write_text(left, encoding="utf-8")
    path = write_kitchen(
        tmp_path,
        stock=[{"food": "egg", "amount": 2, "unit": "each"}],
        stock_files=["left.yaml"],
        households=[{"id": "hill", "stock": []}],
        clients=[_client("ana", household="hill"), _client("ben")],
    )
    hill, shared = (part.scenario for part in load_kitchens(path).parts)
    assert hill is not None
    assert shared is not None
    assert [entry.amount for entry in hill.stock] == []
    assert [entry.amount for entry in shared.stock] == [2, 3]
    assert hill.stock_files == shared.stock_files == ()


def test_a_fault_of_a_stock_file_is_everybodys(tmp_path: Path) -> None:
    """It stands once, at its place in the stock file, and no kitchen is planned without it."""
    left = tmp_path / "left.yaml"
    left.write_text("stock: [{food: eggg, amount: 3, unit: each}]\n", encoding="utf-8")
    clients = [_client("ana", household="hill"), _client("ben")]
    path = write_kitchen(
        tmp_path, stock_files=["left.yaml", "gone.yaml"], households=[{"id": "hill"}],
        clients=clients,
    )  # fmt: skip
    reading = read_kitchens(path)
    found = [(Path(fault.file).name, fault.code) for fault in reading.all_faults()]
    assert sorted(found) == [("left.yaml", "unknown_food"), ("scenario.yaml", "stock_file_missing")]
    assert len(reading.faults) == 2


def _with_stock_folder(tmp_path: Path, files: dict[str, str], **keys: Any) -> Path:
    """Write two kitchens, `hill` and the shared one, with these files in the stock folder."""
    folder = tmp_path / "carried"
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    clients = [_client("ana", household="hill"), _client("ben")]
    keys = {"stock_folder": "carried", "clients": clients, **keys}
    return write_kitchen(tmp_path, stock=[{"food": "egg", "amount": 2, "unit": "each"}], **keys)


def test_a_file_of_the_stock_folder_is_all_the_stock_of_its_kitchen(tmp_path: Path) -> None:
    """A kitchen without a file has the scenario's stock; files of nobody do not matter."""
    files = {
        "hill.yaml": "stock: [{food: onion, amount: 300, unit: g}]\n",
        "gone.yaml": "stock: [{food: eggg, amount: 3, unit: each}]\n",
    }
    path = _with_stock_folder(tmp_path, files, households=[{"id": "hill", "budget": 30}])
    hill, shared = (part.scenario for part in load_kitchens(path).parts)
    assert hill is not None
    assert shared is not None
    assert [(entry.food, entry.amount) for entry in hill.stock] == [("onion", 300)]
    assert [(entry.food, entry.amount) for entry in shared.stock] == [("egg", 2)]
    assert hill.budget == 30
    assert hill.stock_folder is None
    (tmp_path / "carried" / "hill.yaml").unlink()
    (tmp_path / "carried" / "shared.yaml").write_text("stock: []\n", encoding="utf-8")
    hill, shared = (part.scenario for part in load_kitchens(path).parts)
    assert hill is not None
    assert shared is not None
    assert (len(hill.stock), len(shared.stock)) == (1, 0)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("stock: [{food: eggg, amount: 3, unit: each}]\n", "unknown_food"),
        ("stock: [{food: egg, amount: -3, unit: each}]\n", "out_of_range"),
        ("stock: [\n", "yaml_syntax"),
    ],
)
def test_a_fault_in_the_stock_folder_stops_its_kitchen_alone(
    tmp_path: Path, text: str, code: str
) -> None:
    """The other kitchen is planned; the fault names the file."""
    path = _with_stock_folder(tmp_path, {"hill.yaml": text})
    reading = read_kitchens(path)
    assert reading.faults == ()
    hill, shared = reading.parts
    assert hill.scenario is None
    assert shared.scenario is not None
    assert [(Path(fault.file).name, fault.code) for fault in hill.faults] == [("hill.yaml", code)]
    assert [fault.code for fault in check_paths([path])] == [code]


def test_stock_is_told_once_and_its_folder_exists(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A household with stock of its own and a file is that household's fault; no folder, all's."""
    monkeypatch.chdir(tmp_path)
    tmp_path = Path("kitchen")
    tmp_path.mkdir()
    file = {"hill.yaml": "stock: []\n"}
    twice = [{"id": "hill", "stock": [{"food": "egg", "amount": 1, "unit": "each"}]}]
    reading = read_kitchens(_with_stock_folder(tmp_path, file, households=twice))
    assert reading.faults == ()
    (fault,) = reading.parts[0].faults
    place, _, rest = fault.text().partition(": ")
    assert place.startswith("kitchen/scenario.yaml:")
    assert rest == (
        "households[0].stock: 'hill' [stock_twice]\n"
        "    why: hill.yaml in the stock folder says what this household has on hand\n"
        "    mend: move these entries into that file, or take the file away"
    )
    reading = read_kitchens(_with_stock_folder(tmp_path, file, stock_folder="nowhere"))
    (fault,) = reading.faults
    place, _, rest = fault.text().partition(": ")
    assert place.startswith("kitchen/scenario.yaml:")
    assert rest == (
        "stock_folder: 'nowhere' [stock_folder_missing]\n"
        "    why: there is no such folder\n"
        "    mend: `planopt carry` makes one from a run of `planopt weeks`"
    )


def test_variants_stay_with_the_common_scenario(tmp_path: Path) -> None:
    """A kitchen keeps the order of importance, checked for all, and takes over no variant."""
    path = write_kitchen(
        tmp_path,
        importance=["protein_g"],
        variants=[{"name": "Ben away", "away": [{"client": "ben", "days": [1]}]}],
        clients=[_client("ana", household="hill"), _client("ben")],
    )
    hill, shared = (part.scenario for part in load_kitchens(path).parts)
    assert hill is not None
    assert shared is not None
    assert hill.variants == shared.variants == ()
    assert hill.importance == shared.importance == ("protein_g",)
    wrong = write_kitchen(
        tmp_path, importance=["proteen_g"], clients=[_client("ana", household="hill")]
    )
    assert [fault.code for fault in read_kitchens(wrong).faults] == ["unknown_nutrient"]


def test_equal_input_gives_equal_text(tmp_path: Path) -> None:
    """Reading twice gives the same text for every kitchen, to the letter."""
    clients = [_client("ana", household="hill"), _client("ben")]
    path = write_kitchen(tmp_path, clients=clients)
    texts = [
        [scenario_text(part.scenario, "c", "s") for part in load_kitchens(path).parts
         if part.scenario is not None]
        for _ in range(2)
    ]  # fmt: skip
    assert len(texts[0]) == 2
    assert texts[0] == texts[1]


@pytest.mark.parametrize("name", ["demo_week", "one_client_quick"])
def test_the_text_of_a_kitchen_reads_back_as_the_same_scenario(name: str, tmp_path: Path) -> None:
    """Nothing of the shipped scenarios is lost or changed on the way through YAML."""
    scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
    path = tmp_path / "kitchen.yaml"
    path.write_text(scenario_text(scenario, scenario.catalog, "demo"), encoding="utf-8")
    assert load_scenario(path) == scenario


# What a reader lets in: letters that are seen.
_SEEN = st.characters(exclude_categories=("Cc", "Cf", "Cs", "Zl", "Zp"))
_NAMES = st.text(_SEEN, min_size=1, max_size=12).filter(str.strip)


@settings(deadline=None)
@example(name="A\xa0B", note="0\n0", day=1, least=1.0, stock=Decimal(1))
@given(
    name=_NAMES,
    note=st.text(_SEEN, max_size=20),
    day=st.integers(1, 3),
    least=st.floats(0.001, 3000),
    stock=st.decimals("0.001", "9999", places=3),
)
def test_any_scenario_reads_back(
    name: str, note: str, day: int, least: float, stock: Decimal
) -> None:
    """Whatever the names and numbers, text and record are the same thing."""
    data = {
        "name": name, "note": note, "start_date": "2026-11-30", "days": 3,
        "cook_days": [{"day": 0}, {"day": day, "ready_for": "next_day"}],
        "stock": [{"food": "egg", "amount": str(stock), "unit": "each", "use_by": "2026-12-01"}],
        "clients": [
            {"id": "a", "name": name, "windows_on_days": {day: {"energy_kcal": {"min": least}}},
             "away": {"meals": {day: ["lunch"]}}, "most_repeats": None}
        ],
    }  # fmt: skip
    scenario, problems = validate(Scenario, data)
    assert problems == []
    assert scenario is not None
    text = scenario_text(scenario, scenario.catalog, name)
    again, problems = validate(Scenario, yaml.safe_load(text))
    assert problems == []
    assert again == scenario


def test_alone_has_an_equal_part_of_the_stock_and_no_budget() -> None:
    """Three clients alone start with the same food together as the shared kitchen."""
    demo = load_scenario(ROOT / "scenarios" / "demo_week.yaml")
    alone = alone_scenario(demo, "tomas")
    assert [client.client_id for client in alone.clients] == ["tomas"]
    assert alone.budget is None
    assert demo.budget is not None
    for whole, part in zip(demo.stock, alone.stock, strict=True):
        assert part.food == whole.food
        assert abs(part.amount * 3 - whole.amount) <= Decimal("0.003")


def test_paths_are_written_from_the_folder(tmp_path: Path) -> None:
    """The kitchen's file names the catalog from where it lies."""
    (tmp_path / "a" / "b").mkdir(parents=True)
    assert path_from(tmp_path / "a" / "b", tmp_path / "catalogs") == "../../catalogs"


def test_a_household_of_a_client_is_an_id() -> None:
    """A household names folders, so it is an id like the others."""
    _, problems = validate(Client, {"id": "a", "name": "A", "household": "../x"})
    assert [problem.code for problem in problems] == ["bad_form"]
