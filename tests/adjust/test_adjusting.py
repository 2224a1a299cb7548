"""A written plan adjusted: what was asked for is so, what is over stands, the audit agrees."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planopt import cli
from planopt.adjust.explain import plate_of_words, reasons_for, reasons_text
from planopt.adjust.text import adjustment_text
from planopt.adjust.week import (
    Adjustment,
    Written,
    adjust,
    again_changed,
    before_of,
    read_written,
)
from planopt.adjust.words import FORMS, changes_of_words, from_then_on
from planopt.audit import audit_plan
from planopt.faults import BadInput, NoCompliantWeek
from planopt.pipeline import audit_folder
from planopt.plan.records import Plan
from planopt.plan.reread import decisions_of, versions_in
from planopt.problem.build import build_problem
from planopt.problem.change import prices_from
from planopt.report.files.folder import write_plan
from planopt.scenario.variants.apply import apply_variant
from planopt.scenario.variants.together import both
from planopt.scenario.variants.words import variant_of_words
from planopt.solve.annealing.nearby import Nearby
from planopt.solve.settings import SolveSettings

COUNTED = SolveSettings(work_limit=200, threads=1)

Plates = dict[tuple[str, int, str], tuple[tuple[str, float], ...]]


def plates(plan: Plan) -> Plates:
    """Return what is on each plate."""
    found: dict[tuple[str, int, str], list[tuple[str, float]]] = {}
    for row in plan.portions:
        found.setdefault((row.client_id, row.day, row.meal), []).append(
            (row.recipe_id, row.servings)
        )
    return {key: tuple(sorted(rows)) for key, rows in found.items()}


def adjusted(written: Written, *texts: str, from_day: int | None = None) -> Adjustment:
    """Return the plan with changes told in words."""
    variant = changes_of_words(texts, written.kitchen, written.plan, from_day)
    return adjust(written, variant, COUNTED)


def another(written: Written) -> tuple[str, int, str, str]:
    """Return a lunch or dinner of Ana's, and a recipe for such meals that is not on it."""
    now = plates(written.plan)
    for (client, day, meal), dishes in sorted(now.items()):
        if client != "ana" or meal not in ("lunch", "dinner"):
            continue
        eaten = {recipe for recipe, _ in dishes}
        for recipe in ("egg_rice", "lentil_soup"):
            if recipe not in eaten:
                return client, day, meal, recipe
    raise AssertionError("every meal has every dish")


def test_a_dish_put_on_a_plate_is_there_and_most_others_stay(written: Written) -> None:
    """What was asked for is so, the audit agrees, and the count of plates is the plan's."""
    client, day, meal, recipe = another(written)
    found = adjusted(written, f"put {recipe} on day {day} {meal} for {client}")
    before, after = plates(written.plan), plates(found.plan)
    assert [name for name, _ in after[client, day, meal]] == [recipe]
    differs = {key for key in before if before[key] != after[key]}
    assert len(differs) == len(found.changes.dishes) + len(found.changes.portions)
    assert len(differs) <= len(before) // 2
    assert audit_plan(found.plan, found.kitchen.catalog, found.kitchen.scenario) == []
    assert found.plan.solution.best_bound >= written.plan.solution.best_bound
    text = adjustment_text(found)
    assert f"{len(differs)} of {len(before)} plates change" in text
    assert "(asked for)" in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("day", [1, 3])
def test_a_dish_moved_to_a_day_that_has_it_goes_from_the_other_meal_there(
    written: Written, day: int
) -> None:
    """Weeks annealed from the plan as it was have no dish twice a day, and there are some."""
    dinner = plates(written.plan)["ana", day, "dinner"][0][0]
    texts = [f"without {dinner} on day {day} dinner for ana",
             f"put {dinner} on day {day + 1} dinner for ana"]  # fmt: skip
    variant = changes_of_words(texts, written.kitchen, written.plan)
    kitchen = again_changed(written, variant)
    problem = build_problem(kitchen.catalog, kitchen.scenario, versions_in(written.plan))
    start = decisions_of(written.plan, problem)
    earlier = before_of(written.plan, problem, start)
    nearby = Nearby(problem, earlier, start.servings, prices_from(2.0), 1)
    weeks = list(nearby.weeks(lambda: False, 20_000, 1, 1))
    assert len(weeks) == 1
    for i, slot in enumerate(problem.slots):
        mine = [problem.dishes[slot.options[j].dish].recipe_id for n, j in weeks[0] if n == i]
        same_day = [
            problem.dishes[other.options[j].dish].recipe_id
            for n, j in weeks[0]
            for other in [problem.slots[n]]
            if n != i and (other.client, other.day) == (slot.client, slot.day)
        ]
        assert not set(mine) & set(same_day), (slot.client, slot.day, slot.meal)


def test_keeping_everything_changes_nothing(written: Written) -> None:
    """All days kept, the week is the same, and that none is better is proven."""
    days = [f"keep day {day}" for day in range(1, written.plan.days + 1)]
    found = adjusted(written, *days)
    assert plates(found.plan) == plates(written.plan)
    assert found.plan.solution.objective == written.plan.solution.objective
    assert found.within.rings[0].proven


