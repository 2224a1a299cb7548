"""For every fault code one tiny bad input, and the exact text the user reads."""

from __future__ import annotations

import ast
import csv
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import planopt.catalog
import planopt.scenario
from kitchens import edited, tiny_catalog_files, tiny_client, write_catalog, write_kitchen
from planopt.catalog.load import read_catalog
from planopt.faults import BadInput
from planopt.guide.pages import page
from planopt.reading import documents, tables
from planopt.scenario.households.paths import check_paths, check_paths_and_warn
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.variants.words import FORMS, variant_of_words


def francs() -> str:
    """Return the tiny kitchen's packs at the same numbers of a currency without decimals."""
    rows = tiny_catalog_files()["packs.csv"].splitlines()
    header = rows[0].split(",")
    price, currency = header.index("price"), header.index("currency")
    cells = [row.split(",") for row in rows[1:]]
    for row in cells:
        row[price], row[currency] = row[price].replace(".", "").lstrip("0"), "XOF"
    return "\n".join([rows[0], *(",".join(row) for row in cells)]) + "\n"


def free_packs() -> str:
    """Return the tiny kitchen's packs with all prices 0."""
    rows = list(csv.DictReader(tiny_catalog_files()["packs.csv"].splitlines()))
    lines = [",".join({**row, "price": "0"}.values()) for row in rows]
    return "\n".join([",".join(rows[0]), *lines]) + "\n"


def grouped(*groups: str) -> str:
    """Return the tiny kitchen's foods, the first of them in these groups."""
    first, *rows = tiny_catalog_files()["foods.csv"].splitlines()
    filled = [*groups, *[""] * (len(rows) - len(groups))]
    rows = [f"{row},{group}" for row, group in zip(rows, filled, strict=True)]
    return "\n".join([f"{first},groups", *rows]) + "\n"


RECIPES = [name for name in tiny_catalog_files() if name.startswith("recipes/")]


@dataclass(frozen=True)
class Case:
    """A change that makes the tiny kitchen faulty in one way, and the fault's three parts."""

    code: str
    what: str
    where: str
    why: str
    mend: str
    files: Mapping[str, str | None] = field(default_factory=dict)
    keys: Mapping[str, Any] = field(default_factory=dict)

    def text(self) -> str:
        """Return the expected text."""
        return f"{self.where}\n    why: {self.why}\n    mend: {self.mend}"


_PORRIDGE = "recipes/oat_porridge.yaml"
_MILK = ("unit: ml}", "unit: ml, key: milk}")
_WATER = ("optional: true}", "optional: true, key: thinner}")


def _porridge(*changes: tuple[str, str]) -> dict[str, str]:
    """Return the porridge with some of its words changed."""
    text = tiny_catalog_files()[_PORRIDGE]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return {_PORRIDGE: text}


def _foods_cells() -> list[list[str]]:
    """Return the cells of the tiny kitchen's foods, with commas in names taken out."""
    text = tiny_catalog_files()["foods.csv"]
    return [[cell.replace(",", " ") for cell in row] for row in csv.reader(text.splitlines())]


