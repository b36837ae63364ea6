"""The dashboard in a real browser: it loads clean, fits, reads, and is reached by keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard import text
from tests.browser.choosing import choose
from tests.browser.serving import served
from tests.dashboard.small_shop import END_US, build_shop

PATHS = ("/", "/trends", "/cases", "/presses", "/nothing-here")
WIDTHS = (390, 820, 1280)
AXE = Path(__file__).parent / "axe" / "axe.min.js"
WAIT_MS = 30_000

READY = """() => !!document.querySelector('#page h1') && !document.querySelector('.waiting')
  && document.title.includes('\\u00b7')
  && [...document.querySelectorAll('.chart-figure')].every(g => g.querySelector('.main-svg'))"""
"""Content is there, and every chart is drawn."""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The dashboard of the small shop, served by the real command."""
    shop = build_shop(tmp_path_factory.mktemp("served"))
    shop.store.close()
    with served(shop.store.location, as_of_us=END_US, zone=shop.zone) as there:
        yield there


class Watched:
    """A page whose console and requests are kept."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.complaints: list[str] = []
        self.foreign: list[str] = []
        page.on("console", self._said)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self._asked)

    def _said(self, message: object) -> None:
        if message.type == "error" and "404" not in message.text:  # type: ignore[attr-defined]
            self.complaints.append(message.text)  # type: ignore[attr-defined]

    def _asked(self, request: object) -> None:
        url = request.url  # type: ignore[attr-defined]
        if not url.startswith((self.address, "data:", "blob:")):
            self.foreign.append(url)

    def go(self, path: str) -> Page:
        self.page.goto(self.address + path)
        self.settle()
        return self.page

    def settle(self) -> None:
        """Until the page has its content; asked from here, since its policy forbids eval."""
        for _ in range(WAIT_MS // 100):
            if self.page.evaluate(READY):
                self.page.wait_for_timeout(300)
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"{self.page.url} did not finish: {self.complaints}")


@pytest.fixture
def watch(browser: Browser, address: str) -> Iterator[object]:
    made = []

    def open_page(*, width: int = 1280, scheme: str = "light") -> Watched:
        context = browser.new_context(viewport={"width": width, "height": 900},
                                      color_scheme=scheme)  # type: ignore[arg-type]
        made.append(context)
        return Watched(context.new_page(), address)

    yield open_page
    for context in made:
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_pages_load_clean_fit_and_ask_no_other_host(watch, width: int, scheme: str) -> None:
    seen = watch(width=width, scheme=scheme)
    for path in PATHS:
        page = seen.go(path)
        wide = page.evaluate("() => document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, f"{path} is {wide} px too wide at {width}"
        dressed = page.evaluate("() => document.documentElement.dataset.mantineColorScheme")
        assert dressed == scheme
    assert seen.complaints == [] and seen.foreign == []


def test_the_accessibility_check_finds_what_is_wrong(watch) -> None:
    page = watch().go("/nothing-here")
    page.evaluate("() => { document.querySelector('#page').innerHTML += '<button></button>'; }")
    assert any(found.startswith("button-name") for found in findings(page))


def findings(page: Page) -> list[str]:
    """axe-core, rules of WCAG 2.0 to 2.2, levels A and AA."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[str] = page.evaluate("""async () => (await axe.run(document, {runOnly: {
        type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}}))
        .violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(
            n => n.html.slice(0, 160)).join(' | '))""")
    return found


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_accessibility_findings(watch, scheme: str) -> None:
    seen = watch(width=1280, scheme=scheme)
    for path in PATHS:
        assert findings(seen.go(path)) == [], f"{path} ({scheme})"


@pytest.mark.parametrize("path", ["/", "/trends", "/cases", "/presses"])
def test_what_a_glove_must_hit_is_big_enough(watch, path: str) -> None:
    page = watch(width=390).go(path)
    small = page.evaluate("""() => [...document.querySelectorAll(
        '.tab, .turn, summary, button:not(.mantine-Drawer-close), a.case, a.platen, a.ratio-row,'
        + '.reasons a, .mantine-Select-input, .mantine-SegmentedControl-root')]
        .filter(e => e.offsetParent !== null || getComputedStyle(e).position === 'fixed')
        .map(e => [e.className || e.tagName, e.getBoundingClientRect().height])
        .filter(([_, height]) => height > 0 && height < 47.5)""")
    assert small == []


def test_keyboard_reaches_the_pages(watch) -> None:
    page = watch().go("/")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.textContent") == text.SKIP
    reached = []
    for _ in text.PAGES:
        page.keyboard.press("Tab")
        reached.append(page.evaluate("() => document.activeElement.textContent"))
    assert reached == list(text.PAGES.values())
    page.keyboard.press("Enter")
    page.wait_for_url("**/setup")
    page.wait_for_selector("h1:text-is('Set-up')")
    page.wait_for_timeout(300)
    assert page.evaluate("() => document.activeElement.textContent") == "Set-up"
    assert page.evaluate("() => document.querySelector('[aria-current]').textContent") == "Set-up"


@pytest.mark.parametrize("width", [780, 820, 1000, 1100])
def test_between_phone_and_desk_the_head_is_tidy_on_every_page(watch, width: int) -> None:
    """Where the pages need a row of their own, the switch of the scheme stays beside the name."""
    seen = watch(width=width)
    for path in ("/", "/bench"):
        page = seen.go(path)
        page.wait_for_selector(".tools .turn")
        switch, pages = page.locator(".tools").bounding_box(), page.locator("#nav").bounding_box()
        assert switch and pages
        assert switch["y"] + switch["height"] <= pages["y"]
        assert switch["x"] > width / 2


def test_on_a_narrow_screen_the_other_pages_open_above_the_bar(watch) -> None:
    page = watch(width=390).go("/")
    hidden = page.locator("#more-pages a")
    assert hidden.count() == len(text.MORE_PAGES) and not hidden.first.is_visible()
    page.click("#more")
    assert hidden.first.is_visible() and hidden.last.is_visible()
    page.keyboard.press("Escape")
    assert not hidden.first.is_visible()
    page.click("#more")
    page.get_by_role("link", name="Records").click()
    page.wait_for_selector("h1:text-is('Records')")
    assert not hidden.first.is_visible()


def test_scheme_is_kept(watch) -> None:
    seen = watch(scheme="light")
    page = seen.go("/trends")
    page.click("#turn")
    page.wait_for_selector("html[data-mantine-color-scheme=dark]")
    seen.go("/presses")
    assert page.evaluate("() => document.documentElement.dataset.mantineColorScheme") == "dark"


def test_a_click_on_a_point_opens_its_records_and_back_closes_them(watch) -> None:
    seen = watch()
    page = seen.go("/trends?kind=lifted_edge")
    page.locator("#trends-rate .source").scroll_into_view_if_needed()
    x, y = page.evaluate("""() => {
        const box = document.querySelectorAll('#trends-rate .points path')[9]
            .getBoundingClientRect();
        return [box.x + box.width / 2, box.y + box.height / 2];}""")
    page.mouse.move(x, y)
    page.wait_for_selector("#trends-rate .hoverlayer .hovertext")
    page.mouse.click(x, y)
    page.wait_for_selector(".mantine-Drawer-content table")
    assert "open=" in page.url and text.RECORDS_TITLE in page.inner_text(".mantine-Drawer-content")
    page.go_back()
    page.wait_for_selector(".mantine-Drawer-content", state="detached")
    assert "open=" not in page.url


def test_a_bar_is_opened_by_keyboard_and_closed_by_escape(watch) -> None:
    seen = watch()
    page = seen.go("/trends?by=press&kind=lifted_edge")
    page.focus("a.ratio-row.worse")
    page.keyboard.press("Enter")
    page.wait_for_selector(".mantine-Drawer-content table")
    rows = page.locator(".mantine-Drawer-content tbody tr")
    assert rows.count() > 10 and "Cedar" in rows.first.inner_text()
    page.keyboard.press("Escape")
    page.wait_for_selector(".mantine-Drawer-content", state="detached")
    assert "open=" not in page.url and "by=press" in page.url


def test_choices_go_into_the_address_and_come_back_from_it(watch) -> None:
    seen = watch()
    page = seen.go("/trends")
    page.click("#trends-period >> text='7 days'")
    page.wait_for_url("**/trends?period=7")
    page.go_back()
    page.wait_for_url("**/trends")
    page.wait_for_selector("#trends-period input[value='30']:checked", state="attached")
    page.goto(page.url + "?period=90&by=fabric")
    seen.settle()
    expect(page.locator("#trends-by")).to_have_value("Fabric")
    expect(page.locator("#trends-period input:checked")).to_have_value("90")


def test_the_list_of_pieces_is_downloaded(watch) -> None:
    page = watch().go("/cases")
    with page.expect_download() as waiting:
        page.click("#case-take")
    content = Path(waiting.value.path()).read_text(encoding="utf-8-sig")
    assert content.startswith("piece_id,location,job") and content.count("\n") > 500


def test_first_load_is_light_enough(watch) -> None:
    """At most 2.2 MB, compressed, for a page with charts."""
    seen = watch()
    total = []
    session = seen.page.context.new_cdp_session(seen.page)
    session.send("Network.enable")
    session.on("Network.loadingFinished", lambda e: total.append(e["encodedDataLength"]))
    seen.go("/trends")
    assert 0 < sum(total) <= 2_200_000, f"{sum(total) / 1e6:.2f} MB"


def test_links_in_a_table_stay_inside_the_app(watch) -> None:
    """Tables are built by `assets/built.js`, so their links are no components."""
    seen = watch()
    page = seen.go("/trends?by=press")
    page.evaluate("() => { window.here = true; }")
    page.locator("#trends-ranking summary").click()
    link = page.locator("#trends-ranking td a").first
    assert link.get_attribute("href").startswith("/trends?")
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".mantine-Drawer-content table")
    assert "open=level" in page.url and page.evaluate("() => window.here")
    assert page.locator(".mantine-Drawer-content tbody tr").count() <= 50
    page.go_back()
    page.wait_for_selector(".mantine-Drawer-content", state="detached")
    seen.settle()
    page.locator("#trends-ranking summary").click()
    with page.context.expect_page() as other:  # with a key held: a tab of its own
        link.click(modifiers=["Control"])
    assert "open=level" in other.value.url and "open=" not in page.url
    assert seen.complaints == []


def test_a_table_that_is_sent_anew_is_built_anew(watch) -> None:
    page = watch().go("/trends?by=press")
    before = page.locator("#trends-ranking tbody tr").count()
    choose(page.locator("#trends-by"), "Defect")
    page.wait_for_selector("#trends-ranking h3:has-text('by defect')")
    head = page.locator("#trends-ranking thead th").first
    assert head.evaluate("cell => cell.textContent") == "Defect" and before > 0
    assert page.locator("#trends-ranking table").count() == 1
