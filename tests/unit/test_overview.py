"""The overview of a run: its sums, its proofs, and the same facts in every form."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from inprocess import in_this_process
from kitchens import tiny_client, write_kitchen
from planopt.faults import BadInput
from planopt.overview.files import OVERVIEW_FILES, overview_data, overview_texts, write_overview
from planopt.overview.gather import Overview, gather_overview
from planopt.overview.line import RunLine, bar_text, moment_text
from planopt.overview.page import overview_html
from planopt.overview.savings import saving_of
from planopt.overview.terminal import overview_text
from planopt.plan.file import read_plan
from planopt.report.words.plain import percent_up
from planopt.runs import run as run_module
from planopt.runs.run import RunMoment, plan_weeks
from planopt.solve.settings import SolveSettings
from report_samples import sample_plan

# The costly sample is made once for all tests of this module, in one process.
pytestmark = pytest.mark.xdist_group("overview")

MARKUP = "<script>alert(1)</script> & Söhne"
FORMULA = "=1+1|cmd"


@pytest.fixture(scope="module")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Plan a household of two with both alone as well, a client, and one who cannot be planned."""
    folder = tmp_path_factory.mktemp("run")
    low = {"energy_kcal": {"min": 1000, "max": 2100}, "protein_g": {"min": 60}}
    clients = [
        tiny_client(
            id="ana", name=MARKUP, household="home", windows_per_week={"fat_g": {"min": 9}}
        ),
        tiny_client(id="ben", name=FORMULA, household="home", windows_per_day=low),
        tiny_client(id="cyd", name="Cyd"),
        tiny_client(id="dan", name="Dan", allergens=["milc"]),
    ]
    path = write_kitchen(folder, kitchen="separate", clients=clients, visit_cost="0.50")
    settings = SolveSettings(threads=1, gap=0.3, time_limit_s=30)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run_module, "run_in_processes", in_this_process)
        plan_weeks(path, folder / "out", settings, sharing=True)
    return folder / "out"


@pytest.fixture
def overview(run_folder: Path) -> Overview:
    """Return the overview of the run."""
    return gather_overview(run_folder)


def test_shares_add_up_to_the_bills_and_purchases_to_the_groceries(
    overview: Overview, run_folder: Path
) -> None:
    """To the cent: clients to kitchens, kitchens to the whole, packs to sellers to groceries."""
    plans = {name: read_plan(run_folder / "plans" / name) for name in ("home", "cyd")}
    for name, plan in plans.items():
        pays = [client.pays for client in overview.clients if client.kitchen_id == name]
        bill = plan.solution.grocery_cost + plan.solution.visit_cost
        assert sum(pay for pay in pays if pay is not None) == bill
    bills = [p.solution.grocery_cost + p.solution.visit_cost for p in plans.values()]
    assert overview.bill == sum(bills)
    groceries = sum(plan.solution.grocery_cost for plan in plans.values())
    assert sum(line.price for line in overview.buy) == groceries
    assert sum(seller.total for seller in overview.sellers) == groceries
    packs = sum(p.count for plan in plans.values() for p in plan.purchases)
    assert sum(line.count for line in overview.buy) == pytest.approx(packs)


def test_the_other_rule_divides_the_same_bill(overview: Overview) -> None:
    """By the costs alone, shares add up to the same bill, and nobody pays more than alone."""
    home = [client for client in overview.clients if client.kitchen_id == "home"]
    by_alone = [(c.pays_by_alone, c.alone_bill) for c in home]
    assert all(pays is not None and alone is not None for pays, alone in by_alone)
    assert sum(p for p, _ in by_alone if p is not None) == sum(c.pays for c in home if c.pays)
    assert all(p <= a for p, a in by_alone if p is not None and a is not None)


def test_windows_of_the_day_and_of_the_plan_are_counted(overview: Overview) -> None:
    """Three days with two windows each, and one window over the plan, all met."""
    counts = {c.client_id: (c.windows_met, c.windows_set, c.missed) for c in overview.clients}
    assert counts["ana"] == (7, 7, ())
    assert counts["cyd"] == (6, 6, ())


def test_notes_go_to_the_client_they_are_about(overview: Overview) -> None:
    """A low energy window is Ben's caution alone; standing cautions are nobody's."""
    warnings = {c.client_id: c.warnings for c in overview.clients}
    assert [text.startswith(f"{FORMULA}: the energy window") for text in warnings["ben"]] == [True]
    assert warnings["ana"] == warnings["cyd"] == ()


def test_savings_are_those_of_the_plans(overview: Overview, run_folder: Path) -> None:
    """Shared and separate costs and bounds come from the plans; the range holds what was found."""
    (saving,) = overview.savings
    shared = read_plan(run_folder / "plans" / "home").solution
    alone = [read_plan(run_folder / "alone" / f"home.{c}").solution for c in ("ana", "ben")]
    assert (saving.shared, saving.shared_bound) == (shared.objective, shared.best_bound)
    assert saving.separate == sum(s.objective for s in alone)
    assert saving.separate_bound == sum(s.best_bound for s in alone)
    assert saving.found == saving.separate - saving.shared
    assert saving.at_least is not None
    assert saving.at_most is not None
    assert saving.at_least <= saving.found <= saving.at_most


