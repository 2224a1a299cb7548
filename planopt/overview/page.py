"""An overview as one self-contained HTML page: no network, no script."""

from __future__ import annotations

from importlib.resources import files
from itertools import groupby
from pathlib import Path

from jinja2 import Environment, StrictUndefined

from planopt.overview.gather import Overview
from planopt.plan.cautions import STANDING
from planopt.report.words.plain import day_text, money, plural

_REPORTS = ("report.html", "report.md")


def overview_html(overview: Overview, root: Path | None = None) -> str:
    """Return the page; with the run's folder, kitchens link to the reports that are there."""
    currency = overview.index.currency
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["money"] = lambda amount: money(amount, currency)
    environment.filters["day"] = day_text
    text = (files("planopt.overview") / "page.html").read_text(encoding="utf-8")
    sellers = [
        (seller, [(day, list(lines)) for day, lines in groupby(mine, key=lambda b: b.shop_date)])
        for seller in overview.sellers
        if (mine := [line for line in overview.buy if line.seller_id == seller.seller_id])
    ]
    return environment.from_string(text).render(
        overview=overview,
        index=overview.index,
        currency=currency,
        kitchens={kitchen.kitchen_id: kitchen for kitchen in overview.kitchens},
        links={} if root is None else _links(overview, root),
        sellers=sellers,
        notes=_notes(overview),
        cautions=STANDING,
        plural=plural,
        by_alone=any(client.pays_by_alone is not None for client in overview.clients),
    )


def _notes(overview: Overview) -> dict[str, list[str]]:
    """Return each note once, with the names of the clients it is about."""
    notes: dict[str, list[str]] = {}
    for client in overview.clients:
        for text in (*(f"Missed: {words}." for words in client.missed), *client.warnings):
            notes.setdefault(text, []).append(client.name)
    return notes


def _links(overview: Overview, root: Path) -> dict[str, str]:
    links = {}
    for kitchen in overview.kitchens:
        if kitchen.state != "planned":
            continue
        for name in _REPORTS:
            if (root / "plans" / kitchen.kitchen_id / name).is_file():
                links[kitchen.kitchen_id] = f"plans/{kitchen.kitchen_id}/{name}"
                break
    return links
