"""The pages of the guide: which topics there are, and the Markdown of one."""

from __future__ import annotations

import re
from pathlib import Path

from planopt.faults import BadInput, Fault, nearest

_FOLDER = Path(__file__).resolve().parent
# A section of the page of commands is a topic of its own, by the command's name.
_COMMAND = re.compile(r"^### `planopt ([a-z]+)[^`]*`$", re.MULTILINE)
_NEXT = re.compile(r"^##+ ", re.MULTILINE)


def topics() -> dict[str, str]:
    """Return the name of each page with the sentence that it begins with, commands first."""
    names = sorted(path.stem for path in _FOLDER.glob("*.md"))
    names.sort(key=lambda name: name != "commands")
    return {name: _source(name).split("\n\n")[1].replace("\n", " ") for name in names}


def page(topic: str) -> str:
    """Return the Markdown of a page, or of the section of a command.

    Raises:
        BadInput: there is no such topic.
    """
    pages, commands = topics(), sections()
    if topic in pages:
        return _source(topic)
    if topic in commands:
        return commands[topic]
    why = "the guide has no such topic"
    mend = nearest(topic, {**pages, **commands})
    raise BadInput([Fault("command line", 0, "TOPIC", topic, why, mend, "unknown_topic")])


def example(command: str) -> str:
    """Return how a command such as `planopt add food` is typed, its first example; else nothing."""
    found = re.search(
        rf"^{re.escape(command)}\b(?:.*\\\n)*.*$", _shown(_source("commands")), re.MULTILINE
    )
    return found[0] if found else ""


def _shown(markdown: str) -> str:
    """Return the blocks of commands alone."""
    return "\n".join(re.findall(r"^```sh\n(.*?)^```$", markdown, re.MULTILINE | re.DOTALL))


def _source(name: str) -> str:
    return (_FOLDER / f"{name}.md").read_text(encoding="utf-8")


def sections() -> dict[str, str]:
    """Return the section of each command."""
    text = _source("commands")
    found = {}
    for heading in _COMMAND.finditer(text):
        after = _NEXT.search(text, heading.end())
        end = after.start() if after else len(text)
        found[heading[1]] = text[heading.start() : end].strip() + "\n"
    return found
