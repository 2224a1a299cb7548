"""The weeks of many households: weeks, which is plan_many as well, and overview."""

from __future__ import annotations

from pathlib import Path
from typing import Unpack

import pandas as pd

from planopt.front.frames import typed
from planopt.front.limits import Limits, settings_of
from planopt.front.planned import PlannedWeek
from planopt.front.sources import PathLike
from planopt.overview import tables
from planopt.overview.files import write_overview
from planopt.overview.gather import Overview
from planopt.report.words.plain import plural
from planopt.runs.layout import RunFolder
from planopt.runs.run import Shown, plan_weeks


class Weeks:
    """The weeks of a run. `overview` is all that is known of them."""

    def __init__(self, folder: Path, overview: Overview) -> None:
        """Take a run's folder and its overview; `planopt.weeks` and `planopt.overview` do so."""
        self.folder = folder
        self.overview = overview

    def plan(self, kitchen_id: str) -> PlannedWeek:
        """Return the plan of one kitchen.

        Raises:
            BadInput: it has none, or it cannot be read.
        """
        return PlannedWeek.read(RunFolder(self.folder).plan_folder(kitchen_id))

    def clients(self) -> pd.DataFrame:
        """Return a row for each client: state, what they pay, gap, windows met, cause."""
        table = tables.clients(self.overview)
        return typed(
            table,
            self.overview.index.currency,
            money=("pays", "pays_by_alone", "alone_bill"),
            categories=("kitchen_id", "state"),
        )

    def kitchens(self) -> pd.DataFrame:
        """Return a row for each kitchen: costs, lower limit, gap, seconds, cause."""
        return typed(
            tables.kitchens(self.overview),
            self.overview.index.currency,
            money=("groceries", "visits", "waste", "all_counted", "bound"),
            categories=("state", "status"),
        )

    def groceries(self) -> pd.DataFrame:
        """Return what to buy for all kitchens together."""
        return typed(
            tables.buy(self.overview),
            self.overview.index.currency,
            money=("price",),
            dates=("shop_date",),
            categories=("seller_id", "seller", "aisle"),
        )

    def __repr__(self) -> str:
        found = self.overview
        planned = f"{found.count('planned')} of {plural(len(found.clients), 'client')} planned"
        return f"<Weeks {found.index.name!r}: {planned}, bills {found.bill} {found.index.currency}>"


def weeks(
    scenario: PathLike,
    out: PathLike | None = None,
    *,
    processes: int | None = None,
    cluster: str | None = None,
    sharing: bool = False,
    handles: bool = False,
    **limits: Unpack[Limits],
) -> Weeks:
    """Plan the weeks of all households into the folder `out`, by default NAME-weeks, here.

    Clients without a plan are told of in `clients()`, with the cause. The same call again finishes
    what is missing. `limits`, as of `planopt.plan`, are for each kitchen. Kitchens are planned in
    processes side by side, so that a script needs `if __name__ == "__main__":` around the call.

    Raises:
        BadInput: the files are at fault for everybody, or the folder cannot be used.
        BadOption: a limit or solver option is refused, or the cluster cannot be reached.
    """
    path = Path(scenario)
    folder = Path(f"{path.stem}-weeks") if out is None else Path(out)
    plan_weeks(
        path,
        folder,
        settings_of(limits),
        workers=processes if cluster is None else cluster,
        sharing=sharing,
        shown=Shown(handles),
    )
    return overview(folder, handles=handles)


def overview(folder: PathLike, *, handles: bool = False) -> Weeks:
    """Return the weeks of a run's folder, and write its overview files anew.

    Raises:
        BadInput: the folder is no run, its catalog cannot be read, or nothing can be written.
    """
    return Weeks(Path(folder), write_overview(Path(folder), handles=handles))


plan_many = weeks