def test_mid_week_what_is_over_stands(written: Written) -> None:
    """From day 3 on, plates, packs and batches of before are as they were; a new limit is not."""
    windows = "ben energy_kcal max 1700"
    found = adjusted(written, windows, from_day=3)
    was, now = plates(written.plan), plates(found.plan)
    assert {k: v for k, v in now.items() if k[1] < 3} == {k: v for k, v in was.items() if k[1] < 3}

    def bought(plan: Plan) -> Counter[tuple[str, int]]:
        return Counter({(p.pack_id, p.shop_day): p.count for p in plan.purchases if p.shop_day < 3})

    assert bought(found.plan) == bought(written.plan)
    assert [b for b in found.plan.batches if b.cook_day < 3] == [
        b.model_copy(update={"servings_eaten": e.servings_eaten, "servings_left": e.servings_left})
        for b, e in zip(
            [b for b in written.plan.batches if b.cook_day < 3],
            [b for b in found.plan.batches if b.cook_day < 3],
            strict=True,
        )
    ]
    (ben,) = [c for c in found.kitchen.scenario.clients if c.client_id == "ben"]
    assert ben.windows_on_days[2]["energy_kcal"].max == 1800
    assert 3 not in ben.windows_on_days
    assert ben.windows_per_day["energy_kcal"].max == 1700


def test_servings_lost_of_a_pot_are_eaten_by_nobody(written: Written) -> None:
    """Of an overcooked pot of day 1 one serving less is eaten, and the audit counts it too."""
    batch = next(b for b in written.plan.batches if b.cook_day == 1 and b.servings_eaten >= 2)
    lost = batch.servings - batch.servings_eaten + 0.5
    text = f"lost {lost:g} servings of {batch.recipe_id} of day 1"
    found = adjusted(written, text)
    key = (batch.recipe_id, batch.version, 1)
    rows = [b for b in found.plan.batches if (b.recipe_id, b.version, b.cook_day) == key]
    assert [b.batches for b in rows] == [batch.batches]
    assert rows[0].servings_eaten <= batch.servings - lost
    eater = next(p for p in found.plan.portions if (p.recipe_id, p.version, p.cook_day) == key)
    more = eater.model_copy(update={"servings": eater.servings + batch.servings})
    portions = tuple(more if row == eater else row for row in found.plan.portions)
    broken = found.plan.model_copy(update={"portions": portions})
    findings = audit_plan(broken, found.kitchen.catalog, found.kitchen.scenario)
    assert any(f.rule == "by-hand" and "not lost" in f.expected for f in findings)


def test_food_that_is_out_stays_out_beyond_what_is_bought(written: Written) -> None:
    """Mid-week no more of it is bought; what was bought before is used."""
    foods = {p.food_id for p in written.plan.purchases if p.shop_day < 3}
    food = sorted(foods)[0]
    found = adjusted(written, f"no {food}", from_day=3)
    later = [p for p in found.plan.purchases if p.food_id == food and p.shop_day >= 3]
    assert later == []
    assert found.kitchen.scenario.by_hand.sold_out == (food,)


def test_an_adjusted_plan_can_be_adjusted_again(written: Written, tmp_path: Path) -> None:
    """The plan tells all its changes; read back it is audited, and the next change adds to them."""
    client, day, meal, recipe = another(written)
    text = f"put {recipe} on day {day} {meal} for {client}"
    first = adjusted(written, text)
    write_plan(first.plan, first.kitchen.catalog, first.kitchen.scenario, tmp_path / "one")
    assert audit_folder(tmp_path / "one")[1] == []
    again = adjusted(read_written(tmp_path / "one"), "keep day 1 for ben")
    assert [name for name, _ in plates(again.plan)[client, day, meal]] == [recipe]
    assert again.plan.changes is not None
    assert again.plan.changes.name == f"{text}; keep day 1 for ben"


def test_what_no_week_has_is_told(written: Written) -> None:
    """Two servings of porridge every breakfast and 400 kcal at most: no week, and why is told."""
    with pytest.raises(NoCompliantWeek) as caught:
        adjusted(written, "ana protein_g min 4000")
    assert caught.value.reasons


def test_two_changes_one_after_the_other_are_both(written: Written) -> None:
    """Joined variants change a scenario as the two do one after the other."""
    catalog, scenario = written.kitchen.catalog, written.kitchen.scenario
    pairs = [
        ("price of egg +30%", "price of egg -0.10"),
        ("without recipe egg_rice", "with recipe egg_rice"),
        ("no cooking on day 3", "cook on day 3"),
        ("stock egg 6 each", "no stock of egg"),
        ("no stock of egg", "stock egg 6 each"),
        ("ana protein_g min +5", "ana protein_g min +5"),
        ("put egg_rice on day 2 dinner for ana", "put lentil_soup on day 2 dinner for ana"),
    ]
    for one, other in pairs:
        first = variant_of_words([one], catalog, scenario)
        then = variant_of_words([other], catalog, scenario)
        mid = apply_variant(catalog, scenario, first)
        step = apply_variant(*mid, then)
        joined = apply_variant(catalog, scenario, both(first, then))
        assert joined[0].packs == step[0].packs, one
        same = {"name": "", "cook_days": ()}
        assert joined[1].model_copy(update=same) == step[1].model_copy(update=same), one
        days = [[c.day for c in found[1].cook_days] for found in (joined, step)]
        assert days[0] == days[1]


