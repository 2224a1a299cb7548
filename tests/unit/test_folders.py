"""Folders that take each other's place: killed, refused, at work twice - nothing is ever lost."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import planopt
from killing import KillingDisk, assert_whole, begin, mark_of, swap
from planopt import folders
from planopt.diskcalls import Disk, hold, is_held, release
from planopt.faults import BadInput
from planopt.folders import (
    file_beside,
    folder_beside,
    refuse_unwritable,
    settle,
    settle_inside,
    write_file,
)
from planopt.interrupts import deferred

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes are killed the POSIX way")
ROOT = Path(__file__).parents[1]


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_swap_killed_anywhere_loses_nothing() -> None:
    """SIGKILL before and halfway through each step, and 200 times at random, by both ways.

    After the next command there is one whole plan with all of the user's files, and no litter.
    """
    path = os.pathsep.join([str(Path(planopt.__file__).parents[1]), str(ROOT)])
    done = subprocess.run(
        [sys.executable, "-P", str(ROOT / "killing.py"), "--kills", "200"],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    told = json.loads(done.stdout)
    for way in ("by exchange", "by journal"):
        assert told[way]["steps"] > 30
        assert told[way]["left"] == ["new", "old"], "kills came before and after the swap"
        assert told[way]["midway"] > 10


def test_without_an_exchange_the_next_command_puts_the_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one moment at which there is no folder at all is mended by whoever looks next."""
    week = begin(tmp_path)

    class Stops(KillingDisk):
        def rename(self, source: Path, target: Path) -> None:
            if source.name.endswith(".swap") and target == week:
                raise KeyError("stands for a kill")
            os.rename(source, target)

    monkeypatch.setattr(folders, "disk", Stops(10**9, exchanges=False))
    monkeypatch.setattr(folders._Swap, "give_up", lambda self: None)
    real = Stops.rename

    def no_way_back(self: Stops, source: Path, target: Path) -> None:
        if source.name.endswith(".old"):
            raise KeyError("nor is anything put back")
        real(self, source, target)

    monkeypatch.setattr(Stops, "rename", no_way_back)
    with pytest.raises(KeyError):
        swap(week, "new")
    monkeypatch.undo()
    assert not week.exists()
    settle(week)
    assert assert_whole(week) == "new"


def _left_after_exchange(week: Path) -> None:
    """Leave things as a kill right after the exchange does."""

    class Stops(Disk):
        def rename(self, source: Path, target: Path) -> None:
            if target.name.endswith(".old"):
                raise KeyError("stands for a kill")
            os.rename(source, target)

    before, folders.disk = folders.disk, Stops()
    try:
        with pytest.raises(KeyError):
            swap(week, "new")
    finally:
        folders.disk = before
    assert len(_names(week.parent)) == 2


def test_a_name_taken_meanwhile_keeps_both(tmp_path: Path) -> None:
    """A file written into the new plan does not take the place of the stranded one of that name."""
    week = begin(tmp_path)
    _left_after_exchange(week)
    (week / "notes.txt").write_text("newer", encoding="utf-8")
    settle(week)
    assert (week / "notes.txt").read_text(encoding="utf-8") == "newer"
    assert (week / "notes.txt.kept").read_text(encoding="utf-8") == "mine"
    assert _names(tmp_path) == ["week"]


