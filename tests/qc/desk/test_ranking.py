"""Rankings from tallies against the same counted from the records, on random shops."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd
import pytest

from qc.desk.ranked_sums import Ranking, _source, recorded_sums, tallied_sums
from qc.desk.ranking import LEAST_PIECES, in_order, ranked_defects, tells_apart
from qc.desk.shop import Shop, change_setting
from qc.domain.instants import HOUR_US
from qc.domain.ranking import DIMENSIONS, Pareto, mix_of
from qc.monitor.ranking import rank_sums
from qc.store import Store
from qc.store.inspections import add_inspections
from qc.store.settings import read_settings
from tests.qc.store.made import CODES, LOADED, T0, random_looks

NOW = LOADED + 10**12
BYS = [(name,) for name in DIMENSIONS] + list(combinations(DIMENSIONS, 2))
PERIODS = [(None, None), (T0 + 10 * HOUR_US, None), (T0 + 7 * HOUR_US, T0 + 30 * HOUR_US),
           (T0 + 24 * HOUR_US, T0 + 48 * HOUR_US)]


def random_shop(store: Store, seed: int) -> Shop:
    """Looks at few pieces, often several at one piece, which agree on when it was pressed."""
    looks, findings = random_looks(300, np.random.default_rng(seed), n_pieces=200)
    pressed = looks.groupby(looks["piece_id"] + looks["location"].fillna("-"))["pressed_at"]
    looks["pressed_at"] = pressed.transform("min")
    add_inspections(store, looks, findings, by="ann", at_us=LOADED, source=None, new_codes=CODES)
    shop = Shop(store, read_settings(store))
    return change_setting(shop, name="timezone", value="Europe/Lisbon", by="ann", at_us=LOADED)


@pytest.fixture
def shop(store: Store) -> Shop:
    return random_shop(store, seed=3)


def assert_same(found: Pareto, wanted: Pareto) -> None:
    assert [row.level for row in found.rows] == [row.level for row in wanted.rows]
    for name in ("n_pieces", "n_defects"):
        assert getattr(found, name) == getattr(wanted, name)
    for name in ("n_defects", "n_pieces", "rate", "share", "cumulative", "expected", "ratio",
                 "ratio_low", "ratio_high", "p_value"):
        one, other = (pd.Series([getattr(row, name) for row in rows.rows], dtype=float)
                      for rows in (found, wanted))
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-12, err_msg=name)
    assert [r.stands_out for r in found.rows] == [r.stands_out for r in wanted.rows]


def test_tallies_and_records_rank_alike(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    n_tallied = 0
    for number, by in enumerate(BYS):
        since, until = PERIODS[number % len(PERIODS)]
        kinds = ("scorch",) if number % 5 == 0 else ()
        asked = {"by": by, "kinds": kinds, "since_us": since, "until_us": until}
        found = ranked_defects(shop, as_of_us=NOW, **asked)
        with monkeypatch.context() as later:
            later.setattr("qc.desk.ranking.recorded_later", lambda *_: True)
            wanted = ranked_defects(shop, as_of_us=NOW, **asked)
        assert_same(found, wanted)
        n_tallied += _source(shop, Ranking(**asked)) is not None
    assert n_tallied > len(BYS) / 2  # most pairs never touch a record


@pytest.mark.parametrize(("by", "since", "shifts", "from_tallies"), [
    (("press",), T0, "06:00", True), (("press",), T0 + 1, "06:00", False),
    (("shift",), T0, "06:00,14:00", True), (("shift",), T0, "06:30,14:00", False),
    (("operator", "defect"), T0, "06:00", True), (("operator", "job"), T0, "06:00", False),
    (("zone", "defect"), T0, "06:00", True), (("zone", "press"), T0, "06:00", False),
    (("fabric",), T0 + 24 * HOUR_US, "06:00", True), (("fabric",), T0 + HOUR_US, "06:00", True),
    (("defect",), T0 + 24 * HOUR_US, "06:00", True),
])
def test_where_the_counts_come_from(
    shop: Shop, by: tuple[str, ...], since: int, shifts: str, from_tallies: bool
) -> None:
    shop = change_setting(shop, name="shift_starts", value=shifts, by="ann", at_us=LOADED)
    asked = Ranking(by=by, kinds=(), since_us=since, until_us=None)
    assert (_source(shop, asked) is not None) is from_tallies
    found, wanted = (rank_sums(sums, by=by) for sums in (
        tallied_sums(shop, asked, as_of_us=NOW), recorded_sums(shop, asked, as_of_us=NOW)))
    assert [(r.level, r.n_defects, r.n_pieces) for r in found] == [
        (r.level, r.n_defects, r.n_pieces) for r in wanted]


def test_a_look_back_counts_the_records_of_then(shop: Shop) -> None:
    then = T0 + 20 * HOUR_US
    back = ranked_defects(shop, by=("press",), as_of_us=then)
    now = ranked_defects(shop, by=("press",), as_of_us=NOW)
    assert 0 < back.n_pieces < now.n_pieces


def test_by_ratio_what_stands_out_comes_first_and_the_sum_runs_on(shop: Shop) -> None:
    pareto = ranked_defects(shop, by=("press", "defect"), as_of_us=NOW)
    one, other, *rest = pareto.rows
    rows = (replace(one, ratio=1.4, stands_out=False),
            replace(other, n_defects=40, expected=16.0, ratio=2.5, stands_out=True),
            replace(other, n_defects=4, expected=40.0, ratio=0.1, stands_out=True), *rest)
    found = in_order(replace(pareto, rows=rows), "ratio")
    assert found.rows[0].ratio == 2.5 and found.rows[-1].ratio == 0.1
    middle = [row.ratio for row in found.rows[1:-1] if not row.stands_out]
    assert middle == sorted(middle, reverse=True)
    sums = np.cumsum([row.n_defects for row in found.rows]) / pareto.n_defects
    np.testing.assert_allclose([row.cumulative for row in found.rows], sums)
    assert in_order(pareto, "number") is pareto


def test_ratios_of_the_very_pieces_they_rest_on_tell_nothing_apart(shop: Shop) -> None:
    """Indirect standardisation against oneself is 1, whatever the counts."""
    whole = ranked_defects(shop, by=("defect",), as_of_us=NOW)
    assert whole.n_pieces >= LEAST_PIECES and not tells_apart(whole)
    assert [row.ratio for row in whole.rows if row.ratio] == pytest.approx([1.0] * len(whole.rows))
    assert tells_apart(ranked_defects(shop, by=("press",), as_of_us=NOW))
    few = replace(ranked_defects(shop, by=("press",), as_of_us=NOW), n_pieces=15)
    assert not tells_apart(few)


@pytest.mark.parametrize(("by", "left"), [
    (("press",), ("fabric", "transfer", "location")), (("fabric", "transfer"), ("location",)),
    (("location", "defect"), ("fabric", "transfer"))])
def test_what_is_ranked_by_is_not_allowed_for(by, left) -> None:
    assert mix_of(by) == left
