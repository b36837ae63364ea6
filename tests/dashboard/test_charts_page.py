"""The charts page through the real app on a real store, without a browser."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path
from urllib.parse import parse_qsl
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from dash import Dash
from hypothesis import given
from hypothesis import strategies as st

from dashboard import text
from dashboard.app import create_app
from dashboard.formats import Clock
from dashboard.pages.charts.asking import asked_of, left_out, settled, with_left_out
from dashboard.pages.charts.bare import bare_panels
from dashboard.pages.charts.cases import cases_panel
from dashboard.pages.charts.panel import Shown, says_panel
from dashboard.pages.charts.saying import days_said
from dashboard.text import charts as words
from dashboard.view import ChartsView, address, read_view
from qc.desk.chart_change import ChartChange
from qc.desk.shop import Shop
from qc.desk.stream_charts.chart import NEWEST, Asked, StreamChart, stream_chart
from qc.desk.stream_charts.choices import Offered, offered
from qc.domain.instants import DAY_US
from qc.domain.streams import SUBJECTS, Stream
from tests.dashboard.asking import callback, links, plain, props_of
from tests.dashboard.asking import words as said_in
from tests.dashboard.small_shop import END_US
from tests.migrations.versions import FLAG
from tests.qc.desk import stream_shop
from tests.qc.desk.test_stream_charts import counts

CEDAR = "?what=defects&of=lifted_edge&by=press&level=Cedar&step=day&period=all"


@pytest.fixture
def app(shop: Shop) -> Dash:
    """An app of its own: limits rest on the points alone until somebody has asked for flags."""
    return create_app(shop.store.location, as_of_us=END_US)


def body(app: Dash, search: str, scheme: str = "light") -> object:
    return callback(app, "charts-body.children", address__search=search, scheme__data=scheme)[
        "charts-body"]["children"]


def figure_of(tree: object) -> dict:
    return next(props["figure"] for props in props_of(tree) if "figure" in props)


def test_the_page_says_what_the_desk_says(app: Dash, shop: Shop) -> None:
    found = stream_chart(shop, Asked(stream=Stream(
        subject="defects", of="lifted_edge", by="press", level="Cedar", step="day")),
        as_of_us=END_US)
    tree = body(app, CEDAR)
    said = said_in(tree)
    assert found.chart is not None and found.run is not None
    assert "Pieces with lifted edge or corner on press Cedar, by day" in said
    assert found.kinds[0].why in said and words.KINDS[found.kind] in said
    n = int((found.chart.charts[0].signals != 0).sum())
    assert n > 2 and words.SIGNALS.format(n=n, of=len(found.points)) in said
    assert "It most likely began" in said and "ISO 7870-2:2013" in said
    for part in (words.HOW_TITLE, words.BASE_TITLE, words.COST_TITLE, words.SAYS_TITLE,
                 words.LOOKS_BACK, "A doubling is seen after"):
        assert part in said


def test_the_figure_has_a_band_a_shape_and_a_word_for_each_signal(app: Dash) -> None:
    figure = figure_of(body(app, CEDAR))
    names = [trace.get("name") for trace in figure["data"]]
    assert words.BAND in names and words.CENTRE_MIX in names and words.SEEN in names
    above = next(trace for trace in figure["data"] if trace.get("name") == words.ABOVE_NAME)
    assert above["marker"]["symbol"] == "triangle-up" and "above" in above["text"]
    written = [one["text"] for one in figure["layout"]["annotations"]]
    assert words.CHANGE_BEGAN in written and words.LIMITS_FROM in written


def test_every_point_leads_to_its_records(app: Dash) -> None:
    tree = body(app, CEDAR)
    points = [link for link in links(tree) if link.startswith("/records?")]
    asked = dict(parse_qsl(points[0].partition("?")[2]))
    assert asked["press"] == "Cedar" and asked["defect"] == "lifted_edge"
    assert int(asked["since"]) < int(asked["until"])
    seen = next(t for t in figure_of(tree)["data"] if t.get("name") == words.SEEN)
    assert len(seen["customdata"]) == len(seen["text"]) and set(seen["customdata"]) <= set(points)
    rare = [link for link in links(body(app, CEDAR + "&kind=g")) if link.startswith("/records?")]
    assert rare and all("defect=" not in link for link in rare)  # a run holds its good pieces too


@pytest.mark.parametrize("search", [
    "", "?what=defects&by=operator&level=Ada&step=week&period=all",
    "?what=defects&of=lifted_edge&by=zone&level=bottom_right", "?what=defects&step=job&period=all",
    "?what=defects&by=press&level=Cedar&step=shift&of=scorch", "?what=placement", "?what=setting",
    "?what=platen&level=Cedar&platen=upper&period=all", "?what=check", "?what=nonsense&level=x",
    CEDAR + "&kind=cusum", CEDAR + "&kind=ewma", CEDAR + "&kind=p-prime", CEDAR + "&kind=g",
    CEDAR + "&rules=one_side,trend", CEDAR + "&out=%5B%5D", CEDAR + "&out=broken&frozen=77",
])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_any_address_opens_a_chart_or_says_what_is_missing(
    app: Dash, search: str, scheme: str
) -> None:
    said = said_in(body(app, search, scheme))
    assert words.HOW_TITLE in said or words.MISSING_TITLE in said
    assert "could not be worked out" not in said


def test_an_empty_shop_is_led_to_its_first_records(empty_app: Dash) -> None:
    tree = body(empty_app, "?what=placement")
    said = said_in(tree)
    assert text.CHARTS_EMPTY_TITLE in said and "longer period" not in said
    assert set(text.BEGIN) <= set(links(tree))  # the same ways as on other pages


def test_a_short_period_says_so_and_leads_to_a_longer_one(app: Dash) -> None:
    tree = body(app, "?what=defects&by=press&level=Cedar&period=7")
    assert words.MISSING_TITLE in said_in(tree) and "a chart is drawn from 8 on" in said_in(tree)
    assert any("period=all" in link for link in links(tree))


def test_the_stretch_and_a_cause_come_from_the_address(app: Dash, shop: Shop) -> None:
    found = stream_chart(shop, asked_of(settled_view(shop, CEDAR)), as_of_us=END_US)
    assert found.stretch is not None
    first, last = found.points.start_us[0], found.points.end_us[19]
    out = json.dumps([[found.points.key(3), "wrong sheet <b>"]])
    search = address(read_view(ChartsView, CEDAR), base=f"{first}..{last}", out=out)
    said = said_in(body(app, search))
    assert "Chosen:" in said and ", 19 points." in said
    assert "is left out: wrong sheet <b>." in said and words.OUT_BACK in said
    too_short = address(read_view(ChartsView, CEDAR), base=f"{first}..{first + 1}")
    assert "The stretch chosen holds 1 point;" in said_in(body(app, too_short))


def test_points_without_limits_are_drawn_with_what_to_do(app: Dash, shop: Shop) -> None:
    found = stream_chart(shop, asked_of(settled_view(shop, CEDAR)), as_of_us=END_US)
    first = int(found.points.start_us[0])
    search = address(read_view(ChartsView, CEDAR), base=f"{first}..{first + 3 * DAY_US}")
    tree = body(app, search)
    said = said_in(tree)
    assert words.NO_LIMITS_TITLE in said and "Look over a longer period" in said
    figure = figure_of(tree)
    seen = next(trace for trace in figure["data"] if trace.get("name") == words.SEEN)
    assert len(seen["customdata"]) == len(found.points)
    assert words.BAND not in [trace.get("name") for trace in figure["data"]]
    assert words.BASE_CHOOSE in said and words.BASE_PROPOSE in said and words.FREEZE not in said


def test_several_values_without_limits_have_a_chart_each_in_its_own_unit(tmp_path: Path) -> None:
    own, *_ = stream_shop.build(tmp_path)
    whole = settled_view(own, "?what=placement&of=together&period=all")
    found = stream_chart(own, replace(asked_of(whole), base_us=(0, 1)), as_of_us=stream_shop.END_US)
    shown = Shown(found=found, view=whole, scheme="light", clock=Clock(own.zone))
    said = " ".join(said_in(plain(one)) for one in bare_panels(shown))
    for part in ("Sideways", "Up and down", "Rotation", "mm, ", "\u00b0, "):
        assert part in said
    own.store.close()


# flags on the page ----------------------------------------------------------------------------

def test_the_page_says_that_flags_are_still_looked_for_and_then_how_they_stand(
    shop: Shop
) -> None:
    fresh = create_app(shop.store.location, as_of_us=END_US)
    said = said_in(body(fresh, CEDAR))
    assert words.CASES_LOOKING in said and words.BASE_UNLOOKED in said
    assert callback(fresh, "charts-flags-ready.data", **{"charts-drawn__data": 5}) == {
        "charts-flags-ready": {"data": 5}}
    given = {"address__search": CEDAR, "scheme__data": "light", "address__pathname": "/charts"}
    tree = callback(fresh, "charts-body.children", **{"charts-on-page__data": ""}, **given)
    said = said_in(tree["charts-body"]["children"])
    assert words.CASES_LOOKING not in said and words.BASE_UNLOOKED not in said
    assert "open since" in said and words.FREEZE_UNLOOKED not in said
    on_page = next(props["data-flags"] for props in props_of(tree["charts-body"]["children"])
                   if "data-flags" in props)
    again = callback(fresh, "charts-body.children", **{"charts-on-page__data": on_page}, **given)
    assert not again  # it has them: what is being written stays


def test_what_is_explained_or_over_is_not_called_open() -> None:
    whole = ChartsView(by="press", level="P1")
    since = FLAG.changed_at_us
    flags = (replace(FLAG, ended_at_us=None), replace(FLAG, ended_at_us=since + DAY_US),
             replace(FLAG, ended_at_us=since + DAY_US, part_of="another"))
    points = counts([50] * 10, [2] * 10)
    found = StreamChart(asked=asked_of(whole), kind="p", points=points, kinds=(), history=())
    shown = Shown(found=found, view=whole, scheme="light", clock=Clock(ZoneInfo("UTC")),
                  flags=flags)
    said = said_in(plain(cases_panel(shown, ["one", "two", "three"])))
    assert said.count("open since") == 1 and said.count("case 1") == 1
    assert "2, ended" in said and "3, ended" in said and "explained by another flag" in said
    none = said_in(plain(cases_panel(replace(shown, flags=()), [])))
    assert words.CASES_NONE in none and words.CASES_LOOKING not in none


@pytest.mark.parametrize(("search", "named"), [
    ("?of=nonsense&by=press&level=P99", "nonsense, P99"), ("?what=nonsense", "nonsense"),
    ("?by=station&level=Cedar/9", "station, Cedar/9"), ("?what=check&step=day", "day"),
])
def test_what_an_address_names_and_the_shop_lacks_is_said(
    app: Dash, search: str, named: str
) -> None:
    assert words.NOT_HERE.format(what=named) in said_in(body(app, search))
    assert "Not here" not in said_in(body(app, CEDAR)) + said_in(body(app, ""))


def test_another_stretch_keeps_the_points_left_out_inside_it(app: Dash, shop: Shop) -> None:
    found = stream_chart(shop, asked_of(settled_view(shop, CEDAR)), as_of_us=END_US)
    keys = [found.points.key(at) for at in (3, len(found.points))]
    out = json.dumps([[key, "wrong sheet"] for key in keys])
    search = address(read_view(ChartsView, CEDAR), out=out)
    first, last = (shop.iso(int(us))[:10] for us in found.points.start_us[[0, 19]])
    answer = callback(app, "charts-said.children", **{
        "charts-take__n_clicks": 1, "charts-from__value": first, "charts-until__value": last,
        "address__search": search})
    view = read_view(ChartsView, answer["address"]["search"])
    assert left_out(view) == [(keys[0], "wrong sheet")] and view.base


def test_a_level_that_moved_without_a_signal_is_explained(app: Dash, shop: Shop) -> None:
    found = stream_chart(shop, asked_of(settled_view(shop, CEDAR)), as_of_us=END_US)
    assert found.chart is not None
    calm = tuple(replace(one, signals=np.zeros_like(one.signals)) for one in found.chart.charts)
    quiet = replace(found, chart=replace(found.chart, charts=calm), change=ChartChange(
        at=30, first=29, last=31))
    shown = Shown(found=quiet, view=settled_view(shop, CEDAR), scheme="light",
                  clock=Clock(shop.zone))
    said = said_in(plain(says_panel(shown)))
    assert words.SAYS_MOVED in said and words.SAYS_NONE not in said


def settled_view(shop: Shop, search: str) -> ChartsView:
    return settled(read_view(ChartsView, search), offered(shop, as_of_us=END_US))


def choose(app: Dash, search: str, **values: str) -> str | None:
    view = read_view(ChartsView, search)
    given = {f"charts-{name}__value": values.get(name, getattr(view, name) or "any")
             for name in ("what", "of", "by", "level", "platen", "step", "period")}
    answer = callback(app, "address.search", address__search=search, address__pathname="/charts",
                      **given)
    return next(iter(answer.values()))["search"] if answer else None


def test_choices_write_a_whole_address_and_begin_anew(app: Dash) -> None:
    said = choose(app, CEDAR + "&kind=cusum&rules=limits&base=1..2", by="operator")
    assert said is not None
    view = read_view(ChartsView, said)
    assert (view.by, view.level) == ("operator", "Ada")
    assert (view.kind, view.rules, view.base) == ("", "", "")
    said = choose(app, CEDAR + "&kind=cusum", period="90")
    assert said is not None and read_view(ChartsView, said).kind == "cusum"
    assert choose(app, CEDAR) is None  # nothing was chosen
    assert choose(app, "?what=platen") is None  # nor does making a choice whole write an address


def test_the_address_of_another_page_is_left_alone(app: Dash) -> None:
    given = {f"charts-{name}__value": "any" for name in (
        "of", "by", "level", "platen", "step", "period")}
    answer = callback(app, "address.search", address__search="?press=P1",
                      address__pathname="/records", **{"charts-what__value": "defects"}, **given)
    assert not answer


def test_lists_offer_what_the_shop_has(app: Dash) -> None:
    offer = callback(app, "charts-level.data", address__search=CEDAR)
    assert [one["value"] for one in offer["charts-level"]["data"]] == [
        "Anvil", "Brook", "Cedar", "Dune"]
    assert offer["charts-platen-box"]["hidden"] and not offer["charts-level-box"]["hidden"]
    whole = callback(app, "charts-level.data", address__search="")
    assert whole["charts-level-box"]["hidden"]


def test_rules_are_switched_in_the_address(app: Dash) -> None:
    answer = callback(app, "address.search", **{
        "charts-rules__value": ["one_side"], "address__search": CEDAR})
    assert read_view(ChartsView, next(iter(answer.values()))["search"]).rules == "one_side"
    same = callback(app, "address.search", **{
        "charts-rules__value": [], "address__search": CEDAR})
    assert not same
    said = said_in(body(app, CEDAR + "&rules=one_side"))
    assert "9 points in a row on one side of the centre line" in said


def test_days_that_are_none_are_refused_in_words(app: Dash) -> None:
    answer = callback(app, "charts-said.children", **{
        "charts-take__n_clicks": 1, "charts-from__value": "yesterday",
        "charts-until__value": "2026-03-20", "address__search": CEDAR})
    assert answer["charts-said"]["children"] == words.BASE_BAD_DAY


@pytest.mark.parametrize("search", [CEDAR, CEDAR + "&kind=cusum", CEDAR + "&kind=g",
                                    "?what=platen&level=Cedar&period=all"])
def test_pictures_and_numbers_of_what_is_shown(app: Dash, search: str) -> None:
    client = app.server.test_client()
    svg, png, table = (client.get(f"/charts/stream.{form}{search}") for form in
                       ("svg", "png", "csv"))
    if svg.status_code == 404:
        assert png.status_code == table.status_code == 404
        assert words.MISSING_TITLE in said_in(body(app, search))
        return
    assert svg.mimetype == "image/svg+xml" and svg.data.startswith(b"<svg")
    assert png.data.startswith(b"\x89PNG")
    assert svg.data == client.get(f"/charts/stream.svg{search}").data  # same bytes again
    rows = list(csv.DictReader(io.StringIO(table.data.decode("utf-8-sig"))))
    assert len(rows) >= 8 and {"point", "value", "lower", "upper", "signals"} <= set(rows[0])


def test_a_picture_of_nothing_is_not_there(app: Dash) -> None:
    assert app.server.test_client().get("/charts/stream.svg?what=placement").status_code == 404


def test_looking_back_nothing_is_frozen(app: Dash) -> None:
    answer = callback(app, "charts-said.children", **{
        "charts-freeze__n_clicks": 1, "your-name__value": "Ann", "charts-why__value": "calm",
        "address__search": CEDAR, "scheme__data": "light"})
    assert not answer


# the address --------------------------------------------------------------------------------

NOTHING = Offered(kinds=("lifted_edge",), levels={"press": ("P1",)}, platens=(), checked=(),
                  is_known=lambda *_: False)
views = st.builds(
    ChartsView, what=st.sampled_from(SUBJECTS), of=st.text(max_size=12), by=st.text(max_size=12),
    level=st.text(max_size=12), platen=st.text(max_size=6), step=st.text(max_size=6),
    kind=st.text(max_size=8), rules=st.text(max_size=12), base=st.text(max_size=12),
    out=st.text(max_size=40), frozen=st.text(max_size=3))


@given(views)
def test_any_view_is_made_whole_once_and_can_be_asked(view: ChartsView) -> None:
    whole = settled(view, NOTHING)
    assert settled(whole, NOTHING) == whole
    assert read_view(ChartsView, address(whole)) == whole
    asked = asked_of(whole)
    assert asked.frozen >= NEWEST and isinstance(asked.excluded, tuple)


def test_points_left_out_come_back_from_the_address() -> None:
    rows = [("J1 <x>", "wrong sheet; \u00e9"), ("177", "spill")]
    view = read_view(ChartsView, with_left_out(ChartsView(), rows))
    assert left_out(view) == rows
    for broken in ("[", "5", "[[1]]", "[[1,2,3]]", '{"a":1}'):
        assert left_out(ChartsView(out=broken)) == []


@pytest.mark.parametrize(("days", "said"), [
    (0.2, "5 hours"), (1.0, "1 day"), (12.4, "12 days"), (900, "2 years")])
def test_days_in_words(days: float, said: str) -> None:
    assert days_said(days) == said
