"""The Cases page through the real app on a real store: steps over HTTP, words, figure."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from dash import Dash

from dashboard import create_app, text
from dashboard.figures.action_check import check_figure
from dashboard.formats import Clock, in_sentence
from dashboard.pages.cases.check import check_panel
from dashboard.pages.cases.layout import Listed, case_list
from dashboard.pages.cases.pieces import TAKES
from dashboard.pages.cases.work import Doing, done_words, still_held
from dashboard.pages.records.asking import asked_of
from dashboard.text import cases as case_text
from dashboard.view import RecordsView, read_view
from qc.desk.case_list import cases_now
from qc.desk.case_steps import StepWanted, take_step
from qc.desk.cases import by_status, case_of
from qc.desk.flags import current_flags
from qc.desk.looks import looks_counted
from qc.desk.shop import Shop, open_shop
from qc.domain.action_checks import ActionCheck, Phase
from qc.domain.cases import TEXTS, CaseFile
from qc.domain.instants import DAY_US
from tests.dashboard.asking import callback, plain, props_of, words
from tests.qc.desk.case_shop import DONE_US, case_shop

FAR_US = 10**16


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A store file, and the flag of its bad press."""
    folder = tmp_path_factory.mktemp("made")
    shop = case_shop(folder, surveyed=False)
    (flag,) = current_flags(shop, as_of_us=DONE_US).flags
    shop.store.close()
    return folder / "shop.db", flag.id


@pytest.fixture
def mine(made: tuple[Path, str], tmp_path: Path) -> Iterator[Shop]:
    opened = open_shop(str(shutil.copy(made[0], tmp_path / "shop.db")))
    yield opened
    opened.store.close()


