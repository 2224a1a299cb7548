"""Render the picture of README.md from the report of a written plan, in headless Chromium.

planopt plan scenarios/demo_week.yaml --out demo-plan
python tests/page/picture.py demo-plan --out .pictures/report.png
"""

from __future__ import annotations

import argparse
import io
import shutil
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

# CSS pixels: a desktop window, a phone, and the rim around them.
DESKTOP, PHONE, HEIGHT, RIM = 1120, 390, 1060, 24
# What each window shows: a view, and what of it stands at the top.
AIMS = ((DESKTOP, "cooking", "#cooking h3"), (PHONE, "shopping", "#shopping summary"))
COLOURS = 96
GROUND = (226, 223, 214)


def _seen(browser: Browser, report: Path, width: int, view: str, aim: str) -> Image.Image:
    page = browser.new_page(viewport={"width": width, "height": HEIGHT})
    page.goto(f"{report.resolve().as_uri()}#{view}")
    page.locator(aim).first.evaluate("part => part.scrollIntoView()")
    if width == PHONE:
        for label in page.locator(".buy label").all()[:2]:
            label.click()
    shot = Image.open(io.BytesIO(page.screenshot()))
    page.close()
    return shot.convert("RGB")


def render(report: Path, out: Path) -> None:
    """Write the picture: a cook day on a desktop beside the shopping list on a phone."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
            args=["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        shots = [_seen(browser, report, width, view, aim) for width, view, aim in AIMS]
        browser.close()
    size = (sum(shot.width for shot in shots) + 3 * RIM, HEIGHT + 2 * RIM)
    picture = Image.new("RGB", size, GROUND)
    left = RIM
    for shot in shots:
        picture.paste(shot, (left, RIM))
        left += shot.width + RIM
    out.parent.mkdir(parents=True, exist_ok=True)
    picture.quantize(COLOURS).save(out, optimize=True)
    print(f"{out}: {out.stat().st_size} bytes")


def main() -> None:
    """Render the picture named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plan", type=Path, help="folder of a plan, with report.html")
    parser.add_argument("--out", type=Path, default=Path(".pictures/report.png"))
    given = parser.parse_args()
    render(given.plan / "report.html", given.out)


if __name__ == "__main__":
    main()
