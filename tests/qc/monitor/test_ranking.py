from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from qc.domain.counting import count_once
from qc.domain.instants import parse_instant
from qc.monitor.ranking import rank_levels, shift_labels
from tests.qc.monitor.hand_shop import HOUR_US, START_US, frames, looks_of_shop
from tests.reference.pareto import pareto

BYS = [("defect",), ("press",), ("fabric",), ("transfer",), ("location",), ("operator",),
       ("transfer_lot",), ("garment_lot",), ("job",), ("zone",), ("press", "defect"),
       ("defect", "zone"), ("fabric", "transfer"), ("zone", "press"), ("location", "operator")]
PERIODS = [{}, {"since": START_US + 100 * HOUR_US},
           {"since": START_US + 50 * HOUR_US, "until": START_US + 300 * HOUR_US},
           {"until": START_US + 2 * HOUR_US}]


def _ranked(looks, by, *, kinds=(), since=None, until=None):
    counted = count_once(*frames(looks))
    return rank_levels(counted, by=by, kinds=kinds, since_us=since, until_us=until)


def _as_rows(rows):
    return [
        {"level": list(r.level), "defects": r.n_defects, "pieces": r.n_pieces, "rate": r.rate,
         "share": r.share, "expected": r.expected, "ratio": r.ratio, "ratio_low": r.ratio_low,
         "ratio_high": r.ratio_high, "stands_out": r.stands_out, "cumulative": r.cumulative}
        for r in rows
    ]


