"""The 80-column summary and the progress line."""

from __future__ import annotations

import io
from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.catalog.records import Catalog
from planopt.plan.records import Plan
from planopt.report.terminal.progress import ProgressLine, Steps, progress_text
from planopt.report.terminal.summary import summary_text
from planopt.report.words.columns import clip, fit_table, screen_text, screen_width
from planopt.report.words.plain import cost_rows
from planopt.scenario.records import Scenario
from planopt.solve.progress import Progress
from report_samples import sample_catalog, sample_plan, sample_scenario

# Long words, wide letters, accents that combine, and characters that would move the cursor.
_names = st.text(
    st.sampled_from("aW é漢字한\u0301\u200d\x1b\n\t|🍲=,") | st.characters(),
    min_size=1,
    max_size=200,
)


def _renamed(name: str, amount: Decimal) -> tuple[Plan, Catalog, Scenario]:
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()

    def all_named(rows: tuple[Any, ...], **fields: object) -> tuple[Any, ...]:
        return tuple(row.model_copy(update=fields) for row in rows)

    sellers = {
        key: seller.model_copy(update={"name": name}) for key, seller in catalog.sellers.items()
    }
    foods = {key: food.model_copy(update={"name": name}) for key, food in catalog.foods.items()}
    solution = plan.solution.model_copy(update={"grocery_cost": amount, "objective": amount})
    return (
        plan.model_copy(
            update={
                "scenario_name": name,
                "solution": solution,
                "batches": all_named(plan.batches, recipe_name=name),
                "purchases": all_named(plan.purchases, food_name=name, price=amount),
            }
        ),
        catalog.model_copy(update={"sellers": sellers, "foods": foods}),
        scenario.model_copy(update={"clients": all_named(scenario.clients, name=name)}),
    )


@given(name=_names, amount=st.decimals(0, 10**12, places=2))
@settings(max_examples=60, deadline=None)
def test_no_line_is_wider_than_80_columns(name: str, amount: Decimal) -> None:
    """However long, wide or odd the names are, the summary fits an 80-column terminal."""
    text = summary_text(*_renamed(name, amount))
    assert max(screen_width(line) for line in text.split("\n")) <= 80
    assert all(line.isprintable() for line in text.split("\n"))


def test_summary_says_what_matters() -> None:
    """Cost, limit, early stop, clients, cooking, sellers and cautions are all there."""
    text = summary_text(sample_plan(), sample_catalog(), sample_scenario())
    flat = " ".join(text.split())
    for words in (
        "This week costs 17.55 USD, all counted: groceries 15.10, shop visits after the first "
        "2.00, waste 0.45. No compliant week can cost less than 16.80 USD; at most 4.3 % could be "
        "saved.",
        "Bill: groceries and visits 17.10",
        "The time limit stopped the search; a cheaper plan may exist. Gap asked for: 2 %.",
        "All counted: bill and weighed waste 17.55",
        "Ana 2 508 45 9 23 3 of 3",
        "Quayside stall 1 12.70",
        "Total 2 15.10",
        "1 caution: read them in report.md before cooking.",
    ):
        assert words in flat


def test_long_names_go_on_in_further_lines() -> None:
    """No name is cut, and the numbers stand beside its first line."""
    plan, catalog, scenario = _renamed(("Very long name " * 10).strip(), Decimal("7.00"))
    text = summary_text(plan, catalog, scenario)
    cooking = [line for line in text.splitlines() if "Very" in line and line.startswith("Sun")]
    assert cooking[0].split()[-3:] == ["1.5", "6", "0.5"]
    assert "…" not in text
    shown = 1 + len(scenario.clients) + len(plan.batches) + len(plan.purchases)
    assert text.count("Very") >= 10 * shown


def test_a_table_takes_room_from_other_names_where_one_column_is_not_enough() -> None:
    """Two long names share the width, and the price beside them stays whole."""
    rows = [("A seller of many words and no short name", "A food whose name is as long as that",
             "1234.50")] * 2  # fmt: skip
    text = fit_table(("Seller", "Food", "USD"), rows, 1, right=(2,), width=50, whole=True)
    assert "…" not in text
    assert text.count("1234.50") == 2
    assert max(map(screen_width, text.splitlines())) <= 50


