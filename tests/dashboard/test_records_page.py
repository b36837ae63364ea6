"""The records without a browser: what is asked, who may send files, what an address opens."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from dash import Dash
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.test import TestResponse

import dashboard.receiving as receiving
from dashboard import create_app
from dashboard.formats import Clock
from dashboard.pages.records.asking import asked_of, chips_of, day_of, midnight
from dashboard.pages.records.finding import count_words
from dashboard.pages.records.grid import Recent, grid_row, sort_asked
from dashboard.pages.records.look_callbacks import usually_done
from dashboard.receiving import Received, safe_name
from dashboard.same_origin import HEADER
from dashboard.text import records as words
from dashboard.view import NOT_SAID, RecordsView, address, look_key, look_of, read_view
from qc.desk.correcting import WhichLook, take_back
from qc.desk.looks import LookCount, LooksAsked, look_page
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US
from qc.domain.kinds import plain_name
from qc.store.inspections import add_inspections
from tests.dashboard.asking import callback, plain
from tests.dashboard.asking import words as all_words
from tests.dashboard.small_shop import END_US, START_US, build_shop
from tests.qc.store.made import findings_of

RUN = "0123456789abcdef" * 2
OWN = {HEADER: RUN}


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Dash]:
    """The app as it is today, on a shop of its own."""
    shop = build_shop(tmp_path_factory.mktemp("live"))
    shop.store.close()
    yield create_app(shop.store.location, clock_us=lambda: END_US)


def send(app: Dash, name: str = "a.csv", data: bytes = b"press\nP1\n",
         **headers: str) -> TestResponse:
    return app.server.test_client().post(
        "/records/files", query_string={"name": name}, data=data,
        headers=OWN | {name.replace("_", "-"): value for name, value in headers.items()})


# what is asked -----------------------------------------------------------------------------


def test_an_address_asks_for_looks() -> None:
    view = read_view(RecordsView, "?since=5&until=x&press=P1&operator=~&defect=any&sort=-press")
    assert asked_of(view) == LooksAsked(
        since_us=5, until_us=None, sort="press", newest_first=True,
        levels=(("defect", "any"), ("press", "P1"), ("operator", None)))
    assert asked_of(RecordsView(sort="; drop table")).sort == "pressed_at"
    assert asked_of(RecordsView(job="a\0b")).levels == (("job", "ab"),)


said = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=20)
looks = st.fixed_dictionaries({
    "piece_id": said, "attempt": st.integers(1, 99),
    "location": st.none() | said | st.just(NOT_SAID),
    "stage": st.sampled_from(["final", "wash"])})


@given(looks)
def test_a_look_comes_back_from_its_address(look: dict[str, Any]) -> None:
    there = address(RecordsView(look=look_key(look)))
    assert look_of(read_view(RecordsView, there).look) == look


@given(st.text(max_size=60))
def test_any_key_is_a_look_or_none(key: str) -> None:
    found = look_of(key)
    assert look_of("a%00/1/b/final") is None
    assert found is None or set(found) == {"piece_id", "attempt", "location", "stage"}


def test_days_are_the_shop_s_days(shop: Shop) -> None:
    since = midnight("2026-03-29", shop)  # Lisbon's clocks go forward that day
    until = midnight("2026-03-29", shop, days=1)
    assert int(until) - int(since) == 23 * DAY_US // 24
    assert day_of(since, shop) == "2026-03-29" == day_of(until, shop, last=True)
    assert midnight("soon", shop) == midnight("", shop) == midnight(None, shop) == ""
    assert midnight("9999-12-31", shop, days=1) == ""


def test_each_thing_asked_can_be_taken_away(shop: Shop) -> None:
    view = RecordsView(press="Anvil", zone=NOT_SAID, since=str(START_US), sort="press", look="x")
    chips = chips_of(view, Clock(shop.zone))
    assert [(name, level) for name, level, _ in chips] == [
        (words.CHIP_SINCE, "Mon 02 Mar 2026, 00:00"), ("Place on the print", "not said"),
        ("Press", "Anvil")]
    for name, _level, href in chips:
        left = read_view(RecordsView, href.removeprefix("/records"))
        assert left.look == "" and left.sort == "press"
        assert len(chips_of(left, Clock(shop.zone))) == 2, name


def test_how_many_there_are_is_said_as_far_as_it_is_known() -> None:
    for count, said in (
        (LookCount(n_looks=0, n_pieces=0, is_all=True), words.COUNTED_NONE),
        (LookCount(n_looks=1, n_pieces=1, is_all=True), words.COUNTED_ONE),
        (LookCount(n_looks=12, n_pieces=9, is_all=True), "12 looks at 9 pieces"),
        (LookCount(n_looks=10_000, n_pieces=9, is_all=False), "More than 10\u202f000 looks"),
        (LookCount(n_looks=31, n_pieces=9, is_all=False), "31 looks found so far"),
    ):
        assert count_words(count).startswith(said)


def test_a_grid_s_order_is_the_address_s() -> None:
    assert sort_asked([]) == sort_asked([{"colId": "pressed_at", "sort": "desc"}]) == ""
    assert sort_asked([{"colId": "pressed_at", "sort": "asc"}]) == "pressed_at"
    assert sort_asked([{"colId": "piece", "sort": "desc"}]) == "-piece_id"
    assert sort_asked([{"colId": "findings", "sort": "asc"}]) == ""


# rows and looks ----------------------------------------------------------------------------


def answered(app: Dash, query: str, start: int) -> dict[str, Any]:
    """What the grid is answered, asked as its page asks."""
    own = {"type": "looks", "of": query, "at": END_US}
    name = json.dumps(own, sort_keys=True, separators=(",", ":"))
    body = {
        "output": next(one for one in app.callback_map if one.endswith(".getRowsResponse")),
        "outputs": {"id": own, "property": "getRowsResponse"},
        "inputs": [{"id": own, "property": "getRowsRequest",
                    "value": {"startRow": start, "endRow": start + 100, "sortModel": []}}],
        "state": [{"id": own, "property": "id", "value": own}],
        "changedPropIds": [f"{name}.getRowsRequest"],
    }
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
    whole: dict[str, Any] = answer.get_json()
    return whole


def rows(app: Dash, query: str, start: int) -> dict[str, Any]:
    """The rows of one answer."""
    found = answered(app, query, start)["response"]
    return next(props["getRowsResponse"] for props in found.values() if "getRowsResponse" in props)


def test_pages_of_the_grid_are_the_list(app: Dash, shop: Shop) -> None:
    whole = look_page(shop, LooksAsked(levels=(("press", "Cedar"),)), as_of_us=END_US, start=0,
                      n=5_000).rows
    found, start = [], 0
    while True:
        part = rows(app, "?press=Cedar", start)
        found += part["rowData"]
        assert part["rowCount"] == len(whole)
        if len(part["rowData"]) < 100:
            break
        start += 100
    assert [row["piece"] for row in found] == [look["piece_id"] for look in whole]
    assert {row["press"] for row in found} == {"Cedar"}


def test_where_a_page_ended_does_not_change_what_follows(app: Dash) -> None:
    """With the mark of the page before, and without it."""
    jumped = rows(app, "?press=Dune", 200)["rowData"]
    rows(app, "?press=Dune", 0)
    rows(app, "?press=Dune", 100)
    assert rows(app, "?press=Dune", 200)["rowData"] == jumped


def test_what_was_found_out_longest_ago_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dashboard.pages.records.grid.MOST_RECENT", 2)
    marks: Recent[tuple[int, int]] = Recent()
    for at in range(3):
        marks.keep(at, (at, at))
    assert marks.find(0) is None and marks.find(2) == (2, 2)


def test_a_row_is_text_alone(shop: Shop) -> None:
    (look,) = look_page(shop, LooksAsked(levels=(("defect", "scorch"),)), as_of_us=END_US,
                        start=0, n=1).rows
    row = grid_row(dict(look), Clock(shop.zone))
    assert row["findings"] == "Scorch or yellowing" and row["disposition"] == "on hold"
    assert all(isinstance(value, str | bool) for value in row.values())
    block = dict(look) | {"pieces": 20, "defective": 3}
    assert grid_row(block, Clock(shop.zone))["findings"] == "3 of 20 pieces: Scorch or yellowing"


def test_a_look_opens_from_its_address(app: Dash) -> None:
    found = [callback(app, "records-look.children",
                      address__search=f"?look=S00010%2F1%2F{place}%2Ffinal")
             for place in ("chest", "back")]
    said = [all_words(one["records-look"]["children"]) for one in found]
    assert sum("Piece S00010" in one for one in said) == 1
    assert sum(words.NO_SUCH_LOOK_TITLE in one for one in said) == 1
    shown = next(one for one in said if "Piece S00010" in one)
    assert words.VERSION_FIRST in shown and words.LOOKS_BACK in shown  # it looks back from END_US


def test_a_look_taken_back_is_found_again(tmp_path: Path) -> None:
    shop = build_shop(tmp_path)
    named = look_page(shop, LooksAsked(levels=(("defect", "any"),)), as_of_us=END_US, start=0, n=1)
    gone = named.rows[0]
    piece, kind = gone["piece_id"], plain_name(gone["findings"][0]["kind"])
    other = gone | {"attempt": 2, "inspected_at": END_US, "pressed_at": END_US}
    names = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "press", "fabric",
             "transfer", "location", "disposition", "pieces")
    add_inspections(shop.store, pd.DataFrame([{name: other[name] for name in names}]),
                    findings_of(), by="test", at_us=END_US, source="test", new_codes={})
    take_back(shop, WhichLook(piece_id=piece, attempt=1), why="slip", by="bo", at_us=END_US + 1)
    app = create_app(shop.store.location, clock_us=lambda: END_US + 10)
    shop.store.close()

    def opened(look: dict[str, Any]) -> str:
        found = callback(app, "records-look.children", address__search=address(
            RecordsView(look=look_key(look))))
        return all_words(found["records-look"]["children"])

    assert words.TAKEN_BACK in opened(other) and words.OTHERS_NONE not in opened(other)
    said = opened(gone)
    assert words.TAKEN_BACK in said and words.FOUND_NOTHING not in said and kind in said
    listed = callback(app, "records-count.children", **{
        "grid-ready__data": True, "address__search": f"?piece={piece}"})
    told = all_words(listed["records-count"]["children"])
    assert words.TAKEN_BACK_HERE_ONE in told and kind in told


def test_a_period_that_ends_before_it_begins_is_said_so(app: Dash) -> None:
    found = callback(app, "records-grid.children", **{
        "grid-ready__data": True, "address__search": f"?since={END_US}&until={START_US}"})
    assert words.NONE_BACKWARDS in all_words(found["records-grid"]["children"])


@pytest.mark.parametrize("kinds, disposition, attempt, usual", [
    ([], "pass", 1, None), (["scorch"], "scrap", 1, None), (["lifted_edge"], "concession", 1, None),
    (["lifted_edge"], "pass", 1, "press again"), (["lifted_edge"], "pass", 2, "scrap"),
    (["lifted_edge", "scorch"], "pass", 1, "scrap"), ([], "hold", 1, "passed"),
    (["lifted_edge"], None, 1, None),
])  # common practice, no source
def test_a_correction_asks_about_what_was_done_and_changes_nothing_itself(
    kinds: list[str], disposition: str | None, attempt: int, usual: str | None
) -> None:
    said = usually_done(kinds, disposition, attempt)
    assert bool(said) == (usual is not None)
    assert usual is None or f"Usual for that: {usual}." in said


def test_an_empty_store_shows_the_ways_in(empty_app: Dash) -> None:
    found = callback(empty_app, "records-grid.children", **{
        "grid-ready__data": True, "address__search": ""})
    said = all_words(found["records-grid"]["children"])
    assert words.EMPTY_TITLE in said and "qc demo" in said and "Record at the bench" in said


def test_what_takes_too_long_is_given_up_and_said(
    app: Dash, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite is stopped after its first few thousand steps, which the whole list takes."""
    monkeypatch.setattr("qc.desk.looks.PAGE_S", 0.0)
    said = answered(app, "?size=none-such", 0)
    rows_given = next(one["getRowsResponse"] for one in said["response"].values()
                      if "getRowsResponse" in one)
    assert rows_given == {"rowData": [], "rowCount": 0}
    assert "narrow it" in json.dumps(said["sideUpdate"])