CASES = (
    Case(
        "odd_character",
        "a name that turns the direction of a line",
        "kitchen/scenario.yaml:9: clients[0].name: 'An\\u202ea' [odd_character]",
        "it holds U+202E (right-to-left override)",
        "write the text again without it",
        keys={"clients": [tiny_client(name="An\u202ea")]},
    ),
    Case(
        "file_missing",
        "a table that is not there",
        "kitchen/catalogs/yields.csv: 'yields.csv' [file_missing]",
        "there is no such file",
        "create it",
        files={"yields.csv": None},
    ),
    Case(
        "no_recipes",
        "a recipes folder without a recipe",
        "kitchen/catalogs/recipes: 'recipes' [no_recipes]",
        "there is no recipe in this folder",
        "add at least one .yaml file",
        files={**dict.fromkeys(RECIPES), "recipes/notes.txt": "later"},
    ),
    Case(
        "not_utf8",
        "a NUL character in a table",
        "kitchen/catalogs/sellers.csv:3: 'sellers.csv' [not_utf8]",
        "the file holds a NUL character, so it is no plain text",
        "save it as UTF-8 text",
        files=edited("sellers.csv", "Market stall", "Market\x00stall"),
    ),
    Case(
        "empty_file",
        "an empty table",
        "kitchen/catalogs/yields.csv: '' [empty_file]",
        "the table is empty",
        "write the header line: food_id,state,grams_per_g,source",
        files={"yields.csv": ""},
    ),
    Case(
        "csv_syntax",
        "a quote that never closes",
        "kitchen/catalogs/sellers.csv:3: '' [csv_syntax]",
        "the table cannot be read: unexpected end of data",
        "check the double quotes of this row",
        files=edited("sellers.csv", "market,Market", 'market,"Market'),
    ),
    Case(
        "not_comma_separated",
        "a table with tabs",
        r"kitchen/catalogs/yields.csv:1: 'food_id\tstate\tgrams_per_g\tsource'"
        " [not_comma_separated]",
        "the columns are separated neither by commas nor by semicolons",
        "save the table with commas or semicolons between the cells",
        files={"yields.csv": "food_id\tstate\tgrams_per_g\tsource\n"},
    ),
    Case(
        "decimal_comma",
        "decimal commas in a table with commas, told once",
        "kitchen/catalogs/packs.csv:2: price: '1,60' [decimal_comma]",
        "2 numbers have a decimal comma, this one first, and the table has commas between cells",
        "write decimal points, or save the table with semicolons between the cells: then decimal"
        " commas are read",
        files={
            "packs.csv": tiny_catalog_files()["packs.csv"]
            .replace(",1.60,", ',"1,60",')
            .replace(",1.50,", ',"1,50",')
        },
    ),
    Case(
        "decimals_mixed",
        "commas and points in one table with semicolons",
        "kitchen/catalogs/yields.csv:2: grams_per_g: '2,8' [decimals_mixed]",
        "1 number has a decimal comma, and 2.5 in line 3 has a point",
        "write all decimals of the table in one way",
        files={
            "yields.csv": "food_id;state;grams_per_g;source\nrice_white_long;cooked;2,8;SR28\n"
            "lentils_red_dry;cooked;2.5;SR28\n"
        },
    ),
    Case(
        "row_length",
        "a comma too many",
        "kitchen/catalogs/sellers.csv:2: 'corner,Corner,shop,Invented' [row_length]",
        "the row has 4 cells, the header 3",
        "put a text with commas in double quotes",
        files=edited("sellers.csv", "Corner shop,Invented", "Corner, shop,Invented"),
    ),
    Case(
        "unknown_column",
        "a column nobody knows",
        "kitchen/catalogs/yields.csv:1: sorce: 'sorce' [unknown_column]",
        "the table has no such column",
        "did you mean 'source'?",
        files={
            "yields.csv": "food_id,state,grams_per_g,source,sorce\n"
            "rice_white_long,cooked,2.8,SR28,\n"
        },
    ),
    Case(
        "duplicate_column",
        "a column given twice",
        "kitchen/catalogs/sellers.csv:1: name: 'name' [duplicate_column]",
        "the column stands 2 times in the header",
        "keep one of them",
        files=edited("sellers.csv", "seller_id,name,note", "seller_id,name,name"),
    ),
    Case(
        "empty_cell",
        "a pack without a price",
        "kitchen/catalogs/packs.csv:7: price: '' [empty_cell]",
        "the cell is empty and a value is needed",
        "fill in the cell",
        files=edited("packs.csv", "kg,1.90,USD", "kg,,USD"),
    ),
    Case(
        "yaml_syntax",
        "a bracket that never closes",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:3: '' [yaml_syntax]",
        "the YAML cannot be read: did not find expected ',' or ']'",
        "check the indentation, the colons and the quotes near this line",
        files=edited("recipes/boiled_eggs.yaml", "[snack]", "[snack"),
    ),
    Case(
        "duplicate_key",
        "a key given twice",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:4: yield_servings: "
        "'yield_servings' [duplicate_key]",
        "this key stands already on line 3",
        "keep one of the two",
        files=edited(
            "recipes/boiled_eggs.yaml", "yield_servings: 1", "yield_servings: 1\nyield_servings: 2"
        ),
    ),
    Case(
        "wrong_suffix",
        "a recipe named .yml",
        "kitchen/catalogs/recipes/tea.yml: file name: 'tea.yml' [wrong_suffix]",
        "a recipe file ends in .yaml",
        "rename it to tea.yaml",
        files={"recipes/tea.yml": "name: Tea"},
    ),
    Case(
        "missing_field",
        "a recipe without minutes",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:1: minutes: '' [missing_field]",
        "this field is needed and is not there",
        "add 'minutes'",
        files=edited(
            "recipes/boiled_eggs.yaml",
            "minutes: {hands_on: 3, hands_on_per_extra_batch: 1, unattended: 12}\n",
            "",
        ),
    ),
    Case(
        "unknown_field",
        "a misspelt unit key",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:13: lines[0].units: 'units' [unknown_field]",
        "there is no such field here",
        "did you mean 'unit'?",
        files=edited(
            "recipes/boiled_eggs.yaml",
            "amount: 2, unit: each",
            "amount: 2, units: each, unit: each",
        ),
    ),
    Case(
        "not_a_number",
        "a decimal comma",
        "kitchen/catalogs/recipes/oat_porridge.yaml:13: lines[0].amount: '1,5' [not_a_number]",
        "this is not a number",
        "write decimals with a point: 1.5",
        files=_porridge(("amount: 1.5,", "amount: '1,5',")),
    ),
    Case(
        "not_a_whole_number",
        "half a day",
        "kitchen/scenario.yaml:4: days: '2.5' [not_a_whole_number]",
        "this is not a whole number",
        "write a whole number",
        keys={"days": 2.5},
    ),
    Case(
        "out_of_range",
        "an edible share above 1",
        "kitchen/catalogs/foods.csv:4: edible_share: '1.88' [out_of_range]",
        "a gram as purchased holds at most a gram of food, and hardly less than 0.01",
        "write a number from 0.01 to 1",
        files=edited("foods.csv", "raw,0.88", "raw,1.88"),
    ),
    Case(
        "not_a_choice",
        "a misspelt unit",
        "kitchen/catalogs/packs.csv:7: unit: 'kgs' [not_a_choice]",
        "this is not one of the values allowed here",
        "did you mean 'kg'?",
        files=edited("packs.csv", "1,kg", "1,kgs"),
    ),
    Case(
        "bad_form",
        "an id with capital letters",
        "kitchen/catalogs/sellers.csv:4: seller_id: 'Old Mill' [bad_form]",
        "an id has only lower-case letters, digits and underscores, and starts with a letter",
        "write 'old_mill'",
        files=edited(
            "sellers.csv",
            "market,Market stall,Invented",
            "market,Market stall,Invented\nOld Mill,Mill,",
        ),
    ),
    Case(
        "not_text",
        "a number for a name",
        "kitchen/scenario.yaml:1: name: '2026' [not_text]",
        "this is not text",
        "put the value in quotes",
        keys={"name": 2026},
    ),
    Case(
        "too_short",
        "a kitchen with no cook day",
        "kitchen/scenario.yaml:5: cook_days: 'a list of 0' [too_short]",
        "at least 1 entry is needed",
        "add an entry",
        keys={"cook_days": []},
    ),
    Case(
        "too_long",
        "four alternatives on one line",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:13: lines[0].alternatives: 'a list"
        " of 4' [too_long]",
        "at most 3 entries are allowed",
        "shorten it",
        files=edited(
            "recipes/boiled_eggs.yaml",
            "amount: 2, unit: each}",
            "amount: 2, unit: each, alternatives: [{food: onion}, {food: water},\n"
            "      {food: oats_rolled}, {food: milk_whole}]}",
        ),
    ),
    Case(
        "not_true_or_false",
        "a word for a switch",
        "kitchen/scenario.yaml:16: use_freezer: 'maybe' [not_true_or_false]",
        "this is neither true nor false",
        "write true or false",
        keys={"use_freezer": "maybe"},
    ),
    Case(
        "not_a_date",
        "a day that the calendar lacks",
        "kitchen/scenario.yaml:3: start_date: '2026-02-30' [not_a_date]",
        "this is not a date of the calendar",
        "write the date as YYYY-MM-DD",
        keys={"start_date": "2026-02-30"},
    ),
    Case(
        "not_a_mapping",
        "a text for a window",
        "kitchen/scenario.yaml:11: clients[0].windows_per_day.energy_kcal: 'about "
        "1800' [not_a_mapping]",
        "named fields are needed here",
        "write a mapping, one `name: value` a line",
        keys={"clients": [tiny_client(windows_per_day={"energy_kcal": "about 1800"})]},
    ),
    Case(
        "not_a_list",
        "one meal without brackets",
        "kitchen/scenario.yaml:16: meals: 'lunch' [not_a_list]",
        "a list is needed here",
        "write a list, for example [a, b]",
        keys={"meals": "lunch"},
    ),
    Case(
        "duplicate_id",
        "two packs with one id",
        "kitchen/catalogs/packs.csv:5: pack_id: 'eggs_6' [duplicate_id]",
        "line 4 has it already",
        "remove one row or give it another id",
        files=edited("packs.csv", "eggs_12,egg", "eggs_6,egg"),
    ),
    Case(
        "unknown_food",
        "a misspelt food in a recipe",
        "kitchen/catalogs/recipes/lentil_soup.yaml:14: lines[0].food: "
        "'lentil_red_dry' [unknown_food]",
        "the catalog has no such food",
        "did you mean 'lentils_red_dry'?",
        files=edited("recipes/lentil_soup.yaml", "lentils_red_dry", "lentil_red_dry"),
    ),
    Case(
        "unknown_seller",
        "a misspelt seller of a pack",
        "kitchen/catalogs/packs.csv:2: seller_id: 'corners' [unknown_seller]",
        "the catalog has no such seller",
        "did you mean 'corner'?",
        files=edited("packs.csv", "oats_500g,oats_rolled,corner", "oats_500g,oats_rolled,corners"),
    ),
    Case(
        "unknown_allergen",
        "a misspelt allergen of a food",
        "kitchen/catalogs/foods.csv:3: allergens: 'mlik' [unknown_allergen]",
        "the catalog has no such allergen",
        "did you mean 'milk'?",
        files=edited("foods.csv", "1.03,milk", "1.03,mlik"),
    ),
    Case(
        "unknown_allergen",
        "none in capitals",
        "kitchen/catalogs/foods.csv:7: allergens: 'NONE' [unknown_allergen]",
        "the catalog has no such allergen",
        "did you mean 'none'?",
        files=edited("foods.csv", "raw,0.9,,none,", "raw,0.9,,NONE,"),
    ),
    Case(
        "none_not_alone",
        "none and an allergen in one cell",
        "kitchen/catalogs/foods.csv:3: allergens: 'none|milk' [none_not_alone]",
        "none says that the food has no allergen, and others stand beside it",
        "leave out none, or the others",
        files=edited("foods.csv", "1.03,milk", "1.03,none|milk"),
    ),
    Case(
        "allergen_reserved",
        "an allergen that is called none",
        "kitchen/catalogs/allergens.csv:6: allergen_id: 'none' [allergen_reserved]",
        "this word has a meaning of its own in foods.csv",
        "choose another id",
        files=edited("allergens.csv", "oat|barley|rye,\n", "oat|barley|rye,\nnone,None,,,,,\n"),
    ),
    Case(
        "empty_cell",
        "a food of which nobody says how safe it is",
        "kitchen/catalogs/foods.csv:4: safety_group: '' [empty_cell]",
        "the cell is empty and a value is needed",
        "fill in the cell",
        files=edited("foods.csv", "28,,egg,egg", "28,,egg,"),
    ),
    Case(
        "unknown_safety_group",
        "a misspelt safety group of a food",
        "kitchen/catalogs/foods.csv:4: safety_group: 'eggs' [unknown_safety_group]",
        "the catalog has no such safety group",
        "did you mean 'egg'?",
        files=edited("foods.csv", "28,,egg,egg", "28,,egg,eggs"),
    ),
    Case(
        "unknown_temperature_class",
        "a group with a misspelt class",
        "kitchen/catalogs/safety_groups.csv:2: temperature_class: 'poltry'"
        " [unknown_temperature_class]",
        "the catalog has no such temperature class",
        "did you mean 'poultry'?",
        files=edited("safety_groups.csv", "Poultry,poultry", "Poultry,poltry"),
    ),
    Case(
        "group_without_class",
        "a group that has lost its class",
        "kitchen/catalogs/safety_groups.csv:2: temperature_class: '' [group_without_class]",
        "safe_temperatures.csv has a class poultry, and raw foods of this group would not have to"
        " reach it",
        "write poultry",
        files=edited("safety_groups.csv", "Poultry,poultry", "Poultry,"),
    ),
    Case(
        "unknown_keeping_kind",
        "a group with a misspelt kind",
        "kitchen/catalogs/safety_groups.csv:2: kinds: 'leftovers' [unknown_keeping_kind]",
        "the catalog has no such keeping kind",
        "did you mean 'leftovers_in_general'?",
        files=edited("safety_groups.csv", "leftovers_in_general,chicken", "leftovers,chicken"),
    ),
    Case(
        "state_not_raw",
        "raw eggs that are listed as ready to eat",
        "kitchen/catalogs/foods.csv:4: state: 'ready' [state_not_raw]",
        "its name or description says raw, and raw egg must be heated",
        "write raw, or correct the description",
        files=edited("foods.csv", "142,raw,0.88", "142,ready,0.88"),
    ),
    Case(
        "safety_group_hinted",
        "chicken among the rest",
        "kitchen/catalogs/foods.csv:7: safety_group: 'none' [safety_group_hinted]",
        "its name has the word 'chicken', and poultry asks more of a dish",
        "write poultry, or add its name to the not_words of poultry in safety_groups.csv",
        files=edited("foods.csv", "onion,Onion,", "onion,Chicken breasts with onion,"),
    ),
    Case(
        "unknown_keeping_kind",
        "a kind of dish without limits",
        "kitchen/catalogs/recipes/lentil_soup.yaml:9: keeps.kind: 'soup' [unknown_keeping_kind]",
        "the catalog has no such keeping kind",
        "did you mean 'soups_and_stews'?",
        files=edited("recipes/lentil_soup.yaml", "soups_and_stews", "soup"),
    ),
    Case(
        "unknown_temperature_class",
        "a class without a temperature",
        "kitchen/catalogs/foods.csv:4: safe_temperature: 'eggs' [unknown_temperature_class]",
        "the catalog has no such temperature class",
        "did you mean 'egg'?",
        files=edited("foods.csv", "28,,egg", "28,,eggs"),
    ),
    Case(
        "wheat_without_gluten",
        "wheat without its group",
        "kitchen/catalogs/foods.csv:2: allergens: 'wheat' [wheat_without_gluten]",
        "wheat is a gluten cereal",
        "add gluten_cereals",
        files=edited("foods.csv", ",gluten_cereals,", ",wheat,"),
    ),
    Case(
        "unit_unknown",
        "a slice of onion",
        "kitchen/catalogs/recipes/egg_rice.yaml:16: lines[2].unit: 'slice' [unit_unknown]",
        "no measure tells the grams of 'slice' of onion",
        "add the 'slice' of onion to measures.csv, or write grams",
        files=edited("recipes/egg_rice.yaml", "amount: 80, unit: g", "amount: 2, unit: slice"),
    ),
    Case(
        "cup_density_disagree",
        "a cup of milk that is too light",
        "kitchen/catalogs/measures.csv:3: grams: '224' [cup_density_disagree]",
        "the density 1.03 g/ml of milk_whole makes this 243.7 g, more than 5% apart",
        "correct the measure or the density",
        files=edited("measures.csv", "milk_whole,cup,,244", "milk_whole,cup,,224"),
    ),
    Case(
        "no_source",
        "a food without source",
        "kitchen/catalogs/foods.csv:7: sr28_ndb_no: '' [no_source]",
        "the nutrient values have no source",
        "give the SR28 number, or say in sr28_description where the values are from",
        files=edited("foods.csv", '11282,"Onions, raw"', ","),
    ),
    Case(
        "out_of_range",
        "protein below zero",
        "kitchen/catalogs/foods.csv:7: protein_g: '-1.10' [out_of_range]",
        "100 g of food weigh 100,000,000 ug, and less than nothing is in no food; an empty cell "
        "says unknown",
        "write a number from 0 to 100000000",
        files=edited("foods.csv", "40,1.10", "40,-1.10"),
    ),
    Case(
        "temperature_below_published",
        "poultry that is heated as fish is",
        "kitchen/catalogs/safe_temperatures.csv:3: internal_c: '62.8'"
        " [temperature_below_published]",
        "FoodSafety.gov has 73.9 C as the least temperature inside of such food",
        "write 73.9 or more; local rules may ask for more",
        files=edited("safe_temperatures.csv", "73.9,165", "62.8,145"),
    ),
    Case(
        "prices_all_zero",
        "a catalog without prices",
        "kitchen/scenario.yaml:1: currency: 'USD' [prices_all_zero]",
        "every pack that may be bought (7) has the price 0, so every week is the cheapest",
        "write what packs cost in packs.csv; where that is not known, an estimate",
        files={"packs.csv": free_packs()},
    ),
    Case(
        "window_empty",
        "a window with its number still to come",
        "kitchen/scenario.yaml:11: clients[0].windows_per_day.protein_g: 'protein_g'"
        " [window_empty]",
        "the window has neither min nor max, so it sets nothing",
        "write min, max or both, or remove it",
        keys={"clients": [tiny_client(windows_per_day={"protein_g": {"min": None}})]},
    ),
    Case(
        "window_empty",
        "servings of a recipe that limit nothing",
        "kitchen/scenario.yaml:17: clients[0].recipe_servings.lentil_soup: 'lentil_soup'"
        " [window_empty]",
        "it has neither min nor max, so it sets nothing",
        "write min, max or both, or remove it",
        keys={"clients": [tiny_client(recipe_servings={"lentil_soup": {"max": None}})]},
    ),
    Case(
        "duplicate_key",
        "one day under two names",
        "kitchen/catalogs/recipes/oat_porridge.yaml:4: 4.0: '4.0' [duplicate_key]",
        "this key stands already on line 3",
        "keep one of the two",
        files=_porridge(("yield_servings: 2\n", "4: 1\n4.0: 2\n")),
    ),
    Case(
        "money_decimals",
        "a price in tenths of a cent",
        "kitchen/catalogs/packs.csv:8: price: '0.185' [money_decimals]",
        "USD has 2 decimals",
        "round the price, or give the price of a larger size",
        files=edited("packs.csv", "100,g,0.18", "100,g,0.185"),
    ),
    Case(
        "money_decimals",
        "hundredths of a franc that has none",
        "kitchen/scenario.yaml:16: budget: '120.5' [money_decimals]",
        "XOF has 0 decimals",
        "round the amount",
        files={"packs.csv": francs()},
        keys={"budget": 120.5, "currency": "XOF"},
    ),
    Case(
        "unknown_currency",
        "a currency with its letters mixed up",
        "kitchen/catalogs/packs.csv:7: currency: 'UDS' [unknown_currency]",
        "ISO 4217 has no such currency in use",
        "did you mean 'USD'?",
        files=edited("packs.csv", "kg,1.90,USD", "kg,1.90,UDS"),
    ),
    Case(
        "unknown_currency",
        "a scenario in a currency that was given up",
        "kitchen/scenario.yaml:16: currency: 'DEM' [unknown_currency]",
        "ISO 4217 has no such currency in use",
        "write for example USD or EUR",
        keys={"currency": "DEM"},
    ),
    Case(
        "range_reversed",
        "a window upside down",
        "kitchen/scenario.yaml:12: clients[0].windows_per_day.protein_g.min: '120' "
        "[range_reversed]",
        "min is above max, 90",
        "swap or correct the two",
        keys={"clients": [tiny_client(windows_per_day={"protein_g": {"min": 120, "max": 90}})]},
    ),
    Case(
        "share_of_nothing",
        "a share of protein where no day has a most of it",
        "kitchen/scenario.yaml:19: clients[0].windows_per_meal.dinner.protein_g.max: '40%' "
        "[share_of_nothing]",
        "no day has a most amount of it, of which this would be a share",
        "write an amount, or max in windows_per_day",
        keys={"clients": [tiny_client(windows_per_meal={"dinner": {"protein_g": {"max": "40%"}}})]},
    ),
    Case(
        "range_reversed",
        "shares of a meal upside down",
        "kitchen/scenario.yaml:19: windows_per_meal.dinner.energy_kcal.min: '45%' [range_reversed]",
        "min is above max, 25%",
        "swap or correct the two",
        keys={"windows_per_meal": {"dinner": {"energy_kcal": {"min": "45%", "max": "25%"}}}},
    ),
    Case(
        "window_empty",
        "a plate without grams",
        "kitchen/scenario.yaml:16: plate_g: 'plate_g' [window_empty]",
        "the window has neither min nor max, so it sets nothing",
        "write min, max or both, or remove it",
        keys={"plate_g": {"max": None}},
    ),
    Case(
        "unknown_meal",
        "a window of a meal that nobody has",
        "kitchen/scenario.yaml:17: windows_per_meal.diner: 'diner' [unknown_meal]",
        "the scenario has no such meal",
        "did you mean 'dinner'?",
        keys={"windows_per_meal": {"diner": {"energy_kcal": {"max": 900}}}},
    ),
    Case(
        "not_a_number",
        "a share without its sign",
        "kitchen/scenario.yaml:20: windows_per_meal.dinner.energy_kcal.max: 'a third' "
        "[not_a_number]",
        "this is not a number",
        "write a plain number, without unit and without thousands separator, or a share of the day "
        "such as 15%",
        keys={"windows_per_meal": {"dinner": {"energy_kcal": {"min": 300, "max": "a third"}}}},
    ),
    Case(
        "temperatures_disagree",
        "C and F that differ",
        "kitchen/catalogs/safe_temperatures.csv:2: internal_f: '165' [temperatures_disagree]",
        "71.1 C is 160 F",
        "correct one of the two",
        files=edited("safe_temperatures.csv", "71.1,160", "71.1,165"),
    ),
    Case(
        "freezer_months_above_kind",
        "soup frozen for too long",
        "kitchen/catalogs/recipes/lentil_soup.yaml:11: keeps.freezer_months: '6' "
        "[freezer_months_above_kind]",
        "soups_and_stews keeps at most 3 months in the freezer",
        "write 3 or less",
        files=edited("recipes/lentil_soup.yaml", "freezer_months: 2", "freezer_months: 6"),
    ),
    Case(
        "fridge_days_above_foods",
        "porridge relabelled as a dry snack",
        "kitchen/catalogs/recipes/oat_porridge.yaml:10: keeps.fridge_days: '14' "
        "[fridge_days_above_foods]",
        "milk_whole (dairy) keeps at most 4 days in the fridge, as leftovers_in_general",
        "write 4 or less",
        files={
            **edited(
                "recipes/oat_porridge.yaml",
                "leftovers_in_general\n  fridge_days: 3",
                "dry_snack\n  fridge_days: 14",
            ),
            **edited("storage_limits.csv", "hard_cooked", "dry_snack,Dry,14,28,6,6,x\nhard_cooked"),
        },
    ),
    Case(
        "freezer_months_above_foods",
        "soup relabelled as something that freezes for half a year",
        "kitchen/catalogs/recipes/lentil_soup.yaml:11: keeps.freezer_months: '6' "
        "[freezer_months_above_foods]",
        "lentils_red_dry (grains_and_beans) keeps at most 4 months in the freezer, as"
        " leftovers_in_general",
        "write 4 or less",
        files={
            **edited(
                "recipes/lentil_soup.yaml",
                "soups_and_stews\n  fridge_days: 4\n  freezer_months: 2",
                "dry_snack\n  fridge_days: 4\n  freezer_months: 6",
            ),
            **edited("storage_limits.csv", "hard_cooked", "dry_snack,Dry,14,28,6,6,x\nhard_cooked"),
        },
    ),
    Case(
        "batch_never_cooked",
        "less than one batch a day",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:4: batch.most_per_cook_day: '0.5' "
        "[batch_never_cooked]",
        "the smallest amount that can be cooked is 1 of a batch",
        "write 1 or more",
        files=edited("recipes/boiled_eggs.yaml", "most_per_cook_day: 8", "most_per_cook_day: 0.5"),
    ),
    Case(
        "unknown_part",
        "a part that no line has is packed apart",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:12: parts_apart[0]: 'mian' [unknown_part]",
        "no line is of this part",
        "did you mean 'main'?",
        files=edited("recipes/boiled_eggs.yaml", "lines:", "parts_apart: [mian]\nlines:"),
    ),
    Case(
        "alternative_repeats",
        "an alternative that is the food itself",
        "kitchen/catalogs/recipes/boiled_eggs.yaml:13: lines[0].alternatives[0].food:"
        " 'egg' [alternative_repeats]",
        "the line offers this food already",
        "remove one of the two",
        files=edited(
            "recipes/boiled_eggs.yaml",
            "amount: 2, unit: each}",
            "amount: 2, unit: each, alternatives: [{food: egg}]}",
        ),
    ),
    Case(
        "internal_temperature_low",
        "eggs not cooked through",
        "kitchen/catalogs/recipes/egg_rice.yaml:15: lines[1].food: 'egg' "
        "[internal_temperature_low]",
        "egg must reach 71.1 C inside and the hottest step reaches 60 C",
        "add until_internal_c: 71.1 or more to the step that cooks it",
        files=edited("recipes/egg_rice.yaml", "until_internal_c: 72", "until_internal_c: 60"),
    ),
    Case(
        "unknown_placeholder",
        "a misspelt key in a step",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: 'milc' [unknown_placeholder]",
        "no line of this recipe has such a key",
        "did you mean 'milk'?",
        files=_porridge(_MILK, ("Simmer everything", "Simmer the {milc}")),
    ),
    Case(
        "unknown_placeholder",
        "a food in place of a key",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: 'milk_whole' "
        "[unknown_placeholder]",
        "no line of this recipe has such a key",
        "add key: milk_whole to lines[1], or a shorter key",
        files=_porridge(("Simmer everything", "Simmer the {milk_whole}")),
    ),
    Case(
        "unknown_placeholder",
        "a word that may not follow a key",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: 'milk mass' "
        "[unknown_placeholder]",
        "only the word amount may follow the key of a line",
        "write {milk} or {milk amount}",
        files=_porridge(_MILK, ("Simmer everything", "Simmer the {milk mass}")),
    ),
    Case(
        "unknown_placeholder",
        "an amount in a name",
        "kitchen/catalogs/recipes/oat_porridge.yaml:1: name: 'milk amount' [unknown_placeholder]",
        "a name is for any number of batches, so nothing may follow a key",
        "write {milk}",
        files=_porridge(_MILK, ("Oat porridge", "Oats in {milk amount}")),
    ),
    Case(
        "unknown_placeholder",
        "a count in a name",
        "kitchen/catalogs/recipes/oat_porridge.yaml:1: name: 'servings' [unknown_placeholder]",
        "a name is for any number of batches",
        "name the count in a step instead",
        files=_porridge(("Oat porridge", "Oats for {servings}")),
    ),
    Case(
        "text_unreadable",
        "a brace that never closes",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: '{milk for eight minu' "
        "[text_unreadable]",
        "this brace is never closed",
        "write } after the key, or use round brackets",
        files=_porridge(_MILK, ("Simmer everything", "Simmer the {milk")),
    ),
    Case(
        "text_unreadable",
        "a square bracket that never closes",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: '[the {thinner} for e' "
        "[text_unreadable]",
        "this square bracket is never closed",
        "write ] where it ends, or use round brackets",
        files=_porridge(_WATER, ("Simmer everything", "Simmer [the {thinner}")),
    ),
    Case(
        "missing_food_named",
        "an optional food outside brackets",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: 'thinner' "
        "[missing_food_named]",
        "this food may be left out, and the text would lack a word",
        "put the words in square brackets, such as [and {thinner}], or add only_with: [thinner]",
        files=_porridge(_WATER, ("Simmer everything", "Simmer the {thinner}")),
    ),
    Case(
        "idle_brackets",
        "brackets around what is always there",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].do: '[, even {milk},]' "
        "[idle_brackets]",
        "nothing in these brackets can be left out",
        "use round brackets, or name an optional food inside",
        files=_porridge(_MILK, ("Simmer everything", "Simmer all[, even {milk},]")),
    ),
    Case(
        "unknown_condition",
        "a misspelt key in a condition",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].only_with[0]: 'thiner' "
        "[unknown_condition]",
        "no line of this recipe has such a key or food",
        "did you mean 'thinner'?",
        files=_porridge(_WATER, ('stirring."}', 'stirring.", only_with: [thiner]}')),
    ),
    Case(
        "idle_condition",
        "a condition that every version meets",
        "kitchen/catalogs/recipes/oat_porridge.yaml:17: steps[0].without[0]: 'milk' "
        "[idle_condition]",
        "every version of this recipe has it",
        "remove the condition, or name an optional line or one food of a choice",
        files=_porridge(_MILK, ('stirring."}', 'stirring.", without: [milk]}')),
    ),
    Case(
        "key_taken",
        "two lines with one key",
        "kitchen/catalogs/recipes/oat_porridge.yaml:15: lines[2].key: 'milk' [key_taken]",
        "lines[1] has this key already",
        "give the line another key",
        files=_porridge(_MILK, ("optional: true}", "optional: true, key: milk}")),
    ),
    Case(
        "key_taken",
        "a key that is a food of another line",
        "kitchen/catalogs/recipes/oat_porridge.yaml:14: lines[1].key: 'water' [key_taken]",
        "a step could not tell it from the food of that name",
        "give the line another key",
        files=_porridge(("unit: ml}", "unit: ml, key: water}")),
    ),
    Case(
        "internal_temperature_low",
        "a temperature that only some versions reach",
        "kitchen/catalogs/recipes/egg_rice.yaml:15: lines[1].food: 'egg' "
        "[internal_temperature_low]",
        "egg must reach 71.1 C inside and a version of the dish with it has no step with"
        " until_internal_c",
        "add until_internal_c: 71.1 or more to the step that cooks it",
        files={
            "recipes/egg_rice.yaml": tiny_catalog_files()["recipes/egg_rice.yaml"]
            .replace("until_internal_c: 72", "until_internal_c: 72, only_with: [onion]")
            .replace("80, unit: g}", "80, unit: g, optional: true}")
        },
    ),
    Case(
        "catalog_missing",
        "a catalog folder that is not there",
        "kitchen/scenario.yaml:2: catalog: 'kitchen/catalog' [catalog_missing]",
        "there is no such folder",
        "write the catalog's folder relative to this file",
        keys={"catalog": "catalog"},
    ),
    Case(
        "unknown_nutrient",
        "a misspelt nutrient",
        "kitchen/scenario.yaml:17: clients[0].windows_per_week.sodium_g: 'sodium_g' "
        "[unknown_nutrient]",
        "the catalog has no such nutrient",
        "did you mean 'sodium_mg'?",
        keys={"clients": [tiny_client(windows_per_week={"sodium_g": {"max": 14}})]},
    ),
    Case(
        "unknown_recipe",
        "a misspelt recipe",
        "kitchen/scenario.yaml:18: recipes.exclude[0]: 'boild_eggs' [unknown_recipe]",
        "the catalog has no such recipe",
        "did you mean 'boiled_eggs'?",
        keys={"recipes": {"exclude": ["boild_eggs"]}},
    ),
    Case(
        "unknown_recipe_group",
        "a group that no recipe has",
        "kitchen/scenario.yaml:17: clients[0].most_meals_of.fish: 'fish' [unknown_recipe_group]",
        "no recipe of the catalog has this group",
        "write `groups: [fish]` in recipes",
        keys={"clients": [tiny_client(most_meals_of={"fish": 2})]},
    ),
    Case(
        "pattern_without_days",
        "a kind of day that no day is of",
        "kitchen/scenario.yaml:17: clients[0].day_patterns.rest: 'rest' [pattern_without_days]",
        "no day is of this kind",
        "write its days, `pattern_days: {rest: [1, 3]}`, or an empty list",
        keys={"clients": [tiny_client(day_patterns={"rest": {"protein_g": {"min": 50}}})]},
    ),
    Case(
        "unknown_pattern",
        "days of a kind that is not described",
        "kitchen/scenario.yaml:23: clients[0].pattern_days.rset: 'rset' [unknown_pattern]",
        "day_patterns of this client has no such kind of day",
        "did you mean 'rest'?",
        keys={
            "clients": [
                tiny_client(
                    day_patterns={"rest": {"protein_g": {"min": 50}}},
                    pattern_days={"rest": [1], "rset": [2]},
                )
            ]
        },
    ),
    Case(
        "duplicate_day",
        "a day of two kinds",
        "kitchen/scenario.yaml:27: clients[0].pattern_days.work[0]: '1' [duplicate_day]",
        "this day is one of rest already",
        "leave it in one of the lists, once",
        keys={
            "clients": [
                tiny_client(
                    day_patterns={
                        "rest": {"protein_g": {"min": 50}},
                        "work": {"protein_g": {"min": 70}},
                    },
                    pattern_days={"rest": [1], "work": [1]},
                )
            ]
        },
    ),
    Case(
        "unknown_food_group",
        "meals with a food group that no food is in",
        "kitchen/scenario.yaml:17: clients[0].least_meals_with.fish: 'fish' [unknown_food_group]",
        "no food of the catalog is in this group",
        "fill `groups` in foods.csv",
        keys={"clients": [tiny_client(least_meals_with={"fish": 2})]},
    ),
    Case(
        "unknown_nutrient",
        "grams of a food group that no food is in",
        "kitchen/scenario.yaml:11: clients[0].windows_per_day.fuit_g: 'fuit_g' [unknown_nutrient]",
        "the catalog has no such nutrient, and no food in the group fuit",
        "did you mean 'fruit_g'?",
        files={"foods.csv": grouped("fruit")},
        keys={"clients": [tiny_client(windows_per_day={"fuit_g": {"min": 20}})]},
    ),
    Case(
        "food_group_taken",
        "a food group whose grams are called like a nutrient",
        "kitchen/catalogs/foods.csv:2: groups: 'protein' [food_group_taken]",
        "windows call its grams protein_g, which is taken",
        "give the group another name",
        files={"foods.csv": grouped("protein")},
    ),
    Case(
        "unknown_meal",
        "a misspelt meal",
        "kitchen/scenario.yaml:18: clients[0].meals[1]: 'diner' [unknown_meal]",
        "the scenario has no such meal",
        "did you mean 'dinner'?",
        keys={"clients": [tiny_client(meals=["breakfast", "diner"])]},
    ),
    Case(
        "duplicate_meal",
        "a meal listed twice",
        "kitchen/scenario.yaml:19: meals[2]: 'lunch' [duplicate_meal]",
        "the meal is listed twice",
        "remove one of the two",
        keys={"meals": ["breakfast", "lunch", "lunch"]},
    ),
    Case(
        "day_beyond_plan",
        "a day away after the plan",
        "kitchen/scenario.yaml:18: clients[0].away.days[0]: '4' [day_beyond_plan]",
        "the plan ends with day 3",
        "write a day up to 3, or plan more days",
        keys={"clients": [tiny_client(away={"days": [4]})]},
    ),
    Case(
        "cook_days_after_plan",
        "cooking only after the plan",
        "kitchen/scenario.yaml:5: cook_days: '4, 5' [cook_days_after_plan]",
        "every cook day is after day 3, the last of the plan",
        "cook on an earlier day, or plan more days",
        keys={"cook_days": [{"day": 4}, {"day": 5}]},
    ),
    Case(
        "duplicate_day",
        "one cook day twice",
        "kitchen/scenario.yaml:8: cook_days[2].day: '2' [duplicate_day]",
        "this cook day is listed twice",
        "merge the two entries",
        keys={"cook_days": [{"day": 2}, {"day": 1}, {"day": 2}]},
    ),
    Case(
        "variant_without_change",
        "a variant that changes nothing",
        "kitchen/scenario.yaml:17: variants[0]: 'Idle' [variant_without_change]",
        "the variant changes nothing",
        "write at least one change, or remove it",
        keys={"variants": [{"name": "Idle"}]},
    ),
    Case(
        "variant_leaves_nothing",
        "a variant without clients",
        "kitchen/scenario.yaml:17: variants[0]: 'Nobody' [variant_leaves_nothing]",
        "it leaves no client",
        "keep at least one client",
        keys={"variants": [{"name": "Nobody", "away": [{"client": "ana"}]}]},
    ),
    Case(
        "unknown_client",
        "a variant for somebody else",
        "kitchen/scenario.yaml:19: variants[0].clients_alike[0]: 'anna' [unknown_client]",
        "there is no such client",
        "did you mean 'ana'?",
        keys={"variants": [{"name": "Twin", "clients_alike": ["anna"]}]},
    ),
    Case(
        "unknown_cook_day",
        "a variant without a cook day that is none",
        "kitchen/scenario.yaml:19: variants[0].cook_days_out[0]: '2' [unknown_cook_day]",
        "nothing is cooked on this day",
        "use one of: 1",
        keys={"variants": [{"name": "Rest", "cook_days_out": [2]}]},
    ),
    Case(
        "price_of_nothing",
        "a price of no food",
        "kitchen/scenario.yaml:19: variants[0].prices[0]: 'food' [price_of_nothing]",
        "no food and no seller is named",
        "name one or both",
        keys={"variants": [{"name": "Dear", "prices": [{"percent": 10}]}]},
    ),
    Case(
        "percent_or_amount",
        "a price moved in two ways",
        "kitchen/scenario.yaml:19: variants[0].prices[0]: 'percent' [percent_or_amount]",
        "a price moves either by percent or by an amount",
        "write one of percent and amount",
        keys={"variants": [{"name": "Dear", "prices": [{"food": "egg"}]}]},
    ),
    Case(
        "day_or_week",
        "a window of a day and of the week",
        "kitchen/scenario.yaml:21: variants[0].windows[0].day: '2' [day_or_week]",
        "a window is either of one day or of the week",
        "remove one of day and week",
        keys={
            "variants": [
                {
                    "name": "Both",
                    "windows": [
                        {"client": "ana", "nutrient": "protein_g", "day": 2, "week": True, "min": 9}
                    ],
                }
            ]
        },
    ),
    Case(
        "value_or_move",
        "a window moved to a value and by an amount",
        "kitchen/scenario.yaml:21: variants[0].windows[0].min: '70' [value_or_move]",
        "min and min_by exclude each other",
        "remove one of the two",
        keys={
            "variants": [
                {
                    "name": "More",
                    "windows": [
                        {"client": "ana", "nutrient": "protein_g", "min": 70, "min_by": 10}
                    ],
                }
            ]
        },
    ),
    Case(
        "window_not_set",
        "a window moved that is not there",
        "kitchen/scenario.yaml:21: variants[0].windows[0].max_by: '5' [window_not_set]",
        "ana has no max of protein_g to move",
        "write max with a value",
        keys={
            "variants": [
                {
                    "name": "More",
                    "windows": [{"client": "ana", "nutrient": "protein_g", "max_by": 5}],
                }
            ]
        },
    ),
    Case(
        "window_not_moved",
        "a window named and not moved",
        "kitchen/scenario.yaml:19: variants[0].windows[0]: 'protein_g' [window_not_moved]",
        "the window is not moved",
        "write min, max, min_by or max_by",
        keys={
            "variants": [{"name": "Same", "windows": [{"client": "ana", "nutrient": "protein_g"}]}]
        },
    ),
    Case(
        "shop_after_cooking",
        "shopping after cooking",
        "kitchen/scenario.yaml:16: shop_days: '2' [shop_after_cooking]",
        "the first cook day is day 1, before any shopping",
        "add a shop day on day 1 or earlier",
        keys={"shop_days": [2]},
    ),
    Case(
        "stock_file_missing",
        "a stock file that nobody wrote",
        "kitchen/scenario.yaml:17: stock_files[0]: 'carried.yaml' [stock_file_missing]",
        "there is no such file",
        "write the file's place relative to this file; `planopt carry` makes such files",
        keys={"stock_files": ["carried.yaml"]},
    ),
    Case(
        "duplicate_stock_file",
        "one stock file by two names",
        "kitchen/scenario.yaml:18: stock_files[1]: './catalogs/left.yaml' [duplicate_stock_file]",
        "this file is named twice, and its food would count twice",
        "name it once",
        files={"left.yaml": "stock: [{food: egg, amount: 2, unit: each}]\n"},
        keys={"stock_files": ["catalogs/left.yaml", "./catalogs/left.yaml"]},
    ),
    Case(
        "bad_form",
        "a time of day with one digit",
        "kitchen/scenario.yaml:7: cook_days[0].starts_at: '9:30' [bad_form]",
        "a time of day has two digits for the hour and two for the minute, up to 23:59",
        "write '09:30'",
        keys={"cook_days": [{"day": 1, "starts_at": "9:30"}]},
    ),
    Case(
        "bad_form",
        "a time of day in words",
        "kitchen/scenario.yaml:7: cook_days[0].starts_at: 'noon' [bad_form]",
        "a time of day has two digits for the hour and two for the minute, up to 23:59",
        "write for example '09:00'",
        keys={"cook_days": [{"day": 1, "starts_at": "noon"}]},
    ),
    Case(
        "portion_step",
        "a portion between two steps",
        "kitchen/scenario.yaml:18: clients[0].portions.largest: '1.75' [portion_step]",
        "this is not a multiple of the step, 0.5",
        "correct the size or the step",
        keys={"clients": [tiny_client(portions={"step": 0.5, "largest": 1.75})]},
    ),
    Case(
        "energy_below_floor",
        "600 kcal a day",
        "kitchen/scenario.yaml:12: clients[0].windows_per_day.energy_kcal.max: '600' "
        "[energy_below_floor]",
        "a day below 800 kcal needs medical supervision",
        "write 800 or more; only if a clinician supervises this client, set "
        "medically_supervised: true",
        keys={"clients": [tiny_client(windows_per_day={"energy_kcal": {"max": 600}})]},
    ),
    Case(
        "energy_below_floor",
        "200 kcal from one of four meals is right, 150 is not",
        "kitchen/scenario.yaml:12: clients[0].windows_per_day.energy_kcal.max: '150' "
        "[energy_below_floor]",
        "a day below 800 kcal needs medical supervision; with 25 % of its meals eaten here, 200 "
        "kcal",
        "write 200 or more; only if a clinician supervises this client, set "
        "medically_supervised: true",
        keys={
            "clients": [
                tiny_client(windows_per_day={"energy_kcal": {"max": 150}}, meals=["dinner"])
            ]
        },
    ),
    Case(
        "energy_below_floor",
        "a week of too little",
        "kitchen/scenario.yaml:18: clients[0].windows_per_week.energy_kcal.max: '2000' "
        "[energy_below_floor]",
        "this is below 2400 kcal, 800 for each full day that is eaten here; less needs medical "
        "supervision",
        "write 2400 or more; only if a clinician supervises this client, set "
        "medically_supervised: true",
        keys={"clients": [tiny_client(windows_per_week={"energy_kcal": {"max": 2000}})]},
    ),
    Case(
        "energy_not_in_catalog",
        "a catalog that tells no energy",
        "kitchen/scenario.yaml:8: clients[0]: 'ana' [energy_not_in_catalog]",
        "the catalog has no energy_kcal, so the floor of 800 kcal a day cannot be held",
        "give energy_kcal in nutrients.csv and foods.csv; only if a clinician supervises this "
        "client, set medically_supervised: true",
        files={
            "nutrients.csv": tiny_catalog_files()["nutrients.csv"].replace(
                "energy_kcal,Energy,kcal,0\n", ""
            ),
            "foods.csv": "\n".join(
                ",".join(cell for n, cell in enumerate(row) if n != 4) for row in _foods_cells()
            )
            + "\n",
        },
        keys={"clients": [tiny_client(windows_per_day=None)]},
    ),
    Case(
        "no_reference_intake",
        "a guard without figures to guard by",
        "kitchen/scenario.yaml:16: clients[0].nutrient_guard: 'limit' [no_reference_intake]",
        "the catalog has no reference_intakes.csv",
        "add the table, or write caution",
        keys={"clients": [tiny_client(nutrient_guard="limit")]},
    ),
    Case(
        "price_without_limit",
        "a price for missing what nothing asks for",
        "kitchen/scenario.yaml:16: clients[0].nutrient_price: '1.5' [price_without_limit]",
        "nothing has this price with nutrient_guard: caution",
        "write nutrient_guard: limit, or leave the price out",
        keys={"clients": [tiny_client(nutrient_price=1.5)]},
    ),
    Case(
        "label_sheet_misfit",
        "more labels than a page is wide",
        "kitchen/scenario.yaml:17: label_sheet.columns: '3' [label_sheet_misfit]",
        "the labels and gaps need 290 mm across, the page is 210 mm wide",
        "use fewer or smaller labels, or smaller gaps and margins",
        keys={"label_sheet": {"columns": 3}},
    ),
    Case(
        "currency_without_packs",
        "a currency nobody takes",
        "kitchen/scenario.yaml:16: currency: 'EUR' [currency_without_packs]",
        "no pack of the catalog has a price in this currency",
        "use one of: USD",
        keys={"currency": "EUR"},
    ),
    Case(
        "meal_near_another",
        "a letter of dinner left out",
        "kitchen/catalogs/recipes/lentil_soup.yaml:2: meals[1]: 'diner' [meal_near_another]",
        "recipes for dinner: 1, for this: 1",
        "did you mean 'dinner'?",
        files=edited("recipes/lentil_soup.yaml", "[lunch, dinner]", "[lunch, diner]"),
    ),
    Case(
        "unknown_meal",
        "a scenario's meal in the plural",
        "kitchen/scenario.yaml:20: meals[3]: 'snacks' [unknown_meal]",
        "no recipe of the catalog is for such a meal",
        "did you mean 'snack'?",
        keys={"meals": ["breakfast", "lunch", "dinner", "snacks"]},
    ),
    Case(
        "meal_without_recipe",
        "an allergy that leaves no snack",
        "kitchen/scenario.yaml:8: clients[0]: 'ana, snack' [meal_without_recipe]",
        "none of the usable recipes for snack (1) suits the allergens and exclusions of ana",
        "add a recipe for snack that suits, or leave snack out of this client's meals",
        keys={"clients": [tiny_client(allergens=["egg"])]},
    ),
    Case(
        "missing_column",
        "a nutrient without its column",
        "kitchen/catalogs/foods.csv:1: iron_mg: '' [missing_column]",
        "the column is missing",
        "add the column 'iron_mg' to the header",
        files={"nutrients.csv": tiny_catalog_files()["nutrients.csv"] + "iron_mg,Iron,mg,1\n"},
    ),
    Case(
        "unknown_pack",
        "a price of a pack that is no more",
        "kitchen/catalogs/price_history.csv:2: pack_id: 'oats_500' [unknown_pack]",
        "packs.csv has no such pack",
        "did you mean 'oats_500g'?",
        files={"price_history.csv": "pack_id,price_date,price\noats_500,2026-11-01,1.40\n"},
    ),
)

