"""Plain words, numbers and kitchen units of the reports."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.catalog.records import Line
from planopt.plan.records import BatchLine, Solution
from planopt.report.files.folder import plan_contents
from planopt.report.markdown.document import report_markdown
from planopt.report.terminal.summary import summary_text
from planopt.report.words.kitchen import hands_on_minutes, kitchen_amount
from planopt.report.words.locale import Display, showing
from planopt.report.words.plain import (
    bound_sentence,
    cost_rows,
    day_text,
    fahrenheit,
    headline,
    money,
    number,
    pack_text,
    percent_up,
    plural,
    sentence_case,
    short_day,
    unbroken,
    version_words,
)
from planopt.report.words.scaled import scaled
from planopt.report.words.spoons import mixed_number, spoons_text
from report_samples import sample_catalog, sample_plan, sample_scenario


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(2.5, 0, "3"), (-0.2, 0, "0"), (1.50, 2, "1.5"), (100.0, 1, "100"), (3, 0, "3")],
)
def test_number_rounds_half_up_without_needless_zeros(value: float, digits: int, text: str) -> None:
    """Numbers round as labels do, and keep no zeros that say nothing."""
    assert number(value, digits) == text


@pytest.mark.parametrize(("code", "text"), [("USD", "12.40"), ("JPY", "12"), ("KWD", "12.400")])
def test_money_keeps_the_decimals_of_its_currency(code: str, text: str) -> None:
    """An amount shows as many decimals as its currency has."""
    assert money(Decimal("12.4"), code) == text


def test_temperatures_come_in_both_scales() -> None:
    """63 C is 145 F and 74 C is 165 F, as food-safety tables print them."""
    assert (fahrenheit(63), fahrenheit(74)) == ("63 C (145 F)", "74 C (165 F)")


def test_day_text_names_the_weekday() -> None:
    """A date carries its weekday in the same language everywhere."""
    assert day_text(date(2027, 1, 4)) == "Mon 2027-01-04"


def test_plural_of_batches() -> None:
    """Batches take an e and servings do not."""
    assert (plural(1, "batch"), plural(1.5, "batch"), plural(2, "serving")) == (
        "1 batch",
        "1.5 batches",
        "2 servings",
    )


@pytest.mark.parametrize(
    ("version", "words"),
    [
        ("base", "with parsley"),
        ("0=haddock", "with haddock fillet and parsley"),
        ("2-", ""),
        ("0=haddock+2-", "with haddock fillet"),
        ("9=haddock", "9=haddock"),
        ("nonsense", "nonsense"),
    ],
)
def test_version_words(version: str, words: str) -> None:
    """A version reads by what is in it; one that fits no line is shown as it is."""
    catalog = sample_catalog()
    assert version_words(catalog, catalog.recipes["fish_bake"], version) == words


def test_sentence_case_keeps_names_of_places() -> None:
    """A food named after a place keeps its capital inside a sentence."""
    assert sentence_case("Greek yogurt, plain") == "Greek yogurt, plain"
    assert sentence_case("Cod fillet") == "cod fillet"


def test_foods_that_differ_after_the_comma_show_it() -> None:
    """A swap between two cuts of one food names the part that tells them apart."""
    catalog = sample_catalog()
    foods = dict(catalog.foods)
    foods["cod"] = foods["cod"].model_copy(update={"name": "Fillet, cod"})
    foods["haddock"] = foods["haddock"].model_copy(update={"name": "Fillet, haddock"})
    renamed = catalog.model_copy(update={"foods": foods})
    words = version_words(renamed, renamed.recipes["fish_bake"], "0=haddock")
    assert words == "with fillet, haddock and parsley"


def test_bound_sentence_never_claims_too_much() -> None:
    """The distance to the proven limit is rounded up, so that the sentence stays true."""
    solution = sample_plan().solution
    assert bound_sentence(solution, "USD") == (
        "No compliant week can cost less than 16.80 USD; at most 4.3 % could be saved."
    )


def _costing(grocery: str, visits: str, waste: str, weight: float, bound: str) -> Solution:
    counted = Decimal(grocery) + Decimal(visits) + Decimal(repr(weight)) * Decimal(waste)
    return sample_plan().solution.model_copy(
        update={
            "grocery_cost": Decimal(grocery),
            "visit_cost": Decimal(visits),
            "waste_cost": Decimal(waste),
            "waste_weight": weight,
            "objective": counted.quantize(Decimal("0.01")),
            "best_bound": Decimal(bound),
        }
    )


@pytest.mark.parametrize(
    ("solution", "words"),
    [
        (
            _costing("147.44", "0", "4.88", 1.0, "129.67"),
            "This week costs 152.32 USD, all counted: groceries 147.44, waste 4.88. No compliant "
            "week can cost less than 129.67 USD; at most 14.9 % could be saved.",
        ),
        (
            _costing("50.00", "0", "0", 1.0, "50.00"),
            "This week costs 50.00 USD, all of it groceries. It is proven that no compliant week "
            "costs less.",
        ),
        (
            _costing("50.00", "1.50", "2.00", 2.0, "0"),
            "This week costs 55.50 USD, all counted: groceries 50.00, shop visits after the first "
            "1.50, waste 4.00 (2.00 at weight 2). No useful lower limit of that was proven.",
        ),
    ],
)
def test_the_headline_is_one_figure_with_its_parts(solution: Solution, words: str) -> None:
    """Cost, limit and gap are all of what is counted, and the parts add up to it."""
    assert headline(solution, "USD") == words


def test_every_report_has_the_same_headline() -> None:
    """Terminal, Markdown, both places of the page, and workbook say the same of the same plan."""
    given = (sample_plan(), sample_catalog(), sample_scenario())
    words = headline(given[0].solution, given[0].currency)
    contents = plan_contents(*given)
    page, content = contents["report.html"], contents["plan.xlsx"]
    assert isinstance(content, bytes)
    assert isinstance(page, str)
    book = openpyxl.load_workbook(io.BytesIO(content))
    cells = [str(cell.value) for row in book["Summary"].iter_rows() for cell in row]
    assert words in " ".join(summary_text(*given).split())
    assert words in " ".join(report_markdown(*given).split())
    assert page.replace("\xa0", " ").count(words) == 2
    assert words in cells
    rows = dict(cost_rows(given[0].solution))
    assert rows["Bill: groceries and visits"] == Decimal("17.10")


def test_the_row_of_all_counted_names_its_parts() -> None:
    """Bill and waste always; work and missed intakes where they have cost something."""
    solution = sample_plan().solution
    cost = {"work_cost": Decimal("4.20"), "missed_cost": Decimal("1.10")}
    told = {
        row[0]
        for names in ((), ("work_cost",), ("missed_cost",), tuple(cost))
        for row in cost_rows(solution.model_copy(update={name: cost[name] for name in names}))
        if row[0].startswith("All counted")
    }
    assert told == {
        "All counted: bill and weighed waste",
        "All counted: bill, weighed waste and work",
        "All counted: bill, weighed waste and missed intakes",
        "All counted: bill, weighed waste, work and missed intakes",
    }


@settings(deadline=None)
@given(
    cost=st.decimals("0.01", "5000", places=2), share=st.decimals("0.01", "1", places=4)
)  # fmt: skip
def test_the_percent_said_covers_the_true_distance(cost: Decimal, share: Decimal) -> None:
    """The cost less the percent said is never above the limit."""
    bound = max(Decimal("0.01"), (cost * share).quantize(Decimal("0.01")))
    said = Decimal(percent_up(max(Decimal(0), (cost - bound) / cost)))
    assert cost * (1 - said / 100) <= bound


def test_zero_bound_is_called_useless() -> None:
    """A limit of zero under a real cost is not dressed up as a proof."""
    solution = sample_plan().solution.model_copy(update={"best_bound": Decimal(0)})
    assert bound_sentence(solution, "USD") == "No useful lower limit of that was proven."


def test_pack_texts() -> None:
    """Packs show count and size, loose food shows the amount to weigh out."""
    pack = sample_plan().purchases[0]
    loose = pack.model_copy(update={"sold": "loose", "count": 13.0, "size": Decimal(100)})
    eggs = pack.model_copy(update={"count": 1.0, "size": Decimal(12), "unit": "each"})
    assert pack_text(pack) == "2 x 500 g"
    assert pack_text(loose) == "1300 g loose"
    assert pack_text(eggs) == "1 x 12 pieces"


@pytest.mark.parametrize(
    ("tsp", "text"),
    [
        (0.75, "3/4 tsp"), (3, "1 tbsp"), (6, "2 tbsp"), (12, "1/4 cup"), (72, "1 1/2 cups"),
        (16, "1/3 cup"), (8, "2 tbsp + 2 tsp"), (0.1, "0.1 tsp"),
    ],
)  # fmt: skip
def test_spoons_read_as_simple_fractions(tsp: float, text: str) -> None:
    """Volumes use few cups and spoons, of sizes that a cook has."""
    assert spoons_text(tsp) == text


def test_mixed_number_refuses_odd_values() -> None:
    """A value far from every simple fraction is not forced into one."""
    assert mixed_number(1.05) is None
    assert mixed_number(2.5) == "2 1/2"


def test_kitchen_amounts_scale_with_batches() -> None:
    """Cups scale with the batches; a swapped-in food and plain grams need no second unit."""
    catalog = sample_catalog()
    fish = catalog.recipes["fish_bake"]
    batch = sample_plan().batches[0]
    texts = [kitchen_amount(catalog, fish, line, batch.batches) for line in batch.lines]
    assert texts == ["", "2 1/4 cups", ""]


def test_alternative_is_measured_by_its_own_weight() -> None:
    """A food that stands in for one measured in cups is given in its own cups."""
    catalog = sample_catalog()
    fish = catalog.recipes["fish_bake"]
    used = BatchLine(line=1, food_id="potato", grams=300, part="main", chosen="alternative")
    unmeasured = used.model_copy(update={"food_id": "cod"})
    assert kitchen_amount(catalog, fish, used, 1) == "2 cups"
    assert kitchen_amount(catalog, fish, unmeasured, 1) == ""


@pytest.mark.parametrize(
    ("amount", "text"), [("0.5", "1/2 piece"), ("1", "1 piece"), ("3", "3 pieces")]
)
def test_pieces_read_as_a_cook_says_them(amount: str, text: str) -> None:
    """Half a piece is a fraction in the singular."""
    catalog = sample_catalog()
    line = Line(food="potato", amount=Decimal(amount), unit="each")
    recipe = catalog.recipes["mash"].model_copy(update={"lines": (line,)})
    used = BatchLine(line=0, food_id="potato", grams=100, part="main", chosen="as written")
    assert kitchen_amount(catalog, recipe, used, 1) == text


def test_hands_on_minutes_of_half_a_batch() -> None:
    """Half a batch costs the full first-batch time, later batches the extra time."""
    fish = sample_catalog().recipes["fish_bake"]
    assert [hands_on_minutes(fish, b) for b in (0.5, 1, 2.5)] == [20, 20, 35]


@pytest.mark.parametrize(
    ("step", "text"),
    [
        ("Fry in half of the oil.", "Fry in half of the oil (41 g)."),
        ("Add two thirds of the water.", "Add two thirds of the water (2000 g)."),
        ("Take half the sea salt, then stir.", "Take half the sea salt (1.5 g), then stir."),
        ("Two potatoes, half the potatoes.", "Two potatoes, half the potatoes (250 g)."),
        # Two oils, a sauce that no line is, and a share of nothing said.
        ("Half the vinegar.", "Half the vinegar."),
        ("Blend half the soup in the oil.", "Blend half the soup in the oil."),
        ("The rest of the oil.", "The rest of the oil."),
    ],
)
def test_shares_in_a_step_are_told_for_all_batches(step: str, text: str) -> None:
    """Where one food alone may be meant; otherwise the words stand as they are."""
    foods = [
        ("Olive oil", 82.0), ("Tap water", 3000.0), ("Sea salt", 3.0), ("Potato", 500.0),
        ("Cider vinegar", 30.0), ("Balsamic vinegar", 30.0),
    ]  # fmt: skip
    assert scaled(step, foods).replace("\N{NO-BREAK SPACE}", " ") == text


def test_short_days_do_not_break() -> None:
    """`Sun 29 Nov`, with spaces that no line ends at; a locale has its own order."""
    assert short_day(date(2026, 11, 29)) == "Sun\N{NO-BREAK SPACE}29\N{NO-BREAK SPACE}Nov"
    with showing(Display("en_US")):
        assert short_day(date(2026, 11, 29)).replace("\N{NO-BREAK SPACE}", " ") == "Sun, Nov 29"
    assert unbroken("2 x 400 ml") == "2\N{NO-BREAK SPACE}x\N{NO-BREAK SPACE}400\N{NO-BREAK SPACE}ml"
    assert (plural(2, "box"), plural(1, "box")) == ("2 boxes", "1 box")
