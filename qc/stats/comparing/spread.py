"""How much more counts vary than chance alone allows, beside what was expected of them."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt

from qc.stats.checks import finite_array, refuse_where, same_length, whole_array

ENOUGH_FREEDOM = 8
"""With fewer degrees of freedom more than chance cannot be told from chance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """``times`` : how many times as wide as chance alone, 1 and up; ``freedom`` : degrees of
    freedom it rests on; ``is_known`` : whether these are enough (else ``times`` is 1)."""

    times: float
    freedom: int
    is_known: bool


def spread_about(
    seen: npt.ArrayLike, expected: npt.ArrayLike, n: npt.ArrayLike, group: npt.ArrayLike
) -> Spread:
    """Spread of shares from sample to sample within groups.

    Parameters
    ----------
    seen, n : whole defective pieces of each sample, 0..n, and its pieces, 1 and up
    expected : defective pieces its mix of work gives, above 0 where any were seen; only how
        samples of one group compare is used, so each group is brought to its own total
    group : number of the group of each sample

    Raises
    ------
    ValueError
        A count is not whole or out of range, an expectation is negative, or lengths differ.

    Notes
    -----
    Root of Pearson's X^2 over its degrees of freedom (samples less groups), never below 1. Groups
    without a defective piece, and of one sample, say nothing.

    Source
    ------
    McCullagh & Nelder (1989), Generalized Linear Models, 2nd ed., section 4.5.2.
    """
    d, pieces = whole_array("seen", seen), whole_array("n", n, low=1)
    mean, of = finite_array("expected", expected), np.asarray(group)
    for name, other in (("n", pieces), ("expected", mean), ("group", of)):
        same_length(name, other, "seen", d)
    refuse_where("seen", d, d > pieces, "0 to n")
    refuse_where("expected", mean, mean < 0, "0 and up")
    number = np.unique(of, return_inverse=True)[1]
    total, worth = (np.bincount(number, weights=part) for part in (d, mean))
    scaled = mean * np.divide(total, worth, out=np.zeros_like(worth), where=worth > 0)[number]
    scaled = np.minimum(scaled, pieces * (1 - 1e-9))
    used = (scaled > 0) & (np.bincount(number)[number] > 1)
    freedom = int(used.sum()) - len(np.unique(number[used]))
    if freedom < ENOUGH_FREEDOM:
        return Spread(times=1.0, freedom=freedom, is_known=False)
    variance = scaled[used] * (1 - scaled[used] / pieces[used])
    x_square = float(((d[used] - scaled[used]) ** 2 / variance).sum())
    return Spread(times=max(1.0, sqrt(x_square / freedom)), freedom=freedom, is_known=True)
