"""An overview on 80 columns of plain text."""

from __future__ import annotations

import textwrap
from decimal import Decimal

from planopt.overview.gather import ClientLine, Overview
from planopt.overview.savings import Saving
from planopt.report.words.columns import WIDTH, clip, fit_table, screen_text
from planopt.report.words.plain import day_text, money, money_code, plural

_MOST_LINES = 8
_WHAT_COLUMNS_MEAN = (
    "Pays: groceries and visits. Gap: the most of the kitchen's cost, all counted, that any other "
    "compliant week could save."
)
_STATES = {"planned": "planned", "failed": "no plan", "waiting": "waiting"}


def overview_text(overview: Overview) -> str:
    """Return the overview of a run; no line is wider than 80 columns."""
    index = overview.index
    currency = index.currency
    count = len(overview.clients)
    parts = [
        clip(screen_text(f"Weeks of {index.name}"), WIDTH)
        + f"\nFrom {day_text(index.start_date)}, {plural(index.days, 'day')}: "
        f"{overview.count('planned')} of {plural(count, 'client')} planned.\n"
        f"Bills of all kitchens, groceries and visits: {money_code(overview.bill, currency)}.\n"
        + textwrap.fill(overview.headline(), WIDTH),
        _clients(overview) + "\n" + textwrap.fill(_WHAT_COLUMNS_MEAN, WIDTH),
    ]
    if overview.savings:
        parts.append(_savings(overview.savings, currency))
    if overview.sellers:
        rows = [[s.seller, str(s.lines), money(s.total, currency)] for s in overview.sellers]
        rows.append(["Total", str(len(overview.buy)), money(_total(overview), currency)])
        parts.append(fit_table(["To buy for all", "Lines", currency], rows, 0, right=(1, 2)))
    troubled = [client for client in overview.clients if client.state != "planned"]
    if troubled:
        parts.append("\n".join(_trouble(client) for client in troubled))
    return "\n\n".join(parts)


def _total(overview: Overview) -> Decimal:
    return sum((seller.total for seller in overview.sellers), Decimal(0))


def _clients(overview: Overview) -> str:
    gaps = {kitchen.kitchen_id: kitchen.gap_percent for kitchen in overview.kitchens}
    rows = []
    for client in overview.clients:
        gap = gaps[client.kitchen_id]
        planned = client.pays is not None and gap != ""
        rows.append(
            [
                screen_text(client.name),
                clip(screen_text(client.kitchen_id), 14),
                _STATES[client.state],
                money(client.pays, overview.index.currency) if client.pays is not None else "",
                gap if planned else "",
                f"{client.windows_met} of {client.windows_set}" if planned else "",
                str(len(client.warnings)) if client.warnings else "",
            ]
        )
    headers = [
        "Client",
        "Kitchen",
        "State",
        f"Pays {overview.index.currency}",
        "Gap %",
        "Windows",
        "Notes",
    ]
    return fit_table(headers, rows, 0, right=(3, 4, 5, 6))


def _savings(savings: list[Saving], currency: str) -> str:
    rows = [
        [
            screen_text(saving.name),
            f"{money(saving.shared, currency)} ({money(saving.shared_bound, currency)})",
            f"{money(saving.separate, currency)} ({money(saving.separate_bound, currency)})",
            *_saves(saving, currency),
        ]
        for saving in savings
    ]
    headers = ["Sharing saves", "Shared (bound)", "Separate (bound)", "Found", "Proven range"]
    return fit_table(headers, rows, 0, right=(1, 2, 3, 4))


def _saves(saving: Saving, currency: str) -> tuple[str, str]:
    if saving.found is None or saving.at_least is None or saving.at_most is None:
        return "", f"{len(saving.missing)} without a plan"
    low, high = money(saving.at_least, currency), money(saving.at_most, currency)
    return money(saving.found, currency), f"{low} to {high}"


def _trouble(client: ClientLine) -> str:
    lines = client.cause.splitlines() or ["not planned yet"]
    shown = [part for line in lines for part in textwrap.wrap(screen_text(line), WIDTH - 4)]
    left = len(shown) - _MOST_LINES
    more = [f"    and {plural(left, 'line')} more"] if left > 0 else []
    head = clip(screen_text(f"{client.called}:"), WIDTH)
    return "\n".join([head, *(f"    {line}" for line in shown[:_MOST_LINES]), *more])
