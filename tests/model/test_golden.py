"""Each family of rows reads as it is written down in `golden/`.

To write the texts anew after a wanted change, set the environment variable PLANOPT_WRITE_GOLDEN
to 1 and run this module; then read the difference line by line before it is kept.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from model.families import FAMILIES, build, meanings, objective_text, plain_meaning, text_of
from model.small import random_kitchen
from planopt.model.kitchen import new_kitchen
from planopt.model.menus import add_menus
from planopt.problem.build import build_problem

GOLDEN = Path(__file__).parent / "golden"
WRITE = os.environ.get("PLANOPT_WRITE_GOLDEN") == "1"


def _compare(name: str, text: str) -> None:
    path = GOLDEN / f"{name}.lp"
    if WRITE:
        path.write_text(text, encoding="utf-8", newline="\n")
    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", FAMILIES)
def test_a_family_reads_as_written_down(name: str) -> None:
    """Rows, coefficients, right-hand sides and bounds are those of the golden text."""
    _compare(name, text_of(FAMILIES[name]))


def test_the_objective_reads_as_written_down() -> None:
    """Groceries, visits, weighted waste and work, coefficient by coefficient."""
    _compare("objective", objective_text())


def test_every_golden_text_belongs_to_a_family() -> None:
    """No text is left over from a family that is gone."""
    assert {path.stem for path in GOLDEN.iterdir()} == {*FAMILIES, "objective"}


def _families_of(meaning: str) -> list[str]:
    return [name for name, one in FAMILIES.items() if re.fullmatch(one.pattern, meaning)]


@pytest.mark.parametrize("name", FAMILIES)
def test_every_row_of_a_tiny_kitchen_belongs_to_one_family(name: str) -> None:
    """Whatever row a tiny kitchen has, exactly one family and so one golden text covers it."""
    for meaning in meanings(build(FAMILIES[name])):
        assert len(_families_of(meaning)) == 1, f"{meaning}: {_families_of(meaning)}"


@pytest.mark.parametrize("seed", range(30))
def test_every_row_of_a_random_kitchen_belongs_to_one_family(seed: int) -> None:
    """A new kind of row cannot be added without a golden text for it."""
    drawn = random_kitchen(seed, one_dish=False)
    kitchen = new_kitchen(build_problem(drawn.catalog, drawn.scenario))
    add_menus(kitchen)
    for meaning in meanings(kitchen):
        assert len(_families_of(meaning)) == 1, f"{meaning}: {_families_of(meaning)}"


def test_names_are_short_unique_and_have_a_meaning() -> None:
    """Names are a letter and a number, so that no layer below can fold two of them into one."""
    kitchen = build(FAMILIES["visits"])
    names = [v.name for v in kitchen.lp.variables()] + list(kitchen.lp.constraints)
    assert len(set(names)) == len(names)
    for name in names:
        assert re.fullmatch(r"[a-z]\d+", name)
        assert plain_meaning(kitchen, name)
    assert len(kitchen.names) >= len(names)
    with pytest.raises(KeyError):
        kitchen.names.meaning("q99999")
