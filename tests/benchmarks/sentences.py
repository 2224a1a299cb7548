"""How well ingredient sentences are read: each step against a held-out set, written by hand.

`python tests/benchmarks/sentences.py` prints the table that stands in FIGURES.md. The set,
`tests/intake/data/held_out.csv`, was written before any code read it and is not tuned on: change
the code for other sentences, never for these. A step is right, asks the person, or is wrong; where
the truth is `ask`, to ask is right.
"""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from planopt.catalog.load import read_catalog
from planopt.catalog.records import Catalog
from planopt.intake.amounts import LineAmount, Weigher
from planopt.intake.matching import FoodMatcher
from planopt.intake.sentences import SentenceReading, read_sentence

ROOT = Path(__file__).resolve().parents[2]
HELD_OUT = ROOT / "tests" / "intake" / "data" / "held_out.csv"
STEPS = ("quantity", "unit", "food text", "matched food", "grams")
RIGHT, ASKED, WRONG = "right", "asked", "wrong"
ASK = "ask"
GRAMS_APART = 0.02


@dataclass(frozen=True)
class Truth:
    """One sentence and what it says; `food_id` and `grams` are `ask` where nobody can tell."""

    sentence: str
    quantity: str
    quantity_most: str
    unit: str
    food_text: str
    food_id: str
    grams: str


def held_out() -> list[Truth]:
    """Return the sentences with their truths."""
    with HELD_OUT.open(encoding="utf-8", newline="") as file:
        return [Truth(**row) for row in csv.DictReader(file)]


def judged(
    truth: Truth, catalog: Catalog, matcher: FoodMatcher, weigher: Weigher
) -> dict[str, str]:
    """Return the verdict of each step on one sentence."""
    reading = read_sentence(truth.sentence)
    around = f"{reading.preparation} {reading.remarks} {reading.container}"
    found = matcher.find(reading.food, around)
    doubtful = bool(reading.doubts)
    verdict = {
        "quantity": _verdict(_quantity_is(reading, truth), doubtful),
        "unit": _verdict(_unit_is(reading, truth), doubtful),
        "food text": _verdict(
            _plain(reading.food) in map(_plain, truth.food_text.split("|")), doubtful
        ),
    }
    asks_food = doubtful or found.sure is None
    if asks_food:
        verdict["matched food"] = RIGHT if truth.food_id == ASK else ASKED
        verdict["grams"] = RIGHT if truth.grams == ASK else ASKED
        return verdict
    verdict["matched food"] = RIGHT if found.sure == truth.food_id else WRONG
    amount = weigher.line_amount(reading, catalog.foods[found.sure or ""])
    if not isinstance(amount, LineAmount):
        verdict["grams"] = RIGHT if truth.grams == ASK else ASKED
        return verdict
    grams = weigher.grams(found.sure or "", amount)
    near = truth.grams != ASK and abs(grams - float(truth.grams)) <= GRAMS_APART * float(
        truth.grams
    )
    verdict["grams"] = RIGHT if near else WRONG
    return verdict


def figures() -> tuple[dict[str, Counter[str]], list[str]]:
    """Return verdicts counted by step, and every verdict that is not `right`, as text."""
    catalog = read_catalog(ROOT / "catalogs").catalog
    matcher = FoodMatcher(catalog)
    weigher = Weigher(catalog, lambda unit, food_id: None)
    counts: dict[str, Counter[str]] = {step: Counter() for step in STEPS}
    told = []
    for truth in held_out():
        verdicts = judged(truth, catalog, matcher, weigher)
        for step, verdict in verdicts.items():
            counts[step][verdict] += 1
        others = [f"{step} {verdict}" for step, verdict in verdicts.items() if verdict != RIGHT]
        if others:
            told.append(f"{truth.sentence}: {', '.join(others)}")
    return counts, told


def _verdict(right: bool, doubtful: bool) -> str:
    return RIGHT if right else ASKED if doubtful else WRONG


def _quantity_is(reading: SentenceReading, truth: Truth) -> bool:
    if not truth.quantity:
        return not reading.amounts
    low = float(truth.quantity)
    high = float(truth.quantity_most or truth.quantity)
    return any(
        abs(_as_told(a.low, a.unit, truth.unit) - low) < 0.01 * low
        and abs(_as_told(a.high, a.unit, truth.unit) - high) < 0.01 * high
        for a in reading.amounts
    )


def _as_told(number: Fraction, unit: str, told: str) -> float:
    """Return a number of millilitres in the unit that the sentence tells."""
    in_ml = {"quart": 946.352946, "pint": 473.176473, "dl": 100.0}
    return float(number) / in_ml[told] if unit == "ml" and told in in_ml else float(number)


def _unit_is(reading: SentenceReading, truth: Truth) -> bool:
    if not truth.unit:
        return not reading.amounts
    units = {a.unit.split()[-1] if a.unit else "each" for a in reading.amounts}
    same = {truth.unit, "ml"} if truth.unit in ("quart", "pint", "dl") else {truth.unit}
    # A bulb or a spear may stand in the name of the food instead.
    return bool(units & same) or (truth.unit in ("bulb", "spear") and "each" in units)


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace("\u2019", "'").split())


def main() -> None:
    """Print the table, and what is not right."""
    counts, told = figures()
    total = sum(counts["quantity"].values())
    print(f"{total} sentences\n")
    print("| Step | Right | Asked | Wrong unasked |\n|:--|--:|--:|--:|")
    for step in STEPS:
        shares = [f"{counts[step][verdict]} ({counts[step][verdict] / total:.1%})"
                  for verdict in (RIGHT, ASKED, WRONG)]  # fmt: skip
        print(f"| {step} | {' | '.join(shares)} |")
    print()
    print("\n".join(told))


if __name__ == "__main__":
    main()
