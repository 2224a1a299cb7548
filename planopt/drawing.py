"""The picture library, loaded so that it leaves nothing behind: it would keep a cache at home.

Its list of fonts goes into a folder that is gone when it is loaded, and names only its own fonts:
pictures are the same on every computer.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from tempfile import TemporaryDirectory

_PLACE, _OWN_FONTS = "MPLCONFIGDIR", "MPL_IGNORE_SYSTEM_FONTS"


@contextmanager
def _leaving_nothing() -> Iterator[None]:
    before = {name: os.environ.get(name) for name in (_PLACE, _OWN_FONTS)}
    with TemporaryDirectory(prefix="planopt-") as folder:
        # Whoever has given it a place of its own wants it there.
        os.environ.setdefault(_PLACE, folder)
        os.environ[_OWN_FONTS] = "1"
        try:
            yield
        finally:
            for name, value in before.items():
                os.environ.pop(name, None)
                if value is not None:
                    os.environ[name] = value


with _leaving_nothing():
    # Not asked for by name, but it looks for fonts when it is first loaded.
    import matplotlib.backends.backend_svg  # noqa: F401
    from matplotlib.figure import Figure
    from matplotlib.transforms import Affine2D

__all__ = ["Affine2D", "Figure"]