def test_nothing_is_concluded_while_a_plan_alone_is_missing() -> None:
    """A client without a plan alone would count as a saving."""
    plan = sample_plan()
    saving = saving_of("k", "Kitchen", plan, {"ana": plan}, {"ben": "Ben"})
    assert saving.missing == ("Ben",)
    assert (saving.found, saving.at_least, saving.at_most) == (None, None, None)


class _Page(HTMLParser):
    """Collects what the tests look at."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the tag and its attributes."""
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        self.text.append(data)


def _page(text: str) -> _Page:
    page = _Page()
    page.feed(text)
    return page


def test_the_page_shows_names_as_they_are_and_fetches_nothing(
    overview: Overview, run_folder: Path
) -> None:
    """Markup in a name is text; the one script is ours, and nothing is loaded from elsewhere."""
    page = _page(overview_texts(overview, run_folder)["overview.html"])
    text = " ".join(" ".join(page.text).split())
    assert MARKUP in text
    assert FORMULA in text
    assert not {"img", "link", "iframe"} & set(page.tags)
    assert page.tags.count("script") == 1
    values = [value for name, value in page.attributes if name in ("href", "src")]
    links = {value for value in values if not str(value).startswith("#")}
    assert links == {
        "plans/home/report.html", "plans/cyd/report.html", "plans/home/clients/ana.html",
        "plans/home/clients/ben.html", "plans/cyd/clients/cyd.html",
    }  # fmt: skip
    assert all((run_folder / str(link)).is_file() for link in links)
    assert f"Bills of all kitchens, groceries and visits: {overview.bill} USD" in text
    assert "did you mean 'milk'?" in text


def test_each_kitchen_has_its_packs_and_none_is_left_over(overview: Overview) -> None:
    """What kitchens get adds up to what is bought, in number and money, and stands in a table."""
    for line in overview.buy:
        mine = [
            one
            for one in overview.packs
            if (one.pack_id, one.shop_date, one.seller_id)
            == (line.pack_id, line.shop_date, line.seller_id)
        ]
        assert len(mine) == line.kitchens
        assert sum(one.count for one in mine) == pytest.approx(line.count)
        assert sum(one.price for one in mine) == line.price
    rows = list(csv.DictReader(io.StringIO(overview_texts(overview)["kitchen_packs.csv"])))
    assert {row["kitchen_id"] for row in rows} == {"home", "cyd"}
    assert sum(Decimal(row["price"]) for row in rows) == sum(s.total for s in overview.sellers)


def test_who_has_no_plan_comes_first_with_the_cause_line_by_line(overview: Overview) -> None:
    """Before any figure of a kitchen stands who needs a look, and the cause keeps its lines."""
    page = overview_html(overview)
    assert page.index("Dan (dan)") < page.index("Shop for all kitchens") < page.index("<table")
    cause = page.partition("<pre>")[2].partition("</pre>")[0].splitlines()
    assert [line.split(":")[0].strip() for line in cause[-2:]] == ["why", "mend"]
    rows = page.partition('id="clients-h"')[2].partition("</table>")[0]
    assert rows.index("Dan") < rows.index("Cyd")


