"""A case in a real browser: from the flag to its close, with the pieces on hold in the store."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard import text
from dashboard.text import cases as case_text
from qc.desk.case_list import cases_now
from qc.desk.case_steps import StepWanted, take_step
from qc.desk.flags import current_flags
from qc.desk.shop import Shop, open_shop
from qc.domain.instants import HOUR_US
from qc.store.checking import check_store
from qc.store.inspections import read_looks
from tests.browser.choosing import choose
from tests.browser.inside import Inside
from tests.browser.test_dashboard import Watched, findings
from tests.qc.desk.case_shop import DONE_US, LATER_US, case_shop, go_on

WAIT_MS = 30_000
FAR_US = 10**16


class Served:
    """A shop of this test alone, its dashboard on a clock of its own."""

    def __init__(self, folder: Path, *, starts_us: int, later: bool = False) -> None:
        shop = case_shop(folder, surveyed=False)
        if later:
            go_on(shop, bad=False)
        (flag,) = current_flags(shop, as_of_us=DONE_US).flags
        shop.store.close()
        self.flag_id, self.place = flag.id, str(folder / "shop.db")
        self.shop: Shop = open_shop(self.place)
        self.inside = Inside(self.place, starts_us=starts_us)
        self.address = self.inside.address

    def close(self) -> None:
        self.inside.close()
        self.shop.store.close()

    def steps(self) -> list[str]:
        case = cases_now(self.shop, as_of_us=FAR_US).get(self.flag_id)
        return [step.step for step in case.steps] if case else []


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = Served(tmp_path_factory.mktemp("cases"), starts_us=DONE_US)
    yield made
    made.close()


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    made = Served(tmp_path, starts_us=DONE_US)
    yield made
    made.close()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Callable[..., Watched]]:
    made = []

    def opened(at: Served, *, width: int = 1280, scheme: str = "light") -> Watched:
        context = browser.new_context(viewport={"width": width, "height": 900},
                                      color_scheme=scheme)  # type: ignore[arg-type]
        made.append(context)
        watched = Watched(context.new_page(), at.address)
        watched.go(f"/cases?flag={at.flag_id}")
        watched.page.wait_for_selector("#case-ladder, #case-detail .notice", timeout=WAIT_MS)
        return watched

    yield opened
    for context in made:
        context.close()


def press(page: Page, step: str, said: str) -> None:
    page.locator(f"""[id*='"step":"{step}"']""").click()
    _until(page, said)


def _until(page: Page, said: str) -> None:
    """Asked from here, since the page's policy forbids eval."""
    for _ in range(WAIT_MS // 100):
        if said in page.inner_text("#case-said"):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"never said {said!r}; says {page.inner_text('#case-said')!r}")


