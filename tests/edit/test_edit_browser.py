"""The working sheet in a real headless browser: dragged, typed, planned anew, kept, and read."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from typing import Any

import pytest

from edit.sheets import served
from page.conftest import browser as browser
from planopt.adjust.week import Adjustment
from planopt.edit import session as sessions
from planopt.edit.session import EditSession
from planopt.pipeline import audit_folder
from planopt.plan.file import read_plan
from planopt.plan.records import Plan

pytestmark = pytest.mark.xdist_group("edit")

# No published figure: 390 CSS pixels are a common phone, 1280 a common small desktop.
WIDTHS = (390, 1280)
LONG = 60_000


@pytest.fixture
def sheet(browser: Any, session: EditSession) -> Iterator[Any]:
    """Yield a page on which a session is open; what went wrong there has to be nothing."""
    wrong: list[str] = []
    with served(session) as url:
        page = browser.new_page()
        # A fault is an answer that the browser notes by itself.
        page.on("console", lambda message: "status of 422" in message.text
                or wrong.append(f"console: {message.text}"))  # fmt: skip
        page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
        page.on("request", lambda asked: asked.url.startswith(url) or wrong.append(asked.url))
        page.set_viewport_size({"width": 1280, "height": 900})
        page.goto(url)
        page.wait_for_selector("#week [data-plate]")
        yield page
        page.close()
    assert wrong == []


def dish_on(plan: Plan, client: str, day: int, meal: str) -> list[str]:
    """Return the recipes of one plate."""
    return [
        row.recipe_id
        for row in plan.portions
        if (row.client_id, row.day, row.meal) == (client, day, meal)
    ]


def told(page: Any, words: str) -> None:
    """Wait until the page has said something."""
    page.wait_for_function("words => document.getElementById('said').textContent.includes(words)",
                           arg=words)  # fmt: skip


def a_move(plan: Plan, client: str) -> tuple[int, str, int, str]:
    """Return a dinner of a client, and another dinner to which its dish may go."""
    for day in range(1, plan.days + 1):
        for other in range(1, plan.days + 1):
            here, there = (dish_on(plan, client, one, "dinner") for one in (day, other))
            if here and there and here != there:
                return day, here[0], other, there[0]
    raise AssertionError("all dinners are the same")


def test_a_week_is_changed_by_mouse_and_keyboard_planned_anew_and_kept(
    sheet: Any, session: EditSession
) -> None:
    """A drag, a meal kept and a dish forbidden by keys; the difference is shown, then written."""
    before = session._written.plan
    day, dish, to, _ = a_move(before, "ana")
    target = f"[data-plate='{to}/dinner']"
    sheet.locator(f"[data-plate='{day}/dinner'] .dish").first.drag_to(sheet.locator(target))
    told(sheet, "On the list: Ana:")
    assert sheet.locator(f"{target} .mark").count() == 1
    assert f"put {dish} on day {to} dinner for ana" in session.command()

    sheet.focus("#who-ana")
    sheet.keyboard.press("ArrowRight")
    sheet.wait_for_selector("#who-ben:checked")
    sheet.wait_for_selector("caption:has-text('Ben')")
    # Ben's first lunch is kept, all by keys; the focus is back where it was.
    sheet.focus("#m-1-lunch")
    sheet.keyboard.press("Enter")
    for _ in range(20):
        if sheet.evaluate("document.activeElement.id") == "keep-meal":
            break
        sheet.keyboard.press("Tab")
    sheet.keyboard.press("Enter")
    told(sheet, "Ben: keep")
    assert sheet.evaluate("document.activeElement.id") == "m-1-lunch"
    forbidden = dish_on(before, "ben", 2, "dinner")[0]
    sheet.focus("#m-2-dinner")
    sheet.keyboard.press("Enter")
    sheet.focus("#off-0")
    sheet.keyboard.press("Space")
    told(sheet, "Ben: no ")

    sheet.click("#plan")
    sheet.wait_for_selector("#keep", timeout=LONG)
    assert sheet.evaluate("document.activeElement.id") == "slip"
    assert "plates change" in sheet.inner_text("#slip")
    assert "(asked for)" in sheet.inner_text("#slip")
    assert sheet.locator(".changed").count() > 0
    assert not session.out.exists()
    sheet.click("#keep")
    told(sheet, "Kept:")
    kept, findings = audit_folder(session.folder)
    assert findings == []
    assert dish_on(kept, "ana", to, "dinner") == [dish]
    assert dish not in dish_on(kept, "ana", day, "dinner")
    assert dish_on(kept, "ben", 1, "lunch") == dish_on(before, "ben", 1, "lunch")
    assert forbidden not in dish_on(kept, "ben", 2, "dinner")
    assert read_plan(session.folder.with_name("plan")) == before

    sheet.click("#done")
    told(sheet, "ended")
    assert session.ended


def test_a_dish_is_moved_by_keyboard_on_a_phone(sheet: Any, session: EditSession) -> None:
    """No drag is needed: the meal's menu offers the meals that the dish may go to."""
    sheet.set_viewport_size({"width": 390, "height": 844})
    sheet.wait_for_selector(".day")
    day, dish, to, _ = a_move(session._written.plan, "ana")
    sheet.focus(f"#m-{day}-dinner")
    sheet.keyboard.press("Enter")
    assert sheet.evaluate("document.activeElement.id") == "to-0"
    sheet.select_option("#to-0", f"{to}/dinner")
    sheet.keyboard.press("Tab")
    sheet.keyboard.press("Enter")
    told(sheet, "On the list")
    assert session.command().count("--change") == 2
    assert f"put {dish} on day {to} dinner for ana" in session.command()
    # Escape leaves all as it is.
    sheet.focus(f"#m-{to}-dinner")
    sheet.keyboard.press("Enter")
    sheet.keyboard.press("Escape")
    assert sheet.locator("#menu[open]").count() == 0
    assert session.command().count("--change") == 2


