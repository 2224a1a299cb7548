"""A nutrition label typed in as it is printed, one figure a line, turned into amounts of 100 g.

Amounts are of a serving, whose grams the label gives in brackets, or of 100 g where it says so.
What a label prints is rounded, so amounts of 100 g from a small serving are only as good as that.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from planopt.faults import BadInput, Fault
from planopt.intake.composition import CompositionFood, PortionSize
from planopt.reading.files import Place, read_text

SOURCE = "nutrition label"
# Regulation (EU) 1169/2011, Annex I: salt is sodium x 2.5.
SALT_PER_SODIUM = 2.5
# The thermochemical calorie.
KJ_PER_KCAL = 4.184

# Words of a line, the more particular first, and the nutrient that it declares.
_NAMES: tuple[tuple[str, str], ...] = (
    (r"(calories )?from fat", ""),
    (r"trans.*", ""),
    (r"(poly|mono)[- ]?unsaturate(d|s)( fat)?", ""),
    (r"(includes? )?.*added sugars?.*", ""),
    (r"sugar alcohols?|polyols", ""),
    (r"starch", ""),
    (r"cholesterol", "cholesterol_mg"),
    (r"calories|energy( value)?", "energy_kcal"),
    (r"(of which )?saturate(s|d)( fat| fatty acids)?|saturated", "saturated_fat_g"),
    (r"(total )?fat", "fat_g"),
    (r"(total )?carbohydrates?|carbs?", "carbohydrate_g"),
    (r"(dietary )?fib(er|re)", "fibre_g"),
    (r"(total |of which )?sugars?", "sugars_g"),
    (r"proteins?", "protein_g"),
    (r"sodium", "sodium_mg"),
    (r"salt", "salt_g"),
    (r"potassium", "potassium_mg"),
    (r"calcium", "calcium_mg"),
    (r"iron", "iron_mg"),
    (r"magnesium", "magnesium_mg"),
    (r"zinc", "zinc_mg"),
    (r"vitamin a", "vitamin_a_ug_rae"),
    (r"vitamin c", "vitamin_c_mg"),
    (r"vitamin d", "vitamin_d_ug"),
    (r"vitamin e", "vitamin_e_mg"),
    (r"vitamin b ?12", "vitamin_b12_ug"),
    (r"folate", "folate_ug_dfe"),
)
_AMOUNT = re.compile(r"(<|less than|under)?\s*(\d+(?:[.,]\d+)?)\s*(kcal|cal|kj|mcg|µg|ug|mg|g)?\b")
_SERVING = re.compile(r"(\d+(?:[.,]\d+)?)\s*g\b")
_PER_100 = re.compile(r"\b(per|in)\s+100\s*g\b")
_GRAMS = {"g": 1.0, "mg": 1e-3, "ug": 1e-6}


@dataclass(frozen=True)
class NutritionLabel:
    """A label as read: the food, the grams its amounts were of, and lines that were not used."""

    food: CompositionFood
    basis_g: float
    not_used: tuple[str, ...]


def read_label(path: Path, name: str, serving_g: float | None = None) -> NutritionLabel:
    """Return what a label file says; `serving_g` is for labels that do not give it.

    Raises:
        BadInput: a line with a known name has no amount, or the grams of a serving are not known.
    """
    text, faults = read_text(path)
    if text is None:
        raise BadInput(faults)
    return label_of(text, str(path), name, serving_g)


def label_of(text: str, file: str, name: str, serving_g: float | None = None) -> NutritionLabel:
    """Return what a label says; see `read_label`.

    Raises:
        BadInput: as `read_label`.
    """
    told = _Told(basis=serving_g, printed=serving_g)
    for number, line in enumerate(text.splitlines(), start=1):
        words = " ".join(line.casefold().split())
        if words:
            told.hear(words, line.strip(), Place(file, number))
    amounts = told.amounts
    if "salt_g" in amounts:
        salt = amounts.pop("salt_g")
        amounts.setdefault("sodium_mg", salt / SALT_PER_SODIUM * 1000)
    printed = told.printed
    basis = printed if told.basis is None else told.basis
    faults = told.faults + _lacking(file, amounts, basis)
    if faults or basis is None:
        raise BadInput(faults)
    food = CompositionFood(
        key="",
        description=f"{name}, {SOURCE}",
        source=SOURCE,
        nutrients={key: float(f"{value / basis * 100:.4g}") for key, value in amounts.items()},
        portions=(PortionSize(1, "serving", printed),) if printed else (),
    )
    return NutritionLabel(food, basis, tuple(told.not_used))


@dataclass
class _Told:
    """What the lines of a label have told so far; `basis` are the grams that amounts are of."""

    basis: float | None
    printed: float | None
    amounts: dict[str, float] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    not_used: list[str] = field(default_factory=list)

    def hear(self, words: str, written: str, place: Place) -> None:
        """Take in one line: its words, as it is written, and where it stands."""
        if _PER_100.search(words) and not any(ch.isdigit() for ch in _PER_100.sub("", words)):
            self.basis = 100.0
        elif words.startswith("serving") and "container" not in words:
            grams = _SERVING.findall(words)
            if grams and self.printed is None:
                self.printed = _float(grams[-1])
        elif (found := _line(words)) is None:
            self.not_used.append(written)
        elif found[0]:
            self._amount(*found, written, place)

    def _amount(self, nutrient_id: str, rest: str, written: str, place: Place) -> None:
        amount = _amount(nutrient_id, rest)
        if amount is not None:
            self.amounts.setdefault(nutrient_id, amount)
            return
        self.faults.append(
            place.fault(
                nutrient_id,
                written,
                "no amount with a unit that fits can be read in this line",
                "write it as on the label, for example `Protein 10 g`",
                "label_amount",
            )
        )


def _lacking(file: str, amounts: dict[str, float], basis: float | None) -> list[Fault]:
    place = Place(file, 0)
    found = []
    if basis is None or basis <= 0:
        found.append(
            place.fault(
                "serving",
                "",
                "the label does not say how many grams a serving has",
                "add a line such as `Serving size 1 bar (40 g)`, or `per 100 g`",
                "label_serving",
            )
        )
    if "energy_kcal" not in amounts:
        found.append(
            place.fault(
                "energy_kcal",
                "",
                "the label has no energy",
                "add a line such as `Calories 180` or `Energy 750 kJ / 180 kcal`",
                "label_amount",
            )
        )
    return found


def _line(words: str) -> tuple[str, str] | None:
    """Return the nutrient of a line ("" = one we do not keep) and what follows its name."""
    words = words.lstrip("-* ")
    for pattern, nutrient_id in _NAMES:
        found = re.match(rf"(?:{pattern})(?![a-z])", words)
        if found is not None and any(ch.isdigit() for ch in words):
            return nutrient_id, words[found.end() :]
    return None


def _amount(nutrient_id: str, rest: str) -> float | None:
    """Return the first amount in the nutrient's unit; `less than` an amount is half of it."""
    energies: dict[str, float] = {}
    # A space may group thousands: 1 506 kJ.
    for less, number, unit in _AMOUNT.findall(re.sub(r"(?<=\d) (?=\d{3}\b)", "", rest)):
        value = _float(number) * (0.5 if less else 1.0)
        if nutrient_id == "energy_kcal":
            energies.setdefault(unit, value / KJ_PER_KCAL if unit == "kj" else value)
            continue
        wanted = "ug" if "_ug" in nutrient_id else "mg" if nutrient_id.endswith("_mg") else "g"
        mass = {"mcg": "ug", "µg": "ug"}.get(unit, unit)
        if mass in _GRAMS:
            return float(f"{value * _GRAMS[mass] / _GRAMS[wanted]:.10g}")
    return next((energies[u] for u in ("kcal", "cal", "kj", "") if u in energies), None)


def _float(text: str) -> float:
    return float(text.replace(",", "."))
