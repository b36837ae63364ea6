"""Take the README's pictures of the demo shop, as the browser draws them.

Again by: ``python -m tests.browser.picture``
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from demo_data import demo_shop
from demo_data.building import build_store
from qc.domain.instants import HOUR_US
from tests.browser.finding import QUIET, find_browser
from tests.browser.live import Live
from tests.browser.test_dashboard import Watched

FOLDER = Path(__file__).parents[2] / "demo_data" / "pictures"
WAIT_MS = 60_000


def take_cases(page: Page, address: str) -> None:
    """The cases, once their evidence is drawn."""
    page.set_viewport_size({"width": 1280, "height": 1180})
    Watched(page, address).go("/cases")
    page.wait_for_load_state("networkidle")
    page.screenshot(path=FOLDER / "cases.png")


def take_bench(page: Page, address: str) -> None:
    """The bench in the middle of a job, after a fault."""
    page.set_viewport_size({"width": 1280, "height": 860})
    page.goto(f"{address}/bench?press=P4&job=J1483")
    page.wait_for_selector(".fault", timeout=WAIT_MS)
    for name, value in (("operator", "Arlo"), ("inspector", "Juno")):
        page.click("#work-open")
        page.fill(f"#work-{name}", value)
        page.click(".work-done button")
    page.wait_for_selector("#standing .strip")
    page.click("#good")
    page.click("[data-zone=top_left]")
    page.click("[data-kind=lifted_edge]")
    page.wait_for_selector(".signs a, .signs li:has-text('●')", timeout=WAIT_MS)
    page.wait_for_selector("#sending.saved")
    page.wait_for_timeout(1500)
    page.screenshot(path=FOLDER / "bench.png")


def _take(address: str) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=list(QUIET))
        for take in (take_cases, take_bench):
            page = browser.new_page()
            take(page, address)
            page.close()
        browser.close()


def main() -> None:
    """Build the demo shop, serve it, take the pictures."""
    shop = demo_shop()
    with tempfile.TemporaryDirectory() as folder:
        place = str(Path(folder) / "demo.db")
        build_store(shop, Path(place), by="picture")
        live = Live(place, starts_us=shop.end_us - HOUR_US // 60)
        try:
            _take(live.address)
        finally:
            live.kill()


if __name__ == "__main__":
    main()
