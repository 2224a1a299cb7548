"""Computed windows as text for a terminal, as data, and as lines of a scenario."""

from __future__ import annotations

import textwrap
from typing import Any

from planopt.targets.compute import USUAL_CHANGE_KCAL, Targets
from planopt.targets.equations import ACTIVITY_SOURCE
from planopt.targets.split import ACCEPTABLE, ACCEPTABLE_SOURCE, KCAL_PER_G, NAMES

_WIDTH = 80
_NAMES = {"energy_kcal": "Energy", **NAMES}
_GOALS = {"keep": "keeping weight", "lose": "losing weight", "gain": "gaining weight"}


def targets_text(targets: Targets) -> str:
    """Return the windows, how they came about and their cautions, for a terminal."""
    person, wish, equation = targets.person, targets.wish, targets.equation
    low, usual, high = targets.used_kcal
    lines = [
        f"Energy at rest        {targets.resting_kcal:,.0f} kcal a day, {equation.name}",
        *_wrapped(f"{equation.formula}. {equation.source}."),
        *_wrapped(f"Its error: {equation.error}."),
    ]
    for name, kcal in targets.others:
        lines.append(f"{'':22}{kcal:,.0f} kcal a day by {name}")
    spread = "" if low == high else f" ({low:,.0f} to {high:,.0f})"
    lines += [
        f"Energy used           {usual:,.0f} kcal a day, activity {wish.activity}{spread}",
        *_wrapped(f"Level: {ACTIVITY_SOURCE}."),
        *_aim_lines(targets),
        "",
        "Window of a day       min    max   of energy   rule",
    ]
    for nutrient_id, window in targets.windows.items():
        unit = nutrient_id.rsplit("_", 1)[1]
        row = f"{_NAMES[nutrient_id]:<14}{unit:<5}{window['min']:>6} {window['max']:>6}"
        if nutrient_id in KCAL_PER_G:
            factor = KCAL_PER_G[nutrient_id] * 100 / targets.aim_kcal
            share = f"{window['min'] * factor:.0f}-{window['max'] * factor:.0f} %"
            row += f"   {share:<9}   {targets.split.rules[nutrient_id]}"
        lines.append(row.rstrip())
    ranges = ", ".join(f"{NAMES[name].lower()} {span.text()}" for name, span in ACCEPTABLE.items())
    lines += textwrap.wrap(
        f"AMDR: acceptable ranges of adults ({ranges} of the energy) and the RDA of protein, "
        f"{ACCEPTABLE_SOURCE}. Body weight {person.weight_kg:.1f} kg.",
        _WIDTH,
    )
    lines.append("")
    for text in targets.cautions:
        lines += textwrap.wrap(text, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return "\n".join(lines)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=" " * 22, subsequent_indent=" " * 22)


def _aim_lines(targets: Targets) -> list[str]:
    wish = targets.wish
    change = USUAL_CHANGE_KCAL[wish.goal] if wish.by_kcal is None else wish.by_kcal
    words = f"for {_GOALS[wish.goal]}"
    if wish.goal == "lose":
        words += f", {change:g} kcal less (500 or 750 in the 2013 AHA/ACC/TOS guideline)"
    elif wish.goal == "gain":
        words += f", {change:g} kcal more (common practice, no source)"
    lines = textwrap.wrap(
        f"{targets.aim_kcal:,.0f} kcal a day, {words}",
        _WIDTH,
        initial_indent="Aim".ljust(22),
        subsequent_indent=" " * 22,
    )
    if targets.raised:
        lines += _wrapped(
            "Raised to where that guideline begins (1,200 kcal for women, 1,500 for men), or to "
            "the energy used where that is less."
        )
    return lines


def scenario_lines(targets: Targets) -> str:
    """Return the windows as they may stand in a client of a scenario."""
    lines = ["windows_per_day:"]
    for nutrient_id, window in targets.windows.items():
        lines.append(f"  {nutrient_id}: {{min: {window['min']}, max: {window['max']}}}")
    return "\n".join(lines)


def targets_data(targets: Targets) -> dict[str, Any]:
    """Return the windows and how they came about as plain data, for programs."""
    low, usual, high = targets.used_kcal
    return {
        "equation": targets.equation.name,
        "equation_source": targets.equation.source,
        "equation_error": targets.equation.error,
        "resting_kcal": round(targets.resting_kcal, 1),
        "other_equations": {name: round(kcal, 1) for name, kcal in targets.others},
        "activity_source": ACTIVITY_SOURCE,
        "used_kcal": {"least": round(low, 1), "usual": round(usual, 1), "most": round(high, 1)},
        "aim_kcal": round(targets.aim_kcal, 1),
        "raised_to_line": targets.raised,
        "windows_per_day": targets.windows,
        "rules": targets.split.rules,
        "cautions": list(targets.cautions),
    }
