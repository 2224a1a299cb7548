"""An overview as neutral tables: pandas frames, one row per client, kitchen, pack and so on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from math import nan
from typing import Any

import pandas as pd

from planopt.overview.gather import BuyLine, ClientLine, KitchenLine, KitchenPack, Overview
from planopt.overview.savings import Saving


def _frame(kind: type[Any], lines: Sequence[Any], real: tuple[str, ...] = ()) -> pd.DataFrame:
    names = [field.name for field in fields(kind)]
    rows = [[getattr(line, name) for name in names] for line in lines]
    frame = pd.DataFrame(rows, columns=names, dtype=object)
    for name in real:
        frame[name] = [nan if value is None else float(value) for value in frame[name]]
    return frame


def clients(overview: Overview) -> pd.DataFrame:
    """Return one row a client: state, share of the bill, windows, warnings, cause."""
    frame = _frame(ClientLine, overview.clients)
    kitchens = {kitchen.kitchen_id: kitchen for kitchen in overview.kitchens}
    gaps = [
        kitchens[client.kitchen_id].gap if client.state == "planned" else None
        for client in overview.clients
    ]
    frame.insert(5, "gap", pd.Series(gaps, dtype="float64"))
    return frame


def kitchens(overview: Overview) -> pd.DataFrame:
    """Return one row a kitchen: costs, bound, gap, seconds, cause."""
    return _frame(KitchenLine, overview.kitchens, real=("gap", "seconds"))


def buy(overview: Overview) -> pd.DataFrame:
    """Return what to buy for all kitchens, by seller, day and aisle."""
    return _frame(BuyLine, overview.buy, real=("count",))


def packs(overview: Overview) -> pd.DataFrame:
    """Return which kitchen gets which packs, by kitchen, day, seller and aisle."""
    return _frame(KitchenPack, overview.packs, real=("count",))


def savings(overview: Overview) -> pd.DataFrame:
    """Return what sharing saves, one row a shared kitchen that was compared."""
    frame = _frame(Saving, overview.savings)
    for name in ("found", "at_least", "at_most"):
        values = [getattr(line, name) for line in overview.savings]
        frame[f"saves_{name}"] = pd.Series(values, dtype=object)
    return frame
