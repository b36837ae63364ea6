"""Run length of a tabular CUSUM of independent normal points, and the decision for a wanted one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from qc.stats.checks import Floats, positive
from qc.stats.runlength.chains import Chain, chain_arl, chain_run, settled
from qc.stats.runlength.quadrature import balanced, gauss, nodes_for, normal_density
from qc.stats.runlength.result import RunLength, known_shift, known_state, wanted_arl

SIDES = ("two", "one")
METHOD = "integral equation, {} Gauss-Legendre nodes a side"
_ENDED = 1e-18  # a share of runs that no digit of a result depends on
MOST_DECISION = 200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chart:
    reference: float
    decision: float
    head_start: float
    two_sided: bool

    @property
    def n_nodes(self) -> int:
        return nodes_for(self.decision)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """One sum on [0, decision]: state 0 is the sum at 0, the others its Gauss-Legendre nodes."""

    reference: float
    decision: float
    shift: float
    node: Floats
    share: Floats

    def rows(self, at: Floats) -> Floats:
        """Chance from each sum ``at`` to each state."""
        drift = self.shift - self.reference
        chance = np.empty((len(at), len(self.node) + 1))
        chance[:, 0] = ndtr(-at - drift)
        chance[:, 1:] = normal_density(self.node - at[:, None] - drift) * self.share
        return chance

    def signals(self, at: Floats) -> Floats:
        """Chance of a signal at the next point from each sum ``at``."""
        chance: Floats = ndtr(at - self.decision + self.shift - self.reference)
        return chance

    @property
    def states(self) -> Floats:
        return np.concatenate(([0.0], self.node))

    def step(self) -> Floats:
        """Chance from each state to each, exact in the sum of each row."""
        return balanced(self.rows(self.states), self.signals(self.states))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Begun:
    """Runs going on after the last of ``survived``: upper and lower sums with their shares."""

    survived: Floats
    upper: Floats
    lower: Floats
    mass: Floats


def cusum_run_length(
    shift: float, *, reference: float = 0.5, decision: float = 5.0, head_start: float = 0.0,
    sides: str = "two", state: str = "zero",
) -> RunLength:
    """Run length of a tabular CUSUM whose centre and sigma are known.

    Parameters
    ----------
    shift : lasting shift of the mean from the first point on, in sigma of a plotted point
    reference : k, what each point must exceed to add to a sum, in sigma, 0 and up
    decision : h, a sum above it signals, in sigma, above 0
    head_start : what each sum starts from, in sigma, 0 up to but not including decision
    sides : 'two', or 'one' for the upper sum alone
    state : 'zero', the sums start from the head start; 'steady', the shift comes after long use
        without a signal (the conditional steady state; a head start no longer matters)

    Raises
    ------
    ValueError
        An argument is outside its range.

    Notes
    -----
    Points are independent and normal. One side is Page's integral equation on Gauss-Legendre
    nodes with an atom at 0. Where one sum of a two-sided chart signals, the other is at 0; so
    each run is followed in both sums on their own, taking from the one at 0 what the other
    signals. For the average this is 1 / ARL = 1 / ARL(upper) + 1 / ARL(lower), and it is as exact
    for the whole distribution, for head starts and in the steady state. Head starts above
    decision / 2 + reference meet at first: there both sums are followed as one walk until they
    no longer can.

    Source
    ------
    Page (1954), Biometrika 41, 100-115; Brook & Evans (1972), Biometrika 59, 539-549; Lucas &
    Crosier (1982), Technometrics 24, 199-205.
    """
    chart = _checked(reference, decision, head_start, sides)
    chain = _chain(chart, known_shift(shift), known_state(state))
    return chain_run(chain, state=state, method=METHOD.format(chart.n_nodes))


def siegmund_arl(
    shift: float, *, reference: float = 0.5, decision: float = 5.0, sides: str = "two"
) -> float:
    """Siegmund's approximation of a CUSUM's zero-state average run length, without head start.

    Good to a few per cent and instant: a first guess. Arguments as `cusum_run_length`.

    Source
    ------
    Siegmund (1985), Sequential Analysis, section 2.6; 1.166 is twice the mean overshoot 0.583.
    """
    chart = _checked(reference, decision, 0.0, sides)
    signs = (1, -1) if chart.two_sided else (1,)
    return 1 / sum(1 / _siegmund(sign * known_shift(shift) - reference, decision)
                   for sign in signs)


def cusum_decision(
    arl: float, *, reference: float = 0.5, head_start: float = 0.0, sides: str = "two",
    state: str = "zero",
) -> float:
    """The decision h that gives this in-control average run length.

    Arguments as `cusum_run_length`; the head start stays as given, in sigma.

    Raises
    ------
    ValueError
        No decision gives such a run length, or an argument is outside its range.
    """
    wanted = np.log(wanted_arl(arl))
    if not (np.isfinite(head_start) and head_start >= 0):
        raise ValueError(f"head_start is {head_start:g}; it must be a finite number, 0 and up")
    low = max(head_start * (1 + 1e-9), 1e-6)
    _checked(reference, max(low, 1.0), head_start, sides)
    known_state(state)

    def excess(decision: float) -> float:
        chart = _Chart(reference=reference, decision=decision, head_start=head_start,
                       two_sided=sides == "two")
        return float(np.log(chain_arl(_chain(chart, 0.0, state))) - wanted)

    least = excess(low)
    if least > 0:
        raise ValueError(f"arl is {arl:g}; with this reference and head start it is at least"
                         f" {np.exp(least + wanted):.6g}, whatever the decision")
    high = max(2 * low, 1.0)
    while excess(high) < 0:
        high *= 1.5
        if high > MOST_DECISION:
            raise ValueError(f"arl is {arl:g}; it would need a decision above {MOST_DECISION:g}")
    return float(brentq(excess, low, high, xtol=1e-12, rtol=1e-12))


def _siegmund(drift: float, decision: float) -> float:
    span = decision + 1.166
    if abs(drift) < 1e-9:
        return float(span**2)
    return float((np.expm1(-2 * drift * span) + 2 * drift * span) / (2 * drift**2))


def _checked(reference: float, decision: float, head_start: float, sides: str) -> _Chart:
    if not (np.isfinite(reference) and reference >= 0):
        raise ValueError(f"reference is {reference:g}; it must be a finite number, 0 and up")
    if positive("decision", decision) > MOST_DECISION:
        raise ValueError(f"decision is {decision:g}; it must be at most {MOST_DECISION:g}")
    if not 0 <= head_start < decision:
        raise ValueError(f"head_start is {head_start:g}; it must be from 0 to below the decision,"
                         f" {decision:g}")
    if sides not in SIDES:
        raise ValueError(f"sides is {sides!r}; allowed: {', '.join(SIDES)}")
    return _Chart(reference=reference, decision=decision, head_start=head_start,
                  two_sided=sides == "two")


def _side(chart: _Chart, shift: float) -> _Side:
    node, share = gauss(0.0, chart.decision, chart.n_nodes)
    return _Side(reference=chart.reference, decision=chart.decision, shift=shift, node=node,
                 share=share)


def _chain(chart: _Chart, shift: float, state: str) -> Chain:
    upper, lower = _side(chart, shift), _side(chart, -shift)
    n = len(upper.node) + 1
    if chart.two_sided:
        step, weight = _both(upper, lower), np.full(2 * n, 0.5)
    else:
        step, weight = upper.step(), np.ones(n)
    if state == "steady":
        mass = _settled(chart) @ step
        return Chain(survived=np.ones(1), mass=mass, step=step, weight=weight)
    begun = _begun(chart, shift)
    mass = begun.mass @ upper.rows(begun.upper)
    if chart.two_sided:
        mass = np.concatenate((mass, begun.mass @ lower.rows(begun.lower)))
        mass[0] -= begun.mass @ lower.signals(begun.lower)
        mass[n] -= begun.mass @ upper.signals(begun.upper)
    return Chain(survived=begun.survived, mass=mass, step=step, weight=weight)


def _settled(chart: _Chart) -> Floats:
    calm = _side(chart, 0.0)
    if not chart.two_sided:
        mass = settled(calm.step(), np.ones(len(calm.states)))
        return mass / mass.sum()
    # upper and lower sum alike in control: each loses at 0 what the other signals
    one = calm.step()
    one[:, 0] -= calm.signals(calm.states)
    if chart.reference == 0:  # both sums together never shrink, and in the end neither is at 0
        one[:, 0] = 0
    mass = settled(one, np.concatenate(([1.0], calm.share)))
    mass /= mass.sum()
    return np.concatenate((mass, mass))


def _both(upper: _Side, lower: _Side) -> Floats:
    """Both sums side by side: each loses at 0 what the other signals.

    The shares of the two sums are always equal in total, so a multiple of their difference may
    be taken off; without that the matrix would keep a difference for ever (an eigenvalue 1).
    """
    n = len(upper.node) + 1
    step = np.zeros((2 * n, 2 * n))
    step[:n, :n], step[n:, n:] = upper.step(), lower.step()
    step[:n, n] -= upper.signals(upper.states)
    step[n:, 0] -= lower.signals(lower.states)
    difference = np.repeat((0.5, -0.5), n)
    step[:, 0] -= difference
    step[:, n] += difference
    return step


def _begun(chart: _Chart, shift: float) -> _Begun:
    """Where the run stands when upper and lower sum can no longer both be on their way.

    From a head start s both sums together are 2 s - 2 k n while neither is at 0; above the
    decision neither can reach 0 without a signal of the other.
    """
    together = 2 * chart.head_start
    at, mass, survived = np.array([chart.head_start]), np.ones(1), [1.0]
    while (chart.two_sided and together > chart.decision + 2 * chart.reference
           and survived[-1] > _ENDED):
        together -= 2 * chart.reference
        low = together - chart.decision
        node, share = gauss(low, chart.decision, nodes_for(chart.decision - low))
        mass = mass @ (normal_density(node - at[:, None] + chart.reference - shift) * share)
        at = node
        survived.append(float(mass.sum()))
    return _Begun(survived=np.array(survived), upper=at, lower=together - at, mass=mass)