# Warnings have the form of faults; each is given by a change of the tiny catalog.
WARNINGS = (
    Case(
        "fridge_days_above_kind",
        "a month in the fridge for a soup of foods that set no limit",
        "catalogs/recipes/lentil_soup.yaml:10: keeps.fridge_days: '30' [fridge_days_above_kind]",
        "soups_and_stews keeps at most 4 days in the fridge (FoodSafety.gov Cold Food Storage"
        " Chart), and no plan takes it for longer",
        "write 4 or less",
        files={
            "recipes/lentil_soup.yaml": tiny_catalog_files()["recipes/lentil_soup.yaml"]
            .replace("fridge_days: 4", "fridge_days: 30")
            .replace("lentils_red_dry, amount: 320", "onion, amount: 320")
        },
    ),
    Case(
        "price_jump",
        "a slip of the decimal point",
        "catalogs/price_history.csv:2: price: '16.00' [price_jump]",
        "this pack cost 1.60 before, a tenth of it or less",
        "compare the price with the shelf or the receipt",
        files={"price_history.csv": "pack_id,price_date,price\noats_500g,2026-11-27,16.00\n"},
    ),
    Case(
        "food_twice",
        "one food under two ids",
        "catalogs/foods.csv:9: name: 'rice, white' [food_twice]",
        "rice_white_long is called White rice, so this may be the same food twice",
        "use rice_white_long and remove this row, or tell the two apart",
        files={
            "foods.csv": tiny_catalog_files()["foods.csv"]
            + 'white_rice,"rice, white",,own,365,7.13,0.66,79.95,1.3,5,raw,1,,none,grains,shelf,,,,'
            "grains_and_beans\n"
        },
    ),
    Case(
        "serving_out_of_range",
        "servings forgotten",
        "catalogs/recipes/lentil_soup.yaml:3: yield_servings: '1' [serving_out_of_range]",
        "a serving has 1740 g, and hardly any is outside of 10 to 1200 g and 10 to 1500 kcal",
        "check yield_servings and the amounts of the lines",
        files=edited("recipes/lentil_soup.yaml", "yield_servings: 4", "yield_servings: 1"),
    ),
    Case(
        "recipe_energy_implausible",
        "rice with more energy than its macronutrients have",
        "catalogs/recipes/egg_rice.yaml:13: lines: '523 kcal' [recipe_energy_implausible]",
        "protein, fat and carbohydrate of a serving give 449 to 456 kcal",
        "compare the rows of its foods with their sources",
        files=edited("foods.csv", 'raw, enriched",365,', 'raw, enriched",430,'),
    ),
    Case(
        "energy_implausible",
        "a digit too many",
        "catalogs/foods.csv:7: energy_kcal: '400' [energy_implausible]",
        "protein, fat and carbohydrate give 36 to 43 kcal",
        "compare the row with its source; where that has factors of its own, alcohol or acids, "
        "write them to energy_from",
        files=edited("foods.csv", ",40,1.10", ",400,1.10"),
    ),
    Case(
        "nutrient_implausible",
        "milligrams in a column of grams",
        "catalogs/foods.csv:7: fibre_g: '170' [nutrient_implausible]",
        "100 g of food can hardly hold more than 100 g of it",
        "compare the row with its source",
        files=edited("foods.csv", "9.34,1.7,", "9.34,170,"),
    ),
    Case(
        "temperature_below_published",
        "poultry a little cooler than published",
        "catalogs/safe_temperatures.csv:3: internal_c: '71.1' [temperature_below_published]",
        "FoodSafety.gov has 73.9 C as the least temperature inside of such food",
        "write 73.9 or more; local rules may ask for more",
        files=edited("safe_temperatures.csv", "73.9,165", "71.1,160"),
    ),
    Case(
        "price_zero",
        "a pack for nothing",
        "catalogs/packs.csv:4: price: '0' [price_zero]",
        "the pack costs nothing, so plans take from it first",
        "write its price; food that is on hand already is stock of the scenario",
        files=edited("packs.csv", "each,2.40", "each,0"),
    ),
    Case(
        "allergens_not_known",
        "cells left empty",
        "catalogs/foods.csv: allergens: '2 not known' [allergens_not_known]",
        "nobody with an allergen exclusion is served a food whose cell is empty: onion, water",
        "read the packages, then write the allergens with bars between them, or none",
        files={
            "foods.csv": tiny_catalog_files()["foods.csv"]
            .replace("raw,0.9,,none,", "raw,0.9,,,")
            .replace("ready,1,1,none,", "ready,1,1,,")
        },
    ),
    Case(
        "allergen_suggested",
        "a name that tells an allergen",
        "catalogs/foods.csv:7: allergens: 'none' [allergen_suggested]",
        "its name has the word 'butter', which suggests milk",
        "add milk, or add the food's name to the not_words of milk in allergens.csv",
        files=edited("foods.csv", "onion,Onion,", "onion,Onions in butter,"),
    ),
    Case(
        "allergen_suggested",
        "a food named after one with an allergen",
        "catalogs/foods.csv:7: allergens: 'none' [allergen_suggested]",
        "egg has it, which suggests egg",
        "add egg, or add the food's name to the not_words of egg in allergens.csv",
        files={
            **edited("foods.csv", "onion,Onion,", "onion,Onions with egg,"),
            **edited("allergens.csv", ",,egg,", ",,,"),
            **edited("safety_groups.csv", "hard_cooked_eggs,egg,", "hard_cooked_eggs,,"),
        },
    ),
    Case(
        "no_hint_words",
        "a table of allergens from before there were hint words",
        "catalogs/allergens.csv: hint_words: '' [no_hint_words]",
        "no allergen has hint words, so the names of foods are not read for allergens",
        "fill the column hint_words",
        files={
            "allergens.csv": "allergen_id,name,us_number,eu_number\nmilk,Milk,1,7\negg,Egg,2,3\n"
            "gluten_cereals,Cereals with gluten,,1\n"
        },
    ),
    Case(
        "safety_group_hinted",
        "cheese among the rest",
        "catalogs/foods.csv:7: safety_group: 'none' [safety_group_hinted]",
        "its name has the word 'cheese', and dairy asks more of a dish",
        "write dairy, or add its name to the not_words of dairy in safety_groups.csv",
        files=edited("foods.csv", "onion,Onion,", "onion,Cheese and onion,"),
    ),
    Case(
        "never_sold",
        "a food that no seller has",
        "catalogs/recipes/oat_porridge.yaml:13: lines[0].food: 'oats_rolled' [never_sold]",
        "no seller has a pack of this food",
        "add a pack to packs.csv unless it is always on hand as stock",
        files=edited("packs.csv", "oats_500g,oats_rolled", "onions_500g,onion"),
    ),
    Case(
        "food_in_plain_words",
        "an optional food in a step",
        "catalogs/recipes/oat_porridge.yaml:17: steps[0].do: 'water' [food_in_plain_words]",
        "lines[2] is optional, and the dish without it has none",
        "give lines[2] a key such as water and write [{water}] in its place, or tie the step with"
        " only_with: [water]",
        files=_porridge(("Simmer everything", "Simmer all with the water")),
    ),
    Case(
        "food_in_plain_words",
        "a choosable food in a name",
        "catalogs/recipes/oat_porridge.yaml:1: name: 'milk' [food_in_plain_words]",
        "a version of this dish has tap water instead",
        "write {thick} in its place",
        files=_porridge(
            ("Oat porridge", "Oat and milk porridge"),
            ("unit: ml}", "unit: ml, key: thick, alternatives: [{food: water}]}"),
        ),
    ),
    Case(
        "count_in_plain_words",
        "a number of pots in a step",
        "catalogs/recipes/oat_porridge.yaml:18: steps[1].do: 'four pots' [count_in_plain_words]",
        "a batch makes 2 servings, and other numbers of batches make more or fewer",
        "write {servings pots} or {boxes pots}, or leave the count out",
        files=_porridge(("Cool fast", "Divide among four pots")),
    ),
    Case(
        "condition_in_plain_words",
        "a choice left to the cook",
        "catalogs/recipes/oat_porridge.yaml:18: steps[1].do: 'If using' [condition_in_plain_words]",
        "the plan says which version is cooked, so the step can be for that one",
        "tie the step with only_with or without, or use square brackets",
        files=_porridge(("Cool fast", "If using more than oats, cool fast")),
    ),
    Case(
        "aisle_near_another",
        "an aisle in the singular",
        "catalogs/foods.csv:6: aisle: 'grain' [aisle_near_another]",
        "foods in grains: 2, in this: 1",
        "did you mean 'grains'?",
        files=edited("foods.csv", "1.3,5,raw,1,,none,grains,", "1.3,5,raw,1,,none,grain,"),
    ),
    Case(
        "food_group_near_another",
        "a food group in the singular",
        "catalogs/foods.csv:4: groups: 'staple' [food_group_near_another]",
        "foods in staples: 2, in this: 1",
        "did you mean 'staples'?",
        files={"foods.csv": grouped("staples", "staples", "staple")},
    ),
    Case(
        "part_near_another",
        "two letters of a part swapped",
        "catalogs/recipes/egg_rice.yaml:16: lines[2].part: 'rcie' [part_near_another]",
        "lines of rice in this recipe: 2, of this: 1",
        "did you mean 'rice'?",
        files={
            "recipes/egg_rice.yaml": tiny_catalog_files()["recipes/egg_rice.yaml"]
            .replace("state: cooked}", "state: cooked, part: rice}")
            .replace("amount: 4, unit: each}", "amount: 4, unit: each, part: rice}")
            .replace("amount: 80, unit: g}", "amount: 80, unit: g, part: rcie}")
        },
    ),
)

