"""Our nutrients and the numbers that the US Department of Agriculture gives them.

The numbers are those of SR28 (file NUTR_DEF), which FoodData Central keeps as `number` of its JSON
and `nutrient_nbr` of its CSV; those that only FoodData Central has are from memory.
"""

from __future__ import annotations

from collections.abc import Iterable

# Where a food has several, the first one counts.
NUMBERS: dict[str, tuple[str, ...]] = {
    # 208 energy; 958 and 957 by specific and general Atwater factors.
    "energy_kcal": ("208", "958", "957"),
    "protein_g": ("203",),
    # 204 total lipid; 298 total fat as labels count it.
    "fat_g": ("204", "298"),
    # 205 by difference; 205.2 by summation.
    "carbohydrate_g": ("205", "205.2"),
    # 291 total dietary; 293 by AOAC 2011.25.
    "fibre_g": ("291", "293"),
    # 269 total; 269.3 total by the newer method.
    "sugars_g": ("269", "269.3"),
    "saturated_fat_g": ("606",),
    "cholesterol_mg": ("601",),
    "sodium_mg": ("307",),
    "potassium_mg": ("306",),
    "calcium_mg": ("301",),
    "iron_mg": ("303",),
    "magnesium_mg": ("304",),
    "zinc_mg": ("309",),
    "vitamin_a_ug_rae": ("320",),
    "vitamin_c_mg": ("401",),
    "vitamin_d_ug": ("328",),
    "vitamin_e_mg": ("323",),
    "folate_ug_dfe": ("435",),
    "vitamin_b12_ug": ("418",),
    "water_g": ("255",),
    "alcohol_g": ("221",),
}
WANTED = frozenset(number for numbers in NUMBERS.values() for number in numbers)
_UNITS = {"kcal": "kcal", "g": "g", "mg": "mg", "ug": "ug", "µg": "ug", "μg": "ug", "mcg": "ug"}
_GRAMS = {"g": 1.0, "mg": 1e-3, "ug": 1e-6}


def nutrients_of(amounts: Iterable[tuple[str, float, str]]) -> dict[str, float]:
    """Return our nutrients from (number, amount, unit) of 100 g; other units are left out."""
    by_number: dict[str, tuple[float, str]] = {}
    for number, amount, unit in amounts:
        by_number.setdefault(number, (amount, unit))
    found = {}
    for name, numbers in NUMBERS.items():
        for number in numbers:
            value = by_number.get(number)
            turned = None if value is None else in_unit_of(name, *value)
            if turned is not None:
                found[name] = turned
                break
    return found


def in_unit_of(nutrient_id: str, amount: float, unit: str) -> float | None:
    """Return an amount in the unit that the id ends in; None where the two do not go together."""
    known = _UNITS.get(unit.strip().casefold(), "")
    parts = nutrient_id.split("_")
    wanted = next(part for part in reversed(parts) if part in ("kcal", "g", "mg", "ug"))
    if known == wanted:
        return amount
    if known in _GRAMS and wanted in _GRAMS:
        return float(f"{amount * _GRAMS[known] / _GRAMS[wanted]:.10g}")
    return None
