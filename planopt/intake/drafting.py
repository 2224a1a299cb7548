"""One published recipe as a recipe of ours: what it tells, and what has to be asked."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from planopt.catalog.records import Catalog
from planopt.catalog.safety import kind_for, temperature_for
from planopt.catalog.safetychecks import TEMPERATURE_ROUNDING_C
from planopt.intake.heating import (
    OvenUse,
    heat_of,
    heats,
    inside_c,
    read_heats,
    read_oven,
    suggested_step,
    whole_celsius,
)
from planopt.intake.lines import DraftLine, LineReader
from planopt.intake.settling import Question, SettledAnswers
from planopt.intake.source import SourceRecipe

ENERGY = "energy_kcal"
# Authors round, and weigh other brands; beyond this an amount may be misread.
ENERGY_APART = 0.25
ENERGY_LEAST_KCAL = 60.0
USUAL_MEALS = ("breakfast", "lunch", "dinner", "snack")
_MAIN = frozenset({"main", "main course", "main dish", "entree", "soup", "salad", "stew", "curry"})
_MEAL_WORDS = {"brunch": "breakfast", "supper": "dinner", "tea": "dinner"}
_SERVINGS = re.compile(
    "(?:serves|servings?|portions?|people|persons?|yields?|makes|for|about|to|or|[-\u2013:\\s])*",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_STEWS = re.compile(r"\b(soup|stew|curry|chili|chilli|dal|dhal|casserole|broth)\b", re.IGNORECASE)
_COLD = re.compile(r"\b(salad|slaw|overnight|smoothie|dip)\b", re.IGNORECASE)
_UNTIL = re.compile(r"\s*\(until \d+(?:\.\d+)? °C inside\)$")
_PLACEHOLDERS = str.maketrans("{}[]", "()()")
MOST_NAME = 120


@dataclass
class Draft:
    """What became of one published recipe; `data` is the recipe file's, None while it waits."""

    recipe_id: str
    source: SourceRecipe
    lines: list[DraftLine] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    data: dict[str, Any] | None = None


