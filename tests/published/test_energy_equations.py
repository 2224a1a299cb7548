"""Computed windows beside worked examples of the published equations and ranges.

`energy_worked_examples.csv`: Mifflin et al. 1990 (Am J Clin Nutr 51:241-247), Cunningham 1980
(33:2372-2374) and 1991 (54:963-969), activity levels of FAO/WHO/UNU 2001; the arithmetic of each
row stands in its column `working`. `macro_standards.csv`: Institute of Medicine, 2002/2005.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from planopt.targets.compute import targets_for
from planopt.targets.equations import ACTIVITIES, EQUATIONS
from planopt.targets.person import Person, Wish
from planopt.targets.split import ACCEPTABLE, KCAL_PER_G, PROTEIN_RDA_G_PER_KG

DATA = Path(__file__).parent / "data"
EQUATION_OF = {
    "mifflin": "mifflin",
    "cunningham_1980": "cunningham",
    "cunningham_1991": "cunningham1991",
}


def rows_of(name: str) -> list[dict[str, str]]:
    """Return the rows of a table."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXAMPLES = rows_of("energy_worked_examples.csv")
RESTING = [row for row in EXAMPLES if row["id"] in EQUATION_OF]
DAILY = [row for row in EXAMPLES if row["id"] == "tdee"]


def person_of(inputs: str) -> Person:
    """Return the person that a row of examples speaks of, as `m 80kg 180cm 30y`."""

    def figure(pattern: str, default: float) -> float:
        found = re.search(pattern, inputs)
        return float(found[1]) if found else default

    fat = re.search(r"([\d.]+)% fat", inputs)
    return Person(
        sex="female" if inputs.startswith("f ") else "male",
        age_years=int(figure(r"(\d+)y", 30)),
        height_cm=figure(r"([\d.]+)cm", 170),
        weight_kg=figure(r"([\d.]+)kg", 0),
        body_fat_percent=float(fat[1]) if fat else None,
    )


@pytest.mark.parametrize("row", RESTING, ids=lambda row: f"{row['id']} {row['inputs']}")
def test_energy_at_rest_is_that_of_the_worked_examples(row: dict[str, str]) -> None:
    """Every example to its last digit."""
    kcal = EQUATIONS[EQUATION_OF[row["id"]]].kcal(person_of(row["inputs"]))
    assert kcal == pytest.approx(float(row["result"]), abs=0.051)


def test_there_are_examples_of_every_equation() -> None:
    """Four people for each of the three equations."""
    assert [sum(row["id"] == one for row in RESTING) for one in EQUATION_OF] == [4, 4, 4]
    assert set(EQUATION_OF.values()) == set(EQUATIONS)


@pytest.mark.parametrize("row", DAILY, ids=lambda row: row["inputs"])
def test_energy_used_is_that_of_the_worked_examples(row: dict[str, str]) -> None:
    """The energy at rest times the level."""
    person = person_of(row["inputs"])
    level = row["inputs"].rsplit(" ", 1)[1]
    used = targets_for(person, Wish(level)).used_kcal
    assert used[1] == pytest.approx(float(row["result"]), abs=0.051)


def test_levels_of_activity_are_the_published_bands() -> None:
    """FAO/WHO/UNU 2001: 1.40-1.69, 1.70-1.99 (middle 1.85), 2.00-2.40."""
    assert {word: (low, high) for word, (low, _, high) in ACTIVITIES.items()} == {
        "light": (1.40, 1.69),
        "moderate": (1.70, 1.99),
        "vigorous": (2.00, 2.40),
    }
    assert ACTIVITIES["moderate"][1] == 1.85


def test_acceptable_ranges_are_the_published_ones() -> None:
    """Percent of the energy, and the allowance of protein."""
    rows = {row["quantity"]: row for row in rows_of("macro_standards.csv")}
    for name, span in ACCEPTABLE.items():
        row = rows["amdr_" + name.removesuffix("_g")]
        assert (span.low, span.high) == (float(row["low"]), float(row["high"]))
    assert float(rows["protein_rda"]["low"]) == PROTEIN_RDA_G_PER_KG


@pytest.mark.parametrize(
    "row", [row for row in EXAMPLES if row["id"].startswith("amdr")], ids=lambda row: row["id"]
)
def test_grams_of_a_range_are_those_of_the_worked_examples(row: dict[str, str]) -> None:
    """At 2,000 kcal."""
    _, _, _, nutrient, side = row["id"].split("_")
    name = {"carb": "carbohydrate"}.get(nutrient, nutrient) + "_g"
    percent = ACCEPTABLE[name].low if side == "low" else ACCEPTABLE[name].high
    grams = percent / 100 * 2000 / KCAL_PER_G[name]
    assert grams == pytest.approx(float(row["result"]), abs=0.051)


def test_the_allowance_of_protein_is_that_of_the_worked_example() -> None:
    """80 kg: 64 g at least, where a tenth of the energy would be less."""
    found = targets_for(Person("male", 60, 170, 80), Wish("1.4", "lose"))
    assert found.aim_kcal / 10 / 4 < 64
    assert found.windows["protein_g"]["min"] == 64
