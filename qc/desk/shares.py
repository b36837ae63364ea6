"""A share of pieces with its interval, and whether it is known well enough to be shown as one."""

from __future__ import annotations

from dataclasses import dataclass, replace

from qc.desk.trends import RateTrend
from qc.stats.comparing.intervals import exact_interval, wilson_interval

WIDE = 0.15
"""An interval wider than this says too little to put one number on the share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """``n_defective`` of ``n_pieces``, with the 95 % interval (Wilson, 1927). ``is_known``: not
    wider than `WIDE`."""

    n_defective: int
    n_pieces: int
    share: float
    low: float
    high: float

    @property
    def is_known(self) -> bool:
        return is_known(self.low, self.high)


def is_known(low: float, high: float) -> bool:
    """Whether an interval of a share is narrow enough to put one number on it."""
    return high - low <= WIDE


def is_above(n_defective: int, n_pieces: int, usual: float | None) -> bool:
    """Whether so many pieces with a defect, or more, come by luck at most once in 40 times where
    ``usual`` is the share: the exact 95 % interval (Clopper & Pearson, 1934) lies above it.
    Wilson's would call the first faulty piece of a shift more than luck."""
    if usual is None or n_pieces == 0:
        return False
    return bool(exact_interval(n_defective, n_pieces).low > usual)


def share_of(n_defective: int, n_pieces: int) -> Share | None:
    """The share; None without pieces."""
    if n_pieces == 0:
        return None
    found = wilson_interval(n_defective, n_pieces)
    return Share(n_defective=n_defective, n_pieces=n_pieces, share=float(found.share),
                 low=float(found.low), high=float(found.high))


def whole_share(trend: RateTrend) -> Share | None:
    """The share of all pieces of a trend; where its steps vary more than chance allows, its
    interval reaches that many times as far, as the verdicts beside it allow for it too (standard
    errors times the root of chi-square over its degrees of freedom: McCullagh & Nelder (1989),
    Generalized Linear Models, 4.5, from memory)."""
    found = share_of(int(trend.n_defective.sum()), int(trend.n_pieces.sum()))
    if found is None or trend.spread <= 1:
        return found
    return replace(
        found, low=max(0.0, found.share - trend.spread * (found.share - found.low)),
        high=min(1.0, found.share + trend.spread * (found.high - found.share)))
