"""Inputs that once passed without a word: each is a fault or a warning, with its exact text."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
import yaml

from kitchens import tiny_client, tiny_scenario, write_kitchen
from planopt.scenario.checks.names import skeleton
from planopt.scenario.households.parties import read_kitchens
from planopt.scenario.households.paths import check_paths_and_warn

STOCK = "stock: [{food: onion, amount: 1, unit: kg}]\n"


def told(path: Path) -> tuple[list[str], list[str]]:
    """Return the texts of the faults and of the warnings about a file."""
    faults, warnings = check_paths_and_warn([path])
    return [fault.text() for fault in faults], [warning.text() for warning in warnings]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let files be named from an empty folder."""
    monkeypatch.chdir(tmp_path)


# ------------------------------------------------------------------ rosters and days


def test_an_empty_roster_names_nobody() -> None:
    """`roster:` without a file was a run of no clients, and code 0."""
    path = write_kitchen(Path("kitchen"), clients=None)
    with path.open("a", encoding="utf-8") as file:
        file.write("roster:\n")
    text = (
        "kitchen/scenario.yaml:7: roster: '' [no_clients]\n"
        "    why: no file is named, and there are no clients\n"
        "    mend: name the file of the clients"
    )
    assert told(path) == ([text], [])
    assert [fault.text() for fault in read_kitchens(path).faults] == [text]


@pytest.mark.parametrize(
    ("one", "other"), [("1", "1.0"), ("1", "'1'"), ("1.0", "01"), ("1", "+1"), ("1", "true")]
)
def test_one_day_stands_once_in_a_map_however_it_is_written(one: str, other: str) -> None:
    """The last of the two was taken, and a meal that the client is away for was cooked."""
    path = Path("kitchen/scenario.yaml")
    write_kitchen(Path("kitchen"))
    away = f"  away:\n    meals:\n      {one}: [lunch]\n      {other}: [dinner]\n"
    path.write_text(path.read_text(encoding="utf-8") + away, encoding="utf-8")
    faults, _ = check_paths_and_warn([path])
    assert [(fault.code, fault.why) for fault in faults] == [
        ("duplicate_key", "this key stands already on line 18")
    ]


def test_true_is_no_day() -> None:
    """Python takes `true` for 1."""
    path = write_kitchen(Path("kitchen"), clients=[tiny_client(away={"meals": {True: ["lunch"]}})])
    assert [fault.code for fault in check_paths_and_warn([path])[0]] == ["not_a_number"]


def test_a_merge_key_is_no_key_twice() -> None:
    """Anchors and `<<` are read as before."""
    text = yaml.safe_dump({**tiny_scenario(), "clients": []}).replace("clients: []\n", "")
    ana = yaml.safe_dump([tiny_client()]).replace("- id", "- &ana\n  id")
    path = write_kitchen(Path("kitchen"))
    more = "- <<: *ana\n  id: bo\n  name: Bo\n"
    path.write_text(text + "clients:\n" + ana + more, encoding="utf-8")
    assert told(path)[0] == []


def test_a_day_of_a_roster_cell_keeps_all_of_its_meals() -> None:
    """Of `1:lunch|01:dinner` the dinner alone was left."""
    path = write_kitchen(Path("kitchen"), clients=None, roster="clients.csv")
    rows = "id,name,away_meals\nana,Ana,1:lunch|01:dinner\n"
    Path("kitchen/clients.csv").write_text(rows, encoding="utf-8")
    (part,) = read_kitchens(path).parts
    assert part.scenario is not None
    assert part.scenario.clients[0].away.meals == {1: ("lunch", "dinner")}


# ------------------------------------------------------------------ stock files


@pytest.mark.parametrize("link", [os.symlink, os.link], ids=["symbolic", "hard"])
def test_one_stock_file_counts_once_also_by_a_link(link: Any) -> None:
    """What is on hand is not on hand twice."""
    path = write_kitchen(Path("kitchen"), stock_files=["one.yaml", "two.yaml"])
    Path("kitchen/one.yaml").write_text(STOCK, encoding="utf-8")
    link(os.path.abspath("kitchen/one.yaml"), "kitchen/two.yaml")
    assert told(path)[0] == [
        "kitchen/scenario.yaml:18: stock_files[1]: 'two.yaml' [duplicate_stock_file]\n"
        "    why: this is the same file as one.yaml, and its food would count twice\n"
        "    mend: name it once"
    ]


