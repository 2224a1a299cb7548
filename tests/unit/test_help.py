"""Help and completion: every option says its default, every command shows an example."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from kitchens import write_kitchen
from planopt import cli
from planopt.cli.helping import SECTIONS
from planopt.cli.shared import say
from planopt.front.pricing import PackPrice
from planopt.report.files.folder import plan_json
from report_samples import sample_plan

runner = CliRunner()
ROOT: Any = typer.main.get_command(cli.app)


def _commands(command: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    inside = getattr(command, "commands", {})
    for name, part in inside.items():
        yield from _commands(part, (*path, name))
    if not inside:
        yield path, command


COMMANDS = dict(_commands(ROOT, ()))
# Where nobody can be asked, what has no default has to be given.
_TELLS = ("Default", "Needed")


def _help(*path: str) -> str:
    done = runner.invoke(cli.app, [*path, "--help"], env={"COLUMNS": "80"}, prog_name="planopt")
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_every_option_says_its_default_and_every_command_an_example(path: tuple[str, ...]) -> None:
    """Options with a value tell what holds without them; the example is one of the guide's."""
    for option in COMMANDS[path].params:
        if not option.opts[0].startswith("--") or option.required or option.is_flag:
            continue
        shown = option.default not in (None, ()) and option.show_default
        assert shown or any(word in option.help for word in _TELLS), option.opts[0]
    text = _help(*path)
    example = text.split("\nExample:\n")[1]
    assert example.startswith(f"  planopt {' '.join(path)}")
    assert max(map(len, text.splitlines())) <= 80


def test_commands_stand_in_the_order_that_a_coach_meets_them() -> None:
    """Each in a section of its own, told whole."""
    text = _help()
    named = [name for _, names in SECTIONS for name in names]
    assert set(ROOT.commands) <= set(named)
    assert len(named) == len(set(named))
    places = [text.index(f"\n{title}:\n") for title, _ in SECTIONS]
    assert places == sorted(places)
    for name in ("new", "plan", "weeks"):
        assert text.index(f"\n  {name} ") < text.index("\n  schema ")
    assert "..." not in text.replace("[ARGS]...", "")
    assert "Commands:" not in text, "none is left over"


def _completed(words: str) -> list[str]:
    parts = words.split(" ")
    done = runner.invoke(
        cli.app,
        [],
        env={
            "_PLANOPT_COMPLETE": "complete_bash",
            "COMP_WORDS": words,
            "COMP_CWORD": str(len(parts) - 1),
        },
        prog_name="planopt",
    )
    return done.stdout.split()


def test_a_shell_completes_what_is_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Scenario files and no others, dishes of the catalog, clients of a plan, topics, options."""
    path = write_kitchen(tmp_path)
    (tmp_path / "scenarios").mkdir()
    path.rename(tmp_path / "scenarios" / "week.yaml")
    (tmp_path / "notes.yaml").write_text("remember: milk\n", encoding="utf-8")
    (tmp_path / "done").mkdir()
    (tmp_path / "done" / "plan.json").write_text(plan_json(sample_plan()), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert "scenarios/week.yaml" in _completed("planopt plan ")
    assert "notes.yaml" not in _completed("planopt plan ")
    assert _completed("planopt weeks scenarios/w") == ["scenarios/week.yaml"]
    assert _completed("planopt recipe egg_") == ["egg_rice"]
    assert _completed("planopt show ") == ["done"]
    assert _completed("planopt show done client --client ") == ["ana", "ben"]
    assert _completed("planopt show nothing client --client ") == []
    assert _completed("planopt guide sc") == ["scenario", "schema"]
    assert _completed("planopt plan --time") == ["--time-limit"]


def test_completion_can_be_installed() -> None:
    """The option of README.md is there."""
    assert "--install-completion" in _help()


def test_sentences_end_within_80_columns_and_paths_stay_whole(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What `next` and `carry` say is wrapped; a long path can still be copied."""
    path = "/a/long/path" * 9
    say("Name the file under stock_files: in the next scenario, " * 3 + path)
    *lines, last = capsys.readouterr().out.splitlines()
    assert len(lines) > 1
    assert max(map(len, lines)) <= 80
    assert last == path


def test_a_list_of_prices_cuts_no_id(monkeypatch: pytest.MonkeyPatch) -> None:
    """An id is what the next command needs."""
    food, seller = "a_food_with_an_id_of_many_letters", "a_seller_with_a_long_id"
    row = PackPrice(
        food, seller, "pack", Decimal(500), "g", Decimal("1.60"), Decimal("3.20"), "USD", date.min
    )
    monkeypatch.setattr(cli.prices.pricing, "price_rows", lambda *foods, **more: [row])
    shown = runner.invoke(cli.app, ["prices", "list"]).stdout
    assert f"{food}  {seller}  500 g" in shown
