"""A tiny valid kitchen for tests: seven foods, four recipes, one client, three days.

Composition is USDA SR28 (rounded columns left out); sellers, prices and recipes are invented.
The kitchen has a compliant plan. Change it by text edits of single files or by scenario keys.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import yaml

CATALOG = "catalogs"

_TABLES = {
    "nutrients.csv": """\
nutrient_id,name,unit,decimals
energy_kcal,Energy,kcal,0
protein_g,Protein,g,1
fat_g,Fat,g,1
carbohydrate_g,Carbohydrate,g,1
fibre_g,Fibre,g,1
sodium_mg,Sodium,mg,0
""",
    "allergens.csv": """\
allergen_id,name,us_number,eu_number,note,hint_words,not_words
milk,Milk,1,7,,milk|butter,coconut milk|peanut butter
egg,Egg,2,3,,egg,
wheat,Wheat,7,1,,wheat|noodle,buckwheat
gluten_cereals,Cereals with gluten,,1,,oat|barley|rye,
""",
    "foods.csv": """\
food_id,name,sr28_ndb_no,sr28_description,energy_kcal,protein_g,fat_g,carbohydrate_g,fibre_g,\
sodium_mg,state,edible_share,density_g_per_ml,allergens,aisle,storage,keeps_days,\
opened_keeps_days,safe_temperature,safety_group
oats_rolled,Rolled oats,08120,"Cereals, oats, regular and quick, not fortified, dry",379,13.15,\
6.52,67.70,10.1,6,raw,1,,gluten_cereals,grains,shelf,,,,none
milk_whole,Whole milk,01077,"Milk, whole, 3.25% milkfat, with added vitamin D",61,3.15,\
3.25,4.80,0,43,ready,1,1.03,milk,dairy_and_eggs,fridge,7,5,,dairy
egg,Egg,01123,"Egg, whole, raw, fresh",143,12.56,9.51,0.72,0,142,raw,0.88,,egg,\
dairy_and_eggs,fridge,28,,egg,egg
lentils_red_dry,Red lentils,16144,"Lentils, pink or red, raw",358,23.91,2.17,63.10,10.8,7,raw,1,\
,none,grains,shelf,,,,grains_and_beans
rice_white_long,White rice,20044,"Rice, white, long-grain, regular, raw, enriched",365,7.13,\
0.66,79.95,1.3,5,raw,1,,none,grains,shelf,,,,grains_and_beans
onion,Onion,11282,"Onions, raw",40,1.10,0.10,9.34,1.7,4,raw,0.9,,none,vegetables,shelf,21,,,none
water,Tap water,14411,"Beverages, water, tap, drinking",0,0,0,0,0,4,ready,1,1,none,none,tap,,,,none
""",
    "measures.csv": """\
food_id,unit,state,grams,source
oats_rolled,cup,,81,SR28 portion 08120
milk_whole,cup,,244,SR28 portion 01077
egg,each,,50,SR28 portion 01123 large
lentils_red_dry,cup,,192,SR28 portion 16144
rice_white_long,cup,,185,SR28 portion 20044
rice_white_long,cup,cooked,158,SR28 portion 20045
onion,each,,110,SR28 portion 11282 medium
""",
    "yields.csv": """\
food_id,state,grams_per_g,source
rice_white_long,cooked,2.8,derived from SR28 20044 and 20045
""",
    "sellers.csv": """\
seller_id,name,note
corner,Corner shop,Invented
market,Market stall,Invented
""",
    "packs.csv": """\
pack_id,food_id,seller_id,sold,size,unit,price,currency,price_date
oats_500g,oats_rolled,corner,pack,500,g,1.60,USD,2026-11-20
milk_1l,milk_whole,corner,pack,1,l,1.50,USD,2026-11-20
eggs_6,egg,corner,pack,6,each,2.40,USD,2026-11-20
eggs_12,egg,market,pack,12,each,4.20,USD,2026-11-20
lentils_500g,lentils_red_dry,corner,pack,500,g,2.10,USD,2026-11-20
rice_1kg,rice_white_long,corner,pack,1,kg,1.90,USD,2026-11-20
onions_loose,onion,market,loose,100,g,0.18,USD,2026-11-20
""",
    "storage_limits.csv": """\
kind,covers,fridge_days_shortest,fridge_days_longest,freezer_months_shortest,\
freezer_months_longest,source
soups_and_stews,Soups and stews,3,4,2,3,FoodSafety.gov Cold Food Storage Chart
hard_cooked_eggs,Eggs boiled hard,7,7,0,0,FoodSafety.gov Cold Food Storage Chart
leftovers_in_general,Other cooked dishes,3,4,3,4,FoodSafety.gov Cold Food Storage Chart
""",
    "safe_temperatures.csv": """\
class,covers,internal_c,internal_f,rest_minutes,source
egg,Egg dishes,71.1,160,0,FoodSafety.gov safe minimum internal temperatures
poultry,Poultry,73.9,165,0,FoodSafety.gov safe minimum internal temperatures
""",
    "safety_groups.csv": """\
