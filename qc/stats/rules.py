"""Supplementary rules: patterns of points that chance rarely makes, each under its own name."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.charts import SLACK, Signals, bit, standardised
from qc.stats.checks import Floats

Hits = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """Which rules are on, with the number of points each needs; None is off.

    ``outside_limits`` is always on. ``mixture`` needs points on both sides.
    """

    name: str
    source: str = ""
    two_of_three: bool = False
    four_of_five: bool = False
    one_side: int | None = None
    trend: int | None = None
    alternating: int | None = None
    stratification: int | None = None
    mixture: int | None = None


RULE_SETS: dict[str, RuleSet] = {
    rules.name: rules
    for rules in (
        RuleSet(name="limits"),
        RuleSet(
            name="western-electric",
            source="rules: Western Electric, Statistical Quality Control Handbook (1956)",
            two_of_three=True, four_of_five=True, one_side=8,
        ),
        RuleSet(
            name="nelson", source="rules: Nelson (1984), J. Quality Technology 16(4), 237-239",
            two_of_three=True, four_of_five=True, one_side=9, trend=6, alternating=14,
            stratification=15, mixture=8,
        ),
    )
}


def rule_set(name: str) -> RuleSet:
    """The rule set of this name; ValueError names the known ones."""
    if name not in RULE_SETS:
        raise ValueError(f"rules is {name!r}; allowed: {', '.join(RULE_SETS)}")
    return RULE_SETS[name]


def patterns_on(
    value: Floats, centre: float, sigma: Floats | float, rules: RuleSet
) -> Signals | None:
    """Patterns among plotted points; None, without a pass over them, where no rule is on."""
    if rules.name == "limits":
        return None
    return pattern_signals(standardised(value, centre, sigma), rules)


def pattern_signals(z: Floats, rules: RuleSet) -> Signals:
    """Patterns among points, marked at every point that completes one.

    Parameters
    ----------
    z : float64, each point's distance from the centre line in its own sigma
    rules : the rules that are on

    Returns
    -------
    uint8, one for each point, bits as in `qc.stats.charts.SIGNALS`; ``outside_limits`` is not
    among them, because a chart's limits need not be at three sigma.

    Notes
    -----
    Strict: a point on a line is not beyond it, one on the centre line belongs to neither side,
    equal neighbours break a trend. A pattern that goes on is marked again at each further point.
    In "r of m" the newest point must itself be beyond the line.

    Source
    ------
    Western Electric (1956), pp. 25-28; Nelson (1984), J. Quality Technology 16(4), 237-239.
    """
    signals = np.zeros(len(z), dtype=np.uint8)
    for name, hits in _patterns(z, rules):
        signals |= hits.view(np.uint8) * np.uint8(bit(name))
    return signals


def _patterns(z: Floats, rules: RuleSet) -> list[tuple[str, Hits]]:
    found: list[tuple[str, Hits]] = []
    if rules.two_of_three:
        found.append(("two_of_three", _share_beyond(z, 2, needed=2, window=3)))
    if rules.four_of_five:
        found.append(("four_of_five", _share_beyond(z, 1, needed=4, window=5)))
    if rules.one_side:
        found.append(("one_side", _one_side(z, 0.0, rules.one_side)))
    if rules.trend:
        found.append(("trend", _trend(z, rules.trend)))
    if rules.alternating:
        found.append(("alternating", _alternating(z, rules.alternating)))
    if rules.stratification:
        hugging = np.abs(z) < 1 - SLACK
        found.append(("stratification", _in_a_row(hugging, rules.stratification)))
    if rules.mixture:
        found.append(("mixture", _mixture(z, rules.mixture)))
    return found


def _share_beyond(z: Floats, line: float, *, needed: int, window: int) -> Hits:
    above = _newest_of(z > line + SLACK, needed, window)
    return above | _newest_of(z < -line - SLACK, needed, window)


def _newest_of(beyond: Hits, needed: int, window: int) -> Hits:
    count = beyond.astype(np.uint8)
    for back in range(1, window):
        count[back:] += beyond[:-back]
    return beyond & (count >= needed)


def _one_side(z: Floats, line: float, length: int) -> Hits:
    above = _in_a_row(z > line + SLACK, length)
    return above | _in_a_row(z < -line - SLACK, length)


def _trend(z: Floats, length: int) -> Hits:
    up, down = _steps(z)
    return _in_a_row(up, length - 1) | _in_a_row(down, length - 1)


def _alternating(z: Floats, length: int) -> Hits:
    up, down = _steps(z)
    turns = np.zeros(len(z), dtype=bool)
    turns[1:] = (up[1:] & down[:-1]) | (down[1:] & up[:-1])
    return _in_a_row(turns, length - 2)


def _mixture(z: Floats, length: int) -> Hits:
    away = _in_a_row(np.abs(z) > 1 + SLACK, length)
    return away & ~_one_side(z, 1.0, length)


def _steps(z: Floats) -> tuple[Hits, Hits]:
    up, down = np.zeros(len(z), dtype=bool), np.zeros(len(z), dtype=bool)
    up[1:], down[1:] = z[1:] > z[:-1], z[1:] < z[:-1]
    return up, down


def _in_a_row(hits: Hits, length: int) -> Hits:
    """Whether each point and the ``length`` - 1 before it all hit; the window grows by doubling."""
    run, span = hits.copy(), 1
    while span < length:
        step = min(span, length - span)
        run[step:] &= run[:-step].copy()
        run[:step] = False
        span += step
    return run
