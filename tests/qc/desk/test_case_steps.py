"""Cases on a real shop: steps, pieces held, where pieces are, and the check of the action."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qc.desk.action_checks import action_check
from qc.desk.case_list import list_cases
from qc.desk.case_steps import StepWanted, case_file, causes_here, take_step
from qc.desk.cases import by_status, case_of
from qc.desk.flags import current_flags
from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import Shop, open_shop
from qc.domain.action_checks import ActionCheck, check_sentence
from qc.domain.cases import FALSE_FLAG, OTHER_CAUSES, CaseFile
from qc.domain.flags import Flag
from qc.domain.instants import DAY_US, HOUR_US
from qc.errors import InputError, NotFound
from qc.store.cases import NewStep, add_step
from qc.store.checking import check_store
from qc.store.corrections import looks_at
from qc.store.inspections import add_inspections
from qc.store.records import add_records
from tests.dashboard.small_shop import END_US, START_US
from tests.qc.desk.case_shop import DONE_US, LATER_US, SHIPPED_US, case_shop, go_on


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    case_shop(folder, surveyed=False).store.close()
    return folder / "shop.db"


@pytest.fixture
def shop(made: Path, tmp_path: Path) -> Shop:
    """A shop of this test alone."""
    return open_shop(str(shutil.copy(made, tmp_path / "shop.db")))


def flag_of(shop: Shop, as_of_us: int = END_US) -> Flag:
    return next(flag for flag in current_flags(shop, as_of_us=as_of_us).flags
                if flag.characteristic == "lifted_edge" and flag.factor.level == "Cedar")


def take(shop: Shop, flag_id: str, step: str, text: str = "", *, at_us: int = DONE_US,
         by: str = "Ana", when: str = "", seen: int | None = None) -> CaseFile:
    wanted = StepWanted(flag_id=flag_id, step=step, text=text, when=when, seen=seen)
    return take_step(shop, wanted, by=by, at_us=at_us)


def test_a_flag_goes_through_to_a_closed_case(shop: Shop) -> None:
    flag = flag_of(shop)
    take(shop, flag.id, "acknowledge")
    take(shop, flag.id, "contain")
    take(shop, flag.id, "cause", "K005")
    take(shop, flag.id, "action", "heater bank replaced")
    take(shop, flag.id, "owner", "Bo")
    take(shop, flag.id, "due", "2026-04-20")
    made = take(shop, flag.id, "close", at_us=DONE_US + HOUR_US)
    assert [step.step for step in made.steps] == [
        "open", "acknowledge", "contain", "cause", "action", "owner", "due", "close"]
    assert made.cause == {"source": "trade", "code": "K005", "defect": "lifted_edge",
                          "words": "cold spot in the platen"}
    assert shop.iso(made.due_us or 0) == "2026-04-20T23:59:59+01:00"
    left = [one.id for one in current_flags(shop, as_of_us=DONE_US + HOUR_US).flags]
    assert flag.id not in left
    assert flag.id in [one.id for one in current_flags(shop, as_of_us=DONE_US + HOUR_US - 1).flags]
    take(shop, flag.id, "reopen", "it lifts again", at_us=DONE_US + 2 * HOUR_US)
    again = current_flags(shop, as_of_us=DONE_US + 2 * HOUR_US).flags
    assert flag.id in [one.id for one in again]
    assert check_store(shop.store) == []


def test_what_joins_a_flag_after_its_case_was_closed_is_not_hidden(tmp_path: Path) -> None:
    """A platen's case is closed on day 24; on day 28 the edges that it lifts are signalled."""
    shop = case_shop(tmp_path)
    day = START_US + 24 * DAY_US
    flag = current_flags(shop, as_of_us=day).flags[0]
    assert (flag.kind, flag.factor.level, flag.also) == ("calibration", "Cedar", ())
    false = OTHER_CAUSES[FALSE_FLAG]
    for step, text in (("cause", false), ("action", "probed again"), ("close", "")):
        take(shop, flag.id, step, text, at_us=day + HOUR_US)
    assert current_flags(shop, as_of_us=day + 2 * HOUR_US).flags == ()
    back = current_flags(shop, as_of_us=END_US).flags[0]
    assert (back.id, back.also) == (flag.id, ("lifted_edge",))
    assert "Its case was closed 26 Mar 2026 01:00; since then more" in back.message
    take(shop, flag.id, "reopen", "the edges lift", at_us=END_US)
    assert "was closed" not in current_flags(shop, as_of_us=END_US).flags[0].message


