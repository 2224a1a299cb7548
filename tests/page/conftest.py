"""A real browser for the tests of this folder, where the machine has one."""

from __future__ import annotations

import importlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
# No first-run pages, no services of the browser's maker, nothing over the network.
_ARGUMENTS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


def _no_browser(why: str) -> NoReturn:
    if os.environ.get("PLANOPT_REQUIRE_BROWSER") == "1":
        pytest.fail(f"{why}, and PLANOPT_REQUIRE_BROWSER=1 asks for it")
    pytest.skip(f"{why}; the page is not looked at in a browser")


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Yield a headless Chromium with an empty profile of its own; skip where there is none."""
    program = next((found for name in _NAMES if (found := shutil.which(name))), None)
    if program is None:
        _no_browser("no Chromium is installed")
    try:
        playwright = importlib.import_module("playwright.sync_api")
        importlib.import_module("axe_playwright_python.sync_playwright")
    except ImportError as error:
        _no_browser(f"the extra `test` is not installed whole ({error})")
    with playwright.sync_playwright() as driver:
        context = driver.chromium.launch_persistent_context(
            tmp_path_factory.mktemp("profile"),
            executable_path=program,
            headless=True,
            args=list(_ARGUMENTS),
            viewport={"width": 1280, "height": 900},
        )
        yield context
        context.close()


@pytest.fixture
def opened(browser: Any) -> Iterator[Any]:
    """Yield a function that opens a file at a width and returns page and what went wrong there.

    The name of a file may end with the view of it, as in an address: `report.html#cooking`.
    """
    pages = []

    def open_file(path: Path, width: int = 1280) -> tuple[Any, list[str]]:
        name, _, view = path.name.partition("#")
        address = path.with_name(name).as_uri()
        page = browser.new_page()
        pages.append(page)
        wrong: list[str] = []
        page.on("console", lambda message: wrong.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
        page.on("dialog", lambda dialog: (wrong.append(f"dialog: {dialog.message}"),
                                          dialog.dismiss()))  # fmt: skip
        page.on(
            "request",
            lambda request: (
                request.url.partition("#")[0] == address or wrong.append(f"asked: {request.url}")
            ),
        )
        page.set_viewport_size({"width": width, "height": 844})
        page.goto(f"{address}#{view}" if view else address)
        return page, wrong

    yield open_file
    for page in pages:
        page.close()
