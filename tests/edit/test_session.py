"""A session at the working sheet: changes on the list, a week made anew, and what is kept."""

from __future__ import annotations

import shutil
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest

from edit.sheets import COUNTED
from planopt.adjust.week import Adjustment, read_written
from planopt.adjust.words import changes_of_words
from planopt.edit import session as sessions
from planopt.edit.asking import KINDS, asked_of, wish_of
from planopt.edit.session import EditSession, NotNow, free_folder
from planopt.faults import BadInput, NoPlanInTime
from planopt.interrupts import stop_asked, stoppable
from planopt.pipeline import audit_folder
from planopt.plan.file import read_plan
from planopt.solve.budget import Budget
from planopt.solve.settings import SolveSettings

# The costly plan is made once for all tests of this part, in one process.
pytestmark = pytest.mark.xdist_group("edit")


def wait(session: EditSession) -> None:
    """Wait until nothing is being planned."""
    search = session._search
    if search is not None:
        search.thread.join(60)
    assert not session.planning


def fields_of(folder: Path) -> dict[str, Any]:
    """Return fields for every kind of change that fit the plan of a folder."""
    plan = read_plan(folder)
    row = next(p for p in plan.portions if p.client_id == "ana" and p.meal == "dinner")
    bought, cooked = plan.purchases[0], plan.batches[0]
    here = {"client": "ana", "day": row.day, "meal": "dinner"}
    other = {"egg_rice", "lentil_soup"} - {row.recipe_id}
    return {
        "move": {**here, "recipe": row.recipe_id, "to_day": row.day, "to_meal": "lunch"},
        "put": {**here, "recipe": min(other)},
        "without": {**here, "recipe": row.recipe_id},
        "keep_meal": here,
        "keep_dish": {"client": "ana", "recipe": row.recipe_id},
        "keep_day": {"client": "ana", "day": 2},
        "skip": here,
        "window": {"client": "ana", "nutrient": "protein_g", "side": "min", "amount": "41.5"},
        "bought": {"pack": bought.pack_id, "day": bought.shop_day},
        "cooked": {"recipe": cooked.recipe_id, "day": cooked.cook_day},
    }


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_change_has_words_that_adjust_understands(tiny_plan: Path, kind: str) -> None:
    """With all its fields it is a change of the plan; without one, the field is named."""
    written = read_written(tiny_plan)
    fields = fields_of(tiny_plan)[kind]
    wish = wish_of(1, asked_of({"kind": kind, **fields}), written, "the dish")
    variant = changes_of_words(wish.words, written.kitchen, written.plan)
    assert variant.name == "; ".join(wish.words)
    assert "{" not in wish.label
    for name in KINDS[kind].needs:
        less = {key: value for key, value in fields.items() if key != name}
        with pytest.raises(BadInput) as caught:
            asked_of({"kind": kind, **less})
        assert [(f.field, f.code) for f in caught.value.faults] == [(name, "missing_field")]


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"kind": "explode"}, "kind"),
        ({"kind": "keep_day", "day": 1, "more": 1}, "more"),
        ({"kind": "keep_dish", "client": "ana; put x on day 1 lunch", "recipe": "x"}, "client"),
        ({"kind": "keep_day", "day": "soon"}, "day"),
    ],
)
def test_what_is_no_change_is_refused(data: dict[str, Any], field: str) -> None:
    """Unknown kinds and fields, and ids that hold other words, are faults with their field."""
    with pytest.raises(BadInput) as caught:
        asked_of(data)
    assert field in [fault.field for fault in caught.value.faults]