def test_the_page_can_be_read_by_ear(overview: Overview) -> None:
    """Headings go down by one at most; every table has a caption and header cells with a scope."""
    page = _page(overview_texts(overview)["overview.html"])
    levels = [int(tag[1]) for tag in page.tags if tag in ("h1", "h2", "h3")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert page.tags.count("caption") == page.tags.count("table") > 3
    scopes = [value for name, value in page.attributes if name == "scope"]
    assert len(scopes) == page.tags.count("th")
    assert dict(page.attributes)["lang"] == "en"


def test_tables_are_safe_in_a_spreadsheet(overview: Overview) -> None:
    """A name that looks like a formula is text, and money keeps its decimals."""
    texts = overview_texts(overview)
    rows = list(csv.DictReader(io.StringIO(texts["clients.csv"])))
    assert [row["name"] for row in rows if row["client_id"] == "ben"] == [f"'{FORMULA}"]
    assert [row["state"] for row in rows] == ["planned", "failed", "planned", "planned"]
    assert [row["gap"] == "" for row in rows] == [False, True, False, False]
    bought = list(csv.DictReader(io.StringIO(texts["buy.csv"])))
    assert all(len(row["price"].partition(".")[2]) == 2 for row in bought)
    (sharing,) = csv.DictReader(io.StringIO(texts["sharing.csv"]))
    assert Decimal(sharing["saves_found"]) == overview.savings[0].found


def test_json_has_the_same_figures(overview: Overview) -> None:
    """Money is text, so that no reader turns it into a binary float."""
    data = overview_data(overview)
    assert data["bill"] == str(overview.bill)
    assert data["savings"][0]["saves_at_least"] == str(overview.savings[0].at_least)
    assert (data["planned"], data["failed"], data["waiting"]) == (3, 1, 0)
    assert [len(data[name]) for name in ("clients", "kitchens")] == [4, 3]
    assert json.loads(json.dumps(data)) == data


def test_the_terminal_shows_it_on_80_columns(overview: Overview) -> None:
    """All clients, what sharing saves, sellers' totals, and causes."""
    text = overview_text(overview)
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "3 of 4 clients planned" in text
    assert f"Bills of all kitchens, groceries and visits: {overview.bill} USD." in text
    flat = " ".join(text.split())
    cost, bound = overview.all_counted, overview.bound
    assert cost == sum(k.all_counted for k in overview.kitchens if k.all_counted is not None)
    assert (
        f"All counted, waste too: {cost} USD. No compliant weeks can cost less than {bound} USD; "
        f"at most {percent_up((cost - bound) / cost, 1)} % could be saved." in flat
    )
    assert "Gap: the most of the kitchen's cost, all counted, that any other" in flat
    assert overview.headline() in " ".join(overview_html(overview).split())
    assert "Sharing saves" in text
    assert "Dan (dan):" in text
    assert "    why: the catalog has no such allergen\n    mend: did you mean 'milk'?" in text


def test_a_plan_that_does_not_match_counts_no_more(run_folder: Path, tmp_path: Path) -> None:
    """After the plan, the kitchen's file or the catalog has changed, the client is waiting."""
    changes: list[Callable[[Path], object]] = [
        lambda out: shutil.rmtree(out / "plans" / "cyd"),
        lambda out: (out / "kitchens" / "cyd.yaml").write_text("days: 3\n"),
        lambda out: (out / "plans" / "cyd" / "plan.json").write_text("{"),
    ]
    for n, change in enumerate(changes):
        out = tmp_path / str(n) / "out"
        shutil.copytree(run_folder, out)
        change(out)
        after = gather_overview(out)
        assert {c.client_id: c.state for c in after.clients}["cyd"] == "waiting"
        cause = next(c.cause for c in after.clients if c.client_id == "cyd")
        assert "run `planopt weeks` again" in cause
        assert "Cyd (cyd):" in overview_text(after)


def test_files_that_would_not_change_are_left_alone(run_folder: Path) -> None:
    """Every file is written, and a second time none."""
    write_overview(run_folder)
    times = {name: (run_folder / name).stat().st_mtime_ns for name in OVERVIEW_FILES}
    write_overview(run_folder)
    assert {name: (run_folder / name).stat().st_mtime_ns for name in OVERVIEW_FILES} == times


def test_a_folder_that_is_no_run_is_refused(tmp_path: Path, run_folder: Path) -> None:
    """Without an index, or with a broken one, there is one fault and nothing is written."""
    for n, text in enumerate((None, "{}", '{"index_version": 2}')):
        folder = tmp_path / str(n)
        folder.mkdir()
        if text is not None:
            (folder / "run.json").write_text(text, encoding="utf-8")
        with pytest.raises(BadInput) as caught:
            write_overview(folder)
        assert [fault.code for fault in caught.value.faults] == ["run_unreadable"]
        assert {path.name for path in folder.iterdir()} <= {"run.json"}


class _Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Return true."""
        return True


def _moment(done: int, failed: int = 0, text: str = "") -> RunMoment:
    return RunMoment(done, failed, 40, 61.4, Decimal("12.5") * done, "USD", text)


def test_progress_is_a_bar_on_a_terminal_and_lines_elsewhere() -> None:
    """Done, failed, seconds and spend are in both; a bar is rewritten, not too often."""
    assert moment_text(_moment(10, 2)) == "10 of 40 weeks, 2 failed  61 s  bills 125.00 USD"
    timed = replace(_moment(10), limit_s=1200.0)
    assert moment_text(timed) == "10 of 40 weeks  61 of about 1200 s  bills 125.00 USD"
    assert bar_text(_moment(10, 2)) == "[######x.................]"
    assert bar_text(_moment(39, 1)) == "[#######################x]"
    assert bar_text(_moment(40)) == f"[{'#' * 24}]"
    plain = io.StringIO()
    line = RunLine(plain)
    line(_moment(0))
    line(_moment(1, text="home\x1b[2J  12.50 USD"))
    line.close()
    assert plain.getvalue() == (
        "0 of 40 weeks  61 s  bills 0.00 USD\n"
        "1 of 40 weeks  61 s  bills 12.50 USD  home [2J 12.50 USD\n"
    )
    screen, now = _Screen(), [0.0]
    line = RunLine(screen, clock=lambda: now[0])
    for n in range(3):
        line(_moment(n))
    now[0] = 1.0
    line(_moment(3))
    line.close()
    shown = screen.getvalue().split("\r")
    assert [part.rstrip() for part in shown] == [
        "", f"{bar_text(_moment(0))} 0 of 40 weeks  61 s  bills 0.00 USD",
        f"{bar_text(_moment(3))} 3 of 40 weeks  61 s  bills 37.50 USD",
    ]  # fmt: skip
    assert screen.getvalue().endswith("\n")
