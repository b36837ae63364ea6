"""The charts page in a real browser: chosen by keyboard, frozen, a point opens its records."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from dashboard import text
from dashboard.text import charts as words
from qc.desk.shop import open_shop
from qc.domain.streams import Stream
from qc.store.stream_baselines import read_stream_baselines
from tests.browser.choosing import choose
from tests.browser.serving import served
from tests.browser.test_dashboard import READY, findings
from tests.qc.desk.stream_shop import build

WAIT_MS = 60_000
FITS = "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"
P1 = "?of=lifted_edge&by=press&level=P1&step=day&period=all"
SEARCHES = (P1, "?what=placement&step=piece&period=all", "?what=defects&of=scorch&period=all",
            "?what=setting&of=dwell_s&by=press&level=P1&period=all",
            "?what=platen&of=offset_c&by=press&level=P1&platen=upper&step=survey&period=all",
            "?of=lifted_edge&by=press&level=P1&step=day&period=7")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    shop, *_ = build(tmp_path_factory.mktemp("charts"))
    shop.store.close()
    return str(shop.store.location)


@pytest.fixture(scope="module")
def address(place: str) -> Iterator[str]:
    """The dashboard as it is now, served by the real command."""
    with served(place, as_of_us=None, zone=None) as there:
        yield there


def opened(browser: Browser, address: str, search: str, *, width: int = 1280,
           scheme: str = "light") -> Page:
    page = browser.new_context(viewport={"width": width, "height": 900},
                               color_scheme=scheme).new_page()  # type: ignore[arg-type]
    page.goto(f"{address}/charts{search}")
    page.wait_for_load_state("networkidle", timeout=WAIT_MS)  # the lists have their choices, too
    settle(page)
    return page


def settle(page: Page) -> None:
    """Until the page has its content and every chart is drawn."""
    for _ in range(WAIT_MS // 100):
        if page.evaluate(READY):
            page.wait_for_timeout(400)
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{page.url} did not finish")


def choose_by_keys(page: Page, field: str, name: str) -> None:
    """Chosen from a list by keys, going down until it is marked. The list loses a key that comes
    in the instant it opens."""
    page.locator(field).focus()
    page.keyboard.press("Enter")
    option = page.get_by_role("option", name=name, exact=True)
    expect(option).to_be_visible(timeout=WAIT_MS)
    for _ in range(20):
        page.keyboard.press("ArrowDown")
        page.wait_for_timeout(300)
        if option.get_attribute("data-combobox-selected"):
            page.keyboard.press("Enter")
            return
    raise AssertionError(f"{name} is never marked in {field}")


def asked(page: Page) -> dict[str, str]:
    return dict(parse_qsl(urlsplit(page.url).query))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 820, 1280])
def test_it_fits_and_reads(browser: Browser, address: str, width: int, scheme: str) -> None:
    page = opened(browser, address, P1, width=width, scheme=scheme)
    for search in SEARCHES if width == 1280 else SEARCHES[:2]:
        page.goto(f"{address}/charts{search}")
        settle(page)
        assert page.evaluate(FITS), (search, width)
        if width == 1280 or search == P1:
            assert findings(page) == [], (search, width, scheme)
        for summary in page.locator("summary").all():
            box = summary.bounding_box()
            assert box is not None and box["height"] >= 44
    page.context.close()


def test_a_stream_is_chosen_by_keyboard_alone(browser: Browser, address: str) -> None:
    page = opened(browser, address, "?period=all")
    choose_by_keys(page, "#charts-by", "Press")
    expect(page.locator("#charts-level")).to_have_value("P1", timeout=WAIT_MS)
    settle(page)
    expect(page.locator("#charts-body")).to_contain_text("on press P1, by day", timeout=WAIT_MS)
    assert asked(page)["by"] == "press" and asked(page)["level"] == "P1"
    choose_by_keys(page, "#charts-level", "P2")
    expect(page.locator("#charts-body")).to_contain_text("on press P2, by day", timeout=WAIT_MS)
    page.go_back()
    expect(page.locator("#charts-body")).to_contain_text("on press P1, by day", timeout=WAIT_MS)
    expect(page.locator("#charts-level")).to_have_value("P1")
    # another kind of chart, by the keyboard too
    kind = page.locator("a.charts-kind").first
    kind.focus()
    page.keyboard.press("Enter")
    settle(page)
    assert asked(page)["kind"]
    page.context.close()


def test_the_subject_brings_its_own_questions(browser: Browser, address: str) -> None:
    page = opened(browser, address, "?period=all")
    choose(page.locator("#charts-what"), words.SUBJECTS["platen"], exact=False)
    expect(page.locator("#charts-of")).to_have_value(
        words.MEASURES["offset_c"], timeout=WAIT_MS)
    expect(page.locator("#charts-body")).to_contain_text("Mean error, upper platen of P1",
                                                         timeout=WAIT_MS)
    assert not page.locator("#charts-step-box").is_visible()
    page.context.close()


def test_a_point_opens_its_records(browser: Browser, address: str) -> None:
    page = opened(browser, address, P1)
    marks = page.locator(".charts-two .main-svg .scatterlayer .points path.point")
    marks.nth(5).click(force=True)
    page.wait_for_url("**/records?*", timeout=WAIT_MS)
    assert asked(page)["press"] == "P1" and asked(page)["defect"] == "lifted_edge"
    expect(page.locator("#page h1")).to_have_text("Records", timeout=WAIT_MS)
    page.go_back()
    settle(page)
    expect(page.locator("#charts-body")).to_contain_text("on press P1, by day", timeout=WAIT_MS)
    page.get_by_text("The numbers", exact=True).click()
    page.get_by_role("link", name=words.OPEN).first.click()
    page.wait_for_url("**/records?*", timeout=WAIT_MS)
    page.context.close()


def test_rules_are_switched_and_pictures_saved(browser: Browser, address: str) -> None:
    page = opened(browser, address, P1)
    page.get_by_label("9 points in a row on one side of the centre line").check()
    page.wait_for_url("**rules=one_side*", timeout=WAIT_MS)
    settle(page)
    for form, start in (("svg", b"<svg"), ("png", b"\x89PNG"),
                        ("csv", b"\xef\xbb\xbfstatistic")):
        with page.expect_download() as taken:
            page.get_by_role("link", name=text.SAVE_FORMS[form]).click()
        assert Path(taken.value.path()).read_bytes().startswith(start)
    page.context.close()


def test_what_is_said_is_in_sight_and_a_name_is_remembered(
    browser: Browser, address: str
) -> None:
    page = opened(browser, address, P1 + "&frozen=0", width=390)
    said = page.locator("#charts-said")
    page.get_by_role("button", name=words.FREEZE).click()
    expect(said).to_contain_text("need a name", timeout=WAIT_MS)
    expect(said).to_be_in_viewport()
    page.get_by_text(words.BASE_CHOOSE, exact=True).click()
    page.get_by_role("button", name=words.BASE_TAKE).click()
    expect(said).to_have_text(words.BASE_BAD_DAY, timeout=WAIT_MS)
    expect(said).to_be_in_viewport()
    page.get_by_label(text.YOUR_NAME).fill("Ann")
    page.get_by_label(text.YOUR_NAME).blur()
    page.goto(f"{address}/charts?what=placement&period=all")
    settle(page)
    expect(page.get_by_label(text.YOUR_NAME)).to_have_value("Ann")
    kept = page.evaluate("() => localStorage.getItem('_dash_persistence.your-name.value.true')")
    assert kept is not None and "Ann" in kept  # the name of the cases and of the set-up
    page.context.close()


def test_no_choice_is_cut_and_fields_have_the_colours_of_the_page(
    browser: Browser, address: str
) -> None:
    page = opened(browser, address, "?what=placement&by=press&level=P1&step=day&period=all",
                  scheme="dark")
    for field in page.locator(".charts-questions input:visible").all():
        assert field.evaluate("e => e.scrollWidth <= e.clientWidth"), field.input_value()
    colour = "e => getComputedStyle(e).backgroundColor"
    assert page.locator("#charts-why").evaluate(colour) == page.locator("#charts-what").evaluate(
        colour)
    page.context.close()


def test_flags_are_asked_for_once_at_a_time(browser: Browser, address: str) -> None:
    page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    held: list[Route] = []

    def pass_on(route: Route) -> None:
        asks = "charts-flags-ready.data" in (route.request.post_data or "")
        held.append(route) if asks else route.continue_()

    page.route(re.compile("_dash-update-component"), pass_on)
    page.goto(f"{address}/charts{P1}")
    settle(page)
    for kind in ("placement", "setting", "check"):  # while the first answer is still to come
        choose(page.locator("#charts-what"), words.SUBJECTS[kind], exact=False)
        settle(page)
    page.wait_for_timeout(1500)
    assert len(held) == 1
    held[0].continue_()
    expect(page.locator("#charts-cases")).to_have_text(words.CASES_NONE, timeout=WAIT_MS)
    expect(page.get_by_text(words.BASE_UNLOOKED)).to_have_count(0)
    page.context.close()


def test_a_point_is_left_out_and_the_limits_are_frozen(
    browser: Browser, address: str, place: str
) -> None:
    page = opened(browser, address, P1)
    panel, said = page.locator(".charts-base"), page.locator("#charts-said")
    expect(panel).to_contain_text("Proposed:")
    page.get_by_text(words.OUT_TITLE, exact=True).click()
    page.get_by_role("button", name=words.OUT_TAKE).click()
    expect(said).to_have_text(words.OUT_NEEDS, timeout=WAIT_MS)
    page.get_by_label(words.OUT_CAUSE).fill("wrong <b>sheet</b>")
    page.get_by_role("button", name=words.OUT_TAKE).click()
    expect(panel).to_contain_text("is left out: wrong <b>sheet</b>.", timeout=WAIT_MS)
    page.get_by_role("button", name=words.FREEZE).click()
    expect(said).to_contain_text("need a name", timeout=WAIT_MS)
    page.get_by_label(text.YOUR_NAME).fill("Ann")
    page.get_by_label(words.FREEZE_WHY).fill("a calm month")
    page.get_by_role("button", name=words.FREEZE).click()
    expect(said).to_have_text(words.FROZEN_NOW, timeout=WAIT_MS)
    expect(panel).to_contain_text("by Ann: a calm month.", timeout=WAIT_MS)
    expect(panel).to_contain_text("Left out:")
    shop = open_shop(place)
    (kept,) = read_stream_baselines(shop.store, Stream(
        subject="defects", of="lifted_edge", by="press", level="P1", step="day").key)
    shop.store.close()
    assert (kept.by, kept.why) == ("Ann", "a calm month")
    assert kept.evidence["excluded"][0]["cause"] == "wrong <b>sheet</b>"
    page.goto(f"{address}/charts{P1}")
    settle(page)
    expect(panel).to_contain_text("by Ann: a calm month.", timeout=WAIT_MS)
    page.get_by_role("link", name=words.BASE_NEW).click()
    expect(panel).to_contain_text(words.BASE_EARLIER, timeout=WAIT_MS)
    page.get_by_role("link", name=words.BASE_READ).click()
    expect(panel).to_contain_text("by Ann: a calm month.", timeout=WAIT_MS)
    page.context.close()