def test_the_list_holds_no_two_changes_that_contradict_each_other(session: EditSession) -> None:
    """A later change of the same plate or window replaces; others stay; numbers do not repeat."""
    fields = fields_of(session.folder)

    def add(kind: str, **more: object) -> str:
        return session.add(asked_of({"kind": kind, **fields[kind], **more}))

    def kinds() -> list[str]:
        return [wish.asked.kind for wish in session._wishes]

    add("keep_meal")
    add("window")
    said = add("put")
    assert kinds() == ["window", "put"]
    assert "In place of: Ana: keep" in said
    assert "put egg_rice" in session.command() or "put lentil_soup" in session.command()
    add("window", amount="45")
    assert kinds() == ["put", "window"]
    assert "protein_g min 45" in session.command()
    add("without")
    assert kinds() == ["put", "window", "without"]
    add("keep_meal")
    assert kinds() == ["window", "keep_meal"]
    numbers = [row["number"] for row in session.state()["wishes"]]
    assert numbers == sorted(set(numbers))
    session.remove(numbers[0])
    assert kinds() == ["keep_meal"]


def test_a_change_that_does_not_fit_leaves_the_list_as_it_is(session: EditSession) -> None:
    """Ben cannot have milk: the fault says so, and the change before it stays."""
    session.add(asked_of({"kind": "keep_day", "client": "ben", "day": 1}))
    with pytest.raises(BadInput) as caught:
        session.add(
            asked_of({"kind": "put", "client": "ben", "recipe": "oat_porridge", "day": 2,
                      "meal": "dinner"})
        )  # fmt: skip
    assert caught.value.faults
    assert [wish.asked.kind for wish in session._wishes] == ["keep_day"]


def test_what_may_be_dragged_where_is_what_the_plate_may_have(session: EditSession) -> None:
    """Ben's plates do not offer what has milk; breakfast offers no dinner."""
    plates = session.sheet("ana")["plates"]
    assert "lentil_soup" in plates["2/dinner"]["options"]
    assert "lentil_soup" not in plates["2/breakfast"]["options"]
    ben = session.sheet("ben")
    assert ben["client"] == "ben"
    assert ben["plates"]["1/breakfast"]["away"]
    assert all("oat_porridge" not in plate["options"] for plate in ben["plates"].values())


def test_the_sheet_shows_the_changes_so_far(session: EditSession) -> None:
    """Marks of a dish taken off, a dish put, a day kept, packs bought and pots cooked."""
    fields = fields_of(session.folder)
    for kind in ("move", "keep_day", "bought", "cooked"):
        session.add(asked_of({"kind": kind, **fields[kind]}))
    sheet = session.sheet("ana")
    move = fields["move"]
    dishes = sheet["plates"][f"{move['day']}/dinner"]["dishes"]
    assert [dish["off"] for dish in dishes if dish["recipe"] == move["recipe"]] == [True]
    assert sheet["plates"][f"{move['day']}/lunch"]["notes"]
    assert [day["day"] for day in sheet["days"] if day["kept"]] == [2]
    done = [line["pack"] for visit in sheet["visits"] for line in visit["lines"] if line["done"]]
    assert done == [fields["bought"]["pack"]]
    assert any(line["done"] for pot in sheet["pots"] for line in pot["lines"])


def test_a_new_week_is_kept_beside_the_earlier_one(session: EditSession) -> None:
    """The files have what was asked for, the earlier plan stays, and the next has another name."""
    first = session.folder
    before = (first / "plan.json").read_bytes()
    fields = fields_of(first)["put"]
    session.add(asked_of({"kind": "put", **fields}))
    session.start()
    with pytest.raises(NotNow):
        session.keep()
    wait(session)
    state = session.state()
    assert state["phase"] == "draft", state["trouble"]
    changed = {one["plate"]: one for one in state["difference"]["plates"]}
    assert changed[f"{fields['day']}/dinner"]["asked"]
    with pytest.raises(NotNow):
        session.add(asked_of({"kind": "keep_day", "day": 1}))
    session.keep()
    assert (first / "plan.json").read_bytes() == before
    assert session.kept == [first.with_name("plan-adjusted")]
    assert session.out.name == "plan-adjusted-2"
    plan, findings = audit_folder(session.kept[0])
    assert findings == []
    rows = [p.recipe_id for p in plan.portions
            if (p.client_id, p.day, p.meal) == ("ana", fields["day"], "dinner")]  # fmt: skip
    assert rows == [fields["recipe"]]
    assert session.state()["phase"] == "open"
    assert session.state()["wishes"] == []
    plate = session.sheet("ana")["plates"][f"{fields['day']}/dinner"]
    assert plate["settled"]
    assert len(plate["options"]) > 1
    assert ":" not in session.sheet("ana")["title"]


