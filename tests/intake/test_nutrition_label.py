"""Labels typed in as they are printed: US and EU forms, figures by hand."""

from __future__ import annotations

import pytest

from planopt.faults import BadInput
from planopt.intake.nutritionlabel import label_of

US = """\
Nutrition Facts
8 servings per container
Serving size 1 bar (40 g)
Calories 180
Total Fat 6g 8%
  Saturated Fat 1.5g
  Trans Fat 0g
Cholesterol less than 5mg
Sodium 120mg 5%
Total Carbohydrate 24g
  Dietary Fiber 3g
  Total Sugars 8g
    Includes 5g Added Sugars 10%
Protein 10 g
Vitamin D 2mcg 10%
Iron 1.8mg
Made with care
"""
EU = """\
Typical values per 100 g
Energy 1 506 kJ / 360 kcal
Fat 7,0 g
of which saturates 1,2 g
Carbohydrate 58 g
of which sugars 1.1 g
Fibre 9 g
Protein 12g
Salt 0.5 g
"""


def test_a_serving_becomes_a_hundred_grams() -> None:
    """Forty grams: everything times 2.5; less than 5 mg counts as half of it."""
    label = label_of(US, "bar.txt", "Bar")
    assert label.basis_g == 40
    assert label.food.nutrients == {
        "energy_kcal": 450,
        "fat_g": 15,
        "saturated_fat_g": 3.75,
        "cholesterol_mg": 6.25,
        "sodium_mg": 300,
        "carbohydrate_g": 60,
        "fibre_g": 7.5,
        "sugars_g": 20,
        "protein_g": 25,
        "vitamin_d_ug": 5,
        "iron_mg": 4.5,
    }
    assert label.not_used == ("Nutrition Facts", "8 servings per container", "Made with care")


def test_a_european_label_is_of_a_hundred_grams() -> None:
    """Kilocalories where both are printed; salt is sodium x 2.5 (Regulation 1169/2011)."""
    label = label_of(EU, "oats.txt", "Oats")
    assert label.food.nutrients["energy_kcal"] == 360
    assert label.food.nutrients["saturated_fat_g"] == 1.2
    assert label.food.nutrients["sodium_mg"] == 200
    assert label.not_used == ()


def test_kilojoules_alone_are_turned() -> None:
    """418.4 kJ are 100 kcal."""
    label = label_of("per 100 g\nEnergy 418.4 kJ\n", "x", "X")
    assert label.food.nutrients == {"energy_kcal": 100}


def test_grams_of_a_serving_from_elsewhere() -> None:
    """A label in cups needs them; without, that is told, and so is an amount without a unit."""
    text = "Serving size 1 cup\nCalories 100\nProtein 5\nIron will\n"
    with pytest.raises(BadInput) as told:
        label_of(text, "cup.txt", "Cup", 50)
    assert [(f.code, f.line, f.field) for f in told.value.faults] == [
        ("label_amount", 3, "protein_g")
    ]
    with pytest.raises(BadInput) as told:
        label_of(text, "cup.txt", "Cup")
    assert {fault.code for fault in told.value.faults} == {"label_amount", "label_serving"}
    with pytest.raises(BadInput) as told:
        label_of("Serving size 30 g\nProtein 3 g\n", "x", "X")
    assert told.value.faults[0].field == "energy_kcal"
    label = label_of("Serving size 1 cup\nCalories 100\nIron will\n", "cup.txt", "Cup", 50)
    assert label.food.nutrients == {"energy_kcal": 200}
    assert label.not_used == ("Iron will",)
