"""From a person and a wish to windows, with what a coach must know about them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from planopt.faults import BadOption
from planopt.targets.caution import cautions_of
from planopt.targets.equations import EQUATIONS, Equation, activity_of, equation_for
from planopt.targets.person import Person, Wish, refuse
from planopt.targets.spans import Span
from planopt.targets.split import KCAL_PER_G, Split, split_of

SUPERVISED_BELOW_KCAL = 800
# The lower ends of what the 2013 AHA/ACC/TOS guideline treats with, women and men. That no smaller
# target is proposed is a cautious choice of this program, not a rule of the guideline.
LOSING_LINE_KCAL = {"female": 1200, "male": 1500}
# A deficit of 500 or 750 kcal a day is the guideline's; the surplus is common practice, no source.
USUAL_CHANGE_KCAL = {"keep": 0.0, "lose": 500.0, "gain": 250.0}
ENERGY_ROOM_STEP_KCAL = 10
_MOST_CHANGE_KCAL = 1500.0


@dataclass(frozen=True)
class Targets:
    """Windows of a day with how they came about.

    `others` are the other equations that fit, with their figures. `used_kcal` is least, usual and
    most energy used in a day at the activity given.
    """

    person: Person
    wish: Wish
    equation: Equation
    resting_kcal: float
    others: tuple[tuple[str, float], ...]
    used_kcal: tuple[float, float, float]
    aim_kcal: float
    raised: bool
    split: Split
    windows: dict[str, dict[str, int]]
    cautions: tuple[str, ...]


def targets_for(person: Person, wish: Wish) -> Targets:
    """Return the windows for a person.

    Raises:
        BadOption: a measure is a slip, the person is for licensed care, or the wish cannot be.
    """
    refuse(person, wish, lambda: activity_of(wish.activity))
    equation = equation_for(person, wish.equation)
    levels = activity_of(wish.activity)
    resting = equation.kcal(person)
    low, usual, high = (resting * level for level in levels)
    aim, raised = _aim(person, wish, usual)
    energy = {
        "min": _down(aim * (1 - wish.room), ENERGY_ROOM_STEP_KCAL),
        "max": _up(aim * (1 + wish.room), ENERGY_ROOM_STEP_KCAL),
    }
    if raised:
        energy["min"] = _down(aim, ENERGY_ROOM_STEP_KCAL)
    if energy["min"] < SUPERVISED_BELOW_KCAL:
        raise BadOption(
            f"the energy window would begin at {energy['min']} kcal; below "
            f"{SUPERVISED_BELOW_KCAL} kcal a day is for medical supervision"
        )
    split = split_of(person, wish, aim)
    windows = {"energy_kcal": energy} | {
        nutrient_id: _grams(span, person, aim, KCAL_PER_G[nutrient_id])
        for nutrient_id, span in split.spans.items()
    }
    _refuse_clash(windows)
    others = tuple(
        (one.name, one.kcal(person))
        for one in EQUATIONS.values()
        if one is not equation and one.fits(person)
    )
    cautions = cautions_of(
        person, wish, equation.name, windows, split, LOSING_LINE_KCAL[person.sex]
    )
    used = (low, usual, high)
    return Targets(
        person, wish, equation, resting, others, used, aim, raised, split, windows, cautions
    )


def _aim(person: Person, wish: Wish, used: float) -> tuple[float, bool]:
    """Return the energy to aim at, and whether it was raised to the least for losing weight."""
    change = USUAL_CHANGE_KCAL[wish.goal] if wish.by_kcal is None else wish.by_kcal
    if wish.goal == "keep" and wish.by_kcal:
        raise BadOption("--by: it goes with --goal lose or --goal gain")
    if not 0 <= change <= _MOST_CHANGE_KCAL:
        raise BadOption(f"--by {change:g}: this is not from 0 to {_MOST_CHANGE_KCAL:g} kcal a day")
    if wish.goal != "lose":
        return used + change, False
    line = LOSING_LINE_KCAL[person.sex]
    # Nobody who uses less than the line is made to eat more to lose.
    least = min(float(line), used)
    return max(used - change, least), used - change < least


def _grams(span: Span, person: Person, aim: float, kcal_per_g: float) -> dict[str, int]:
    if span.unit == "g/kg":
        low, high = span.low * person.weight_kg, span.high * person.weight_kg
    else:
        low, high = (end / 100 * aim / kcal_per_g for end in (span.low, span.high))
    # Whole grams within the span, so that a published range is not left by rounding.
    least, most = _up(low, 1), _down(high, 1)
    return {"min": min(least, most), "max": max(least, most)}


def _down(value: float, step: int) -> int:
    return floor(round(value / step, 6)) * step


def _up(value: float, step: int) -> int:
    return ceil(round(value / step, 6)) * step


def _refuse_clash(windows: dict[str, dict[str, int]]) -> None:
    """Refuse a split that cannot add up to the energy, before anybody plans with it."""
    energy = windows["energy_kcal"]
    least = sum(KCAL_PER_G[name] * windows[name]["min"] for name in KCAL_PER_G)
    most = sum(KCAL_PER_G[name] * windows[name]["max"] for name in KCAL_PER_G)
    if least > energy["max"]:
        raise BadOption(
            f"protein, fat and carbohydrate have {least:g} kcal at least, the energy window ends "
            f"at {energy['max']} kcal; ask for less of one"
        )
    if most < energy["min"]:
        raise BadOption(
            f"protein, fat and carbohydrate have {most:g} kcal at most, the energy window begins "
            f"at {energy['min']} kcal; ask for more of one"
        )
