"""An overview as one self-contained HTML page in the style of the report, readable without script.

Views of one file: what needs a look first, the shopping list of all with who gets what, each
kitchen with its packs, the clients, and the money.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from typing import Any

from markupsafe import Markup

from planopt.overview.gather import BuyLine, ClientLine, KitchenLine, KitchenPack, Overview
from planopt.plan.cautions import STANDING
from planopt.report.page.parts import anchor
from planopt.report.page.templating import page_footer, policy, rendered_text, source
from planopt.report.words.plain import money, plural, short_day, unbroken

Row = dict[str, Any]

_REPORTS = ("report.html", "report.md")
# More kitchens than these are folded away under a line of the shopping list.
_MOST_NAMED = 4
_PARTS = ("page.html", "overview.css")


def overview_html(overview: Overview, root: Path | None = None) -> str:
    """Return the page; with the run's folder, it links to the reports and pages that are there."""
    page, css = ((files("planopt.overview") / name).read_text(encoding="utf-8") for name in _PARTS)
    index, script, mark = overview.index, source("ticks.js").strip(), _mark(overview)
    links = {} if root is None else _links(overview, root)
    last = index.start_date + timedelta(days=index.days - 1)
    context: dict[str, Any] = {
        "mark": mark,
        "policy": policy(script),
        "css": Markup(source("page.css") + css),
        "footer": page_footer(index.name, mark),
        "script": Markup(script),
        "name": index.name,
        "span": f"{short_day(index.start_date)} to {short_day(last)} {last.year}",
        "counts": f"{plural(len(overview.clients), 'client')}, "
        f"{plural(len(overview.kitchens), 'kitchen')}",
        "version": index.planopt_version,
        "scenario_file": index.scenario_file,
        "currency": index.currency,
        "headline": overview.headline(),
        "state": _state(overview),
        "troubled": _troubled(overview),
        "missed": [
            {"client": one.name, "kitchen": _kitchen(overview, one).name, "windows": one.missed}
            for one in overview.clients
            if one.missed
        ],
        "notes": _notes(overview),
        "visits": _visits(overview),
        "kitchens": _kitchens(overview, links),
        "clients": _clients(overview, root, links),
        "all_planned": overview.count("planned") == len(overview.clients),
        "by_alone": any(one.pays_by_alone is not None for one in overview.clients),
        "money": _money(overview),
        "cautions": STANDING,
    }
    return rendered_text(page, context)


def _mark(overview: Overview) -> str:
    """Return what tells these packs from those of another week: ticks belong to it."""
    told = repr((overview.index.name, overview.index.start_date, overview.packs))
    return hashlib.sha256(told.encode()).hexdigest()[:32]


def _kitchen(overview: Overview, client: ClientLine) -> KitchenLine:
    return next(k for k in overview.kitchens if k.kitchen_id == client.kitchen_id)


def _state(overview: Overview) -> str:
    """Say how many clients have a plan, and what the rest waits for."""
    parts = [f"{overview.count('planned')} of {plural(len(overview.clients), 'client')} planned"]
    if failed := overview.count("failed"):
        parts.append(f"{failed} without a plan")
    if waiting := overview.count("waiting"):
        parts.append(f"{waiting} not planned yet")
    return ", ".join(parts)


def _troubled(overview: Overview) -> list[Row]:
    """Return who has no plan, failures before those who wait, each cause once for a kitchen."""
    rows: dict[tuple[str, str, str], Row] = {}
    for client in sorted(overview.clients, key=lambda one: one.state != "failed"):
        if client.state == "planned":
            continue
        key = (client.kitchen_id, client.state, client.cause)
        row = rows.setdefault(
            key,
            {
                "kitchen": _kitchen(overview, client).name,
                "state": "no plan" if client.state == "failed" else "not planned yet",
                "clients": [],
                "cause": client.cause.splitlines(),
            },
        )
        row["clients"].append(client.called)
    return list(rows.values())


def _notes(overview: Overview) -> list[Row]:
    """Return each note once, with the names of the clients it is about."""
    notes: dict[str, list[str]] = defaultdict(list)
    for client in overview.clients:
        for text in client.warnings:
            notes[text].append(client.name)
    planned = overview.count("planned")
    return [
        {"text": text, "who": "all" if len(names) == planned > 1 else ", ".join(names)}
        for text, names in notes.items()
    ]


def _take(pack: str) -> str:
    """Return what goes to a kitchen: a count of packs, an amount of loose food."""
    return unbroken(pack.partition(" x ")[0].removesuffix(" loose"))


def _line(line: BuyLine | KitchenPack, mark: str, currency: str) -> Row:
    return {
        "id": anchor(mark, line.pack_id),
        "pack": unbroken(line.pack),
        "food": line.food,
        "price": money(line.price, currency),
    }


def _aisles(lines: Iterable[Any], mark: str, currency: str) -> list[Row]:
    return [
        {"aisle": aisle.capitalize() or "Other", "lines": [_line(x, mark, currency) for x in mine]}
        for aisle, mine in groupby(lines, key=lambda line: line.aisle)
    ]


