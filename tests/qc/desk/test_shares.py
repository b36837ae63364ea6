"""Whether a share now is above the usual one by more than luck."""

from __future__ import annotations

from math import comb

from qc.desk.shares import is_above


def by_luck(bad: int, n: int, usual: float) -> float:
    """The chance of at least so many of n, counted out (the binomial law)."""
    return sum(comb(n, k) * usual**k * (1 - usual) ** (n - k) for k in range(bad, n + 1))


def test_the_first_faulty_piece_of_a_shift_is_no_more_than_luck() -> None:
    """1 of 2 comes at a usual 5 % in one shift of ten, 1 of 1 in one of twenty."""
    assert by_luck(1, 2, 0.051) > 0.09
    assert not is_above(1, 2, 0.051)
    assert not is_above(1, 1, 0.05)
    assert is_above(2, 2, 0.051)  # once in 384 times


def test_it_is_above_where_luck_gives_it_at_most_once_in_40_times() -> None:
    for n in (1, 2, 3, 5, 10, 25, 60):
        for usual in (0.005, 0.05, 0.2):
            for bad in range(n + 1):
                assert is_above(bad, n, usual) == (by_luck(bad, n, usual) < 0.025), (bad, n, usual)


def test_without_pieces_or_a_usual_share_nothing_is_above() -> None:
    assert not is_above(0, 0, 0.05)
    assert not is_above(5, 5, None)
