"""What the functions at the door take: paths of either kind, and kitchens read or yet to be."""

from __future__ import annotations

import os
from pathlib import Path

from planopt.scenario.reading.load import Kitchen, load_kitchen

PathLike = str | os.PathLike[str]
Source = Kitchen | PathLike


def kitchen_of(source: Source) -> Kitchen:
    """Return a kitchen, read from its scenario file where it is a path.

    Raises:
        BadInput: with every fault of every file.
    """
    return source if isinstance(source, Kitchen) else load_kitchen(Path(source))
