"""The records in a real browser: find, page, open, correct in two tabs, bring in, take out."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from dashboard.text import records as words
from qc.desk.looks import LooksAsked, looks_counted, open_look
from qc.desk.shop import open_shop
from qc.store.checking import check_store
from tests.browser.choosing import choose
from tests.browser.inside import Inside
from tests.browser.test_dashboard import Watched, findings
from tests.dashboard.small_shop import END_US, build_shop

WAIT_MS = 30_000
LIBRARY = "dash_ag_grid"
LOOK = {"piece_id": "S00010", "attempt": 1, "stage": "final"}


class Served:
    """A shop of this module alone, its dashboard on a clock of its own."""

    def __init__(self, folder: Path) -> None:
        build_shop(folder).store.close()
        self.shop = open_shop(str(folder / "shop.db"))
        self.inside = Inside(str(folder / "shop.db"), starts_us=END_US)
        self.address = self.inside.address

    def count(self, *levels: tuple[str, str | None]) -> int:
        return looks_counted(self.shop, LooksAsked(levels=levels), as_of_us=10**17).n_looks

    def versions(self, piece: str) -> tuple[dict, ...]:
        for place in ("chest", "back"):
            if self.count(("piece", piece), ("location", place)):
                return open_look(self.shop, LOOK | {"piece_id": piece, "location": place}).versions
        return ()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = Served(tmp_path_factory.mktemp("records"))
    yield made
    made.inside.close()
    assert check_store(made.shop.store) == []  # whatever was done, the store is sound
    made.shop.store.close()


@pytest.fixture
def open_page(browser: Browser, served: Served) -> Iterator[Callable[..., Watched]]:
    made = []

    def opened(path: str = "/records", *, width: int = 1280, scheme: str = "light") -> Watched:
        context = browser.new_context(viewport={"width": width, "height": 900},
                                      color_scheme=scheme)  # type: ignore[arg-type]
        made.append(context)
        watched = Watched(context.new_page(), served.address)
        watched.page.set_default_timeout(WAIT_MS)
        expect.set_options(timeout=WAIT_MS)
        watched.go(path)
        if "show=files" not in path:
            watched.page.wait_for_selector(".ag-row .look-link", state="attached")
        return watched

    yield opened
    for context in made:
        context.close()


def until(page: Page, ask: Callable[[], bool], what: str) -> None:
    """Wait for something; asked from here, since the page's policy forbids eval."""
    for _ in range(WAIT_MS // 100):
        if ask():
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"never: {what}")


def column(page: Page, name: str) -> list[str]:
    return [text for text in page.locator(
        f".ag-center-cols-container [col-id='{name}'], .ag-pinned-left-cols-container"
        f" [col-id='{name}']").all_inner_texts() if text]


def find_by(page: Page, field: str) -> Locator:
    label = page.locator("#records-find").get_by_label(words.FIND_LABELS[field], exact=True)
    return label.and_(page.locator("input")).first


def fill(page: Page, label: str, value: str) -> None:
    page.locator("#fix").get_by_label(label, exact=True).fill(value)


# finding and paging --------------------------------------------------------------------------


def test_numbers_that_the_bench_makes_are_read_whole(open_page: Callable[..., Watched]) -> None:
    """They differ at their end: cut off, all of a device's pieces read alike."""
    page = open_page().page
    name = page.locator(".ag-pinned-left-cols-container .look-link").first
    name.evaluate("one => { one.textContent = '261120-WQMWQ-188'; }")
    assert name.evaluate("""one => {
        const cell = one.closest('.ag-cell'), style = getComputedStyle(cell);
        return one.getBoundingClientRect().width <= cell.clientWidth
            - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
    }""")


