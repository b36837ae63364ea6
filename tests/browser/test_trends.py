"""The manager in a real browser: finds the worst pairing, takes it out, saves and prints charts."""

from __future__ import annotations

import csv
import io
import struct
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page
from python_calamine import CalamineWorkbook

from dashboard import text
from dashboard.text import trends as said_as
from qc.domain.instants import DAY_US
from qc.store.settings import change_setting
from tests.browser.choosing import choose
from tests.browser.serving import served
from tests.browser.test_dashboard import Watched, findings
from tests.dashboard.small_shop import BAD_FROM_DAY, START_US, build_shop

A_WEEK_IN_US = START_US + (BAD_FROM_DAY + 7) * DAY_US
WIDTHS = (390, 820, 1280)


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The small shop with a price, a week after its change: every part has something to show."""
    shop = build_shop(tmp_path_factory.mktemp("trends"))
    for name, value in (("defect_cost", "4.2"), ("currency", "EUR")):
        change_setting(shop.store, name=name, value=value, by="test", at_us=START_US)
    shop.store.close()
    with served(shop.store.location, as_of_us=A_WEEK_IN_US, zone=shop.zone) as there:
        yield there


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


def saved(page: Page, figure: str, form: str) -> bytes:
    """What a chart's button hands over."""
    with page.expect_download() as waiting:
        page.locator(f"{figure} [data-save={form}]").first.click()
    assert waiting.value.suggested_filename.endswith(f".{form}")
    return Path(waiting.value.path()).read_bytes()


def test_the_manager_finds_the_worst_pairing_and_takes_it_out(watch) -> None:
    seen = watch()
    page = seen.go("/trends?period=7")
    first = page.inner_text(".glance")
    assert said_as.YIELD_ASKED in first and "EUR" in first
    assert "▲ Press Cedar" in page.inner_text("#trends-moved")
    for box, choice in (("trends-by", "Press"), ("trends-then", "Defect")):
        choose(page.locator(f"#{box}"), choice)
        page.wait_for_timeout(300)
    page.wait_for_selector("#trends-ranking a.ratio-row.worse:has-text('Cedar')")
    assert "Cedar · Lifted edge" in page.inner_text("#trends-ranking .finding")
    with page.expect_download() as waiting:
        page.click("#trends-take-xlsx")
    book = CalamineWorkbook.from_path(waiting.value.path())
    heads, top, *_ = book.get_sheet_by_index(1).to_python()
    found = dict(zip(heads, top, strict=True))
    assert (found["Press"], found["Stands out"]) == ("Cedar", "more than its mix")
    assert found["Ratio"] > 1.5 and found["Cost, EUR"] > 0
    with page.expect_download() as waiting:
        page.click("#trends-take-csv")
    rows = list(csv.DictReader(io.StringIO(
        Path(waiting.value.path()).read_text(encoding="utf-8-sig"))))
    assert rows[0]["press"] == "Cedar" and rows[0]["defect"] == "lifted_edge"
    page.click("#trends-ranking a.ratio-row.worse:has-text('Cedar')")
    page.wait_for_selector(".mantine-Drawer-content table")
    page.get_by_role("link", name=said_as.ALL_IN_RECORDS).click()
    page.wait_for_url("**/records?**")
    assert "press=Cedar" in page.url and "defect=lifted_edge" in page.url
    assert seen.complaints == [] and seen.foreign == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_chart_is_saved_as_a_real_picture_and_as_numbers(watch, scheme: str) -> None:
    seen = watch(scheme=scheme)
    page = seen.go("/trends?period=all&by=press")
    png = saved(page, "#trends-rate", "png")
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", png[16:24])
    assert width == 2 * (960 + 48) and height > 700 and len(png) > 50_000
    for place, drawn in (("#trends-rate", "path"), ("#trends-ranking", "rect")):
        root = ElementTree.fromstring(saved(page, place, "svg"))
        kind = "{http://www.w3.org/2000/svg}"
        assert root.tag == f"{kind}svg" and len(list(root.iter(f"{kind}{drawn}"))) > 5
        said = " ".join("".join(part.itertext()) for part in root.iter(f"{kind}text"))
        assert page.inner_text(f"{place} h3") in said and "Lantern Yard" in said
        assert page.inner_text(f"{place} .source")[:20] in said
        assert root.find(f"{kind}rect").get("fill") == "#ffffff"  # light, whatever is shown
    rows = list(csv.reader(io.StringIO(saved(page, "#trends-rate", "csv").decode("utf-8-sig"))))
    assert rows[0][:3] == ["Day", "Pieces", "With the defect"] and text.OPEN_RECORDS not in rows[1]
    assert len(rows) == 1 + page.locator("#trends-rate tbody tr").count()
    assert all(float(row[3].rstrip("%")) >= 0 for row in rows[1:])
    assert seen.complaints == [] and seen.foreign == []


