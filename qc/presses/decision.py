"""Deciding with uncertainty: guard bands and the risk they leave.

Source
------
JCGM 106:2012, The role of measurement uncertainty in conformity assessment; ILAC-G8:09/2019;
ISO 14253-1:2017 (the 0.83 U guard band from memory, its 4.85 % recomputed).
"""

from __future__ import annotations

import math

from scipy.special import ndtr

SIMPLE, ISO_14253, GUARDED = 0.0, 0.83, 1.0
"""Guard band as a multiple of U (k = 2): false acceptance at the limit 50 %, 4.85 %, 2.28 %."""


def conformance_probability(
    value: float, standard_uncertainty: float, *, lower: float = -math.inf, upper: float = math.inf
) -> float:
    """Probability that the true value lies inside the tolerance, given one measured value.

    ``standard_uncertainty`` >= 0 in the unit of ``value``; normal error, nothing known before the
    measurement. ValueError where it is negative or not finite, or ``lower`` exceeds ``upper``.

    Source
    ------
    JCGM 106:2012, 7.3 (one limit) and 7.4 (two limits).
    """
    u = _not_negative("standard_uncertainty", standard_uncertainty)
    if lower > upper:
        raise ValueError(f"lower is {lower:g}, above upper {upper:g}")
    if u == 0:
        return float(lower <= value <= upper)
    return float(ndtr((upper - value) / u) - ndtr((lower - value) / u))


def acceptance_limit(tolerance: float, expanded_uncertainty: float, *, guard: float) -> float:
    """Largest measured departure to accept: tolerance - guard U. Negative: nothing can be shown.

    ``guard`` is a multiple of U, 0 (simple acceptance) or more.
    """
    expanded = _not_negative("expanded_uncertainty", expanded_uncertainty)
    return _not_negative("tolerance", tolerance) - _not_negative("guard", guard) * expanded


def rejection_limit(tolerance: float, expanded_uncertainty: float, *, guard: float) -> float:
    """Departure beyond which out of tolerance is shown: tolerance + guard U (guarded rejection)."""
    expanded = _not_negative("expanded_uncertainty", expanded_uncertainty)
    return _not_negative("tolerance", tolerance) + _not_negative("guard", guard) * expanded


def decided(
    departure: float, tolerance: float, expanded_uncertainty: float, *, guard: float
) -> str:
    """'in_tolerance', 'not_shown' or 'out' for a departure measured without its sign.

    A departure on a limit is not beyond it. With ``guard`` 0 there is nothing that is not shown.

    Source
    ------
    JCGM 106:2012, 8.3.2 (guarded acceptance) and 8.3.3 (guarded rejection); ILAC-G8:09/2019, 4.2.3
    (clauses from memory), where what lies between is a conditional pass or fail.
    """
    if departure <= acceptance_limit(tolerance, expanded_uncertainty, guard=guard):
        return "in_tolerance"
    out = departure > rejection_limit(tolerance, expanded_uncertainty, guard=guard)
    return "out" if out else "not_shown"


def false_acceptance_at_limit(guard: float, *, k: float = 2.0) -> float:
    """Chance that a value accepted right at the acceptance limit is truly beyond the tolerance.

    One limit near, normal error; ``guard`` in multiples of U = k u.
    """
    return float(ndtr(-_not_negative("guard", guard) * k))


def beyond_probability(value: float, standard_uncertainty: float, tolerance: float) -> float:
    """Chance that the true departure is beyond +-tolerance: the risk of accepting it falsely."""
    return 1.0 - conformance_probability(
        value, standard_uncertainty, lower=-tolerance, upper=tolerance
    )


def can_prove(tolerance: float, expanded_uncertainty: float) -> bool:
    """Does a guard band of U leave any value that could be accepted?"""
    return acceptance_limit(tolerance, expanded_uncertainty, guard=GUARDED) > 0


def _not_negative(name: str, value: float) -> float:
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} is {value}; it must be a finite number, 0 or above")
    return float(value)