def test_choices_narrow_the_list_and_every_view_is_a_link(
    open_page: Callable[..., Watched], served: Served
) -> None:
    seen = open_page()
    page = seen.page
    page.click("#records-find summary")
    choose(find_by(page, "press"), "Cedar")
    page.wait_for_url("**press=Cedar*")
    choose(find_by(page, "defect"), "Scorch or yellowing")
    page.wait_for_url("**defect=scorch*")
    n = served.count(("press", "Cedar"), ("defect", "scorch"))
    expect(page.locator("#records-count strong")).to_contain_text(f"{n} looks at {n} pieces")
    until(page, lambda: set(column(page, "press")) == {"Cedar"}, "only Cedar")
    assert page.locator("#records-find details").get_attribute("open") is not None
    page.locator(".chip", has_text="Cedar").click()
    page.wait_for_url(lambda url: "press" not in url and "defect=scorch" in url)
    until(page, lambda: len(set(column(page, "press"))) > 1, "more presses")
    page.go_back()
    until(page, lambda: set(column(page, "press")) == {"Cedar"}, "back to Cedar")
    assert seen.complaints == [] and seen.foreign == []


def test_days_bound_the_time_pressed(open_page: Callable[..., Watched]) -> None:
    page = open_page().page
    page.click("#records-find summary")
    days = page.locator(".find-day input")
    days.nth(0).fill("2026-03-10")
    page.wait_for_url("**since=*")
    days.nth(1).fill("2026-03-10")
    page.wait_for_url("**until=*")
    until(page, lambda: {text[:10] for text in column(page, "pressed_at")} == {"2026-03-10"},
          "that day alone")
    assert days.nth(1).input_value() == "2026-03-10"


def test_rows_come_as_they_are_scrolled_to_and_no_sooner(
    open_page: Callable[..., Watched], served: Served
) -> None:
    seen = open_page()
    page, asked = seen.page, []
    page.on("request", lambda request: asked.append(request.post_data or "")
            if "getRowsResponse" in (request.post_data or "") else None)
    total = served.count()
    viewport = page.locator(".ag-body-viewport, .ag-grid-scrolling-viewport").first
    last = page.locator(f".ag-row[row-index='{total - 1}'] .look-link")

    def at_the_end() -> bool:
        page.evaluate("box => { box.scrollTop += 40000; }", viewport.element_handle())
        page.wait_for_timeout(500)
        return last.count() == 1

    until(page, at_the_end, "the last row")
    assert 1 < len(asked) < total / 100 / 2
    assert last.inner_text().startswith("S000")  # the oldest


def test_a_heading_sorts_and_the_order_is_in_the_address(
    open_page: Callable[..., Watched]
) -> None:
    seen = open_page("/records?defect=any")
    page = seen.page
    page.click(".ag-header-cell[col-id='press'] .ag-header-cell-label")
    page.wait_for_url("**sort=-press*")
    until(page, lambda: column(page, "press")[:1] == ["Dune"], "the last press first")
    page.reload()
    page.wait_for_selector(".ag-row .look-link")
    until(page, lambda: column(page, "press")[:1] == ["Dune"], "still so after a reload")
    page.click(".ag-header-cell[col-id='press'] .ag-header-cell-label")
    page.wait_for_url(lambda url: "sort=press" in url)
    until(page, lambda: column(page, "press")[:1] == ["Anvil"], "the first press first")


def test_the_keyboard_alone_opens_a_look_and_closes_it(
    open_page: Callable[..., Watched]
) -> None:
    page = open_page("/records?press=Brook").page
    page.locator(".ag-header-cell").first.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    row = page.evaluate("() => document.activeElement.closest('.ag-row').getAttribute('row-index')")
    piece = page.locator(f".ag-row[row-index='{row}'] .look-link").inner_text()
    page.keyboard.press("Enter")
    page.wait_for_url("**look=*")
    expect(page.locator("#look-title")).to_have_text(f"Piece {piece}")
    expect(page.locator("#look-title")).to_be_focused()
    page.keyboard.press("Shift+Tab")
    assert page.evaluate("() => document.activeElement.textContent") == words.BACK_TO_LIST
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "look=" not in url)
    expect(page.locator(".look")).to_have_count(0)


def test_on_a_narrow_screen_a_look_takes_the_place_of_the_list(
    open_page: Callable[..., Watched]
) -> None:
    page = open_page(width=390).page
    page.locator(".ag-row .look-link").first.click()
    expect(page.locator(".look")).to_be_visible()
    assert not page.locator("#records-grid").is_visible()
    page.click(".look-close")
    expect(page.locator("#records-grid")).to_be_visible()


