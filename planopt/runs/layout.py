"""The folder of a run: where each thing lies, and what in it still holds.

    run.json            index, written anew as the run goes on
    kitchens/ID.yaml    the scenario of one kitchen, made from the common file
    plans/ID/           its plan, an ordinary plan folder
    alone/ID.CLIENT/    the plan of one client alone, for comparison
    failed/ID.json      proven: who has no compliant week
    outdated/           plans made from other files than today's

A plan is finished when its folder is there and names the hashes of today's kitchen and catalog; no
other record is kept of that. Everything is written beside its place and renamed.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from planopt import __version__
from planopt.faults import BadInput, Fault
from planopt.folders import (
    bad_folder,
    file_beside,
    fill,
    folder_beside,
    is_left_over,
    refuse_current,
    refuse_unwritable,
    settle_inside,
)
from planopt.plan.file import PLAN_FILE, read_plan
from planopt.plan.records import Plan
from planopt.reading.files import MOST_PLAN_BYTES, regular_bytes
from planopt.report.files.folder import OWNED_FILES
from planopt.runs.jobs import RunJob
from planopt.runs.records import ProvenFailure, RunIndex
from planopt.scenario.kitchens import MADE_BY

INDEX_FILE = "run.json"
R = TypeVar("R", bound=BaseModel)


def text_sha256(text: str) -> str:
    """Return the SHA-256 of a text in UTF-8, as hexadecimal text."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


