"""Whatever is changed in a valid plan, the audit finds it.

Fields are found by walking the plan's records, so that a field added later is covered, or fails
here until the audit recomputes it or the list below excuses it.
"""

from __future__ import annotations

import copy
import warnings
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from audit.handmade import catalog, scenario
from audit.handmade_plan import plan
from planopt.audit import audit_plan
from planopt.plan.records import Plan

Path = tuple[str | int, ...]

# what describes the run rather than the week, and cannot be recomputed from anything
EXCUSED = {
    "planopt_version",
    "scenario_file",
    "scenario_sha256",
    "catalog_folder",
    "catalog_sha256",
    "solution.gap_asked",
    "solution.solve_seconds",
    "solution.build_seconds",
    "solution.solver",
    "solution.solver_status",
    "solution.bound_composition",
    "solution.settings.seed",
    # why a search stopped is known to the solver alone; a false `optimal` has its own test
    "solution.status",
}
ROWS = ("purchases", "batches", "portions", "food_uses")
WORDS = ("fridge", "freezer", "any", "loose", "carried", "wasted", "optional", "nobody", "")
CATALOG, SCENARIO = catalog(), scenario()
DATA = plan().model_dump()


def leaves(value: object, path: Path = ()) -> Iterator[tuple[Path, object]]:
    """Yield every plain value of the plan with its path."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, (list, tuple)):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, index))
    else:
        yield path, value


def excused(path: Path) -> bool:
    """Tell whether a field is descriptive; the cautions are free prose, only their topics bind."""
    return ".".join(map(str, path)) in EXCUSED or path[0] == "cautions"


LEAVES = [(path, value) for path, value in leaves(DATA) if not excused(path)]
# the words that stand in the same field of other rows, known ones being the likelier mistake
SIBLINGS: dict[object, dict[str, None]] = {}
for _path, _value in LEAVES:
    if isinstance(_value, str):
        SIBLINGS.setdefault(_path[-1], {})[_value] = None


def changed(path: Path, value: object) -> dict[str, Any]:
    """Return the plan's data with one value replaced."""
    data: dict[str, Any] = edited(DATA, path, value)
    return data


def edited(data: Any, path: Path, value: object) -> Any:
    """Return a copy of nested data with one value replaced, sharing the rest."""
    if not path:
        return value
    head, rest = path[0], path[1:]
    inner = edited(data[head], rest, value)
    if isinstance(data, dict):
        return {**data, head: inner}
    return [*data[: int(head)], inner, *data[int(head) + 1 :]]


def refused(data: dict[str, Any]) -> bool:
    """Tell whether the records or the audit refuse the data."""
    try:
        mutant = Plan.model_validate(data)
    except ValidationError:
        return True
    return bool(audit_plan(mutant, CATALOG, SCENARIO))


def small_changes(path: Path, value: object) -> list[object]:
    """Return the least changes worth finding: a cent, a hundredth of a gram, a day, a word."""
    if isinstance(value, Decimal):
        return [value + Decimal("0.01"), value - Decimal("0.01")]
    if isinstance(value, int):
        return [value + 1, value - 1, value + 10**9]
    if isinstance(value, float):
        return [value + 0.01, value - 0.01, value + 1]
    if isinstance(value, date):
        return [value + timedelta(days=1), value - timedelta(days=1), date.max]
    if value is None:
        return [date(2026, 3, 3), date(2026, 3, 10)]
    words = (*SIBLINGS[path[-1]], *WORDS, f"{value}x", f"+{value}")
    return [word for word in words if word != value]


def test_the_plan_unchanged_is_not_refused() -> None:
    """What the other tests of this file find is due to their changes."""
    assert not refused(DATA)


@pytest.mark.slow
def test_every_least_change_of_every_field_is_found() -> None:
    """One cent, one hundredth of a gram, one day or one other word anywhere is a finding."""
    missed = [
        f"{path}: {value!r} -> {other!r}"
        for path, value in LEAVES
        for other in small_changes(path, value)
        if not refused(changed(path, other))
    ]
    assert missed == []


def different(value: object) -> st.SearchStrategy[Any]:
    """Return values of the same kind that differ by more than the audit's tolerances."""
    if isinstance(value, Decimal):
        cents = st.decimals(-(10**6), 10**6, places=2)
        return cents.filter(lambda other: other != value)
    if isinstance(value, int):
        return st.integers(-(10**15), 10**15).filter(lambda other: other != value)
    if isinstance(value, float):
        room = 0.01 if value > 1 else 1e-3
        floats = st.floats(allow_nan=True, allow_infinity=True)
        return floats.filter(lambda other: not abs(other - value) < room)
    if isinstance(value, date) or value is None:
        return st.dates().filter(lambda other: other != value)
    return st.text(max_size=20).filter(lambda other: other.strip() != value)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(st.data())