# Codes that only `check_paths` gives, or that need a file system or an encoding of their own.
TESTED_BELOW = {
    "not_a_file",
    "too_many_values",
    "file_unreadable",
    "unknown_file_kind",
    "nothing_to_check",
    "change_not_understood",
}
# Faults of a person's defaults; their texts are in test_defaults_texts.py.
TESTED_BELOW |= {"unknown_locale"}
# Faults of rosters and households; their texts are in test_rosters.py and test_kitchens.py.
TESTED_BELOW |= {
    "several_kitchens",
    "clients_twice",
    "not_a_pair",
    "budget_not_own",
    "budgets_differ",
    "stock_twice",
    "stock_folder_missing",
    "meal_without_food",
    "no_clients",
    "name_near_another",
    "prices_after_start",
}
# In test_scenario_warnings.py.
TESTED_BELOW |= {"windows_contradict", "meals_contradict_day"}
# The words for errors of pydantic that no field of the records can give today.
NOT_REACHABLE = {"invalid_value"}


@pytest.mark.parametrize("case", CASES, ids=[case.code for case in CASES])
def test_fault_text_is_exact(case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each kind of fault is reported alone, with its file, line, value, reason and mending."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"), files=case.files, **case.keys)
    with pytest.raises(BadInput) as caught:
        load_kitchen(scenario)
    assert str(caught.value) == case.text()
    assert f"[{case.code}]" in case.text()


