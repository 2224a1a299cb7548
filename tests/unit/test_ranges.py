"""Ranges: every number that people write has one, with its reason."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from typer.models import OptionInfo

import planopt
from extremes import SCENARIO, Spot, base_files, numbers_in, put, spots, write
from kitchens import edited, tiny_client, write_kitchen
from planopt import cli, ranges
from planopt.catalog.records import Catalog, Recipe
from planopt.faults import BadInput
from planopt.ranges import Range
from planopt.reading.validation import validate
from planopt.scenario.households.paths import check_paths
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.records import Scenario, StockFile
from planopt.solve.settings import SolveSettings

RANGES = {name: one for name, one in vars(ranges).items() if isinstance(one, Range)}
WRITTEN = (Catalog, Scenario, StockFile, SolveSettings)


def test_every_number_of_every_record_has_a_range_with_a_reason() -> None:
    """A new field of a number fails here until its range is written down."""
    found = [row for model in WRITTEN for row in numbers_in(model)]
    assert [name for name, _, within in found if within is None] == []
    assert len({name for name, _, _ in found}) > 90
    for name, kind, within in found:
        assert within is not None
        assert len(within.why) > 20, name
        assert within in RANGES.values(), name
        # A decimal is not compared with a binary fraction: 0.001 would be below itself.
        if kind is Decimal:
            assert not {type(within.least), type(within.most)} & {float}, name


def test_no_range_is_left_over() -> None:
    """What nothing uses limits nothing."""
    sources = [path.read_text(encoding="utf-8") for path in Path(planopt.__path__[0]).rglob("*.py")]
    unused = [name for name in RANGES if not any(f"ranges.{name}" in text for text in sources)]
    assert unused == []


def _options(command: Callable[..., Any]) -> Iterator[tuple[str, OptionInfo]]:
    """Yield name and facts of every option of a command that is a number."""
    for name, hint in get_type_hints(command, include_extras=True).items():
        told = [one for one in getattr(hint, "__metadata__", ()) if isinstance(one, OptionInfo)]
        kinds = {hint.__origin__, *get_args(hint.__origin__)} if told else set()
        if kinds & {int, float}:
            yield name, told[0]


def test_every_number_of_an_option_has_both_ends() -> None:
    """Those of the search are fields of its settings; the others have ends of their own."""
    commands = [one.callback for one in cli.app.registered_commands if one.callback is not None]
    found = [row for command in commands for row in _options(command)]
    assert len(found) > 12
    settings = {field.removesuffix("_s") for field in SolveSettings.model_fields}
    # Those of `targets` are judged together, in words of their own; tests/targets holds them.
    together = {"age", "body_fat", "by"}
    for name, option in found:
        if name not in settings | together:
            assert option.min is not None, name
            assert option.max is not None, name


_FILES = base_files()


def _is_document(spot: Spot) -> bool:
    return not spot.file.endswith(".csv")


def _one_each() -> list[Spot]:
    """Return the numbers of the base kitchen, one for each field of each kind of file."""
    found: dict[object, Spot] = {}
    for spot in spots(_FILES):
        kind = spot.file.split("/")[0]
        found.setdefault((kind, tuple(step for step in spot.path if isinstance(step, str))), spot)
    return list(found.values())


def test_the_base_kitchen_writes_every_number() -> None:
    """No field of a scenario, recipe or stock file is without a number there, nor any table."""
    named = {step for spot in _one_each() for step in spot.path}
    fields = {name.rpartition(".")[2] for model in WRITTEN[:3] for name, _, _ in numbers_in(model)}
    alone = {"us_number", "eu_number", "nutrients", "age_from", "age_to", "amount",
             "meals", "most_dishes_per_meal", "energy_from", "nutrient_price"}  # fmt: skip
    assert fields - named - alone - {"min_by", "max_by"} == set()


def test_numbers_beyond_their_ranges_are_refused_where_they_stand() -> None:
    """One fault each, of the field, with the reason and the range."""
    tried = 0
    for spot in filter(_is_document, _one_each()):
        model: Any = {SCENARIO: Scenario, "more.yaml": StockFile}.get(spot.file, Recipe)
        for value in spot.beyond():
            data = put(_FILES, spot, value)[spot.file]
            if model is Recipe:
                data = {**data, "recipe_id": "any"}
            _, problems = validate(model, data)
            assert [problem.path for problem in problems] == [spot.path]
            assert (problems[0].code, problems[0].why) == ("out_of_range", spot.range.why)
            assert problems[0].mend == f"write a number {spot.range.words()}"
            tried += 1
    assert tried > 120


def test_cells_beyond_their_ranges_are_refused_all_at_once(tmp_path: Path) -> None:
    """Every column of numbers in the tables, a number too large in one row of each."""
    files = _FILES
    cells = [spot for spot in _one_each() if not _is_document(spot)]
    for spot in cells:
        files = put(files, spot, spot.beyond()[0])
    found = {
        (Path(fault.file).name, fault.field, fault.why)
        for fault in check_paths([write(tmp_path, files)])
        if fault.code == "out_of_range"
    }
    assert len(cells) > 20
    assert {(spot.file, str(spot.path[-1]), spot.range.why) for spot in cells} <= found


@pytest.mark.parametrize(
    ("within", "words"),
    [
        (Range(0, 366, "why"), "from 0 to 366"),
        (Range(0, 1, "why", below=True), "from 0 to below 1"),
        (Range(0, 1e-4, "why", above=True), "above 0 and up to 0.0001"),
        (Range(0, 1, "why", above=True, below=True), "above 0 and below 1"),
        (Range(Decimal("0.001"), 10**9, "why"), "from 0.001 to 1000000000"),
    ],
)
def test_a_range_in_words(within: Range, words: str) -> None:
    """As a person would write it, without exponents."""
    assert within.words() == words
    assert within.holds(within.least) != within.above
    assert within.holds(within.most) != within.below


PORRIDGE = "recipes/oat_porridge.yaml"


@pytest.mark.parametrize(
    ("keys", "files", "field", "value"),
    [
        ({"carry_days": 9000000}, {}, "carry_days", "9000000"),
        ({"visit_cost": 10**12}, {}, "visit_cost", "1000000000000"),
        ({"visit_cost": 5000}, {}, "visit_cost", "5000"),
        ({"stock": [{"food": "onion", "amount": 10**12, "unit": "kg"}]}, {}, "stock[0].amount",
         "1000000000000"),
        ({"stock": [{"food": "onion", "amount": 2000, "unit": "kg"}]}, {}, "stock[0].amount",
         "2000"),
        ({"clients": [tiny_client(portions={"step": 1e-9})]}, {}, "clients[0].portions.step",
         "1e-09"),
        ({"clients": [tiny_client(portions={"step": 0.05, "largest": 6})]}, {},
         "clients[0].portions.step", "0.05"),
        ({"appliances": {"oven_batches": 0.001}}, {}, "appliances.oven_batches", "0.001"),
        ({"clients": [tiny_client(windows_per_day={"energy_kcal": {"min": 1500, "max": 8e6}})]},
         {}, "clients[0].windows_per_day.energy_kcal.max", "8e+06"),
        ({"clients": [tiny_client(windows_per_week={"protein_g": {"max": 3e6}})]},
         {}, "clients[0].windows_per_week.protein_g.max", "3e+06"),
        ({}, edited("foods.csv", ",fridge,7,5,", ",fridge,100000000,5,"), "keeps_days",
         "100000000"),
        ({}, edited(PORRIDGE, "most_per_cook_day: 4", "most_per_cook_day: 1000000"),
         "batch.most_per_cook_day", "1000000"),
        ({}, edited(PORRIDGE, "amount: 1.5, unit: cup}",
                    "amount: 150, unit: g, alternatives: [{food: egg, ratio: 1e12}]}"),
         "lines[0].alternatives[0].ratio", "1e12"),
        ({}, edited(PORRIDGE, "amount: 1.5, unit: cup}", "amount: 99999, unit: cup}"),
         "lines[0].amount", "99999"),
        ({}, edited("packs.csv", "milk_1l,milk_whole,corner,pack,1,l",
                    "milk_1l,milk_whole,corner,pack,99999,l"), "size", "99999"),
        ({}, edited("safe_temperatures.csv", "73.9,165", "30,86"), "internal_c", "30"),
    ],
)  # fmt: skip
def test_absurd_numbers_are_refused_by_check_as_by_plan(
    tmp_path: Path, keys: dict[str, Any], files: dict[str, str | None], field: str, value: str
) -> None:
    """Each of these once was accepted, and then crashed the plan or failed its audit."""
    path = write_kitchen(tmp_path, files=files, **keys)
    found = check_paths([path])
    assert (found[0].code, found[0].field, found[0].value) == ("out_of_range", field, value)
    assert found[0].line > 0
    with pytest.raises(BadInput) as caught:
        load_kitchen(path)
    assert list(caught.value.faults) == found


@pytest.mark.parametrize("step", ["any", 0.5])
def test_a_smallest_portion_above_the_largest_is_a_fault(tmp_path: Path, step: float | str) -> None:
    """With any amount too, where 3 servings at least and 2 at most were accepted."""
    sizes = {"step": step, "smallest": 3, "largest": 2}
    (fault,) = check_paths([write_kitchen(tmp_path, clients=[tiny_client(portions=sizes)])])
    assert (fault.code, fault.field) == ("range_reversed", "clients[0].portions.smallest")
    assert fault.why == "smallest is above largest, 2"


def test_a_variant_that_moves_a_window_out_of_reason_is_a_fault(tmp_path: Path) -> None:
    """The sum of two numbers that are fine alone is judged as well."""
    move = {"client": "ana", "nutrient": "energy_kcal", "max_by": 9e9}
    path = write_kitchen(tmp_path, variants=[{"name": "more", "windows": [move]}])
    (fault,) = check_paths([path])
    assert fault.code == "out_of_range"
    assert "nobody eats more than 20000 kcal of it in a day" in fault.why