class Drafter:
    """Makes drafts for one catalog with one file of answers."""

    def __init__(self, catalog: Catalog, answers: SettledAnswers, reader: LineReader) -> None:
        self._catalog = catalog
        self._answers = answers
        self._reader = reader
        self._meals = {m for recipe in catalog.recipes.values() for m in recipe.meals}

    def draft(self, recipe_id: str, source: SourceRecipe) -> Draft:
        """Return the draft of a recipe; what is open is asked of the answers.

        Raises:
            ImportUnavailable: the libraries that this needs are not installed.
        """
        draft = Draft(recipe_id, source)
        draft.notes += [f"not understood: {text}" for text in source.unread]
        read = self._reader.read(recipe_id, source.sentences)
        draft.lines, waiting = read.lines, read.waiting
        draft.notes += read.notes
        steps = [step.translate(_PLACEHOLDERS) for step in source.steps]
        parts: dict[str, Any] = {
            "yield_servings": self._yield(draft),
            "meals": self._meals_of(draft),
            "minutes": self._minutes(draft),
            "equipment": self._equipment(draft),
            "keeps": self._keeps(draft),
            "steps": self._steps(draft, steps),
        }
        if waiting or None in parts.values():
            return draft
        if not self._energy_fits(draft, parts["yield_servings"]):
            return draft
        self._unknown_allergens(draft)
        draft.data = {
            "name": source.name.translate(_PLACEHOLDERS)[:MOST_NAME],
            "meals": parts["meals"],
            "yield_servings": parts["yield_servings"],
            "minutes": parts["minutes"],
            "equipment": parts["equipment"],
            "keeps": parts["keeps"],
            "lines": [_line_data(line) for line in draft.lines],
            "steps": parts["steps"],
        }
        return draft

    def _ask(self, draft: Draft, ask: str, why: str, suggestion: str = "") -> str | None:
        """Return the answer to a question about a recipe, or None."""
        name = draft.source.name
        asked = Question(ask, draft.recipe_id, name, why, suggestion, recipes=(draft.recipe_id,))
        given = self._answers.answer(asked)
        return given.text if given is not None else None

    def _refuse(self, draft: Draft, ask: str, why: str, mend: str, suggestion: str = "") -> None:
        asked = Question(ask, draft.recipe_id, "", "", suggestion, recipes=(draft.recipe_id,))
        given = self._answers.given(asked)
        if given is not None:
            self._answers.refuse(given, why, mend)

    def _yield(self, draft: Draft) -> float | None:
        told = draft.source.yields
        numbers = {float(n.replace(",", ".")) for text in told for n in _NUMBER.findall(text)}
        plain = all(_SERVINGS.fullmatch(_NUMBER.sub(" ", text)) for text in told)
        if len(numbers) == 1 and plain and min(numbers) > 0:
            return numbers.pop()
        shown = ", ".join(repr(text) for text in told)
        why = f"the yield is told as {shown}" if told else "no yield is told"
        suggestion = f"{min(numbers):g}" if numbers and plain and min(numbers) > 0 else ""
        text = self._ask(draft, "yield", f"{why}; how many servings?", suggestion)
        if text is None:
            return None
        try:
            servings = float(text.replace(",", "."))
        except ValueError:
            servings = 0.0
        if not 0 < servings < 1000:
            self._refuse(draft, "yield", "this is no number of servings", "write 4", suggestion)
            return None
        return servings

    def _meals_of(self, draft: Draft) -> list[str] | None:
        known = self._meals | set(USUAL_MEALS)
        told = [category.casefold().strip() for category in draft.source.categories]
        words = [_MEAL_WORDS.get(text, text) for text in told]
        meals = sorted({m for w in words for m in (w, w.removesuffix("s")) if m in known})
        if meals:
            return meals
        mains = any(word in _MAIN or word.removesuffix("s") in _MAIN for word in words)
        suggestion = "|".join(m for m in ("lunch", "dinner") if m in known) if mains else ""
        why = f"its category is {', '.join(told)}" if told else "no category is told"
        why += f"; which meals? of {'|'.join(sorted(known))}"
        text = self._ask(draft, "meals", why, suggestion)
        if text is None:
            return None
        wanted = [part.strip() for part in text.casefold().split("|")]
        if not wanted or not set(wanted) <= known:
            mend = f"write meals of {'|'.join(sorted(known))}"
            self._refuse(draft, "meals", "there is no such meal", mend, suggestion)
            return None
        return wanted

    def _minutes(self, draft: Draft) -> dict[str, float] | None:
        source = draft.source
        prep, cook, total = source.prep_minutes, source.cook_minutes, source.total_minutes
        if prep is not None and total is not None and total >= prep:
            rest: float | None = max(total - prep, cook or 0.0)
        else:
            rest = cook
        if rest is None and prep is not None and not any(map(heats, source.steps)):
            rest = 0.0
        if prep is None or rest is None:
            told = {"prepTime": prep, "cookTime": cook, "totalTime": total}
            shown = ", ".join(f"{name} {value:g} min" for name, value in told.items() if value)
            if total is not None and cook is not None and total > cook:
                suggestion = f"{total - cook:g}, {cook:g}"
            else:
                suggestion = ""
            why = f"{shown or 'no time'} is told; minutes of work, then minutes unattended?"
            text = self._ask(draft, "minutes", why, suggestion)
            if text is None:
                return None
            numbers = [float(n) for n in _NUMBER.findall(text)]
            if len(numbers) != 2:
                mend = "write two numbers, such as 20, 40"
                self._refuse(draft, "minutes", "these are not two numbers", mend, suggestion)
                return None
            prep, rest = numbers
        # How much a second batch saves is not told, so it saves nothing.
        return {"hands_on": prep, "hands_on_per_extra_batch": prep, "unattended": rest}

    def _equipment(self, draft: Draft) -> dict[str, Any] | None:
        source = draft.source
        heat = heat_of(source.steps, source.cook_minutes)
        oven: OvenUse | str | None = heat.oven
        if not heat.sure_oven:
            suggestion = heat.oven.text() if heat.oven else ""
            why = "is the oven used, how hot and how long? answer none or 180 C 40 min"
            text = self._ask(draft, "oven", why, suggestion)
            oven = "?" if text is None else read_oven(text)
            if text is not None and oven == "?":
                mend = "write none, or temperature and time, such as 180 C 40 min"
                self._refuse(draft, "oven", "this is no use of an oven", mend, suggestion)
        hob = heat.hob_minutes
        if not heat.sure_hob:
            suggestion = f"{hob:g}" if hob is not None else ""
            why = "how many minutes on the hob, all rings added up? 0 for none"
            text = self._ask(draft, "hob", why, suggestion)
            found = _NUMBER.fullmatch(text.strip()) if text is not None else None
            hob = float(found[0]) if found else None
            if text is not None and found is None:
                self._refuse(draft, "hob", "this is no number", "write minutes", suggestion)
        if hob is None or isinstance(oven, str):
            return None
        data: dict[str, Any] = {"hob_minutes": hob}
        if oven is not None:
            data["oven"] = {"temperature_c": oven.temperature_c, "minutes": oven.minutes}
        return data

    def _keeps(self, draft: Draft) -> dict[str, Any] | None:
        limits = self._catalog.storage_limits
        suggestion = self._keeping_suggested(draft)
        why = "how does it keep? kind of storage_limits.csv, fridge days, freezer months, serve"
        text = self._ask(draft, "keeps", why, suggestion)
        if text is None:
            return None
        parts = [part.strip() for part in text.split(",")]
        sound = (
            len(parts) == 4
            and parts[0] in limits
            and parts[1].isdigit()
            and _NUMBER.fullmatch(parts[2])
            and parts[3] in ("reheated", "cold", "either")
        )
        if not sound:
            mend = f"write it as {suggestion}" if suggestion else "write kind, 3, 0, reheated"
            self._refuse(draft, "keeps", "this is not how a dish keeps", mend, suggestion)
            return None
        return {
            "kind": parts[0],
            "fridge_days": int(parts[1]),
            "freezer_months": float(parts[2]),
            "serve": parts[3],
        }

    def _keeping_suggested(self, draft: Draft) -> str:
        """Return the strictest keeping that any of its foods asks for."""
        limits = self._catalog.storage_limits
        hot = any(map(heats, draft.source.steps))
        stew = bool(_STEWS.search(draft.source.name)) and hot
        wanted = (
            "soups_and_stews" if stew else "leftovers_in_general" if hot else "raw_salad_or_fruit"
        )
        shortest = min(limits.values(), key=lambda one: (one.fridge_days_shortest, one.kind))
        own = limits.get(wanted, shortest)
        foods = [self._catalog.foods[line.food_id] for line in draft.lines]
        kinds = [own, *(limits[kind_for(self._catalog, food, own.kind)] for food in foods)]
        days = min(kind.fridge_days_shortest for kind in kinds)
        # What is said to freeze freezes as published; of the rest nobody knows.
        freezes = any("freez" in step.casefold() for step in draft.source.steps)
        months = min(kind.freezer_months_shortest for kind in kinds) if freezes else 0
        serve = "reheated" if hot and not _COLD.search(draft.source.name) else "cold"
        return f"{own.kind}, {days}, {months:g}, {serve}"

    def _steps(self, draft: Draft, steps: list[str]) -> list[dict[str, Any]] | None:
        """Return the steps with the temperatures that their foods must reach inside."""
        found = {number: c for number, step in enumerate(steps, 1) if (c := inside_c(step))}
        needed = {
            line.food_id: cls.internal_c
            for line in draft.lines
            if (cls := temperature_for(self._catalog, self._catalog.foods[line.food_id]))
        }
        most = max(needed.values(), default=0.0)
        if max(found.values(), default=0.0) + TEMPERATURE_ROUNDING_C < most:
            names = ", ".join(f"{food} {c:g} C" for food, c in sorted(needed.items()))
            told = f"{max(found.values()):g} C" if found else "no temperature inside"
            why = f"{told} is told, published is {names}; which step reaches it? answer 3: 74"
            step = suggested_step(tuple(steps))
            suggestion = f"{step}: {whole_celsius(most)}" if step is not None else ""
            text = self._ask(draft, "heat", why, suggestion)
            if text is None:
                return None
            read = read_heats(text, len(steps))
            if not read or max(read.values()) + TEMPERATURE_ROUNDING_C < most:
                reason = "no step reaches the published temperature"
                mend = f"write step and Celsius, as {max(len(steps), 1)}: {whole_celsius(most)}"
                self._refuse(draft, "heat", reason, mend, suggestion)
                return None
            found |= read
        return [
            {
                "do": _UNTIL.sub("", step),
                **({"until_internal_c": found[number]} if number in found else {}),
            }
            for number, step in enumerate(steps, 1)
        ]

    def _energy_fits(self, draft: Draft, servings: float) -> bool:
        """Tell whether the lines give about the energy that the author claims for a serving."""
        claimed = draft.source.kcal
        if claimed is None or ENERGY not in self._catalog.nutrients:
            return True
        total = sum(
            line.grams / 100 * (self._catalog.foods[line.food_id].nutrients[ENERGY] or 0.0)
            for line in draft.lines
        )
        here = total / servings
        apart = abs(here - claimed)
        if apart <= max(ENERGY_APART * claimed, ENERGY_LEAST_KCAL):
            return True
        why = (
            f"the source claims {claimed:.0f} kcal a serving, these lines give {here:.0f}; is an"
            " amount misread? answer ok if they are right"
        )
        text = self._ask(draft, "energy", why)
        if text is None:
            return False
        if text.casefold() != "ok":
            self._refuse(draft, "energy", "this is not understood", "write ok, or mend an amount")
            return False
        return True

    def _unknown_allergens(self, draft: Draft) -> None:
        """Ask about foods whose allergens are not known; the recipe does not wait for it."""
        for food_id in sorted({line.food_id for line in draft.lines}):
            if self._catalog.foods[food_id].allergens_known:
                continue
            why = (
                "its allergens are not known, so nobody who excludes any is served this; fill them"
                " in in foods.csv, or answer leave"
            )
            ids = (draft.recipe_id,)
            self._answers.answer(Question("allergens", "*", food_id, why, recipes=ids, waits=False))
            draft.notes.append(f"{food_id}: allergens not known, barred from who excludes any")


def _line_data(line: DraftLine) -> dict[str, Any]:
    data: dict[str, Any] = {
        "food": line.food_id,
        "amount": line.amount.amount,
        "unit": line.amount.unit,
    }
    if line.amount.state is not None:
        data["state"] = line.amount.state
    return data
