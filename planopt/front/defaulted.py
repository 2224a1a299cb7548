"""The person's defaults for the library, which uses them only where it is given them."""

from __future__ import annotations

from pathlib import Path

from planopt.front.sources import PathLike
from planopt.scenario.defaults import FoundDefaults, defaults_for


def defaults(scenario: PathLike | None = None) -> FoundDefaults:
    """Return how a person wants plans shown, and the file that says so, None where there is none.

    `Plan.show` and `Plan.write` take `.defaults` of it. A file beside the scenario goes before the
    one in the user's folder of settings, and the one that `PLANOPT_DEFAULTS` names before both.

    Raises:
        BadInput: the file has faults.
    """
    return defaults_for(None if scenario is None else Path(scenario))