def test_containing_holds_what_is_still_in_the_house(shop: Shop) -> None:
    flag = flag_of(shop)
    before = by_status(case_of(shop, flag.id, as_of_us=DONE_US).pieces)
    assert before["shipped"] > 50 and before["in_house"] > 50 and before["held"] > 10
    made = take(shop, flag.id, "contain")
    step = made.newest("contain")
    assert step and step.said["n_held"] == before["in_house"] == step.said["n_pieces"]
    pieces = case_of(shop, flag.id, as_of_us=DONE_US).pieces
    after = by_status(pieces)
    assert after["in_house"] == 0 and after["held"] == before["held"] + before["in_house"]
    assert after["shipped"] == before["shipped"] and sum(after.values()) == sum(before.values())
    held = next(piece for piece in pieces if piece.status == "held" and not piece.defects)
    (look,) = looks_at(shop.store, held.piece_id)
    assert (look["disposition"], look["version"], look["changed_by"]) == ("hold", 2, "Ana")
    assert flag.id in look["why"]
    again = take(shop, flag.id, "contain", at_us=DONE_US + 1).newest("contain")
    assert again and again.said["n_held"] == 0


def test_shipped_pieces_left_before_the_shipment_and_not_after(shop: Shop) -> None:
    pieces = case_of(shop, flag_of(shop).id, as_of_us=DONE_US).pieces
    for piece in pieces:
        if piece.status == "shipped":
            assert piece.shipped_at_us == SHIPPED_US > piece.pressed_at_us
        else:
            assert piece.shipped_at_us is None
    early = case_of(shop, flag_of(shop).id, as_of_us=SHIPPED_US - 1)
    assert by_status(early.pieces)["shipped"] == 0


