"""Grams for each box from what the pot weighs: `planopt show DIR cook --pot DISH=4310`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

from planopt.catalog.records import Catalog
from planopt.cookday.records import Container
from planopt.faults import BadOption, nearest
from planopt.report.words.columns import WIDTH, fit_table, screen_text, wrap
from planopt.report.words.plain import dish_words, number, plain, plural, short_day

_MAIN = "main"
_MOST_G = 1_000_000
# Groups of three digits after a comma, a point, a space or an apostrophe are thousands.
_THOUSANDS = re.compile(r"(?<=\d)[ \u00a0\u202f.,'](?=\d{3}(\D|$))")
_GRAMS = re.compile(r"\d+([.,]\d+)?")
# A share is rounded where it is made; this much keeps a whole gram from being lost to that.
_DUST_G = 1e-6


@dataclass(frozen=True)
class Pot:
    """What a pot holds: a dish by its id or words of its name, a part of it, and grams."""

    dish: str
    part: str
    grams: float


def parse_pot(text: str) -> Pot:
    """Read `DISH=GRAMS` or `DISH:PART=GRAMS`, where a dish is a recipe's id or words of its name.

    Raises:
        BadOption: it is not of this form, or the grams are no weight of a pot.
    """
    dish, equals, weight = text.rpartition("=")
    name, _, part = dish.strip().partition(":")
    bare = _THOUSANDS.sub("", weight.strip().removesuffix("g").strip())
    if not equals or not name or not _GRAMS.fullmatch(bare):
        raise BadOption(f"--pot {text!r}: write DISH=GRAMS, for example split_pea_soup=4310")
    grams = float(bare.replace(",", "."))
    if not 0 < grams <= _MOST_G:
        raise BadOption(f"--pot {text!r}: a pot holds more than 0 g and at most 1000 kg")
    return Pot(name.strip(), part.strip() or _MAIN, grams)


def shared_out(grams: float, shares: Sequence[float]) -> list[int]:
    """Return whole grams for each share, never more than there is; equal shares get the same."""
    return [floor(grams * share + _DUST_G) for share in shares]


def _of_dish(boxes: Sequence[Container], pot: Pot) -> list[Container]:
    names = {box.recipe_id: box.recipe_name.casefold() for box in boxes}
    called = [one for one, name in names.items() if pot.dish.casefold() in name]
    dish = called[0] if pot.dish not in names and len(called) == 1 else pot.dish
    if dish not in names:
        why = f"names {plural(len(called), 'dish')}" if called else "is no dish"
        hint = nearest(pot.dish, sorted(called or names))
        raise BadOption(f"--pot: {pot.dish!r} {why} of this plan; {hint}")
    mine = [box for box in boxes if box.recipe_id == dish]
    parts = sorted({box.part for box in mine})
    if pot.part not in parts:
        raise BadOption(f"--pot: {pot.dish} has no part {pot.part!r}; {nearest(pot.part, parts)}")
    return [box for box in mine if box.part == pot.part]


def _block(catalog: Catalog, pot: Pot, boxes: Sequence[Container]) -> str:
    first = boxes[0]
    each = shared_out(pot.grams, [box.share_of_part for box in boxes])
    rows = [
        (
            str(box.number), f"{grams} g", f"{number(100 * box.share_of_part, 1)} %",
            plural(box.servings, "serving"),
            f"{box.client_name}, {short_day(box.date)}, {plain(box.meal)}",
        )
        for box, grams in zip(boxes, each, strict=True)
    ]  # fmt: skip
    name = dish_words(catalog, first.recipe_id, first.recipe_name, first.version)
    part = "" if first.parts_of_portion == 1 else f", {plain(first.part)} part"
    title = (
        f"{name}{part}, cooked {short_day(first.cooked_on)}: {number(pot.grams, 1)} g without the "
        "pot"
    )
    rest = pot.grams - sum(each)
    left = f"Left over: {number(rest)} g." if rest >= 0.5 else "Nothing is left over."
    headers = ("Box", "Weigh out", "Share", "Servings", "For")
    table = fit_table(headers, rows, flexible=4, right=(0, 1, 2), whole=True)
    return "\n".join([*wrap(screen_text(title), WIDTH), table, left])


def pots_screen(pots: Sequence[Pot], boxes: Sequence[Container], catalog: Catalog) -> str:
    """Return what each box gets of each pot; a dish of several cook days has a table for each.

    Raises:
        BadOption: the plan packs no such dish or part.
    """
    blocks = []
    for pot in pots:
        mine = _of_dish(boxes, pot)
        for key in dict.fromkeys((box.cook_day, box.version) for box in mine):
            of_one = [box for box in mine if (box.cook_day, box.version) == key]
            blocks.append(_block(catalog, pot, of_one))
    return "\n\n".join(blocks)
