"""Warnings about a scenario: meals that no recipe can serve with the food that is to be had."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kitchens import edited, tiny_catalog_files, tiny_client, write_kitchen
from planopt.faults import Fault, NoCompliantWeek
from planopt.pipeline import load_kitchen, make_plan
from planopt.scenario.paths import check_paths_and_warn
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
