"""What clients must not eat holds as scenario and roster say it, whatever kitchens are made of it.

The files are read here again, by a reader of this test's own, and every plan is held against them.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
import yaml

from inprocess import in_this_process
from kitchens import edited, tiny_catalog_files, tiny_client, write_kitchen
from planopt.faults import AuditFailed
from planopt.pipeline import make_plan
from planopt.plan.file import read_plan
from planopt.runs import run as run_module
from planopt.runs.run import RunResult, plan_weeks
from planopt.scenario.households import parties
from planopt.scenario.households.parties import load_kitchens
from planopt.scenario.kitchens import kitchen_scenario
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.records import Variant
from planopt.solve.settings import SolveSettings

SETTINGS = SolveSettings(threads=1, gap=0.05, time_limit_s=30)
ROSTER = """\
id,name,household,allergens,excluded_foods,excluded_recipes,portion_largest
ana,Ana,,milk|egg,,,4
ben,Ben,,,oats_rolled|egg,,4
cyd,Cyd,,,,boiled_eggs|egg_rice,4
dan,Dan,,,,,4
eva,Eva,home,,,,4
fay,Fay,home,milk|egg,,,4
"""
# Egg rice costs next to nothing, so that whoever may eat it does.
CHEAP_EGGS = {
    "packs.csv": tiny_catalog_files()["packs.csv"]
    .replace("6,each,2.40", "6,each,0.05")
    .replace("1,kg,1.90", "1,kg,0.05")
    .replace("500,g,2.10", "500,g,9.00")
}
WEEK: dict[str, Any] = {"days": 2, "meals": ["lunch"], "clients": None}


@pytest.fixture(autouse=True)
def _without_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_module, "run_in_processes", in_this_process)


def written_exclusions(text: str) -> dict[str, dict[str, set[str]]]:
    """Return what each row of a roster excludes, by column."""
    columns = ("allergens", "excluded_foods", "excluded_recipes")
    return {
        row["id"]: {column: set(filter(None, row[column].split("|"))) for column in columns}
        for row in csv.DictReader(text.splitlines())
    }


def eaten(out: Path) -> dict[str, set[str]]:
    """Return the recipes that each client of a run eats."""
    found: dict[str, set[str]] = {}
    for folder in (out / "plans").iterdir():
        for portion in read_plan(folder).portions:
            found.setdefault(portion.client_id, set()).add(portion.recipe_id)
    return found


def broken(out: Path, text: str) -> list[str]:
    """Return every dish that is served to somebody whose row forbids it."""
    files = tiny_catalog_files()
    held = {
        row["food_id"]: set(row["allergens"].split("|"))
        for row in csv.DictReader(files["foods.csv"].splitlines())
    }
    lines = {
        Path(name).stem: {line["food"] for line in yaml.safe_load(body)["lines"]}
        for name, body in files.items()
        if name.startswith("recipes/")
    }
    wrong = []
    for client_id, barred in written_exclusions(text).items():
        for recipe_id in eaten(out)[client_id]:
            foods = lines[recipe_id]
            allergens = set().union(*(held[food] for food in foods))
            if (
                recipe_id in barred["excluded_recipes"]
                or foods & barred["excluded_foods"]
                or allergens & barred["allergens"]
            ):
                wrong.append(f"{client_id} eats {recipe_id}")
    return wrong


def planned(folder: Path, roster: str = ROSTER) -> RunResult:
    """Plan the roster into `out` below a folder."""
    path = write_kitchen(
        folder,
        files=CHEAP_EGGS,
        kitchen="separate",
        roster="clients.csv",
        meal_defaults="off",
        **WEEK,
    )
    (folder / "clients.csv").write_text(roster, encoding="utf-8")
    return plan_weeks(path, folder / "out", SETTINGS)


def test_nobody_is_served_what_their_row_forbids(tmp_path: Path) -> None:
    """The second allergen, food or recipe of a cell counts as the first; others eat the eggs."""
    result = planned(tmp_path)
    assert {c.state for k in result.index.kitchens for c in k.clients} == {"planned"}
    assert broken(tmp_path / "out", ROSTER) == []
    food = eaten(tmp_path / "out")
    assert [food[who] for who in ("dan", "eva")] == [{"egg_rice"}, {"egg_rice"}]
    assert [food[who] for who in ("ana", "ben", "cyd", "fay")] == [{"lentil_soup"}] * 4


def test_a_kitchen_keeps_its_clients_as_they_are_written(tmp_path: Path) -> None:
    """All but the household, which the kitchen is: windows, portions and exclusions alike."""
    ana = tiny_client(
        household="home", allergens=["milk", "egg"], excluded_foods=["oats_rolled", "egg"],
        excluded_recipes=["egg_rice"], dislikes={"onion": 1}, wants={"lentils_red_dry": 1},
        meals=["lunch", "dinner"], portions={"largest": 4}, away={"days": [2]}, most_repeats=3,
        windows_on_days={1: {"protein_g": {"min": 50}}},
        recipe_servings={"lentil_soup": {"max": 9}}, windows_per_week={"sodium_mg": {"max": 9000}},
        least_different_recipes=1,
    )  # fmt: skip
    kitchens = load_kitchens(
        write_kitchen(tmp_path, clients=[ana], kitchen="separate", meal_defaults="off")
    )
    ((part,), (written,)) = kitchens.parts, kitchens.written
    assert part.scenario is not None, part
    (client,) = part.scenario.clients
    assert client == written.model_copy(update={"household": None})
    told = written.model_dump(mode="json", by_alias=True, exclude_unset=True)
    assert {name: told[name] for name in ana if name in ("allergens", "excluded_foods")} == {
        "allergens": ["milk", "egg"], "excluded_foods": ["oats_rolled", "egg"],
    }  # fmt: skip


@pytest.mark.parametrize("lost", ["allergens", "excluded_foods", "excluded_recipes"])
def test_a_kitchen_that_lost_an_exclusion_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lost: str
) -> None:
    """The audit holds the plan against the roster, and not against the kitchen made of it."""

    def forgetful(*given: Any) -> Any:
        made = kitchen_scenario(*given)
        clients = tuple(client.model_copy(update={lost: ()}) for client in made.clients)
        return made.model_copy(update={"clients": clients})

    monkeypatch.setattr(parties, "kitchen_scenario", forgetful)
    result = planned(tmp_path)
    barred = written_exclusions(ROSTER)
    for kitchen in result.index.kitchens:
        for client in kitchen.clients:
            harmed = any(barred[other.client_id][lost] for other in kitchen.clients)
            assert client.state == ("failed" if harmed else "planned"), client.client_id
            assert ("[allergen]" in client.cause or "[excluded-" in client.cause) == harmed


def test_a_change_that_loses_an_exclusion_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A what-if kitchen is audited with what its clients exclude in the file."""
    ana = {"id": "ana", "name": "Ana", "allergens": ["milk", "egg"], "portions": {"largest": 4}}
    path = write_kitchen(
        tmp_path, files=CHEAP_EGGS, **{**WEEK, "clients": [ana], "meal_defaults": "off"}
    )
    kitchen = load_kitchen(path)
    variant = Variant.model_validate({"name": "try", "away": [{"client": "ana", "days": [2]}]})
    changed = changed_kitchen(kitchen, variant)
    assert {p.recipe_id for p in make_plan(changed, SETTINGS).portions} == {"lentil_soup"}
    (kept,) = changed.scenario.clients
    forgotten = changed.scenario.model_copy(
        update={"clients": (kept.model_copy(update={"allergens": ("milk",)}),)}
    )
    with pytest.raises(AuditFailed, match=r"\[allergen\].*expected no egg"):
        make_plan(changed_with(changed, forgotten), SETTINGS)


def changed_with(kitchen: Any, scenario: Any) -> Any:
    """Return the kitchen with a scenario that lost something."""
    return type(kitchen)(**{**vars(kitchen), "scenario": scenario})


def test_the_prices_of_this_file_are_those_of_the_catalog() -> None:
    """Each replacement above changes one row."""
    plain = tiny_catalog_files()["packs.csv"].splitlines()
    cheap = CHEAP_EGGS["packs.csv"].splitlines()
    assert sum(a != b for a, b in zip(plain, cheap, strict=True)) == 3
    assert edited("packs.csv", "500,g,2.10", "500,g,2.10") == {"packs.csv": "\n".join(plain) + "\n"}
