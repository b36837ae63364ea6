"""Streams grown slot by slot hold what one count over everything gives, also beyond the buffer."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from qc.domain.kinds import ZONES
from qc.monitor.blocks import distinct
from qc.monitor.buffer import ROOM, WINDOW
from qc.monitor.evidence import SLOT_US, Coded, Evidence, Floats, sum_by
from qc.monitor.factors import FACTORS
from qc.monitor.numbering import Reader
from qc.monitor.slots import SlotFeed
from qc.monitor.streams import JUDGED_SHARE, JUDGED_US, Period, StreamCounts
from qc.monitor.usual import plain_rates
from tests.qc.monitor.long_shop import long_shop


@dataclass(frozen=True, kw_only=True)
class Known:
    """A change that is taken as known."""

    kind: int
    row: int
    ratio: float
    zone: int | None = None
    start: int = 0
    end: int | None = None


def grown(evidence: Evidence, *, refit_at: tuple[int, ...], changes: list[Known] | None = None,
          upto: int | None = None) -> tuple[StreamCounts, Reader]:
    streams = StreamCounts(evidence.kinds, changes or [], (Period(),))
    feed, reader = SlotFeed(evidence), Reader(evidence, streams.numbers)
    for i, slot in enumerate(feed.slots[:upto]):
        streams.advance(feed.entries(int(slot)), reader)
        if i in refit_at:
            streams.refit(0)
    return streams, reader


@pytest.fixture(scope="module")
def shop() -> Evidence:
    return long_shop(3)


@pytest.fixture(scope="module")
def streams(shop: Evidence) -> tuple[StreamCounts, Reader]:
    counts, reader = grown(shop, refit_at=(40, 200, 380))
    counts.refit(0)
    return counts, reader


def row_of(streams: StreamCounts, factor: str, level: str) -> int:
    return streams.rows.number[(factor, level)]


def test_the_only_press_is_held_against_itself(shop: Evidence) -> None:
    """Without its own pieces there is nothing to fit usual rates to; of three presses there is."""
    alone = Coded(codes=np.zeros(len(shop.n), dtype=np.int64), levels=("P1",))
    counts, _ = grown(replace(shop, factors={**shop.factors, "press": alone}), refit_at=(40, 200))
    press, whole = (row_of(counts, *one) for one in (("press", "P1"), ("shop", "shop")))
    expected = counts.buffer.expected_total
    np.testing.assert_allclose(expected[:, press], expected[:, whole])
    of_three, _ = grown(shop, refit_at=(40, 200))
    assert of_three.rate_at[row_of(of_three, "press", "P1")] > 0 == counts.rate_at[press]


def test_the_shop_outgrew_the_buffer(streams: tuple[StreamCounts, Reader]) -> None:
    counts, _ = streams
    assert counts.n_slots > ROOM
    assert counts.base == WINDOW
    assert len(counts.past.row) > 0


def test_what_was_seen_is_what_was_found(
    shop: Evidence, streams: tuple[StreamCounts, Reader]
) -> None:
    counts, _ = streams
    for factor, level in (("press", "P2"), ("operator", "bo"), ("transfer_lot", "T3"),
                          ("shop", "shop"), ("location", "chest")):
        coded = shop.factors[factor]
        mine = coded.codes[shop.fault_unit] == coded.levels.index(level)
        seen = sum_by(shop.fault_kind[mine], shop.fault_n[mine], len(shop.kinds))
        row = row_of(counts, factor, level)
        assert counts.buffer.observed_total[:, row] == pytest.approx(seen)


def test_faults_in_a_zone_are_kept_by_zone(
    shop: Evidence, streams: tuple[StreamCounts, Reader]
) -> None:
    counts, _ = streams
    coded = shop.factors["press"]
    row = counts.zone_row[row_of(counts, "press", "P1")]
    for zone in ("top_left", "bottom_right"):
        mine = (coded.codes[shop.zoned_unit] == coded.levels.index("P1")) & (
            shop.zoned_zone == ZONES.index(zone))
        seen = sum_by(shop.zoned_kind[mine], shop.zoned_n[mine], len(shop.kinds))
        assert counts.buffer.zoned_total[:, row, ZONES.index(zone)] == pytest.approx(seen)


def test_what_was_expected_is_pieces_times_rates(
    shop: Evidence, streams: tuple[StreamCounts, Reader]
) -> None:
    counts, reader = streams
    cell = reader.cell(shop.cell)
    for factor, level in (("shop", "shop"), ("press", "P3"), ("fabric", "rib")):
        coded, row = shop.factors[factor], row_of(counts, factor, level)
        mine = coded.codes == coded.levels.index(level)
        rate = counts.rates.rate[counts.rate_at[row], cell[mine]]
        expected = (shop.n[mine][:, None] * rate).sum(axis=0)
        assert counts.buffer.expected_total[:, row] == pytest.approx(expected)


def test_the_shop_as_a_whole_is_as_usual(
    shop: Evidence, streams: tuple[StreamCounts, Reader]
) -> None:
    counts, _ = streams
    row = row_of(counts, "shop", "shop")
    assert counts.buffer.expected_total[:, row] == pytest.approx(
        counts.buffer.observed_total[:, row], rel=0.05)
    assert counts.usual is not None
    plain = plain_rates(counts.usual, counts.cell_codes)
    assert counts.rates.rate[0][:, 0] == pytest.approx(plain[:, 0])


def test_a_level_is_measured_by_the_others(
    shop: Evidence, streams: tuple[StreamCounts, Reader]
) -> None:
    counts, _ = streams
    row = row_of(counts, "press", "P1")
    level = counts.rate_at[row]
    own = counts.rates.rest_n[0] - counts.rates.rest_n[level]
    coded = shop.factors["press"]
    pieces = shop.n[coded.codes == coded.levels.index("P1")].sum() - judged(counts, row).sum()
    assert own[0].sum() == pytest.approx(pieces)


def judged(counts: StreamCounts, row: int, but: Known | None = None) -> Floats:
    """Pieces of a row that are still being judged, block by block; without those of a change."""
    b = counts.blocks
    mine = (b.row[:, counts.row_factor[row]] == row) & (b.pressed >= counts.first_judged())
    if but is not None:
        mine &= ~counts.touched(but)
    return b.n[mine]


def test_the_newest_work_is_judged_before_it_is_usual(shop: Evidence) -> None:
    counts, _ = grown(shop, refit_at=(60,))
    starts = np.array(counts.slot_start_us)
    at = counts.first_judged()
    assert starts[-1] - starts[at] <= JUDGED_US < starts[-1] - starts[at - 1]
    young, _ = grown(shop, refit_at=(8,), upto=9)
    starts = np.array(young.slot_start_us)
    assert starts[-1] - starts[young.first_judged()] <= (starts[-1] - starts[0]) * JUDGED_SHARE


def test_a_period_somebody_decided_on_counts_to_its_end(shop: Evidence) -> None:
    start = int(shop.pressed_us.min()) // SLOT_US * SLOT_US
    period = Period(from_us=start, until_us=None)
    streams = StreamCounts(shop.kinds, [], (Period(), period))
    feed, reader = SlotFeed(shop), Reader(shop, streams.numbers)
    for slot in feed.slots[:60]:
        streams.advance(feed.entries(int(slot)), reader)
    streams.refit(1)
    assert streams.first_judged() == streams.n_slots
    assert streams.rates.rest_n[0, 0].sum() == pytest.approx(streams.n_pieces)


def test_what_seldom_is_missing_is_needed_to_tell_causes_apart(shop: Evidence) -> None:
    counts, _ = grown(shop, refit_at=(40,), upto=60)
    lot = FACTORS.index("transfer_lot")
    assert counts.told().all() == (counts.blocks.row[:, lot] >= 0).all()
    for at, told in ((3, False), (slice(None), True)):  # the second: a shop that keeps no lots
        row = counts.blocks.row.copy()
        row[at, lot] = -1
        counts.store.blocks = replace(counts.blocks, row=row)
        assert bool(counts.told()[3]) == told


def test_clumps_are_the_squares_of_what_is_expected_of_a_job(
    shop: Evidence, streams: tuple[StreamCounts, Reader]
) -> None:
    counts, _ = streams
    b, row = counts.blocks, row_of(counts, "shop", "shop")
    slot = counts.n_slots - 3
    at = np.flatnonzero((b.pressed == slot) & (b.seen == slot))
    late = np.flatnonzero((b.pressed == slot) & (b.seen > slot))
    squares = 0.0
    for some in (at, *(late[b.seen[late] == s] for s in np.unique(b.seen[late]))):
        expected = counts.block_expected(some, 1, FACTORS.index("shop"))
        _, job = np.unique(b.job[some], return_inverse=True)
        squares += float((sum_by(job, expected) ** 2).sum())
    assert counts.buffer.clump[1, row, slot - counts.base] == pytest.approx(squares)


@pytest.mark.parametrize("zone", [None, 4])
def test_a_known_change_is_expected_and_does_not_become_usual(
    shop: Evidence, zone: int | None
) -> None:
    plain, _ = grown(shop, refit_at=(300,))
    row = row_of(plain, "press", "P2")
    change = Known(kind=1, row=row, ratio=3.0, zone=zone, start=320)
    told, _ = grown(shop, refit_at=(300,), changes=[change])
    slots = slice(320 - told.base, told.n_slots - told.base)
    before, after = (s.buffer.expected[1, row, slots] for s in (plain, told))
    more = 3.0 if zone is None else 1.0 + 2.0 * told.zone_share[1, zone]
    assert after == pytest.approx(more * before)
    assert told.buffer.expected[0] == pytest.approx(plain.buffer.expected[0])
    told.refit(0)
    row_n = told.rates.rest_n[0] - told.rates.rest_n[told.rate_at[row]]
    coded, b = shop.factors["press"], told.blocks
    pieces = shop.n[coded.codes == coded.levels.index("P2")].sum()
    touched = b.n[told.touched(change)].sum()
    assert touched > 0
    assert row_n[1].sum() == pytest.approx(
        pieces - touched - judged(told, row, but=change).sum())
    assert row_n[0].sum() == pytest.approx(pieces - judged(told, row).sum())


def test_a_baseline_holds_only_pieces_of_its_period(shop: Evidence) -> None:
    start = int(shop.pressed_us.min())
    period = Period(from_us=start + 100 * SLOT_US, until_us=start + 200 * SLOT_US)
    streams = StreamCounts(shop.kinds, [], (Period(), period))
    feed, reader = SlotFeed(shop), Reader(shop, streams.numbers)
    for slot in feed.slots:
        streams.advance(feed.entries(int(slot)), reader)
    streams.refit(1)
    fitted = streams.rates.rest_n[0][0].sum()
    slot = shop.pressed_us // SLOT_US
    near = abs(slot - period.from_us // SLOT_US) <= 1
    near |= abs(slot - period.until_us // SLOT_US) <= 1
    inside = (shop.pressed_us >= period.from_us) & (shop.pressed_us < period.until_us)
    assert fitted == pytest.approx(shop.n[inside].sum(), abs=shop.n[near].sum())


def test_distinct_rows_are_those_of_numpy() -> None:
    rng = np.random.default_rng(5)
    columns = [rng.integers(-1, high, 500) for high in (3, 2, 10**6, 2**40, 2**41)]
    first, which = distinct(columns)
    rows, expected = np.unique(np.stack(columns, axis=1), axis=0, return_inverse=True)
    assert np.stack(columns, axis=1)[first].tolist() == rows.tolist()
    assert which.tolist() == expected.tolist()