def _until_name_is_kept(page: Page, name: str) -> None:
    """The field hands on what was typed a moment later: a script can be faster, a person cannot."""
    for _ in range(WAIT_MS // 100):
        if name in page.evaluate("() => JSON.stringify(localStorage)"):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{name} is not kept")


def do(page: Page, step: str) -> None:
    press(page, step, case_text.DONE_WORDS[step])


def test_from_the_flag_to_a_closed_case_with_pieces_on_hold(
    own: Served, open_page: Callable[..., Watched]
) -> None:
    watched = open_page(own)
    page = watched.page
    assert case_text.STATE_NEW in page.inner_text("#case-marks")
    press(page, "acknowledge", case_text.YOUR_NAME_NEEDED)
    assert own.steps() == []
    page.fill("#your-name", "Ana")
    do(page, "acknowledge")
    assert case_text.STATE_SEEN.format(by="Ana") in page.inner_text("#case-marks")
    do(page, "contain")
    assert case_text.NOTHING_TO_HOLD in page.inner_text("#case-ladder")
    choose(page.locator("#case-cause"), "Cold spot in the platen", exact=False)
    do(page, "cause")
    page.fill("#case-action", "<b>heater</b> bank replaced")
    do(page, "action")
    assert "Too early to tell" in page.inner_text("#case-check")
    do(page, "close")
    assert own.steps() == ["open", "acknowledge", "contain", "cause", "action", "close"]
    told = page.inner_text("#case-log")
    assert "<b>heater</b> bank replaced" in told and told.count("Ana") == 6
    assert case_text.CLOSED_LIST.format(n=1) in page.inner_text("#case-list")
    looks = read_looks(own.shop.store, as_of_us=FAR_US)
    before = read_looks(own.shop.store, as_of_us=DONE_US - HOUR_US)
    held = (looks["disposition"] == "hold").sum() - (before["disposition"] == "hold").sum()
    assert held > 50 and str(held) in told
    assert check_store(own.shop.store) == []
    assert watched.complaints == [] and watched.foreign == []


def test_the_second_of_two_people_sees_the_firsts_step_and_nothing_is_lost(
    own: Served, open_page: Callable[..., Watched]
) -> None:
    ana, bo = open_page(own).page, open_page(own).page
    for page, name in ((ana, "Ana"), (bo, "Bo")):
        page.fill("#your-name", name)
    bo.fill("#case-note", "asked the supplier")
    do(ana, "acknowledge")
    press(bo, "note", "Somebody was here in between (Ana saw it)")
    assert "Ana" in bo.inner_text("#case-log")
    assert bo.input_value("#case-note") == "asked the supplier"
    do(bo, "note")
    assert own.steps() == ["open", "acknowledge", "note"]
    ana.wait_for_selector("#case-log >> text=asked the supplier", timeout=WAIT_MS)


def test_a_step_goes_to_the_case_that_is_shown_when_the_list_has_moved_on(
    own: Served, open_page: Callable[..., Watched]
) -> None:
    watched = open_page(own)
    page = watched.go("/cases")  # no flag in the address: the most urgent one is shown
    page.wait_for_selector("#case-ladder", timeout=WAIT_MS)
    page.fill("#your-name", "Ana")
    page.fill("#case-cause-words", "false: probe misread")
    do(page, "cause")
    do(page, "close")
    page.fill("#case-reopen", "closed the wrong one")
    do(page, "reopen")
    assert own.steps() == ["open", "cause", "close", "reopen"]


def test_the_table_of_pieces_is_not_cut_at_its_side(
    served: Served, open_page: Callable[..., Watched]
) -> None:
    """With the longest words a shop has: a place, a job, a finding, what is done with it."""
    page = open_page(served).page
    page.wait_for_selector("#case-pieces tbody tr", timeout=WAIT_MS)
    room = page.evaluate("""said => {
        const row = document.querySelector('#case-pieces tbody tr');
        [...row.cells].forEach((cell, at) => {
            const inside = cell.querySelector('a, .moment');
            if (at === 1) { cell.innerHTML = 'shipped <span class="moment">18 Nov 15:00</span>'; }
            else { (inside || cell).textContent = said[at]; }
        });
        const box = row.closest('.table-box');
        return [box.scrollWidth, box.clientWidth];
    }""", ["J1460-094", "", "J1460", "16 Nov 19:18", "P4", "T-CUT-050", "Dena",
           "Misplacement (offset)", "let through by agreement"])
    assert room[0] <= room[1]


def test_by_keyboard_alone(own: Served, open_page: Callable[..., Watched]) -> None:
    page = open_page(own).page
    page.focus("#your-name")
    page.keyboard.type("Ana")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.textContent") == (
        case_text.BUTTONS["acknowledge"])
    _until_name_is_kept(page, "Ana")
    page.keyboard.press("Enter")
    _until(page, case_text.DONE_WORDS["acknowledge"])
    assert own.steps() == ["open", "acknowledge"]
    # that step is folded away: the keyboard goes on from what was said, not from the page's start
    expect(page.locator("#case-said")).to_be_focused(timeout=WAIT_MS)
    page.locator("#case-owner").fill("Rui")
    page.locator("#case-owner").press("Tab")
    page.keyboard.press("Enter")
    _until(page, case_text.DONE_WORDS["owner"])
    expect(page.locator(":focus")).to_have_count(1, timeout=WAIT_MS)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 820, 1265, 1280])
def test_it_fits_reads_and_can_be_hit_with_gloves(
    served: Served, open_page: Callable[..., Watched], width: int, scheme: str
) -> None:
    watched = open_page(served, width=width, scheme=scheme)
    page = watched.page
    assert page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0
    small = page.evaluate("""() => [...document.querySelectorAll(
        '.case-work button, .case-work input:not([type=hidden]), .case-work summary,'
        + '.takes button')]
        .filter(e => e.offsetParent !== null).map(e => [e.id || e.tagName,
            e.getBoundingClientRect().height]).filter(([_, height]) => height < 47.5)""")
    assert small == []
    assert findings(page) == []
    assert watched.complaints == [] and watched.foreign == []


def test_the_tool_says_by_itself_that_the_rate_came_back(
    tmp_path: Path, open_page: Callable[..., Watched]
) -> None:
    made = Served(tmp_path, starts_us=LATER_US, later=True)
    take_step(made.shop, StepWanted(flag_id=made.flag_id, step="action", text="bank replaced"),
              by="Ana", at_us=DONE_US)
    try:
        page = open_page(made).page
        said = page.inner_text("#case-check")
        assert "Came back" in said and "on 500 pieces" in said
        assert page.locator("#case-check .main-svg").count() >= 1
        assert text.NUMBERS in said
    finally:
        made.close()


def test_the_list_can_be_taken_as_a_workbook(
    served: Served, open_page: Callable[..., Watched], tmp_path: Path
) -> None:
    page = open_page(served).page
    for name, ending in (("case-take", "csv"), ("case-take-xlsx", "xlsx"),
                         ("case-take-html", "html"), ("case-take-pdf", "pdf")):
        with page.expect_download() as waited:
            page.click(f"#{name}")
        assert waited.value.suggested_filename == f"hold-{served.flag_id}.{ending}"
        waited.value.save_as(tmp_path / f"list.{ending}")
        assert (tmp_path / f"list.{ending}").stat().st_size > 5_000