@pytest.mark.parametrize("case", WARNINGS, ids=[case.code for case in WARNINGS])
def test_warning_text_is_exact(case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A value that may be right is a warning with an exact text, and the catalog still loads."""
    monkeypatch.chdir(tmp_path)
    reading = read_catalog(write_catalog(Path("catalogs"), case.files))
    assert reading.faults == ()
    assert [warning.text() for warning in reading.warnings()] == [case.text()]


def test_a_meal_that_no_food_is_sold_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A scenario may name too few sellers for a meal, which is warned of and stops nothing."""
    monkeypatch.chdir(tmp_path)
    sellers = tiny_catalog_files()["sellers.csv"] + "my_shop,My Shop,invented\n"
    packs = tiny_catalog_files()["packs.csv"] + "".join(
        f"my_{food},{food},my_shop,pack,500,g,1.00,USD,2026-11-01\n"
        for food in ("egg", "onion", "rice_white_long", "oats_rolled")
    )
    files = {"sellers.csv": sellers, "packs.csv": packs}
    scenario = write_kitchen(Path("kitchen"), files=files, sellers=["my_shop"])
    faults, warnings = check_paths_and_warn([scenario])
    assert faults == []
    assert [warning.text() for warning in warnings] == [
        "kitchen/scenario.yaml:8: clients[0]: 'ana, breakfast' [meal_without_food]\n"
        "    why: no recipe for breakfast that suits can be made of what my_shop sells and what is "
        "in stock; the nearest, oat_porridge, lacks milk_whole\n"
        "    mend: let more sellers in, put the food on hand as stock, or add a recipe"
    ]


def test_a_folder_in_place_of_a_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder named like a table is told apart from a missing table."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"), files={"yields.csv": None, "yields.csv/x": ""})
    with pytest.raises(BadInput) as caught:
        load_kitchen(scenario)
    assert str(caught.value) == (
        "kitchen/catalogs/yields.csv: 'yields.csv' [not_a_file]\n"
        "    why: this is a folder, a file is needed\n"
        "    mend: name a file"
    )


