"""Kill the swap of a folder wherever it can be killed, and look at what is left.

Run as a process of its own, which forks a child for each kill: `python tests/killing.py`.
It prints how many kills were survived, and ends with a failed assertion at the first that was not.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from planopt import folders
from planopt.diskcalls import Disk

OURS = frozenset({"plan.json", "report.md", "menu.csv", "cards", "report.pdf"})
HALF = ".report.pdf.0123abcd.new"
STEPS = (
    "make_parents", "make_folder", "write", "copy_mode", "rename", "replace", "exchange",
    "remove_file", "remove_folder",
)  # fmt: skip


class KillingDisk(Disk):
    """A disk whose process is killed before its step number `at`, or in the middle of it."""

    def __init__(self, at: int, *, exchanges: bool, halfway: bool = False) -> None:
        self.left = at
        self.exchanges = exchanges
        self.halfway = halfway

    def due(self) -> bool:
        """Count a step; tell whether it is the one."""
        self.left -= 1
        return self.left < 0

    def exchange(self, one: Path, other: Path) -> bool:
        """Exchange, unless this disk is one that cannot."""
        return self.exchanges and super().exchange(one, other)


def _counted(name: str) -> Callable[..., Any]:
    real = getattr(KillingDisk, name)

    def step(self: KillingDisk, *words: Any) -> Any:
        if self.due():
            if self.halfway and name == "write":
                path, content = words
                path.write_bytes(content[: len(content) // 2])
            os.kill(os.getpid(), signal.SIGKILL)
        return real(self, *words)

    return step


for _name in STEPS:
    setattr(KillingDisk, _name, _counted(_name))


def contents(mark: str, size: int = 20) -> dict[str, str | bytes]:
    """Return what a plan's folder holds, all of it under one mark."""
    text = f"{mark}\n" * size
    return {"plan.json": text, "report.md": text, "menu.csv": text.encode(), "cards/ana.md": text}


def begin(around: Path) -> Path:
    """Make a folder with an earlier plan and with things of the user's, and return it."""
    week = around / "week"
    with folders.folder_beside(week, OURS) as fresh:
        folders.fill(fresh, contents("old"))
    (week / "notes.txt").write_text("mine", encoding="utf-8")
    (week / ".hidden").write_text("mine", encoding="utf-8")
    (week / "photos").mkdir()
    (week / "photos" / "soup.jpg").write_bytes(b"mine")
    (week / "link").symlink_to("nowhere")
    # What a kill has left of a file that was being written into the folder.
    (week / HALF).write_bytes(b"half")
    week.chmod(0o750)
    return week


def swap(week: Path, mark: str, size: int = 20) -> None:
    """Put a new plan in the place of the earlier one."""
    with folders.folder_beside(week, OURS) as fresh:
        folders.fill(fresh, contents(mark, size))


def in_child(work: Callable[[], None], disk: Disk | None = None) -> int:
    """Do some work in a child and return its process id."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            if disk is not None:
                folders.disk = disk
            work()
            code = 0
        finally:
            os._exit(code)
    return child


def ended(child: int) -> int:
    """Wait for a child; return its exit code, or the signal that killed it as a negative number."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def mark_of(week: Path) -> str:
    """Return the one mark that all files of a plan bear; a plan of two marks is none."""
    texts = {(week / name).read_text(encoding="utf-8") for name in contents("")}
    assert len(texts) == 1, f"a mixture of plans in {week}"
    (text,) = texts
    assert text.count("\n") > 1, "half a file"
    return text.splitlines()[0]


def assert_whole(week: Path) -> str:
    """Assert that a plan, and all of the user's, is there, and nothing else; return the mark."""
    assert sorted(os.listdir(week.parent)) == ["week"], sorted(os.listdir(week.parent))
    here = {".hidden", "photos", "link", "notes.txt"} | {n.split("/")[0] for n in contents("")}
    # What was begun in an earlier plan's folder goes with that plan.
    here |= {HALF} if mark_of(week) == "old" else set()
    assert set(os.listdir(week)) == here, sorted(os.listdir(week))
    assert (week / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert (week / ".hidden").read_text(encoding="utf-8") == "mine"
    assert (week / "photos" / "soup.jpg").read_bytes() == b"mine"
    assert os.readlink(week / "link") == "nowhere"
    assert week.stat().st_mode & 0o777 == 0o750
    return mark_of(week)


def at_every_step(around: Path, *, exchanges: bool, halfway: bool) -> tuple[int, set[str]]:
    """Kill before, or halfway through, each step in turn; return how many, and what was left."""
    marks = set()
    for at in range(1000):
        shutil.rmtree(around)
        around.mkdir()
        week = begin(around)
        disk = KillingDisk(at, exchanges=exchanges, halfway=halfway)
        if ended(in_child(lambda w=week: swap(w, "new"), disk)) == 0:
            assert assert_whole(week) == "new"
            return at, marks
        if exchanges:
            # Whoever looks before the next command sees a whole plan too.
            mark_of(week)
        # The next command is killed as well, and the one after it ends well.
        ended(in_child(lambda w=week: folders.settle(w), KillingDisk(at % 7, exchanges=exchanges)))
        folders.settle(week)
        marks.add(assert_whole(week))
        swap(week, "later")
        assert assert_whole(week) == "later"
    raise AssertionError("the swap never ends")


def at_random(around: Path, kills: int, seed: int, *, exchanges: bool) -> int:
    """Kill a child that swaps without end at random moments; return how many swaps were midway."""
    chance, midway = random.Random(seed), 0
    week = begin(around)

    def without_end() -> None:
        count = 0
        while True:
            count += 1
            swap(week, f"{os.getpid()}-{count}", 2000)

    for _ in range(kills):
        child = in_child(without_end, KillingDisk(10**9, exchanges=exchanges))
        time.sleep(chance.uniform(0.001, 0.006))
        os.kill(child, signal.SIGKILL)
        assert ended(child) == -signal.SIGKILL, "the swap failed by itself"
        midway += os.listdir(around) != ["week"]
        if chance.random() < 0.5:
            folders.settle(week)
        else:
            swap(week, "between", 2000)
        assert_whole(week)
    return midway


def main() -> None:
    """Run all kills and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    told: dict[str, Any] = {}
    for exchanges in (True, False):
        steps, marks = 0, set()
        for halfway in (False, True):
            with TemporaryDirectory() as folder:
                around = Path(folder) / "around"
                around.mkdir()
                count, left = at_every_step(around, exchanges=exchanges, halfway=halfway)
                steps, marks = steps + count, marks | left
        with TemporaryDirectory() as folder:
            kills = asked.kills // 2
            midway = at_random(Path(folder), kills, asked.seed, exchanges=exchanges)
        way = "by exchange" if exchanges else "by journal"
        told[way] = {"steps": steps, "left": sorted(marks), "random": kills, "midway": midway}
    json.dump(told, sys.stdout)


if __name__ == "__main__":
    main()
