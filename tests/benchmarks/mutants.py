"""The mutants that stand in `mutants.txt`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

LIST = Path(__file__).with_suffix(".txt")


@dataclass(frozen=True)
class Mutant:
    """A change of one file under `planopt`, and the tests of which one must fail."""

    part: str
    file: str
    name: str
    old: str
    new: str
    tests: tuple[str, ...]

    def planted(self, text: str) -> str | None:
        """Return the file's text with the change, or None where its place is not found once."""
        return text.replace(self.old, self.new) if text.count(self.old) == 1 else None


def read_mutants(text: str) -> tuple[Mutant, ...]:
    """Return the mutants of a list, in its order."""
    found: list[Mutant] = []
    part = file = ""
    common: tuple[str, ...] = ()
    block: dict[str, list[str]] = {}

    def close() -> None:
        if block:
            more = _tests(" ".join(block["&"]))
            old, new = ("\n".join(block[sign]) for sign in "-+")
            found.append(Mutant(part, file, block["#"][0], old, new, (*common, *more)))
            block.clear()

    for line in text.splitlines():
        sign, rest = line[:1], line[2:]
        if sign in ("=", "@", "#"):
            close()
        if sign == "=":
            part = line.strip("= ")
        elif part and sign == "@":
            file, _, tests = rest.partition(": ")
            common = _tests(tests)
        elif part and sign == "#":
            block.update({"#": [rest], "-": [], "+": [], "&": []})
        elif block and sign:
            block[sign].append(rest)
    close()
    return tuple(found)


def _tests(words: str) -> tuple[str, ...]:
    return tuple(f"tests/{test}" for test in words.split())


MUTANTS = read_mutants(LIST.read_text(encoding="utf-8"))
