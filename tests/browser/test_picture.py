"""Pictures in a real browser: they ask nobody, fit, read, turn dark, and print."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from qc.desk.running import RunRequest, run_lengths
from qc.stats.charts.baselines import Baseline
from reports.picture.capability.histogram import capability_sheet
from reports.picture.capability.placement import placement_sheet
from reports.picture.charts.drawing import chart_sheet
from reports.picture.palette import DARK, LIGHT
from reports.picture.runlength.drawing import runlength_sheet
from reports.picture.type import width
from reports.picture.writing import write_picture
from tests.reports.capability_made import DWELL, one, two
from tests.reports.charts_made import dwell, file_chart

WORDS = ("3 of 25 points signal a change, the first at 17.", "limits come from points 1 to 15",
         "temperature °C", "Größe Ł", "0123456789 .,:;()")
OTHERS = {
    "histogram": lambda folder: capability_sheet(one(
        folder, DWELL, lower=14.0, upper=16.0, target=15.0)),
    "placements": lambda folder: placement_sheet(two(folder, DWELL[:60], DWELL[60:], radius=15.7)),
    "runs": lambda folder: runlength_sheet(run_lengths(RunRequest(kind="ewma", for_arl=370.0))),
}
BOXES = """() => {
    const svg = [...document.querySelectorAll('figure svg')].find(
        s => s.getBoundingClientRect().width > 0);
    const room = svg.viewBox.baseVal;
    return [...svg.querySelectorAll('text')].map(t => t.getBBox()).map(
        b => [b.x, b.y + 3, b.x + b.width, b.y + b.height - 3, room.width]);
}"""
"""Boxes of all words of the drawing that is shown, and how wide it is."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One chart as a page and as a picture; the other pictures as pages."""
    place = tmp_path_factory.mktemp("pictures")
    chart = dwell(rise=3.0, baseline=Baseline(first=1, last=16))
    for ending in ("html", "svg"):
        drawn = chart_sheet(file_chart(chart.chart, value="dwell_s"))
        write_picture(drawn, place / f"chart.{ending}")
    for name, made in OTHERS.items():
        write_picture(made(place), place / f"{name}.html")
    return place


def opened(context: BrowserContext, place: Path) -> Page:
    """The file, open; it asked for nothing else and said nothing."""
    page = context.new_page()
    seen: list[str] = []
    page.on("request", lambda request: seen.append(request.url))
    page.on("console", lambda message: seen.append(message.text))
    page.goto(place.as_uri())
    page.evaluate("document.fonts.ready")
    assert [url for url in seen if not url.startswith("data:")] == [place.as_uri()]
    return page


@pytest.fixture
def page(context: BrowserContext, folder: Path) -> Page:
    return opened(context, folder / "chart.html")


@pytest.mark.parametrize(("across", "shown"), [(390, "narrow"), (700, "narrow"), (1280, "wide")])
def test_the_drawing_follows_the_screen(page: Page, across: int, shown: str) -> None:
    page.set_viewport_size({"width": across, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= across
    seen = page.locator("figure:visible")
    assert seen.count() == 1
    assert shown in (seen.get_attribute("class") or "")


def test_every_word_on_a_telephone_is_large_enough(page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 900})
    heights = page.evaluate("""() => {
        const svg = document.querySelector('figure.narrow svg');
        const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
        return [...svg.querySelectorAll('text')].map(
            t => scale * parseFloat(t.getAttribute('font-size')));
    }""")
    assert min(heights) >= 11.5  # pixels


@pytest.mark.parametrize("name", ["chart", *OTHERS])
def test_no_word_is_cut_and_none_lies_on_another(context: BrowserContext, folder: Path, name: str
                                                 ) -> None:
    page = opened(context, folder / f"{name}.html")
    for across in (390, 1280):
        page.set_viewport_size({"width": across, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= across
        boxes = page.evaluate(BOXES)
        assert len(boxes) > 20
        assert all(left >= 0 and right <= room for left, _, right, _, room in boxes)
        for k, (left, top, right, bottom, _) in enumerate(boxes):
            for left2, top2, right2, bottom2, _ in boxes[k + 1:]:
                apart = right <= left2 or right2 <= left or bottom <= top2 or bottom2 <= top
                assert apart, (boxes[k], (left2, top2, right2, bottom2))


def test_the_widths_of_words_are_those_the_layout_counted_on(context: BrowserContext, folder: Path
                                                             ) -> None:
    page = opened(context, folder / "chart.svg")
    for bold in (False, True):
        for words in WORDS:
            measured = page.evaluate("""([words, weight]) => {
                const made = document.createElementNS('http://www.w3.org/2000/svg', 'text');
                made.textContent = words;
                made.setAttribute('font-size', 100);
                made.setAttribute('font-weight', weight);
                document.documentElement.append(made);
                return made.getComputedTextLength();
            }""", [words, 700 if bold else 400])
            assert measured == pytest.approx(width(words, 100, bold=bold), rel=0.05)


@pytest.mark.parametrize(("scheme", "palette"), [("light", LIGHT), ("dark", DARK)])
def test_light_and_dark(page: Page, scheme: str, palette) -> None:
    page.emulate_media(color_scheme=scheme)
    red, green, blue = (int(palette["sheet"][k:k + 2], 16) for k in (1, 3, 5))
    drawn = page.evaluate("""() => getComputedStyle(
        document.querySelector('figure.wide svg > rect')).fill""")
    assert drawn == f"rgb({red}, {green}, {blue})"


def test_paper_is_light_and_shows_the_wide_drawing(page: Page) -> None:
    page.emulate_media(color_scheme="dark", media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator("figure.wide").is_visible()
    assert not page.locator("figure.narrow").is_visible()
    pdf = page.pdf(prefer_css_page_size=True)
    assert pdf.startswith(b"%PDF")


def test_the_picture_has_a_name_and_says_what_it_shows(page: Page) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    picture = page.get_by_role("img", name="Individuals and moving range: dwell")
    assert picture.count() == 1
    assert page.get_by_role("heading", level=1).count() == 1
