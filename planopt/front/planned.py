"""A plan as the library gives it: its figures, its tables, its files. At the door it is `Plan`.

Reading one loads nothing that draws or searches; tables and files load what they need when they
are asked for, which is why imports stand within methods here.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from planopt.faults import BadOption
from planopt.front.sources import PathLike
from planopt.plan import records
from planopt.report.files.reopen import OpenPlan, open_plan
from planopt.report.words.locale import Display, Units
from planopt.report.words.plain import cost_rows, headline, money, span_text
from planopt.scenario.defaults import Defaults
from planopt.scenario.reading.load import Kitchen

if TYPE_CHECKING:
    import pandas as pd

PartName = Literal["summary", "client", "groceries", "cook", "labels"]


class PlannedWeek:
    """A plan with what is needed to show it. `record` is all that plan.json holds."""

    def __init__(self, opened: OpenPlan, origin: Kitchen | Path) -> None:
        """Take a plan and the kitchen, or folder, that it comes from.

        `planopt.plan` and `Plan.read` do so.
        """
        self._opened = opened
        self.origin = origin

    @staticmethod
    def read(folder: PathLike) -> PlannedWeek:
        """Return the plan of a folder; warns where its kitchen is gone or has changed.

        Raises:
            BadInput: plan.json cannot be read.
        """
        opened = open_plan(Path(folder))
        for note in opened.notes:
            warnings.warn(note, stacklevel=2)
        return PlannedWeek(opened, Path(folder).resolve())

    @property
    def record(self) -> records.Plan:
        """Return all that is known of the plan, as in plan.json."""
        return self._opened.plan

    @property
    def opened(self) -> OpenPlan:
        """Return the plan with its catalog and scenario, or what stands in for them."""
        return self._opened

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what a reader should know about where names and methods are from."""
        return self._opened.notes

    @property
    def name(self) -> str:
        """Return the name of the scenario."""
        return self.record.scenario_name

    @property
    def currency(self) -> str:
        """Return the currency of all money in the plan."""
        return self.record.currency

    @property
    def start_date(self) -> date:
        """Return the date of day 1."""
        return self.record.start_date

    @property
    def days(self) -> int:
        """Return how many days are planned."""
        return self.record.days

    @property
    def cost(self) -> Decimal:
        """Return what the week costs, all counted."""
        return self.record.solution.objective

    @property
    def bound(self) -> Decimal:
        """Return what no compliant week costs less than, all counted; proven."""
        return self.record.solution.best_bound

    @property
    def gap(self) -> float:
        """Return the most of the cost that any other compliant week could save, as a share."""
        return self.record.solution.proven_gap

    @property
    def status(self) -> str:
        """Return how the search ended: `optimal`, or what stopped it."""
        return self.record.solution.status

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return what to read before cooking."""
        return self.record.cautions

    def menu(self) -> pd.DataFrame:
        """Return what each client eats in each meal, a row for each dish."""
        return self._frame("menu")

    def groceries(self) -> pd.DataFrame:
        """Return what to buy, a row for each kind of pack and shop day."""
        return self._frame("groceries")

    def batches(self) -> pd.DataFrame:
        """Return what to cook, a row for each dish and cook day."""
        return self._frame("batches")

    def windows(self) -> pd.DataFrame:
        """Return what each client gets of whatever a window is set for."""
        return self._frame("windows")

    def costs(self) -> pd.DataFrame:
        """Return of what the cost is made; the column `counted` adds up to `cost`."""
        return self._frame("costs")

    def bill(self) -> pd.DataFrame:
        """Return what each client pays; the column `pays` adds up to the bill."""
        return self._frame("bill")

    def leftovers(self) -> pd.DataFrame:
        """Return the food that is bought or on hand and not used up."""
        return self._frame("leftovers")

    def _frame(self, name: str) -> pd.DataFrame:
        from planopt.front import frames

        of: Callable[..., pd.DataFrame] = getattr(frames, name)
        return of(self.record, self._opened.catalog, self._opened.scenario)

    def show(
        self,
        part: PartName = "summary",
        client: str | None = None,
        *,
        locale: str | None = None,
        units: Units | None = None,
        defaults: Defaults | None = None,
    ) -> str:
        """Return a part of the plan as text of at most 80 columns, as `planopt show` prints it.

        What is not given is as `defaults` say; without these as usual.

        Raises:
            BadInput: labels are asked for, and the catalog is gone or has changed.
            BadOption: there is no such part, client, locale or system of units.
        """
        from planopt.report.terminal.show import Part, show_open

        if part not in list(Part):
            raise BadOption(f"there is no part {part!r}; {', '.join(Part)} are there")
        return show_open(self._opened, Part(part), client, _display(defaults, locale, units))

    def write(
        self,
        folder: PathLike,
        *,
        locale: str | None = None,
        units: Units | None = None,
        byte_order_mark: bool | None = None,
        defaults: Defaults | None = None,
    ) -> list[Path]:
        """Write the files of the plan to a folder, whole or not at all, and return them.

        With `byte_order_mark` CSV files begin with one. What is not given is as `defaults` say;
        without these as usual.

        Raises:
            BadInput: the folder holds something else, or cannot be written.
            BadOption: the kitchen is gone or has changed since the plan was made, so that pages
                and labels might not tell what is in the boxes.
        """
        from planopt.report.files.folder import write_plan

        if self.notes:
            raise BadOption(f"{' '.join(self.notes)} Plan again to write its files.")
        display = _display(defaults, locale, units, byte_order_mark)
        opened = self._opened
        return write_plan(opened.plan, opened.catalog, opened.scenario, Path(folder), display)

    def __repr__(self) -> str:
        return repr(self.record)

    def _repr_html_(self) -> str:
        """Return the summary that notebooks show."""
        solution = self.record.solution
        rows = "".join(
            f"<tr><td style='text-align:left'>{escape(what)}</td>"
            f"<td>{escape(money(amount, self.currency))}</td></tr>"
            for what, amount in cost_rows(solution)
        )
        dishes = "".join(
            f"<tr><td style='text-align:left'>{batch.cook_date}: {escape(batch.recipe_name)}</td>"
            f"<td>{batch.servings:g}</td></tr>"
            for batch in self.record.batches
        )
        return (
            f"<div><p><b>{escape(self.name)}</b>, {escape(span_text(self.record))}<br>"
            f"{escape(headline(solution, self.currency))}</p>"
            f"<table><thead><tr><th style='text-align:left'>Cost</th>"
            f"<th>{escape(self.currency)}</th></tr></thead><tbody>{rows}</tbody></table>"
            f"<table><thead><tr><th style='text-align:left'>Cook</th><th>Servings</th></tr></thead>"
            f"<tbody>{dishes}</tbody></table></div>"
        )


def _display(
    defaults: Defaults | None,
    locale: str | None,
    units: Units | None,
    byte_order_mark: bool | None = None,
) -> Display:
    mine = defaults or Defaults()
    return Display(
        locale=mine.locale if locale is None else locale,
        units=mine.units if units is None else units,
        byte_order_mark=mine.byte_order_mark if byte_order_mark is None else byte_order_mark,
        label_sheet=mine.label_sheet,
    )


def planned(record: records.Plan, kitchen: Kitchen) -> PlannedWeek:
    """Return a plan that was made just now for a kitchen."""
    return PlannedWeek(OpenPlan(record, kitchen.catalog, kitchen.scenario, True, ()), kitchen)


# The class has another name than the record of plan.json, of which it is no kind.
Plan = PlannedWeek
