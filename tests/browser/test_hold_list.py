"""A hold list in a real browser: it asks nobody, runs nothing, fits, reads, and prints."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from reports.hold_list import hold_list
from reports.writing import write_document
from tests.browser.test_dashboard import findings
from tests.reports.made import HOSTILE, LISBON, T0_US, case, flag, piece

N_PLAIN = 300


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hold list with plain pieces, and one for each hostile text in every field of names."""
    plain = [piece(f"J{20 + n // 50}-{n:03d}", job=f"J{20 + n // 50}") for n in range(N_PLAIN)]
    hostile = [piece(text, job=text, press=text, operator=text, transfer_lot=text, defects=text)
               for text in HOSTILE]
    made = hold_list(case(*plain, *hostile, of=flag(message=" ".join(HOSTILE))),
                     shop_name=HOSTILE[6], zone=LISBON, as_of_us=T0_US)
    return write_document(made, tmp_path_factory.mktemp("list") / "hold.html")


@pytest.fixture
def page(context: BrowserContext, place: Path) -> Page:
    """The list, open; what it asked for and said is kept on the page's ``seen``."""
    opened = context.new_page()
    seen: list[str] = []
    opened.on("request", lambda request: seen.append(request.url))
    opened.on("console", lambda message: seen.append(message.text))
    opened.on("dialog", lambda dialog: (seen.append(dialog.message), dialog.dismiss()))
    opened.goto(place.as_uri())
    assert seen == [place.as_uri()]
    return opened


def test_nothing_runs_and_every_piece_is_there(page: Page) -> None:
    assert page.title() == "Hold list: press P2"
    shown = page.locator(".list tbody th").all_text_contents()
    assert len(shown) == N_PLAIN + len(HOSTILE)
    assert set(HOSTILE) < set(shown)


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_the_page_never_scrolls_sideways(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    plain = page.locator(".list tbody tr", has_text="J20-000")
    assert (plain.bounding_box() or {})["height"] < 45  # one line: a name stays whole


def test_a_very_long_name_stays_in_its_cell(page: Page) -> None:
    spilt = page.evaluate("""() => [...document.querySelectorAll('th, td')].filter(
        c => c.scrollWidth > c.clientWidth + 1).map(c => c.textContent.slice(0, 40))""")
    assert spilt == []
    assert page.evaluate("document.querySelector('.list table').offsetWidth") < 3_000


def test_a_policy_forbids_even_a_script_put_in_by_hand(page: Page) -> None:
    page.evaluate("""() => { const s = document.createElement('script');
        s.textContent = 'document.title = "run"'; document.body.append(s); }""")
    assert page.title() == "Hold list: press P2"


def test_no_accessibility_findings(page: Page) -> None:
    assert findings(page) == []


def test_paper_repeats_the_headings_and_shows_the_whole_table(page: Page) -> None:
    page.emulate_media(media="print")
    style = page.evaluate("""() => ['.list', '.list thead', '.list tbody tr'].map(
        s => getComputedStyle(document.querySelector(s))).map(
        c => [c.overflowX, c.display, c.breakInside])""")
    assert style[0][0] == "visible"
    assert style[1][1] == "table-header-group"
    assert style[2][2] == "avoid"
    printed = page.pdf(prefer_css_page_size=False, format="A4", landscape=True)
    assert printed.startswith(b"%PDF") and printed.count(b"/Type /Page\n") > N_PLAIN // 40
