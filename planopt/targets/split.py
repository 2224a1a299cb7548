"""How the energy is divided among protein, fat and carbohydrate, beside the published ranges."""

from __future__ import annotations

from dataclasses import dataclass

from planopt.targets.person import Person, Wish
from planopt.targets.spans import Span
from planopt.tolerances import NOISE

# Atwater general factors: FAO Food and Nutrition Paper 77 (2003); 21 CFR 101.9(c)(1)(i).
KCAL_PER_G = {"protein_g": 4.0, "fat_g": 9.0, "carbohydrate_g": 4.0}
# Acceptable macronutrient distribution ranges of adults, in percent of the energy.
ACCEPTABLE = {
    "protein_g": Span(10, 35, "%"),
    "fat_g": Span(20, 35, "%"),
    "carbohydrate_g": Span(45, 65, "%"),
}
ACCEPTABLE_SOURCE = "Institute of Medicine, DRI for macronutrients, 2002/2005"
# The recommended dietary allowance of protein of adults, same source.
PROTEIN_RDA_G_PER_KG = 0.8
NAMES = {"protein_g": "Protein", "fat_g": "Fat", "carbohydrate_g": "Carbohydrate"}


@dataclass(frozen=True)
class Split:
    """The span of each macronutrient, how it was found, and where it leaves the ranges."""

    spans: dict[str, Span]
    rules: dict[str, str]
    outside: tuple[str, ...]


def split_of(person: Person, wish: Wish, aim_kcal: float) -> Split:
    """Return the spans for an energy: those asked for, else the published ranges.

    Carbohydrate that nobody asks for may be what protein and fat leave, within its range where
    that is possible.
    """
    asked = {"protein_g": wish.protein, "fat_g": wish.fat, "carbohydrate_g": wish.carbohydrate}
    spans: dict[str, Span] = {}
    rules: dict[str, str] = {}
    for name, span in asked.items():
        if span is not None:
            spans[name] = span.widened(wish.room)
            rules[name] = f"asked for: {span.text()}"
    if "protein_g" not in spans:
        rda = Span(PROTEIN_RDA_G_PER_KG, PROTEIN_RDA_G_PER_KG, "g/kg")
        least = rda.percent(KCAL_PER_G["protein_g"], person.weight_kg, aim_kcal).low
        published = ACCEPTABLE["protein_g"]
        low = min(max(published.low, least), published.high)
        spans["protein_g"] = Span(low, published.high, "%")
        rules["protein_g"] = "AMDR, at least 0.8 g/kg (RDA)"
    if "fat_g" not in spans:
        spans["fat_g"], rules["fat_g"] = ACCEPTABLE["fat_g"], "AMDR"
    percents = {
        name: span.percent(KCAL_PER_G[name], person.weight_kg, aim_kcal)
        for name, span in spans.items()
    }
    if "carbohydrate_g" not in spans:
        span, rule = _left_over(percents)
        spans["carbohydrate_g"] = percents["carbohydrate_g"] = span
        rules["carbohydrate_g"] = rule
    outside = tuple(
        text
        for name, published in ACCEPTABLE.items()
        if (text := _outside(name, percents[name], published))
    )
    order = list(KCAL_PER_G)
    return Split({name: spans[name] for name in order}, rules, outside)


def _left_over(percents: dict[str, Span]) -> tuple[Span, str]:
    low = max(0.0, 100 - percents["protein_g"].high - percents["fat_g"].high)
    high = max(0.0, 100 - percents["protein_g"].low - percents["fat_g"].low)
    published = ACCEPTABLE["carbohydrate_g"]
    within = Span(max(low, published.low), min(high, published.high), "%")
    if within.low <= within.high:
        return within, "AMDR, of what the others leave"
    return Span(low, high, "%"), "what the others leave"


def _outside(name: str, span: Span, published: Span) -> str:
    if span.low >= published.low - NOISE and span.high <= published.high + NOISE:
        return ""
    return (
        f"{NAMES[name]} from {span.low:.0f} to {span.high:.0f} % of the energy leaves the "
        f"acceptable range of {published.low:g} to {published.high:g} % ({ACCEPTABLE_SOURCE})"
    )
