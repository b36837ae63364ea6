"""The baseline in a real browser, on a live store: seen, refused, frozen with name and reason."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard import text
from qc.domain.instants import DAY_US
from qc.store import open_store
from qc.store.baselines import read_baselines, tell_agreed_change
from tests.browser.serving import served
from tests.browser.test_dashboard import findings
from tests.qc.desk.baseline_shop import END_US, START_US, filled

WAIT_MS = 60_000
FITS = "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"


@pytest.fixture
def place(tmp_path: Path) -> str:
    path = str(tmp_path / "shop.db")
    filled(open_store(path, create=True)).store.close()
    return path


@pytest.fixture
def address(place: str) -> Iterator[str]:
    """The dashboard as it is now, served by the real command."""
    with served(place, as_of_us=None, zone=None) as there:
        yield there


def opened(browser: Browser, address: str, *, width: int = 1280, scheme: str = "light") -> Page:
    page = browser.new_context(viewport={"width": width, "height": 900},
                               color_scheme=scheme).new_page()  # type: ignore[arg-type]
    page.goto(address + "/trends")
    expect(page.locator("#baseline-freeze")).to_be_visible(timeout=WAIT_MS)
    return page


def test_frozen_with_a_name_and_a_reason(browser: Browser, address: str, place: str) -> None:
    page = opened(browser, address)
    panel, said = page.locator("#baseline-panel"), page.locator("#baseline-said")
    expect(panel).to_contain_text("nobody froze a baseline")
    expect(panel).to_contain_text("50 days of work, 3\u202f000 pieces")
    page.locator("#baseline-freeze").click()
    expect(said).to_contain_text("needs a name", timeout=WAIT_MS)
    page.get_by_label(text.YOUR_NAME).fill("Ann")
    page.locator("#baseline-freeze").click()
    expect(said).to_contain_text("needs a reason", timeout=WAIT_MS)
    page.get_by_label(text.BASELINE_WHY).fill("a calm <b>month</b>")
    page.locator("#baseline-freeze").click()
    expect(said).to_have_text(text.BASELINE_DONE, timeout=WAIT_MS)
    expect(panel).to_contain_text("from 2 Mar 2026 to 20 Apr 2026, frozen by Ann.")
    expect(panel).to_contain_text("by Ann: a calm <b>month</b>.")
    store = open_store(place)
    (kept,) = read_baselines(store)
    store.close()
    assert (kept.decision.by, kept.decision.why) == ("Ann", "a calm <b>month</b>")
    assert kept.evidence["n_pieces"] == 3000
    page.reload()
    expect(panel).to_contain_text("frozen by Ann.", timeout=WAIT_MS)
    page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_and_reads(browser: Browser, address: str, scheme: str) -> None:
    for width in (390, 820, 1280):
        page = opened(browser, address, width=width, scheme=scheme)
        page.wait_for_timeout(500)
        assert page.evaluate(FITS), width
        for name in ("your-name", "baseline-why", "baseline-freeze"):
            box = page.locator(f"#{name}").bounding_box()
            assert box is not None and box["height"] >= 44, (name, width)
        assert findings(page) == [], width
        page.context.close()


def test_the_floor_says_when_a_new_one_is_ready(browser: Browser, place: str) -> None:
    store = open_store(place)
    tell_agreed_change(store, changed_us=START_US + 20 * DAY_US, why="new film", by="bo",
                       at_us=START_US + 21 * DAY_US)
    store.close()
    with served(place, as_of_us=END_US, zone=ZoneInfo("UTC")) as there:
        page = browser.new_context().new_page()
        for path in ("/", "/cases"):
            page.goto(there + path)
            expect(page.locator(".cautions")).to_contain_text(
                "a new baseline is ready to be frozen", timeout=WAIT_MS)
        page.context.close()


def test_looking_back_nothing_can_be_frozen(browser: Browser, place: str) -> None:
    with served(place, as_of_us=END_US, zone=ZoneInfo("UTC")) as there:
        page = browser.new_context().new_page()
        page.goto(there + "/trends")
        expect(page.locator("#baseline-panel")).to_contain_text(
            text.BASELINE_LOOKS_BACK, timeout=WAIT_MS)
        assert page.locator("#baseline-freeze").count() == 0
        page.context.close()
