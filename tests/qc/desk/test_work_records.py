"""What became of a job and of a shift, counted anew from the rows."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.desk.correcting import WhichLook, correct
from qc.desk.floor import shift_period, shift_start
from qc.desk.job_record import job_record
from qc.desk.shift_record import shift_record
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, HOUR_US, parse_instant
from qc.errors import InputError, NotFound
from qc.store.inspections import add_inspections, read_findings, read_looks
from tests.dashboard.small_shop import END_US, START_US
from tests.qc.desk.case_shop import case_shop

LISBON = ZoneInfo("Europe/Lisbon")
BAD_JOB, GOOD_JOB, NOW_US = "J038C", "J001A", END_US + HOUR_US


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return case_shop(tmp_path_factory.mktemp("records"))


def rows_of(shop: Shop, **only: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    return (read_looks(shop.store, as_of_us=NOW_US, only=only),
            read_findings(shop.store, as_of_us=NOW_US, only=only))


# a job ---------------------------------------------------------------------------------------


def test_a_job_is_all_its_pieces_and_what_was_found(shop: Shop) -> None:
    looks, found = rows_of(shop, job=BAD_JOB)
    record = job_record(shop, BAD_JOB, as_of_us=NOW_US)
    assert [piece.piece_id for piece in record.pieces] == (
        looks.sort_values("pressed_at")["piece_id"].tolist())
    assert record.first is not None
    assert record.first.n_pieces == len(looks) > 0
    assert record.first.n_defective == found["look"].nunique() > 0
    assert {one.kind: one.n_pieces for one in record.defects} == (
        found["kind"].value_counts().to_dict())
    assert dict(record.now) == looks["disposition"].value_counts().to_dict()
    assert record.work["press"] == ("Cedar",) and record.work["location"] == ("back", "chest")
    assert record.ordered == 30 and record.n_releasable == (looks["disposition"] == "pass").sum()
    assert [one.press for one in record.platens] == ["Cedar"]


def test_flags_that_touch_the_job_are_named_with_its_pieces(shop: Shop) -> None:
    record = job_record(shop, BAD_JOB, as_of_us=NOW_US)
    assert any(one.flag.press == "Cedar" and one.n_pieces == record.n_pieces
               for one in record.flags)
    good = job_record(shop, GOOD_JOB, as_of_us=NOW_US)
    assert good.flags == () and {piece.status for piece in good.pieces} <= {"shipped", "held"}


def test_a_correction_and_pressing_again_are_in_the_record(tmp_path: Path) -> None:
    mended = case_shop(tmp_path)
    before = job_record(mended, BAD_JOB, as_of_us=NOW_US)
    held = [piece for piece in before.pieces if piece.disposition == "hold"]
    first = held[0]
    correct(mended, WhichLook(piece_id=first.piece_id, attempt=1, location=first.location,
                              stage="final", no_location=False),
            ("disposition=scrap",), why="seen again", by="Ada", at_us=NOW_US, seen_version=1)
    again = read_looks(mended.store, as_of_us=NOW_US, only={"piece_id": held[1].piece_id})
    row = again.iloc[0][["piece_id", "press", "fabric", "transfer", "location", "job"]].to_dict()
    look = row | {"attempt": 2, "stage": "final", "inspected_at": NOW_US, "pressed_at": NOW_US - 1,
                  "pieces": 1, "disposition": "pass"}
    wash = row | {"attempt": 1, "stage": "wash", "inspected_at": NOW_US, "pieces": 1,
                  "pressed_at": first.pressed_at_us, "disposition": "pass"}
    add_inspections(mended.store, pd.DataFrame([look, wash]), pd.DataFrame(
        [{"row": 1, "kind": "cracking", "zone": None, "extent_mm": None, "n": 1}]),
        by="test", at_us=NOW_US, source=None)
    after = job_record(mended, BAD_JOB, as_of_us=NOW_US)
    now = {(piece.piece_id, piece.location): piece for piece in after.pieces}
    assert now[first.piece_id, first.location].status == "scrapped"
    assert now[held[1].piece_id, held[1].location].status == "pressed_again_good"
    assert after.n_releasable == before.n_releasable + 1
    assert after.n_pieces == before.n_pieces  # a piece counts once
    assert [(one.look, one.n_pieces, one.n_defective) for one in after.late] == [("wash", 1, 1)]


def test_a_job_of_nobody_is_not_found(shop: Shop) -> None:
    with pytest.raises(NotFound, match="no job 'J999'"):
        job_record(shop, "J999", as_of_us=NOW_US)


# a shift -------------------------------------------------------------------------------------


@given(st.integers(0, 400 * 24 * 60), st.lists(st.integers(0, 1439), min_size=1, max_size=5,
                                               unique=True))
def test_shifts_fill_the_time_without_gap_or_overlap(minutes: int, starts: list[int]) -> None:
    """Over a whole year, with both changes of the clocks."""
    shop = SimpleNamespace(zone=LISBON, shift_minutes=tuple(sorted(starts)))
    moment = parse_instant("2026-01-01T00:00", shop.zone) + minutes * 60_000_000
    start, end = shift_period(shop, moment)  # type: ignore[arg-type]
    assert start <= moment < end <= start + 25 * HOUR_US
    assert shift_start(shop, end) == end  # type: ignore[arg-type]
    assert shift_period(shop, end - 1) == (start, end)  # type: ignore[arg-type]


def test_a_shift_is_the_pieces_pressed_in_it(shop: Shop) -> None:
    moment = START_US + 38 * DAY_US + 10 * HOUR_US
    record = shift_record(shop, moment_us=moment, as_of_us=NOW_US)
    looks, found = rows_of(shop)
    mine = looks[(looks["pressed_at"] >= record.start_us) & (looks["pressed_at"] < record.end_us)]
    theirs = found[found["look"].isin(mine.index)]
    assert record.total is not None and record.is_over
    assert record.total.n_pieces == len(mine) > 50
    assert record.total.n_defective == theirs["look"].nunique()
    assert record.n_defects == len(theirs) == sum(row.n_defects for row in record.defects)
    by_press = mine["press"].value_counts()
    assert {one.press: one.share.n_pieces for one in record.presses} == (
        by_press[by_press > 0].to_dict())
    held = mine.loc[mine["disposition"] == "hold", "piece_id"]
    assert [one.piece_id for one in record.waiting] == (
        mine.loc[held.index].sort_values("pressed_at")["piece_id"].tolist())
    assert any(flag.press == "Cedar" for flag in (*record.new_flags, *record.open_flags))
    assert [one.press for one in record.platens if one.state == "recalibrate"] == ["Cedar"]


def test_a_flag_is_new_in_the_shift_that_raised_it(shop: Shop) -> None:
    (flag, *_) = shift_record(shop, moment_us=END_US, as_of_us=NOW_US).open_flags
    raised = shift_record(shop, moment_us=flag.signalled_at_us, as_of_us=NOW_US)
    assert flag.id in [one.id for one in raised.new_flags]
    assert flag.id not in [one.id for one in raised.open_flags]


def test_an_empty_shift_and_one_to_come(shop: Shop) -> None:
    night = shift_record(shop, moment_us=START_US + 38 * DAY_US + 2 * HOUR_US, as_of_us=NOW_US)
    assert (night.total, night.waiting, night.now, night.presses) == (None, (), (), ())
    with pytest.raises(InputError, match="has not begun"):
        shift_record(shop, moment_us=NOW_US + 2 * DAY_US, as_of_us=NOW_US)
