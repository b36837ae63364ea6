"""Largest changes since last week: against plain loops, with a planted rise and without one."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from qc.desk.moved import DIMENSIONS, LEAST_PIECES, LargestChanges, Moved, largest_changes
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US
from qc.store.inspections import read_findings, read_looks
from tests.dashboard.small_shop import BAD_FROM_DAY, END_US, START_US, build_shop
from tests.reference import strata as slow
from tests.reference.comparisons import discoveries

A_WEEK_IN_US = START_US + (BAD_FROM_DAY + 7) * DAY_US


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return build_shop(tmp_path_factory.mktemp("moved"))


def tables(shop: Shop, found: LargestChanges) -> dict[tuple[str, str], list[tuple]]:
    """Counts by level and mix, as `tests.reference.strata` takes them, from plain loops."""
    kinds = read_findings(shop.store, as_of_us=found.as_of_us).groupby("look")["kind"].agg(set)
    looks = read_looks(shop.store, as_of_us=found.as_of_us)
    rows = [row | {"kinds": kinds.get(number, set())}
            for number, row in zip(looks.index, looks.to_dict("records"), strict=True)
            if row["pressed_at"] >= found.before_us]
    every = {kind for row in rows for kind in row["kinds"]}
    made: dict = defaultdict(lambda: defaultdict(lambda: [0, 0, 0, 0]))
    for row in rows:
        at = 0 if row["pressed_at"] >= found.since_us else 2
        mix = tuple(str(row[name]) for name in ("fabric", "transfer", "location"))
        for name in DIMENSIONS:
            levels = [(kind, kind in row["kinds"]) for kind in every] if name == "defect" else [
                (row[name], len(row["kinds"]))]
            for level, bad in levels:
                made[name, level][mix][at] += int(bad)
                made[name, level][mix][at + 1] += 1
    return {key: [(min(d, n), n, min(d0, n0), n0) for d, n, d0, n0 in cells.values() if n and n0]
            for key, cells in made.items()}


@pytest.mark.parametrize("as_of_us", [A_WEEK_IN_US, END_US])
def test_every_level_agrees_with_a_plain_loop(shop: Shop, as_of_us: int) -> None:
    found = largest_changes(shop, as_of_us=as_of_us)
    plain = {key: strata for key, strata in tables(shop, found).items()
             if min(sum(s[1] for s in strata), sum(s[3] for s in strata)) >= LEAST_PIECES
             and sum(s[0] + s[2] for s in strata)}
    assert {(row.dimension, row.level) for row in found.rows} == set(plain)
    for row in found.rows:
        strata = plain[row.dimension, row.level]
        assert [row.n_defects, row.n_pieces, row.n_before, row.pieces_before] == [
            sum(s[k] for s in strata) for k in range(4)]
        sums = slow.sums(strata)
        assert row.ratio == pytest.approx(sums["mine"] / sums["other"]) or row.n_before == 0
        assert row.p_value >= slow.exact(strata)[1] - 1e-9
    wanted = discoveries([row.p_value for row in found.rows], 0.05)
    assert [row.stands_out for row in found.rows] == list(wanted)


def test_the_planted_rise_comes_first_and_falls_silent_when_it_is_old(shop: Shop) -> None:
    found = largest_changes(shop, as_of_us=A_WEEK_IN_US)
    named = {(row.dimension, row.level) for row in found.moved}
    assert {("press", "Cedar"), ("defect", "lifted_edge")} <= named
    assert all(row.level not in ("Anvil", "Brook", "Dune", "scorch") for row in found.moved)
    first = found.rows[0]
    assert first.stands_out and first.low > 1 and first.n_defects > 1.5 * first.expected
    assert largest_changes(shop, as_of_us=START_US + BAD_FROM_DAY * DAY_US).moved == ()


def test_tallies_and_records_give_the_same(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    tallied = largest_changes(shop, as_of_us=END_US)
    monkeypatch.setattr("qc.desk.moved.recorded_later", lambda *_: True)
    assert largest_changes(shop, as_of_us=END_US) == tallied


def test_before_anything_was_recorded_nothing_moved(shop: Shop) -> None:
    found = largest_changes(shop, as_of_us=START_US - DAY_US)
    assert found.rows == () and found.moved == ()


def test_without_a_change_nearly_no_week_names_one(tmp_path_factory) -> None:
    """Twelve quiet looks at three shops before their change: 5 % may name something, more not."""
    named = 0
    for seed in range(3):
        quiet = build_shop(tmp_path_factory.mktemp(f"quiet{seed}"), seed=20 + seed)
        for day in (14, 18, 22, 26):
            named += bool(largest_changes(quiet, as_of_us=START_US + day * DAY_US).moved)
        quiet.store.close()
    assert named <= 2


def test_a_row_is_plain() -> None:
    row = Moved(dimension="press", level="P1", n_pieces=90, n_defects=9, pieces_before=300,
                n_before=10, expected=3.0, ratio=3.0, low=1.2, high=7.0, p_value=0.01,
                stands_out=True)
    changes = LargestChanges(as_of_us=2, since_us=1, before_us=0,
                             rows=(row, replace(row, stands_out=False)))
    assert changes.moved == (row,)
