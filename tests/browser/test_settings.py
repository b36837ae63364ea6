"""Settings against recipe in a real browser: it fits, reads, and opens what is folded away."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Browser, expect

from dashboard import text
from tests.browser.serving import served
from tests.browser.test_dashboard import Watched, findings
from tests.qc.desk.recipe_shop import END_US, build_shop

WAIT_MS = 60_000
FITS = "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"


def test_the_section_fits_reads_and_unfolds(browser: Browser, tmp_path: Path) -> None:
    shop = build_shop(tmp_path)
    shop.store.close()
    with served(shop.store.location, as_of_us=END_US, zone=shop.zone) as address:
        for width, scheme in ((390, "dark"), (820, "light"), (1280, "dark")):
            context = browser.new_context(viewport={"width": width, "height": 900},
                                          color_scheme=scheme)  # type: ignore[arg-type]
            page = Watched(context.new_page(), address).go("/presses")
            section = page.locator("#presses-settings")
            expect(section).to_contain_text("Anvil", timeout=WAIT_MS)
            good = section.locator("details", has_text=text.SETTINGS_GOOD.format(n=5))
            expect(good.locator("table")).not_to_be_visible()
            good.locator("summary").focus()
            page.keyboard.press("Enter")
            expect(good.locator("table")).to_be_visible(timeout=WAIT_MS)
            assert page.evaluate(FITS), width
            assert findings(page) == [], (width, scheme)
            context.close()


