"""Checks across the records of a catalog: the borders of what is allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchens import edited, tiny_catalog_files, write_catalog
from planopt.catalog.load import read_catalog


def codes(folder: Path, files: dict[str, str | None]) -> list[str]:
    """Return the fault codes of a changed catalog."""
    return [fault.code for fault in read_catalog(write_catalog(folder, files)).faults]


@pytest.mark.parametrize(
    ("reached", "expected"),
    [("71.1", []), ("70.9", []), ("70.8", ["internal_temperature_low"]), ("75", [])],
)
def test_internal_temperatures_may_be_rounded(
    tmp_path: Path, reached: str, expected: list[str]
) -> None:
    """A step may fall short of the class by the rounding of 0.2 C and no more."""
    files = edited("recipes/egg_rice.yaml", "internal_c: 72", f"internal_c: {reached}")
    assert codes(tmp_path, files) == expected


def test_raw_food_in_an_alternative_needs_its_temperature(tmp_path: Path) -> None:
    """A recipe without eggs as written needs the temperature if eggs may stand in."""
    files = edited(
        "recipes/lentil_soup.yaml",
        "amount: 320, unit: g}",
        "amount: 320, unit: g, alternatives: [{food: egg}]}",
    )
    assert codes(tmp_path, files) == ["internal_temperature_low"]


def test_an_amount_weighed_cooked_does_not_cook_the_food(tmp_path: Path) -> None:
    """Eggs weighed boiled are bought raw all the same, and need their temperature."""
    files = {
        **edited("recipes/boiled_eggs.yaml", "2, unit: each", "100, unit: g, state: cooked"),
        **edited("yields.csv", "rice_white_long,", "egg,cooked,1,boiled\nrice_white_long,"),
    }
    assert codes(tmp_path, files) == []
    files["recipes/boiled_eggs.yaml"] = str(files["recipes/boiled_eggs.yaml"]).replace(
        ", until_internal_c: 75", ""
    )
    assert codes(tmp_path, files) == ["internal_temperature_low"]


@pytest.mark.parametrize(("grams", "expected"), [("232", []), ("231", ["cup_density_disagree"])])
def test_cups_and_densities_may_differ_by_five_percent(
    tmp_path: Path, grams: str, expected: list[str]
) -> None:
    """The density of milk makes a cup 243.7 g; 231.5 g is the lowest cup that agrees."""
    files = edited("measures.csv", "milk_whole,cup,,244", f"milk_whole,cup,,{grams}")
    assert codes(tmp_path, files) == expected


def test_a_measure_given_twice_in_other_words_is_a_duplicate(tmp_path: Path) -> None:
    """No state and the food's own state mean the same measure."""
    files = edited("measures.csv", "egg,each,,50,", "egg,each,raw,51,x\negg,each,,50,")
    assert codes(tmp_path, files) == ["duplicate_id"]


def test_a_line_that_cannot_be_weighed_blames_the_state(tmp_path: Path) -> None:
    """A missing yield is a fault of the state, on the line of the state."""
    text = tiny_catalog_files()["recipes/lentil_soup.yaml"].replace(
        "{food: lentils_red_dry, amount: 320, unit: g}",
        "food: lentils_red_dry\n    amount: 320\n    unit: g\n    state: cooked",
    )
    folder = write_catalog(tmp_path, {"recipes/lentil_soup.yaml": text})
    (fault,) = read_catalog(folder).faults
    assert (fault.code, fault.field, fault.line) == ("unit_unknown", "lines[0].state", 17)


def test_a_pack_that_cannot_be_weighed_is_a_fault(tmp_path: Path) -> None:
    """Onions have no density, so a litre of them is not for sale."""
    assert codes(tmp_path, edited("packs.csv", "loose,100,g", "loose,1,l")) == ["unit_unknown"]


def test_wheat_alone_is_fine_where_gluten_is_not_listed(tmp_path: Path) -> None:
    """A catalog with the allergens of the US only has no gluten group to add."""
    files = {
        **edited("allergens.csv", "gluten_cereals,Cereals with gluten,,1,,oat|barley|rye,\n", ""),
        **edited("foods.csv", ",gluten_cereals,", ",wheat,"),
    }
    assert codes(tmp_path, files) == []