def test_put_aside_the_changes_are_still_there(
    session: EditSession, ready: Adjustment, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Going back forgets the new week alone; nothing is written."""
    monkeypatch.setattr(sessions, "adjust", lambda *_: ready)
    session.add(asked_of({"kind": "keep_day", "day": 1}))
    session.start()
    wait(session)
    session.back()
    assert session.state()["phase"] == "open"
    assert len(session.state()["wishes"]) == 1
    assert not session.out.exists()


def test_a_search_can_be_stopped_and_nothing_comes_of_it(
    session: EditSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A search that would go on for ever hears of the stop; the changes stay."""
    begun = Event()

    def endless(*_: object) -> None:
        begun.set()
        while not stop_asked():
            begun.wait(0.01)
        raise NoPlanInTime("stopped")

    monkeypatch.setattr(sessions, "adjust", endless)
    session.add(asked_of({"kind": "keep_day", "day": 1}))
    session.start()
    assert begun.wait(10)
    assert session.state()["search"]["limit"] is None
    session.stop(wait=True)
    state = session.state()
    assert (state["phase"], state["trouble"], len(state["wishes"])) == ("open", None, 1)


def test_the_clock_of_a_search_hears_of_a_stop_in_any_thread() -> None:
    """What is asked of the thread that began is seen in the solver's; no other search stops."""
    stop = Event()
    other = Budget(SolveSettings(), None)
    with stoppable(stop.is_set):
        clock = Budget(SolveSettings(), None)
    seen: list[bool] = []
    for _ in range(2):
        thread = Thread(target=lambda: seen.append(clock.interrupted))
        thread.start()
        thread.join()
        stop.set()
    assert seen == [False, True]
    assert not other.interrupted
    assert not stop_asked()


@pytest.mark.parametrize("error", [NoPlanInTime("no week was found"), ZeroDivisionError("oops")])
def test_what_goes_wrong_is_told_and_the_changes_stay(
    session: EditSession,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: Exception,
) -> None:
    """An error is sentences on the page; a bug says so, and its traceback is in the terminal."""

    def failing(*_: object) -> None:
        raise error

    monkeypatch.setattr(sessions, "adjust", failing)
    session.add(asked_of({"kind": "keep_day", "day": 1}))
    session.start()
    wait(session)
    state = session.state()
    (sentence,) = state["trouble"]["sentences"]
    known = isinstance(error, NoPlanInTime)
    assert sentence == ("No week was found" if known else
                        "A bug of planopt; what it was is in the terminal")  # fmt: skip
    assert ("Traceback" in capsys.readouterr().err) is not known
    assert len(state["wishes"]) == 1


def test_mid_week_what_is_over_stands(session: EditSession) -> None:
    """The day is checked, and stands in the command; with nothing asked nothing is planned."""
    with pytest.raises(NotNow):
        session.start()
    session.set_over(3)
    assert session.command() == f"planopt adjust {session.folder} --from 3"
    session.set_over(None)
    assert session.command() == ""
    session.set_over(2)
    with pytest.raises(BadInput):
        session.start(0)


def test_what_is_kept_goes_to_a_folder_that_is_free(tiny_plan: Path, tmp_path: Path) -> None:
    """Names count on, also from a plan that was kept before; a folder asked for is checked."""
    for name, free in (
        ("plan", "plan-adjusted"),
        ("plan-adjusted", "plan-adjusted-2"),
        ("plan-adjusted-2", "plan-adjusted-3"),
    ):
        shutil.copytree(tiny_plan, tmp_path / name)
        assert free_folder(tmp_path / name) == tmp_path / free
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        EditSession(tmp_path / "plan", tmp_path / "mine", COUNTED, None)
    assert [fault.code for fault in caught.value.faults] == ["out_dir_taken"]
