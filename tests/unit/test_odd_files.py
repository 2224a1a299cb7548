"""Files that are not ordinary, files that are too much, names that cannot be seen: all refused."""

from __future__ import annotations

import ast
import json
import os
import signal
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import planopt
from kitchens import edited, tiny_catalog_files, tiny_client, write_kitchen
from planopt.carry import is_stock_file
from planopt.catalog.load import read_catalog
from planopt.faults import BadInput, Fault
from planopt.letters import escaped, odd_letter
from planopt.plan.file import read_plan
from planopt.reading import tables
from planopt.reading.files import MOST_BYTES, MOST_PLAN_BYTES, NotOrdinary, regular_bytes
from planopt.report.files.folder import write_plan
from planopt.runs.layout import RunFolder
from planopt.scenario.households.parties import load_kitchens
from planopt.scenario.households.paths import check_paths
from planopt.scenario.reading.load import load_kitchen, load_scenario
from report_samples import sample_catalog, sample_plan, sample_scenario

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes and devices are of POSIX")
HOUSE = Path(planopt.__file__).parent


@pytest.fixture(autouse=True)
def in_time() -> Iterator[None]:
    """A reader that waits for a pipe fails instead of waiting for ever."""

    def late(number: int, frame: object) -> None:
        raise TimeoutError("somebody waits for a file")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _folder(path: Path) -> None:
    path.mkdir()


