"""YAML files changed in place: the change is made, and every other byte is as it was."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.faults import BadInput
from planopt.reading.documents import parse_document
from planopt.writing.yamlfile import YamlFile

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = sorted((ROOT / "scenarios").glob("*.yaml"))


def edit(tmp_path: Path, text: str, *changes: tuple[Any, ...]) -> str:
    """Return the text after some calls of `set`."""
    path = tmp_path / "file.yaml"
    path.write_bytes(text.encode())
    file = YamlFile(path)
    for change in changes:
        file.set(*change)
    file.save()
    return path.read_bytes().decode()


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_shipped_scenarios_lose_nothing_but_what_is_set(path: Path, tmp_path: Path) -> None:
    """Added lines are those asked for; no line is taken away."""
    old = path.read_text(encoding="utf-8")
    new = edit(tmp_path, old, (("note",), "Changed."), (("budget_note",), "x", ("budget", "name")))
    lines = list(difflib.ndiff(old.splitlines(), new.splitlines()))
    gone = [line for line in lines if line.startswith("- ")]
    assert all(line.startswith("- note:") for line in gone)
    assert "+ budget_note: x" in lines


@pytest.mark.parametrize(
    ("text", "path", "value", "wanted"),
    [
        ("a: 1   # one\nb: 2\n", ("a",), 3, "a: 3   # one\nb: 2\n"),
        ("a: 1   # one\n\n# of b\nb: 2\n", ("c",), 3, "a: 1   # one\n\n# of b\nb: 2\nc: 3\n"),
        ("a: {b: 1}  # x\n", ("a", "c"), 2, "a: {b: 1, c: 2}  # x\n"),
        ("a: {}\n", ("a", "c"), 2, "a: {c: 2}\n"),
        ("a: []\n", ("a", 0), 2, "a: [2]\n"),
        ("a: [1]\n", ("a", 1), "x y", "a: [1, x y]\n"),
        ("a:\n- 1\n# end\n", ("a", 1), 2, "a:\n- 1\n- 2\n# end\n"),
        ("a:\n  - b: 1\n\nc: 2\n", ("a", 1), {"b": 2}, "a:\n  - b: 1\n  - {b: 2}\n\nc: 2\n"),
        ("a:\n# end", ("a",), [1, 2], "a: [1, 2]\n# end"),
        ("a:  # none\nb: 1\n", ("a", "x"), {"y": {"z": 1}}, None),
        ("a: |\n  text\n\n  more\nb: 1\n", ("a",), "x", "a: x\nb: 1\n"),
        ("a: |\n  text\nb: 1\n", ("c",), 2, "a: |\n  text\nb: 1\nc: 2\n"),
        ("b: 1\na: |\n  text\n", ("c",), 2, "b: 1\na: |\n  text\nc: 2\n"),
        ("a: 'it''s'", ("b",), "0123", "a: 'it''s'\nb: '0123'\n"),
        ("a:\n  b:\n    c: 1  # deep\n# end\n", ("a", "d"), 1, None),
        ("a: 1\r\nb: 2\r\n", ("a",), 3, "a: 3\r\nb: 2\r\n"),
        ("ä: ü  # ö\n", ("x",), "ß: 1", "ä: ü  # ö\nx: 'ß: 1'\n"),
    ],
)
def test_forms_of_a_file(
    text: str, path: tuple[str | int, ...], value: object, wanted: str | None, tmp_path: Path
) -> None:
    """Block and flow, empty and missing, quoted and folded; Windows line ends."""
    new = edit(tmp_path, text, (path, value))
    if wanted is not None:
        assert new == wanted
    found: Any = parse_document(new, "x")[0].data  # type: ignore[union-attr]
    for part in path:
        found = found[part]
    assert found == value
    assert all(comment in new for comment in ("# none", "# deep", "# end") if comment in text)


def test_a_shared_place_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    """An alias would change another client as well."""
    path = tmp_path / "file.yaml"
    text = "clients:\n  - &one {id: a, w: {e: 1}}\n  - {<<: *one, id: b}\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as told:
        YamlFile(path).set(("clients", 0, "w", "e"), 2)
    assert told.value.faults[0].code == "yaml_not_changed"
    assert path.read_text(encoding="utf-8") == text


def test_drop_takes_the_lines_of_one_key(tmp_path: Path) -> None:
    """Its comment on the same line goes with it; the next line's stays."""
    path = tmp_path / "file.yaml"
    path.write_text("a: 1\nb:  # gone\n  - x\n  - y\n# of c\nc: 3\n", encoding="utf-8")
    file = YamlFile(path)
    file.drop(("b",))
    file.drop(("nothing",))
    file.save()
    assert path.read_text(encoding="utf-8") == "a: 1\n# of c\nc: 3\n"


KEYS = st.sampled_from(["a", "b", "c", "d"])
LEAVES = st.one_of(st.integers(-9, 9), st.sampled_from(["x", "two words", "0:1", "# no", "", "y"]))
DATA = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.dictionaries(KEYS, inner, max_size=3), st.lists(inner, min_size=1, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=60, deadline=None)
@given(st.dictionaries(KEYS, DATA, min_size=1, max_size=4), KEYS, DATA, st.booleans())
def test_any_file_says_afterwards_what_was_set(
    tmp_path_factory: pytest.TempPathFactory, data: Any, key: str, value: Any, flow: bool
) -> None:
    """Either the file is changed exactly so, or it is refused; a wrong file is never written."""
    path = tmp_path_factory.mktemp("any") / "file.yaml"
    path.write_text(yaml.safe_dump(data, default_flow_style=flow), encoding="utf-8")
    file = YamlFile(path)
    before = file.data
    file.set((key,), value)
    assert {k: v for k, v in file.data.items() if k != key} == {
        k: v for k, v in before.items() if k != key
    }
    if not (isinstance(value, dict) and isinstance(before.get(key), dict)):
        assert file.data[key] == value
