"""Foods of the shipped SR28 table written in the forms in which USDA publishes its tables.

The columns and the nesting are those of the published downloads, from memory; every figure is
SR28's. `fooddata_csv` and `fooddata_json` are FoodData Central, `caret_files` the older SR files.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

from planopt.intake.composition import CompositionFood
from planopt.intake.nutrientcodes import NUMBERS

# FoodData Central's own ids of some nutrients, which are not their numbers.
_IDS = {number: str(1000 + n) for n, numbers in enumerate(NUMBERS.values()) for number in numbers}


def unit_of(nutrient_id: str) -> str:
    """Return the unit in which USDA gives a nutrient."""
    for unit in ("kcal", "mg", "ug"):
        if f"_{unit}" in nutrient_id:
            return unit
    return "g"


def _table(rows: Sequence[Sequence[object]]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(rows)
    return out.getvalue()


def fooddata_csv(foods: Sequence[CompositionFood]) -> dict[str, str]:
    """Return the tables of a FoodData Central download in CSV, SR Legacy."""
    names = {"g": "G", "mg": "MG", "ug": "UG", "kcal": "KCAL"}
    nutrient = [["id", "name", "unit_name", "nutrient_nbr", "rank"]]
    amounts = [["id", "fdc_id", "nutrient_id", "amount", "data_points", "derivation_id"]]
    for nutrient_id, numbers in NUMBERS.items():
        unit = names[unit_of(nutrient_id)]
        nutrient += [[_IDS[number], nutrient_id, unit, number, "1"] for number in numbers]
    nutrient.append(["1999", "Energy in kJ", "kJ", "268", "2"])
    rows = [["fdc_id", "data_type", "description", "food_category_id", "publication_date"]]
    portions = [
        ["id", "fdc_id", "seq_num", "amount", "measure_unit_id", "portion_description", "modifier",
         "gram_weight"]
    ]  # fmt: skip
    legacy = [["fdc_id", "NDB_number"]]
    for nth, food in enumerate(foods):
        fdc_id = str(170000 + nth)
        rows.append([fdc_id, "sr_legacy_food", food.description, "11", "2019-04-01"])
        rows.append([str(900000 + nth), "sub_sample_food", food.description, "11", "2019-04-01"])
        legacy.append([fdc_id, food.key.lstrip("0")])
        for nutrient_id, amount in food.nutrients.items():
            number = NUMBERS[nutrient_id][0]
            amounts.append([str(len(amounts)), fdc_id, _IDS[number], f"{amount}", "", "1"])
        amounts.append([str(len(amounts)), fdc_id, "1999", "1", "", ""])
        for seq, one in enumerate(food.portions):
            portions.append(
                [str(len(portions)), fdc_id, str(seq), f"{one.amount}", "9999", "", one.unit,
                 f"{one.grams}"]
            )  # fmt: skip
    return {
        "food.csv": _table(rows),
        "nutrient.csv": _table(nutrient),
        "food_nutrient.csv": _table(amounts),
        "food_portion.csv": _table(portions),
        "measure_unit.csv": _table([["id", "name"], ["9999", "undetermined"]]),
        "food_category.csv": _table([["id", "code", "description"], ["11", "1100", "Vegetables"]]),
        "sr_legacy_food.csv": _table(legacy),
    }


def fooddata_json(foods: Sequence[CompositionFood], abridged: bool = False) -> str:
    """Return a FoodData Central download in JSON, or the abridged form of its service."""
    entries = []
    for nth, food in enumerate(foods):
        nutrients: list[dict[str, object]] = []
        for nutrient_id, amount in food.nutrients.items():
            about = {
                "number": NUMBERS[nutrient_id][0],
                "name": nutrient_id,
                "unitName": unit_of(nutrient_id).replace("ug", "µg"),
            }
            nutrients.append(
                {**about, "amount": amount} if abridged else {"nutrient": about, "amount": amount}
            )
        entries.append(
            {
                "fdcId": 170000 + nth,
                "dataType": "SR Legacy",
                "ndbNumber": food.key.lstrip("0"),
                "description": food.description,
                "foodCategory": {"description": "Vegetables"},
                "foodNutrients": nutrients,
                "foodPortions": [
                    {
                        "amount": one.amount,
                        "gramWeight": one.grams,
                        "modifier": one.unit,
                        "measureUnit": {"name": "undetermined"},
                    }
                    for one in food.portions
                ],
            }
        )
    return json.dumps(entries if abridged else {"SRLegacyFoods": entries})


def caret_files(foods: Sequence[CompositionFood]) -> dict[str, str]:
    """Return the files of a Standard Reference release: carets between, tildes around texts."""
    described, data, weights = [], [], []
    for food in foods:
        refuse = "" if food.refuse_percent is None else f"{food.refuse_percent:g}"
        described.append(
            f"~{food.key}~^~1100~^~{food.description}~^~SHORT~^~~^~~^~Y~^~~^{refuse}^~~^6.25^^^"
        )
        for nutrient_id, amount in food.nutrients.items():
            data.append(f"~{food.key}~^~{NUMBERS[nutrient_id][0]}~^{amount}^1^^~1~^~~")
        for seq, one in enumerate(food.portions, start=1):
            weights.append(f"~{food.key}~^{seq}^{one.amount}^~{one.unit}~^{one.grams}^^")
    ends = "\r\n"
    return {
        "FOOD_DES.txt": ends.join(described) + ends,
        "NUT_DATA.txt": ends.join(data) + ends,
        "WEIGHT.txt": ends.join(weights) + ends,
        "FD_GROUP.txt": "~1100~^~Vegetables and Vegetable Products~\r\n",
    }
