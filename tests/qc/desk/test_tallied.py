"""Counts by hour and by day: the same from tallies and from records, on random shops."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from qc.desk.floor import floor_now
from qc.desk.shop import Shop
from qc.desk.stream_charts.steps import steps_between
from qc.desk.tallied import counted_days, counted_hours, counted_spans, recorded_later
from qc.desk.trends import rate_over_time
from qc.domain.days import day_start_us
from qc.domain.instants import HOUR_US
from qc.intake.times import AHEAD_US
from qc.store import Store
from tests.qc.desk.test_ranking import NOW, random_shop
from tests.qc.store.made import LOADED, T0, add, look

LAST = T0 + 49 * HOUR_US


@pytest.fixture(params=(11, 12))
def shop(store: Store, request: pytest.FixtureRequest) -> Shop:
    return random_shop(store, seed=request.param)


def recorded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("qc.desk.tallied.recorded_later", lambda *_: True)


@pytest.mark.parametrize("kind", [None, "scorch", "nothing_of_the_kind"])
@pytest.mark.parametrize("since", [None, T0 + 20 * HOUR_US, LAST + 1000 * HOUR_US])
def test_hours_and_days_agree(
    shop: Shop, kind: str | None, since: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = {"as_of_us": NOW, "kind": kind, "since_us": since}
    hours, days = counted_hours(shop, **asked), counted_days(shop, **asked)
    recorded(monkeypatch)
    plain, plain_days = counted_hours(shop, **asked), counted_days(shop, **asked)
    names = ["hour_us", "press", "fabric", "transfer", "location", "n", "n_defective"]
    pd.testing.assert_frame_equal(hours.cells[names].reset_index(drop=True),
                                  plain.cells[names].reset_index(drop=True), check_dtype=False)
    usual = [counts.cells["cell"].map(counts.usual).to_numpy() for counts in (hours, plain)]
    np.testing.assert_allclose(*usual, rtol=1e-12)
    pd.testing.assert_frame_equal(days.reset_index(drop=True), plain_days.reset_index(drop=True),
                                  check_dtype=False, rtol=1e-12)


@pytest.mark.parametrize("kind", [None, "scorch"])
@pytest.mark.parametrize("only", [{}, {"press": "P1"}, {"fabric": "never pressed"}])
@pytest.mark.parametrize("in_days", [False, True])
def test_stretches_are_sums_of_their_hours(
    shop: Shop, kind: str | None, only: dict[str, str], in_days: bool,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if in_days:
        spans = steps_between(shop, day_start_us(T0, shop.zone), NOW + 1, "day")
    else:
        cuts = [T0 + hours * HOUR_US for hours in (-5, 3, 20, 21, 40)]
        spans = [*zip(cuts[:-1], cuts[1:], strict=True), (cuts[-1] + HOUR_US, LAST + 9 * HOUR_US)]
    asked = {"as_of_us": NOW, "kind": kind}
    hours = counted_hours(shop, **asked)
    rows = [row | {"usual": row["n"] * hours.usual[row["cell"]], "span": number}
            for row in hours.cells.to_dict("records")
            for number, (first, until) in enumerate(spans)
            if first <= row["hour_us"] < until
            and all(row[key] == level for key, level in only.items())]
    names = ["n", "n_defective", "usual"]
    wanted = pd.DataFrame(rows, columns=["span", *names]).groupby("span")[names].sum()
    assert len(wanted) == (0 if "fabric" in only else len(spans) if not in_days else 3)
    for is_recorded in (False, True):
        if is_recorded:
            recorded(monkeypatch)
        found = counted_spans(shop, spans, only=only, **asked)
        usual = found.cells["n"] * found.cells["cell"].map(found.usual)
        summed = found.cells.assign(usual=usual).groupby("span")[names].sum()
        pd.testing.assert_frame_equal(summed, wanted, check_dtype=False, check_index_type=False,
                                      rtol=1e-12)


@pytest.mark.parametrize("step", ["day", "week"])
def test_a_trend_is_the_same(shop: Shop, step: str, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = {"as_of_us": NOW, "step": step, "kind": "bubble", "since_us": T0 + 20 * HOUR_US}
    found = rate_over_time(shop, **asked)
    recorded(monkeypatch)
    wanted = rate_over_time(shop, **asked)
    for name in ("start_us", "n_pieces", "n_defective", "share", "usual", "lower", "upper"):
        np.testing.assert_allclose(getattr(found, name), getattr(wanted, name), rtol=1e-12)
    assert found.spread == pytest.approx(wanted.spread, rel=1e-12)


@pytest.mark.parametrize("as_of", [LAST, LAST + 2000 * HOUR_US])
def test_the_floor_is_the_same(
    shop: Shop, as_of: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = floor_now(shop, as_of_us=as_of)
    recorded(monkeypatch)
    wanted = floor_now(shop, as_of_us=as_of)
    for one, other in zip(found.presses, wanted.presses, strict=True):
        assert (one.press, one.last) == (other.press, other.last)
        for now, then in ((one.today, other.today), (one.shift, other.shift)):
            assert (now.n_pieces, now.n_defective) == (then.n_pieces, then.n_defective)
            assert now.usual == (then.usual if then.usual is None else pytest.approx(then.usual))


def test_a_device_whose_clock_is_ahead_is_not_later(store: Store) -> None:
    shop = random_shop(store, seed=13)
    assert not recorded_later(shop, NOW)
    add(store, [look("ahead", inspected_at=NOW + AHEAD_US, pressed_at=NOW)], at_us=NOW + 5)
    assert not recorded_later(shop, NOW)
    add(store, [look("later", inspected_at=NOW + AHEAD_US + 1, pressed_at=NOW)], at_us=NOW + 5)
    assert recorded_later(shop, NOW)
    assert recorded_later(shop, LOADED - 60 * HOUR_US)
