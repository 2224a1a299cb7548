"""Plan folders: whole or absent, safe in a spreadsheet, and read back with faults."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from planopt.diskcalls import Disk
from planopt.faults import BadInput
from planopt.plan.file import read_plan
from planopt.report.analysis import tables
from planopt.report.files.folder import (
    PLAN_FILES,
    check_out_dir,
    csv_text,
    plan_json,
    plan_schema,
    recipe_schema,
    scenario_schema,
    write_plan,
)
from report_samples import sample_catalog, sample_plan, sample_scenario


def _write(out_dir: Path) -> list[Path]:
    return write_plan(sample_plan(), sample_catalog(), sample_scenario(), out_dir)


def _names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_written_plan_reads_back_the_same(tmp_path: Path) -> None:
    """Writing and reading plan.json loses nothing, and no scratch folder stays behind."""
    paths = _write(tmp_path / "out" / "week")
    assert {path.name for path in paths} == PLAN_FILES
    assert read_plan(tmp_path / "out" / "week") == sample_plan()
    assert _names(tmp_path / "out") == {"week"}


def test_money_in_plan_json_is_text_with_its_decimals(tmp_path: Path) -> None:
    """Money keeps its trailing zeros and never becomes a binary float."""
    _write(tmp_path / "week")
    data = json.loads((tmp_path / "week" / "plan.json").read_text(encoding="utf-8"))
    assert data["solution"]["grocery_cost"] == "15.10"
    assert [p["price"] for p in data["purchases"]] == ["12.70", "2.40"]


def _bytes(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_an_earlier_plan_is_replaced_and_notes_stay(tmp_path: Path) -> None:
    """Our own files are written anew; a file that the user put beside them is kept."""
    out = tmp_path / "week"
    _write(out)
    (out / "notes.txt").write_text("ask Ana", encoding="utf-8")
    (out / "menu.csv").write_text("old", encoding="utf-8")
    _write(out)
    assert _names(out) == PLAN_FILES | {"notes.txt"}
    assert (out / "menu.csv").read_text(encoding="utf-8").startswith("client_id,")
    assert _names(tmp_path) == {"week"}


def test_an_empty_folder_is_taken_over(tmp_path: Path) -> None:
    """An empty folder is as good as none."""
    (tmp_path / "week").mkdir()
    _write(tmp_path / "week")
    assert _names(tmp_path / "week") == PLAN_FILES


@pytest.mark.parametrize("kind", ["folder", "file", "broken link"])
def test_anything_else_in_the_way_is_a_fault(tmp_path: Path, kind: str) -> None:
    """A folder of other things, a file or a dangling link is never overwritten."""
    out = tmp_path / "week"
    if kind == "folder":
        out.mkdir()
        (out / "thesis.txt").write_text("mine", encoding="utf-8")
    elif kind == "file":
        out.write_text("mine", encoding="utf-8")
    else:
        out.symlink_to(tmp_path / "nowhere")
    with pytest.raises(BadInput) as caught:
        _write(out)
    assert caught.value.faults[0].code == "out_dir_taken"
    assert _names(tmp_path) == {"week"}
    if kind == "folder":
        assert _names(out) == {"thesis.txt"}


@pytest.mark.parametrize("error", [OSError(28, "No space left"), KeyboardInterrupt()])
def test_a_failure_while_writing_leaves_the_old_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    """When the disk fills up, or the user stops it, the earlier plan stays whole and alone."""
    out = tmp_path / "week"
    _write(out)
    before = _bytes(out)
    real = Disk.write

    def failing(self: Disk, path: Path, content: bytes) -> None:
        if path.name == "report.md":
            raise error
        real(self, path, content)

    monkeypatch.setattr(Disk, "write", failing)
    with pytest.raises((BadInput, KeyboardInterrupt)):
        _write(out)
    monkeypatch.undo()
    assert _bytes(out) == before
    assert _names(tmp_path) == {"week"}


def test_a_failing_rename_puts_the_old_plan_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the new folder cannot take its place, the old one returns to it."""
    out = tmp_path / "week"
    _write(out)
    real = os.rename

    def failing(source: Any, target: Any) -> None:
        if str(source).endswith(".new"):
            raise OSError(1, "not permitted")
        real(source, target)

    monkeypatch.setattr("os.rename", failing)
    with pytest.raises(BadInput) as caught:
        _write(out)
    monkeypatch.undo()
    assert caught.value.faults[0].code == "folder_unwritable"
    assert _names(out) == PLAN_FILES
    assert _names(tmp_path) == {"week"}


