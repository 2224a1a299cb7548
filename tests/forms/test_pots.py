"""`planopt show DIR cook --pot DISH=GRAMS`: what the pot weighs, shared out to the boxes."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planopt.cli import app
from planopt.cookday.containers import containers_of
from planopt.faults import BadOption
from planopt.report.terminal.pots import Pot, parse_pot, pots_screen, shared_out
from report_samples import sample_catalog, sample_plan, sample_scenario


def screen(*pots: Pot) -> str:
    """Return the screen of pots of the sample plan."""
    catalog = sample_catalog()
    return pots_screen(pots, containers_of(sample_plan(), catalog, sample_scenario()), catalog)


@pytest.mark.parametrize(
    ("text", "pot"),
    [
        ("split_pea_soup=4310", Pot("split_pea_soup", "main", 4310)),
        ("soup=4,310", Pot("soup", "main", 4310)),
        ("soup=4 310 g", Pot("soup", "main", 4310)),
        ("soup=1,234,567.5".replace("1,234", "234"), Pot("soup", "main", 234567.5)),
        ("soup:topping=12,5", Pot("soup", "topping", 12.5)),
    ],
)
def test_weights_are_read_as_people_write_them(text: str, pot: Pot) -> None:
    """Three digits after a comma are thousands, other digits after it are a part of a gram."""
    assert parse_pot(text) == pot


@pytest.mark.parametrize("text", ["soup", "=4310", "soup=", "soup=x", "soup=-3", "soup=0", "s=9e9"])
def test_what_is_no_weight_is_refused(text: str) -> None:
    """Each is told with the form it should have."""
    with pytest.raises(BadOption, match=re.escape(f"--pot {text!r}: ")):
        parse_pot(text)


def test_shares_are_whole_grams_and_never_more_than_the_pot() -> None:
    """Thirds of 100 g leave one; equal shares get the same."""
    assert shared_out(100, [0.333333333] * 3) == [33, 33, 33]
    assert shared_out(101, [0.5, 0.5]) == [50, 50]
    assert shared_out(4310, [0.25]) == [1077]


def test_each_box_gets_its_share_of_its_own_pot() -> None:
    """Ana eats 1.5 of 6 servings of the fish on each day, and so on: worked out from the plan."""
    plan = sample_plan()
    (batch,) = [one for one in plan.batches if one.recipe_id == "fish_bake"]
    eaten = [Fraction(str(p.servings)) for p in sorted(
        (p for p in plan.portions if p.recipe_id == "fish_bake"),
        key=lambda p: (p.client_id, p.day))]  # fmt: skip
    wanted = [int(4310 * each / Fraction(str(batch.servings))) for each in eaten]
    text = screen(Pot("fish_bake", "main", 4310))
    found = [int(grams) for grams in re.findall(r"^ *\d+ +(\d+) g ", text, re.MULTILINE)]
    assert found == wanted
    assert f"Left over: {4310 - sum(wanted)} g." in text
    assert "main part, cooked Sun" in text
    assert "without the pot" in " ".join(text.split())
    assert "cold topping part" in screen(Pot("Fish and potato", "cold_topping", 40))


def test_a_dish_or_part_that_is_not_packed_is_refused() -> None:
    """With what may have been meant."""
    with pytest.raises(BadOption, match="is no dish of this plan; did you mean 'fish_bake'"):
        screen(Pot("fish_bakes", "main", 100))
    with pytest.raises(BadOption, match="has no part 'topping'"):
        screen(Pot("fish_bake", "topping", 100))
    with pytest.raises(BadOption, match="names 2 dishes of this plan"):
        screen(Pot("a", "main", 100))


def test_the_command_takes_a_pot_with_cook_alone(tmp_path: Path) -> None:
    """Before anything is read, another part is refused."""
    done = CliRunner().invoke(app, ["show", str(tmp_path), "labels", "--pot", "soup=4310"])
    assert done.exit_code == 2
    assert "--pot goes with cook, not with labels" in done.output