# correcting ----------------------------------------------------------------------------------


def open_fix(seen: Watched) -> Page:
    seen.page.click("#fix > summary")
    seen.page.wait_for_selector("#fix-keep")
    return seen.page


def link_to(served: Served, piece: str) -> str:
    look = served.versions(piece)[0]
    return f"/records?piece={piece}&look={piece}%2F1%2F{look['location']}%2Ffinal"


def keep(page: Page, by: str, why: str) -> None:
    page.fill("#your-name", by)
    page.fill("#fix-why", why)
    page.click("#fix-keep")


def test_two_tabs_correcting_one_look_lose_nothing(
    open_page: Callable[..., Watched], served: Served
) -> None:
    there = link_to(served, "S00010")
    first, second = open_fix(open_page(there)), open_fix(open_page(there))
    fill(first, "Dwell, s", "13.5")
    fill(second, "Dwell, s", "14")
    fill(second, "Cover", "paper")
    keep(first, "Ada", "misread the timer")
    expect(first.locator(".look .said").first).to_have_text(words.FIX_KEPT.format(n=2))
    expect(first.locator(".look-versions")).to_contain_text("Why: misread the timer")
    keep(second, "Bo", "read it again")
    told = second.locator(".meanwhile")
    expect(told).to_contain_text("Ada")
    expect(told).to_contain_text("misread the timer")
    expect(told.locator("ins")).to_have_text("13.5")
    expect(told).to_contain_text("You both changed dwell")
    assert len(served.versions("S00010")) == 2  # nothing was kept over theirs
    assert second.locator("#fix").get_by_label("Cover", exact=True).input_value() == "paper"
    expect(second.locator("#fix-keep")).to_have_text(words.FIX_KEEP_ON_TOP.format(n=2))
    assert findings(second) == []
    second.click("#fix-keep")
    expect(second.locator(".look .said").first).to_have_text(words.FIX_KEPT.format(n=3))
    versions = served.versions("S00010")
    assert [one["dwell_s"] for one in versions] == [None, 13.5, 14.0]
    assert [(one["changed_by"], one["why"]) for one in versions[1:]] == [
        ("Ada", "misread the timer"), ("Bo", "read it again")]
    assert versions[2]["cover"] == "paper" and versions[1]["cover"] is None


def test_the_second_of_two_may_leave_theirs_and_see_the_others(
    open_page: Callable[..., Watched], served: Served
) -> None:
    there = link_to(served, "S00011")
    first, second = open_fix(open_page(there)), open_fix(open_page(there))
    fill(first, "Station", "left")
    keep(first, "Ada", "was not written down")
    expect(first.locator(".look .said").first).to_have_text(words.FIX_KEPT.format(n=2))
    fill(second, "Station", "right")
    keep(second, "Bo", "was not written down")
    second.click("#fix-leave")
    expect(second.locator(".look-said")).to_contain_text("left")
    assert len(served.versions("S00011")) == 2


def test_a_correction_needs_a_name_a_reason_and_a_change(
    open_page: Callable[..., Watched], served: Served
) -> None:
    page = open_fix(open_page(link_to(served, "S00012")))
    said = page.locator("#fix-said")
    page.click("#fix-keep")
    expect(said).to_have_text(words.FIX_NEEDS_NAME)
    page.fill("#your-name", "Ada")
    page.click("#fix-keep")
    expect(said).to_have_text(words.FIX_NEEDS_WHY)
    page.fill("#fix-why", "to see")
    page.click("#fix-keep")
    expect(said).to_have_text(words.FIX_NOTHING)
    fill(page, "Temperature shown, °C", "4000")
    page.click("#fix-keep")
    expect(said).to_contain_text("allowed: 0 to 400")
    assert len(served.versions("S00012")) == 1