@pytest.mark.parametrize(
    ("content", "code", "line"),
    [
        (b"{", "plan_json", 1),
        (b'{\n"a": 1\n"b": 2}', "plan_json", 3),
        (b'{"a": NaN}', "plan_json", 0),
        (b"[" * 100_000, "plan_json", 0),
        (b"\xff\xfe", "plan_encoding", 0),
        (b"{}", "plan_field", 0),
        (b"3", "plan_field", 0),
    ],
)
def test_broken_plan_json_gives_faults(
    tmp_path: Path, content: bytes, code: str, line: int
) -> None:
    """Whatever is in plan.json, the answer is a fault with a place, not a traceback."""
    (tmp_path / "plan.json").write_bytes(content)
    with pytest.raises(BadInput) as caught:
        read_plan(tmp_path)
    assert {fault.code for fault in caught.value.faults} == {code}
    assert caught.value.faults[0].line == line


def test_missing_plan_is_a_fault(tmp_path: Path) -> None:
    """A folder without plan.json is named as such."""
    with pytest.raises(BadInput) as caught:
        read_plan(tmp_path)
    assert caught.value.faults[0].code == "plan_unreadable"


def test_each_wrong_field_is_a_fault_of_its_own(tmp_path: Path) -> None:
    """Two wrong fields give two faults that name them."""
    data = json.loads(plan_json(sample_plan()))
    data["format_version"] = 99
    data["purchases"][0]["count"] = "many"
    (tmp_path / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_plan(tmp_path)
    fields = {fault.field: fault for fault in caught.value.faults}
    assert set(fields) == {"format_version", "purchases.0.count"}
    assert "format 1" in fields["format_version"].mend


def test_plan_json_follows_its_published_schema() -> None:
    """The schema is valid in its dialect, accepts a plan and refuses a changed one."""
    schema = plan_schema()
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    data = json.loads(plan_json(sample_plan()))
    assert list(validator.iter_errors(data)) == []
    data["solution"]["grocery_cost"] = 15.1
    assert [list(e.absolute_path) for e in validator.iter_errors(data)] == [
        ["solution", "grocery_cost"]
    ]
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    described = schema["$defs"]["Solution"]["properties"]["best_bound"]
    assert "no compliant plan" in described["description"]


@pytest.mark.parametrize("schema", [scenario_schema(), recipe_schema()])
def test_input_schemas_are_valid(schema: dict[str, Any]) -> None:
    """The schemas of scenario and recipe files are themselves valid."""
    Draft202012Validator.check_schema(schema)


def test_recipe_schema_takes_a_file_without_id() -> None:
    """The id of a recipe is its file's name, so the schema does not ask for it."""
    schema = recipe_schema()
    assert "recipe_id" not in schema["properties"]
    assert "recipe_id" not in schema["required"]
    assert "name" in schema["required"]


_formula_names = st.builds(
    str.__add__, st.sampled_from(("=", "+", "-", "@", "\t")), st.text(max_size=20)
)


@settings(deadline=None)
@given(name=_formula_names)
def test_no_text_cell_of_a_csv_can_act_as_a_formula(name: str) -> None:
    """Names that start like a formula get an apostrophe in front, whatever follows."""
    plan = sample_plan()
    purchases = tuple(p.model_copy(update={"food_name": name}) for p in plan.purchases)
    frame = tables.groceries(
        plan.model_copy(update={"purchases": purchases}), sample_catalog()
    )  # fmt: skip
    rows = list(csv.DictReader(io.StringIO(csv_text(frame, "USD"), newline="")))
    assert {row["food"] for row in rows} == {re.sub(r"[\r\n]+", " ", f"'{name}")}


def test_a_line_break_in_a_name_starts_no_csv_row() -> None:
    """A carriage return inside a name cannot begin a row that a spreadsheet would run."""
    plan = sample_plan()
    named = tuple(p.model_copy(update={"food_name": "rice\r=1+1"}) for p in plan.purchases)
    text = csv_text(
        tables.groceries(plan.model_copy(update={"purchases": named}), sample_catalog()), "USD"
    )
    assert len(text.splitlines()) == 1 + len(named)


def test_numbers_below_zero_stay_numbers_in_csv() -> None:
    """The eve is day -1; a number is no formula and gets no apostrophe."""
    plan = sample_plan()
    early = tuple(p.model_copy(update={"shop_day": -1}) for p in plan.purchases)
    text = csv_text(
        tables.groceries(plan.model_copy(update={"purchases": early}), sample_catalog()), "USD"
    )
    assert text.splitlines()[1].startswith("-1,2027-01-03,barrow,")


@pytest.mark.parametrize("name", [".", ".."])
def test_the_current_folder_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A shell that stands in a folder does not lose it to a rename."""
    (tmp_path / "a").mkdir()
    monkeypatch.chdir(tmp_path / "a")
    with pytest.raises(BadInput) as caught:
        check_out_dir(Path(name))
    assert caught.value.faults[0].code == "folder_is_current"


def test_check_out_dir_accepts_a_new_name(tmp_path: Path) -> None:
    """A folder that does not exist yet needs no permission."""
    check_out_dir(tmp_path / "new")