def test_one_stock_file_is_not_of_two_kitchens_by_a_link() -> None:
    """The second kitchen is at fault, the first is planned."""
    clients = [tiny_client(), tiny_client(id="bo", name="Bo")]
    path = write_kitchen(
        Path("kitchen"), clients=clients, kitchen="separate", stock_folder="on_hand"
    )
    Path("kitchen/on_hand").mkdir()
    Path("kitchen/on_hand/ana.yaml").write_text(STOCK, encoding="utf-8")
    Path("kitchen/on_hand/bo.yaml").symlink_to("ana.yaml")
    ana, bo = read_kitchens(path).parts
    assert ana.scenario is not None
    assert [fault.text() for fault in bo.faults] == [
        "kitchen/on_hand/bo.yaml:1: 'bo.yaml' [duplicate_stock_file]\n"
        "    why: this is the file of kitchen ana too, by a link\n"
        "    mend: give each kitchen a file of its own, or its food counts twice"
    ]


# ------------------------------------------------------------------ names


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Ana", "Ana"),
        ("Ana", "ana "),
        ("Ana", "\N{CYRILLIC CAPITAL LETTER A}n\N{CYRILLIC SMALL LETTER A}"),
        ("Jose", "Jos\N{LATIN SMALL LETTER E WITH ACUTE}"),
        ("Mia Lee", "Mia-Lee"),
        ("Ali", "AIi"),
        ("Ali", "A1i"),
        ("Arno", "Amo"),
        ("Otto", "0tt0"),
        ("Ana", "\N{FULLWIDTH LATIN CAPITAL LETTER A}na"),
    ],
)
def test_names_that_look_alike_are_told(one: str, other: str) -> None:
    """Case, accents, spaces, other scripts and digits do not tell two names apart at a glance."""
    clients = [tiny_client(name=one), tiny_client(id="bo", name=other)]
    path = write_kitchen(Path("kitchen"), clients=clients)
    faults, warnings = check_paths_and_warn([path])
    assert faults == []
    assert [warning.code for warning in warnings] == ["name_near_another"]


def test_the_warning_of_two_names_says_what_labels_show() -> None:
    """The text names the other client by id."""
    path = write_kitchen(Path("kitchen"), clients=[tiny_client(), tiny_client(id="ana_2")])
    assert told(path)[1] == [
        "kitchen/scenario.yaml:17: clients[1].name: 'Ana' [name_near_another]\n"
        "    why: it is written like, or looks like, the name of client ana, and labels show names;"
        " only the short mark of the id tells them apart\n"
        "    mend: add an initial or the family name"
    ]


def test_names_of_separate_households_are_compared_too() -> None:
    """One person may carry the boxes of all kitchens."""
    clients = [tiny_client(), tiny_client(id="ana_2")]
    path = write_kitchen(Path("kitchen"), clients=clients, kitchen="separate")
    assert [warning.code for warning in check_paths_and_warn([path])[1]] == ["name_near_another"]


def test_other_names_are_other_names() -> None:
    """Vowel signs and letters of other scripts count; names of signs alone are as written."""
    apart = ["Ana", "Anna", "Ann", "Bo", "\u0915\u093f", "\u0915\u093e", "\u5f20", "\u7ae0",
             "\N{CARROT}", "\N{AVOCADO}", "Client 1", "Client 2", "Client 10"]  # fmt: skip
    assert len({skeleton(name) for name in apart}) == len(apart)


# ------------------------------------------------------------------ prices


def test_prices_of_after_the_plan_are_told() -> None:
    """Prices of the tiny kitchen are of 20 November 2026."""
    path = write_kitchen(Path("kitchen"), start_date="2026-11-19")
    assert told(path)[1] == [
        "kitchen/scenario.yaml:3: start_date: '2026-11-19' [prices_after_start]\n"
        "    why: prices are dated after the first day of the plan: eggs_12, eggs_6, lentils_500g"
        " and 4 more\n"
        "    mend: correct start_date, or the price_date of these packs"
    ]
    path = write_kitchen(Path("kitchen"), start_date="2026-11-20")
    assert told(path) == ([], [])
