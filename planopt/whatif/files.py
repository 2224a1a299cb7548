"""What-if findings as a folder of files, written whole or not at all."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

from planopt.folders import (
    bad_folder,
    fill,
    folder_beside,
    refuse_current,
    refuse_unwritable,
    settle,
)
from planopt.report.files.folder import as_shown, csv_text, plan_contents, with_mark
from planopt.report.words.locale import NEUTRAL, Display
from planopt.whatif import tables
from planopt.whatif.findings import WhatIf
from planopt.whatif.pictures import pictures
from planopt.whatif.text import findings_text

JSON_FILE = "whatif.json"
TEXT_FILE = "whatif.txt"
PLANS_FOLDER = "plans"
_PICTURES = re.compile(r"(budget_curve|price_samples|window_\w+)\.svg")
TABLES = {
    "variants.csv": tables.variants,
    "shopping_changes.csv": tables.shopping,
    "windows.csv": tables.windows,
    "budget_curve.csv": tables.budget_curve,
    "window_curves.csv": tables.window_curves,
    "shadow_prices.csv": tables.shadow_prices,
    "price_samples.csv": tables.price_samples,
}


def findings_json(found: WhatIf) -> str:
    """Return the text of whatif.json."""
    return json.dumps(found.as_dict(), indent=2, ensure_ascii=False) + "\n"


def findings_files(found: WhatIf, display: Display = NEUTRAL) -> dict[str, str | bytes]:
    """Return what every file holds by its name in the folder; tables without rows are left out."""
    texts: dict[str, str | bytes] = {
        JSON_FILE: findings_json(found),
        TEXT_FILE: findings_text(found) + "\n",
    }
    for name, table in TABLES.items():
        frame = table(found)
        if len(frame):
            texts[name] = with_mark(csv_text(frame, found.kitchen.scenario.currency), display)
    texts.update(pictures(found))
    for number, result in enumerate(found.variants, 1):
        if result.plan is not None:
            slug = re.sub(r"[^a-z0-9]+", "_", result.variant.name.lower()).strip("_")[:40]
            folder = f"{PLANS_FOLDER}/{number:02d}_{slug}"
            told = as_shown(result.plan, display)
            kitchen = result.kitchen
            plan = plan_contents(told, kitchen.catalog, kitchen.scenario, display)
            texts.update({f"{folder}/{name}": content for name, content in plan.items()})
    return texts


def check_findings_dir(folder: Path) -> None:
    """Make sure that findings may be written to a folder.

    Raises:
        BadInput: it is neither missing, nor empty, nor an earlier folder of findings, or it cannot
            be written.
    """
    refuse_current(folder)
    settle(folder)
    usable = not os.path.lexists(folder) or (
        folder.is_dir() and ((folder / JSON_FILE).is_file() or not any(folder.iterdir()))
    )
    if not usable:
        raise bad_folder(
            folder,
            f"it exists, and is neither an empty folder nor an earlier one (no {JSON_FILE})",
            "choose another folder with --out, or move this one away",
            "out_dir_taken",
        )
    refuse_unwritable(folder)


def write_findings(found: WhatIf, folder: Path, display: Display = NEUTRAL) -> list[Path]:
    """Write all files and return their paths; files of the user in an earlier folder are kept.

    Raises:
        BadInput: the folder holds something else, or the system refuses to write.
    """
    check_findings_dir(folder)
    texts = findings_files(found, display)
    old = [path.name for path in folder.iterdir()] if folder.is_dir() else []
    owned = {JSON_FILE, TEXT_FILE, PLANS_FOLDER, *TABLES}
    owned |= {name for name in old if _PICTURES.fullmatch(name)}
    with folder_beside(folder, owned=frozenset(owned)) as fresh:
        fill(fresh, texts)
    return [folder / name for name in texts]
