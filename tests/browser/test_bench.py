"""The bench in a real browser: quick, undone, cut off and back, sent twice and kept once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from dashboard.text import bench as words
from qc.desk.correcting import WhichLook, correct
from qc.desk.shop import Shop, open_shop
from qc.domain.instants import HOUR_US
from qc.store.checking import check_store
from qc.store.corrections import looks_at
from qc.store.inspections import read_findings, read_looks
from qc.store.records import add_records
from tests.browser.live import Live
from tests.browser.test_dashboard import Watched, findings
from tests.dashboard.small_shop import END_US, build_shop

FAR_US = 10**17
WAIT_MS = 20_000
JOB = "J039A"  # of press Anvil on the shop's last day
SAVED = f"● {words.WORDS['saved']}"


class Bench:
    """The bench of a shop on one device."""

    def __init__(self, live: Live, shop: Shop, context: BrowserContext) -> None:
        self.live, self.shop, self.context = live, shop, context
        self.before = set(self.looks()["piece_id"])
        self.seen = Watched(context.new_page(), live.address)
        self.page = self.seen.page

    def open(self, query: str = f"?press=Anvil&job={JOB}", page: Page | None = None) -> Page:
        at = page or self.page
        at.goto(f"{self.live.address}/bench{query}")
        at.wait_for_selector(".fault", timeout=WAIT_MS)
        if not at.inner_text("#work-shown").count("Mia"):
            at.get_by_role("button", name=words.INSPECTOR).click()
            at.fill("#work-inspector", "Mia")
            at.get_by_role("button", name=words.DONE).click()
        return at

    def fault(self, zone: str | None, kind: str) -> None:
        if zone:
            self.page.click(f"[data-zone={zone}]")
        if not self.page.locator(f"[data-kind={kind}]").is_visible():
            self.page.click("#more-faults")
        self.page.click(f"[data-kind={kind}]")

    def saved(self) -> None:
        expect(self.page.locator("#sending")).to_have_text(SAVED, timeout=WAIT_MS)

    def looks(self) -> pd.DataFrame:
        return read_looks(self.shop.store, as_of_us=FAR_US)

    def new(self) -> pd.DataFrame:
        """What was recorded since this device was switched on."""
        looks = self.looks()
        return looks[~looks["piece_id"].isin(self.before).to_numpy()]


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Live, Shop]]:
    shop = build_shop(tmp_path_factory.mktemp("bench"))
    served = Live(shop.store.location, starts_us=END_US + HOUR_US)
    yield served, shop
    served.kill()
    assert check_store(shop.store) == []
    shop.store.close()


@pytest.fixture
def device(live: tuple[Live, Shop], browser: Browser) -> Iterator[Callable[..., Bench]]:
    made = []

    def switched_on(*, width: int = 1280, scheme: str = "light", **more: object) -> Bench:
        context = browser.new_context(viewport={"width": width, "height": 900},
                                      color_scheme=scheme, **more)  # type: ignore[arg-type]
        made.append(context)
        return Bench(*live, context)

    yield switched_on
    for context in made:
        context.close()


def test_an_inspector_records_thirty_pieces_with_four_faults_and_an_undo(device) -> None:
    bench = device()
    page = bench.open()
    for _ in range(16):
        page.click("#good")
    page.click("[data-stack='10']")
    bench.fault("top_left", "lifted_edge")
    bench.fault(None, "misplacement")  # has no place on the print: one tap
    bench.fault("centre", "scorch")
    bench.fault("bottom", "torn_transfer")  # among the others
    expect(page.locator("#undo")).to_have_text(words.UNDO)
    page.click("#undo")
    page.locator("#last-said .back").wait_for()
    # what stands beside it is taken back already: the next press takes another piece
    expect(page.locator("#undo")).to_have_text(str(words.WORDS["undo_before"]))
    bench.fault("bottom", "bubble")
    bench.saved()
    new = bench.new()
    assert new["pieces"].sum() == 30 and len(new) == 21
    found = read_findings(bench.shop.store, as_of_us=FAR_US)
    found = found[found["look"].isin(new.index)]
    zones = found["zone"].astype(object).where(found["zone"].notna(), None)
    assert dict(zip(found["kind"], zones, strict=True)) == {
        "bubble": "bottom", "lifted_edge": "top_left", "misplacement": None, "scorch": "centre"}
    assert set(new["job"]) == {JOB} and set(new["inspector"]) == {"Mia"}
    assert set(new["press"]) == {"Anvil"} and new["fabric"].nunique() == 1
    bad = new[new.index.isin(found["look"])]
    assert sorted(bad["disposition"]) == ["hold", "hold", "press_again", "scrap"]
    # the pieces were looked at by the server's clock, not the device's
    assert new["inspected_at"].between(END_US + HOUR_US, END_US + 2 * HOUR_US).all()
    job = bench.looks()
    n_job = job.loc[(job["job"] == JOB).to_numpy(dtype=bool, na_value=False), "pieces"].sum()
    expect(page.locator("#standing .big")).to_contain_text(f"{n_job} pieces", timeout=WAIT_MS)
    assert bench.seen.complaints == [] and bench.seen.foreign == []


def test_what_is_recorded_without_a_connection_waits_and_goes_through_once(device) -> None:
    bench = device()
    page = bench.open()
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.reload()
    page.wait_for_selector(".fault", timeout=WAIT_MS)
    bench.live.kill()
    try:
        page.click("#good")
        bench.fault("left", "lifted_edge")
        expect(page.locator("#sending")).to_contain_text("2 waiting on this device",
                                                         timeout=WAIT_MS)
        assert len(bench.new()) == 0
        page.reload()  # the page itself is kept on the device
        page.wait_for_selector(".fault", timeout=WAIT_MS)
        expect(page.locator("#sending")).to_contain_text("2 waiting on this device",
                                                         timeout=WAIT_MS)
        expect(page.locator("#last-said")).to_contain_text("Lifted edge")
        page.click("#good")
        page.click("#undo")  # never left the device: it is simply dropped
    finally:
        bench.live.start()
    bench.saved()
    new = bench.new()
    assert sorted(new["disposition"]) == ["pass", "press_again"] and len(new) == 2
    page.reload()
    bench.saved()
    assert len(bench.new()) == 2


def test_a_lost_reply_doubles_nothing(device) -> None:
    bench = device(service_workers="block")
    page = bench.open()
    lost = []

    def lose(route: Route) -> None:
        if len(lost) < 2:
            lost.append(route.fetch().status)  # it reached the server, the answer did not come back
            route.abort()
        else:
            route.continue_()

    page.route("**/bench/entries", lose)
    bench.fault("top", "lifted_edge")
    page.get_by_role("button", name=words.DISPOSITION_BUTTONS["scrap"], exact=True).click()
    page.click("#good")
    page.click("#undo")
    bench.saved()
    assert lost == [200, 200]
    (look,) = bench.new().to_dict("records")
    assert look["disposition"] == "scrap"


def test_everything_by_keyboard_and_single_keys_can_be_switched_off(device) -> None:
    bench = device()
    page = bench.open()
    page.wait_for_selector("#standing .big", timeout=WAIT_MS)  # the faults are in the job's order
    letter = page.locator("[data-kind=lifted_edge]").get_attribute("aria-keyshortcuts")
    page.keyboard.press("g")
    page.keyboard.press("7")
    expect(page.locator("[data-zone=top_left]")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Escape")
    page.keyboard.press("3")
    page.keyboard.press(letter)
    page.keyboard.press("g")
    page.keyboard.press("u")
    page.locator("#last-said .back").wait_for()
    bench.saved()
    assert sorted(bench.new()["disposition"]) == ["pass", "press_again"]
    page.uncheck("#keys")
    page.keyboard.press("g")
    page.focus("#good")
    page.keyboard.press("Enter")
    page.focus("[data-zone=centre]")
    page.keyboard.press("Space")
    page.focus("[data-kind=scorch]")
    page.keyboard.press("Enter")
    bench.saved()
    assert len(bench.new()) == 4


def test_a_scanner_types_the_job_and_a_new_one_asks_for_its_work(device) -> None:
    bench = device()
    page = bench.open("?press=Anvil")
    page.focus("#job")
    page.keyboard.type("J038B")
    page.keyboard.press("Enter")
    looks = bench.looks()
    fabric = looks[(looks["job"] == "J038B").to_numpy(dtype=bool, na_value=False)]["fabric"].iloc[0]
    expect(page.locator("#work-shown")).to_contain_text(str(fabric))
    page.fill("#job", "NEW-1")
    page.keyboard.press("Enter")
    page.select_option("#work-fabric", "rib-fine")
    page.select_option("#work-transfer", "film-matt")
    page.fill("#work-location", "sleeve")
    page.fill("#work-operator", "Bo")
    page.fill("#work-temperature_c", "150,5")
    page.get_by_role("button", name=words.DONE).click()
    page.click("#good")
    bench.saved()
    (look,) = bench.new().to_dict("records")
    assert (look["job"], look["fabric"], look["location"], look["operator"],
            look["temperature_c"]) == ("NEW-1", "rib-fine", "sleeve", "Bo", 150.5)
    page.reload()
    page.wait_for_selector(".fault", timeout=WAIT_MS)
    assert page.input_value("#job") == "NEW-1" and "Bo" in page.inner_text("#work-shown")


def test_what_is_scanned_is_a_job_wherever_the_focus_is(device) -> None:
    """A scanner types its code and Enter within a few milliseconds a key; the job's letters are
    those of faults and its digits those of places, and none of them may become a piece."""
    bench = device()
    page = bench.open()
    page.locator("#standing .big").wait_for(timeout=WAIT_MS)
    page.focus("#good")
    page.keyboard.type("J038B")
    page.keyboard.press("Enter")
    expect(page.locator("#job")).to_have_value("J038B")
    page.locator("#job").click()  # a job stands there: what is scanned takes its place
    page.keyboard.type(JOB)
    page.keyboard.press("Enter")
    expect(page.locator("#job")).to_have_value(JOB)
    page.uncheck("#keys")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.type("j038b")  # a scanner without an Enter behind its code
    expect(page.locator("#job")).to_have_value("J038B")
    page.focus("#good")
    page.keyboard.type("NEW-7")
    page.keyboard.press("Enter")
    page.locator("#work-panel[open]").wait_for()
    assert page.input_value("#job") == "NEW-7"
    bench.saved()
    assert bench.new().empty


def test_an_address_puts_its_press_and_job_on_the_bench_once(device) -> None:
    """A link or a reload must not undo what somebody chose since."""
    bench = device()
    page = bench.open(f"?press=Anvil&job={JOB}")
    expect(page.locator("#work-shown")).to_contain_text("Anvil")
    assert page.input_value("#job") == JOB and page.url.endswith("/bench")
    page.get_by_role("button", name=words.PRESS).first.click()
    page.select_option("#work-press", "Dune")
    page.get_by_role("button", name=words.DONE).click()
    page.reload()
    page.wait_for_selector(".fault", timeout=WAIT_MS)
    expect(page.locator("#work-shown")).to_contain_text("Dune")
    assert page.input_value("#job") == JOB


def test_a_piece_pressed_again_is_the_same_piece(device) -> None:
    bench = device()
    page = bench.open()
    bench.fault("right", "lifted_edge")
    bench.saved()
    (first,) = bench.new()["piece_id"]
    row = page.locator(".again-list li", has_text=first)
    row.get_by_role("button").click()
    expect(page.locator("#again-banner")).to_contain_text(first)
    bench.fault("right", "lifted_edge")  # it lifted again
    bench.saved()
    page.click("#undo")  # and again: it is still the same piece
    expect(row).to_have_count(1, timeout=WAIT_MS)
    row.get_by_role("button").click()
    bench.fault("right", "lifted_edge")
    bench.saved()
    looks = sorted(looks_at(bench.shop.store, first), key=lambda look: look["attempt"])
    assert [(look["attempt"], look["disposition"]) for look in looks] == [
        (1, "press_again"), (2, "scrap")]
    expect(row).to_have_count(0, timeout=WAIT_MS)


def test_more_can_be_said_of_what_was_just_recorded(device) -> None:
    bench = device()
    page = bench.open()
    bench.fault("top_right", "lifted_edge")
    bench.saved()
    page.get_by_role("button", name="5", exact=True).click()
    page.get_by_role("button", name=words.WORDS["add_fault"]).click()
    bench.fault("centre", "bubble")
    page.get_by_role("button", name=words.DISPOSITION_BUTTONS["concession"]).click()
    page.locator("summary", has_text=words.WORDS["measured"]).click()
    page.fill("#m-dx_mm", "-3,5")
    page.fill("#m-note", "<b>looks</b> fine")
    page.locator(".measures").get_by_role("button").click()
    bench.saved()
    (piece,) = bench.new()["piece_id"]
    (look,) = looks_at(bench.shop.store, piece)
    assert [(f["kind"], f["zone"], f["extent_mm"]) for f in look["findings"]] == [
        ("lifted_edge", "top_right", 5.0), ("bubble", "centre", None)]
    assert (look["disposition"], look["dx_mm"], look["note"]) == (
        "concession", -3.5, "<b>looks</b> fine")
    assert look["version"] == 5 and page.locator("#last-more b").count() == 0
    page.reload()  # what can be said of it is offered again, and what was said can be taken away
    page.wait_for_selector(".fault", timeout=WAIT_MS)
    expect(page.locator("#last-more .what").first).to_be_visible()
    page.locator("summary", has_text=words.WORDS["measured"]).click()
    page.fill("#m-note", "")
    page.fill("#m-dx_mm", "zwei")
    page.locator(".measures").get_by_role("button").click()
    assert page.evaluate("() => !document.querySelector('#m-dx_mm').checkValidity()")
    page.fill("#m-dx_mm", "")
    page.locator(".measures").get_by_role("button").click()
    bench.saved()
    (look,) = looks_at(bench.shop.store, piece)
    assert (look["dx_mm"], look["note"], look["version"]) == (None, None, 6)


def test_another_fault_leaves_what_was_decided(device) -> None:
    """Somebody put a scorched piece on hold: a lifted edge found next does not undo that."""
    bench = device()
    page = bench.open()
    bench.fault("top_right", "scorch")
    bench.saved()
    page.get_by_role("button", name=words.DISPOSITION_BUTTONS["hold"], exact=True).click()
    page.get_by_role("button", name=words.WORDS["add_fault"]).click()
    bench.fault("bottom_left", "lifted_edge")
    bench.saved()
    (look,) = bench.new().to_dict("records")
    assert look["disposition"] == "hold"
    page.get_by_role("button", name=words.WORDS["add_fault"]).click()
    bench.fault("centre", "torn_transfer")  # graver: scrap
    bench.saved()
    (look,) = bench.new().to_dict("records")
    assert look["disposition"] == "scrap"


def test_what_is_off_on_one_press_never_stands_for_another(device) -> None:
    bench = device()
    page = bench.page
    off = {"signs": [{"tone": "alarm", "words": "Off on Anvil", "href": "/cases"}]}

    def answer(route: Route) -> None:
        if "press=Anvil" in route.request.url:
            route.fulfill(json=off)
        # of any other press the answer is still being worked out

    page.route("**/bench/signs?*", answer)
    bench.open()
    expect(page.locator("#signs")).to_contain_text("Off on Anvil", timeout=WAIT_MS)
    page.get_by_role("button", name=words.PRESS).first.click()
    page.select_option("#work-press", "Dune")
    page.get_by_role("button", name=words.DONE).click()
    expect(page.locator("#signs")).to_have_text(words.SIGNS_WAIT)


def test_a_wrong_number_on_a_phone_is_seen_and_not_under_the_button(device) -> None:
    bench = device(width=390)
    page = bench.open()
    page.get_by_role("button", name=words.PRESS).first.click()
    page.fill("#work-temperature_c", "999")
    page.evaluate("document.querySelector('#work-panel').scrollTo(0, 0)")
    page.get_by_role("button", name=words.DONE).click()
    expect(page.locator("#work-temperature_c")).to_be_focused()
    assert page.evaluate("""() => {
        const box = document.activeElement.getBoundingClientRect();
        return document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2)
            === document.activeElement;
    }""")


def test_a_setting_that_cannot_be_right_never_goes_with_a_piece(device) -> None:
    bench = device()
    page = bench.open()
    page.click("#work-open")
    page.fill("#work-temperature_c", "1500")
    page.get_by_role("button", name=words.DONE).click()
    expect(page.locator("#work-panel")).to_be_visible()  # it does not close over it
    assert page.evaluate("() => !document.querySelector('#work-temperature_c').checkValidity()")
    page.fill("#work-temperature_c", "150,5")
    page.get_by_role("button", name=words.DONE).click()
    expect(page.locator("#work-panel")).to_be_hidden()
    page.click("#good")
    bench.saved()
    assert bench.new()["temperature_c"].tolist() == [150.5]


def test_the_recipe_in_the_panel_is_that_of_the_work_chosen_there(device) -> None:
    bench = device()
    add_records(bench.shop.store, "recipes", pd.DataFrame({
        "fabric": ["rib-fine", "jersey-soft"], "transfer": "film-matt", "version": "1",
        "temperature_c": [140.0, 160.0]}), by="test", at_us=END_US, source=None)
    page = bench.open("?press=Anvil")
    page.click("#work-open")
    for fabric, told in (("rib-fine", "140"), ("jersey-soft", "160")):
        page.select_option("#work-fabric", fabric)
        page.select_option("#work-transfer", "film-matt")
        expect(page.locator("#work-recipe")).to_contain_text(told, timeout=WAIT_MS)
    page.locator("#work-recipe").get_by_role("button").click()
    assert page.input_value("#work-temperature_c") == "160"
    page.select_option("#work-fabric", "rib-fine")  # what was set for other work is not kept
    assert page.input_value("#work-temperature_c") == ""


def test_two_tabs_of_one_device_lose_nothing_of_each_other(device) -> None:
    bench = device()
    one, other = bench.open(), bench.open(page=bench.context.new_page())
    for _ in range(4):
        one.click("#good")
        other.click("#good")
    bench.saved()
    expect(other.locator("#sending")).to_have_text(SAVED, timeout=WAIT_MS)
    new = bench.new()
    assert len(new) == 8 and new["piece_id"].nunique() == 8


def test_a_change_does_not_overwrite_what_the_lead_corrected(device) -> None:
    bench = device()
    page = bench.open()
    bench.fault("top", "scorch")
    bench.saved()
    (piece,) = bench.new()["piece_id"]
    correct(bench.shop, WhichLook(piece_id=piece), ["disposition=concession"], why="agreed",
            by="Ana", at_us=FAR_US)
    page.get_by_role("button", name=words.DISPOSITION_BUTTONS["hold"], exact=True).click()
    refused = page.locator("#refused li")
    expect(refused).to_contain_text("was changed by Ana in between", timeout=WAIT_MS)
    assert looks_at(bench.shop.store, piece)[0]["disposition"] == "concession"
    refused.get_by_role("button", name=words.WORDS["discard"]).click()
    expect(refused).to_have_count(0)
    bench.saved()


def test_what_the_shop_does_not_know_is_refused_in_words_and_kept_on_the_device(device) -> None:
    bench = device()
    page = bench.open()
    page.evaluate("""() => localStorage.setItem('peelcheck.bench.work', JSON.stringify({
        ...JSON.parse(localStorage.getItem('peelcheck.bench.work')), press: 'Elm'}))""")
    bench.open("")
    page.click("#good")
    expect(page.locator("#refused li")).to_contain_text("'Elm' is not on the list of presses",
                                                        timeout=WAIT_MS)
    assert len(bench.new()) == 0
    page.reload()
    expect(page.locator("#refused li")).to_have_count(1, timeout=WAIT_MS)
    expect(page.locator("#last-said small")).to_contain_text("not taken", timeout=WAIT_MS)
    expect(page.locator("#sending")).not_to_contain_text(words.WORDS["saved"])
    page.locator("#refused").get_by_role("button", name=words.WORDS["discard"]).click()
    expect(page.locator("#last-said")).to_have_text(words.WORDS["nothing"])  # not "saved"
    assert len(bench.new()) == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_stands_in_the_way_of_anybody(device, scheme: str) -> None:
    bench = device(scheme=scheme)
    page = bench.open()
    bench.fault("top", "lifted_edge")
    bench.saved()
    page.click("#limits summary")
    page.click("#more-faults")
    assert findings(page) == []
    page.click("#work-open")
    assert findings(page) == []


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_it_fits_and_a_glove_hits_it(device, width: int) -> None:
    bench = device(width=width)
    page = bench.open()
    bench.fault("top", "lifted_edge")
    bench.saved()
    page.click("#limits summary")
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    small = page.evaluate("""() => [...document.querySelectorAll(
        'button, summary, .work input, .tab, select')].filter(e => e.offsetParent !== null)
        .map(e => [e.id || e.className, e.getBoundingClientRect()])
        .filter(([_, box]) => box.height > 0 && (box.height < 47.5 || box.width < 43))
        .map(([name]) => name)""")
    assert small == []


def test_the_page_is_light_and_asks_no_other_host(device) -> None:
    bench = device(service_workers="block")
    sizes: list[int] = []
    bench.page.on("requestfinished", lambda request: sizes.append(
        sum(request.sizes()[part] for part in ("responseBodySize", "responseHeadersSize"))))
    bench.open()
    bench.page.wait_for_timeout(500)
    assert 50_000 < sum(sizes) < 700_000
    assert bench.seen.foreign == []


def test_a_page_that_looks_back_records_nothing(live, browser: Browser, tmp_path: Path) -> None:
    from tests.browser.serving import served

    _, shop = live
    with served(shop.store.location, as_of_us=END_US, zone=shop.zone) as address:
        page = browser.new_page()
        page.goto(f"{address}/bench?press=Anvil&job={JOB}")
        page.wait_for_selector(".fault", timeout=WAIT_MS)
        expect(page.locator("#work-needs")).to_have_text(str(words.WORDS["looks_back"]))
        n = len(read_looks(shop.store, as_of_us=FAR_US))
        page.click("#good")
        page.wait_for_timeout(500)
        assert len(read_looks(shop.store, as_of_us=FAR_US)) == n
        page.close()


def test_an_empty_shop_says_what_to_set_up_first(browser: Browser, tmp_path: Path) -> None:
    place = str(tmp_path / "empty.db")
    open_shop(place, create=True).store.close()
    served = Live(place, starts_us=END_US)
    page = browser.new_page()
    page.goto(f"{served.address}/bench")
    expect(page.locator("#work-needs")).to_contain_text("no press yet", timeout=WAIT_MS)
    expect(page.locator("#standing")).to_have_text(str(words.WORDS["job_unsaid"]))
    assert page.get_by_role("link", name=str(words.WORDS["to_setup"])).get_attribute("href") == (
        "/setup")
    page.click("#good")  # there is no press to choose: the way to one stays
    expect(page.get_by_role("link", name=str(words.WORDS["to_setup"]))).to_be_focused()
    assert page.locator("dialog[open]").count() == 0
    page.close()
    served.kill()
