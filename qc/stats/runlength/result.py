"""What a run length says: its average, spread and percentiles, and what to read them with."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from qc.stats.checks import finite

SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Shares of all runs that percentiles are given for."""

STATES = ("zero", "steady")
"""Where the chart stands when the run begins: just started, or long in use without a signal."""

SIX_DIGITS = 1e9
"""Above this, rounding in double precision leaves fewer than six digits of a run length."""

BEYOND = 1e12
"""Above this a run length computed by a chain is rounding only."""


class Caution(Enum):
    """What a reader must know before using a run length; the value is the sentence to show."""

    FEW_DIGITS = "the run length is so long that rounding leaves fewer than six digits of it"
    TOO_LONG = "the run length is longer than 1e12 points: too long to be computed"
    NO_LOWER_LIMIT = "there is no lower limit: a change downwards is not looked for"
    NEVER = "a point beyond the limits cannot happen: the chart never signals"


@dataclass(frozen=True, slots=True, kw_only=True)
class Percentile:
    """Within ``points`` plotted points this share of all runs has ended in a signal."""

    share: float
    points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLength:
    """Number of plotted points up to and with the first signal.

    ``arl``, ``sdrl`` : its average and standard deviation, points; nan or infinite only with a
    caution. ``state`` : one of `STATES`. ``method`` : how it was computed, for a reader.
    """

    arl: float
    sdrl: float
    percentiles: tuple[Percentile, ...]
    state: str
    method: str
    cautions: tuple[Caution, ...] = ()


def known_state(state: str) -> str:
    """The state, if it is one of `STATES`."""
    if state not in STATES:
        raise ValueError(f"state is {state!r}; allowed: {', '.join(STATES)}")
    return state


def known_shift(shift: float) -> float:
    """A shift in sigma of the plotted statistic: finite."""
    return finite("shift", shift)


def wanted_arl(arl: float) -> float:
    """An average run length to design for."""
    if not 1 < arl <= SIX_DIGITS:
        raise ValueError(f"arl is {arl:g}; it must be a number above 1 and up to {SIX_DIGITS:g}")
    return float(arl)


def geometric_run(
    share: float, *, state: str, method: str, cautions: tuple[Caution, ...] = ()
) -> RunLength:
    """Run length where each point signals with this chance, whatever came before."""
    if share <= 0:
        never = tuple(Percentile(share=q, points=np.inf) for q in SHARES)
        return RunLength(arl=np.inf, sdrl=np.inf, percentiles=never, state=state, method=method,
                         cautions=(*cautions, Caution.NEVER))
    points = [_geometric_percentile(share, q) for q in SHARES]
    return RunLength(
        arl=float(1 / share), sdrl=float(np.sqrt(1 - share) / share),
        percentiles=tuple(Percentile(share=q, points=n)
                          for q, n in zip(SHARES, points, strict=True)),
        state=state, method=method, cautions=cautions,
    )


def _geometric_percentile(share: float, q: float) -> float:
    if share >= q:  # also where share is 1 and the logarithm has no value
        return 1
    # a hair less, so that a ratio that is whole but for rounding is not rounded up
    return int(np.ceil(np.log1p(-q) / np.log1p(-share) * (1 - 1e-14)))