def test_a_file_that_cannot_be_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A refusal of the operating system is a fault of the file."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"))
    real = os.open

    def refuse(path: Path, flags: int) -> int:
        if Path(path).name == "sellers.csv":
            raise PermissionError(13, "Permission denied")
        return real(path, flags)

    monkeypatch.setattr("os.open", refuse)
    with pytest.raises(BadInput) as caught:
        load_kitchen(scenario)
    assert str(caught.value) == (
        "kitchen/catalogs/sellers.csv: 'sellers.csv' [file_unreadable]\n"
        "    why: the file cannot be read: permission denied\n"
        "    mend: make the file readable"
    )


def test_a_pipe_in_place_of_a_recipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not waited for."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"))
    os.mkfifo("kitchen/catalogs/recipes/later.yaml")
    with pytest.raises(BadInput) as caught:
        load_kitchen(scenario)
    assert str(caught.value) == (
        "kitchen/catalogs/recipes/later.yaml: 'later.yaml' [not_a_file]\n"
        "    why: this is a pipe or a device, and only ordinary files are read\n"
        "    mend: save its content to a file, and name that"
    )


def test_a_table_that_is_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The most that is read is told."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"))
    os.truncate("kitchen/catalogs/yields.csv", 16_000_001)
    with pytest.raises(BadInput) as caught:
        load_kitchen(scenario)
    assert str(caught.value) == (
        "kitchen/catalogs/yields.csv: 'yields.csv' [file_too_large]\n"
        "    why: it has more than 16 MB, the most that is read of such a file\n"
        "    mend: leave out what no plan needs"
    )


