"""What changes would cost, and what the limits do: whatif."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Unpack

import pandas as pd

from planopt import ranges
from planopt.faults import BadOption
from planopt.front.frames import typed
from planopt.front.limits import Limits, settings_of
from planopt.front.planned import PlannedWeek, planned
from planopt.front.sources import PathLike, Source, kitchen_of
from planopt.report.words.plain import plural
from planopt.whatif import tables
from planopt.whatif.ask import Questions, ask, base_plan, chosen_variants, held
from planopt.whatif.files import write_findings
from planopt.whatif.findings import WhatIf
from planopt.whatif.text import findings_text
from planopt.whatif.windowcurve import parse_target


class Asked(Limits, total=False):
    """What is asked besides changes, as the options of `planopt whatif`, and the limits.

    `each_s` is the time for each variant, `curve_s` that for each curve.
    """

    budget_curve: bool
    targets: Sequence[str]
    limit_prices: bool
    spread: float | None
    points: int
    each_s: float
    curve_s: float


class Answers:
    """What was asked of one kitchen and what came of it. `findings` is all that is known."""

    def __init__(self, findings: WhatIf) -> None:
        """Take what was found; `planopt.whatif` does so."""
        self.findings = findings

    @property
    def base(self) -> PlannedWeek:
        """Return the plan that all is compared with."""
        return planned(self.findings.base, self.findings.kitchen)

    def plans(self) -> dict[str, PlannedWeek]:
        """Return the plan of each variant for which one was found, by the variant's name."""
        return {
            result.variant.name: planned(result.plan, result.kitchen)
            for result in self.findings.variants
            if result.plan is not None
        }

    def variants(self) -> pd.DataFrame:
        """Return a row for the base and each variant: cost, lower limit, difference, verdict."""
        money = (
            "all_counted", "lower_limit", "groceries", "waste", "difference",
            "difference_at_least", "difference_at_most",
        )  # fmt: skip
        return self._frame(tables.variants, money)

    def shopping(self) -> pd.DataFrame:
        """Return what each variant buys more or, with a minus, less than the base."""
        return self._frame(tables.shopping, ("more_money",))

    def windows(self) -> pd.DataFrame:
        """Return each window with what the base plan and each variant's plan give."""
        return self._frame(tables.windows)

    def budget_curve(self) -> pd.DataFrame:
        """Return budgets with what a week costs, or with what must be missed."""
        return self._frame(tables.budget_curve, ("all_counted", "lower_limit"))

    def window_curves(self) -> pd.DataFrame:
        """Return what a week costs against the targets asked for."""
        return self._frame(tables.window_curves, ("all_counted", "lower_limit"))

    def limit_prices(self) -> pd.DataFrame:
        """Return local estimates of what the limits cost, and what solving anew found."""
        money = ("solved_difference", "solved_at_least", "solved_at_most")
        return self._frame(tables.shadow_prices, money)

    def price_samples(self) -> pd.DataFrame:
        """Return what the base plan costs at each sample of prices, as an estimate."""
        return self._frame(tables.price_samples)

    def _frame(
        self, of: Callable[[WhatIf], pd.DataFrame], money: tuple[str, ...] = ()
    ) -> pd.DataFrame:
        return typed(of(self.findings), self.findings.kitchen.scenario.currency, money=money)

    def text(self) -> str:
        """Return all answers in words, as the command prints them."""
        return findings_text(self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Return all answers as plain data, as whatif.json has them."""
        return self.findings.as_dict()

    def write(self, folder: PathLike) -> list[Path]:
        """Write tables, pictures and plans to a folder, whole or not at all, and return them.

        Raises:
            BadInput: the folder holds something else, or cannot be written.
        """
        return write_findings(self.findings, Path(folder))

    def __repr__(self) -> str:
        found = self.findings
        return (
            f"<Answers {found.kitchen.scenario.name!r}: {plural(len(found.variants), 'variant')}>"
        )


def whatif(
    scenario: Source,
    *changes: str,
    variants: Sequence[str] = (),
    base: PlannedWeek | PathLike | None = None,
    together: bool = False,
    told: Callable[[str], None] | None = None,
    **asked: Unpack[Asked],
) -> Answers:
    """Return what changes would cost. Each of `changes` is a variant, or all of them `together`.

    `variants` are names of the scenario's own; all of them if nothing is asked. `base` is a plan to
    compare with; by default a new one is made. `told` hears what is being worked on. Else can be
    asked: `budget_curve`, `targets` (as `"ivo protein_g"`), `limit_prices`, `spread` of prices;
    with `points` of a curve, `each_s` for a variant, `curve_s` for a curve, and the limits of
    `planopt.plan`.

    Raises:
        BadInput: with every fault of the files, changes and names.
        BadOption: nothing is asked, or an option is out of its range.
        AuditFailed: the base does not hold for the kitchen as it is now.
        NoCompliantWeek, NoPlanInTime: of a new base, as from `planopt.plan`.
    """
    options = dict(asked)
    questions = _questions(options)
    settings = settings_of(options)
    kitchen = kitchen_of(scenario)
    other = bool(questions.budget or questions.targets or questions.prices or questions.spread)
    chosen = chosen_variants(kitchen, variants, changes, otherwise_all=not other, together=together)
    if not other and not chosen:
        raise BadOption(
            "nothing is asked: the scenario has no variants; give a change, budget_curve, "
            "targets, limit_prices or spread"
        )
    for text in questions.targets:
        parse_target(kitchen, text)
    if isinstance(base, PlannedWeek):
        plan = held(kitchen, base.record)
    else:
        plan = base_plan(kitchen, settings, None if base is None else Path(base))
    asks = Questions(**{**vars(questions), "variants": chosen})
    return Answers(ask(kitchen, plan, asks, settings, told, keep_base=base is not None))


# Name at the door -> name in the questions, and the range of its number.
_ASKS = {
    "budget_curve": ("budget", None),
    "targets": ("targets", None),
    "limit_prices": ("prices", None),
    "spread": ("spread", ranges.SPREAD),
    "points": ("points", ranges.POINTS),
    "each_s": ("each_s", ranges.SECONDS_EACH),
    "curve_s": ("curve_s", ranges.SECONDS_OF_A_CURVE),
}


def _questions(options: dict[str, Any]) -> Questions:
    """Take what is asked out of the options, and leave the limits there."""
    given: dict[str, Any] = {}
    for name, (field, span) in _ASKS.items():
        value = options.pop(name, None)
        if value is None:
            continue
        if span is not None and not span.holds(value):
            raise BadOption(f"{name} {value}: write a number {span.words()}")
        given[field] = tuple(value) if field == "targets" else value
    return Questions(**given)
