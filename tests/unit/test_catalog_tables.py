"""Reading of CSV tables."""

from __future__ import annotations

from pathlib import Path

from planopt.reading.tables import read_sheet


def sheet_of(tmp_path: Path, text: str) -> list[tuple[int, dict[str, str]]]:
    """Write and read a table of two columns, a and b, without faults."""
    path = tmp_path / "t.csv"
    path.write_bytes(text.encode())
    sheet = read_sheet(path, ("a", "b"))
    assert sheet.faults == []
    return [(row.line, row.cells) for row in sheet.rows]


def test_lines_are_physical_after_a_quoted_line_break(tmp_path: Path) -> None:
    """A cell that spans two lines does not shift the line numbers of later rows."""
    rows = sheet_of(tmp_path, 'a,b\n1,"x\ny"\n2,z\n')
    assert rows == [(2, {"a": "1", "b": "x\ny"}), (4, {"a": "2", "b": "z"})]


def test_blank_lines_are_passed_over_and_counted(tmp_path: Path) -> None:
    """Empty lines hold no row but keep their line numbers."""
    assert sheet_of(tmp_path, "a,b\n\n,\n1,2\n") == [(4, {"a": "1", "b": "2"})]


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path: Path) -> None:
    """A table saved by a spreadsheet on Windows reads like any other."""
    assert sheet_of(tmp_path, "\ufeffa,b\r\n1,2\r\n") == [(2, {"a": "1", "b": "2"})]


def test_columns_may_stand_in_any_order_and_cells_are_stripped(tmp_path: Path) -> None:
    """Cells belong to the column of their header, without the spaces around them."""
    assert sheet_of(tmp_path, "b, a\n 2 , 1\n") == [(2, {"b": "2", "a": "1"})]


def test_an_optional_column_may_be_left_out(tmp_path: Path) -> None:
    """Only the columns that are not optional are missed."""
    path = tmp_path / "t.csv"
    path.write_text("a\n1\n", encoding="utf-8")
    assert read_sheet(path, ("a", "b"), optional=("b",)).faults == []
    assert [fault.code for fault in read_sheet(path, ("a", "b")).faults] == ["missing_column"]


def test_all_faults_of_a_table_are_gathered(tmp_path: Path) -> None:
    """A table with several faults reports each of them once."""
    path = tmp_path / "t.csv"
    path.write_text("a,c,c\n1\n1,2,3,4\n", encoding="utf-8")
    sheet = read_sheet(path, ("a", "b"))
    assert [fault.code for fault in sheet.faults] == [
        "duplicate_column",
        "unknown_column",
        "missing_column",
        "row_length",
        "row_length",
    ]
    assert not sheet.usable
