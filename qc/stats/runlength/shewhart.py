"""Run length of a Shewhart chart of independent normal points, with any set of rules."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from qc.stats.charts.rules import RuleSet, rule_set
from qc.stats.runlength.automata import needs_steps
from qc.stats.runlength.following import FollowedChain, followed_arl, followed_run
from qc.stats.runlength.result import (
    RunLength,
    geometric_run,
    known_shift,
    known_state,
    wanted_arl,
)
from qc.stats.runlength.rule_chain import rules_chain, rules_chain_in_use
from qc.stats.runlength.zones import (
    Continuous,
    Zones,
    continuous_zones,
    edges,
    nodes_for_zones,
    normal,
)

ALONE = "closed form: points beyond the limits are independent of each other"
CHAIN = "Markov chain of what the rules remember, exact"
EQUATION = "integral equation on the last value within the Markov chain of the rules"


def shewhart_run_length(
    shift: float, *, rules: str | RuleSet = "limits", width: float = 3.0, state: str = "zero"
) -> RunLength:
    """Run length of a chart of individuals or means whose centre and sigma are known.

    Parameters
    ----------
    shift : lasting shift of the mean from the first point on, in sigma of a plotted point
    rules : name in `qc.stats.charts.rules.RULE_SETS`, or a rule set of one's own
    width : distance of the limits from the centre line in sigma, above 0; inf: no limits
    state : 'zero', the rules begin with the run; 'steady', the shift comes after long use without
        a signal (the conditional steady state)

    Raises
    ------
    ValueError
        An argument is outside its range, or there is neither a limit nor a rule.

    Notes
    -----
    Points are independent and normal; the chart of ranges beside the main one is not counted.
    Patterns are those of `qc.stats.charts.rules`, looked for from the first point of the run. Rules
    without ups and downs make a finite chain, exact but for rounding. With trend or alternating
    the last value is carried along at Gauss-Legendre nodes of each zone; seven digits at the
    usual numbers of points.

    Source
    ------
    Champ & Woodall (1987), Technometrics 29, 393-399.
    """
    chosen = _checked(rules, width, known_state(state))
    if not chosen.patterns:
        share = float(ndtr(-width - known_shift(shift)) + ndtr(shift - width))
        return geometric_run(share, state=state, method=ALONE)
    chain = _chain(chosen, width, known_shift(shift), state)
    return followed_run(chain, state=state, method=EQUATION if needs_steps(chosen) else CHAIN)


def shewhart_width(
    arl: float, *, rules: str | RuleSet = "limits", state: str = "zero"
) -> float:
    """The width of the limits that gives this in-control average run length with these rules.

    The lines of the rules stay at 1 and 2 sigma.

    Raises
    ------
    ValueError
        The rules alone signal sooner than that, or an argument is outside its range.
    """
    chosen, wanted = _checked(rules, 3.0, known_state(state)), wanted_arl(arl)
    alone = -float(ndtri(0.5 / wanted))
    if not chosen.patterns:
        return alone
    most = followed_arl(_chain(chosen, np.inf, 0.0, state))
    if most <= wanted:
        raise ValueError(f"arl is {arl:g}; with these rules it is below {most:.6g}, however wide"
                         " the limits")

    def excess(width: float) -> float:
        return float(np.log(followed_arl(_chain(chosen, width, 0.0, state)) / wanted))

    high = alone + 1
    while excess(high) < 0:
        high += 1
    return float(brentq(excess, alone, high, xtol=1e-9, rtol=1e-12))


def _checked(rules: str | RuleSet, width: float, state: str) -> RuleSet:
    chosen = rule_set(rules) if isinstance(rules, str) else rules
    if not width > 0:
        raise ValueError(f"width is {width:g}; it must be above 0")
    if np.isinf(width) and not chosen.patterns:
        raise ValueError("width is inf; without limits there must be a rule")
    return chosen


def _chain(rules: RuleSet, width: float, shift: float, state: str) -> FollowedChain:
    limits, calm, changed = (-width, width), normal(0.0), normal(shift)
    edge = edges(rules, limits)
    n_nodes = nodes_for_zones(edge, limits, calm, changed)

    def zones(points: Continuous, before: Continuous | None = None) -> Zones:
        return continuous_zones(edge, limits, points, n_nodes=n_nodes, calm=before)

    if state == "zero":
        return rules_chain(rules, zones(changed))
    return rules_chain_in_use(rules, zones(calm), zones(changed, calm), zones(changed))
