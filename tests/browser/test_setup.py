"""Set-up in a real browser: lists, a bad recipe, settings, the keyboard, the first run."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard import text
from dashboard.text import bench as bench_text
from dashboard.text import setup as setup_text
from qc.desk.first_run import first_run
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.lists import past_versions
from qc.desk.shop import Shop, open_shop, reread
from qc.store.checking import check_store
from tests.browser.choosing import choose
from tests.browser.inside import Inside
from tests.browser.test_dashboard import Watched, findings

WAIT_MS = 30_000
NOW_US = 1_780_000_000_000_000
RECORDS = (
    ("fabrics", {"fabric": "tee", "cotton_pct": "100", "surface": "smooth"}),
    ("transfers", {"transfer": "film", "kind": "cut film"}),
    ("presses", {"press": "P1", "name": "Left press", "temperature_tolerance_c": "5"}),
    ("recipes", {"fabric": "tee", "transfer": "film", "temperature_c": "150",
                 "temperature_low_c": "145", "temperature_high_c": "155", "dwell_s": "12",
                 "peel": "hot"}),
    ("placements", {"location": "left_chest", "reference": "collar seam"}),
    ("jobs", {"job": "J-118", "fabric": "tee", "transfer": "film", "location": "left_chest"}),
    ("instruments", {"instrument": "probe-1", "uncertainty_c": "1.2", "k": "2"}),
)
PATHS = ("/setup", *(f"/setup?part={part}" for part in setup_text.PARTS),
         "/setup?part=recipes&item=tee%2Ffilm", "/setup?part=fabrics&do=add",
         "/setup?part=jobs&item=J-118")


class Served:
    """A shop of this test alone, empty or with a record on every list, served on this moment."""

    def __init__(self, folder: Path, *, filled: bool) -> None:
        place = str(folder / "shop.db")
        self.shop: Shop = open_shop(place, create=True)
        for kind, texts in RECORDS if filled else ():
            keep_record(self.shop, RecordWritten(kind=kind, texts=texts), by="Ann", at_us=NOW_US)
        self.inside = Inside(place, starts_us=NOW_US + 3_600_000_000)
        self.address = self.inside.address

    def close(self) -> None:
        self.inside.close()
        self.shop.store.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    made = Served(tmp_path, filled=True)
    yield made
    made.close()


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Served]:
    made = Served(tmp_path, filled=False)
    yield made
    made.close()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Watched]]:
    made = []

    def open_page(served: Served, path: str = "/setup", *, width: int = 820,
                  scheme: str = "light") -> Watched:
        context = browser.new_context(
            viewport={"width": width, "height": 1100}, timezone_id="Europe/Lisbon",
            color_scheme=scheme)  # type: ignore[arg-type]
        made.append(context)
        watched = Watched(context.new_page(), served.address)
        watched.go(path)
        return watched

    yield open_page
    for context in made:
        context.close()


def box(page: Page, label: str, *, inside: str = "main"):  # noqa: ANN201
    """The field of a label; a unit or a star may stand behind it."""
    return page.locator(inside).get_by_label(re.compile(rf"^{re.escape(label)}(,| \*|$)"))


def said(page: Page, words: str) -> None:
    expect(page.locator("#setup-said")).to_contain_text(words, timeout=WAIT_MS)


def test_a_fabric_is_added_and_a_press_changed(served: Served, opened: Callable[..., Watched]
                                               ) -> None:
    watched = opened(served)
    page = watched.page
    page.get_by_role("link", name="Fabrics").click()
    page.get_by_role("link", name="Add a fabric").click()
    box(page, "Fabric").fill("rib")
    box(page, "Cotton").fill("95,5")
    choose(box(page, "Surface"), "ribbed")
    page.get_by_role("button", name="Keep this fabric").click()
    said(page, "Nobody is named")
    page.fill("#your-name", "Rui")
    page.get_by_role("button", name="Keep this fabric").click()
    said(page, "Fabric rib is kept.")
    expect(page.locator(".versions")).to_contain_text("Rui", timeout=WAIT_MS)
    assert page.url.endswith("?part=fabrics&item=rib")

    page.get_by_role("link", name="Presses", exact=True).last.click()
    page.get_by_role("link", name="P1").click()
    assert page.input_value("#your-name") == "Rui"  # asked once, kept on the device
    expect(box(page, "Press")).to_have_attribute("readonly", "")
    tolerance = box(page, "Mean may be off by")
    expect(tolerance).to_have_value("5")
    tolerance.fill("3")
    page.get_by_role("button", name=setup_text.KEEP_CHANGE).click()
    said(page, "kept as version 2")
    versions = page.locator(".versions > li")
    expect(versions).to_have_count(2)
    expect(versions.first).to_contain_text("5\u202f°C → 3\u202f°C")
    expect(versions.first).to_contain_text(setup_text.IN_FORCE)
    versions.last.locator("summary").click()
    expect(versions.last.locator("dl")).to_contain_text("5\u202f°C")
    new, old = past_versions(served.shop, "presses", ("P1",), as_of_us=10**17)
    assert (new.values["temperature_tolerance_c"], old.values["temperature_tolerance_c"]) == (3, 5)
    assert (new.by, old.by) == ("Rui", "Ann")
    assert check_store(served.shop.store) == []
    assert watched.complaints == [] and watched.foreign == []


def test_a_bad_recipe_is_refused_where_it_is_wrong(served: Served, opened: Callable[..., Watched]
                                                   ) -> None:
    page = opened(served, "/setup?part=recipes&item=tee%2Ffilm").page
    page.fill("#your-name", "Rui")
    high = box(page, "Highest temperature")
    high.fill("140")
    page.get_by_role("button", name="Keep as version 2").click()
    said(page, setup_text.NOT_KEPT)
    expect(high).to_have_attribute("aria-invalid", "true")
    beside = high.get_attribute("aria-describedby").split()
    told = [page.locator(f"[id='{one}']").inner_text() for one in beside]
    assert any(words.startswith("Highest temperature is below") for words in told), told
    assert len(past_versions(served.shop, "recipes", ("tee", "film"), as_of_us=10**17)) == 1
    high.fill("160")
    page.get_by_role("button", name="Keep as version 2").click()
    said(page, "kept as version 2")
    expect(page.locator(".versions > li")).to_have_count(2)
    assert page.locator("[aria-invalid=true]").count() == 0


def test_settings_change_units_and_name_at_once(served: Served, opened: Callable[..., Watched]
                                                ) -> None:
    page = opened(served, "/setup?part=settings").page
    page.fill("#your-name", "Rui")
    box(page, "Name of the shop").fill("Quillmere Press")
    page.get_by_role("button", name=setup_text.KEEP_SETTINGS).first.click()
    said(page, "Kept: Name of the shop: Quillmere Press.")
    expect(page.locator("#shop-name")).to_have_text("Quillmere Press")
    choose(box(page, "Temperatures in"), "°F")
    page.get_by_role("button", name=setup_text.KEEP_SETTINGS).nth(1).click()
    said(page, "Kept: Temperatures in °F.")
    before = page.inner_text("#as-of")
    box(page, "Time zone").click()
    page.keyboard.type("Tokyo")  # what stood there is typed over, not added to
    page.get_by_role("option", name="Asia/Tokyo", exact=True).click()
    page.get_by_role("button", name=setup_text.KEEP_SETTINGS).first.click()
    said(page, "Kept: Time zone: Asia/Tokyo.")
    expect(page.locator("#as-of")).not_to_have_text(before)  # nine hours on, without a reload
    expect(box(page, "Probe without a record")).to_have_value("6.84", timeout=WAIT_MS)
    page.goto(served.address + "/setup?part=recipes&item=tee%2Ffilm")
    expect(box(page, "Temperature")).to_have_value("302", timeout=WAIT_MS)
    assert reread(served.shop).settings["temperature_unit"] == "f"


def test_a_choice_of_budget_is_a_tap(served: Served, opened: Callable[..., Watched]) -> None:
    page = opened(served, "/setup?part=budget").page
    expect(page.locator("#setup-cost")).to_contain_text("one in 4 weeks", timeout=WAIT_MS)
    page.fill("#your-name", "Rui")
    box(page, "Alarm budget").fill("0")
    page.get_by_role("button", name=setup_text.KEEP_SETTINGS).click()
    said(page, setup_text.NOT_KEPT)
    expect(page.locator(".mantine-InputWrapper-error")).to_contain_text("allowed: 0.001 to 100")
    box(page, "Alarm budget").fill("0.5")
    page.get_by_role("button", name=setup_text.KEEP_SETTINGS).click()
    expect(page.locator("#setup-cost")).to_contain_text("one in 2 weeks", timeout=WAIT_MS)


def test_by_keyboard_alone(served: Served, opened: Callable[..., Watched]) -> None:
    page = opened(served, "/setup?part=transfers&do=add", width=1280).page
    page.focus("#your-name")
    for typed in ("Rui", "flock", "Flock, soft", "flock film"):
        page.keyboard.type(typed)
        page.keyboard.press("Tab")
    focused = page.evaluate("() => document.activeElement.textContent")
    assert focused == setup_text.KEEP_NEW.format(one="transfer")
    page.keyboard.press("Enter")
    said(page, "Transfer flock is kept.")
    expect(page.locator(".part-body h2").first).to_be_focused(timeout=WAIT_MS)
    page.locator(".part-link.here").press("Enter")
    expect(page.locator("tbody")).to_contain_text("Flock, soft", timeout=WAIT_MS)


def test_a_name_is_asked_once_on_a_device(served: Served, opened: Callable[..., Watched]) -> None:
    watched = opened(served, "/setup?part=fabrics&do=add")
    page = watched.page
    page.fill("#your-name", "Rui")
    page.locator("#your-name").blur()
    for path in ("/presses?press=P1", "/setup?part=settings"):
        watched.go(path)
        expect(page.locator("#your-name")).to_have_value("Rui", timeout=WAIT_MS)
    page.goto(f"{served.address}/bench")
    expect(page.get_by_role("button", name=f"{bench_text.INSPECTOR} Rui")).to_be_visible(
        timeout=WAIT_MS)


def test_what_is_drawn_anew_keeps_the_keyboard(served: Served, opened: Callable[..., Watched]
                                               ) -> None:
    page = opened(served, "/setup?part=transfers&item=film", width=1280).page
    page.fill("#your-name", "Rui")
    box(page, "Kind").fill("flock film")
    keep = page.get_by_role("button", name=setup_text.KEEP_CHANGE)
    keep.press("Enter")
    said(page, "is kept as version 2")
    expect(keep).to_be_focused(timeout=WAIT_MS)
    away = page.get_by_role("button", name=setup_text.RETIRE, exact=True)
    away.press("Enter")
    said(page, setup_text.NOW_RETIRED.format(what="Transfer film"))
    expect(page.locator("#setup-said")).to_be_focused(timeout=WAIT_MS)  # that button is gone


def test_the_job_sheet_opens_from_the_job(served: Served, opened: Callable[..., Watched]) -> None:
    page = opened(served, "/setup?part=jobs&item=J-118").page
    with page.context.expect_page() as paper:
        page.get_by_role("link", name=setup_text.SHEET_HTML).click()
    sheet = paper.value
    sheet.wait_for_load_state()
    assert "J-118" in sheet.inner_text("h1") and "Hot platen" in sheet.inner_text("body")
    assert sheet.locator("svg").count() == 1 and findings(sheet) == []
    assert page.request.get(f"{served.address}/jobs/J-118.pdf").body().startswith(b"%PDF")


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (820, "dark"), (1280, "light")])
def test_nothing_is_amiss_at_any_width(
    served: Served, opened: Callable[..., Watched], width: int, scheme: str
) -> None:
    watched = opened(served, width=width, scheme=scheme)
    for path in PATHS:
        page = watched.go(path)
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, f"{path} is {wide} px too wide"
        assert small(page) == [], path
        if width > 390:  # one width of each scheme: what is read out does not fold
            assert findings(page) == [], path
    assert watched.complaints == [] and watched.foreign == []


def small(page: Page) -> list[str]:
    """What a glove would miss."""
    found: list[str] = page.evaluate("""() => [...document.querySelectorAll(
        'main button:not(.mantine-CloseButton-root), main summary, main .mantine-Input-input,'
        + '.part-link, .part-card, .part-back, .guide .button')]
        .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44)
        .map(e => e.outerHTML.slice(0, 140))""")
    return found


def test_the_floor_shows_a_press_as_soon_as_the_first_run_has_kept_it(
    empty: Served, opened: Callable[..., Watched]
) -> None:
    """Beside 'One press: done' no 'No presses yet' stands for a minute."""
    page = opened(empty, "/").page
    go = page.get_by_role("button", name=setup_text.GUIDE_KEEP)
    expect(go).to_be_visible(timeout=WAIT_MS)
    expect(page.locator("#floor-cards")).to_contain_text(text.FLOOR_NONE_TITLE, timeout=WAIT_MS)
    page.fill("#your-name", "Ann")
    box(page, "Name of the shop").fill("Quillmere Press")
    go.click()
    expect(page.locator("#shop-name")).to_have_text("Quillmere Press", timeout=WAIT_MS)
    choose(box(page, "Press"), "P1")
    go.click()
    expect(page.locator(".guide-step.done")).to_have_count(2, timeout=WAIT_MS)
    expect(page.locator(".press-card")).to_contain_text("P1", timeout=10_000)


def test_the_first_run_on_an_empty_store(empty: Served, opened: Callable[..., Watched]) -> None:
    """From any page to the link to the Bench: a name, a shop, and taps."""
    watched = opened(empty, "/trends", width=390)
    page = watched.page
    expect(page.locator("#first-run")).to_contain_text("Step 1 of 4: the shop", timeout=WAIT_MS)
    page.get_by_role("link", name=setup_text.GUIDE_GO).click()
    expect(page.locator(".guide")).to_be_visible(timeout=WAIT_MS)
    begun = time.monotonic()
    assert findings(page) == [] and small(page) == []
    page.fill("#your-name", "Ann")
    expect(box(page, "Time zone")).to_have_value("Europe/Lisbon")  # where this device stands
    go = page.get_by_role("button", name=setup_text.GUIDE_KEEP)
    go.click()
    expect(page.locator(".guide .mantine-InputWrapper-error")).to_contain_text("needs a name")
    box(page, "Name of the shop").fill("Quillmere Press")
    go.click()
    expect(page.locator("#shop-name")).to_have_text("Quillmere Press", timeout=WAIT_MS)
    choose(box(page, "Press"), "P1")
    go.click()
    choose(box(page, "Fabric"), "cotton fleece")
    choose(box(page, "Transfer"), "foam film")
    page.locator(".guide summary").click()
    box(page, "Temperature").fill("155")
    choose(box(page, "Peel"), "warm")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert findings(page) == []
    go.click()
    bench = page.get_by_role("link", name=setup_text.GUIDE_BENCH)
    expect(bench).to_be_visible(timeout=WAIT_MS)
    assert time.monotonic() - begun < 120
    expect(page.locator(".guide-step.done")).to_have_count(3)
    expect(page.locator(".part-card", has_text="Presses")).to_contain_text("1 on the list")
    assert first_run(reread(empty.shop)).next_step == "record"
    assert findings(page) == [] and small(page) == []
    bench.click()
    page.wait_for_url("**/bench")
    expect(page.locator("body")).to_contain_text("P1", timeout=WAIT_MS)
    # the only press, fabric and transfer are on the bench already, and who works here: one tap
    page.click("#good")
    expect(page.locator("#last-said")).to_contain_text(bench_text.WORDS["one_saved"],
                                                       timeout=WAIT_MS)
    assert time.monotonic() - begun < 120
    page.goto(page.url.replace("/bench", "/"))
    expect(page.locator(".press-card")).to_contain_text("foam film on cotton fleece",
                                                        timeout=WAIT_MS)
    assert watched.complaints == [] and watched.foreign == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_floor_of_an_empty_shop_shows_the_way(
    empty: Served, opened: Callable[..., Watched], scheme: str
) -> None:
    for width in (390, 820, 1280):
        page = opened(empty, "/", width=width, scheme=scheme).page
        expect(page.locator(".guide h2")).to_have_text(setup_text.GUIDE_TITLE, timeout=WAIT_MS)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert findings(page) == []


def test_the_presses_of_an_empty_shop_have_no_way_to_parts_that_are_not_there(
    empty: Served, opened: Callable[..., Watched]
) -> None:
    page = opened(empty, "/presses").page
    expect(page.locator("#presses-board h3")).to_contain_text(
        text.NO_PLATENS_TITLE, timeout=WAIT_MS)
    expect(page.locator("#presses-settings")).to_be_empty(timeout=WAIT_MS)
    expect(page.locator(".jumps a:visible")).to_have_text([text.PRESSES_JUMPS["presses-board"]])
    way = page.get_by_role("link", name=text.BRING_IN).bounding_box()
    assert way is not None and way["width"] < 400  # as wide as its words, not as the page


def test_no_button_lies_across_the_seam_of_the_masthead(
    empty: Served, opened: Callable[..., Watched]
) -> None:
    for width in (390, 820, 1280):
        page = opened(empty, "/presses", width=width).page
        head = page.locator(".masthead").bounding_box()
        turn = page.locator(".turn").bounding_box()
        assert head is not None and turn is not None
        seam = head["y"] + head["height"] - 7  # its upper edge: 2 px, 5 px from the bottom
        assert turn["y"] + turn["height"] < seam - 2, width


def test_enter_keeps_the_form_and_the_keyboard_stays_in_the_part(
    served: Served, opened: Callable[..., Watched]
) -> None:
    page = opened(served, "/setup").page
    page.get_by_role("link", name="Fabrics").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#setup-body .part-body h2")).to_be_focused(timeout=WAIT_MS)
    page.get_by_role("link", name="Add a fabric").click()
    page.fill("#your-name", "Rui")
    box(page, "Fabric").fill("rib")
    box(page, "Fabric").press("Enter")
    said(page, "Fabric rib is kept.")


def test_a_long_list_that_says_nothing_is_searched_by_typing(
    served: Served, opened: Callable[..., Watched]
) -> None:
    page = opened(served, "/setup?part=instruments&do=add").page
    field = box(page, "Class of sensor")
    expect(field).to_have_value("", timeout=WAIT_MS)
    field.click()
    page.keyboard.type("pt100")
    options = page.get_by_role("option")
    assert {one.strip() for one in options.all_inner_texts()} == {
        "pt100 class a", "pt100 class b"}
    options.first.click()
    expect(field).to_have_value("pt100 class a")


def test_a_press_is_put_away_and_used_again(served: Served, opened: Callable[..., Watched]) -> None:
    page = opened(served, "/setup?part=presses&item=P1").page
    page.fill("#your-name", "Rui")
    page.get_by_role("button", name=setup_text.RETIRE).click()
    said(page, "Press P1 is no longer used.")
    expect(page.locator("#setup-body")).to_contain_text("Rui", timeout=WAIT_MS)
    page.goto(served.address + "/presses")
    expect(page.locator("#presses-board summary")).to_have_text("No longer used (1)",
                                                               timeout=WAIT_MS)
    page.goto(served.address + "/setup?part=presses&item=P1")
    page.get_by_role("button", name=setup_text.BRING_BACK).click()
    said(page, "Press P1 is used again.")


def test_a_code_too_long_for_a_label_is_refused(served: Served, opened: Callable[..., Watched]
                                               ) -> None:
    page = opened(served, "/setup?part=presses&do=add").page
    page.fill("#your-name", "Rui")
    box(page, "Press").fill("P" * 61)
    page.get_by_role("button", name="Keep this press").click()
    said(page, setup_text.NOT_KEPT)
    expect(page.locator("#setup-body")).to_contain_text("write 60 at most", timeout=WAIT_MS)
