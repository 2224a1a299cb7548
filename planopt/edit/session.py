"""One session at the working sheet: the week, the changes so far, and a plan made anew of them.

Files stay the truth: nothing is written until the new week is kept, by the writer of all plans,
and what is kept is read again from its files.
"""

from __future__ import annotations

import re
import shlex
import sys
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, RLock, Thread
from time import monotonic
from typing import Any

from planopt import ranges
from planopt.adjust.week import Adjustment, Written, adjust, read_written
from planopt.adjust.words import changes_of_words
from planopt.edit.asking import WHERE, ChangeAsked, ListedChange, contradict, on_plates, wish_of
from planopt.edit.choices import any_name, choices_of, dish_names
from planopt.edit.difference import difference, trouble
from planopt.edit.sheet import Marks, sheet
from planopt.faults import BadInput, PlanoptError
from planopt.folders import settle
from planopt.interrupts import stoppable
from planopt.reading.files import Place
from planopt.report.files.folder import check_out_dir, write_plan
from planopt.report.words.plain import plural, short_day
from planopt.solve.settings import SolveSettings

Data = dict[str, Any]

MOST_WISHES = 200
# How long the end waits for a search that was asked to stop; it looks up several times a second.
_LEAVE_SECONDS = 20.0
_ENDING = re.compile(r"-adjusted(-\d+)?$")


class NotNow(Exception):
    """What is asked for does not fit what the session is doing."""


@dataclass
class _Search:
    """A plan being made anew, in a thread of its own."""

    thread: Thread
    limit: float | None
    stop: Event = field(default_factory=Event)
    began: float = field(default_factory=monotonic)
    told: str = ""