def test_windows_purchases_and_batches_are_marked_and_faults_are_shown(
    sheet: Any, session: EditSession
) -> None:
    """A window is written, a pack and a pot are marked and unmarked; a fault says how to mend."""
    sheet.select_option("#w-nutrient", "protein_g")
    sheet.fill("#w-amount", "41,5")
    sheet.keyboard.press("Enter")
    told(sheet, "at least 41.5 g of protein every day")
    sheet.check("#bought-0-1")
    told(sheet, "Bought")
    sheet.check("#cooked-all-1")
    told(sheet, "Cooked")
    assert len(session.state()["wishes"]) == 3
    assert all(line["done"] for line in session.sheet(None)["pots"][0]["lines"])
    sheet.uncheck("#bought-0-1")
    told(sheet, "Off the list: Bought")
    assert len(session.state()["wishes"]) == 2
    sheet.fill("#w-amount", "99999999999")
    sheet.click("#w-set")
    sheet.wait_for_selector("#wrong dt")
    text = sheet.inner_text("#wrong")
    assert "amount: 99999999999" in text
    assert "why: " in text
    assert "mend: " in text
    sheet.click("#wrong-shut")
    assert sheet.inner_text("#wrong") == ""


@pytest.mark.parametrize("width", WIDTHS)
def test_an_accessibility_checker_finds_nothing(
    sheet: Any,
    ready: Adjustment,
    monkeypatch: pytest.MonkeyPatch,
    width: int,
) -> None:
    """The rules of axe-core are met by the sheet, its menu, a fault and a new week; all fits."""
    monkeypatch.setattr(sessions, "adjust", lambda *_: ready)
    axe = importlib.import_module("axe_playwright_python.sync_playwright").Axe()

    def look(what: str) -> None:
        found = axe.run(sheet).response
        wrong = [(v["id"], [n["html"] for n in v["nodes"][:3]]) for v in found["violations"]]
        assert wrong == [], what
        assert "color-contrast" in {rule["id"] for rule in found["passes"]}
        assert sheet.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        ) == 0, what  # fmt: skip

    sheet.set_viewport_size({"width": width, "height": 844})
    sheet.wait_for_selector(".day" if width < 900 else ".grid")
    sheet.click("#day-1")
    told(sheet, "On the list")
    sheet.fill("#w-amount", "99999999999")
    sheet.click("#w-set")
    sheet.wait_for_selector("#wrong dt")
    look("the sheet with a fault")
    sheet.click("#m-1-dinner")
    look("the menu of a meal")
    sheet.keyboard.press("Escape")
    sheet.click("#plan")
    sheet.wait_for_selector("#keep", timeout=LONG)
    look("a new week")
