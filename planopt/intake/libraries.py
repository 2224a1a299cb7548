"""The libraries of the extra `import`, loaded when they are first needed.

The sentence parser asks NLTK for a part-of-speech model, which NLTK would fetch from the network.
planopt brings a small one of its own and shows NLTK the way to it, so that nothing is fetched and
every machine reads a sentence alike; `tests/benchmarks/train_tagger.py` makes it.
"""

from __future__ import annotations

import importlib
from functools import lru_cache
from pathlib import Path
from typing import Any

from planopt.faults import BadOption

TAGGER = Path(__file__).resolve().parent / "tagger"


class ImportUnavailable(BadOption):
    """The libraries of the extra `import` are not installed; the text says how to mend it."""


@lru_cache(maxsize=1)
def sentence_parser() -> Any:
    """Return the module of the ingredient sentence parser.

    Raises:
        ImportUnavailable: it is not installed.
    """
    data = _module("nltk.data")
    if str(TAGGER) not in data.path:
        data.path.insert(0, str(TAGGER))
    return _module("ingredient_parser")


@lru_cache(maxsize=1)
def units_library() -> Any:
    """Return the module of the units library.

    Raises:
        ImportUnavailable: it is not installed.
    """
    return _module("pint")


@lru_cache(maxsize=1)
def fuzzy_library() -> Any:
    """Return the module that compares words by their letters.

    Raises:
        ImportUnavailable: it is not installed.
    """
    return _module("rapidfuzz.fuzz")


def _module(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise ImportUnavailable(
            f"recipes cannot be imported here: {error.name or name} is not installed; install it"
            " with `pip install 'planopt[import]'`"
        ) from error
