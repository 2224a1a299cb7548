"""Warnings about a scenario: meals that no recipe can serve with the food that is to be had."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kitchens import edited, tiny_catalog_files, tiny_client, write_kitchen
from planopt.faults import Fault, NoCompliantWeek
from planopt.pipeline import load_kitchen, make_plan
from planopt.scenario.households.paths import check_paths_and_warn
from planopt.solve.settings import SolveSettings

MINE = {"sellers.csv": tiny_catalog_files()["sellers.csv"] + "my_shop,My Shop,invented\n"}


def with_my_shop(*foods: str) -> dict[str, str | None]:
    """Return the tiny catalog's files with one more seller who has only these foods."""
    rows = [f"my_{food},{food},my_shop,pack,500,g,1.00,USD,2026-11-01\n" for food in foods]
    return {**MINE, "packs.csv": tiny_catalog_files()["packs.csv"] + "".join(rows)}


def warned(folder: Path, files: dict[str, str | None], **keys: Any) -> list[Fault]:
    """Return the warnings of this kind about a tiny kitchen, which has no faults."""
    faults, warnings = check_paths_and_warn([write_kitchen(folder, files=files, **keys)])
    assert faults == []
    return [warning for warning in warnings if warning.code == "meal_without_food"]


def test_each_meal_that_nothing_can_be_made_for_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """My shop sells eggs and rice: a snack of boiled eggs can be made, and nothing else."""
    monkeypatch.chdir(tmp_path)
    found = warned(Path("kitchen"), with_my_shop("egg", "rice_white_long"), sellers=["my_shop"])
    assert [warning.value for warning in found] == ["ana, breakfast", "ana, dinner", "ana, lunch"]
    assert found[1].text() == (
        "kitchen/scenario.yaml:8: clients[0]: 'ana, dinner' [meal_without_food]\n"
        "    why: no recipe for dinner that suits can be made of what my_shop sells and what is in "
        "stock; the nearest, egg_rice, lacks onion\n"
        "    mend: let more sellers in, put the food on hand as stock, or add a recipe"
    )


def test_what_was_warned_of_is_then_proven_impossible(tmp_path: Path) -> None:
    """The plan of such a scenario ends as impossible, with the reason, and not for want of time."""
    path = write_kitchen(tmp_path / "k", files=with_my_shop("onion"), sellers=["my_shop"])
    with pytest.raises(NoCompliantWeek) as raised:
        make_plan(load_kitchen(path), SolveSettings(time_limit_s=5))
    reasons = "\n".join(raised.value.reasons)
    assert "needs a food that My Shop does not sell and that is not on hand in time" in reasons
    assert "dinner, every day (the nearest, Lentil soup, lacks Red lentils)" in reasons


def test_food_on_hand_or_from_other_sellers_is_food(tmp_path: Path) -> None:
    """With the oats, lentils and onions on hand, or with all sellers, nothing is warned of."""
    on_hand = [
        {"food": food, "amount": 2, "unit": "kg"}
        for food in ("oats_rolled", "milk_whole", "lentils_red_dry", "onion")
    ]
    files = with_my_shop("egg")
    assert warned(tmp_path / "all", files) == []
    assert warned(tmp_path / "stock", files, sellers=["my_shop"], stock=on_hand) == []


def test_a_substitute_counts_only_for_those_who_may_eat_it(tmp_path: Path) -> None:
    """Milk may stand in for oats here; who must not have milk is left without a breakfast."""
    files = with_my_shop("milk_whole", "lentils_red_dry", "onion", "egg")
    files |= edited(
        "recipes/oat_porridge.yaml",
        "amount: 1.5, unit: cup}",
        "amount: 1.5, unit: cup, alternatives: [{food: milk_whole, ratio: 1}]}",
    )
    milk = "  - {food: milk_whole, amount: 400, unit: ml}\n"
    recipe = files["recipes/oat_porridge.yaml"]
    assert recipe is not None
    files["recipes/oat_porridge.yaml"] = recipe.replace(milk, "")
    clients = [tiny_client(), tiny_client(id="ben", name="Ben", allergens=["milk"])]
    found = warned(tmp_path / "k", files, sellers=["my_shop"], clients=clients)
    assert [warning.value for warning in found] == ["ben, breakfast"]


def test_households_are_warned_of_too(tmp_path: Path) -> None:
    """In a scenario of several kitchens each client's meals are looked at."""
    clients = [tiny_client(), tiny_client(id="ben", name="Ben")]
    files = with_my_shop("oats_rolled", "milk_whole", "lentils_red_dry", "onion")
    found = warned(tmp_path / "k", files, sellers=["my_shop"], clients=clients, kitchen="separate")
    assert [warning.value for warning in found] == ["ana, snack", "ben, snack"]


