"""Defaults of a person: where they are from, what goes before them, and what they never change."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

import pytest
from typer.testing import CliRunner

import planopt
from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from planopt import cli
from planopt.report.files.folder import CSV_FILES, on_sheet
from planopt.report.files.pdf import PAPERS
from planopt.report.words.locale import Display
from planopt.scenario.defaults import DEFAULTS_FILE, Defaults, defaults_for, read_defaults
from planopt.scenario.labelsheet import LabelSheet
from unit.guidepages import GUIDE, blocks

runner = CliRunner()
SHORT = ("--work-limit", "1", "--gap", "90%", "--quiet")
GERMAN = "locale: de_DE\nunits: us\nbyte_order_mark: true\nhandles: true\n"
MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Home:
    """A kitchen with a plan made as usual, and a user's folder of settings."""

    folder: Path
    settings: Path

    def plan(self, *words: str, out: str = "week") -> dict[str, Any]:
        """Plan by the command line and return plan.json."""
        done = runner.invoke(cli.app, ["plan", "scenario.yaml", "--out", out, *SHORT, *words])
        assert done.exit_code == 0, done.output
        found: dict[str, Any] = json.loads(Path(out, "plan.json").read_text(encoding="utf-8"))
        return found


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Home:
    """Return a kitchen of one day, entered, where defaults are looked for as on any machine."""
    monkeypatch.delenv("PLANOPT_DEFAULTS")
    settings = tmp_path / "settings"
    monkeypatch.setattr(
        "planopt.scenario.defaults.user_config_path", lambda name, appauthor: settings / name
    )
    write_kitchen(tmp_path, days=1)
    monkeypatch.chdir(tmp_path)
    return Home(tmp_path, settings / "planopt")