def test_shipments_come_with_the_jobs_file(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "shipped.csv"
    file.write_text("job,ordered,shipped_at\nJ036C,30,2026-04-10T15:30\nJ037C,30,\n")
    ahead = tmp_path / "ahead.csv"
    ahead.write_text("job,shipped_at\nJ037C,2031-01-01T15:30\n")
    report = load_files(shop, LoadRequest(paths=(str(file), str(ahead))), by="Bo", at_us=DONE_US)
    assert [(one.kind, one.n_loaded, one.n_rejected) for one in report.files] == [
        ("jobs", 1, 0), ("jobs", 0, 1)]
    pieces = case_of(shop, flag_of(shop).id, as_of_us=DONE_US).pieces
    left = {piece.job for piece in pieces if piece.status == "shipped"}
    assert "J036C" in left and "J037C" not in left


def test_a_piece_pressed_again_scrapped_or_at_a_customer(shop: Shop) -> None:
    flag = flag_of(shop)
    pieces = [p for p in case_of(shop, flag.id, as_of_us=END_US).pieces if p.status == "in_house"]
    good, burnt, waits, gone = pieces[:4]
    rows = [(good, 2, "final", "pass"), (burnt, 2, "final", "scrap"),
            (waits, 2, "final", "press_again"), (gone, 1, "customer", "pass")]
    add_inspections(shop.store, pd.DataFrame([{
        "piece_id": piece.piece_id, "attempt": attempt, "stage": stage, "location": piece.location,
        "press": piece.press, "fabric": piece.fabric, "transfer": piece.transfer, "pieces": 1,
        "job": piece.job, "inspected_at": END_US + 60_000_000, "pressed_at": piece.pressed_at_us
        + (attempt - 1) * 60_000_000, "disposition": disposition}
        for piece, attempt, stage, disposition in rows]),
        pd.DataFrame({"row": np.zeros(0, np.int64), "kind": [], "zone": [], "extent_mm": [],
                      "n": []}), by="test", at_us=DONE_US, source=None)
    now = {p.piece_id: p for p in case_of(shop, flag.id, as_of_us=DONE_US).pieces}
    assert [now[piece.piece_id].status for piece in pieces[:4]] == [
        "pressed_again_good", "scrapped", "in_house", "shipped"]
    assert now[gone.piece_id].shipped_at_us is None and now[waits.piece_id].disposition == (
        "press_again")
    take(shop, flag.id, "contain")
    now = {p.piece_id: p for p in case_of(shop, flag.id, as_of_us=DONE_US).pieces}
    assert [now[piece.piece_id].status for piece in pieces[:4]] == [
        "held", "scrapped", "held", "shipped"]


def checked(shop: Shop, flag_id: str, as_of_us: int) -> ActionCheck:
    case = case_file(shop, flag_id)
    assert case
    made = action_check(shop, case, as_of_us=as_of_us)
    assert made
    return made


@pytest.mark.parametrize(("bad", "verdict"), [(False, "came_back"), (True, "not_back")])
def test_the_tool_sees_by_itself_whether_the_rate_came_back(
    shop: Shop, bad: bool, verdict: str
) -> None:
    flag = flag_of(shop)
    take(shop, flag.id, "action", "heater bank replaced")
    early = checked(shop, flag.id, DONE_US)
    assert early.verdict == "too_early" and early.n_pieces == 0
    assert check_sentence(early).startswith("too early to tell: no piece pressed since; about ")
    go_on(shop, bad=bad)
    made = checked(shop, flag.id, LATER_US)
    assert made.verdict == verdict, check_sentence(made)
    assert made.n_pieces == 500 and made.n_more == 0
    assert made.usual < made.raised and [phase.name for phase in made.phases] == [
        "before", "during", "after"]
    before, during, after = made.phases
    assert during.low > before.high and (after.high < during.value) is not bad
    words = check_sentence(made)
    assert f"{made.seen:.0f} where {made.usual:.1f} usual" in words
    entry = list_cases(shop, as_of_us=LATER_US)[0]
    assert entry.check == made or entry.check.verdict == verdict  # type: ignore[union-attr]


def test_an_action_of_the_past_counts_from_when_it_was_taken(shop: Shop) -> None:
    flag = flag_of(shop)
    go_on(shop, bad=False)
    made = take(shop, flag.id, "action", "pad changed", at_us=LATER_US, when="2026-04-15T12:00")
    assert shop.iso(made.done_us or 0) == "2026-04-15T12:00:00+01:00"
    n = checked(shop, flag.id, LATER_US).n_pieces
    assert 300 < n < 500
    with pytest.raises(InputError, match="which is still to come"):
        take(shop, flag.id, "action", "later", when="2027-01-01")


def test_nothing_to_check_without_an_action_or_where_nothing_was_wrong(shop: Shop) -> None:
    flag = flag_of(shop)
    made = take(shop, flag.id, "acknowledge")
    assert action_check(shop, made, as_of_us=DONE_US) is None
    take(shop, flag.id, "action", "looked", at_us=DONE_US)
    made = take(shop, flag.id, "cause", "agreed change: new film from March")
    assert made.cause == {"source": "agreed_change", "words": "new film from March"}
    assert action_check(shop, made, as_of_us=DONE_US) is None


def test_closed_cases_teach_the_order_of_causes(shop: Shop) -> None:
    flag = flag_of(shop)
    first = causes_here(shop, flag)[0]
    assert first.n_found == 0 and first.code != "K013"
    take(shop, flag.id, "cause", "Adhesive old or damaged (past its date, stored hot)")
    take(shop, flag.id, "action", "lot sent back")
    assert causes_here(shop, flag)[0] == first
    take(shop, flag.id, "close")
    ranked = causes_here(shop, flag)
    # behind the uneven press that the place on the print speaks for, before all that it does not
    assert [one.code for one in ranked[:2]] == ["K004", "K013"] and ranked[1].n_found == 1


def test_own_words_found_again_count_together(shop: Shop) -> None:
    flag = flag_of(shop)
    take(shop, flag.id, "cause", "Wet sleeve board")
    take(shop, flag.id, "action", "dried")
    take(shop, flag.id, "close")
    another = NewStep(flag=replace(flag, id="another"), step="acknowledge", said={})
    add_step(shop.store, another, by="Bo", at_us=DONE_US)
    made = take(shop, "another", "cause", "wet SLEEVE board")
    assert made.cause and made.cause["words"] == "Wet sleeve board"
    assert [one.words for one in causes_here(shop, flag) if one.cause is None] == [
        "Wet sleeve board"]


def test_a_setting_has_the_causes_of_its_consequence_behind_what_was_found(shop: Shop) -> None:
    flag = replace(flag_of(shop), id="dwell", kind="setting", characteristic="dwell_s",
                   direction="down", also=("incomplete_cure", "lifted_edge"))
    add_step(shop.store, NewStep(flag=flag, step="acknowledge", said={}), by="Bo", at_us=DONE_US)
    assert causes_here(shop, flag)[0].words == "dwell short"
    for step, told in (("cause", "timer sticks"), ("action", "timer changed"), ("close", "")):
        take(shop, "dwell", step, told)
    ranked = causes_here(shop, flag)
    assert [one.words for one in ranked[:1]] == ["timer sticks"] and ranked[1].cause
    assert {one.cause.defect for one in ranked if one.cause} == {"incomplete_cure"}


def test_a_flag_that_is_not_there_takes_no_step(shop: Shop) -> None:
    with pytest.raises(NotFound, match="there is no flag 'zz'"):
        take(shop, "zz", "acknowledge")


def test_a_drifting_platen_is_checked_by_its_next_survey(tmp_path: Path) -> None:
    shop = case_shop(tmp_path)
    flag = next(one for one in current_flags(shop, as_of_us=END_US).flags
                if one.kind == "calibration")
    take(shop, flag.id, "action", "offset set anew")
    made = checked(shop, flag.id, DONE_US)
    assert made.verdict == "too_early" and "one survey decides it" in check_sentence(made)
    for day, offset, verdict in ((1, -7.0, "not_back"), (2, 0.2, "came_back")):
        survey(shop, at_us=DONE_US + day * DAY_US, offset_c=offset)
        made = checked(shop, flag.id, DONE_US + day * DAY_US + HOUR_US)
        assert made.verdict == verdict, check_sentence(made)


def survey(shop: Shop, *, at_us: int, offset_c: float) -> None:
    rows = [{"survey_id": f"Cedar-{at_us}", "platen": "upper", "press": "Cedar",
             "measured_at": at_us, "setpoint_c": 150.0, "row": row, "col": col,
             "instrument": "probe-1", "reading_c": 150 + offset_c, "state": "as_left"}
            for row in (1, 2, 3) for col in (1, 2, 3)]
    add_records(shop.store, "platen_readings", pd.DataFrame(rows), by="test", at_us=at_us,
                source=None)


def test_overdue_cases_come_first(shop: Shop) -> None:
    flags = current_flags(shop, as_of_us=END_US).flags
    take(shop, flags[0].id, "owner", "Bo")
    if len(flags) > 1:
        take(shop, flags[1].id, "due", "2026-04-11")
    entries = list_cases(shop, as_of_us=DONE_US + 5 * DAY_US)
    assert entries[0].is_overdue is (len(flags) > 1)