class EditSession:
    """What the page shows and does. Requests come from several threads; one is served at a time."""

    def __init__(
        self, folder: Path, out: Path | None, settings: SolveSettings, price: float | None
    ) -> None:
        """Read the plan of a folder.

        Raises:
            BadInput: the plan or its files cannot be read, or `out` cannot be written.
            AuditFailed: the plan does not hold for its files as they are now.
        """
        self.folder = folder
        self._asked_out = out
        self.out = free_folder(folder) if out is None else out
        check_out_dir(self.out)
        self.kept: list[Path] = []
        self.ended = False
        self.lock = RLock()
        self._settings, self._price = settings, price
        self._search: _Search | None = None
        self._take(read_written(folder))

    def _take(self, written: Written) -> None:
        """Begin anew from a plan as written."""
        self._written = written
        self._choices = choices_of(written.plan, written.kitchen)
        self._wishes: list[ListedChange] = []
        self._from_day: int | None = None
        self._draft: Adjustment | None = None
        self._trouble: Data | None = None
        self._numbers = 0

    @property
    def planning(self) -> bool:
        """Tell whether a plan is being made anew."""
        return self._search is not None

    @property
    def phase(self) -> str:
        """Return `open`, `planning` or `draft`."""
        return "planning" if self.planning else "draft" if self._draft else "open"

    def state(self) -> Data:
        """Return what the session is doing, with the changes so far."""
        search = self._search
        return {
            "phase": self.phase,
            "wishes": [{"number": wish.number, "label": wish.label} for wish in self._wishes],
            "from_day": self._from_day,
            "days": self._days(),
            "seconds": None if self._settings.work_limit else self._settings.time_limit_s,
            "out": str(self.out),
            "kept": str(self.kept[-1]) if self.kept else None,
            "command": self.command(),
            "trouble": self._trouble,
            "difference": difference(self._draft) if self._draft else None,
            "search": None if search is None else {
                "told": search.told,
                "seconds": round(monotonic() - search.began, 1),
                "limit": search.limit,
            },
        }  # fmt: skip

    def _days(self) -> list[Data]:
        scenario = self._written.kitchen.scenario
        days = range(1, scenario.days + 1)
        return [{"day": day, "name": short_day(scenario.date_of(day))} for day in days]

    def sheet(self, client: str | None) -> Data:
        """Return a client's week: the new one, where there is one to look at."""
        if self._draft is not None:
            return sheet(self._draft.plan, self._draft.kitchen, client, Marks(), {})
        marks = Marks(tuple((wish, on_plates(wish.asked, self._written)) for wish in self._wishes))
        return sheet(self._written.plan, self._written.kitchen, client, marks, self._choices)

    def command(self) -> str:
        """Return the changes so far as a command line; empty without any."""
        words = [text for wish in self._wishes for text in wish.words]
        if not words and self._from_day is None:
            return ""
        start = [] if self._from_day is None else ["--from", str(self._from_day)]
        parts = ["planopt", "adjust", str(self.folder), *start]
        return shlex.join([*parts, *(part for text in words for part in ("--change", text))])

    # ------------------------------------------------------------------ the list of changes

    def add(self, asked: ChangeAsked) -> str:
        """Put a change on the list, and return in words what that did.

        A change about the same, or one that it contradicts, goes off the list.

        Raises:
            BadInput: the change does not fit the plan or the other changes; the list stays.
        """
        self._must_be("open")
        wish = wish_of(self._numbers + 1, asked, self._written, self._dish(asked))
        plates = on_plates(asked, self._written)
        gone = [
            old
            for old in self._wishes
            if old.about == wish.about or contradict(plates, on_plates(old.asked, self._written))
        ]
        kept = [old for old in self._wishes if old not in gone]
        if len(kept) >= MOST_WISHES:
            raise NotNow(f"there are {MOST_WISHES} changes; plan anew and keep the week first")
        self._check([*kept, wish], self._from_day)
        self._wishes, self._numbers = [*kept, wish], wish.number
        replaced = "; ".join(old.label for old in gone if old.label != wish.label)
        return f"On the list: {wish.label}." + (f" In place of: {replaced}." if replaced else "")

    def _dish(self, asked: ChangeAsked) -> str:
        """Return the name of the dish that a change is about."""
        if asked.recipe is None:
            return "everything"
        plan, kitchen = self._written.plan, self._written.kitchen
        if asked.client is None:
            return any_name(kitchen, asked.recipe)
        names = dish_names(plan, kitchen, self._choices, asked.client)
        return names.get(asked.recipe) or any_name(kitchen, asked.recipe)

    def remove(self, number: int) -> str:
        """Take a change off the list.

        Raises:
            BadInput: the others do not stand without it; the list stays.
        """
        self._must_be("open")
        left = [wish for wish in self._wishes if wish.number != number]
        gone = [wish.label for wish in self._wishes if wish.number == number]
        self._check(left, self._from_day)
        self._wishes = left
        return f"Off the list: {gone[0]}." if gone else "That is not on the list any more."

    def set_over(self, day: int | None) -> str:
        """Let all that is before the morning of a day be over, or with None nothing.

        Raises:
            BadInput: the day or a change does not fit; all stays.
        """
        self._must_be("open")
        self._check(self._wishes, day)
        self._from_day = day
        return "Nothing is over yet." if day is None else "What is before that morning stands."

    def _check(self, wishes: list[ListedChange], from_day: int | None) -> None:
        words = [text for wish in wishes for text in wish.words]
        if words or from_day is not None:
            changes_of_words(words, self._written.kitchen, self._written.plan, from_day)
        self._trouble = None

    # ------------------------------------------------------------------ planning anew

    def start(self, seconds: int | None = None) -> str:
        """Begin to plan anew, in a thread of its own; for so many seconds, if that is told.

        Raises:
            BadInput: the seconds are out of their range.
        """
        self._must_be("open")
        if not self._wishes and self._from_day is None:
            raise NotNow("nothing is asked for yet")
        settings = self._settings
        if seconds is not None:
            if not ranges.SECONDS.holds(seconds):
                fault = Place(WHERE, 0).fault(
                    "seconds",
                    seconds,
                    ranges.SECONDS.why,
                    f"write a number {ranges.SECONDS.words()}",
                    "out_of_range",
                )
                raise BadInput([fault])
            settings = settings.model_copy(update={"time_limit_s": float(seconds)})
        words = [text for wish in self._wishes for text in wish.words]
        thread = Thread(target=self._run, args=(words, self._from_day, settings))
        limit = None if settings.work_limit is not None else settings.time_limit_s
        self._trouble = None
        self._search = _Search(thread, limit)
        thread.start()
        return "Planning anew."

    def _run(self, words: list[str], from_day: int | None, settings: SolveSettings) -> None:
        with self.lock:
            search, written = self._search, self._written
        assert search is not None
        found, wrong = None, None
        try:
            variant = changes_of_words(words, written.kitchen, written.plan, from_day)

            def tell(text: str) -> None:
                search.told = text

            with stoppable(search.stop.is_set):
                found = adjust(written, variant, settings, self._price, tell)
        except PlanoptError as error:
            wrong = trouble(error)
        except Exception:
            # A bug keeps its traceback, and the page does not wait for ever.
            traceback.print_exc(file=sys.stderr)
            wrong = trouble(PlanoptError("a bug of planopt; what it was is in the terminal"))
        with self.lock:
            self._search = None
            if not search.stop.is_set():
                self._draft, self._trouble = found, wrong

    def stop(self, wait: bool = False) -> str:
        """Ask a search to stop; nothing comes of it."""
        with self.lock:
            search = self._search
            if search is not None:
                search.stop.set()
        if search is not None and wait:
            search.thread.join(_LEAVE_SECONDS)
        return "Stopping." if search is not None else "Nothing is being planned."

    def back(self) -> str:
        """Put the new week aside; the changes stay on the list."""
        self._must_be("draft")
        self._draft = None
        return "The new week is put aside; the changes are still on the list."

    def keep(self) -> str:
        """Write the new week to its folder, and go on from there.

        Raises:
            BadInput: the folder cannot be written; the new week is still there to keep.
        """
        self._must_be("draft")
        draft = self._draft
        assert draft is not None
        files = write_plan(draft.plan, draft.kitchen.catalog, draft.kitchen.scenario, self.out)
        self.kept.append(self.out)
        self.folder = self.out
        self._take(read_written(self.folder))
        if self._asked_out is None:
            # Each week that is kept stays beside the ones before it.
            self.out = free_folder(self.folder)
        return f"Kept: {plural(len(files), 'file')} in {self.folder}."

    def end(self) -> str:
        """End the session."""
        self.ended = True
        return "Ended."

    def _must_be(self, phase: str) -> None:
        if self.phase != phase:
            raise NotNow(
                {
                    "planning": "a plan is being made; wait, or stop it",
                    "draft": "keep the new week or put it aside first",
                    "open": "there is no new week to keep or put aside",
                }[self.phase]
            )


def free_folder(folder: Path) -> Path:
    """Return the folder beside a plan's for what is kept: the first of its name that is free."""
    settle(folder)
    name, count = _ENDING.sub("", folder.resolve().name), 1
    around = folder.parent if folder.name not in ("", "..") else folder.resolve().parent
    while True:
        free = around / f"{name}-adjusted{'' if count == 1 else f'-{count}'}"
        if not free.exists():
            return free
        count += 1