def test_a_look_taken_back_is_gone_from_the_list_and_stays_readable(
    open_page: Callable[..., Watched], served: Served
) -> None:
    there = link_to(served, "S00014")
    first, second = open_fix(open_page(there)), open_fix(open_page(there))
    first.fill("#your-name", "Ada")
    first.fill("#fix-why", "a piece of another shop")
    first.click("#fix-take-back")
    expect(first.locator(".look-head .mark")).to_contain_text(words.TAKEN_BACK)
    expect(first.locator("#records-count")).to_contain_text(words.COUNTED_NONE)
    fill(second, "Station", "left")
    keep(second, "Bo", "was not written down")
    expect(second.locator(".meanwhile")).to_contain_text(words.TAKEN_BACK)
    expect(second.locator(".meanwhile")).to_contain_text("a piece of another shop")
    assert served.count(("piece", "S00014")) == 0


def test_a_finding_is_added_and_the_list_shows_it(
    open_page: Callable[..., Watched], served: Served
) -> None:
    page = open_fix(open_page(link_to(served, "S00013")))
    told = [*served.versions("S00013")[0]["findings"]]
    row = page.locator(".fix-finding").last
    choose(row.get_by_label("Defect").and_(page.locator("input")).first, "Bubble", exact=False)
    expect(page.locator("#fix-usual")).to_contain_text("bubble")  # it says passed, as it stands
    keep(page, "Ada", "overlooked")
    expect(page.locator(".look .said").first).to_have_text(words.FIX_KEPT.format(n=2))
    now = served.versions("S00013")[1]["findings"]
    assert [one["kind"] for one in now] == [*(one["kind"] for one in told), "bubble"]
    expect(page.locator(".ag-row [col-id='findings']")).to_contain_text("Bubble")


# bringing in ---------------------------------------------------------------------------------

HEAD = "piece_id,inspected_at,press,fabric,transfer,location,dwell_s,defects,note\n"
HOSTILE = "<img src=x onerror=alert(1)>"


def rows_of(name: str) -> str:
    return (f"{HEAD}{name}-1,2026-04-09T07:42,Anvil,rib-fine,film-matt,chest,12,,\n"
            f"{name}-2,2026-04-09T07:44,Anvil,rib-fine,film-matt,chest,{HOSTILE},,=1+1\n"
            f"{name}-3,yesterday,Anvil,rib-fine,film-matt,chest,12,,\n"
            f"{name}-4,2026-04-09T07:46,Zebra-{name},rib-fine,film-matt,chest,12,bubble,=1+1\n")


def drop(page: Page, name: str, content: str) -> None:
    """Let a file fall on the page as a person does."""
    transfer = page.evaluate_handle(
        """([name, content]) => { const t = new DataTransfer();
            t.items.add(new File([content], name, {type: 'text/csv'})); return t; }""",
        [name, content])
    page.dispatch_event("#drop", "dragenter", {"dataTransfer": transfer})
    page.dispatch_event("#drop", "drop", {"dataTransfer": transfer})


def test_a_file_with_bad_rows_from_drop_to_rejects(
    open_page: Callable[..., Watched], served: Served, tmp_path: Path
) -> None:
    seen = open_page("/records?show=files", width=820)
    page, before = seen.page, served.count()
    drop(page, "sheet.csv", rows_of("D"))
    page.wait_for_selector("#files-load")
    assert served.count() == before  # a dry run first
    cells = [row.locator("td, th").all_inner_texts() for row in
             page.locator(".wrong tbody tr").all()]
    assert [cell[:3] for cell in cells] == [
        ["3", "dwell_s", HOSTILE], ["4", "inspected_at", "yesterday"], ["5", "press", "Zebra-D"]]
    assert page.locator(".wrong img").count() == 0  # text stays text
    expect(page.locator(".new-codes")).to_contain_text("Presses: Zebra-D")
    expect(page.locator("#files-load")).to_have_text(words.LOAD_ONE)
    page.get_by_label(words.NEW_CODES).check()
    expect(page.locator("#files-load")).to_have_text("Load 2 rows")
    page.click("#files-load")
    expect(page.locator("#files-load-said")).to_have_text(words.FILES_NEEDS_NAME)
    page.fill("#your-name", "Ada")
    page.click("#files-load")
    page.wait_for_selector(f"h2:text-is('{words.LOADED_TITLE}')")
    assert served.count() == before + 2 and findings(page) == []
    assert served.versions("D-4")[0]["changed_by"] == "Ada"
    with page.expect_download() as waiting:
        page.get_by_text(words.REJECTS_TAKE).click()
    content = Path(waiting.value.path()).read_text(encoding="utf-8")
    rejects = list(csv.DictReader(io.StringIO(content)))
    assert [row["piece_id"] for row in rejects] == ["D-2", "D-3"]
    assert rejects[0]["reason"].startswith("dwell_s is")
    # put right, the rejects file is brought in as it is
    page.click("#files-anew")
    page.wait_for_selector(f"h2:text-is('{words.LOADED_TITLE}')", state="detached")
    drop(page, "sheet.rejects.csv", content.replace(HOSTILE, "12").replace(
        ",yesterday,", ",2026-04-09T07:45,"))
    expect(page.locator("#files-load")).to_have_text("Load 2 rows")
    page.click("#files-load")
    page.wait_for_selector(f"h2:text-is('{words.LOADED_TITLE}')")
    assert served.count() == before + 4
    assert seen.complaints == [] and seen.foreign == []