def test_numbers_that_are_saved_run_in_no_spreadsheet(watch) -> None:
    page = watch().go("/trends")
    page.evaluate("""() => {
        const cells = document.querySelectorAll('#trends-ranking tbody tr:first-child > *');
        ['=1+1', '-2+3', '@x', '\\u22121.5\\u202f%', '1\\u202f234', 'a "b", c'].forEach(
            (said, i) => { cells[i].textContent = said; }); }""")
    rows = list(csv.reader(io.StringIO(saved(page, "#trends-ranking", "csv").decode("utf-8-sig"))))
    assert rows[1][:6] == ["'=1+1", "'-2+3", "'@x", "-1.5%", "1234", 'a "b", c']


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_it_fits_and_reads(watch, width: int, scheme: str) -> None:
    seen = watch(width=width, scheme=scheme)
    page = seen.go("/trends?by=press&then=defect")
    assert page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0
    assert findings(page) == []
    small = page.evaluate("""() => [...document.querySelectorAll('.save, .tile-ways a,'
        + '.take-out button, .mantine-DateInput-input')].filter(e => e.offsetParent !== null)
        .map(e => [e.className, e.getBoundingClientRect().height])
        .filter(([_, height]) => height < 47.5)""")
    assert small == []
    assert seen.complaints == [] and seen.foreign == []


def test_a_day_is_chosen_and_the_address_follows(watch) -> None:
    seen = watch()
    page = seen.go("/trends?kind=lifted_edge")
    page.fill("#trends-at", "28 Mar 2026")
    page.keyboard.press("Enter")
    page.wait_for_url("**at=**")
    choose(page.locator("#trends-of"), "Press Cedar")
    page.wait_for_url("**of=press%3ACedar**")
    page.wait_for_selector("#trends-compared h3:has-text('press Cedar')")
    assert said_as.BA_MOVED["rose"] in page.inner_text("#trends-compared .finding")
    assert "28 Mar 2026" in page.inner_text("#trends-compared h3")


@pytest.mark.parametrize("path", ["/", "/trends", "/cases", "/presses"])
def test_a_page_prints_clean(watch, path: str) -> None:
    """A4, light, nothing to press, charts inside the sheet, sources shown; then as it was."""
    seen = watch(scheme="dark")
    page = seen.go(path)
    asked = page.url
    sheets = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    assert (round(sheets[0].get_width()), round(sheets[0].get_height())) == (595, 842)
    said = " ".join(sheet.get_textpage().get_text_range() for sheet in sheets)
    assert text.PAGES[path] in said and "Lantern Yard" in said
    assert text.TO_LIGHT not in said and text.SAVE_FORMS["svg"] not in said
    if path == "/presses":  # what is folded away is counted; nothing to jump to on paper
        assert text.MORE_IN_ORDER.format(n=3) in said
        assert text.PRESSES_JUMPS["presses-board"] not in said.replace(text.BOARD_TITLE, "")
    if path == "/trends":
        assert "Laney (2002)" in said and "Garwood" in said
    corner = sheets[0].render(scale=0.5).to_numpy()[5, 5, :3]
    assert corner.min() > 240
    assert page.url == asked
    page.emulate_media(media="print")
    hidden = page.evaluate("""() => [...document.querySelectorAll('#nav, .tools, .choices, .saves')]
        .every(e => getComputedStyle(e).display === 'none')""")
    assert hidden
    page.emulate_media(media="screen")
    assert page.evaluate("() => document.documentElement.dataset.mantineColorScheme") == "dark"
    assert seen.complaints == []
