"""Published reference intakes: who is held against what, the table's own figures, the guard.

Sources of the figures: NASEM 2019 DRI Sodium and Potassium, appendix J summary tables (elements);
IOM DRI summary tables, vitamins (2011 edition); IOM DRI macronutrients 2002/2005 (fibre,
carbohydrate).
"""

from __future__ import annotations

from math import inf
from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_catalog, write_kitchen
from planopt.catalog.load import load_catalog, read_catalog
from planopt.faults import BadInput
from planopt.problem.build import build_problem
from planopt.problem.limits import limits_of, with_limits
from planopt.scenario.households.rosters import read_roster
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.records import Client, Window
from planopt.scenario.references import guarded, references_of
from shipped import shipped_catalog

SHIPPED = shipped_catalog()
TABLE = """\
nutrient_id,sex,age_from,age_to,kind,amount,source
fibre_g,female,19,50,AI,25,IOM DRI macronutrients 2002/2005
fibre_g,male,19,50,AI,38,IOM DRI macronutrients 2002/2005
sodium_mg,female,19,120,CDRR,2300,NASEM 2019
sodium_mg,male,19,120,CDRR,2300,NASEM 2019
"""

# Women 31-50, men 19-30: read off the published tables, apart from the shipped file.
WOMAN_40 = {
    ("calcium_mg", "RDA"): 1000, ("calcium_mg", "UL"): 2500, ("iron_mg", "RDA"): 18,
    ("iron_mg", "UL"): 45, ("magnesium_mg", "RDA"): 320, ("zinc_mg", "RDA"): 8,
    ("zinc_mg", "UL"): 40, ("potassium_mg", "AI"): 2600, ("sodium_mg", "AI"): 1500,
    ("sodium_mg", "CDRR"): 2300, ("vitamin_a_ug_rae", "RDA"): 700, ("vitamin_c_mg", "RDA"): 75,
    ("vitamin_c_mg", "UL"): 2000, ("vitamin_d_ug", "RDA"): 15, ("vitamin_d_ug", "UL"): 100,
    ("vitamin_e_mg", "RDA"): 15, ("folate_ug_dfe", "RDA"): 400, ("vitamin_b12_ug", "RDA"): 2.4,
    ("fibre_g", "AI"): 25, ("carbohydrate_g", "RDA"): 130,
}  # fmt: skip
MAN_25 = WOMAN_40 | {
    ("iron_mg", "RDA"): 8, ("magnesium_mg", "RDA"): 400, ("zinc_mg", "RDA"): 11,
    ("potassium_mg", "AI"): 3400, ("vitamin_a_ug_rae", "RDA"): 900, ("vitamin_c_mg", "RDA"): 90,
    ("fibre_g", "AI"): 38,
}  # fmt: skip


def _client(**fields: Any) -> Client:
    return Client.model_validate({"id": "ana", "name": "Ana", **fields})


def _amounts(**fields: Any) -> dict[tuple[str, str], float]:
    return {
        (one.row.nutrient_id, one.row.kind): one.row.amount
        for one in references_of(SHIPPED, _client(**fields))
    }


def test_the_shipped_table_has_the_published_figures() -> None:
    """Two groups of people, read off the published summary tables figure by figure."""
    assert _amounts(sex="female", age_years=40) == WOMAN_40
    assert _amounts(sex="male", age_years=25) == MAN_25


def test_upper_levels_of_supplements_are_not_held_against_food() -> None:
    """Magnesium, vitamin E, folic acid and retinol have upper levels that are not of all food."""
    upper = {row.nutrient_id for row in SHIPPED.reference_intakes if row.kind == "UL"}
    assert upper == {"calcium_mg", "iron_mg", "zinc_mg", "vitamin_c_mg", "vitamin_d_ug"}


def test_fibre_goes_by_sex_and_age() -> None:
    """IOM 2002/2005: 25 and 38 g until 50, 21 and 30 g from 51."""
    groups = {("female", 50): 25, ("female", 51): 21, ("male", 50): 38, ("male", 51): 30}
    for (sex, age), amount in groups.items():
        assert _amounts(sex=sex, age_years=age)["fibre_g", "AI"] == amount


def test_without_sex_and_age_the_widest_adult_range_holds() -> None:
    """The smallest least amount and the smallest most amount; one of the two narrows it."""
    wide = _amounts()
    assert (wide["iron_mg", "RDA"], wide["fibre_g", "AI"]) == (8, 21)
    assert (wide["vitamin_c_mg", "RDA"], wide["potassium_mg", "AI"]) == (75, 2600)
    assert _amounts(sex="female")["iron_mg", "RDA"] == 18
    assert _amounts(age_years=40)["fibre_g", "AI"] == 25
    assert not any(one.own_group for one in references_of(SHIPPED, _client(sex="female")))


def test_an_age_that_the_table_lacks_takes_the_widest_range() -> None:
    """Nothing is claimed for women of 60 that the table does not tell: iron 8 mg, as for men."""
    found = {
        (one.row.nutrient_id, one.row.kind): one
        for one in references_of(SHIPPED, _client(sex="female", age_years=60))
    }
    assert found["iron_mg", "RDA"].row.amount == 8
    assert not found["iron_mg", "RDA"].own_group
    assert found["fibre_g", "AI"].own_group