def test_why_a_dish_is_there(written: Written) -> None:
    """The next best is another dish on that plate, or it is proven that there is none."""
    row = written.plan.portions[0]
    rows = plate_of_words(
        f"{row.client_id} day {row.day} {row.meal}", written.plan, written.kitchen.scenario
    )
    found = reasons_for(written, rows, COUNTED)
    text = reasons_text(found)
    assert text.startswith(f"{'Ana' if row.client_id == 'ana' else 'Ben'}, Monday 2026-11-30")
    if found.without is None:
        assert found.never
        assert "No week complies without this dish there: that is proven." in text
    else:
        dishes = plates(found.without.plan)[row.client_id, row.day, row.meal]
        assert row.recipe_id not in [name for name, _ in dishes]
        more = found.without.plan.solution.objective - written.plan.solution.objective
        assert f"{more:+}" in text


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("bought day 2", "not_in_plan"),
        ("cooked egg_rice on day 0", "not_in_plan"),
        ("keep day 9", "not_in_plan"),
        ("less salt", "change_not_understood"),
    ],
)
def test_words_that_the_plan_knows_nothing_of(written: Written, text: str, code: str) -> None:
    """Each is a fault of the change, and what can be written is told."""
    with pytest.raises(BadInput) as caught:
        changes_of_words([text], written.kitchen, written.plan)
    (fault,) = caught.value.faults
    assert (fault.code, fault.field) == (code, "--change")
    if code == "change_not_understood":
        assert all(form in fault.mend for form, _, _ in FORMS)


def test_windows_of_days_that_are_over_stay(written: Written) -> None:
    """Each day before is set to what it was; later days move."""
    variant = variant_of_words(
        ["ana protein_g min +5"], written.kitchen.catalog, written.kitchen.scenario
    )
    found = from_then_on(variant, written.kitchen, 3)
    scenario = apply_variant(written.kitchen.catalog, written.kitchen.scenario, found)[1]
    (ana,) = [c for c in scenario.clients if c.client_id == "ana"]
    least = [scenario.windows_of(ana, day)["protein_g"].min for day in (1, 2, 3, 4)]
    assert least == [60, 60, 65, 65]


def test_the_command_writes_a_plan_and_says_what_changed(plan_folder: Path, tmp_path: Path) -> None:
    """From the command line: text to standard output, a plan that the audit command accepts."""
    out = tmp_path / "new"
    runner = CliRunner()
    words = ["--change", "ben skips dinner on day 2", "--out", str(out), "--work-limit", "200"]
    run = runner.invoke(cli.app, ["adjust", str(plan_folder), *words])
    assert run.exit_code == 0, run.output
    told = run.stderr.splitlines()
    assert re.fullmatch(r"\d+ of 5 s  looking for weeks in which .* may change", told[0])
    assert run.stdout.startswith("Adjusted: ben skips dinner on day 2\n")
    assert runner.invoke(cli.app, ["audit", str(out)]).exit_code == 0
    assert runner.invoke(cli.app, ["adjust", str(plan_folder)]).exit_code == 2


def test_the_texts_of_what_cannot_be_asked_of_a_plan(written: Written) -> None:
    """A purchase that is none, a plate that is none, and a change that comes too late."""
    texts = []
    for words, from_day in ((["bought day 2"], None), (["stock egg 6 each"], 3)):
        with pytest.raises(BadInput) as caught:
            changes_of_words(words, written.kitchen, written.plan, from_day)
        texts += [fault.text() for fault in caught.value.faults]
    for plate in ("ana dinner", "ana day 9 dinner"):
        with pytest.raises(BadInput) as caught:
            plate_of_words(plate, written.plan, written.kitchen.scenario)
        texts += [fault.text() for fault in caught.value.faults]
    assert texts == [
        "command line: --change: 'bought day 2' [not_in_plan]\n"
        "    why: the plan has no such purchase\n"
        "    mend: look at `planopt show DIR` for what it has, and correct day or name",
        "command line: --from: '3' [change_too_late]\n"
        "    why: what was on hand and cooked before that day cannot be changed any more\n"
        "    mend: leave this change out; of food that is gone say: no FOOD, or lost N servings",
        "command line: --explain: 'ana dinner' [plate_not_understood]\n"
        "    why: this plate is not understood\n"
        "    mend: write client, day and meal, as: mira day 2 dinner",
        "command line: --explain: 'ana day 9 dinner' [not_in_plan]\n"
        "    why: the plan has no such plate\n"
        "    mend: write client, day and meal, as: mira day 2 dinner",
    ]