def test_prices_follow_the_decimals_of_their_currency(tmp_path: Path) -> None:
    """The yen has no decimals."""
    files = edited("packs.csv", "1.90,USD", "1.90,JPY")
    assert codes(tmp_path, files) == ["money_decimals"]


def test_storage_limits_are_in_order(tmp_path: Path) -> None:
    """The shortest number of days is not above the longest."""
    files = edited("storage_limits.csv", "stews,3,4,2,3", "stews,5,4,4,3")
    assert codes(tmp_path, files) == ["range_reversed", "range_reversed"]


def test_a_source_in_words_is_enough(tmp_path: Path) -> None:
    """A food without an SR28 number says where its values are from."""
    files = edited("foods.csv", '11282,"Onions, raw"', ",printed on the bag")
    assert codes(tmp_path, files) == []


def _with_energy(kcal: str, told: str) -> dict[str, str | None]:
    """Return the tiny kitchen's foods with another energy of onions, and what gives it."""
    first, *rows = tiny_catalog_files()["foods.csv"].replace("\\\n", "").splitlines()
    rows = [
        f"{row},{told}".replace(",40,1.10", f",{kcal},1.10")
        if row.startswith("onion")
        else f"{row},"
        for row in rows
    ]
    return {"foods.csv": "\n".join([f"{first},energy_from", *rows]) + "\n"}


@pytest.mark.parametrize(
    ("kcal", "told", "warned"),
    [
        ("40", "", False),
        ("80", "", True),
        ("80", "alcohol:6", False),
        ("80", "organic_acids:10", False),
        ("80", "organic_acids:3", True),
        ("80", "protein:4.36|fat:9|carbohydrate:8", False),
        ("40", "carbohydrate:1.33", True),
        ("18", "carbohydrate:1.33", False),
    ],
)
def test_energy_is_judged_by_the_parts_that_a_food_tells(
    tmp_path: Path, kcal: str, told: str, warned: bool
) -> None:
    """Onions: 1.1 g protein, 0.1 g fat, 9.34 g carbohydrate, of it 1.7 g fibre; 36 to 43 kcal."""
    reading = read_catalog(write_catalog(tmp_path, _with_energy(kcal, told)))
    assert reading.faults == ()
    assert [one.code for one in reading.warnings()] == ["energy_implausible"] * warned


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ("alcohol 6", "not_a_pair"),
        ("alcohol:6|alcohol:7", "not_a_pair"),
        ("alcohol:six", "not_a_number"),
        ("alcohol:600", "out_of_range"),
        ("spirits:6", "not_a_choice"),
    ],
)
def test_parts_of_energy_that_cannot_be_read(tmp_path: Path, told: str, code: str) -> None:
    """Each is a fault of the cell."""
    (fault,) = read_catalog(write_catalog(tmp_path, _with_energy("40", told))).faults
    assert (fault.code, fault.field, fault.value) == (code, "energy_from", told)


@pytest.mark.parametrize(
    ("row", "cooler", "found"),
    [
        ("73.9,165", "73.9,165", []),
        ("73.9,165", "73.7,164.7", []),
        ("73.9,165", "70,158", ["warning"]),
        ("73.9,165", "69.8,157.6", ["fault"]),
        ("poultry,Poultry,73.9,165", "birds,Whole birds,62.8,145", ["fault"]),
        ("71.1,160", "62.8,145", ["fault"]),
    ],
)
def test_temperatures_far_below_published_ones_are_faults(
    tmp_path: Path, row: str, cooler: str, found: list[str]
) -> None:
    """A little below is a warning, as it may be held; the words of the class's groups count too."""
    files = edited("safe_temperatures.csv", row, cooler)
    if cooler.startswith("birds"):
        files |= edited("safety_groups.csv", "poultry,Poultry,poultry", "birds,Birds,birds")
    reading = read_catalog(write_catalog(tmp_path, files))
    told = ["fault"] * sum(one.code == "temperature_below_published" for one in reading.faults)
    told += ["warning"] * sum(
        one.code == "temperature_below_published" for one in reading.warnings()
    )
    assert told == found