def _visits(overview: Overview) -> list[Row]:
    """Return the shopping list of all kitchens by day and seller, each line with who gets it."""
    currency = overview.index.currency
    takers: dict[tuple[str, date, str], list[str]] = defaultdict(list)
    for pack in overview.packs:
        takers[pack.seller_id, pack.shop_date, pack.pack_id].append(
            f"{pack.kitchen}\N{NO-BREAK SPACE}{_take(pack.pack)}"
        )
    by_visit: dict[tuple[date, str, str], list[BuyLine]] = defaultdict(list)
    for line in overview.buy:
        by_visit[line.shop_date, line.seller, line.seller_id].append(line)
    visits = []
    for (day, seller, seller_id), lines in sorted(by_visit.items()):
        mark = anchor("visit", day, seller_id)
        aisles = _aisles(lines, mark, currency)
        who = iter(takers[seller_id, day, line.pack_id] for line in lines)
        for aisle in aisles:
            for row in aisle["lines"]:
                names = next(who)
                row["who"] = names
                row["fold"] = plural(len(names), "kitchen") if len(names) > _MOST_NAMED else ""
        visits.append(
            {
                "anchor": mark,
                "day": short_day(day),
                "seller": seller,
                "count": plural(len(lines), "line"),
                "total": money(sum((line.price for line in lines), Decimal(0)), currency),
                "aisles": aisles,
            }
        )
    return visits


def _kitchens(overview: Overview, links: dict[str, str]) -> list[Row]:
    """Return the kitchens with their packs, those without a plan first."""
    currency = overview.index.currency
    packs: dict[str, list[KitchenPack]] = defaultdict(list)
    for pack in overview.packs:
        packs[pack.kitchen_id].append(pack)
    rows = []
    for kitchen in sorted(overview.kitchens, key=lambda one: one.state == "planned"):
        mark = anchor("kitchen", kitchen.kitchen_id)
        mine = packs[kitchen.kitchen_id]
        total = money(sum((pack.price for pack in mine), Decimal(0)), currency)
        people = plural(kitchen.clients, "client")
        if kitchen.planned < kitchen.clients:
            people = f"{kitchen.planned} of {people}"
        told = f"{people}, {plural(len(mine), 'line')}, {unbroken(f'{total} {currency}')}"
        rows.append(
            {
                "anchor": mark,
                "name": kitchen.name,
                "about": told if kitchen.state == "planned" else f"{people}, no plan",
                "planned": kitchen.state == "planned",
                "link": links.get(kitchen.kitchen_id, ""),
                "visits": [
                    {
                        "visit": f"{short_day(day)}, {seller}",
                        "lines": [_line(pack, f"{mark}-{day}-{seller}", currency) for pack in bag],
                    }
                    for (day, seller), bag in groupby(mine, lambda p: (p.shop_date, p.seller))
                ],
            }
        )
    return rows


def _clients(overview: Overview, root: Path | None, links: dict[str, str]) -> list[Row]:
    """Return the clients, failures first, then those who miss a window, then the rest."""
    currency = overview.index.currency

    def shown(amount: Decimal | None) -> str:
        return "" if amount is None else money(amount, currency)

    rows = []
    for client in sorted(
        overview.clients, key=lambda one: (one.state == "planned", not one.missed)
    ):
        page = f"plans/{client.kitchen_id}/clients/{client.client_id}.html"
        kitchen = _kitchen(overview, client)
        planned = client.state == "planned"
        rows.append(
            {
                "name": client.name,
                "page": page if root is not None and (root / page).is_file() else "",
                "kitchen": kitchen.name,
                "link": links.get(client.kitchen_id, ""),
                "state": "planned" if planned else "no plan" if client.cause else "not planned yet",
                "pays": shown(client.pays),
                "by_alone": shown(client.pays_by_alone),
                "alone": shown(client.alone_bill),
                "windows": f"{client.windows_met} of {client.windows_set}" if planned else "",
                "missed": bool(client.missed),
            }
        )
    return rows


def _money(overview: Overview) -> Row:
    """Return what each kitchen costs, what is proven of it, and what sharing saves."""
    currency = overview.index.currency

    def shown(amount: Decimal | None) -> str:
        return "" if amount is None else money(amount, currency)

    bought = sum((seller.total for seller in overview.sellers), Decimal(0))
    return {
        "bill": shown(overview.bill),
        "all_counted": shown(overview.all_counted),
        "bound": shown(overview.bound),
        "sellers": [
            {"seller": one.seller, "lines": str(one.lines), "total": shown(one.total)}
            for one in overview.sellers
        ],
        "bought": shown(bought),
        "lines": str(len(overview.buy)),
        "kitchens": [
            {
                "name": one.name,
                "groceries": shown(one.groceries),
                "visits": shown(one.visits),
                "all_counted": shown(one.all_counted),
                "bound": shown(one.bound),
                "gap": unbroken(f"{one.gap_percent} %") if one.gap_percent else "",
            }
            for one in overview.kitchens
            if one.state == "planned"
        ],
        "savings": [
            {
                "name": one.name,
                "clients": str(one.clients),
                "shared": shown(one.shared),
                "separate": shown(one.separate),
                "missing": ", ".join(one.missing),
                "found": shown(one.found),
                "range": f"{shown(one.at_least)} to {shown(one.at_most)}",
            }
            for one in overview.savings
        ],
    }


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