def test_parts_of_a_cost_add_up_whatever_waste_weighs() -> None:
    """Bill, waste as weighed, work and intakes missed are the cost, all counted, to the cent."""
    solution = sample_plan().solution
    heavy = solution.model_copy(
        update={
            "waste_weight": 0.5, "waste_cost": Decimal("2.21"), "work_cost": Decimal("3.40"),
            "objective": Decimal("21.60"),
        }
    )  # fmt: skip
    rows = dict(cost_rows(heavy))
    assert rows["Waste, weight 0.5"] == Decimal("1.10")
    parts = [row for name, row in rows.items() if name.startswith(("Bill", "Waste", "Cook"))]
    assert sum(parts) == rows["All counted: bill, weighed waste and work"]


def test_clip_counts_wide_letters_twice() -> None:
    """A cut between wide letters leaves room for the ellipsis."""
    assert clip("漢字漢字", 6) == "漢字…"
    assert clip("漢字漢", 6) == "漢字漢"


def test_columns_stand_below_each_other_whatever_the_letters() -> None:
    """Wide letters take two columns, an accent that combines none; prices end in one column."""
    assert [screen_width(text) for text in ("漢字", "x\u0304", "rice")] == [4, 1, 4]
    rows = [("漢字", "1.00"), ("x\u0304 bread", "2.00"), ("rice", "13.00")]
    lines = fit_table(("Food", "Price"), rows, flexible=0, right=(1,)).splitlines()
    assert {screen_width(line) for line in lines} == {14}


def test_screen_text_drops_escape_sequences() -> None:
    """A name cannot send commands to the terminal."""
    assert screen_text("a\x1b[2Jb\u202ec\nd") == "a [2Jbc d"


def test_progress_text_shows_plan_bound_gap_and_seconds() -> None:
    """One line carries all that is known, and leaves out what is not."""
    assert progress_text(Progress("improving", 12.4, 20.0, 19.0, 60.0), "USD") == (
        "12 of 60 s  looking for cheaper plans  all counted 20.00 USD  no less than 19.00  "
        "gap 5.0 %"
    )
    assert progress_text(Progress("build", 0.2), "USD") == "0 s  build"


def test_steps_tell_seconds_limit_and_what_is_done() -> None:
    """Commands of several steps say how long they have worked, and of how long at most."""
    clock = iter((100.0, 100.2, 103.4))
    stream = io.StringIO()
    steps = Steps(stream, 5.0, clock=lambda: next(clock))
    steps("looking for weeks in which nothing else may change")
    steps("now: a\x1b[2J name")
    assert stream.getvalue().splitlines() == [
        "0 of 5 s  looking for weeks in which nothing else may change",
        "3 of 5 s  now: a [2J name",
    ]


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        """Pretend to be a terminal."""
        return True


def test_plain_progress_is_rare() -> None:
    """Off a terminal a line comes at most each five seconds, or when the phase changes."""
    clock = iter((0.0, 1.0, 2.0, 6.0, 9.0))
    stream = io.StringIO()
    line = ProgressLine(stream, "USD", clock=lambda: next(clock))
    for phase, seconds in (("build", 0), ("build", 1), ("search", 2), ("search", 6), ("search", 9)):
        line(Progress(phase, float(seconds)))
    line.close()
    assert stream.getvalue().splitlines() == ["0 s  build", "2 s  search", "9 s  search"]


def test_terminal_progress_rewrites_one_line() -> None:
    """On a terminal a shorter text covers the longer one before it, and close ends the line."""
    stream = _Terminal()
    clock = iter((0.0, 1.0))
    line = ProgressLine(stream, "USD", clock=lambda: next(clock))
    line(Progress("search", 1.0, 20.0))
    line(Progress("polish", 2.0))
    line.close()
    first, second = stream.getvalue().lstrip("\r").rstrip("\n").split("\r")
    assert len(second) == len(first)
    assert stream.getvalue().count("\n") == 1
