"""The effect of a platen's temperature error on defects, from the shop's own pieces and surveys."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import chi2

from qc.domain.delay_cost import HeatEffect
from qc.domain.instants import DAY_US
from qc.presses.surveys import Survey

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

HELD_US = 14 * DAY_US
"""How long before the first and after the last survey its error is taken to have held."""
MOST_PER_DEGREE = 5.0
FEWEST_DEFECTS, LEAST_DEGREES = 30, 1.0
"""Fewer defects, or smaller errors, cannot tell an effect; proposed starting values, no source."""
LEAST_EXPECTED = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressDays:
    """Pieces of each press and day: ``press`` numbers; ``error_c`` the platen's mean error then,
    nan where unknown; ``seen`` defects and those ``expected`` of the mix at the usual rates."""

    press: Ints
    error_c: Floats
    seen: Floats
    expected: Floats


def errors_at(found: Sequence[Survey], at_us: Ints) -> Floats:
    """A platen's mean error at moments, degC: between two surveys on the line through them, but
    never across an adjustment; nan where no survey is near enough (`HELD_US`)."""
    error = np.full(len(at_us), np.nan)
    for stretch in _stretches(found):
        when = np.array([survey.at_us for survey in stretch], dtype=np.int64)
        mean = _smoothed(np.array([survey.offset_c for survey in stretch]))
        inside = (at_us >= when[0] - HELD_US) & (at_us <= when[-1] + HELD_US)
        inside &= (stretch[0].state != "as_left") | (at_us >= when[0])
        error[inside] = np.interp(at_us[inside], when, mean)
    return error


def _smoothed(mean: Floats) -> Floats:
    """Running mean of three, the middle counting twice: what surveys scatter must not look like
    heat without an effect."""
    ends = np.concatenate([mean[:1], mean, mean[-1:]])
    return np.asarray(0.25 * ends[:-2] + 0.5 * ends[1:-1] + 0.25 * ends[2:])


def _stretches(found: Sequence[Survey]) -> list[list[Survey]]:
    """Surveys between adjustments, in order of time; a later stretch wins where two could speak."""
    stretches: list[list[Survey]] = []
    for survey in found:
        if survey.partial:
            continue
        if not stretches or survey.state == "as_left":
            stretches.append([])
        stretches[-1].append(survey)
    return stretches


def heat_effect(days: PressDays, *, kinds: tuple[str, ...], direction: str) -> HeatEffect | None:
    """The effect of one direction of error; None where there is too little to look for it.

    Notes
    -----
    Defects of a press and day: Poisson around a (1 + b x) expected, x the degrees off in the
    direction, a the press's own level. The levels are conditioned away, so only how a press changes
    as its platen does counts, not that a cold press was always worse. 95 % interval from the
    profile likelihood, divided by the variance over luck (Pearson).

    Source
    ------
    McCullagh & Nelder (1989), Generalized Linear Models, sections 6.2 (Poisson), 9.2
    (quasi-likelihood); linear excess: Breslow & Day (1987), section 4.6 (from memory).
    """
    known = np.isfinite(days.error_c) & (days.expected > LEAST_EXPECTED)
    press, seen, expected = days.press[known], days.seen[known], days.expected[known]
    x = np.maximum(-days.error_c[known] if direction == "cold" else days.error_c[known], 0.0)
    if seen.sum() < FEWEST_DEFECTS or x.max(initial=0.0) < LEAST_DEGREES:
        return None
    _, press = np.unique(press, return_inverse=True)

    def loss(b: float) -> float:
        mean = expected * (1.0 + b * x)
        total = np.bincount(press, weights=mean)
        of_press = np.bincount(press, weights=seen)
        return float(of_press @ np.log(total) - seen @ np.log(mean))

    best = minimize_scalar(loss, bounds=(0.0, MOST_PER_DEGREE), method="bounded",
                           options={"xatol": 1e-4})
    b = 0.0 if loss(0.0) <= best.fun else float(best.x)
    clumped = _clumped(b, x, press, seen, expected)
    reach = float(chi2.ppf(0.95, 1)) / 2 * clumped

    def over(at: float) -> float:
        return loss(at) - loss(b) - reach

    low = brentq(over, 0.0, b) if b > 0 and over(0.0) > 0 else 0.0
    high = brentq(over, b, MOST_PER_DEGREE) if over(MOST_PER_DEGREE) > 0 else MOST_PER_DEGREE
    return HeatEffect(
        direction=direction, kinds=kinds, per_degree=b, low=float(low), high=float(high),
        clumped=clumped, n_defects=round(float(seen.sum())), n_presses=int(press.max()) + 1,
        degrees=float(x.max()),
    )


def _clumped(b: float, x: Floats, press: Ints, seen: Floats, expected: Floats) -> float:
    """Pearson's statistic over its degrees of freedom, at least 1."""
    mean = expected * (1.0 + b * x)
    level = np.bincount(press, weights=seen) / np.bincount(press, weights=mean)
    mean = mean * level[press]
    some = mean > LEAST_EXPECTED
    left = int(some.sum()) - int(press.max()) - 2
    if left < 1:
        return 1.0
    return max(float((((seen - mean) ** 2)[some] / mean[some]).sum()) / left, 1.0)