# taking out ----------------------------------------------------------------------------------


def test_lists_are_taken_out_by_address(app: Dash) -> None:
    client = app.server.test_client()
    answer = client.get("/records/looks.csv?press=Cedar&defect=scorch")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="looks.csv"'
    lines = answer.get_data().decode("utf-8-sig").splitlines()
    assert len(lines) > 5 and all(",Cedar," in line for line in lines[1:])
    assert client.get("/records/looks.xlsx?press=Cedar").get_data()[:2] == b"PK"


def test_too_many_for_a_workbook_is_said(app: Dash, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reports.looks.MOST_IN_XLSX", 5)
    answer = app.server.test_client().get("/records/looks.xlsx")
    assert answer.status_code == 413 and "CSV" in answer.get_data(as_text=True)


# files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("headers", "right"), [
    ({}, True),
    ({"Origin": "http://localhost", "Sec_Fetch_Site": "same-origin"}, True),
    ({"Origin": "http://elsewhere.example"}, False),
    ({"Origin": "null"}, False),
    ({"Sec_Fetch_Site": "cross-site"}, False), ({"Sec_Fetch_Site": "same-site"}, False),
    ({"Sec_Fetch_Site": "none"}, False),
])
def test_only_our_own_pages_may_send(live: Dash, headers: dict[str, str], right: bool) -> None:
    """Fetch Metadata Request Headers (W3C); Origin of the Fetch Standard (WHATWG)."""
    assert send(live, **headers).status_code == (200 if right else 403)


