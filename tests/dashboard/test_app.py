"""The app as a server: what every answer carries, known and unknown addresses, failures."""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path

import pytest
from dash import Dash

from dashboard import create_app, text
from dashboard.shell import LAYOUTS
from qc.desk.shop import Shop
from qc.errors import StoreError
from tests.dashboard.asking import callback, links, words
from tests.dashboard.small_shop import END_US


@pytest.mark.parametrize("path", sorted(LAYOUTS))
def test_known_addresses_answer(app: Dash, path: str) -> None:
    answer = app.server.test_client().get(path)
    assert answer.status_code == 200
    page = answer.get_data(as_text=True)
    assert '<html lang="en">' in page and 'name="viewport"' in page
    assert not re.findall(r'(?:src|href)="https?://', page)


@pytest.mark.parametrize("path", ["/nothing", "/trends/deep", "/<script>alert(1)</script>"])
def test_unknown_addresses_are_404_and_helpful(app: Dash, path: str) -> None:
    answer = app.server.test_client().get(path)
    assert answer.status_code == 404 and "DashRenderer" in answer.get_data(as_text=True)
    shown = callback(app, "page.children", address__pathname=path, address__search="")["page"]
    assert text.MISSING_TITLE in words(shown["children"])
    assert links(shown["children"]) == list(text.PAGES)


def test_every_answer_is_guarded(app: Dash) -> None:
    client = app.server.test_client()
    for path in ("/", "/nothing", "/_dash-layout", "/assets/base.css"):
        headers = client.get(path).headers
        assert headers["X-Content-Type-Options"] == "nosniff", path
        assert headers["X-Frame-Options"] == "DENY" and headers["Referrer-Policy"] == "no-referrer"
        policy = dict(part.strip().split(" ", 1)
                      for part in headers["Content-Security-Policy"].split(";"))
        assert policy["default-src"] == "'self'" and policy["frame-ancestors"] == "'none'"
        assert "unsafe" not in policy["script-src"]


def test_answers_are_compressed(app: Dash) -> None:
    client = app.server.test_client()
    for path in ("/", "/_dash-layout", "/_dash-dependencies", "/assets/base.css"):
        answer = client.get(path, headers={"Accept-Encoding": "gzip, deflate, br"})
        assert answer.headers.get("Content-Encoding") in ("gzip", "deflate", "br"), path


def test_libraries_are_packed_once_and_whole(app: Dash, monkeypatch: pytest.MonkeyPatch) -> None:
    client = app.server.test_client()
    index = client.get("/").get_data(as_text=True)
    path = re.findall(r'src="(/_dash-component-suites/dash/dcc/[^"]+)"', index)[0]
    plain = client.get(path).get_data()
    packed = client.get(path, headers={"Accept-Encoding": "gzip"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed.get_data()) == plain
    monkeypatch.setattr("dashboard.packing.gzip.compress", None)  # not called a second time
    again = client.get(path, headers={"Accept-Encoding": "br, gzip"})
    assert again.get_data() == packed.get_data() and len(packed.get_data()) < len(plain) / 2


def test_the_shell_needs_no_data(app: Dash) -> None:
    layout = json.loads(app.server.test_client().get("/_dash-layout").get_data())
    assert "Lantern Yard Prints" in words(layout)
    for path in LAYOUTS:
        shown = callback(app, "page.children", address__pathname=path, address__search="")
        assert text.PAGES[path] in words(shown["page"]["children"])


def test_two_apps_do_not_share_anything(app: Dash, shop: Shop) -> None:
    second = create_app(shop.store.location, as_of_us=END_US)
    assert second.callback_map is not app.callback_map
    assert set(second.callback_map) == set(app.callback_map)


def test_a_store_that_is_not_there_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        create_app(str(tmp_path / "no.db"))


def test_a_failing_part_is_a_notice_and_the_rest_holds(
    app: Dash, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("boom")

    monkeypatch.setattr("dashboard.pages.trends.callbacks.ranking_panel", broken)
    shown = callback(app, "trends-ranking.children", address__search="?by=press")
    assert text.ERROR_TITLE in words(shown["trends-ranking"]["children"])
    assert "boom" not in words(shown["trends-ranking"]["children"])


def test_a_wrong_question_is_answered_in_words(app: Dash) -> None:
    shown = callback(app, "trends-ranking.children", address__search="?kind=no_such_kind")
    assert "no defect kind" in words(shown["trends-ranking"]["children"])
