"""Amounts as a person measures them: spoons and cups, scales and jugs, whole and half pieces.

US cups and spoons are the exact ones of `planopt.units`. Metric spoons hold 15 and 5 ml, as the
labelling rule 21 CFR 101.9(b)(5)(viii) has them. The grams that stand beside every such amount are
exact; the amounts here are rounded to what the measure can show.
"""

from __future__ import annotations

from bisect import bisect_left
from fractions import Fraction
from functools import lru_cache

from planopt.report.words.plain import number
from planopt.units import GRAMS_PER_UNIT, ML_PER_UNIT, SPOONS_PER_CUP, round_half_up

TSP_PER: dict[str, int] = {unit: 48 // count for unit, count in SPOONS_PER_CUP.items()}
_METRIC_TBSP_ML, _METRIC_TSP_ML = 15, 5
# A number is read to these parts of a piece; smaller ones are guesswork at the worktop.
_PARTS = (1, 2, 4, 3, 8)
# Parts that cup and spoon sets have; common practice, no source.
_CUP_PARTS = tuple(Fraction(part) for part in ("0", "1/4", "1/3", "1/2", "2/3", "3/4"))
_TSP_PARTS = tuple(Fraction(part) for part in ("0", "1/8", "1/4", "1/2", "3/4"))
_TSP = tuple(whole + part for whole in range(3) for part in _TSP_PARTS)
_TBSP = tuple(Fraction(part) for part in ("0", "1", "3/2", "2", "5/2", "3", "7/2"))
# Spoons stay within this share of the amount where they can: a metric spoon and a US one differ by
# 1.4 %, and no cook fills one truer than that.
_NEAR = Fraction(1, 50)
# Above this volume a jug is easier than metric spoons.
_MOST_SPOONED_ML = 60


def _mixed(value: Fraction) -> str:
    whole, rest = divmod(value.numerator, value.denominator)
    fraction = str(Fraction(rest, value.denominator)) if rest else ""
    return f"{whole} {fraction}".strip() if whole or not rest else fraction


def mixed_number(value: float) -> str | None:
    """Return a number as whole and simple fraction, or None when it is not near one."""
    for part in _PARTS:
        scaled = value * part
        if round(scaled) > 0 and abs(scaled - round(scaled)) < 0.02 * part / 8:
            return _mixed(Fraction(round(scaled), part))
    return None


@lru_cache(maxsize=4096)
def _spooned(tsp: Fraction, cups: bool) -> tuple[Fraction, Fraction, Fraction]:
    """Return cups, tablespoons and teaspoons for a volume: few kinds of them, and near enough."""
    whole_cups = int(tsp / TSP_PER["cup"]) if cups else 0
    cup_amounts = [whole_cups + part for part in _CUP_PARTS] if cups else [Fraction(0)]
    if cups:
        cup_amounts.append(Fraction(whole_cups + 1))
    tries = []
    for cup in cup_amounts:
        for tbsp in _TBSP:
            left = tsp - cup * TSP_PER["cup"] - 3 * tbsp
            place = bisect_left(_TSP, left)
            around = _TSP[max(0, place - 1) : place + 1]
            nearest = min(around, key=lambda spoon: abs(left - spoon))
            # A half tablespoon is the last spoon taken.
            for spoon in {Fraction(0), nearest} if tbsp.denominator == 1 else {Fraction(0)}:
                missed = abs(left - spoon)
                near = missed <= _NEAR * tsp
                kinds = sum(1 for amount in (cup, tbsp, spoon) if amount) if near else 0
                tries.append((not near, kinds, missed, -cup, -tbsp, spoon))
    *_, cup, tbsp, spoon = min(tries)
    return -cup, -tbsp, spoon


def _cups_word(cups: Fraction) -> str:
    return "cup" if cups <= 1 else "cups"


def spoons_text(tsp: float) -> str:
    """Return a US volume, in teaspoons, as cups and spoons within 2 % or 1/8 tsp of it."""
    if tsp < 0.125:
        return f"{number(tsp, 2)} tsp"
    cup, tbsp, spoon = _spooned(Fraction(tsp), cups=True)
    parts = [f"{_mixed(cup)} {_cups_word(cup)}"] if cup else []
    parts += [f"{_mixed(tbsp)} tbsp"] if tbsp else []
    parts += [f"{_mixed(spoon)} tsp"] if spoon else []
    return " + ".join(parts)


def metric_volume(ml: float) -> str:
    """Return a volume in spoons of 15 and 5 ml, millilitres of a jug, or litres."""
    if ml >= 1000:
        return f"{number(ml / 1000, 2)} l"
    if ml >= _MOST_SPOONED_ML:
        step = 10 if ml >= 500 else 5
        return f"{number(int(round_half_up(ml / step)) * step)} ml"
    if ml < _METRIC_TSP_ML / 8:
        return f"{number(ml, 1)} ml"
    _, tbsp, spoon = _spooned(Fraction(ml) / _METRIC_TSP_ML, cups=False)
    parts = [f"{_mixed(tbsp)} tbsp"] if tbsp else []
    parts += [f"{_mixed(spoon)} tsp"] if spoon else []
    total = float(tbsp * _METRIC_TBSP_ML + spoon * _METRIC_TSP_ML)
    return f"{' + '.join(parts)} ({number(total, 1)} ml)"


def us_volume(ml: float) -> str:
    """Return a volume in US cups and spoons."""
    return spoons_text(float(Fraction(ml) / ML_PER_UNIT["tsp"]))


def us_mass(grams: float) -> str:
    """Return a mass in pounds and ounces, to 1/8 oz below 2 oz, 1/4 below 8, 1/2 above."""
    exact = Fraction(grams) / GRAMS_PER_UNIT["oz"]
    part = 8 if exact < 2 else 4 if exact < 8 else 2
    ounces = Fraction(round(exact * part), part)
    if not ounces:
        return f"{number(float(exact), 2)} oz"
    pounds, rest = divmod(ounces, 16)
    parts = [f"{pounds} lb"] if pounds else []
    parts += [f"{_mixed(Fraction(rest))} oz"] if rest else []
    return " ".join(parts)