def test_any_other_value_in_any_field_is_found(draw: st.DataObject) -> None:
    """Whatever one field is changed to, the records refuse it or the audit finds it."""
    path, value = draw.draw(st.sampled_from(LEAVES))
    other = draw.draw(different(value))
    assert refused(changed(path, other)), f"{path}: {value!r} -> {other!r}"


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_one_row_less_or_twice_is_found(draw: st.DataObject) -> None:
    """No purchase, batch, portion or food use can be dropped or doubled unnoticed."""
    table = draw.draw(st.sampled_from(ROWS))
    rows = list(DATA[table])
    index = draw.draw(st.integers(0, len(rows) - 1))
    assert refused(changed((table,), rows[:index] + rows[index + 1 :]))
    assert refused(changed((table,), [*rows, rows[index]]))


def test_a_line_of_a_batch_less_or_twice_is_found() -> None:
    """The lines of a batch are those of its version, each once."""
    for number, batch in enumerate(DATA["batches"]):
        lines = list(batch["lines"])
        for index in range(len(lines)):
            path: Path = ("batches", number, "lines")
            assert refused(changed(path, lines[:index] + lines[index + 1 :]))
            assert refused(changed(path, [*lines, lines[index]]))


def test_every_caution_dropped_is_found() -> None:
    """A plan without one of the standing cautions or a client's own is refused."""
    texts = list(DATA["cautions"])
    for index in range(len(texts)):
        assert refused(changed(("cautions",), texts[:index] + texts[index + 1 :]))


def test_keys_of_tables_moved_or_dropped_are_found() -> None:
    """Grams used on another cook day, or a nutrient under another name, are findings."""
    uses, portions = DATA["food_uses"], DATA["portions"]
    tables: list[tuple[Path, Any]] = [
        (("food_uses", i, "used_g"), row["used_g"]) for i, row in enumerate(uses)
    ]
    tables += [(("portions", i, "nutrients"), row["nutrients"]) for i, row in enumerate(portions)]
    for path, table in tables:
        for key in table:
            rest = {other: amount for other, amount in table.items() if other != key}
            renames = [2, 0, 1, -1, 10**9] if isinstance(key, int) else ["iron", "fibre_g"]
            assert refused(changed(path, rest))
            for name in renames:
                if name != key:
                    assert refused(changed(path, {**rest, name: table[key]})), (path, name)


def test_a_lower_bound_needs_a_wider_gap() -> None:
    """A bound lowered alone is found by its gap; lowered with its gap it is only a weaker claim.

    The audit cannot prove a bound again, so the last is no finding; but it is no optimum either.
    """
    assert refused(changed(("solution", "best_bound"), Decimal("25.39")))
    weaker = edited(DATA, ("solution", "best_bound"), Decimal("20.00"))
    weaker = edited(weaker, ("solution", "proven_gap"), 5.47 / 25.47)
    assert refused(weaker)
    assert not refused(edited(weaker, ("solution", "status"), "time_limit"))


def test_excused_fields_are_fields_of_the_plan() -> None:
    """The list of excuses names nothing that no longer exists."""
    assert {".".join(map(str, path)) for path, _ in leaves(DATA)} >= EXCUSED


def test_unvalidated_copies_do_not_crash_the_audit() -> None:
    """Records changed in memory can hold anything; the audit reports it."""
    whole = plan()
    wild: list[tuple[str, object]] = [
        ("days", 10**5000),
        ("days", "seven"),
        ("start_date", None),
        ("portions", None),
        ("portions", (None, 3)),
        ("cautions", (4,)),
    ]
    for field, value in wild:
        assert audit_plan(whole.model_copy(update={field: value}), CATALOG, SCENARIO), field
    odd_money = ["NaN", "sNaN", "Infinity", "1E+999999", "1E-999999"]
    odd: list[dict[str, object]] = [{"grocery_cost": Decimal(text)} for text in odd_money]
    odd += [{"proven_gap": value} for value in (float("nan"), float("inf"), 1e300)]
    for update in odd:
        solution = whole.solution.model_copy(update=update)
        mutant = whole.model_copy(update={"solution": solution})
        assert audit_plan(mutant, CATALOG, SCENARIO), update


def test_many_changes_at_once_never_crash_the_audit() -> None:
    """Every field replaced at once by an odd value still gives findings."""
    data: Any = copy.deepcopy(DATA)
    for path, value in LEAVES:
        other = small_changes(path, value)[-1]
        trial = edited(data, path, other)
        try:
            mutant = Plan.model_validate(trial)
        except ValidationError:
            continue
        data = trial
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            assert audit_plan(mutant, CATALOG, SCENARIO)