def test_several_files_are_chosen_at_once_each_of_its_kind(
    open_page: Callable[..., Watched], served: Served, tmp_path: Path
) -> None:
    """A list comes before the rows that name its codes, whatever the order; one that cannot be
    read does not stop the others."""
    (tmp_path / "looks.csv").write_text(rows_of("M").replace("Zebra-M", "Yak"), encoding="utf-8")
    (tmp_path / "presses.csv").write_text("press,name\nYak,the big one\n", encoding="utf-8")
    (tmp_path / "latin.csv").write_bytes(f"{HEAD}é,".encode("latin-1"))
    (tmp_path / "shapes.csv").write_text("corner,side\n1,2\n", encoding="utf-8")
    page = open_page("/records?show=files").page
    page.set_input_files("#drop-files", [tmp_path / name for name in (
        "looks.csv", "presses.csv", "latin.csv", "shapes.csv")])
    page.wait_for_selector("#files-load")
    said = [one.inner_text() for one in page.locator(".file").all()]
    assert "looks at pieces" in said[0] and "list of presses" in said[1]
    assert words.FILE_REFUSED in said[2] and "UTF-8" in said[2]
    assert words.FILE_REFUSED in said[3]
    assert not page.locator(".new-codes").is_visible()  # Yak stands on the list that came along
    expect(page.locator("#files-load")).to_have_text("Load 3 rows")


def test_files_are_chosen_by_keyboard(open_page: Callable[..., Watched], tmp_path: Path) -> None:
    (tmp_path / "k.csv").write_text(rows_of("K"), encoding="utf-8")
    seen = open_page("/records?show=files")
    page = seen.page
    # asked for before the page loads: the browser hands its choosers over only a while after
    page.on("filechooser", lambda chooser: chooser.set_files(tmp_path / "k.csv"))
    seen.go("/records?show=files")
    page.locator("#records-switch a").last.focus()
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.id") == "drop-files"
    page.keyboard.press("Enter")
    page.wait_for_selector("#files-load")


def test_what_cannot_be_a_file_of_ours_is_refused_before_it_is_sent(
    open_page: Callable[..., Watched]
) -> None:
    page = open_page("/records?show=files").page
    for name, content, said in (
        ("photo.png", "x", words.DROP_WORDS["wrong"].format(name="photo.png")),
        ("nothing.csv", "", words.DROP_WORDS["empty"].format(name="nothing.csv")),
    ):
        drop(page, name, content)
        expect(page.locator("#drop-said")).to_have_text(said)


def test_a_large_file_shows_how_far_it_is(
    open_page: Callable[..., Watched], served: Served
) -> None:
    page = open_page("/records?show=files").page
    rows = "".join(f"B-{at},2026-04-09T07:42,Anvil,rib-fine,film-matt,chest,12,,\n"
                   for at in range(60_000))
    seen: list[str] = []
    drop(page, "large.csv", HEAD + rows)
    until(page, lambda: bool(page.locator("#files-load, .progress").count()), "an answer")
    while not page.locator("#files-load").count():
        seen += page.locator(".progress p").all_inner_texts()
        page.wait_for_timeout(50)
    assert any("large.csv" in one and "%" in one for one in seen)
    expect(page.locator("#files-load")).to_have_text("Load 60\u202f000 rows")