def test_a_form_of_another_site_cannot_even_ask(live: Dash) -> None:
    answer = live.server.test_client().options("/records/files", headers={
        "Origin": "http://elsewhere.example", "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": HEADER})
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_nothing_is_taken_in_while_looking_back(app: Dash) -> None:
    assert send(app).status_code == 403


def test_what_is_too_large_or_of_no_kind_is_refused(
    live: Dash, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert send(live, name="photo.png").status_code == 415
    assert send(live, **{HEADER.replace("-", "_"): "../../etc"}).status_code == 409
    monkeypatch.setattr(receiving, "MOST_BYTES", 100)
    assert send(live, data=b"x" * 101).status_code == 413
    assert "larger" in send(live, data=b"x" * 101).get_json()["why"]


@pytest.mark.parametrize(("given", "kept"), [
    ("a.csv", "a.csv"), ("../../etc/passwd.csv", "passwd.csv"), ("C:\\x\\y.XLSX", "y.xlsx"),
    ("a\x00b/\nc.csv", "_c.csv"), ("..csv", None), (".csv", None), ("noend", None),
    ("a.exe", None), ("é ü.tsv", "é ü.tsv"), ("x" * 500 + ".csv", "x" * 100 + ".csv"),
])
def test_names_have_no_way_out_of_their_folder(given: str, kept: str | None) -> None:
    assert safe_name(given) == kept


def test_old_runs_go_with_their_files(monkeypatch: pytest.MonkeyPatch) -> None:
    received = Received()
    runs = [received.begin(f"{at:032x}") for at in range(receiving.MOST_RUNS + 3)]
    folders = [run.folder for run in runs if run is not None]
    assert received.run(f"{0:032x}") is None and not folders[0].exists()
    assert folders[-1].exists()
    monkeypatch.setattr(receiving, "KEPT_S", -1)
    assert received.run(f"{receiving.MOST_RUNS + 2:032x}") is None and not folders[-1].exists()


def test_rejected_rows_of_nobody_are_not_found(live: Dash) -> None:
    assert live.server.test_client().get(f"/records/files/{RUN}/9/rejects.csv").status_code == 404


def test_words_of_the_command_line_do_not_reach_the_page(live: Dash, tmp_path: Path) -> None:
    from qc.desk.loading import LoadRequest, load_files
    from qc.desk.shop import open_shop

    shop = open_shop(str(tmp_path / "shop.db"), create=True)
    files = {
        "looks.csv": "piece_id,inspected_at,press,fabric,transfer,defects\n"
                     "a,2026-03-02T07:00,P9,rib,film,zap\n",
        "none.csv": "colour,weight\nred,3\n",
        "both.csv": "piece_id,inspected_at,press,fabric,transfer,defects,scorch,dwell_x\n"
                    "a,2026-03-02T07:00,P9,rib,film,,1,3\n",
        "odd.csv": "piece_id,inspected_at,press,fabric,transfer,defects,scorsh\n"
                   "a,2026-03-02T07:00,P9,rib,film,,1\n",
        "survey.csv": "survey_id,measured_at,press,platen,setpoint_c,row,col,reading_c\n"
                      "s,2026-03-02T07:00,P9,upper,150,1,1,302\n"}
    for name, content in files.items():
        (tmp_path / name).write_text(content, encoding="utf-8")
    report = load_files(shop, LoadRequest(
        paths=tuple(str(tmp_path / name) for name in files), dry_run=True, row_report=10,
        dry_rejects=True, say=words.reason_here), by="x", at_us=END_US)
    said = [words.said_here(cell.message) for file in report.files for cell in file.wrong]
    said += [words.said_here(file.error) for file in report.files if file.error]
    said += [Path(file.rejects_file).read_text(encoding="utf-8") for file in report.files
             if file.rejects_file]
    assert len(said) >= 9 and not [one for one in said if "--" in one or "qc " in one]
    assert any("add it as a new code" in one for one in said[-2:])  # in the file to take, too
    shop.store.close()


@pytest.mark.parametrize("message, said", [
    ("dwell_s is 'dwell_s'; it must be a number", "dwell is 'dwell_s'; it must be a number"),
    ("pressed_at is later than inspected_at", "the time pressed is later than the time looked at"),
    ("disposition cannot be empty", "done with it cannot be empty"),
    ("defective is 4, more than its 3 pieces", "pieces with a defect is 4, more than its 3 pieces"),
])
def test_a_refusal_names_fields_as_the_page_does(message: str, said: str) -> None:
    assert words.fields_named(message) == said


def test_the_name_of_a_column_keeps_its_letters() -> None:
    assert words.said_here("pressed_at is after inspected_at").startswith("pressed_at is")
    assert words.said_here("fabric 'x' is not on the list").startswith("Fabric")


def test_plain_is_what_the_browser_gets() -> None:
    from dashboard.pages.records.layout import layout

    tree = plain(layout("?show=files"))
    assert words.DROP_TITLE in all_words(tree) and "200 MB" in all_words(tree)