def _large(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(MOST_PLAN_BYTES + 1)


_PIPE = "this is a pipe or a device, and only ordinary files are read"
_KINDS: list[tuple[Callable[[Path], None], str, str]] = [
    (_pipe, "not_a_file", _PIPE),
    (_device, "not_a_file", _PIPE),
    (_folder, "not_a_file", "this is a folder, a file is needed"),
    (_large, "file_too_large", "it has more than 16 MB, the most that is read of such a file"),
]


def _put(path: Path, make: Callable[[Path], None]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    make(path)


def _raised(read: Callable[[Path], object], path: Path) -> tuple[Fault, ...]:
    with pytest.raises(BadInput) as caught:
        read(path)
    return caught.value.faults


@pytest.mark.parametrize(("make", "code", "why"), _KINDS)
@pytest.mark.parametrize(
    "name",
    [
        "scenario.yaml", "catalogs/foods.csv", "catalogs/recipes/oat_porridge.yaml",
        "roster.csv", "roster.yaml", "stock.yaml", "hand/home.yaml",
    ],
)  # fmt: skip
def test_every_reader_of_a_kitchen_reads_ordinary_files_alone(
    tmp_path: Path, name: str, make: Callable[[Path], None], code: str, why: str
) -> None:
    """Scenario, table, recipe, roster, stock file and stock folder: the fault names the file."""
    keys: dict[str, object] = {}
    if name.startswith("roster"):
        keys = {"clients": None, "roster": name}
    elif name == "stock.yaml":
        keys = {"stock_files": [name]}
    elif name.startswith("hand"):
        keys = {"clients": [tiny_client(household="home")], "stock_folder": "hand"}
    scenario = write_kitchen(tmp_path, **keys)
    _put(tmp_path / name, make)
    read = load_kitchens if name.startswith(("roster", "hand")) else load_kitchen
    if name.startswith("hand"):
        faults = tuple(fault for part in load_kitchens(scenario).parts for fault in part.faults)
    else:
        faults = _raised(read, scenario)
    assert [(f.file, f.code, f.why) for f in faults if f.file.endswith(name)] == [
        (str(tmp_path / name), code, why)
    ]
    if (name, make) != ("scenario.yaml", _folder):
        assert any(fault.code == code for fault in check_paths([scenario]))


@pytest.mark.parametrize(("make", "code", "why"), _KINDS)
def test_every_reader_of_what_planopt_wrote_does_so(
    tmp_path: Path, make: Callable[[Path], None], code: str, why: str
) -> None:
    """Plan, run, proof and kitchen file; a plan may be larger than what people write."""
    run = RunFolder(tmp_path)
    for name in ("plan.json", "run.json", "failed/ana.json", "kitchens/ana.yaml"):
        _put(tmp_path / name, make)
    why = why.replace("16", "64")
    (fault,) = _raised(read_plan, tmp_path)
    assert (fault.code, fault.why) == ("plan_unreadable", f"it cannot be read: {why}")
    (fault,) = _raised(lambda _: run.read_index(), tmp_path)
    assert (fault.code, fault.why) == ("run_unreadable", f"it cannot be read: {why}")
    assert run.proven_failure("ana", "0", "1") is None
    assert not is_stock_file(tmp_path / "kitchens" / "ana.yaml")
    if make is not _folder:
        run.write_kitchen("ana", "days: 3\n")
        assert (tmp_path / "kitchens" / "ana.yaml").read_text(encoding="utf-8") == "days: 3\n"


def test_a_pipe_that_takes_the_name_meanwhile_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is opened is looked at again."""
    path = tmp_path / "x.yaml"
    os.mkfifo(path)
    (tmp_path / "y").write_text("y", encoding="utf-8")
    facts = os.stat(tmp_path / "y")
    with monkeypatch.context() as patched:
        patched.setattr("os.stat", lambda _: facts)
        with pytest.raises(NotOrdinary):
            regular_bytes(path)


def test_a_file_of_the_most_bytes_is_read(tmp_path: Path) -> None:
    """The limit is the one that is told."""
    path = tmp_path / "x.yaml"
    with path.open("wb") as file:
        file.truncate(MOST_BYTES)
    assert len(regular_bytes(path)) == MOST_BYTES


@pytest.mark.parametrize("name", ["n" * 300, "d/" * 3000 + "x"])
def test_paths_that_are_too_long_are_faults(tmp_path: Path, name: str) -> None:
    """As a scenario, in one, and for the check."""
    for suffix in (".yaml", ".csv", ""):
        faults = check_paths([tmp_path / f"{name}{suffix}"])
        assert [fault.code for fault in faults] == ["file_unreadable"]
        assert faults[0].why == "the file cannot be read: file name too long"
    keys = {"catalog": name, "stock_files": [name]}
    codes = {f.code for f in _raised(load_kitchen, write_kitchen(tmp_path, **keys))}
    assert codes == {"catalog_missing", "stock_file_missing"}
    roster = write_kitchen(tmp_path, clients=None, roster=f"{name}.csv")
    assert {f.code for f in _raised(load_kitchens, roster)} == {"file_unreadable"}


# ------------------------------------------------------------------ too much


@pytest.mark.parametrize(
    ("limit", "most", "text"),
    [
        ("MOST_ROWS", 3, "a,b\n" + "1,2\n" * 4),
        ("MOST_CELLS", 9, "a,b\n" + "1,2\n" * 4),
        ("MOST_COLUMNS", 4, "a,b,c,d,e\n"),
    ],
)
def test_a_table_that_is_too_much_is_one_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, most: int, text: str
) -> None:
    """Rows, cells and columns are counted as they are read, and nothing else is said of it."""
    monkeypatch.setattr(tables, limit, most)
    path = tmp_path / "x.csv"
    path.write_text(text, encoding="utf-8")
    sheet = tables.read_sheet(path, ("a", "b"), any_other=True)
    assert [fault.code for fault in sheet.faults] == ["too_many_values"]
    assert not sheet.usable
    monkeypatch.setattr(tables, limit, 10)
    assert tables.read_sheet(path, ("a", "b"), any_other=True).faults == []


def test_aliases_in_a_scenario_are_counted(tmp_path: Path) -> None:
    """The whole file is refused, before anything is made of it."""
    scenario = write_kitchen(tmp_path)
    levels = "\n".join(f"k{i}: &k{i} [{', '.join([f'*k{i - 1}'] * 9)}]" for i in range(1, 30))
    with scenario.open("a", encoding="utf-8") as file:
        file.write(f"k0: &k0 [1]\n{levels}\n")
    assert {f.code for f in _raised(load_kitchen, scenario)} == {"too_many_values"}
    assert {f.code for f in _raised(load_scenario, scenario)} == {"too_many_values"}


# ------------------------------------------------------------------ names that cannot be seen

ODD = ["\x1b[2J", "\x07", "\u202e", "\u2066", "\u200f", "\u200b", "\u00ad", "\u2028", "\x9b", "\n"]


@pytest.mark.parametrize("odd", ODD)
def test_no_name_has_characters_that_cannot_be_seen(tmp_path: Path, odd: str) -> None:
    """In a scenario, a household, a variant, a stock file, a recipe and a table."""
    name = f"An{odd}a"
    recipe = tiny_catalog_files()["recipes/oat_porridge.yaml"]
    line = next(line for line in recipe.splitlines() if line.startswith("name:"))
    files = {
        "recipes/oat_porridge.yaml": recipe.replace(line, f"name: {json.dumps(name)}"),
        **edited("sellers.csv", "Market stall", f'"{name}"'),
    }
    keys = {
        "name": name,
        "clients": [tiny_client(name=name)],
        "variants": [{"name": name, "recipes": {"exclude": ["oat_porridge"]}}],
        "stock_files": [name],
    }
    scenario = write_kitchen(tmp_path, files=files, **keys)
    faults = [*_raised(load_kitchen, scenario), *read_catalog(tmp_path / "catalogs").faults]
    fields = {(Path(f.file).name, f.field) for f in faults if f.code == "odd_character"}
    wanted = {
        ("scenario.yaml", "name"),
        ("scenario.yaml", "clients[0].name"),
        ("scenario.yaml", "variants[0].name"),
        ("scenario.yaml", "stock_files[0]"),
        ("oat_porridge.yaml", "name"),
        ("sellers.csv", "name"),
    }
    assert fields == wanted
    for fault in faults:
        assert fault.text().replace("\n", "").isprintable()


@pytest.mark.parametrize("odd", ODD)
def test_no_name_in_a_roster_has_them(tmp_path: Path, odd: str) -> None:
    """As a table and as YAML; the others of the roster are planned."""
    (tmp_path / "roster.csv").write_text(
        f'id,name,household\nana,"An{odd}a",home\nbo,Bo,home\n', encoding="utf-8", newline=""
    )
    scenario = write_kitchen(tmp_path, clients=None, roster="roster.csv")
    faults = check_paths([scenario])
    assert [(f.line, f.code) for f in faults] == [(2, "odd_character")]
    clients = [{"id": "ana", "name": f"An{odd}a"}, {"id": "bo", "name": "Bo"}]
    (tmp_path / "roster.yaml").write_text(json.dumps({"clients": clients}), encoding="utf-8")
    scenario = write_kitchen(tmp_path, clients=None, roster="roster.yaml")
    assert [f.code for f in check_paths([scenario])] == ["odd_character"]


def test_prose_may_have_lines_and_letters_may_be_joined(tmp_path: Path) -> None:
    """Steps on several lines, emoji and scripts that need joiners are ordinary."""
    recipe = tiny_catalog_files()["recipes/oat_porridge.yaml"]
    name = "Zoë \U0001f469\u200d\U0001f373 \u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645"
    files = {"recipes/oat_porridge.yaml": f"{recipe}  - do: |\n      One line,\n      another.\n"}
    kitchen = load_kitchen(write_kitchen(tmp_path, files=files, clients=[tiny_client(name=name)]))
    assert kitchen.scenario.clients[0].name == name
    assert kitchen.catalog.recipes["oat_porridge"].steps[-1].do == "One line,\nanother."


def test_a_plan_edited_by_hand_has_none_either(tmp_path: Path) -> None:
    """The names of a plan go to a screen and into files."""
    write_plan(sample_plan(), sample_catalog(), sample_scenario(), tmp_path / "week")
    path = tmp_path / "week" / "plan.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    data["scenario_name"] = "we\x1b[31mek"
    path.write_text(json.dumps(data), encoding="utf-8")
    (fault,) = _raised(read_plan, tmp_path / "week")
    assert fault.text() == (
        f"{path}: scenario_name: 'we\\x1b[31mek' [odd_character]\n"
        "    why: it holds U+001B (escape)\n"
        "    mend: write the text again without it"
    )


def test_no_file_name_has_them(tmp_path: Path) -> None:
    """Neither one that is read nor one that is not valid text at all."""
    for name in ("a\u202eb.yaml", "a\nb.yaml", "a\udcffb.yaml"):
        (tmp_path / name).write_text("days: 3\n", encoding="utf-8")
        (fault,) = check_paths([tmp_path / name])
        assert fault.code == "odd_character"
        assert fault.text().replace("\n", "").isprintable()


def test_what_is_odd_is_never_shown() -> None:
    """All that is refused is escaped in messages; what is let in are spaces and joiners."""
    let_in = set()
    for letter in map(chr, (*range(0x3000), *range(0xD7F0, 0x10000), *range(0xE0000, 0xE0200))):
        text = f"a{letter}b"
        assert escaped(text).isprintable()
        if odd_letter(text) is None and not letter.isprintable():
            let_in.add(unicodedata.category(letter))
        elif odd_letter(text) is not None:
            assert not letter.isprintable()
    # Spaces of all widths, the two joiners, and what has no meaning yet or one of its owner's own.
    assert let_in == {"Zs", "Cf", "Cn", "Co"}
    formats = {c for c in map(chr, range(0x3000)) if unicodedata.category(c) == "Cf"}
    assert {c for c in formats if odd_letter(c) is None} == set("\u200c\u200d")


# ------------------------------------------------------------------ one way to read

# Modules that read what planopt has just made or was installed with, and nothing of the user's.
OWN = {
    "guide/pages.py",
    "overview/page.py",
    "starter.py",
    "runs/jobs.py",
    "report/files/pdf.py",
    "solve/annealing/compiled.py",
}
# Published tables are larger than what people write: their reader has a rule of its own.
OWN |= {"intake/bundle.py", "intake/sr28.py"}
# A page and a browser are opened, which are no files of the user.
OWN |= {"edit/server.py", "edit/serving.py"}
OWN |= {"reading/files.py", "folders.py", "diskcalls.py", "streams.py", "solve/highs/solver.py"}


def test_files_of_the_user_are_read_in_one_place() -> None:
    """No other module opens a file by itself."""
    users = set()
    for path in HOUSE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(node, "attr", getattr(node, "id", ""))
            if name in ("read_bytes", "open") or (
                name == "read_text" and isinstance(node, ast.Attribute)
            ):
                users.add(path.relative_to(HOUSE).as_posix())
    assert users <= OWN, users - OWN
