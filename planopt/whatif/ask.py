"""Ask what-if questions of a kitchen: the verb of this part, for library and command line."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from planopt.audit import audit_plan
from planopt.faults import AuditFailed, BadInput, Fault, nearest
from planopt.folders import settle
from planopt.pipeline import make_plan
from planopt.plan.file import read_plan
from planopt.plan.handles import kitchen_as_named, plan_with_handles
from planopt.plan.records import Plan
from planopt.scenario.households.handles import Handles
from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Variant
from planopt.scenario.variants.words import WHERE, variant_of_words
from planopt.solve.progress import ProgressCallback
from planopt.solve.settings import SolveSettings
from planopt.whatif.curves import budget_curve
from planopt.whatif.findings import WhatIf
from planopt.whatif.robust import Sampling, robustness
from planopt.whatif.shadow import shadow_prices
from planopt.whatif.variants import settled, solve_variants
from planopt.whatif.windowcurve import Target, parse_target, window_curve

_STOPPED = "stopped; what is not answered yet is left out"


@dataclass(frozen=True)
class Questions:
    """What to ask. `targets` are told as for `parse_target`.

    `each_s` is the time for each variant and each limit solved anew, `curve_s` that for each
    curve and for the samples of prices. `spread` None asks for no samples.
    """

    variants: tuple[Variant, ...] = ()
    budget: bool = False
    targets: tuple[str, ...] = ()
    prices: bool = False
    spread: float | None = None
    points: int = 12
    each_s: float = 10.0
    curve_s: float = 60.0


def chosen_variants(
    kitchen: Kitchen,
    names: Iterable[str],
    changes: Iterable[str],
    *,
    otherwise_all: bool,
    together: bool = False,
) -> tuple[Variant, ...]:
    """Return the variants named, and one for each change told, or one of all of them `together`.

    With neither names nor changes all variants of the scenario are meant if `otherwise_all`.

    Raises:
        BadInput: a name is unknown, or a change is at fault; all faults at once.
    """
    known = {variant.name: variant for variant in kitchen.scenario.variants}
    names, changes = list(names), list(dict.fromkeys(changes))
    faults = []
    for name in names:
        if name not in known:
            mend = nearest(name, known)
            why = "the scenario has no variant of this name"
            faults.append(Fault(WHERE, 0, "--variant", name, why, mend, "unknown_variant"))
    found = [known[name] for name in names if name in known]
    for texts in [changes] if together and changes else [[text] for text in changes]:
        try:
            found.append(variant_of_words(texts, kitchen.catalog, kitchen.scenario))
        except BadInput as error:
            faults += error.faults
    if faults:
        raise BadInput(faults)
    if not names and not changes and otherwise_all:
        return kitchen.scenario.variants
    return tuple(found)


def base_plan(
    kitchen: Kitchen,
    settings: SolveSettings,
    folder: Path | None = None,
    progress: ProgressCallback | None = None,
    handles: Handles | None = None,
) -> Plan:
    """Return the plan to compare with: one written earlier, audited again, or a new one.

    With `handles` an earlier one names clients by their ids, as the kitchen does.

    Raises:
        BadInput: the folder's plan cannot be read.
        AuditFailed: the plan does not hold for the scenario and catalog as they are now.
        NoCompliantWeek, NoPlanInTime, BadOption: as from `make_plan`.
    """
    if folder is None:
        return make_plan(kitchen, settings, progress)
    settle(folder)
    plan = read_plan(folder)
    if handles is not None and handles.ids:
        plan = plan_with_handles(plan, handles)
    return held(kitchen, plan)


def held(kitchen: Kitchen, plan: Plan) -> Plan:
    """Return a plan to compare with, after it was audited for the kitchen.

    Raises:
        AuditFailed: the plan does not hold for the scenario and catalog as they are now.
    """
    named = kitchen_as_named(plan, kitchen)
    findings = audit_plan(plan, kitchen.catalog, named.scenario)
    if findings:
        raise AuditFailed(finding.text() for finding in findings)
    return plan


def most_seconds(questions: Questions) -> float:
    """Return the seconds that all questions together may take."""
    curves = questions.budget + len(questions.targets) + (questions.spread is not None)
    return questions.each_s * (len(questions.variants) + questions.prices) + (
        questions.curve_s * curves
    )


def ask(
    kitchen: Kitchen,
    base: Plan,
    questions: Questions,
    settings: SolveSettings,
    told: Callable[[str], None] | None = None,
    *,
    keep_base: bool = False,
) -> WhatIf:
    """Return the answers to all questions; `told` hears what is being worked on.

    A cheaper week for the base that turns up with a variant takes the base's place, unless
    `keep_base`. After Ctrl-C the answers are those known by then.

    Raises:
        BadInput: a target is not understood; before anything is solved.
        AuditFailed: a plan found does not hold.
    """
    tell = told or (lambda _: None)
    targets = [parse_target(kitchen, text) for text in questions.targets]
    each = settings.model_copy(update={"time_limit_s": questions.each_s})
    results = solve_variants(kitchen, base, questions.variants, each, tell)
    base, results = settled(kitchen, base, results, keep_base=keep_base)
    if results and results[-1].stopped:
        tell(_STOPPED)
        return WhatIf(kitchen, base, tuple(results))
    found = WhatIf(kitchen, base, tuple(results))
    found, stopped = _with_curves(found, questions, targets, settings, tell)
    if stopped:
        tell(_STOPPED)
        return found
    if questions.prices:
        tell("prices of limits")
        found = replace(found, prices=tuple(shadow_prices(kitchen, base, each)))
    if questions.spread is not None:
        tell("samples of prices")
        others = [result.plan for result in results if result.plan is not None]
        sampling = Sampling(questions.spread)
        robust = robustness(
            kitchen, base, settings, sampling, others=others, seconds=questions.curve_s
        )
        found = replace(found, robust=robust)
    return found


def _with_curves(
    found: WhatIf,
    questions: Questions,
    targets: Iterable[Target],
    settings: SolveSettings,
    tell: Callable[[str], None],
) -> tuple[WhatIf, bool]:
    """Return the answers with the curves asked for, and whether somebody stopped them."""
    kitchen, base = found.kitchen, found.base
    points, seconds = questions.points, questions.curve_s
    if questions.budget:
        tell("budget curve")
        budget = budget_curve(kitchen, settings, base, points=points, seconds=seconds)
        found = replace(found, budget=budget)
        if any(point.stopped for point in budget.points):
            return found, True
    for target in targets:
        tell("curve of " + " ".join(target))
        curve = window_curve(kitchen, target, settings, base, points=points, seconds=seconds)
        found = replace(found, windows=(*found.windows, curve))
        if any(point.stopped for point in curve.points):
            return found, True
    return found, False
