"""Take the README's picture: the cases of the demo shop, as the browser draws them.

Again by: ``python -m tests.browser.picture``
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from demo_data import demo_shop
from demo_data.building import build_store
from qc.config import zone_of
from tests.browser.finding import QUIET, find_browser
from tests.browser.serving import served
from tests.browser.test_dashboard import READY

PICTURE = Path(__file__).parents[2] / "demo_data" / "pictures" / "cases.png"
WAIT_MS = 60_000


def take(address: str, picture: Path) -> None:
    """A screenshot of the cases page, once its evidence is drawn."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=list(QUIET))
        page = browser.new_page(viewport={"width": 1280, "height": 1180})
        page.goto(f"{address}/cases")
        page.wait_for_function(READY, timeout=WAIT_MS)
        page.wait_for_load_state("networkidle")
        picture.parent.mkdir(exist_ok=True)
        page.screenshot(path=picture)
        browser.close()


def main() -> None:
    """Build the demo shop, serve it, take the picture."""
    shop = demo_shop()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "demo.db"
        build_store(shop, place, by="picture")
        with served(str(place), as_of_us=shop.end_us, zone=zone_of(shop.zone)) as address:
            take(address, PICTURE)


if __name__ == "__main__":
    main()
