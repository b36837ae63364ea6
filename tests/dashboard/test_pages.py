"""The pages through the real app on a real store."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from dash import Dash

from dashboard import create_app, text
from dashboard.formats import Clock
from dashboard.pages.presses.layout import pull_list
from dashboard.pages.trends.layout import _rate_words
from dashboard.view import ChartsView, RecordsView, TrendsView, address, read_view
from qc.desk.pull_words import PullLine
from qc.desk.shop import Shop
from qc.desk.trends import rate_over_time
from qc.store.codes import add_codes
from qc.store.settings import change_setting
from tests.dashboard.asking import callback, links, plain, props_of, words
from tests.dashboard.small_shop import END_US, PRESSES, build_shop


def shown(app: Dash, output: str, **given: object) -> object:
    return callback(app, f"{output}.children", **given)[output]["children"]


def trends(app: Dash, output: str, search: str = "") -> object:
    return shown(app, output, address__search=search, scheme__data="light")


def test_floor_has_a_card_for_each_press_the_urgent_first(app: Dash) -> None:
    callback(app, "floor-flags-ready.data", **{"floor-soon__n_intervals": 1})
    said = words(shown(app, "floor-cards", address__search=""))
    places = [said.index(press) for press in ("Cedar", "Anvil", "Brook", "Dune")]
    assert places == sorted(places)
    assert text.PRESS_STATE_WORDS["act"][1] in said and "drifts" in said
    assert text.FLOOR_FLAGS_WAIT not in said


def test_a_card_leads_to_its_pieces_to_those_with_a_defect_and_to_the_bench(app: Dash) -> None:
    panel = shown(app, "floor-cards", address__search="")
    ways = [props["href"] for props in props_of(panel) if "href" in props]
    assert "/bench?press=Cedar" in ways
    views = [read_view(RecordsView, way.partition("?")[2]) for way in ways
             if way.startswith("/records?") and "press=Cedar" in way]
    assert {view.defect for view in views} == {"any", ""}
    assert views and all(view.first == "yes" and view.since.isdigit() for view in views)


def test_floor_can_show_only_what_needs_somebody(app: Dash) -> None:
    said = words(shown(app, "floor-cards", address__search="?show=attention"))
    assert "Cedar" in said and "Anvil" not in said


def test_the_control_chart_is_of_what_is_looked_at(app: Dash) -> None:
    panel = trends(app, "trends-rate", "?period=90&step=week&kind=lifted_edge")
    way = next(link for link in links(panel) if link.startswith("/charts"))
    view = read_view(ChartsView, way.partition("?")[2])
    assert (view.of, view.step, view.period) == ("lifted_edge", "week", "90")


def test_trend_says_what_the_desk_says(app: Dash, shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, kind="lifted_edge", step="week")
    panel = trends(app, "trends-rate", "?period=all&step=week&kind=lifted_edge")
    said = words(panel)
    assert f"{100 * trend.overall:.1f}" in said
    drawn = next(p for p in props_of(panel) if "figure" in p)["figure"]["data"]
    seen = next(t for t in drawn if t.get("name") == text.SEEN)
    assert len(seen["text"]) == len(trend.share)
    assert text.NUMBERS in said and "ISO 7870-2" in said and "% of pieces" in said


@pytest.mark.parametrize(("n_out", "said"), [
    (0, text.NONE_OUTSIDE), (1, "1 of 3 weeks lies beyond"), (2, "2 of 3 weeks lie beyond")])
def test_points_beyond_three_sigma_are_told_in_grammar(
    shop: Shop, n_out: int, said: str
) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, kind="", step="week")
    outside = np.arange(3) < n_out
    assert said in _rate_words(replace(trend, outside=outside), Clock(ZoneInfo("UTC")),
                               as_yield=False)


def test_every_point_opens_its_records(app: Dash) -> None:
    panel = trends(app, "trends-rate", "?kind=lifted_edge")
    rows = [link for link in links(panel) if "open=" in link]
    assert len(rows) > 15
    opened = rows[0].removeprefix("/trends")
    assert callback(app, "trends-panel.opened",
                    address__search=opened)["trends-panel"]["opened"] is True
    said = words(shown(app, "trends-records", address__search=opened))
    assert "with a defect" in said or text.RECORDS_NONE in said


def test_every_bar_opens_as_many_records_as_it_counts(app: Dash) -> None:
    panel = shown(app, "trends-ranking", address__search="?by=press&then=defect&period=all")
    first = next(link for link in links(panel) if "open=level" in link)
    bar = next(p for p in props_of(panel) if p.get("href") == first)
    counted = int(re.search(r"(\d+) +[\d.]+\s% of all", words(bar["children"])).group(1))
    said = words(shown(app, "trends-records", address__search=first.removeprefix("/trends")))
    assert f"{counted} with a defect" in said


def test_ranking_tells_the_bad_press_in_words(app: Dash) -> None:
    said = words(shown(app, "trends-ranking", address__search="?by=press&kind=lifted_edge"))
    assert "More than the mix of work explains: Cedar" in said
    assert text.RANK_MORE in said and "Benjamini" in said


@pytest.mark.parametrize("by", ["defect", "fabric", "transfer", "location", "operator",
                                "transfer_lot", "garment_lot", "job", "zone", "shift"])
def test_every_dimension_ranks(app: Dash, by: str) -> None:
    said = words(shown(app, "trends-ranking", address__search=f"?by={by}&period=all"))
    assert text.NUMBERS in said and text.ERROR_TITLE not in said


def test_choices_write_the_address_and_the_address_moves_the_choices(app: Dash) -> None:
    values = {"trends-period__value": "7", "trends-step__value": "week",
              "trends-kind__value": "scorch", "trends-by__value": "press",
              "trends-then__value": "none", "address__search": ""}
    answer = callback(app, "address.search", **values)
    search = next(iter(answer.values()))["search"]
    assert search == address(TrendsView(period="7", step="week", kind="scorch", by="press"))


def test_the_shops_own_kinds_can_be_chosen(app: Dash, shop: Shop) -> None:
    with shop.store.changing(by="test", at_us=END_US, what="kinds") as change:
        add_codes(change, {"kinds": ["fuzzy_rim"]})
    offered = callback(app, "trends-kind.data", **{"trends-kind__id": "trends-kind"})
    data = offered["trends-kind"]["data"]
    assert data[0]["value"] == "any" and data[1] == {
        "value": "lifted_edge", "label": "Lifted edge or corner"}
    assert data[-1] == {"value": "fuzzy_rim", "label": "Fuzzy rim"}
    assert offered["trends-choices"]["data"]["kind"][-1] == "fuzzy_rim"
    assert offered["trends-choices"]["data"]["period"][0] == "30"


def test_cases_show_the_planted_press_and_the_budget(app: Dash) -> None:
    said = words(shown(app, "cases-body", address__search=""))
    assert "Expected false flags a week: 0.25" in said and "one in 4 weeks" in said
    assert "Cedar" in said
    detail = shown(app, "case-detail", **{
        "case-detail__id": "case-detail", "scheme__data": "dark", "address__search": ""})
    said = words(detail)
    for part in (text.FIRST_STEP, text.WEIGHTS_TITLE, text.EVIDENCE_TITLE, text.PEERS_TITLE,
                 text.PIECES_AT_RISK, text.CAUTION_TITLE, "Press Cedar"):
        assert part in said, part


def test_an_unknown_case_is_said_to_be_unknown(app: Dash) -> None:
    detail = shown(app, "case-detail", **{"case-detail__id": "case-detail",
                                          "scheme__data": "dark", "address__search": "?flag=zz"})
    assert text.NO_SUCH_FLAG_TITLE in words(detail)


def test_the_list_of_pieces_can_be_taken(app: Dash) -> None:
    answer = callback(app, "case-file.data", **{
        "case-form__data": ["csv", 1], "address__search": "", "case-seen__data": None})
    data = answer["case-file"]["data"]
    assert data["filename"].endswith(".csv")
    assert data["content"].lstrip("\ufeff").startswith("piece_id,location")
    assert data["content"].count("\r\n") > 500


def test_presses_board_map_and_due_list(app: Dash) -> None:
    board = words(shown(app, "presses-board", address__search=""))
    assert all(press in board for press in PRESSES)
    assert board.index("Cedar") < board.index("Anvil")
    said = words(trends(app, "presses-platen"))
    assert "near right" in said and text.CAUTION_TITLE in said and "operator" in said
    assert "Hoeting" in said and text.ALREADY_OUT in said
    assert "late" in words(shown(app, "presses-due", tick__n_intervals=0))
    timers = words(shown(app, "presses-checks", tick__n_intervals=0))
    assert timers.index("Cedar") < timers.index("Dune")
    for part in ("Dwell", "−2.6 s (±0.4 s)", "±0.5 s", "Out of tolerance", "In tolerance",
                 text.CAUTION_TITLE):
        assert part in timers, part


def test_what_is_said_of_a_platen_is_in_the_unit_of_the_shop(tmp_path: Path) -> None:
    shop = build_shop(tmp_path)
    change_setting(shop.store, name="temperature_unit", value="f", by="test", at_us=END_US)
    shop.store.close()
    fahrenheit = create_app(shop.store.location, as_of_us=END_US)
    for said in (words(trends(fahrenheit, "presses-platen")),
                 words(shown(fahrenheit, "presses-due", tick__n_intervals=0))):
        assert "is beyond ±9.0\u202f°F" in said and "°C" not in said


def test_pulls_of_paper_are_shown_with_what_they_say() -> None:
    line = PullLine(where="P1, station A", method="paper", grips="lightly: near right", said="w",
                    state="uneven", state_words="Uneven", pulled_at_us=1_772_409_600_000_000)
    said = words(plain(pull_list((line,), Clock(ZoneInfo("Europe/Lisbon")))))
    for part in (text.PULLS_TITLE, "P1, station A", "lightly: near right", "Uneven", "Friedman"):
        assert part in said, part
    assert pull_list((), Clock(ZoneInfo("UTC"))) is None
    even = replace(line, state="even", state_words="Even")
    folded = words(plain(pull_list((line, even, even), Clock(ZoneInfo("UTC")))))
    assert text.MORE_IN_ORDER.format(n=2) in folded


def test_one_caution_is_said_for_all_checks_of_a_part(app: Dash) -> None:
    said = words(shown(app, "presses-checks", tick__n_intervals=0))
    assert said.count(text.CAUTION_TITLE) == 1


def test_healthy_platens_are_folded_away(app: Dash) -> None:
    assert " more in order" in words(shown(app, "presses-due", tick__n_intervals=0))


def test_a_platen_is_decided_on_by_the_shops_rule(app: Dash) -> None:
    said = words(trends(app, "presses-platen"))
    for part in (text.HOW_DECIDED, "simple acceptance, at most 50 % risk", "JCGM 106:2012",
                 "Mean out of tolerance (risk", text.DECIDED_WHAT["spread"]):
        assert part in said, part


def test_the_drift_panel_says_what_surveys_say_together(app: Dash) -> None:
    said = words(trends(app, "presses-platen", "?press=Cedar&platen=upper"))
    assert "EWMA of the surveys" in said and "once in 370 surveys, about 30 years" in said


def test_a_platen_has_advice_on_its_interval(app: Dash) -> None:
    said = words(trends(app, "presses-platen"))
    assert "Checked every 30 days. Advice (common practice, the setting stays): " in said


def test_a_sound_platen_has_no_caution_about_service(app: Dash) -> None:
    said = words(trends(app, "presses-platen", "?press=Dune&platen=upper"))
    assert "Dune" in said and text.CAUTION_TITLE not in said


def test_a_platen_that_is_not_there(app: Dash) -> None:
    assert text.NO_SURVEY_TITLE in words(trends(app, "presses-platen", "?press=Zebra"))


def test_an_empty_shop_says_what_to_do(empty_app: Dash) -> None:
    callback(empty_app, "floor-flags-ready.data", **{"floor-soon__n_intervals": 1})
    assert text.FLOOR_NONE_TITLE in words(shown(empty_app, "floor-cards", address__search=""))
    assert text.NOTHING_TITLE in words(trends(empty_app, "trends-yield"))
    assert trends(empty_app, "trends-rate") is None  # said once
    assert text.NOTHING_TITLE in words(shown(empty_app, "trends-ranking", address__search=""))
    assert text.CASES_EMPTY_TITLE in words(shown(empty_app, "cases-body", address__search=""))
    assert text.NO_PLATENS_TITLE in words(shown(empty_app, "presses-board", address__search=""))


def test_records_are_shown_as_text_never_as_markup(app: Dash) -> None:
    tree = trends(app, "trends-rate", "?kind=%3Cscript%3E")
    assert all("dangerously" not in key for props in props_of(tree) for key in props)


def test_no_wording_is_left_over() -> None:
    """Every sentence is said somewhere."""
    folder = Path(text.__file__).parent
    code = "".join(path.read_text(encoding="utf-8") for path in folder.parent.rglob("*.py"))
    for file in folder.glob("*.py"):
        names = re.findall(r"\b([A-Z][A-Z0-9_]*)\b(?=[^=\n]* = )", file.read_text(encoding="utf-8"))
        assert [n for n in names if len(re.findall(rf"\b{n}\b", code)) < 2] == [], file.name


def test_the_foot_of_the_trends_says_what_is_usual_and_by_whose_word(app: Dash) -> None:
    said = words(callback(app, "baseline-panel.children",
                          **{"baseline-panel__id": "x"})["baseline-panel"]["children"])
    assert "nobody froze a baseline" in said and "Proposed: 2 Mar 2026 to 10 Apr 2026" in said
    assert text.BASELINE_LOOKS_BACK in said and text.BASELINE_FREEZE not in said


def test_without_work_there_is_no_baseline_to_propose(empty_app: Dash) -> None:
    said = words(callback(empty_app, "baseline-panel.children",
                          **{"baseline-panel__id": "x"})["baseline-panel"]["children"])
    assert text.BASELINE_NO_WORK in said
