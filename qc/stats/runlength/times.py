"""Run length of a chart of the time between events from the exponential distribution."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import gamma, log_ndtr, ndtri

from qc.stats.charts.constants import d2
from qc.stats.charts.probability_limits import ALPHA, LEAST_ALPHA
from qc.stats.charts.rare_events import POWER, t_chart
from qc.stats.charts.rules import RuleSet, rule_set
from qc.stats.checks import Floats, positive
from qc.stats.runlength.following import followed_run
from qc.stats.runlength.result import RunLength, geometric_run, known_state, wanted_arl
from qc.stats.runlength.rule_chain import rules_chain, rules_chain_in_use
from qc.stats.runlength.zones import (
    Continuous,
    Zones,
    continuous_zones,
    edges,
    nodes_for_zones,
)

METHOD = "exact exponential distribution"
CHAIN = "exact exponential distribution in the chain of what the rules remember"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Score of a time whose in-control mean is 1, as the chart's lines have it, and back.

    ``centre``, ``sigma`` : of time^(1/3.6); None where scores are normal scores of its chance.
    """

    centre: float | None
    sigma: float

    def time(self, z: Floats) -> Floats:
        if self.centre is None:
            late: Floats = -log_ndtr(-z)
            return late
        power: Floats = np.maximum(self.centre + self.sigma * z, 0.0) ** (1 / POWER)
        return power

    def score(self, time: Floats) -> Floats:
        if self.centre is None:
            normal: Floats = -ndtri(np.exp(-time))
            return normal
        score: Floats = (time**POWER - self.centre) / self.sigma
        return score


def time_run_length(
    shift: float, *, rules: str | RuleSet = "limits", limits: str = "sigma",
    alpha: float = ALPHA, state: str = "zero",
) -> RunLength:
    """Run length of a chart of the time between events, of any mean in control.

    Parameters
    ----------
    shift : factor on the rate of events from the first point on, above 0; 1: no change
    rules : name as for `qc.stats.charts.rules.rule_set`, or a rule set of one's own
    limits, alpha : as for `qc.stats.charts.rare_events.t_chart`
    state : 'zero', or 'steady': the shift comes after long use without a signal; without rules
        the two are one

    Raises
    ------
    ValueError
        An argument is outside its range.

    Notes
    -----
    Times are independent and exponential. Limits at three sigma are those the chart comes to with
    many points: the mean of time^(1/3.6), and as its sigma the mean moving range over d2, which
    is 0.6 % above its standard deviation. In-control time does not matter: it is the unit.

    Source
    ------
    The distribution function, at the limits of Nelson (1994), J. Quality Technology 26(3).
    """
    changed = _exponential(_scale(limits), positive("shift", shift))
    chosen = rule_set(rules) if isinstance(rules, str) else rules
    ends = _limits(limits, alpha)
    known_state(state)
    if not chosen.patterns:
        low, high = (np.array([end]) for end in ends)
        share = changed.between(np.array([-np.inf]), low) + changed.between(high, np.array(
            [np.inf]))
        return geometric_run(float(share[0]), state=state, method=METHOD)
    edge, calm = edges(chosen, ends), _exponential(_scale(limits), 1.0)
    n_nodes = nodes_for_zones(edge, ends, calm, changed)

    def zones(points: Continuous, before: Continuous | None = None) -> Zones:
        return continuous_zones(edge, ends, points, n_nodes=n_nodes, calm=before)

    if state == "zero":
        chain = rules_chain(chosen, zones(changed))
    else:
        chain = rules_chain_in_use(chosen, zones(calm), zones(changed, calm), zones(changed))
    return followed_run(chain, state=state, method=CHAIN)


def time_alpha(arl: float, *, rules: str | RuleSet = "limits", state: str = "zero") -> float:
    """The alpha whose probability limits give this in-control average run length.

    Raises
    ------
    ValueError
        The rules alone signal sooner than that, or an argument is outside its range.
    """
    wanted = wanted_arl(arl)

    def excess(log_alpha: float) -> float:
        run = time_run_length(1.0, rules=rules, limits="probability",
                              alpha=float(np.exp(log_alpha)), state=state)
        return float(np.log(run.arl / wanted))

    # rules only add to what the limits signal: without them alpha is 1 / arl
    low, high = np.log(LEAST_ALPHA) + 1e-12, min(np.log(0.999), 1e-9 - np.log(wanted))
    if excess(low) < 0:
        raise ValueError(f"arl is {arl:g}; no limits of this chart, with these rules, give it")
    return float(np.exp(brentq(excess, low, high, xtol=1e-12, rtol=1e-12)))


def time_limits(*, limits: str = "sigma", alpha: float = ALPHA) -> tuple[float, float]:
    """Lower and upper limit of the chart, as multiples of the mean time in control."""
    low, high = _scale(limits).time(np.array(_limits(limits, alpha)))
    return float(low), float(high)


def _scale(limits: str) -> _Scale:
    if limits != "sigma":
        return _Scale(centre=None, sigma=1.0)
    centre = float(gamma(1 + POWER))
    # mean difference of two, by the smaller of two exponential times being half as long
    moving_range = 2 * centre * (1 - 2.0**-POWER)
    return _Scale(centre=centre, sigma=moving_range / d2(2))


def _limits(limits: str, alpha: float) -> tuple[float, float]:
    """The chart's own limits, as scores."""
    scale, any_times = _scale(limits), np.ones(2)
    if scale.centre is None:
        chart = t_chart(any_times, centre=1.0, limits=limits, alpha=alpha).charts[0]
    else:
        chart = t_chart(any_times, centre=scale.centre ** (1 / POWER), sigma=scale.sigma).charts[0]
    ends = scale.score(np.array([chart.lower[0], chart.upper[0]]))
    return float(ends[0]), float(ends[1])


def _exponential(scale: _Scale, rate: float) -> Continuous:
    """Scores of exponential times with this rate; in control it is 1."""
    def between(low: Floats, high: Floats) -> Floats:
        early, late = scale.time(low), scale.time(high)
        with np.errstate(invalid="ignore"):  # none between infinity and infinity
            chance: Floats = np.exp(-rate * early) * -np.expm1(-rate * (late - early))
        return chance

    def value(low: float, high: float, place: Floats) -> Floats:
        early, late = scale.time(np.array(low)), scale.time(np.array(high))
        time = early - np.log1p(place * np.expm1(-rate * (late - early))) / rate
        found: Floats = np.clip(scale.score(time), low, high)
        return found

    return Continuous(between=between, value=value)