def _assert_same(found, wanted) -> None:
    assert [row["level"] for row in found] == [row["level"] for row in wanted]
    for one, other in zip(found, wanted, strict=True):
        numbers = set(other) - {"level"}
        assert {name: one[name] for name in numbers} == pytest.approx(
            {name: other[name] for name in numbers}, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("by", BYS, ids=",".join)
@pytest.mark.parametrize("period", PERIODS, ids=range(4))
def test_agrees_with_plain_loops(by, period) -> None:
    looks = looks_of_shop()
    _assert_same(_as_rows(_ranked(looks, by, **period)), pareto(looks, by, **period))


@pytest.mark.parametrize("by", [("press",), ("defect",), ("zone",)], ids=",".join)
def test_one_kind_agrees_with_plain_loops(by) -> None:
    looks = looks_of_shop(seed=2)
    found = _as_rows(_ranked(looks, by, kinds=("scorch",)))
    _assert_same(found, pareto(looks, by, kinds=("scorch",)))
    assert sum(row["defects"] for row in found) > 0


def _block(press: str, fabric: str, pieces: int, findings, **more):
    number = more.pop("number", 0)
    return {
        "piece_id": f"{press}-{fabric}-{number}", "location": "chest", "attempt": 1,
        "stage": "final", "pressed_at": START_US, "inspected_at": START_US, "press": press,
        "fabric": fabric, "transfer": "FOAM", "operator": None, "transfer_lot": None,
        "garment_lot": None, "job": None, "pieces": pieces,
        "defective": sum(n for *_, n in findings), "findings": findings,
    } | more


MIXED = [
    # usual rates: RIB 30/200, JERSEY 6/600; P1 runs mostly the hard fabric and is not to blame
    _block("P1", "RIB", 180, [("lifted_edge", None, 27)]),
    _block("P1", "JERSEY", 20, []),
    _block("P2", "RIB", 20, [("lifted_edge", None, 3)]),
    _block("P2", "JERSEY", 580, [("lifted_edge", None, 6)]),
]


def test_a_press_is_judged_on_its_mix() -> None:
    by_press = {row.level[0]: row for row in _ranked(MIXED, ("press",))}
    assert by_press["P1"].expected == pytest.approx(180 * 30 / 200 + 20 * 6 / 600)
    assert by_press["P2"].expected == pytest.approx(20 * 30 / 200 + 580 * 6 / 600)
    assert by_press["P1"].ratio == pytest.approx(27 / 27.2)
    assert not any(row.stands_out for row in by_press.values())


def test_the_fabric_is_blamed_when_it_is_ranked_by() -> None:
    by_fabric = {row.level[0]: row for row in _ranked(MIXED, ("fabric",))}
    assert by_fabric["RIB"].expected == pytest.approx(200 * 36 / 800)
    assert by_fabric["RIB"].stands_out
    assert by_fabric["JERSEY"].stands_out  # far fewer than its share


def test_late_faults_count_against_pieces_that_had_that_look() -> None:
    washed = [_block("P1", "RIB", 1, [], number=k) for k in range(50)]
    washed += [
        _block("P1", "RIB", 1, [("cracking", None, 1)] if k < 5 else [], number=k, stage="wash",
               inspected_at=START_US + 1)
        for k in range(10)
    ]
    washed += [_block("P2", "RIB", 1, [], number=k) for k in range(100)]
    rows = {row.level[0]: row for row in _ranked(washed, ("press",))}
    assert rows["P1"].expected == pytest.approx(5)
    assert rows["P2"].expected == 0
    assert rows["P2"].ratio is None
    assert rows["P1"].n_pieces == 50


def test_ranking_over_the_whole_history_expects_what_was_seen() -> None:
    looks = looks_of_shop(seed=5)
    for by in BYS:
        rows = _ranked(looks, by)
        assert sum(r.expected for r in rows) == pytest.approx(sum(r.n_defects for r in rows))
        assert rows[-1].cumulative == pytest.approx(1)
        counts = [r.n_defects for r in rows]
        assert counts == sorted(counts, reverse=True)


def test_the_order_of_the_records_does_not_matter() -> None:
    looks = looks_of_shop(seed=6)
    _assert_same(_as_rows(_ranked(looks, ("press", "defect"))),
                 _as_rows(_ranked(looks[::-1], ("press", "defect"))))


def test_what_a_level_cannot_show_is_no_row() -> None:
    looks = [_block("P1", "RIB", 9, [("scorch", None, 3)]), _block("P2", "FLEECE", 9, []),
             _block("P3", "RIB", 9, [])]
    rows = {row.level: row.n_defects for row in _ranked(looks, ("press", "defect"))}
    assert rows == {("P1", "scorch"): 3, ("P3", "scorch"): 0}
    assert len(_ranked(looks, ("press",))) == 3


def test_a_period_begins_inside_and_ends_outside() -> None:
    looks = [_block("P1", "RIB", 1, [("scorch", None, 1)], number=k, pressed_at=START_US + k)
             for k in range(4)]
    row, = _ranked(looks, ("press",), since=START_US + 1, until=START_US + 3)
    assert (row.n_defects, row.n_pieces) == (2, 2)


def test_nothing_seen_and_nobody_inside() -> None:
    clean = [_block("P1", "RIB", 5, [])]
    row, = _ranked(clean, ("press",))
    assert (row.n_defects, row.share, row.ratio, row.stands_out) == (0, None, None, False)
    assert _ranked(clean, ("defect",)) == ()
    assert _ranked(MIXED, ("press",), since=START_US + 1) == ()


def test_an_empty_shop_has_nothing_to_rank() -> None:
    looks, findings = frames(MIXED)
    counted = count_once(looks.iloc[:0], findings.iloc[:0])
    for by in BYS:
        assert rank_levels(counted, by=by) == ()


def test_shifts_are_named_by_their_start_in_the_shops_zone() -> None:
    zone = ZoneInfo("Europe/Lisbon")
    # the clock goes forward on 2026-03-29 at 01:00
    times = ["2026-03-28T05:59", "2026-03-28T06:00", "2026-03-28T13:59:59", "2026-03-28T14:00",
             "2026-03-28T23:30", "2026-03-29T03:00", "2026-03-29T06:00"]
    pressed = np.array([parse_instant(text, zone) for text in times])
    labels = shift_labels(pressed, zone, (360, 840, 1320)).tolist()
    assert labels == ["22:00", "06:00", "06:00", "14:00", "22:00", "22:00", "06:00"]
