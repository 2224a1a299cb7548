"""An overview as files in the run's folder; a file that would not change is left alone."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from planopt.folders import file_beside
from planopt.overview import tables
from planopt.overview.gather import Overview, gather_overview
from planopt.overview.page import overview_html
from planopt.reading.files import MOST_PLAN_BYTES, regular_bytes
from planopt.report.files.folder import csv_text
from planopt.runs.layout import RunFolder

OVERVIEW_FILES = (
    "overview.html", "overview.json", "clients.csv", "kitchens.csv", "buy.csv", "kitchen_packs.csv",
    "sharing.csv",
)  # fmt: skip


def overview_data(overview: Overview) -> dict[str, Any]:
    """Return the overview as plain data: money as text, dates in ISO 8601."""
    index = overview.index
    lines = asdict(overview)
    del lines["index"]
    for saving, data in zip(overview.savings, lines["savings"], strict=True):
        for name in ("found", "at_least", "at_most"):
            data[f"saves_{name}"] = getattr(saving, name)
    whole = {
        "planopt_version": index.planopt_version,
        "name": index.name,
        "scenario_file": index.scenario_file,
        "currency": index.currency,
        "start_date": index.start_date,
        "days": index.days,
        "planned": overview.count("planned"),
        "failed": overview.count("failed"),
        "waiting": overview.count("waiting"),
        **lines,
    }
    plain: dict[str, Any] = json.loads(json.dumps(whole, default=str))
    return plain


def overview_texts(overview: Overview, root: Path | None = None) -> dict[str, str]:
    """Return the text of every overview file, by file name."""
    currency = overview.index.currency
    return {
        "overview.html": overview_html(overview, root),
        "overview.json": json.dumps(overview_data(overview), indent=1, ensure_ascii=False) + "\n",
        "clients.csv": csv_text(tables.clients(overview), currency),
        "kitchens.csv": csv_text(tables.kitchens(overview), currency),
        "buy.csv": csv_text(tables.buy(overview).assign(currency=currency), currency),
        "kitchen_packs.csv": csv_text(tables.packs(overview).assign(currency=currency), currency),
        "sharing.csv": csv_text(tables.savings(overview), currency),
    }


def write_overview(root: Path, *, handles: bool = False) -> Overview:
    """Gather the overview of a run's folder, write its files there and return it.

    With `handles` clients and kitchens are named by their ids.

    Raises:
        BadInput: the folder is no run, its catalog cannot be read, or nothing can be written.
    """
    RunFolder(root).mend()
    overview = gather_overview(root, handles=handles)
    for name, text in overview_texts(overview, root).items():
        path = root / name
        if not path.is_file() or regular_bytes(path, MOST_PLAN_BYTES) != text.encode("utf-8"):
            file_beside(path, text)
    return overview