def test_values_and_rows_that_are_too_many(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a table, its columns, and a YAML file; nothing else is said of them."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"))
    monkeypatch.setattr(documents, "MOST_VALUES", 20)
    monkeypatch.setattr(tables, "MOST_ROWS", 4)
    monkeypatch.setattr(tables, "MOST_COLUMNS", 9)
    texts = {
        fault.file: fault.text() for fault in check_paths([scenario, Path("kitchen/catalogs")])
    }
    mend = "    mend: leave out what no plan needs"
    assert texts["kitchen/scenario.yaml"] == (
        "kitchen/scenario.yaml: '' [too_many_values]\n"
        "    why: it has more than 20 values, each alias counted as all that it stands for\n" + mend
    )
    assert texts["kitchen/catalogs/measures.csv"] == (
        "kitchen/catalogs/measures.csv:6: '' [too_many_values]\n"
        "    why: the table has more than 4 rows or 2,000,000 cells\n" + mend
    )
    assert texts["kitchen/catalogs/foods.csv"] == (
        "kitchen/catalogs/foods.csv:1: '20 columns' [too_many_values]\n"
        "    why: the header has more than 9 columns\n" + mend
    )


def test_a_table_that_is_not_utf8(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A table in another encoding is a fault of the line with the first foreign byte."""
    monkeypatch.chdir(tmp_path)
    scenario = write_kitchen(Path("kitchen"))
    table = Path("kitchen/catalogs/sellers.csv")
    table.write_bytes(table.read_bytes().replace(b"Market stall", b"March\xe9"))
    with pytest.raises(BadInput) as caught:
        load_kitchen(scenario)
    assert str(caught.value) == (
        "kitchen/catalogs/sellers.csv:3: 'sellers.csv' [not_utf8]\n"
        "    why: the file is not UTF-8 text\n"
        "    mend: save it as UTF-8"
    )


def test_a_file_of_another_kind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that is no part of a kitchen is refused by the check."""
    monkeypatch.chdir(tmp_path)
    Path("notes.txt").write_text("later", encoding="utf-8")
    assert [fault.text() for fault in check_paths([Path("notes.txt")])] == [
        "notes.txt: 'notes.txt' [unknown_file_kind]\n"
        "    why: this is neither a scenario, nor a recipe, nor a table of a catalog\n"
        "    mend: name a .yaml file or a folder"
    ]


def test_a_folder_with_nothing_in_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder without a catalog, scenario or recipe is not silently approved."""
    monkeypatch.chdir(tmp_path)
    Path("attic").mkdir()
    assert [fault.text() for fault in check_paths([Path("attic")])] == [
        "attic: 'attic' [nothing_to_check]\n"
        "    why: the folder has no catalog, scenario or recipe\n"
        "    mend: name another folder"
    ]


def test_a_change_that_is_not_understood(tmp_path: Path) -> None:
    """Words that are no change are told back with every form that is one."""
    kitchen = load_kitchen(write_kitchen(tmp_path))
    with pytest.raises(BadInput) as caught:
        variant_of_words(["less salt"], kitchen.catalog, kitchen.scenario)
    first, why, mend = str(caught.value).splitlines()
    assert first == "command line: --change: 'less salt' [change_not_understood]"
    assert why == "    why: this change is not understood"
    assert mend == "    mend: write one of: " + "; ".join(form for form, _, _ in FORMS)


def test_a_topic_that_the_guide_does_not_have() -> None:
    """A slip is told the page that is meant, also where a command is."""
    for slip, meant in (("scenarios", "scenario"), ("exprot", "export")):
        with pytest.raises(BadInput) as caught:
            page(slip)
        assert str(caught.value) == (
            f"command line: TOPIC: '{slip}' [unknown_topic]\n"
            "    why: the guide has no such topic\n"
            f"    mend: did you mean '{meant}'?"
        )


def _codes_in_source() -> set[str]:
    """Return the codes given to faults and wordings as plain text anywhere in the readers."""
    codes: set[str] = set()
    for package in (planopt.catalog, planopt.scenario):
        for path in Path(package.__path__[0]).glob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if not isinstance(node, ast.Call) or not node.args:
                    continue
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                last = node.args[-1]
                if name in {"fault", "_say", "Wording", "Problem"} and isinstance(
                    last, ast.Constant
                ):
                    codes.add(str(last.value))
    return codes


def test_every_code_has_a_case() -> None:
    """No code can be added to the readers without an exact text here."""
    tested = {case.code for case in (*CASES, *WARNINGS)} | TESTED_BELOW | NOT_REACHABLE
    assert _codes_in_source() <= tested
    assert len(_codes_in_source()) > 40
