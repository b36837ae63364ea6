"""Maintenance in a real browser: from the board to a printed order, a survey, and the close."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from dashboard.text import service as service_text
from qc.desk.service import service_orders
from qc.desk.shop import open_shop
from qc.store.checking import check_store
from tests.browser.choosing import choose
from tests.browser.inside import Inside
from tests.browser.test_dashboard import Watched, findings
from tests.qc.desk.case_shop import DONE_US, case_shop

WAIT_MS = 30_000
FAR_US = 10**16


class Served:
    """A shop of this test alone, its dashboard on a clock of its own."""

    def __init__(self, folder: Path) -> None:
        case_shop(folder, surveyed=True).store.close()
        self.shop = open_shop(str(folder / "shop.db"))
        self.inside = Inside(str(folder / "shop.db"), starts_us=DONE_US)
        self.address = self.inside.address

    def state(self) -> str:
        (one,) = service_orders(self.shop, as_of_us=FAR_US)
        return one.state

    def close(self) -> None:
        self.inside.close()
        self.shop.store.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    made = Served(tmp_path)
    yield made
    made.close()


@pytest.fixture
def open_page(browser: Browser, served: Served) -> Iterator[Callable[..., Watched]]:
    made = []

    def opened(*, width: int = 820, scheme: str = "light") -> Watched:
        context = browser.new_context(viewport={"width": width, "height": 1100},
                                      color_scheme=scheme)  # type: ignore[arg-type]
        made.append(context)
        watched = Watched(context.new_page(), served.address)
        watched.go("/presses")
        watched.page.wait_for_selector("#your-name", timeout=WAIT_MS)
        return watched

    yield opened
    for context in made:
        context.close()


def said(page: Page, where: str, words: str) -> None:
    """Wait until a status says so; asked from here, since the page's policy forbids eval."""
    for _ in range(WAIT_MS // 100):
        if words in page.inner_text(where):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{where} never said {words!r}; says {page.inner_text(where)!r}")


def write(page: Page, readings: list[str]) -> None:
    points = page.locator(".survey-point input")
    for at, reading in enumerate(readings):
        points.nth(at).fill(reading)
    page.click("#survey-keep")


def test_from_the_board_to_a_printed_order_in_three_taps_and_on_to_its_close(
    served: Served, open_page: Callable[..., Watched]
) -> None:
    watched = open_page()
    page = watched.page
    page.locator("a.platen").first.click()  # one
    page.wait_for_selector("#your-name", timeout=WAIT_MS)
    page.get_by_role("button", name=service_text.OPEN_ORDER).click()
    said(page, "#service-said", service_text.YOUR_NAME_NEEDED)
    page.fill("#your-name", "Rui")
    page.get_by_role("button", name=service_text.OPEN_ORDER).click()  # two
    said(page, "#service-said", "Order S1 is open")
    assert served.state() == "find"
    with page.context.expect_page() as paper:  # three
        page.get_by_role("link", name=service_text.PRINT).click()
    assert paper.value.url.startswith(f"{served.address}/orders/S1.")
    html = page.request.get(f"{served.address}/orders/S1.html").text()
    assert "Lock out first" in html and "Hot platen" in html

    page.reload()
    page.wait_for_selector("#survey-keep", timeout=WAIT_MS)
    assert page.input_value("#your-name") == "Rui"
    count = page.locator(".survey-point input").count()
    setpoint = float(page.input_value("#survey-setpoint"))
    write(page, [f"{setpoint * 1.8 + 32:.0f}"] * count)
    said(page, "#survey-said", "near it in the other unit")
    write(page, [f"{setpoint - 12:.0f}"] * count)
    said(page, "#survey-said", f"is kept, {count} points")
    said(page, "#presses-due", "\u221212.0\u202f°C")  # what is due stands on the survey just kept
    assert served.state() == "leave"
    assert service_text.PRESSED in page.inner_text("#service-order")
    listed = page.locator("#service-order .order-list").get_attribute("href")
    bare = page.get_by_role("link", name=service_text.PRINT).get_attribute("href")
    assert (listed, bare) == ("/orders/S1.pdf", "/orders/S1.pdf?list=no")
    whole, short = (page.request.get(f"{served.address}/orders/S1.html{asked}").text()
                    for asked in ("", "?list=no"))
    assert len(short) < len(whole) and "Lock out first" in short
    choose(page.locator("#survey-state"), "as left", exact=False)
    page.fill("#survey-when", "")
    write(page, [f"{setpoint:.0f}"] * count)
    said(page, "#survey-said", f"as_left is kept, {count} points")
    assert served.state() == "ready"
    page.get_by_role("button", name=service_text.CLOSE_ORDER).click()
    said(page, "#service-said", service_text.CLOSED)
    said(page, "#service-past", service_text.PAST_TITLE.format(n=1))
    assert served.state() == "closed"
    assert check_store(served.shop.store) == []
    assert watched.complaints == [] and watched.foreign == []


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_nothing_is_amiss_at_any_width(
    open_page: Callable[..., Watched], width: int, scheme: str
) -> None:
    page = open_page(width=width, scheme=scheme).page
    page.fill("#your-name", "Rui")
    page.get_by_role("button", name=service_text.OPEN_ORDER).click()
    said(page, "#service-said", "is open")
    page.locator("summary", has_text=service_text.SURVEY_TITLE).click()
    page.wait_for_timeout(300)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert findings(page) == []
    small = page.evaluate("""() => [...document.querySelectorAll(
        '#presses-service button, #presses-service summary, .survey-point input')]
        .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44)
        .map(e => e.outerHTML.slice(0, 120))""")
    assert small == []


def test_an_order_of_another_tab_is_drawn_and_nobody_waits_for_flags(
    served: Served, open_page: Callable[..., Watched]
) -> None:
    first, second = open_page().page, open_page().page
    for page, name in ((first, "Rui"), (second, "Bea")):
        page.fill("#your-name", name)
    button = first.get_by_role("button", name=service_text.OPEN_ORDER)
    button.dblclick()  # the second tap falls on what is busy
    said(first, "#service-said", "Order S1 is open")
    assert served.state() == "find"
    second.get_by_role("button", name=service_text.OPEN_ORDER).click()
    said(second, "#service-said", "has service order S1 already")
    assert "Service order S1" in second.inner_text("#service-order")


def test_a_step_asks_for_what_it_needs(open_page: Callable[..., Watched]) -> None:
    page = open_page().page
    page.fill("#your-name", "Rui")
    page.get_by_role("button", name=service_text.OPEN_ORDER).click()
    said(page, "#service-said", "is open")
    page.get_by_role("button", name=service_text.TAKE_STEP).click()
    said(page, "#service-said", service_text.STEP_NEEDS["done"])
    choose(page.locator("#service-step"), service_text.STEPS["due"], exact=False)
    page.wait_for_selector("#service-words[type=date]", timeout=WAIT_MS)
    page.fill("#service-words", "2031-01-31")
    page.get_by_role("button", name=service_text.TAKE_STEP).click()
    said(page, ".case-log", "due 2031-01-31")


def test_one_point_is_marked_and_closes_nothing(
    served: Served, open_page: Callable[..., Watched]
) -> None:
    page = open_page().page
    page.fill("#your-name", "Rui")
    page.get_by_role("button", name=service_text.OPEN_ORDER).click()
    said(page, "#service-said", "is open")
    page.reload()
    page.wait_for_selector("#survey-keep", timeout=WAIT_MS)
    write(page, ["abc"])
    said(page, "#survey-said", "the reading at row 1, column 1 is 'abc': write a number")
    assert page.locator(".survey-point input[aria-invalid=true]").count() == 1
    write(page, [f"{page.input_value('#survey-setpoint')},0"])
    said(page, "#survey-said", "1 point")
    assert served.state() == "found_few"
    page.goto(f"{served.address}/presses")
    page.wait_for_selector("a.platen.here", timeout=WAIT_MS)
    assert "Holds its heat" not in page.inner_text("a.platen.here")
    assert page.locator("a.platen.here .small-map > span").count() > 4
