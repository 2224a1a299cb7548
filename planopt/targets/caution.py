"""What a coach must know about computed windows. Plan reports repeat these. Never advice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planopt.targets.equations import MIFFLIN_AGES
from planopt.targets.person import CARE_GROUPS, LEAN_BMI, Person, Wish
from planopt.targets.split import Split

# Marks the cautions that this part wrote, so that a second run replaces them and no other.
MARK = "Targets: "
# KDIGO 2024 guideline on chronic kidney disease, practice point 3.3.1.1, as quoted elsewhere.
KIDNEY_PROTEIN_G_PER_KG = 1.3
GUIDELINE_DEFICIT_KCAL = 750


def cautions_of(
    person: Person,
    wish: Wish,
    equation: str,
    windows: Mapping[str, Mapping[str, int]],
    split: Split,
    line_kcal: int,
) -> tuple[str, ...]:
    """Return the cautions for a person's windows, each with its mark."""
    found = [
        *_care(person),
        *_estimate(equation),
        *_energy(person, wish, windows["energy_kcal"], line_kcal),
        *(f"{text}." for text in split.outside),
        *_protein(person, windows["protein_g"]),
    ]
    return tuple(MARK + text for text in found)


def _care(person: Person) -> Iterator[str]:
    for group in person.care:
        yield (
            f"{CARE_GROUPS[group]}: licensed care first. These windows are no treatment; a "
            "clinician or dietitian sets or agrees to them before anybody is fed by them."
        )
    if person.bmi < LEAN_BMI:
        yield (
            f"body mass index {person.bmi:.1f}, below {LEAN_BMI:g}: licensed care first; these "
            "windows are no treatment."
        )


def _estimate(equation: str) -> Iterator[str]:
    yield (
        f"the energy window is an estimate ({equation} times an activity level of groups). One "
        "person's need may well be 10 % or more above or below it; watch and correct it. It "
        "promises no change of weight."
    )


def _energy(person: Person, wish: Wish, energy: Mapping[str, int], line_kcal: int) -> Iterator[str]:
    if energy["min"] < line_kcal:
        who = "women" if person.sex == "female" else "men"
        yield (
            f"the energy window begins at {energy['min']} kcal, below {line_kcal} kcal, where the "
            f"2013 AHA/ACC/TOS guideline begins for {who}; less is for licensed care."
        )
    if wish.goal == "lose" and (wish.by_kcal or 0) > GUIDELINE_DEFICIT_KCAL:
        yield (
            f"{wish.by_kcal:g} kcal a day less is more than the 500 or 750 of the 2013 "
            "AHA/ACC/TOS guideline."
        )
    if not MIFFLIN_AGES[0] <= person.age_years <= MIFFLIN_AGES[1]:
        yield (
            f"age {person.age_years} is outside {MIFFLIN_AGES[0]} to {MIFFLIN_AGES[1]} years, the "
            "ages of the people behind the Mifflin-St Jeor equation."
        )


def _protein(person: Person, protein: Mapping[str, int]) -> Iterator[str]:
    per_kg = protein["min"] / person.weight_kg
    if per_kg > KIDNEY_PROTEIN_G_PER_KG:
        yield (
            f"protein is {per_kg:.1f} g/kg at least. With kidney disease more than "
            f"{KIDNEY_PROTEIN_G_PER_KG} g/kg is to be avoided (KDIGO 2024); ask before."
        )
