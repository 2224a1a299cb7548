"""Import recipes: from files and saved pages into the recipe folder of a catalog.

Recipes that are complete are written; the others wait for answers. A file that is at fault, or a
recipe that breaks a rule of the catalog, stops no other.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from planopt.catalog.checks import check_catalog
from planopt.catalog.load import RECIPES_FOLDER, CatalogReading, read_catalog
from planopt.catalog.records import Recipe
from planopt.faults import BadInput, Fault
from planopt.folders import write_file
from planopt.intake.drafting import Draft, Drafter
from planopt.intake.jsonld import recipes_in
from planopt.intake.lines import LineReader
from planopt.intake.sentences import Cups
from planopt.intake.settling import ANSWERS_FILE, Question, read_answers
from planopt.intake.source import SourceRecipe, read_source
from planopt.intake.writing import is_ours, is_unchanged, recipe_text
from planopt.reading.documents import parse_document
from planopt.reading.files import Place, read_text, regular_bytes
from planopt.reading.validation import validate

SUFFIXES = (".json", ".jsonld", ".html", ".htm", ".xhtml")
MOST_ID = 60
_CATALOG_MARK = "foods.csv"


@dataclass
class Imported:
    """What an import has done.

    `written` and `unchanged` are recipe ids; `kept` are files that a person has made or changed;
    `waiting` recipes lack answers. `faults` are of files and recipes that could not be used.
    """

    answers_file: Path
    drafts: list[Draft] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    unchanged: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)
    without_recipe: list[Path] = field(default_factory=list)
    twice: list[str] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def catalog_in(kitchen: Path) -> Path:
    """Return the catalog folder of a kitchen: the folder itself, or `catalogs` in it.

    Raises:
        BadInput: there is none.
    """
    for folder in (kitchen, kitchen / "catalogs"):
        if (folder / _CATALOG_MARK).is_file():
            return folder
    why = "neither this folder nor a folder catalogs in it has a foods.csv"
    mend = "name a kitchen as `planopt new` makes it, or a catalog folder"
    raise BadInput([Place(str(kitchen), 0).fault("", kitchen.name, why, mend, "catalog_missing")])


def import_recipes(
    paths: Iterable[Path], kitchen: Path, answers: Path | None = None, cups: Cups = "us_customary"
) -> Imported:
    """Import recipes into a kitchen, write those that are complete and the file of questions.

    Raises:
        BadInput: the kitchen's catalog or the answers are at fault; nothing is written then.
        ImportUnavailable: the libraries that this needs are not installed.
    """
    folder = catalog_in(kitchen)
    reading = read_catalog(folder)
    # What recipes there are, if any, is of no concern here; their faults are told by `check`.
    recipes = folder / RECIPES_FOLDER
    grave = [fault for fault in reading.faults if not Path(fault.file).is_relative_to(recipes)]
    if grave:
        raise BadInput(grave)
    settled = read_answers(answers or folder / ANSWERS_FILE)
    done = Imported(settled.file)
    sources = list(_sources(paths, done))
    drafter = Drafter(reading.catalog, settled, LineReader(reading.catalog, settled, cups))
    for recipe_id, source in _named(sources, done):
        done.drafts.append(drafter.draft(recipe_id, source))
    if settled.faults:
        raise BadInput([*settled.faults, *done.faults])
    _write(done, folder, reading)
    settled.write()
    done.questions = settled.questions_open
    return done


def _sources(paths: Iterable[Path], done: Imported) -> Iterator[SourceRecipe]:
    for path in paths:
        if path.is_dir():
            files = sorted(
                p for p in path.rglob("*") if p.suffix.lower() in SUFFIXES and p.is_file()
            )
            found = [source for file in files for source in _in_file(file, done, named=False)]
            if not found and not done.faults:
                why = "no file in this folder has a recipe as JSON-LD"
                _say(done, path, path.name, why, "no_recipe_found")
            yield from found
        else:
            yield from _in_file(path, done, named=True)


def _in_file(path: Path, done: Imported, *, named: bool) -> Iterator[SourceRecipe]:
    text, faults = read_text(path)
    done.faults += faults
    if text is None:
        return
    nodes, bad = recipes_in(text)
    for error in bad:
        done.faults.append(
            Place(str(path), error.line).fault(
                "",
                path.name,
                f"the JSON-LD cannot be read: {error.why}",
                "save the page again, or mend the JSON near this line",
                "json_syntax",
            )
        )
    if not nodes and not bad:
        if named:
            why = "it has no schema.org Recipe as JSON-LD"
            _say(done, path, path.name, why, "no_recipe_found")
        done.without_recipe.append(path)
    for node in nodes:
        source = read_source(node, str(path))
        if not source.name or not source.sentences:
            what = "name" if not source.name else "ingredients"
            why = f"a recipe in it has no {what}"
            _say(done, path, source.name or path.name, why, "recipe_incomplete")
            continue
        yield source


def _say(done: Imported, path: Path, value: str, why: str, code: str) -> None:
    none_found = code == "no_recipe_found"
    mend = "name a file or page that has one" if none_found else "add it, or leave the recipe out"
    done.faults.append(Place(str(path), 0).fault("", value, why, mend, code))


def _named(sources: list[SourceRecipe], done: Imported) -> Iterator[tuple[str, SourceRecipe]]:
    """Yield each recipe with its id: one found twice once, another of its name with a number."""
    seen: set[tuple[str, tuple[str, ...]]] = set()
    taken: set[str] = set()
    for source in sources:
        if (source.name, source.sentences) in seen:
            done.twice.append(source.name)
            continue
        seen.add((source.name, source.sentences))
        stem = recipe_id_of(source.name)
        recipe_id, number = stem, 2
        while recipe_id in taken:
            recipe_id = f"{stem[: MOST_ID - 3]}_{number}"
            number += 1
        taken.add(recipe_id)
        yield recipe_id, source


def recipe_id_of(name: str) -> str:
    """Return the id of a recipe by its name.

    >>> recipe_id_of("Crème brûlée (for 4)"), recipe_id_of("麻婆豆腐")
    ('creme_brulee_for_4', 'recipe')
    """
    plain = unicodedata.normalize("NFKD", name)
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    # An id starts with a letter; numbers at its end may tell recipes apart.
    stem = re.sub(r"[^a-z0-9]+", "_", plain.lower()).lstrip("0123456789_")
    return stem[:MOST_ID].rstrip("_") or "recipe"


def _write(done: Imported, folder: Path, reading: CatalogReading) -> None:
    texts: dict[str, str] = {}
    recipes: dict[str, Recipe] = {}
    at = replace(reading.positions, recipes=dict(reading.positions.recipes))
    for draft in done.drafts:
        if draft.data is None:
            done.waiting.append(draft.recipe_id)
            continue
        path = folder / RECIPES_FOLDER / f"{draft.recipe_id}.yaml"
        text = recipe_text(draft)
        document, faults = parse_document(text, str(path))
        if document is None or not isinstance(document.data, dict):
            done.faults += faults
            continue
        recipe, problems = validate(
            Recipe, {**document.data, "recipe_id": draft.recipe_id}, injected=("recipe_id",)
        )
        done.faults += document.faults(problems)
        if recipe is not None:
            recipes[draft.recipe_id] = recipe
            texts[draft.recipe_id] = text
            at.recipes[draft.recipe_id] = document
    merged = reading.catalog.model_copy(update={"recipes": recipes})
    found = check_catalog(merged, at)
    done.faults += found
    at_fault = {fault.file for fault in found}
    for recipe_id, text in texts.items():
        path = folder / RECIPES_FOLDER / f"{recipe_id}.yaml"
        if str(path) in at_fault:
            continue
        if path.exists():
            before = regular_bytes(path).decode("utf-8", errors="replace")
            if before == text:
                done.unchanged.append(recipe_id)
                continue
            if not (is_ours(before) and is_unchanged(before)):
                done.kept.append(recipe_id)
                continue
        path.parent.mkdir(parents=True, exist_ok=True)
        write_file(path, text)
        done.written.append(recipe_id)
