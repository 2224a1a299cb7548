"""A whole set of findings on the tiny kitchen, solved once for all tests that show them."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from kitchens import write_kitchen
from planopt.pipeline import make_plan
from planopt.scenario.reading.load import load_kitchen
from planopt.scenario.variants.words import variant_of_words
from planopt.solve.settings import SolveSettings
from planopt.whatif.ask import Questions, ask
from planopt.whatif.findings import WhatIf

COUNTED = SolveSettings(gap=0.0, threads=1, time_limit_s=600.0)


@lru_cache
def sample_findings() -> WhatIf:
    """Return findings of every kind; one of the three variants has no week."""
    with TemporaryDirectory() as folder:
        kitchen = load_kitchen(write_kitchen(Path(folder), budget="30.00"))
    told = (["ana protein_g min +40"], ["price of egg +30%"], ["ana protein_g min 400"])
    variants = tuple(variant_of_words(text, kitchen.catalog, kitchen.scenario) for text in told)
    base = make_plan(kitchen, COUNTED)
    questions = Questions(
        variants=variants,
        budget=True,
        targets=("ana protein_g",),
        prices=True,
        spread=0.2,
        points=3,
        each_s=600.0,
        curve_s=600.0,
    )
    return ask(kitchen, base, questions, COUNTED)