def test_a_folder_moved_away_after_a_kill_leaves_the_earlier_one(tmp_path: Path) -> None:
    """What the user has taken elsewhere stays there, and the earlier plan is back."""
    week = begin(tmp_path)
    _left_after_exchange(week)
    week.rename(tmp_path / "kept")
    settle(week)
    assert mark_of(week) == "old"
    assert (week / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert mark_of(tmp_path / "kept") == "new"
    settle(tmp_path / "kept")
    swap(tmp_path / "kept", "later")
    assert not [name for name in _names(tmp_path / "kept") if name.startswith(".")]


def test_a_folder_put_there_after_a_kill_is_not_mixed_with_the_earlier_one(tmp_path: Path) -> None:
    """Where nobody knows what is whose, the earlier folder is shown under a name of its own."""
    week = begin(tmp_path)
    _left_after_exchange(week)
    week.rename(tmp_path / "kept")
    week.mkdir()
    (week / "thesis.txt").write_text("mine", encoding="utf-8")
    settle(week)
    assert _names(week) == ["thesis.txt"]
    assert _names(tmp_path) == ["kept", "week", "week.earlier"]
    assert (tmp_path / "week.earlier" / "notes.txt").exists()


def test_a_living_process_is_not_disturbed(tmp_path: Path) -> None:
    """What another command is filling stays, until that command has ended."""
    fresh = tmp_path / ".week.0123abcd.new"
    fresh.mkdir()
    handle = hold(fresh)
    assert handle is not None
    assert is_held(fresh)
    settle(tmp_path / "week")
    assert fresh.is_dir()
    release(handle)
    settle_inside(tmp_path)
    assert _names(tmp_path) == []


def test_a_file_of_the_user_that_cannot_move_is_told_and_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new plan is there; what the system would not move stands beside it, not hidden."""
    week = begin(tmp_path)
    real = os.rename

    def refusing(source: Path, target: Path) -> None:
        if Path(source).name == "photos":
            raise PermissionError(13, "Permission denied")
        real(source, target)

    monkeypatch.setattr("os.rename", refusing)
    with pytest.raises(BadInput) as caught:
        swap(week, "new")
    monkeypatch.undo()
    assert "what could not move is in week.earlier" in caught.value.faults[0].why
    assert mark_of(week) == "new"
    assert (week / "notes.txt").exists()
    assert (tmp_path / "week.earlier" / "photos" / "soup.jpg").read_bytes() == b"mine"
    swap(week, "later")
    assert _names(tmp_path) == ["week", "week.earlier"]
    assert not (week / ".planopt").exists()


def test_a_request_to_stop_waits_for_the_swap(tmp_path: Path) -> None:
    """Ctrl-C in the middle of a swap is answered after it."""
    done = []

    def work() -> None:
        with deferred():
            os.kill(os.getpid(), signal.SIGINT)
            done.append("the rest of it")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done


@pytest.mark.parametrize("write", [write_file, file_beside])
def test_files_are_whole_or_as_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, write: object
) -> None:
    """A file that cannot be put in its place leaves the earlier one, and nothing beside it."""
    assert callable(write)
    path = tmp_path / "stock.yaml"
    write(path, "old")

    class Refuses(Disk):
        def replace(self, source: Path, target: Path) -> None:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(folders, "disk", Refuses())
    with pytest.raises(BadInput):
        write(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert _names(tmp_path) == ["stock.yaml"]


def test_half_a_file_of_a_killed_command_goes(tmp_path: Path) -> None:
    """The next writing of the same file takes it away; the user's hidden files stay."""
    (tmp_path / ".stock.yaml.0123abcd.new").write_text("half", encoding="utf-8")
    (tmp_path / ".other.yaml.0123abcd.new").write_text("half", encoding="utf-8")
    write_file(tmp_path / "stock.yaml", "new")
    assert _names(tmp_path) == [".other.yaml.0123abcd.new", "stock.yaml"]


def test_the_rights_of_a_folder_stay(tmp_path: Path) -> None:
    """A plan that only its owner may read is still so when it is written anew."""
    week = tmp_path / "week"
    with folder_beside(week) as fresh:
        (fresh / "plan.json").write_text("1", encoding="utf-8")
    week.chmod(0o700)
    with folder_beside(week, frozenset({"plan.json"})) as fresh:
        (fresh / "plan.json").write_text("2", encoding="utf-8")
    assert week.stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize("name", ["x" * 250, "x" * 300, "a/" + "y" * 250, "d/" * 2100 + "z"])
def test_names_that_are_too_long_are_noticed_at_once(tmp_path: Path, name: str) -> None:
    """Nothing is made, and the system's own reason is told."""
    with pytest.raises(BadInput) as caught:
        refuse_unwritable(tmp_path / name)
    (fault,) = caught.value.faults
    assert fault.code == "folder_unwritable"
    assert "File name too long" in fault.why
    assert _names(tmp_path) == []


def test_what_cannot_be_written_is_noticed_at_once(tmp_path: Path) -> None:
    """A file where a folder would have to be; a folder that may not be written; /proc."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for place in (tmp_path / "file" / "week", Path("/proc/week"), Path("/proc")):
        with pytest.raises(BadInput) as caught:
            refuse_unwritable(place)
        assert caught.value.faults[0].code == "folder_unwritable"
    refuse_unwritable(tmp_path / "a" / "b" / "week")
    assert _names(tmp_path) == ["file"]
