"""report.md: totals, escaping and completeness."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.report.markdown.document import report_markdown
from planopt.report.markdown.marks import md, md_block
from report_samples import sample_catalog, sample_plan, sample_scenario


def _report() -> str:
    return report_markdown(sample_plan(), sample_catalog(), sample_scenario())


def _section(report: str, title: str) -> str:
    return report.split(f"\n## {title}\n")[1].split("\n## ")[0]


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]


def test_every_section_is_there_in_order() -> None:
    """The report has its sections once each, in reading order."""
    titles = re.findall(r"^## (.+)$", _report(), flags=re.MULTILINE)
    assert titles == [
        "Summary",
        "Meals",
        "Energy by meal",
        "Shopping list",
        "Who pays what",
        "Cook days",
        "Storage and thawing",
        "Leftovers and waste",
        "Windows",
        "Cautions",
        "Outside published reference intakes",
        "How it was solved",
    ]


def test_shopping_totals_equal_the_plan_to_the_cent() -> None:
    """Lines add up to each seller's total, sellers to the whole, and the whole to plan.json."""
    section = _section(_report(), "Shopping list")
    lists, totals = section.split("### Totals")
    line_prices: list[Decimal] = []
    visit_totals: list[Decimal] = []
    for line in lists.splitlines():
        if not line.startswith("|") or line.startswith("|:") or "Aisle" in line:
            continue
        cells = _cells(line)
        (visit_totals if cells[1] == "Total" else line_prices).append(Decimal(cells[5]))
    rows = [_cells(line) for line in totals.splitlines() if line.startswith("| ")]
    whole = next(Decimal(row[3]) for row in rows if row[0] == "All sellers")
    cost = sample_plan().solution.grocery_cost
    assert sum(line_prices) == sum(visit_totals) == whole == cost


def test_summary_names_cost_limit_and_early_stop() -> None:
    """The summary shows the exact objective and says plainly that the limit stopped the search."""
    summary = _section(_report(), "Summary")
    assert re.search(r"\| All counted: bill and weighed waste +\| +17\.55 \|", summary)
    assert "No compliant week can cost less than 16.80 USD" in summary
    assert "**The time limit stopped the search; a cheaper plan may exist.**" in summary


def test_a_proven_plan_does_not_speak_of_limits() -> None:
    """A plan proven within the gap is not reported as stopped."""
    plan = sample_plan()
    proven = plan.solution.model_copy(update={"status": "optimal"})
    report = report_markdown(
        plan.model_copy(update={"solution": proven}), sample_catalog(), sample_scenario()
    )
    assert "stopped the search" not in report
    assert "proven within the gap asked for" in report


def test_cook_sheet_has_quantities_temperatures_and_dates() -> None:
    """A cook finds grams, cups, inner temperature, parts, use-by dates and portions to pack."""
    sheet = _section(_report(), "Cook days")
    for words in (
        "1.5 batches: 6 servings, 5.5 eaten, 0.5 to spare.",
        "| 900 g |",
        "2 1/4 cup",
        "Inside at least 63 C (145 F).",
        "oven at 200 C (392 F), 30 min a batch, 45 min in all",
        "Keep apart until eating: cold topping (parsley, fresh).",
        "Fridge: eat by Wed 2027-01-06. Freezer: freeze 2.5 servings by Sun 2027-01-03, as soon"
        " as cold; thaw in the fridge by Thu 2027-03-04 and eat within 1 day.",
        "45 min of 90 allowed",
        "freezer, thaw Mon 2027-01-04",
    ):
        assert words in re.sub(r" +", " ", sheet)


def test_longest_unattended_dish_comes_first() -> None:
    """The dish that looks after itself longest heads the cook day."""
    assert re.findall(r"^#### (\d)\. (\w+)", _report(), flags=re.MULTILINE) == [
        ("1", "Fish"),
        ("2", "Plain"),
    ]


def test_meals_away_are_marked() -> None:
    """A meal eaten elsewhere is shown as away, not as missing."""
    ben = _section(_report(), "Meals").split("### Ben")[1]
    assert _cells(ben.splitlines()[5])[1] == "away"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("a|b", r"a\|b"),
        ("`rm`", r"\`rm\`"),
        ("<b>x</b>", r"\<b\>x\</b\>"),
        ("two\nlines", "two lines"),
        ("a_b _c_", r"a_b \_c\_"),
        ("50 % & more", r"50 % \& more"),
    ],
)
def test_md_escapes_what_markdown_would_read(name: str, shown: str) -> None:
    """A name shows as written, whatever signs it contains."""
    assert md(name) == shown


@pytest.mark.parametrize(
    ("name", "shown"),
    [("- x", r"\- x"), ("12. x", r"12\. x"), ("# x", r"\# x"), ("--- x", r"\--- x")],
)
def test_md_block_starts_no_list_or_heading(name: str, shown: str) -> None:
    """A text at the head of a block starts neither a list nor a heading."""
    assert md_block(name) == shown


@given(name=st.text(st.sampled_from("|`<>*[]\\_#-ab \n") | st.characters(), min_size=1))
@settings(max_examples=200, deadline=None)
def test_no_name_breaks_a_table_or_opens_a_tag(name: str) -> None:
    """After escaping, every sign with a meaning has a backslash, and no line break is left."""
    text = md(name)
    unescaped = re.sub(r"\\[\\`*{}\[\]<>|~&$#_]", "", text)
    assert not re.search(r"[`<>|*\[\]\\]", unescaped)
    assert len(text.splitlines()) <= 1


def test_hostile_names_keep_the_tables_whole() -> None:
    """With pipes and tags in every name, each table row still has its header's cell count."""
    plan, catalog, scenario = sample_plan(), sample_catalog(), sample_scenario()
    evil = "x | <script>`y`</script>"
    sellers = {k: v.model_copy(update={"name": evil}) for k, v in catalog.sellers.items()}
    foods = {k: v.model_copy(update={"name": evil}) for k, v in catalog.foods.items()}
    clients = tuple(c.model_copy(update={"name": evil}) for c in scenario.clients)
    batches = tuple(b.model_copy(update={"recipe_name": evil}) for b in plan.batches)
    portions = tuple(p.model_copy(update={"recipe_name": evil}) for p in plan.portions)
    report = report_markdown(
        plan.model_copy(
            update={"batches": batches, "portions": portions, "scenario_name": evil}
        ),
        catalog.model_copy(update={"sellers": sellers, "foods": foods}),
        scenario.model_copy(update={"clients": clients, "note": evil}),
    )  # fmt: skip
    assert "<script" not in report.replace(r"\<script", "")
    width = 0
    for line in report.splitlines():
        if not line.startswith("|"):
            width = 0
            continue
        width = width or len(_cells(line))
        assert len(_cells(line)) == width