group,covers,temperature_class,kinds,hint_words,not_words,source
poultry,Poultry,poultry,leftovers_in_general,chicken|turkey,chicken broth,FoodSafety.gov
egg,Eggs,egg,leftovers_in_general|hard_cooked_eggs,egg,egg noodle,FoodSafety.gov
dairy,Milk and cheese,,leftovers_in_general,milk|cheese,coconut milk,USDA FSIS
grains_and_beans,"Grains, beans",,leftovers_in_general,rice|lentil,rice cake,USDA FSIS
""",
}

_RECIPES = {
    "recipes/oat_porridge.yaml": """\
name: Oat porridge
meals: [breakfast]
yield_servings: 2
batch: {step: half, most_per_cook_day: 4}
minutes: {hands_on: 8, hands_on_per_extra_batch: 3}
equipment:
  hob_minutes: 10
keeps:
  kind: leftovers_in_general
  fridge_days: 3
  serve: reheated
lines:
  - {food: oats_rolled, amount: 1.5, unit: cup}
  - {food: milk_whole, amount: 400, unit: ml}
  - {food: water, amount: 200, unit: ml, optional: true}
steps:
  - {do: "Simmer everything for eight minutes, stirring."}
  - {do: "Cool fast and chill."}
""",
    "recipes/lentil_soup.yaml": """\
name: Lentil soup
meals: [lunch, dinner]
yield_servings: 4
batch: {step: half, most_per_cook_day: 3}
minutes: {hands_on: 15, hands_on_per_extra_batch: 6, unattended: 25}
equipment:
  hob_minutes: 30
keeps:
  kind: soups_and_stews
  fridge_days: 4
  freezer_months: 2
  serve: reheated
lines:
  - {food: lentils_red_dry, amount: 320, unit: g}
  - {food: onion, amount: 2, unit: each}
  - {food: water, amount: 1.2, unit: l}
steps:
  - {do: "Soften the onion, add lentils and water, simmer for 25 minutes."}
""",
    "recipes/egg_rice.yaml": """\
name: Egg rice
meals: [dinner, lunch]
yield_servings: 2
batch: {step: whole, most_per_cook_day: 4}
minutes: {hands_on: 12, hands_on_per_extra_batch: 6, unattended: 15}
equipment:
  hob_minutes: 25
keeps:
  kind: leftovers_in_general
  fridge_days: 3
  freezer_months: 1
  serve: reheated
lines:
  - {food: rice_white_long, amount: 3, unit: cup, state: cooked}
  - {food: egg, amount: 4, unit: each}
  - {food: onion, amount: 80, unit: g}
steps:
  - {do: "Fry the onion, add the eggs and stir until set.", until_internal_c: 72}
  - {do: "Fold in the cooked rice."}
""",
    "recipes/boiled_eggs.yaml": """\
name: Boiled eggs
meals: [snack]
yield_servings: 1
batch: {step: whole, most_per_cook_day: 8}
minutes: {hands_on: 3, hands_on_per_extra_batch: 1, unattended: 12}
equipment:
  hob_minutes: 12
keeps:
  kind: hard_cooked_eggs
  fridge_days: 5
  serve: cold
lines:
  - {food: egg, amount: 2, unit: each}
steps:
  - {do: "Boil the eggs for eleven minutes until hard.", until_internal_c: 75}
""",
}


def tiny_catalog_files() -> dict[str, str]:
    """Return the catalog's files: relative path -> text."""
    return {**_TABLES, **_RECIPES}


def tiny_client(**changes: Any) -> dict[str, Any]:
    """Return the one client, with some keys changed; a value of None leaves the key out."""
    client: dict[str, Any] = {
        "id": "ana",
        "name": "Ana",
        "windows_per_day": {
            "energy_kcal": {"min": 1500, "max": 2100},
            "protein_g": {"min": 60},
        },
    }
    return _changed(client, changes)


def tiny_scenario(**changes: Any) -> dict[str, Any]:
    """Return the scenario as data, with some keys changed; None leaves the key out."""
    scenario: dict[str, Any] = {
        "name": "Tiny week",
        "catalog": CATALOG,
        "start_date": "2026-11-30",
        "days": 3,
        "cook_days": [{"day": 1}],
        "clients": [tiny_client()],
    }
    return _changed(scenario, changes)


def _changed(data: dict[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in {**data, **changes}.items() if value is not None}


def edited(name: str, old: str, new: str) -> dict[str, str | None]:
    """Return one changed catalog file, for the `files` of `write_kitchen`.

    The old text must stand there exactly once, so that a test cannot silently change nothing.
    """
    text = tiny_catalog_files()[name]
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
    return {name: text.replace(old, new)}


def write_catalog(folder: Path, files: Mapping[str, str | None] | None = None) -> Path:
    """Write the catalog into `folder` and return it.

    `files` replaces or adds files by relative path; None leaves a file out.
    """
    for name, text in {**tiny_catalog_files(), **(files or {})}.items():
        if text is not None:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="")
    return folder


def write_kitchen(
    folder: Path, *, files: Mapping[str, str | None] | None = None, **scenario_keys: Any
) -> Path:
    """Write scenario and catalog into `folder` and return the path of the scenario file.

    `scenario_keys` change keys of the scenario, as in `tiny_scenario`.
    """
    write_catalog(folder / CATALOG, files)
    path = folder / "scenario.yaml"
    data = tiny_scenario(**scenario_keys)
    path.write_text(
        yaml.safe_dump(data, sort_keys=False, allow_unicode=True), encoding="utf-8", newline=""
    )
    return path