def test_nobody_under_19_is_held_against_adults() -> None:
    """The ranges are those of adults."""
    assert references_of(SHIPPED, _client(age_years=18)) == ()
    assert references_of(SHIPPED, _client(age_years=19)) != ()


def test_every_row_names_its_source_and_a_nutrient() -> None:
    """76 rows, each with a source of the Institute or of the National Academies."""
    assert len(SHIPPED.reference_intakes) == 76
    assert all(row.source.startswith(("NASEM", "IOM")) for row in SHIPPED.reference_intakes)
    assert {row.nutrient_id for row in SHIPPED.reference_intakes} <= set(SHIPPED.nutrients)


def test_a_catalog_may_do_without_the_table(tmp_path: Path) -> None:
    """Nothing is compared then, and no fault is told."""
    catalog = load_catalog(write_catalog(tmp_path / "c"))
    assert catalog.reference_intakes == ()
    assert references_of(catalog, _client()) == ()


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("fibre_g,female", "fiber_g,female", "unknown_nutrient"),
        ("male,19,50,AI,38", "male,60,50,AI,38", "range_reversed"),
        ("male,19,50,AI,38", "man,19,50,AI,38", "not_a_choice"),
        ("AI,38", "EAR,38", "not_a_choice"),
        ("AI,38", "AI,0", "out_of_range"),
        ("fibre_g,male,19,50,AI,38", "fibre_g,female,19,50,AI,38", "duplicate_id"),
    ],
)
def test_faults_of_the_table(tmp_path: Path, old: str, new: str, code: str) -> None:
    """Each wrong cell is one fault of its row."""
    assert TABLE.count(old) == 1 or old == "fibre_g,female"
    files = {"reference_intakes.csv": TABLE.replace(old, new, 1)}
    found = read_catalog(write_catalog(tmp_path / "c", files)).faults
    assert [fault.code for fault in found] == [code]
    assert found[0].file.endswith("reference_intakes.csv")


def test_a_guard_becomes_windows_of_the_plan(tmp_path: Path) -> None:
    """Reference times days eaten, a meal away counting a quarter; the stricter side holds."""
    eater = tiny_client(
        sex="female",
        age_years=40,
        nutrient_guard="limit",
        windows_per_week={"sodium_mg": {"max": 5000}, "fat_g": {"min": 9}},
        away={"meals": {3: ["snack"]}},
    )
    kitchen = load_kitchen(
        write_kitchen(tmp_path, files={"reference_intakes.csv": TABLE}, clients=[eater])
    )
    (client,) = guarded(kitchen.catalog, kitchen.scenario).clients
    assert client.windows_per_week == {
        "sodium_mg": Window(max=5000),
        "fat_g": Window(min=9),
        "fibre_g": Window(min=25 * 2.75),
    }
    problem = build_problem(kitchen.catalog, kitchen.scenario)
    assert {rule.what: (rule.low, rule.high) for rule in problem.rules} == {
        "sodium_mg": (0, 5000), "fat_g": (9, inf), "fibre_g": (25 * 2.75, inf),
    }  # fmt: skip
    spelled = guarded(kitchen.catalog, kitchen.scenario)
    kept = [limit for limit in limits_of(spelled) if limit.key.what != "fibre_g"]
    # A guard that was spelled out does not come back when its limit is left out.
    without = build_problem(kitchen.catalog, with_limits(spelled, kept))
    assert "fibre_g" not in {rule.what for rule in without.rules}


def test_a_guard_may_name_its_nutrients(tmp_path: Path) -> None:
    """Only those are limits."""
    eater = tiny_client(nutrient_guard="limit", guarded_nutrients=["sodium_mg"])
    kitchen = load_kitchen(
        write_kitchen(tmp_path, files={"reference_intakes.csv": TABLE}, clients=[eater])
    )
    (client,) = guarded(kitchen.catalog, kitchen.scenario).clients
    assert client.windows_per_week == {"sodium_mg": Window(max=6900)}


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"guarded_nutrients": ["fat_g"]}, "clients[0].guarded_nutrients[0]"),
        ({"age_years": 12}, "clients[0].nutrient_guard"),
    ],
)
def test_a_guard_without_a_reference_is_refused(
    tmp_path: Path, fields: dict[str, Any], field: str
) -> None:
    """What is to be limited has a row in the table."""
    eater = tiny_client(nutrient_guard="limit", **fields)
    with pytest.raises(BadInput) as caught:
        load_kitchen(
            write_kitchen(tmp_path, files={"reference_intakes.csv": TABLE}, clients=[eater])
        )
    assert [(f.code, f.field) for f in caught.value.faults] == [("no_reference_intake", field)]


def test_roster_columns_fill_the_fields(tmp_path: Path) -> None:
    """Sex, age, guard and its nutrients come from a table as from a scenario."""
    path = tmp_path / "clients.csv"
    path.write_text(
        "id,name,sex,age_years,nutrient_guard,guarded_nutrients\n"
        "ana,Ana,female,40,limit,fibre_g|sodium_mg\n",
        encoding="utf-8",
    )
    roster = read_roster(path, frozenset({"fibre_g", "sodium_mg"}))
    assert roster.faults == ()
    (entry,) = roster.entries
    assert entry.client == _client(
        sex="female", age_years=40, nutrient_guard="limit",
        guarded_nutrients=["fibre_g", "sodium_mg"],
    )  # fmt: skip
