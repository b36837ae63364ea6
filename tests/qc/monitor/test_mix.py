"""What a mix would give, against a plain second reckoning."""

from __future__ import annotations

import numpy as np
import pytest

from qc.monitor.mix import CELL_PIECES, PieceFaults, expected_faults, observed_faults


def made(rng: np.random.Generator, n: int = 300) -> PieceFaults:
    had = rng.random((n, 2)) < (0.95, 0.3)
    look = rng.integers(0, 2, 60)
    at = rng.integers(0, n, 60)
    kept = had[at, look]
    return PieceFaults(cell=rng.integers(0, 3, n), had=had, n=rng.integers(1, 4, n).astype(float),
                       at=at[kept], look=look[kept], count=np.ones(int(kept.sum())))


def test_expected_faults_are_those_of_a_plain_reckoning() -> None:
    pieces = made(np.random.default_rng(1))
    base = np.arange(300) < 200
    expected = np.zeros(300)
    for look in (0, 1):
        n_all = sum(pieces.n[i] for i in range(200) if pieces.had[i, look])
        n_bad = sum(1 for at, seen in zip(pieces.at, pieces.look, strict=True)
                    if at < 200 and seen == look)
        for i in range(300):
            if not pieces.had[i, look]:
                continue
            n = sum(pieces.n[j] for j in range(200)
                    if pieces.had[j, look] and pieces.cell[j] == pieces.cell[i])
            bad = sum(1 for at, seen in zip(pieces.at, pieces.look, strict=True)
                      if at < 200 and seen == look and pieces.cell[at] == pieces.cell[i])
            expected[i] += pieces.n[i] * (bad + CELL_PIECES * n_bad / n_all) / (n + CELL_PIECES)
    assert expected_faults(pieces, base) == pytest.approx(expected)


def test_a_look_not_had_yet_expects_nothing() -> None:
    pieces = PieceFaults(cell=np.zeros(4, np.int64), n=np.ones(4), at=np.array([0]),
                         look=np.array([1]), count=np.ones(1),
                         had=np.array([[1, 1], [1, 1], [1, 0], [0, 0]], dtype=bool))
    expected = expected_faults(pieces, np.ones(4, dtype=bool))
    assert expected[0] == expected[1] > 0 and expected[2] == expected[3] == 0
    assert observed_faults(pieces).tolist() == [1, 0, 0, 0]


def test_no_past_expects_nothing() -> None:
    pieces = made(np.random.default_rng(2))
    assert expected_faults(pieces, np.zeros(300, dtype=bool)).tolist() == [0.0] * 300