def contradictions(folder: Path, *clients: dict[str, Any]) -> list[str]:
    """Return the texts of warnings that windows contradict."""
    _, warnings = check_paths_and_warn([write_kitchen(folder, clients=list(clients))])
    return [warning.text() for warning in warnings if warning.code == "windows_contradict"]


def windows(**amounts: tuple[float | None, float | None]) -> dict[str, Any]:
    """Return windows by nutrient from pairs, without sides that are open."""
    return {
        name: {side: one for side, one in zip(("min", "max"), pair, strict=True) if one is not None}
        for name, pair in amounts.items()
    }


def test_macronutrients_that_cannot_add_up_to_the_energy_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By Atwater's 4, 9 and 4, beyond a tenth; both ways; a week and a single day as well."""
    monkeypatch.chdir(tmp_path)
    # 4 x 160 + 9 x 65 + 4 x 160 = 1865 kcal at most, for 2200 at least.
    few = windows(
        energy_kcal=(2200, 2400), protein_g=(150, 160), fat_g=(60, 65), carbohydrate_g=(150, 160)
    )
    (text,) = contradictions(Path("few"), tiny_client(windows_per_day=few))
    assert text == (
        "few/scenario.yaml:11: clients[0].windows_per_day.energy_kcal: 'min 2200'"
        " [windows_contradict]\n"
        "    why: protein, fat and carbohydrate have 1865 kcal at most, by 4, 9 and 4 kcal a gram\n"
        "    mend: raise the max of one of them, or lower the energy's min"
    )
    # 4 x 200 + 9 x 100 = 1700 kcal at least, for 1500 at most.
    many = windows(energy_kcal=(None, 1500), protein_g=(200, None), fat_g=(100, None))
    assert len(contradictions(Path("many"), tiny_client(windows_per_day=many))) == 1
    assert len(contradictions(Path("week"), tiny_client(windows_per_week=many))) == 1
    on_a_day = tiny_client(
        windows_per_day=windows(energy_kcal=(None, 1500)),
        windows_on_days={2: windows(protein_g=(200, None), fat_g=(100, None))},
    )
    (text,) = contradictions(Path("day"), on_a_day)
    assert "windows_on_days[2].energy_kcal" in text


def test_windows_that_can_add_up_are_not_told(tmp_path: Path) -> None:
    """Open sides, and sums that the factors of single foods may bring together."""
    near = windows(energy_kcal=(None, 1600), protein_g=(200, None), fat_g=(100, None))
    open_ended = windows(energy_kcal=(2200, None), protein_g=(None, 100), fat_g=(None, 50))
    for name, one in (("near", near), ("open", open_ended)):
        assert contradictions(tmp_path / name, tiny_client(windows_per_day=one)) == []


def test_warnings_come_with_faults_in_one_round(tmp_path: Path) -> None:
    """A slip elsewhere in the file hides no contradiction."""
    many = windows(energy_kcal=(None, 1500), protein_g=(200, None), fat_g=(100, None))
    path = write_kitchen(tmp_path, clients=[tiny_client(windows_per_day=many, allergens=["milc"])])
    faults, warnings = check_paths_and_warn([path])
    assert [fault.code for fault in faults] == ["unknown_allergen"]
    assert "windows_contradict" in [warning.code for warning in warnings]


def test_meals_that_cannot_add_up_to_their_day_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written windows of all meals that leave the day no energy are a warning, told once."""
    monkeypatch.chdir(tmp_path)
    small = {meal: {"energy_kcal": {"max": "20%"}} for meal in ("breakfast", "lunch", "dinner")}
    energy = {"energy_kcal": {"min": 1700, "max": 2100}}
    one = tiny_client(windows_per_meal=small, windows_per_day=energy)
    _, warnings = check_paths_and_warn([write_kitchen(Path("k"), clients=[one])])
    assert [w.text() for w in warnings if w.code == "meals_contradict_day"] == [
        "k/scenario.yaml:8: clients[0]: 'energy_kcal' [meals_contradict_day]\n"
        "    why: its meals of day 1 have at most 1680 of it, and the day at least 1700\n"
        "    mend: widen the windows of its meals, or of the day"
    ]


def test_the_usual_sizes_leave_every_day_its_energy(tmp_path: Path) -> None:
    """Whatever meals are eaten, and whatever they are called, the usual sizes can add up."""
    meals = ["breakfast", "tea", "lunch", "dinner", "snack"]
    one = tiny_client(
        windows_per_day={"energy_kcal": {"min": 1800, "max": 1801}},
        away={"meals": {1: ["breakfast", "snack"], 2: ["lunch", "dinner", "snack"], 3: ["tea"]}},
    )
    path = write_kitchen(tmp_path, meals=meals, clients=[one])
    _, warnings = check_paths_and_warn([path])
    assert "meals_contradict_day" not in [warning.code for warning in warnings]