def _write(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / DEFAULTS_FILE
    file.write_text(text, encoding="utf-8")
    return file


def test_the_nearest_file_counts_alone(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    """The variable goes before the file beside the scenario, and that before the user's own."""
    scenario = home.folder / "scenario.yaml"
    assert defaults_for(scenario).file is None
    own = _write(home.settings, "locale: de_DE\nunits: us\n")
    assert defaults_for(scenario).file == own
    beside = _write(home.folder, "locale: fr_FR\n")
    found = defaults_for(scenario)
    assert (found.file, found.defaults.locale) == (beside, "fr_FR")
    assert found.defaults.units == "recipe", "files are not mixed"
    assert defaults_for().file == own, "without a scenario nothing is beside it"
    named = _write(home.folder / "elsewhere", "units: metric\n")
    monkeypatch.setenv("PLANOPT_DEFAULTS", str(named))
    assert defaults_for(scenario).defaults == Defaults(units="metric")
    monkeypatch.setenv("PLANOPT_DEFAULTS", "")
    assert defaults_for(scenario).file is None


def test_defaults_change_how_a_plan_is_shown_and_no_number(home: Home) -> None:
    """The record tells what was used and from where; all else of plan.json is the same."""
    before = home.plan()
    assert before["shown"] == {}
    _write(home.folder, GERMAN)
    after = home.plan(out="other")
    assert after.pop("shown") == {
        "locale": "de_DE", "units": "us", "byte_order_mark": "yes", "names": "handles",
        "defaults": DEFAULTS_FILE,
    }  # fmt: skip
    del before["shown"]
    for plan in (before, after):
        for name in ("solve_seconds", "build_seconds"):
            del plan["solution"][name]
    text = json.dumps(before).replace('"Ana', '"ana')
    assert json.dumps(after).replace('"Ana', '"ana') == text
    for name in CSV_FILES:
        usual, mine = (Path(folder, name).read_bytes() for folder in ("week", "other"))
        assert mine.startswith(MARK), name
        assert mine.removeprefix(MARK).replace(b"Ana", b"ana") == usual.replace(b"Ana", b"ana")
        assert not usual.startswith(MARK)
    assert "Nov. 2026" in Path("other", "report.md").read_text(encoding="utf-8")
    shown = runner.invoke(cli.app, ["show", "other", "client"]).stdout
    assert shown.startswith("ana, Mo., 30. Nov. 2026")


def test_an_option_goes_before_the_defaults(home: Home) -> None:
    """Each can be taken back for one plan."""
    _write(home.folder, GERMAN)
    words = ("--locale", "en_US", "--units", "recipe", "--no-byte-order-mark", "--names")
    assert home.plan(*words)["shown"] == {"locale": "en_US", "defaults": DEFAULTS_FILE}
    assert "Ana" in Path("week", "menu.csv").read_text(encoding="utf-8")
    shown = runner.invoke(cli.app, ["show", "week", "client", "--names", "--locale", "fr_FR"])
    assert shown.stdout.startswith("Ana, lun. 30 nov. 2026")


def test_weeks_are_written_as_the_defaults_say(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each household's folder, planned in a process of its own, is shown alike."""
    monkeypatch.setattr("planopt.runs.run.run_in_processes", in_this_process)
    write_kitchen(home.folder, days=1, clients=[tiny_client(household="hill")])
    _write(home.folder, "byte_order_mark: true\nlocale: de_DE\n")
    done = runner.invoke(cli.app, ["weeks", "scenario.yaml", "--out", "run", *SHORT])
    assert done.exit_code == 0, done.output
    (menu,) = Path("run").rglob("menu.csv")
    assert menu.read_bytes().startswith(MARK)
    record = json.loads((menu.parent / "plan.json").read_text(encoding="utf-8"))
    assert record["shown"]["locale"] == "de_DE"


def test_the_library_uses_defaults_only_where_it_is_given_them(home: Home) -> None:
    """`write` and `show` do as told; `planopt.defaults` gives what the command line would use."""
    _write(home.settings, GERMAN)
    plan = planopt.plan("scenario.yaml", work_limit=1, gap=0.9)
    plan.write("usual")
    assert not Path("usual", "menu.csv").read_bytes().startswith(MARK)
    mine = planopt.defaults().defaults
    plan.write("mine", defaults=mine, byte_order_mark=False)
    assert not Path("mine", "menu.csv").read_bytes().startswith(MARK)
    assert "Nov. 2026" in Path("mine", "report.md").read_text(encoding="utf-8")
    plan.write("marked", byte_order_mark=True)
    assert Path("marked", "menu.csv").read_bytes().startswith(MARK)
    assert "Mo., 30. Nov. 2026" in plan.show("client", defaults=mine)
    assert "Mon 2026-11-30" in plan.show("client")


def test_a_sheet_of_the_scenario_goes_before_that_of_the_person(home: Home) -> None:
    """Whoever writes a label sheet into the scenario means it."""
    sheet = LabelSheet(columns=1, rows=2)
    display = Display(label_sheet=sheet)
    plain = planopt.load("scenario.yaml").scenario
    assert on_sheet(plain, display).label_sheet == sheet
    written = plain.model_copy(update={"label_sheet": LabelSheet(rows=4)})
    assert on_sheet(written, display).label_sheet.rows == 4


def test_the_command_shows_values_and_places(home: Home) -> None:
    """As text for people, as JSON for programs; faults have their exit code."""
    _write(home.settings, "units: metric\nlabel_sheet: {rows: 4}\n")
    text = runner.invoke(cli.app, ["defaults", "scenario.yaml"]).stdout
    for words in (
        "units: metric", 'label_sheet: {"rows": 4}', "paper: no PDF", "handles: no",
        "the first found counts alone", f"  {DEFAULTS_FILE}\n",
    ):  # fmt: skip
        assert words in text, words
    data = json.loads(runner.invoke(cli.app, ["defaults", "--json"]).stdout)
    assert data["defaults"]["units"] == "metric"
    assert data["file"].endswith(DEFAULTS_FILE)
    _write(home.settings, "units: metrik\n")
    for words in (["defaults"], ["plan", "scenario.yaml", *SHORT], ["show", "week"]):
        done = runner.invoke(cli.app, words)
        assert done.exit_code == 3, words
        assert "did you mean 'metric'?" in done.stderr


def test_the_example_of_the_guide_is_sound(tmp_path: Path) -> None:
    """Whoever copies it has no fault in the file."""
    (example,) = (block for block in blocks(GUIDE["output"]) if block.language == "yaml")
    defaults, faults = read_defaults(_write(tmp_path, example.text))
    assert faults == []
    assert defaults is not None
    assert defaults.locale == "de_DE"


def test_papers_are_those_that_pages_print_on() -> None:
    """The file and the option know the same papers."""
    kinds = get_args(Defaults.model_fields["paper"].annotation)
    assert {one for kind in kinds for one in get_args(kind)} == set(PAPERS)