# taking out ----------------------------------------------------------------------------------


def test_what_is_found_is_taken_out(open_page: Callable[..., Watched], served: Served) -> None:
    page = open_page("/records?press=Dune&defect=any").page
    with page.expect_download() as waiting:
        page.get_by_text(words.TAKE_CSV).click()
    content = Path(waiting.value.path()).read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(content)))
    assert len(rows) == served.count(("press", "Dune"), ("defect", "any"))
    assert {row["press"] for row in rows} == {"Dune"} and all(row["defects"] for row in rows)
    with page.expect_download() as waiting:
        page.get_by_text(words.TAKE_XLSX).click()
    assert waiting.value.suggested_filename == "looks.xlsx"
    assert Path(waiting.value.path()).read_bytes()[:2] == b"PK"


# the look of it ------------------------------------------------------------------------------


def prepared(seen: Watched, part: str) -> Page:
    """The page with a part of it shown in full."""
    page = seen.page
    if part == "choices":
        page.click("#records-find summary")
    if part == "look":
        page.click("#fix > summary")
    if part == "files":
        drop(page, "sheet.csv", rows_of("A"))
        page.wait_for_selector("#files-load")
    page.wait_for_timeout(300)
    return page


PARTS = ("choices", "look", "files", "none")


def path_of(served: Served, part: str) -> str:
    return {"choices": "/records?defect=any", "look": link_to(served, "S00020"),
            "files": "/records?show=files", "none": "/records?press=Anvil"}[part]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_accessibility_findings(
    open_page: Callable[..., Watched], served: Served, scheme: str
) -> None:
    for part in PARTS:
        page = prepared(open_page(path_of(served, part), scheme=scheme), part)
        assert findings(page) == [], f"{part} ({scheme})"


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_nothing_is_too_wide_and_everything_can_be_hit(
    open_page: Callable[..., Watched], served: Served, width: int
) -> None:
    for part in PARTS:
        seen = open_page(path_of(served, part), width=width)
        page = prepared(seen, part)
        assert page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0, part
        small = page.evaluate("""() => [...document.querySelectorAll(
            '.page-records summary, .page-records button, .page-records .as-button, .chip, .way,'
            + '.page-records .mantine-Input-input, .ag-row, .ag-header-cell')]
            .filter(e => e.offsetParent !== null && !e.closest('.mantine-Input-section'))
            .map(e => [e.className || e.tagName, e.getBoundingClientRect().height])
            .filter(([name, height]) => height > 0 && height < 47)""")
        assert small == [], part
        assert seen.complaints == [] and seen.foreign == []


def test_pages_without_a_grid_do_not_fetch_it_and_the_first_load_is_light_enough(
    browser: Browser, served: Served
) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page, urls, total = context.new_page(), [], []
    page.on("request", lambda request: urls.append(request.url))
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.on("Network.loadingFinished", lambda e: total.append(e["encodedDataLength"]))
    for path in ("/bench", "/", "/cases", "/records?show=files"):
        page.goto(served.address + path)
        page.wait_for_selector("#page h1")
        page.wait_for_timeout(1_500)
    assert not [url for url in urls if LIBRARY in url]
    page.get_by_role("link", name=words.SHOW_LOOKS).click()  # and then it comes when it is needed
    page.wait_for_selector(".ag-row .look-link")
    assert [url for url in urls if LIBRARY in url]
    context.close()
    context = browser.new_context()
    page, total = context.new_page(), []
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.on("Network.loadingFinished", lambda e: total.append(e["encodedDataLength"]))
    page.goto(served.address + "/records")
    page.wait_for_selector(".ag-row .look-link")
    page.wait_for_timeout(500)
    print(f"first load of /records: {sum(total) / 1e6:.2f} MB")
    assert 0 < sum(total) <= 2_200_000, f"{sum(total) / 1e6:.2f} MB"
    context.close()
