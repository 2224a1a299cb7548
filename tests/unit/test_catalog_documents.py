"""Reading of YAML documents, and the lines of their parts."""

from __future__ import annotations

from pathlib import Path

import pytest

from planopt.reading import documents
from planopt.reading.documents import Document, parse_document, read_document
from planopt.reading.files import path_text, shown

TEXT = """\
name: Soup
keeps: {kind: soups,
  fridge_days: 3}
lines:
  - {food: onion, amount: 1}
  - food: lentils
    amount: 2
windows_on_days:
  3:
    energy_kcal: {min: 1}
"""


def parsed(text: str) -> Document:
    """Parse text that is sound."""
    document, faults = parse_document(text, "f.yaml")
    assert faults == []
    assert document is not None
    return document


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ((), 1),
        (("name",), 1),
        (("keeps", "fridge_days"), 3),
        (("lines",), 4),
        (("lines", 0, "amount"), 5),
        (("lines", 1), 6),
        (("lines", 1, "amount"), 7),
        (("lines", 1, "unit"), 6),
        (("lines", 9, "unit"), 4),
        (("windows_on_days", 3, "energy_kcal", "min"), 10),
    ],
)
def test_line_of_a_path(path: tuple[str | int, ...], line: int) -> None:
    """A path has the line of its key; a part that is missing has that of its owner."""
    assert parsed(TEXT).line(path) == line


def test_dates_stay_text() -> None:
    """A date is left to the field that needs it, so that a wrong one is a fault of that field."""
    assert parsed("use_by: 2026-12-05").data == {"use_by": "2026-12-05"}


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a: 1\nb: [1\n", 3),
        ("a: 1\n\tb: 2\n", 2),
        ("a: 1\nb: 0x_\n", 2),
        ("a: 1\n---\nb: 2\n", 2),
        ("a: *nobody\n", 1),
        ("a: !!python/object:os.system x\n", 1),
        ("a: 1\n? [x]\n: 2\n", 2),
    ],
)
def test_bad_yaml_is_a_fault_with_its_line(text: str, line: int) -> None:
    """What the YAML reader refuses is one fault on the line where it stops."""
    document, faults = parse_document(text, "f.yaml")
    assert document is None
    assert [(fault.code, fault.line) for fault in faults] == [("yaml_syntax", line)]


def test_repeated_keys_are_found_at_any_depth() -> None:
    """Each repeated key is a fault at its second place."""
    _, faults = parse_document("a: {b: 1, b: 2}\nc:\n  - d: 1\n    d: 2\n", "f.yaml")
    assert {(fault.field, fault.line, fault.code) for fault in faults} == {
        ("a.b", 1, "duplicate_key"),
        ("c[0].d", 4, "duplicate_key"),
    }


@pytest.mark.parametrize(("levels", "fine"), [(5, True), (8, False), (30, False), (900, False)])
def test_aliases_may_be_shared_and_stand_for_few(levels: int, fine: bool) -> None:
    """Clients may share windows by an alias; aliases of aliases soon stand for too much."""
    rows = "\n".join(f"k{i}: &k{i} [{', '.join([f'*k{i - 1}'] * 7)}]" for i in range(1, levels))
    document, faults = parse_document(f"k0: &k0 [1]\n{rows}\n", "f.yaml")
    assert (document is not None) == fine
    assert [fault.code for fault in faults] == ([] if fine else ["too_many_values"])


@pytest.mark.parametrize("text", ["a: &a [*a]", "a: &a {b: [1, *a]}", "a: &a\n  - &b [*a, *b]"])
def test_an_alias_of_itself_is_a_fault(text: str) -> None:
    """It would be followed for ever."""
    document, faults = parse_document(text, "f.yaml")
    assert document is None
    assert [fault.code for fault in faults] == ["yaml_syntax"]
    assert "holds the alias itself" in faults[0].why


@pytest.mark.parametrize(("values", "fine"), [(1000, True), (1001, False)])
def test_a_file_may_have_so_many_values(
    monkeypatch: pytest.MonkeyPatch, values: int, fine: bool
) -> None:
    """They are counted before they are kept in memory: the map, its key, the list and the ones."""
    monkeypatch.setattr(documents, "MOST_VALUES", 1000)
    document, faults = parse_document(f"a: [{'1, ' * (values - 3)}]\n", "f.yaml")
    assert (document is not None) == fine
    assert [fault.code for fault in faults] == ([] if fine else ["too_many_values"])


def test_deep_nesting_is_a_fault() -> None:
    """A file of brackets does not end the program."""
    _, faults = parse_document("[" * 100_000, "f.yaml")
    assert [fault.code for fault in faults] == ["yaml_syntax"]


def test_an_empty_document_is_a_fault(tmp_path: Path) -> None:
    """A file with comments only has nothing to read."""
    path = tmp_path / "f.yaml"
    path.write_text("# later\n", encoding="utf-8")
    assert [fault.code for fault in read_document(path)[1]] == ["empty_file"]


def test_values_are_shown_shortly() -> None:
    """Faults show containers by size, long texts cut, and truth values as YAML has them."""
    assert shown({"a": 1}) == "a mapping of 1"
    assert shown([1, 2]) == "a list of 2"
    assert shown(True) == "true"
    assert shown(None) == ""
    assert shown("x" * 100) == "x" * 77 + "..."
    assert shown(10**5000) == "a very long number"


def test_paths_are_written_with_dots_and_brackets() -> None:
    """List positions are in brackets and count from 0; odd keys do no harm."""
    assert path_text(("lines", 3, "unit")) == "lines[3].unit"
    assert path_text((None, True, "x")) == "None.True.x"  # type: ignore[arg-type]


def test_a_time_of_day_stays_text() -> None:
    """YAML 1.1 reads 10:30 as 630 (base 60); YAML 1.2 and cooks read a time. Numbers stay."""
    text = "a: 10:30\nb: 9:00\nc: 09:00\nd: 12\ne: 1.5\nf: 0x1F\ng: 1:2.5\n"
    document, faults = parse_document(text, "times.yaml")
    assert faults == []
    assert document is not None
    assert document.data == {
        "a": "10:30", "b": "9:00", "c": "09:00", "d": 12, "e": 1.5, "f": 31, "g": "1:2.5",
    }  # fmt: skip
