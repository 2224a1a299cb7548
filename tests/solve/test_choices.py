"""The search among some versions: plans as cheap as of all, bounds and proofs that hold for all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import Any

import pytest
import yaml

from kitchens import tiny_catalog_files, tiny_client, write_kitchen
from model.choicekitchens import Choices, choice_kitchen
from model.points import MONEY, optimum
from model.small import SOURCE, catalog, client, facts, food, pack, recipe, scenario
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.pipeline import load_kitchen, make_plan
from planopt.plan.extract import extract_plan
from planopt.plan.reread import decisions_of, versions_in
from planopt.problem import versions
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import cost_of
from planopt.problem.limits import limits_of
from planopt.report.files.folder import write_plan
from planopt.solve.engine.byoutline import carried_over
from planopt.solve.engine.search import search
from planopt.solve.highs.daymodel import build_plain
from planopt.solve.settings import SolveSettings
from planopt.whynot.oracle import first_week

_COUNTED = SolveSettings(gap=0.0, work_limit=200, threads=1)


def _recut(kitchen: Choices) -> Callable[[list[tuple[str, str]]], Problem]:
    return lambda wanted: build_problem(kitchen.catalog, kitchen.scenario, wanted)


@pytest.mark.parametrize("seed", [2, 4, 5, 14, 17, 22, 31])
def test_some_versions_give_the_plan_that_all_give_and_a_bound_that_holds(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three versions at hand, all enumerated as the yardstick; the plan passes the audit."""
    kitchen = choice_kitchen(seed, monkeypatch)
    assert kitchen.few.outline is not None
    least = optimum(build_plain(kitchen.every, strengthen=False).matrix).objective
    result = search(kitchen.few, _COUNTED, None, None, _recut(kitchen))
    if least is None:
        assert result.infeasible
        assert result.decisions is None
    else:
        assert not result.infeasible
        assert result.decisions is not None
        assert result.problem is not None
        assert result.bound <= least + MONEY
        assert cost_of(result.problem, result.decisions).objective == pytest.approx(
            least, abs=MONEY
        )
        told = facts(result.bound)
        plan = extract_plan(
            result.problem, kitchen.catalog, kitchen.scenario, result.decisions, told, SOURCE
        )
        assert audit_plan(plan, kitchen.catalog, kitchen.scenario) == []
        known = build_problem(kitchen.catalog, kitchen.scenario, versions_in(plan))
        assert len(decisions_of(plan, known).servings) == len(plan.portions)


def _hungry() -> tuple[Catalog, Any]:
    """Return a kitchen that only a dear version of its one recipe feeds."""
    names = [f"extra{n:02d}" for n in range(12)]
    foods = [food("barley", 10.0), *(food(name, 30.0 + n) for n, name in enumerate(names))]
    lines: list[dict[str, Any]] = [{"food": "barley", "amount": 200, "unit": "g"}]
    lines += [{"food": name, "amount": 100, "unit": "g", "optional": True} for name in names]
    packs = [pack(one["food_id"], 100, "1.00") for one in foods]
    eater = client(windows_per_day={"energy_kcal": {"min": 100.0, "max": 125.0}})
    week = scenario(clients=[eater], most_dishes_per_meal=1)
    return catalog(foods, packs, [recipe("bowl", {}, lines=lines)]), week


def test_versions_left_out_are_no_proof_that_no_week_complies(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With a version at hand that feeds nobody, the search says that it found none, and no more."""
    monkeypatch.setattr(versions, "_MOST_AT_HAND", 1)
    monkeypatch.setattr(versions, "_LEAST_AT_HAND", 1)
    table, week = _hungry()
    problem = build_problem(table, week)
    assert len(problem.dishes) == 1
    alone = search(problem, _COUNTED)
    assert alone.decisions is None
    assert not alone.infeasible
    assert not first_week(problem, _COUNTED, 5.0).infeasible
    result = search(problem, _COUNTED, None, None, lambda keys: build_problem(table, week, keys))
    assert result.decisions is not None
    assert result.problem is not None
    assert 0 < result.bound <= cost_of(result.problem, result.decisions).objective + MONEY


def test_what_no_version_can_do_is_proven() -> None:
    """More energy than the fullest version has: impossible, and known to be."""
    table, week = _hungry()
    eater = week.clients[0].model_copy(
        update={"windows_per_day": {}, "windows_on_days": {1: _window(5000.0)}}
    )
    week = week.model_copy(update={"clients": (eater,)})
    problem = build_problem(table, week)
    assert problem.outline is not None
    assert search(problem, _COUNTED).infeasible
    assert first_week(problem, _COUNTED, 5.0).infeasible
    assert limits_of(week)


def _window(least: float) -> Any:
    given = scenario(clients=[client(windows_per_day={"energy_kcal": {"min": least}})])
    return given.clients[0].windows_per_day


def test_decisions_are_carried_over_by_what_they_are_about(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Dishes stand elsewhere among other versions; what the other problem lacks is left out."""
    kitchen = choice_kitchen(4, monkeypatch)
    result = search(kitchen.few, _COUNTED, None, None, _recut(kitchen))
    assert result.problem is not None
    assert result.decisions is not None
    there = carried_over(result.decisions, result.problem, kitchen.every)
    assert cost_of(kitchen.every, there) == cost_of(result.problem, result.decisions)
    assert carried_over(there, kitchen.every, result.problem) == result.decisions


def _files(optional: int) -> dict[str, str | None]:
    """Return the tiny catalog with foods for so many optional lines of the soup."""
    files = tiny_catalog_files()
    foods, packs, soup = (
        files["foods.csv"],
        files["packs.csv"],
        yaml.safe_load(files["recipes/lentil_soup.yaml"]),
    )
    for n in range(optional):
        egg = "egg" if n == 0 else "none"
        foods += (
            f'herb{n},Herb {n},11282,"Onions, raw",{30 + n},1,0.1,9,1.7,4,raw,1,,{egg},vegetables,'
            "shelf,21,,,none\n"
        )
        packs += f"herb{n}_50g,herb{n},market,pack,50,g,0.{40 + n},USD,2026-11-20\n"
        soup["lines"].append({"food": f"herb{n}", "amount": 30, "unit": "g", "optional": True})
    changed: dict[str, str | None] = {"foods.csv": foods, "packs.csv": packs}
    changed["recipes/lentil_soup.yaml"] = yaml.safe_dump(soup, sort_keys=False)
    return changed


def test_thirty_optional_lines_plan_as_fast_as_none(tmp_path: Path) -> None:
    """Processor seconds of the whole command differ by little; what is eaten is allowed."""
    spent = {}
    ben = {"id": "ben", "name": "Ben", "allergens": ["egg"], "meals": ["lunch"]}
    people = [tiny_client(), tiny_client(**ben, windows_per_day={"energy_kcal": {"max": 900}})]
    for lines in (0, 30):
        path = write_kitchen(tmp_path / str(lines), files=_files(lines), clients=people)
        kitchen = load_kitchen(path)
        began = process_time()
        plan = make_plan(kitchen, SolveSettings(gap=0.05, time_limit_s=30.0, threads=1))
        spent[lines] = process_time() - began
        assert plan.solution.best_bound <= plan.solution.objective
        for portion in plan.portions:
            if portion.client_id == "ben" and portion.recipe_id == "lentil_soup" and lines:
                assert "3-" in portion.version.split("+")
    assert spent[30] < spent[0] + 5.0
    write_plan(plan, kitchen.catalog, kitchen.scenario, tmp_path / "out")
    assert (tmp_path / "out" / "report.md").exists()
