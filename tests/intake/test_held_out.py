"""The held-out sentences: the figures in FIGURES.md are those of the code."""

from __future__ import annotations

import re
from pathlib import Path

from benchmarks.sentences import STEPS, WRONG, figures, held_out

FIGURES = Path(__file__).resolve().parents[1] / "benchmarks" / "FIGURES.md"


def test_the_figures_are_told() -> None:
    """Right, asked and wrong of each step; hardly a food or its grams is wrong without asking."""
    sentences = held_out()
    assert len({truth.sentence for truth in sentences}) == len(sentences) >= 120
    counts, _ = figures()
    text = FIGURES.read_text(encoding="utf-8")
    for step in STEPS:
        found = re.search(rf"^\| {step} \| (\d+) .*?\| (\d+) .*?\| (\d+) ", text, re.MULTILINE)
        assert found is not None, step
        told = tuple(int(number) for number in found.groups())
        assert told == tuple(counts[step][verdict] for verdict in ("right", "asked", WRONG)), step
        assert sum(told) == len(sentences)
    assert max(counts["matched food"][WRONG], counts["grams"][WRONG]) <= len(sentences) / 100
