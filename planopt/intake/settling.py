"""What recipes leave open: questions for the person, and the file in which they are answered.

One row is one question. Answers stay in the file and hold for the next import; questions that
nobody asks any more and that have no answer go. A `*` stands for every recipe or every thing.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from planopt.faults import Fault, nearest
from planopt.folders import write_file
from planopt.intake.matching import plain_key
from planopt.reading.files import Place
from planopt.reading.tables import read_sheet

ANSWERS_FILE = "import_answers.csv"
COLUMNS = ("ask", "recipe", "about", "answer", "suggestion", "why")
EVERY = "*"
SUGGESTED = "suggested"
LEAVE_OUT = "leave out"
# What may be asked, in the order of the file. The first three are asked once for all recipes.
SENTENCE, FOOD, MEASURE = "sentence", "food", "measure"
OF_RECIPES = ("yield", "meals", "minutes", "oven", "hob", "heat", "keeps", "energy", "allergens")
ASKS = (SENTENCE, FOOD, MEASURE, *OF_RECIPES)
_SHOWN_RECIPES = 3
_FORMULA = ("=", "+", "-", "@", "\t", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@dataclass(frozen=True)
class Question:
    """Something that a person has to settle. `recipes` need it; `recipe` is `*` or one of them.

    A question that does not `wait` holds no recipe back.
    """

    ask: str
    recipe: str
    about: str
    why: str
    suggestion: str = ""
    recipes: tuple[str, ...] = ()
    waits: bool = True

    @property
    def key(self) -> tuple[str, str, str]:
        """Return by what it is found again in the file."""
        return _key(self.ask, self.recipe, self.about)


@dataclass(frozen=True)
class SettledAnswer:
    """One answer as it stands in the file."""

    text: str
    place: Place

    def fault(self, why: str, mend: str, code: str = "answer_not_understood") -> Fault:
        """Return the fault of an answer that cannot be used."""
        return self.place.fault("answer", self.text, why, mend, code)


@dataclass
class SettledAnswers:
    """The answers of one file. What is asked of them and not found is written down."""

    file: Path
    rows: dict[tuple[str, str, str], tuple[dict[str, str], int]] = field(default_factory=dict)
    asked: dict[tuple[str, str, str], Question] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def given(self, question: Question) -> SettledAnswer | None:
        """Return the answer to a question if there is one.

        The answer `suggested` is the suggestion; where there is none it answers nothing.
        """
        for recipe in dict.fromkeys((*question.recipes, question.recipe, EVERY)):
            key = _key(question.ask, recipe, question.about)
            cells, line = self.rows.get(key, ({}, 0))
            text = cells.get("answer", "")
            if text.casefold() == SUGGESTED:
                text = question.suggestion or cells.get("suggestion", "")
            if text:
                return SettledAnswer(text, Place(str(self.file), line))
        return None

    def answer(self, question: Question) -> SettledAnswer | None:
        """Return the answer to a question; without one it is written down to be asked."""
        given = self.given(question)
        if given is None:
            before = self.asked.get(question.key)
            recipes = dict.fromkeys((*(before.recipes if before else ()), *question.recipes))
            self.asked[question.key] = replace(question, recipes=tuple(recipes))
        return given

    def refuse(self, answer: SettledAnswer, why: str, mend: str) -> None:
        """Write down that an answer cannot be used."""
        self.faults.append(answer.fault(why, mend))

    @property
    def questions_open(self) -> list[Question]:
        """Return the questions without an answer, in the order of the file."""
        return sorted(self.asked.values(), key=lambda one: (ASKS.index(one.ask), one.key))

    def text(self) -> str:
        """Return the content of the file: open questions, then what is answered."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        answered = [cells for cells, _ in self.rows.values() if cells.get("answer")]
        done = {_key(cells["ask"], cells["recipe"], cells["about"]) for cells in answered}
        writer.writerow(COLUMNS)
        rows = [row for row in _asked_rows(self.questions_open) if _key(*row[:3]) not in done]
        rows += [[cells.get(column, "") for column in COLUMNS] for cells in answered]
        writer.writerows([_harmless(cell) for cell in row] for row in rows)
        return out.getvalue()

    def write(self) -> None:
        """Write the file, if it would hold anything.

        Raises:
            BadInput: the system refuses to write it.
        """
        text = self.text()
        if text.count("\n") > 1 or self.file.exists():
            write_file(self.file, text)


def read_answers(file: Path) -> SettledAnswers:
    """Return the answers of a file, with its faults; a file that is not there has none."""
    found = SettledAnswers(file)
    if not file.exists():
        return found
    sheet = read_sheet(file, COLUMNS, optional=("suggestion", "why"))
    found.faults += sheet.faults
    for row in sheet.rows if sheet.usable else []:
        if not row.whole:
            continue
        cells = {column: _plain(row.cells.get(column, "")) for column in COLUMNS}
        place = Place(str(file), row.line)
        if cells["ask"] not in ASKS:
            found.faults.append(
                place.fault(
                    "ask",
                    cells["ask"],
                    "nothing of this kind is asked",
                    nearest(cells["ask"], ASKS),
                    "not_a_choice",
                )
            )
            continue
        cells["recipe"], cells["about"] = cells["recipe"] or EVERY, cells["about"] or EVERY
        key = _key(cells["ask"], cells["recipe"], cells["about"])
        before = found.rows.get(key)
        if before is not None and cells["answer"] and before[0]["answer"]:
            found.faults.append(
                place.fault(
                    "about",
                    cells["about"],
                    f"line {before[1]} has this question already",
                    "remove one of the two rows",
                    "duplicate_id",
                )
            )
        elif before is None or cells["answer"]:
            found.rows[key] = (cells, row.line)
    return found


def _key(ask: str, recipe: str, about: str) -> tuple[str, str, str]:
    # What is asked of a recipe is found by its id; its name beside it is for the reader.
    return ask, recipe or EVERY, EVERY if _by_recipe(ask) else plain_key(about or EVERY)


def _harmless(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula: it holds other people's texts."""
    return f"'{cell}" if cell.startswith(_FORMULA) else cell


def _plain(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_FORMULA) else cell


def _by_recipe(ask: str) -> bool:
    return ask in OF_RECIPES and ask != "allergens"


def _asked_rows(questions: Iterable[Question]) -> list[list[str]]:
    rows: list[list[str]] = []
    by_ask: dict[str, list[Question]] = {}
    for question in questions:
        by_ask.setdefault(question.ask, []).append(question)
    for ask, asked in by_ask.items():
        if _by_recipe(ask) and len(asked) > 1:
            why = f"one answer for all {len(asked)} below; {SUGGESTED} takes their suggestions"
            rows.append([ask, EVERY, EVERY, "", "", why])
        rows += [_row(question) for question in asked]
    return rows


def _row(question: Question) -> list[str]:
    why = question.why
    if not _by_recipe(question.ask):
        shown = ", ".join(question.recipes[:_SHOWN_RECIPES])
        more = len(question.recipes) - _SHOWN_RECIPES
        why += f" (in {shown}{f' and {more} more' if more > 0 else ''})"
    return [question.ask, question.recipe, question.about, "", question.suggestion, why]
