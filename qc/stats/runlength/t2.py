"""Run length of a T2 chart of independent normal points, and the chance beyond for a wanted one."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtri, chndtr

from qc.stats.checks import inside_unit
from qc.stats.runlength.result import RunLength, geometric_run, known_state, wanted_arl

METHOD = "closed form: points beyond the limit are independent of each other, noncentral chi-square"


def t2_run_length(
    shift: float, *, n_variables: int, alpha: float = 0.0027, state: str = "zero"
) -> RunLength:
    """Run length of a T2 chart whose mean and covariance are known.

    Parameters
    ----------
    shift : lasting shift of the mean as its Mahalanobis distance sqrt(d' S^-1 d) in the
        covariance S of a plotted point, 0 or more
    n_variables : p, 1 and up
    alpha : chance of a point in control beyond the limit, inside (0, 1)
    state : 'zero' or 'steady'; the same, because points do not remember

    Raises
    ------
    ValueError
        An argument is outside its range.

    Source
    ------
    Hotelling (1947); noncentral chi-square: Alt (1985), Encyclopedia of Statistical Sciences 6,
    110-122.
    """
    inside_unit("alpha", alpha)
    known_state(state)
    distance = known_distance(shift)
    p = known_variables(n_variables, most=None)
    share = alpha
    if distance > 0:
        share = float(1 - chndtr(chdtri(p, alpha), p, distance**2))
    return geometric_run(share, state=state, method=METHOD)


def t2_alpha(arl: float, *, n_variables: int, state: str = "zero") -> float:
    """The chance beyond the limit that gives this in-control average run length."""
    known_variables(n_variables, most=None)
    known_state(state)
    return 1 / wanted_arl(arl)


def known_distance(shift: float) -> float:
    """A shift of several variables as its Mahalanobis distance: 0 or more."""
    if not (np.isfinite(shift) and shift >= 0):
        raise ValueError(f"shift is {shift:g}; it must be a distance, 0 or above")
    return float(shift)


def known_variables(n_variables: int, *, most: int | None) -> int:
    """A number of variables: whole, 1 and up."""
    whole = np.isfinite(n_variables) and n_variables == int(n_variables)
    if not whole or n_variables < 1 or (most is not None and n_variables > most):
        allowed = "1 and up" if most is None else f"1..{most}"
        raise ValueError(f"variables is {n_variables:g}; it must be a whole number, {allowed}")
    return int(n_variables)
