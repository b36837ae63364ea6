"""The Trends page through the real app: the first look, what moved, cost, before and after."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from dataclasses import replace
from urllib.parse import parse_qs, urlsplit
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from dash import Dash

from dashboard import create_app, formats, text
from dashboard.formats import Clock
from dashboard.pages.trends.compared import chosen_us, shown_day
from dashboard.pages.trends.ranking import ranking_panel
from dashboard.text import trends as said_as
from dashboard.view import RecordsView, TrendsView, address, read_view
from qc.desk.before_after import Narrowed, around, before_after
from qc.desk.moved import largest_changes
from qc.desk.shares import whole_share
from qc.desk.shop import Shop
from qc.desk.trends import rate_over_time
from qc.domain.instants import DAY_US
from qc.domain.ranking import Pareto, ParetoRow
from qc.stats.comparing.comparisons import Contrast
from qc.store.inspections import add_inspections, read_looks
from qc.store.settings import change_setting
from tests.dashboard.asking import callback, links, plain, props_of, table_rows, words
from tests.dashboard.few_pieces import build_few
from tests.dashboard.small_shop import BAD_FROM_DAY, END_US, START_US, build_shop

TURN_US = START_US + BAD_FROM_DAY * DAY_US
A_WEEK_IN_US = TURN_US + 7 * DAY_US


def part(app: Dash, name: str, search: str = "") -> object:
    """A part of the page as the browser gets it, once the page and its scheme are there."""
    given = {
        "trends-glance": {"address__search": search},
        "trends-ranking": {"address__search": search},
        "trends-moved": {"trends-soon__n_intervals": 1},
    }.get(name, {"address__search": search, "scheme__data": "light", "trends-soon__n_intervals": 1})
    if name in ("trends-yield", "trends-rate"):
        given = {"address__search": search, "scheme__data": "light"}
    return callback(app, f"{name}.children", **given)[name]["children"]


@pytest.fixture(scope="module")
def priced(tmp_path_factory: pytest.TempPathFactory) -> Dash:
    """The small shop a week after its change, where a piece with a defect costs 4.20."""
    shop = build_shop(tmp_path_factory.mktemp("priced"))
    for name, value in (("defect_cost", "4.2"), ("currency", "EUR")):
        change_setting(shop.store, name=name, value=value, by="test", at_us=START_US)
    shop.store.close()
    return create_app(shop.store.location, as_of_us=A_WEEK_IN_US)


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Dash]:
    yield create_app(build_few(tmp_path_factory.mktemp("few")), as_of_us=END_US)


def records_view(link: str) -> RecordsView:
    assert link.startswith("/records?"), link
    return read_view(RecordsView, urlsplit(link).query)


def test_the_first_look_answers_four_questions(app: Dash, shop: Shop) -> None:
    head = part(app, "trends-glance")
    said = words(head)
    trend = rate_over_time(shop, as_of_us=END_US, since_us=END_US - 30 * DAY_US)
    for asked in (said_as.YIELD_ASKED, said_as.MOVING_ASKED, said_as.COST_ASKED,
                  said_as.MOST_ASKED):
        assert asked in said
    assert re.search(r"\d\d\.\d\u202f% of 2 \d\d\d pieces|\d\d\.\d", said) and trend.overall
    assert "as many with any defect as in the 30 days before" in said
    assert said_as.COST_NOT_SAID in said and "/setup?part=settings" in links(head)
    to_records = [records_view(link) for link in links(head) if link.startswith("/records")]
    assert [view.defect for view in to_records] == ["any", "lifted_edge"]
    assert all(view.since.isdigit() for view in to_records)


def test_the_first_look_says_what_moved_and_leads_to_the_comparison(priced: Dash) -> None:
    head = part(priced, "trends-glance", "?period=7&kind=lifted_edge")
    said = words(head)
    assert "▲" in said and "as many with lifted edge" in said and "Cedar" in said
    link = next(link for link in links(head) if link.startswith("/trends"))
    view = read_view(TrendsView, urlsplit(link).query)
    assert view.span == "7" and view.at.isdigit() and link.endswith("#before-after")


def test_what_moved_is_a_sentence_each_and_opens_its_records(priced: Dash) -> None:
    panel = part(priced, "trends-moved")
    said = words(panel)
    assert re.search(r"▲ Press Cedar: \d+ defects in 7 days where its own weeks before would give"
                     r" [\d.]+, [\d.]+× as many \([\d.]+× to [\d.]+×\)\.", said)
    assert said_as.MOVED_ONE_CAUSE in said and "Benjamini" in said
    views = [records_view(link) for link in links(panel)]
    assert any(view.press == "Cedar" and view.defect == "any" for view in views)
    assert any(view.defect == "lifted_edge" for view in views)


def test_nothing_moved_is_a_state_of_its_own_with_its_numbers(app: Dash, shop: Shop) -> None:
    found = largest_changes(shop, as_of_us=END_US)
    assert found.moved == () and found.rows
    said = words(part(app, "trends-moved"))
    assert said_as.MOVED_NONE_TITLE in said and f"{len(found.rows)} levels of" in said
    assert said.count(text.OPEN_RECORDS) == len(found.rows)


def test_without_a_price_one_line_says_where_to_set_it(app: Dash) -> None:
    panel = part(app, "trends-cost")
    assert words(panel).startswith(said_as.COST_NO_PRICE)
    assert links(panel) == ["/setup?part=settings"]


def test_cost_is_the_count_times_the_price(priced: Dash) -> None:
    said = words(part(priced, "trends-cost", "?by=press&period=all"))
    total = re.search(r"EUR\u202f([\d\u202f]+) in all records", said).group(1)
    trend = callback(priced, "trends-rate.children", address__search="?period=all",
                     scheme__data="light")["trends-rate"]["children"]
    bad = sum(int(row[2]) for row in table_rows(trend))
    assert int(total.replace("\u202f", "")) == round(4.2 * bad)
    assert "defect_cost" in said and said_as.COST_RANKED in said
    assert "▲ EUR" in words(part(priced, "trends-cost", "?by=press&period=7&kind=lifted_edge"))


def test_by_week_the_head_still_tells_the_period_and_weeks_say_since_when(
    priced: Dash,
) -> None:
    """Whole weeks reach back before the last 7 days: what is said to be of 7 days is of 7 days."""
    daily = part(priced, "trends-glance", "?period=7")
    assert words(part(priced, "trends-glance", "?period=7&step=week")) == words(daily)
    weekly = part(priced, "trends-rate", "?period=7&step=week")
    since = table_rows(weekly)[-1][0]
    assert f"pieces {said_as.whole_weeks(since)}, usual" in words(weekly)
    cost = words(part(priced, "trends-cost", "?period=7&step=week"))
    assert said_as.whole_weeks(since) in cost and "in 7 days" not in cost


@pytest.fixture(scope="module")
def washed(tmp_path_factory: pytest.TempPathFactory) -> Dash:
    """The small shop, where 30 of its newest good pieces were washed and two of them cracked; and
    one more edge was found after a day."""
    shop = build_shop(tmp_path_factory.mktemp("washed"))
    looks = read_looks(shop.store, as_of_us=END_US)
    good = looks[looks["disposition"] == "pass"].nlargest(31, "pressed_at")
    later = good[["piece_id", "location", "press", "fabric", "transfer", "job", "transfer_lot",
                  "garment_lot", "operator", "pressed_at", "pieces", "disposition"]].astype(
        {"pressed_at": "int64"}).assign(
        attempt=1, stage=["after_24h", *["wash"] * 30], inspected_at=END_US - 1).reset_index(
        drop=True)
    found = pd.DataFrame({"row": [0, 1, 2], "kind": ["lifted_edge", "wash_crack", "wash_crack"],
                          "zone": None, "extent_mm": None, "n": 1})
    add_inspections(shop.store, later, found, by="test", at_us=END_US, source="later")
    shop.store.close()
    return create_app(shop.store.location, as_of_us=END_US)


def test_what_shows_only_later_is_never_called_free_of_it(washed: Dash) -> None:
    said = words(part(washed, "trends-glance", "?kind=wash_crack"))
    assert said_as.ONLY_LATER in said and "on 2 only after 24 h or a wash" in said
    assert "100.0" not in said.split(said_as.MOVING_ASKED)[0]
    edges = words(part(washed, "trends-glance", "?kind=lifted_edge"))
    assert said_as.LATER_TOO.format(n="1") in edges and said_as.ONLY_LATER not in edges
    assert text.KIND_COUNTED in words(part(washed, "trends-rate", "?kind=lifted_edge"))
    every = words(part(washed, "trends-glance"))
    assert "only later" not in every and text.KIND_COUNTED not in words(part(washed, "trends-rate"))


def test_before_and_after_says_what_can_and_cannot_be_said(app: Dash, shop: Shop) -> None:
    search = address(TrendsView(at=str(TURN_US), span="14", kind="lifted_edge", of="press:Cedar"))
    panel = part(app, "trends-compared", search)
    said = words(panel)
    found = before_after(shop, *around(TURN_US, 14, as_of_us=END_US), as_of_us=END_US,
                         of=Narrowed(kind="lifted_edge", factor="press", level="Cedar"))
    assert said_as.BA_MOVED["rose"] in said and said_as.BA_NOT_WHY in said
    assert formats.times(found.comparison.ratio.value) in said and "press Cedar" in said
    assert "Mantel" in said and text.NUMBERS in said
    views = [records_view(link) for link in links(panel)]
    assert {(view.press, view.defect) for view in views} == {("Cedar", "lifted_edge")}
    assert int(views[0].until) == TURN_US == int(views[1].since)
    quiet = words(part(app, "trends-compared", search.replace("Cedar", "Anvil")))
    assert said_as.BA_MOVED["luck"].lower() in quiet.lower()
    assert re.search(r"It may have fallen by up to \d+\s%, stayed as it was, or risen", quiet)


def test_a_harder_mix_is_said_first(shop: Shop) -> None:
    """8.1 % after against 7.0 % before, and yet 0.90 times as many: the work got harder."""
    real = before_after(shop, *around(TURN_US, 14, as_of_us=END_US), as_of_us=END_US,
                        of=Narrowed())

    def said(ratio: float) -> str:
        sides = [replace(side, n_pieces=1000, n_defective=bad, share=bad / 1000)
                 for side, bad in ((real.before, 70), (real.after, 81))]
        compared = replace(
            real.comparison, n_inspected=1000, n_defective=81,
            ratio=Contrast(value=ratio, low=0.75, high=1.09))
        return said_as.before_after_words(replace(
            real, before=sides[0], after=sides[1], comparison=compared, verdict="luck"))

    assert said(0.9).startswith("The work got harder:") and formats.share(0.09) in said(0.9)
    assert ("fallen by up to 25\u202f%, stayed as it was, or risen by up to 9\u202f%"
            in said(0.9))
    assert said(81 / 70).startswith(said_as.BA_MOVED["luck"])


def test_one_rule_decides_whether_a_share_is_told_from_usual(app: Dash, shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US)
    alone, wide = whole_share(replace(trend, spread=1.0)), whole_share(replace(trend, spread=2.0))
    assert wide.share - wide.low == pytest.approx(2 * (alone.share - alone.low))
    assert wide.high - wide.share == pytest.approx(2 * (alone.high - alone.share))
    share, usual = whole_share(trend), trend.overall_usual
    inside = share.low <= usual <= share.high
    said = words(part(app, "trends-glance", "?period=all"))
    assert (said_as.NOT_APART if inside else said_as.APART) in said


def test_numbers_of_the_yield_count_what_is_right(app: Dash) -> None:
    rows, bad = (table_rows(part(app, name, "?period=all")) for name in
                 ("trends-yield", "trends-rate"))
    for right, wrong in zip(rows, bad, strict=True):
        assert int(right[2]) + int(wrong[2]) == int(right[1])
        share = float(right[3].rstrip("\u202f%"))
        assert share == pytest.approx(100 * int(right[2]) / int(right[1]), abs=0.06)
        low, high = (float(end) for end in right[4].rstrip("\u202f%").split(" to "))
        assert low <= share <= high


def test_where_nothing_was_pressed_before_nothing_is_said(app: Dash) -> None:
    said = words(part(app, "trends-compared", f"?at={START_US}"))
    assert said_as.BA_EMPTY_TITLE in said and said_as.BA_NO_PIECES["before"] in said


def test_the_day_box_and_the_address_follow_each_other(app: Dash) -> None:
    clock = Clock(ZoneInfo("Europe/Lisbon"))
    noon = TURN_US + DAY_US // 2
    assert callback(app, "trends-at.value", address__search=f"?at={noon}")[
        "trends-at"]["value"] == shown_day(noon, clock) == "2026-03-28"
    assert chosen_us("2026-03-28", noon, clock) == noon  # the day already shown moves nothing
    assert shown_day(chosen_us("2026-04-01", noon, clock), clock) == "2026-04-01"
    answer = callback(app, "address.search", **{"trends-at__value": "2026-04-01",
                                                "address__search": f"?at={noon}&by=press"})
    asked = parse_qs(next(iter(answer.values()))["search"].lstrip("?"))
    assert asked["by"] == ["press"] and asked["at"] == [str(chosen_us("2026-04-01", 0, clock))]


def test_a_comparison_can_be_narrowed_to_what_the_shop_has(app: Dash) -> None:
    data = callback(app, "trends-of.data", **{"trends-of__id": "trends-of"})["trends-of"]["data"]
    assert data[0] == {"value": "all", "label": "All work"}
    assert {"value": "press:Cedar", "label": "Press Cedar"} in data
    allowed = callback(app, "trends-choices.data", **{"trends-kind__id": "trends-kind"})
    assert "fabric:rib-fine" in allowed["trends-choices"]["data"]["of"]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_ranking_is_taken_out(app: Dash, form: str) -> None:
    data = callback(app, "trends-file.data", address__search="?by=press&then=defect",
                    **{f"trends-take-{form}__n_clicks": 1})["trends-file"]["data"]
    assert data["filename"] == f"ranking-press-defect.{form}"
    if form == "csv":
        head, first, *_ = data["content"].splitlines()
        assert head.lstrip("\ufeff").startswith("press,defect,n_defects")
        assert first.startswith("Cedar,lifted_edge") and first.endswith("more")
    else:
        assert base64.b64decode(data["content"]).startswith(b"PK")


def test_the_drawer_leads_to_all_of_them(app: Dash) -> None:
    panel = callback(app, "trends-records.children",
                     address__search="?by=press&open=level&level=Cedar&kind=scorch")[
        "trends-records"]["children"]
    view = records_view(next(link for link in links(panel) if link.startswith("/records")))
    assert (view.press, view.defect) == ("Cedar", "scorch") and view.since.isdigit()


@pytest.mark.parametrize("name", ["trends-yield", "trends-rate", "trends-ranking",
                                  "trends-compared", "trends-cost"])
def test_every_chart_says_its_source_shows_its_numbers_and_can_be_saved(
    priced: Dash, name: str
) -> None:
    given = {"address__search": "?period=all"}
    if name != "trends-ranking":
        given["scheme__data"] = "dark"
    if name in ("trends-compared", "trends-cost"):
        given["trends-soon__n_intervals"] = 1
    panel = callback(priced, f"{name}.children", **given)[name]["children"]
    forms = [props["data-save"] for props in props_of(panel) if "data-save" in props]
    assert forms == list(text.SAVE_FORMS)
    classes = [props.get("className") for props in props_of(panel)]
    assert "source" in classes and "numbers" in classes and "drawing" in classes


def test_five_pieces_are_not_shown_as_a_rate(few: Dash) -> None:
    head = words(part(few, "trends-glance"))
    assert said_as.TOO_FEW in head and "1 of 5 pieces" in head
    assert not re.search(r"80(\.0)?\u202f%", head)
    charts = words(part(few, "trends-yield"))
    assert said_as.TOO_FEW_TITLE in charts and "anything from 37.6 to 96.4" in charts
    assert part(few, "trends-rate") is None
    assert said_as.MOVED_TOO_LITTLE_TITLE in words(part(few, "trends-moved"))
    floor = words(callback(few, "floor-cards.children", address__search="")[
        "floor-cards"]["children"])
    assert "1 of 3" in floor and text.FLOOR_TOO_FEW in floor and "33" not in floor


def test_an_empty_shop_is_shown_the_way_to_begin(empty_app: Dash) -> None:
    assert part(empty_app, "trends-glance") is None
    for panel in (part(empty_app, "trends-yield"),
                  callback(empty_app, "floor-cards.children", address__search="")[
                      "floor-cards"]["children"],
                  callback(empty_app, "cases-body.children", address__search="")[
                      "cases-body"]["children"]):
        assert {"/bench", text.FILES_AT} <= set(links(panel))
    assert said_as.MOVED_TOO_LITTLE_TITLE in words(part(empty_app, "trends-moved"))
    assert said_as.BA_EMPTY_TITLE in words(part(empty_app, "trends-compared"))


def test_formats_of_differences_and_money() -> None:
    assert formats.points(0.0213) == "+2.1\u202fpoints"
    assert formats.points(-0.0021) == "\u22120.21\u202fpoints"
    assert formats.points_range(-0.0059, 0.0126) == "\u22120.6 to +1.3"
    assert formats.money(1234.4, "EUR") == "EUR\u202f1\u202f234"
    assert formats.money(3.456) == "3.46" and formats.money(None) == formats.NOT_KNOWN
    assert formats.times(float("inf")) == "any number of times"
    assert formats.times_range(1.4, float("inf")) == "1.40× or more"


def test_the_section_is_there_before_its_content() -> None:
    from dashboard.pages.trends.layout import layout

    page = plain(layout("?span=28"))
    said = words(page)
    for heading in (said_as.MOVED_HEADING, said_as.COST_HEADING, said_as.BEFORE_AFTER_HEADING):
        assert heading in said


def test_numbers_of_the_other_pages_open_their_records_too(app: Dash, shop: Shop) -> None:
    callback(app, "floor-flags-ready.data", **{"floor-soon__n_intervals": 1})
    floor = callback(app, "floor-cards.children", address__search="")["floor-cards"]["children"]
    on_floor = [records_view(link) for link in links(floor) if link.startswith("/records")]
    assert {"Anvil", "Cedar"} <= {view.press for view in on_floor}
    assert all(view.since.isdigit() for view in on_floor)
    callback(app, "cases-body.children", address__search="")
    detail = callback(app, "case-detail.children", **{
        "case-detail__id": "case-detail", "scheme__data": "light", "address__search": ""})[
        "case-detail"]["children"]
    on_case = [records_view(link) for link in links(detail) if link.startswith("/records")]
    days = [view for view in on_case if view.until]
    assert len(days) > 20 and {int(v.until) - int(v.since) for v in days} == {DAY_US}
    drawn = next(p for p in props_of(detail) if p.get("id", {}) and "figure" in p
                 and p["id"]["name"] == "evidence")["figure"]["data"]
    assert sum(len(trace.get("customdata") or ()) for trace in drawn) == len(days)


def many_rows(n: int, *, out: int) -> Pareto:
    """A ranking in which one row far down stands out."""
    rows = tuple(ParetoRow(
        level=(f"F{i:02d}", "foam"), n_defects=60 - i, n_pieces=100, rate=0.1, share=0.02,
        cumulative=0.5, expected=(60 - i) / (2.37 if i == out else 1.1),
        ratio=2.37 if i == out else 1.1, ratio_low=0.9, ratio_high=3.0, p_value=0.5,
        stands_out=i == out) for i in range(n))
    return Pareto(by=("fabric", "transfer"), kinds=(), since_us=None, until_us=None,
                  as_of_us=END_US, n_pieces=4000, n_defects=sum(row.n_defects for row in rows),
                  rows=rows)


def test_every_row_that_stands_out_is_drawn_and_named_however_few_its_defects() -> None:
    panel = plain(ranking_panel(many_rows(40, out=33), TrendsView(by="fabric", then="transfer")))
    drawn = [words(p["children"]) for p in props_of(panel)
             if (p.get("className") or "").startswith("ratio-row")]
    assert len(drawn) == 1 + 15 + 1 and drawn[-1].startswith("F33 · foam")
    said = words(panel)
    assert "More than its places explain: F33 · foam (2.37×)." in said
    assert "▲ more than its places explain" in drawn[-1]
    assert "the mix of places would give" in said and "whatever its fabric and transfer" in said
    assert "the mix of fabric, transfer and place" not in said


def test_the_order_of_the_ranking_is_kept_in_the_address(app: Dash) -> None:
    by_ratio = part(app, "trends-ranking", "?by=press&then=defect&order=ratio&period=30")
    ratios = [row[7] for row in table_rows(by_ratio)]
    assert ratios != sorted(ratios) and table_rows(by_ratio)[0][0].startswith("Cedar")
    links_of = [link for link in links(by_ratio) if "open=level" in link]
    assert links_of and all("order=ratio" in link for link in links_of)


def test_few_pieces_are_counted_but_not_compared() -> None:
    few = replace(many_rows(3, out=0), n_pieces=15)
    said = words(plain(ranking_panel(few, TrendsView(by="fabric", then="transfer"))))
    assert "Not enough data" in said and "15 pieces" in said
    assert "2.37" not in said and "1.1" not in said
    assert said.count(text.RATIO_NOT_KNOWN) == 3


def test_months_are_offered_each_at_its_own_address(app: Dash) -> None:
    client = app.server.test_client()
    line = callback(app, "trends-months.children", address__search="")["trends-months"]["children"]
    assert links(line) == [
        f"/months/{month}.{form}" for month in ("2026-04", "2026-03", "2026-02")
        for form in ("pdf", "xlsx")]
    paper, sheet = (client.get(f"/months/2026-03.{form}") for form in ("pdf", "xlsx"))
    assert paper.get_data().startswith(b"%PDF") and sheet.get_data().startswith(b"PK")
    for path in ("/months/2027-03.pdf", "/months/2026-13.pdf", "/months/2026-03.html"):
        assert client.get(path).status_code == 404
