"""The guide on a terminal: its topics, its pages, and what becomes of their Markdown."""

from __future__ import annotations

import re

import pytest
from typer.testing import CliRunner

from modules import HOUSE
from planopt import cli
from planopt.guide.pages import page, topics
from planopt.guide.terminal import WIDTH, for_terminal

COMMANDS = ("plan", "show", "import", "guide")


def guide(*words: str) -> str:
    """Return what the command prints."""
    done = CliRunner().invoke(cli.app, ["guide", *words])
    assert done.exit_code == 0, done.output
    return done.output


def test_every_page_is_a_topic_with_one_line() -> None:
    """The list has each file of the guide, in 80 columns, with a sentence on what it holds."""
    assert set(topics()) == {path.stem for path in (HOUSE / "guide").glob("*.md")}
    listed = guide().splitlines()
    for name, sentence in topics().items():
        assert re.fullmatch(r"[A-Z][^|`\n]*\.", sentence), name
        (line,) = [line for line in listed if line.startswith(f"  {name} ")]
        assert line.endswith(sentence)
        assert len(line) <= WIDTH


@pytest.mark.parametrize("topic", [*sorted(topics()), *COMMANDS])
def test_a_page_loses_no_word_at_80_columns(topic: str) -> None:
    """Tables are wrapped, not cut: all words of the page are there, in lines that fit."""
    text = guide(topic)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "…" not in text
    # Long words are broken at the edge of a column, so letters are compared without gaps.
    letters = re.sub(r"\W", "", text)
    for word in re.findall(r"`([a-z_]+(?:\.[a-z]+)?)`", page(topic)):
        pieces = re.sub(r"\W", "", word)
        assert pieces in letters, word


def test_a_command_is_a_topic() -> None:
    """Of the page of commands the section of one, without the next one's."""
    text = guide("carry")
    assert text.startswith("planopt carry DIR\n-----------------\n")
    assert "--out FILE" in text
    assert "planopt targets" not in text


def test_headings_links_and_tables_as_text() -> None:
    """Headings are underlined, links name the command that prints their page, words are quoted."""
    told = for_terminal(
        "# Fruit\n\nSee [pears](pears.md#ripe), [below](#more) and [a site](https://example.org/)."
        "\n\n| Fruit | Colour |\n|:--|:--|\n| `apple` | red\\|green |\n\n## More\n\n"
        "```sh\nplanopt guide\n```\n\nA number or `any`, in `a_b`.\n",
        width=46,
    )
    assert told == (
        "Fruit\n=====\n\n"
        "See pears (planopt guide pears), below and a\nsite (https://example.org/).\n\n"
        " Fruit  Colour\n ────────────────\n apple  red|green\n\n"
        "More\n----\n\n planopt guide\n\n"
        'A number or "any", in a_b.'
    )


def test_a_word_wider_than_its_column_goes_on_below() -> None:
    """A long name in a table is folded, and nothing stands in its place."""
    told = for_terminal("| Name | Use |\n|:--|:--|\n| `abcdefghijklmnop` | long |\n", width=16)
    assert "…" not in told
    assert re.sub(r"\W|long|Name|Use", "", told) == "abcdefghijklmnop"
