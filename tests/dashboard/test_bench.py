"""The bench's answers: what it offers, takes and refuses, and what it says of a failure."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from dashboard import create_app, text
from dashboard.pages.bench.document import bench_page
from dashboard.same_origin import HEADER
from dashboard.text import bench as words
from qc.desk.shop import Shop
from qc.domain.instants import HOUR_US
from qc.domain.kinds import ZONES, defect_kinds
from qc.errors import StoreError
from qc.store.inspections import read_looks
from qc.store.settings import change_setting
from tests.dashboard.small_shop import END_US, build_shop

OURS = {HEADER: "bench"}
NOW_US = END_US + HOUR_US


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Shop]:
    shop = build_shop(tmp_path)
    yield shop
    shop.store.close()


@pytest.fixture
def client(own: Shop) -> FlaskClient:
    app = create_app(own.store.location, clock_us=lambda: NOW_US)
    return app.server.test_client()


def entry(**more: Any) -> dict[str, Any]:
    return {
        "name": "e1", "action": "look", "piece_id": "N-1", "attempt": 1, "location": "chest",
        "stage": "final", "by": "Mia", "version": 1, "fields": {
            "inspected_at": "2026-04-10T16:30:00Z", "press": "Anvil", "fabric": "rib-fine",
            "transfer": "film-matt", "defects": "scorch@top", "disposition": "scrap"}} | more


def send(client: FlaskClient, *entries: Any, headers: dict[str, str] = OURS) -> Any:
    return client.post("/bench/entries", json={"device": "7KQ", "entries": list(entries)},
                       headers=headers)


def test_the_page_is_whole_and_its_words_cannot_break_it() -> None:
    page = bench_page("Ink & <b>Iron</b>")
    assert "Ink &amp; &lt;b&gt;Iron&lt;/b&gt;" in page and "<b>Iron" not in page
    data = page.split('id="bench-words">')[1].split("</script>")[0]
    assert json.loads(data)["zones"] == words.ZONE_WORDS and "<" not in data
    assert [page.index(f'data-zone="{zone}"') for zone in ZONES] == sorted(
        page.index(f'data-zone="{zone}"') for zone in ZONES)
    assert all(f'href="{path}"' in page for path in text.PAGES)


def test_every_word_the_script_asks_for_is_there() -> None:
    folder = Path(bench_page.__code__.co_filename).parents[2] / "assets" / "bench"
    code = "".join(path.read_text(encoding="utf-8") for path in folder.glob("*.js"))
    asked = set(re.findall(r'words\(\s*"(\w+)"', code)) | {"need_press", "need_fabric",
                                                        "need_transfer", "need_name"}
    assert asked == set(words.WORDS)


def test_the_worker_keeps_every_file_of_the_page(client: FlaskClient) -> None:
    worker = client.get("/bench-worker.js")
    assert worker.mimetype == "text/javascript"
    code = worker.get_data(as_text=True)
    folder = Path(bench_page.__code__.co_filename).parents[2] / "assets" / "bench"
    for path in folder.glob("*.js"):
        assert path.stem == "worker" or f'"{path.stem}"' in code
    for line in bench_page("x").splitlines():
        for mark in ('src="', 'rel="stylesheet" href="', ' href="/assets/fonts'):
            if mark in line:
                address = "/" + line.split(mark)[1].split('"')[0].lstrip("/").removeprefix("-")
                if address.startswith("/assets") and "bench/" not in address:
                    assert address in code


def test_the_lists_offer_what_the_shop_has(client: FlaskClient) -> None:
    lists = client.get("/bench/lists").get_json()
    assert lists["live"] and lists["now_ms"] == NOW_US / 1000
    assert lists["presses"]["Anvil"] == "Anvil swing press"
    assert set(lists["fabrics"]) == {"fleece-heavy", "jersey-soft", "rib-fine"}
    assert lists["jobs"]["J039A"]["press"] == "Anvil"
    assert list(lists["kinds"]) == list(defect_kinds())  # in the trade's order, not the alphabet's
    assert lists["kinds"]["lifted_edge"]["first"] == "press_again"
    assert lists["kinds"]["lifted_edge"]["again"] == "scrap"
    assert not lists["kinds"]["misplacement"]["placed"] and lists["kinds"]["scorch"]["placed"]
    assert lists["seen"]["operator"] == ["Ada", "Bo"]
    assert [one["name"] for one in lists["settings"]] == [
        "temperature_c", "dwell_s", "pressure_kpa", "pressure_dial", "peel_wait_s"]


def test_fields_are_in_the_units_the_shop_reads(own: Shop) -> None:
    for name, value in (("temperature_unit", "f"), ("pressure_unit", "psi"),
                        ("length_unit", "in")):
        change_setting(own.store, name=name, value=value, by="test", at_us=NOW_US)
    app = create_app(own.store.location, clock_us=lambda: NOW_US)
    lists = app.server.test_client().get("/bench/lists").get_json()
    named = {one["name"]: one.get("unit", one["label"]) for one in
             [*lists["settings"], *lists["measures"]]}
    assert named["temperature_f"] == "°F" and named["pressure_psi"] == "psi"
    assert named["dx_in"] == "To the right, in"


def test_a_look_is_kept_and_the_job_stands_anew(client: FlaskClient, own: Shop) -> None:
    work = "?job=J039A&fabric=rib-fine&transfer=film-matt&location=chest"
    before = client.get("/bench/job" + work).get_json()
    mine = entry(fields=entry()["fields"] | {"job": "J039A"})
    answer = send(client, mine).get_json()
    assert answer["outcomes"] == [
        {"name": "e1", "kept": True, "why": "", "taken": False, "version": 1}]
    after = client.get("/bench/job" + work).get_json()
    assert (after["n"], after["bad"]) == (before["n"] + 1, before["bad"] + 1)
    assert set(after["kinds"]) >= {"scorch"} and 0 < after["strip"]["at"] <= 1
    looks = read_looks(own.store, as_of_us=10**17)
    look = looks[(looks["piece_id"] == "N-1").to_numpy(dtype=bool)].iloc[0]
    assert look["disposition"] == "scrap"


@pytest.mark.parametrize("headers", [
    {}, OURS | {"Sec-Fetch-Site": "cross-site"}, OURS | {"Origin": "http://elsewhere.example"}])
def test_another_site_cannot_record(client: FlaskClient, own: Shop, headers: Any) -> None:
    assert send(client, entry(), headers=headers).status_code == 403
    assert "N-1" not in set(read_looks(own.store, as_of_us=10**17)["piece_id"])


def test_our_own_page_can(client: FlaskClient) -> None:
    ours = OURS | {"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost"}
    assert send(client, entry(), headers=ours).status_code == 200


@pytest.mark.parametrize(("broken", "said"), [
    ({"fields": {"press": 3}}, "fields are texts"), ({"action": "drop"}, "allowed actions"),
    ({"by": " "}, "By is empty"), ({"attempt": "1"}, "whole numbers"),
    ({"by": "x" * 300}, "at most 200 letters"), ({"version": 0}, "whole numbers from 1")])
def test_an_entry_that_cannot_be_read_is_refused_and_keeps_no_other_waiting(
    client: FlaskClient, broken: Any, said: str
) -> None:
    answer = send(client, entry(**broken), entry(name="e2", piece_id="N-2")).get_json()
    found = {one["name"]: one for one in answer["outcomes"]}
    assert not found["e1"]["kept"] and said in found["e1"]["why"] and found["e2"]["kept"]


@pytest.mark.parametrize("sent", ["text", entry(name="x" * 300)])
def test_what_the_bench_does_not_send_is_refused_whole(client: FlaskClient, sent: Any) -> None:
    assert send(client, sent).status_code == 400
    assert client.post("/bench/entries", data="{", headers=OURS).status_code == 400


def test_a_store_that_cannot_be_written_is_to_be_tried_again(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_args: object, **_named: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr("qc.desk.recording.add_inspections", broken)
    answer = send(client, entry())
    assert answer.status_code == 503 and "the disk is full" in answer.get_json()["error"]


def test_signs_are_of_this_press_and_what_it_runs(client: FlaskClient) -> None:
    bad = client.get("/bench/signs?press=Cedar").get_json()["signs"]
    assert any("Cedar" in sign["words"] or "platen" in sign["words"].lower() for sign in bad)
    assert all(sign["href"].startswith(("/cases?flag=", "/presses?press=Cedar")) for sign in bad)
    assert client.get("/bench/signs?press=Brook").get_json()["signs"] == []


def test_a_dashboard_that_looks_back_takes_nothing(own: Shop) -> None:
    client = create_app(own.store.location, as_of_us=END_US).server.test_client()
    assert not client.get("/bench/lists").get_json()["live"]
    assert "looks back" in send(client, entry()).get_json()["error"]