@dataclass(frozen=True)
class RunFolder:
    """Paths and the state of a run's folder."""

    root: Path

    def kitchen_file(self, key: str) -> Path:
        """Return the scenario file of a kitchen or of a client alone."""
        return self.root / "kitchens" / f"{key}.yaml"

    def plan_folder(self, key: str, alone: bool = False) -> Path:
        """Return the plan folder of a kitchen or of a client alone."""
        return self.root / ("alone" if alone else "plans") / key

    def check(self) -> None:
        """Make sure that a run may be written here.

        Raises:
            BadInput: the folder is in use, or is neither empty nor an earlier run.
        """
        refuse_current(self.root)
        try:
            taken = os.path.lexists(self.root)
            usable = (
                not taken
                or self.has_index()
                or (self.root.is_dir() and all(map(is_left_over, self.root.iterdir())))
            )
        except OSError as error:
            why = f"it cannot be read: {error.strerror or error}"
            mend = "choose another folder with --out"
            raise bad_folder(self.root, why, mend, "out_dir_unreadable") from error
        if not usable:
            raise bad_folder(
                self.root,
                f"it exists, and is neither an empty folder nor an earlier run (no {INDEX_FILE})",
                "choose another folder with --out, or move this one away",
                "out_dir_taken",
            )
        refuse_unwritable(self.root / INDEX_FILE, self.root)

    def has_index(self) -> bool:
        """Tell whether the folder is that of a run."""
        return os.path.isfile(self.root / INDEX_FILE)

    def write_index(self, index: RunIndex) -> None:
        """Write the index in one step."""
        file_beside(self.root / INDEX_FILE, index.model_dump_json(indent=1) + "\n")

    def read_index(self) -> RunIndex:
        """Read the index.

        Raises:
            BadInput: it is missing or broken.
        """
        return _read(self.root / INDEX_FILE, RunIndex)

    def write_kitchen(self, key: str, text: str) -> None:
        """Write the scenario of a kitchen, unless it is there to the letter."""
        path = self.kitchen_file(key)
        try:
            if regular_bytes(path) == text.encode("utf-8"):
                return
        except OSError:
            pass
        file_beside(path, text)

    def holds(self, job: RunJob) -> Plan | None:
        """Return the plan in a job's folder if it was made from the same kitchen and catalog."""
        try:
            plan = read_plan(self.plan_folder(job.key, job.alone))
        except BadInput:
            return None
        same = (
            plan.scenario_sha256 == job.scenario_sha256
            and plan.catalog_sha256 == job.catalog_sha256
            and plan.solution.status != "interrupted"
        )
        return plan if same else None

    def write_files(self, job: RunJob, files: dict[str, bytes]) -> None:
        """Write a plan folder whole; the user's own files in an earlier one are kept.

        Raises:
            BadInput: the system refuses to write.
        """
        owned = OWNED_FILES | {Path(name).parts[0] for name in files}
        with folder_beside(self.plan_folder(job.key, job.alone), owned=owned) as fresh:
            fill(fresh, files)

    def set_aside(self, key: str, alone: bool = False) -> None:
        """Move a plan that does not hold any more out of the way; nobody may cook from it."""
        folder = self.plan_folder(key, alone)
        if not os.path.lexists(folder):
            return
        try:
            content = regular_bytes(folder / PLAN_FILE, MOST_PLAN_BYTES)
            mark = hashlib.sha256(content).hexdigest()[:8]
        except OSError:
            mark = "unreadable"
        place = self.root / "outdated" / f"{key}.{mark}"
        place.parent.mkdir(parents=True, exist_ok=True)
        count = 1
        while os.path.lexists(place):
            count += 1
            place = place.with_name(f"{key}.{mark}.{count}")
        folder.rename(place)

    def mend(self) -> None:
        """Undo what a kill may have left before or between two renames."""
        for parent in (self.root, self.root / "plans", self.root / "alone"):
            settle_inside(parent)

    def keep_only(self, plans: set[str], alone: set[str]) -> None:
        """Set aside the plans, and remove the files, of kitchens that are no longer in the run."""
        for folder, keys, is_alone in (("plans", plans, False), ("alone", alone, True)):
            place = self.root / folder
            for entry in sorted(place.iterdir()) if place.is_dir() else ():
                if entry.name not in keys and not entry.name.startswith("."):
                    self.set_aside(entry.name, is_alone)
        for folder, keys in (("kitchens", plans | alone), ("failed", plans)):
            place = self.root / folder
            for entry in sorted(place.iterdir()) if place.is_dir() else ():
                if entry.stem not in keys and _is_ours(entry):
                    entry.unlink(missing_ok=True)

    def proven_failure(self, key: str, sha256: str, catalog_sha256: str) -> ProvenFailure | None:
        """Return what is proven about exactly this kitchen."""
        try:
            found = _read(self.root / "failed" / f"{key}.json", ProvenFailure)
        except BadInput:
            return None
        wanted = (sha256, catalog_sha256, __version__)
        same = (found.scenario_sha256, found.catalog_sha256, found.planopt_version) == wanted
        return found if same else None

    def write_proven(self, failure: ProvenFailure) -> None:
        """Keep a proof that somebody has no compliant week."""
        text = failure.model_dump_json(indent=1) + "\n"
        file_beside(self.root / "failed" / f"{failure.kitchen_id}.json", text)


def _is_ours(path: Path) -> bool:
    """Tell whether a file is of a run, or left over from one, and not a note of the user's."""
    if path.suffix == ".json" or (path.name.startswith(".") and path.suffix == ".new"):
        return path.is_file()
    try:
        return path.suffix == ".yaml" and regular_bytes(path).startswith(MADE_BY.encode())
    except OSError:
        return False


def _read(path: Path, model: type[R]) -> R:
    try:
        return model.model_validate_json(regular_bytes(path, MOST_PLAN_BYTES))
    except OSError as error:
        why = f"it cannot be read: {error.strerror or error}"
        mend = "name a folder that `planopt weeks` wrote"
        raise BadInput([Fault(str(path), 0, "", path.name, why, mend, "run_unreadable")]) from error
    except ValidationError as error:
        why = f"it is not what planopt writes: {error.errors()[0]['msg']}"
        mend = "run `planopt weeks` again; it goes by the plans and writes this file anew"
        raise BadInput([Fault(str(path), 0, "", path.name, why, mend, "run_unreadable")]) from error