@pytest.fixture
def live(mine: Shop) -> Dash:
    ahead = time.time_ns() // 1000 - DONE_US
    return create_app(mine.store.location, clock_us=lambda: time.time_ns() // 1000 - ahead)


@pytest.fixture
def flag_id(made: tuple[Path, str]) -> str:
    return made[1]


def detail(app: Dash, flag_id: str) -> Any:
    return callback(app, "case-detail.children", **{
        "case-detail__id": "case-detail", "scheme__data": "light",
        "address__search": f"?flag={flag_id}"})["case-detail"]["children"]


def listed(app: Dash) -> str:
    return words(callback(app, "cases-body.children", address__search="")["cases-body"]["children"])


def test_a_flag_that_another_explains_is_folded_away_until_somebody_takes_it_up(
    mine: Shop
) -> None:
    found = current_flags(mine, as_of_us=DONE_US)
    flag, = found.flags
    part = replace(flag, id="part", part_of=flag.id, ended_at_us=DONE_US)

    def cards(cases: dict[str, CaseFile]) -> list[Any]:
        listed = Listed(flags=replace(found, flags=(flag, part)), cases=cases, checks={},
                        now_us=DONE_US)
        return [plain(card) for card in case_list(listed, flag.id, Clock(mine.zone))]

    shown, folded = cards({})
    assert case_text.STATE_NEW in words(shown)
    assert words(folded).startswith(case_text.EXPLAINED_LIST.format(n=1))
    assert case_text.STATE_EXPLAINED in words(folded) and case_text.STATE_NEW not in words(folded)
    case = take_step(mine, StepWanted(flag_id=flag.id, step="acknowledge"), by="ann",
                     at_us=DONE_US)
    both = cards({"part": case})
    assert len(both) == 2 and case_text.STATE_EXPLAINED not in words(both)  # nothing folded away


def test_a_new_flag_offers_every_step_and_the_causes_in_order(live: Dash, flag_id: str) -> None:
    tree = detail(live, flag_id)
    said = words(tree)
    for part in (case_text.WORK_TITLE, case_text.LOG_NOBODY, case_text.CHECK_NONE,
                 case_text.STATE_NEW, case_text.CALL_FIRST.format(n="")):
        assert part in said, part
    buttons = [props["id"]["step"] for props in props_of(tree)
               if isinstance(props.get("id"), dict) and props["id"].get("type") == "case-do"]
    assert buttons == ["acknowledge", "contain", "cause", "action", "owner", "due", "note", "close"]
    choice = next(props for props in props_of(tree) if props.get("id") == "case-cause")["data"]
    assert choice[0]["items"][0]["value"] == "K004" and len(choice[1]["items"]) == 2
    assert case_text.STATE_NEW in listed(live)


def test_steps_taken_elsewhere_show_and_a_cause_found_here_comes_first(
    live: Dash, mine: Shop, flag_id: str
) -> None:
    for step, told in (("cause", "K013"), ("action", "sent back"), ("close", "")):
        take_step(mine, StepWanted(flag_id=flag_id, step=step, text=told), by="Bo", at_us=DONE_US)
    said = listed(live)
    assert text.CASES_NONE_TITLE in said and case_text.CLOSED_LIST.format(n=1) in said
    closed = detail(live, flag_id)
    assert case_text.BUTTONS["reopen"] in words(closed) and "sent back" in words(closed)
    take_step(mine, StepWanted(flag_id=flag_id, step="reopen", text="again"), by="Bo",
              at_us=DONE_US + 1)
    assert len(cases_now(mine, as_of_us=FAR_US)) == 1


def test_the_list_says_of_each_action_whether_it_worked(
    live: Dash, mine: Shop, flag_id: str
) -> None:
    assert case_text.CHECK_TITLE not in listed(live)
    take_step(mine, StepWanted(flag_id=flag_id, step="action", text="pad changed"), by="Bo",
              at_us=DONE_US)
    said = listed(live)
    assert case_text.CHECK_TITLE in said and case_text.check_head("too_early") in said


def test_a_closed_case_says_what_is_still_on_hold_and_how_it_is_released(
    live: Dash, mine: Shop, flag_id: str
) -> None:
    for step, told in (("contain", ""), ("cause", "K013"), ("action", "sent back")):
        take_step(mine, StepWanted(flag_id=flag_id, step=step, text=told), by="Bo", at_us=DONE_US)
    assert case_text.CLOSE_EARLY in words(detail(live, flag_id))
    take_step(mine, StepWanted(flag_id=flag_id, step="close"), by="Bo", at_us=DONE_US)
    tree = detail(live, flag_id)
    case = case_of(mine, flag_id, as_of_us=DONE_US + 1)
    n = by_status(case.pieces)["held"]
    assert n > 1 and still_held(n) in words(tree) and case_text.RELEASE in words(tree)
    (there,) = [props["href"] for props in props_of(tree)
                if props.get("children") == case_text.TO_HELD]
    found = looks_counted(mine, asked_of(read_view(RecordsView, there.removeprefix("/records"))),
                          as_of_us=FAR_US)
    assert found.n_looks >= n
    doing = Doing(case=None, causes=(), n_to_hold=0, now_us=0, n_held=n, is_early=True)
    said = done_words("close", doing)
    for part in (case_text.CLOSED_EARLY, still_held(n), case_text.RELEASE):
        assert part in said and part not in done_words("note", doing)
    assert done_words("close", replace(doing, n_held=0, is_early=False)) == (
        case_text.DONE_WORDS["close"])


def test_a_step_without_its_words_is_asked_for_them_in_the_page_s_own() -> None:
    for step in (*TEXTS, "due"):
        assert case_text.asked_for(step, "  ") and not case_text.asked_for(step, "x")
    assert not case_text.asked_for("acknowledge", "") and not case_text.asked_for("close", "")


def test_each_piece_leads_to_its_looks(live: Dash, mine: Shop, flag_id: str) -> None:
    pieces = {piece.piece_id for piece in case_of(mine, flag_id, as_of_us=DONE_US).pieces}
    links = {words(props["children"]): props["href"] for props in props_of(detail(live, flag_id))
             if "href" in props and words(props.get("children")) in pieces}
    assert links
    for piece, there in links.items():
        asked = asked_of(read_view(RecordsView, there.removeprefix("/records")))
        assert asked.levels == (("piece", piece),)
    assert looks_counted(mine, asked, as_of_us=FAR_US).n_looks >= 1


def test_thousands_are_set_apart_in_one_way() -> None:
    assert in_sentence("held pieces: 2,066 (besides 1,234,567 shipped)") == (
        "held pieces: 2\u202f066 (besides 1\u202f234\u202f567 shipped)")
    assert in_sentence("3.8 % of pieces, 5.6 °C below, 13.5 s where 2 sit") == (
        "3.8\u202f% of pieces, 5.6\u202f°C below, 13.5\u202fs where 2 sit")
    assert in_sentence("P1,200C and 3,50 and 1,2345") == "P1\u202f200C and 3,50 and 1,2345"


def test_the_list_is_taken_in_every_form(live: Dash, flag_id: str) -> None:
    for form in TAKES:
        given = callback(live, "case-file.data", **{
            "case-form__data": [form, 1], "address__search": f"?flag={flag_id}",
            "case-seen__data": [flag_id, 0]})
        assert given["case-file"]["data"]["filename"] == f"hold-{flag_id}.{form}"
    for wrong in (None, ["exe", 1]):
        assert callback(live, "case-file.data", **{
            "case-form__data": wrong, "address__search": "", "case-seen__data": None}) == {}


def test_a_page_that_looks_back_takes_no_step(app: Dash) -> None:
    said = words(callback(app, "case-detail.children", **{
        "case-detail__id": "case-detail", "scheme__data": "light",
        "address__search": ""})["case-detail"]["children"])
    assert case_text.LOOKS_BACK in said and case_text.BUTTONS["contain"] not in said


def check(**changes: Any) -> ActionCheck:
    def phase(name: str, value: float, at: int, n: int = 400) -> Phase:
        until_us = DONE_US + at * DAY_US
        return Phase(name=name, since_us=until_us - DAY_US, until_us=until_us, n_pieces=n,
                     value=value, low=value / 2, high=value * 2, usual=0.02)

    given = {
        "verdict": "came_back", "since_us": DONE_US, "seen": 3.0, "usual": 2.8, "raised": 9.1,
        "n_pieces": 140, "n_more": 0, "method": "m",
        "phases": (phase("before", 0.02, -9), phase("during", 0.09, 0), phase("after", 0.021, 1)),
    }
    return ActionCheck(**(given | changes))


def test_the_check_is_a_sentence_with_the_figures_of_the_three_stretches(mine: Shop) -> None:
    tree = plain(check_panel(check(), "lifted edge", "light", Clock(mine.zone)))
    said = words(tree)
    assert "Came back: 3 where 2.8 usual and 9.1 at the raised rate, on 140 pieces." in said
    assert "9.0\u202f%" in said and "4.5\u202f% to 18.0\u202f%" in said and "Wald (1945)" in said
    figure = check_figure(check(), "dark")
    seen, usual = figure.data
    assert list(seen.x) == pytest.approx([2.1, 9.0, 2.0])
    assert list(seen.error_x.array) == pytest.approx([2.1, 9.0, 2.0])
    assert list(seen.y) == [case_text.PHASE_WORDS[name] for name in ("after", "during", "before")]
    assert list(usual.x) == pytest.approx([2.0] * 3)


@pytest.mark.parametrize(("changes", "part"), [
    ({"verdict": "too_early", "n_more": 120, "n_pieces": 0},
     "Too early to tell: no piece pressed since; about 120 more pieces needed if it is back"),
    ({"verdict": "not_back", "seen": 9.0}, "Not back: 9 where 2.8 usual"),
    ({"verdict": "no_answer", "reason": "this is not measured", "phases": ()},
     "Cannot be told: this is not measured."),
    ({"is_count": False, "unit": "mm", "seen": 0.1, "usual": 0.0, "raised": 5.0},
     "Came back: +0.1\u202fmm where +0.0\u202fmm usual and +5.0\u202fmm during the fault"),
    ({"is_count": False, "unit": "share", "seen": -0.21, "usual": 0.0, "raised": -0.2,
      "verdict": "not_back"}, "Not back: -21.0\u202f% where +0.0\u202f% usual and -20.0\u202f%"),
])
def test_every_verdict_has_its_words(mine: Shop, changes: dict[str, Any], part: str) -> None:
    said = words(plain(check_panel(check(**changes), "x", "light", Clock(mine.zone))))
    assert part in said
