"""A written plan with its kitchen: the files that it names, or stand-ins from the plan alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from planopt.catalog.facts import facts_of
from planopt.catalog.records import Catalog, Nutrient
from planopt.faults import BadInput
from planopt.folders import settle
from planopt.plan.file import PLAN_FILE, plan_faults, read_plan
from planopt.plan.records import Plan
from planopt.report.words.plain import MACROS, plain
from planopt.scenario.reading.changed import changed_kitchen
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.scenario.records import Scenario

_MOST_NAMED = 5
_HOLDS = "names of clients, aisles, measures, methods and windows are not in the plan"


@dataclass(frozen=True)
class OpenPlan:
    """A plan and what is needed to show it.

    `complete` says whether scenario and catalog were found; without them the stand-ins know only
    what the plan holds. `notes` are sentences on what the reader should know about that. `changed`
    names recipes, foods and allergens of the plan that are not what they were when it was made.
    """

    plan: Plan
    catalog: Catalog
    scenario: Scenario
    complete: bool
    notes: tuple[str, ...]
    changed: tuple[str, ...] = ()


def scenario_places(plan: Plan, folder: Path) -> Iterator[Path]:
    """Yield where the scenario may be: as the plan names it, from here or from around the plan."""
    named = Path(plan.scenario_file)
    yield named
    if not named.is_absolute():
        for around in (folder.resolve(), *folder.resolve().parents):
            yield around / named


def _is_file(path: Path) -> bool:
    """Say whether there is a file that may be read; a plan edited by hand can name anything."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def _unchanged(plan: Plan, kitchen: Kitchen) -> bool:
    return (kitchen.scenario_sha256, kitchen.catalog_sha256) == (
        plan.scenario_sha256,
        plan.catalog_sha256,
    )


def open_plan(folder: Path) -> OpenPlan:
    """Return a written plan with its scenario and catalog, or with stand-ins for them.

    They are looked for where the plan names them, first from the current folder, then from the
    plan's folder and those around it. Files as they were when the plan was made come first.

    Raises:
        BadInput: plan.json cannot be read.
    """
    settle(folder)
    plan = read_plan(folder)
    changed: Kitchen | None = None
    broken: Path | None = None
    seen: set[Path] = set()
    for path in scenario_places(plan, folder):
        if not _is_file(path) or path.resolve() in seen:
            continue
        seen.add(path.resolve())
        try:
            kitchen = load_kitchen(path)
            if plan.changes is not None:
                kitchen = changed_kitchen(kitchen, plan.changes)
        except BadInput:
            broken = broken or path
            continue
        if _unchanged(plan, kitchen):
            return OpenPlan(plan, kitchen.catalog, kitchen.scenario, True, ())
        changed = changed or kitchen
    if changed is not None:
        return _of_now(plan, folder, changed)
    why = (
        f"{broken} has faults, which `planopt check` lists"
        if broken is not None
        else f"{plan.scenario_file} is not found from here, nor from around the plan"
    )
    note = f"{why}; {_HOLDS}. Run it from the folder in which the plan was made."
    return OpenPlan(plan, _empty_catalog(), _scenario_of(plan, folder), False, (note,))


def _of_now(plan: Plan, folder: Path, kitchen: Kitchen) -> OpenPlan:
    """Return a plan with a kitchen that has changed, perhaps to that of the next week."""
    now = kitchen.scenario
    eaters = {portion.client_id for portion in plan.portions}
    same_week = (now.start_date, now.days) == (plan.start_date, plan.days)
    same_week = same_week and eaters <= {client.client_id for client in now.clients}
    what = (
        "or its catalog has changed since this plan was made"
        if same_week
        else "is of another week than this plan"
    )
    note = (
        f"{kitchen.scenario_path} {what}; dates, grams, money and nutrients are the plan's; names, "
        "methods, times of work and kitchen measures are those of now."
    )
    scenario = now if same_week else _scenario_of(plan, folder, now)
    changed = _changed_facts(plan, kitchen)
    if changed:
        named = ", ".join(changed[:_MOST_NAMED])
        more = f" and {len(changed) - _MOST_NAMED} more" if len(changed) > _MOST_NAMED else ""
        note += f" Changed since: {named}{more}; labels are told from the plan's labels.html alone."
    return OpenPlan(plan, kitchen.catalog, scenario, True, (note,), changed)


def _changed_facts(plan: Plan, kitchen: Kitchen) -> tuple[str, ...]:
    """Return what of a plan's recipes, foods and allergens has changed, or may have."""
    if kitchen.catalog_sha256 == plan.catalog_sha256:
        return ()
    if not plan.catalog_facts:
        return ("catalog",)
    now = facts_of(
        kitchen.catalog,
        (batch.recipe_id for batch in plan.sources),
        (line.food_id for batch in plan.sources for line in batch.lines),
    )
    differing = {key for key, _ in now.items() ^ plan.catalog_facts.items()}
    return tuple(sorted(differing))


def _empty_catalog() -> Catalog:
    macros = {
        name: Nutrient(
            nutrient_id=name,
            name=plain(name.rpartition("_")[0]).capitalize(),
            unit="kcal" if name.endswith("_kcal") else "g",
            decimals=0,
        )
        for name in MACROS
    }
    return Catalog(
        nutrients=macros, allergens={}, foods={}, measures=(), yields=(), sellers={}, packs={},
        recipes={}, storage_limits={}, safe_temperatures={}, safety_groups={},
    )  # fmt: skip


def _scenario_of(plan: Plan, folder: Path, now: Scenario | None = None) -> Scenario:
    """Return a scenario of the plan's own week, with the names, order and tools of `now`."""
    names = {client.client_id: client.name for client in now.clients} if now else {}
    cooks = {cook.day: cook for cook in now.cook_days} if now else {}
    order = {meal: place for place, meal in enumerate(now.meals)} if now else {}
    meals = dict.fromkeys(p.meal for p in sorted(plan.portions, key=lambda p: p.day))
    cook_days = sorted({batch.cook_day for batch in plan.batches} or {1})
    data = {
        "name": plan.scenario_name,
        "currency": plan.currency,
        "start_date": plan.start_date,
        "days": plan.days,
        "meals": sorted(meals, key=lambda meal: order.get(meal, len(order))) or ["dinner"],
        "cook_days": [cooks.get(day) or {"day": day} for day in cook_days],
        "clients": [
            {"id": client_id, "name": names.get(client_id, client_id)}
            for client_id in dict.fromkeys(p.client_id for p in plan.portions)
        ],
    }
    if now is not None:
        data["appliances"] = now.appliances
        if "label_sheet" in now.model_fields_set:
            data["label_sheet"] = now.label_sheet
    try:
        return Scenario.model_validate(data)
    except ValidationError as error:
        raise BadInput(plan_faults(folder / PLAN_FILE, error)) from error
