"""Run length of an EWMA chart of independent normal points, and the width for a wanted one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from qc.stats.checks import Floats, positive
from qc.stats.runlength.chains import Chain, chain_arl, chain_run, settled
from qc.stats.runlength.quadrature import (
    MOST_NODES,
    balanced,
    gauss,
    nodes_for,
    normal_density,
)
from qc.stats.runlength.result import RunLength, known_shift, known_state, wanted_arl

LIMITS = ("exact", "steady")
METHOD = "integral equation, {} Gauss-Legendre nodes"
LEAST_EXACT_WEIGHT = 0.005
"""Below this limits take so many points to settle that following them would take minutes."""

_ENDED = 1e-18  # a share of runs that no digit of a result depends on


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chart:
    weight: float
    width: float

    @property
    def limit(self) -> float:
        """The settled limit, in sigma of a single point."""
        return float(self.width * np.sqrt(self.weight / (2 - self.weight)))

    @property
    def n_nodes(self) -> int:
        return nodes_for(2 * self.limit / self.weight)

    def kernel(self, at: Floats, to: Floats, share: Floats, shift: float) -> Floats:
        """Chance from each value ``at`` to near each node ``to``, with its quadrature share."""
        step = (to - (1 - self.weight) * at[:, None]) / self.weight - shift
        chance: Floats = normal_density(step) * (share / self.weight)
        return chance

    def step(self, shift: float) -> Floats:
        """Chance from each settled node to near each other, exact in the sum of each row."""
        node, share = self.nodes()
        kept, high = (1 - self.weight) * node, self.limit
        leaving = (ndtr((-high - kept) / self.weight - shift)
                   + ndtr((kept - high) / self.weight + shift))
        return balanced(self.kernel(node, node, share, shift), leaving)

    def nodes(self) -> tuple[Floats, Floats]:
        """Nodes inside the settled limits and their quadrature shares."""
        return gauss(-self.limit, self.limit, self.n_nodes)


def ewma_run_length(
    shift: float, *, weight: float = 0.2, width: float = 3.0, limits: str = "steady",
    state: str = "zero",
) -> RunLength:
    """Run length of an EWMA chart whose centre and sigma are known.

    Parameters
    ----------
    shift : lasting shift of the mean from the first point on, in sigma of a plotted point
    weight : lambda, weight of the newest point, inside (0, 1]
    width : distance of the limits in standard deviations of the EWMA, above 0
    limits : 'steady' (as published tables) or 'exact' (narrower at the start, as `ewma_chart`)
    state : 'zero', the EWMA starts at the centre line; 'steady', the shift comes after long use
        without a signal (the conditional steady state)

    Raises
    ------
    ValueError
        An argument is outside its range, or weight is too small to be computed.

    Notes
    -----
    Points are independent and normal. The integral equation of Crowder, solved on Gauss-Legendre
    nodes whose number follows from limits and weight, is good to nine digits where the average is
    below 1e6. Exact limits: the density is carried on point by point until the limits have
    settled to twelve digits, then the integral equation takes over.

    Source
    ------
    Crowder (1987), Technometrics 29, 401-407; Lucas & Saccucci (1990), Technometrics 32, 1-29.
    """
    chart, change = _checked(weight, width), known_shift(shift)
    if limits not in LIMITS:
        raise ValueError(f"limits is {limits!r}; allowed: {', '.join(LIMITS)}")
    if limits == "exact" and known_state(state) == "zero" and weight < LEAST_EXACT_WEIGHT:
        raise ValueError(f"weight is {weight:g}; with exact limits it must be from"
                         f" {LEAST_EXACT_WEIGHT:g}, or take steady ones")
    chain = _chain(chart, change, exact=limits == "exact", state=known_state(state))
    return chain_run(chain, state=state, method=METHOD.format(chart.n_nodes))


def ewma_width(
    arl: float, *, weight: float = 0.2, limits: str = "steady", state: str = "zero"
) -> float:
    """The width that gives this in-control average run length; arguments as `ewma_run_length`.

    Raises
    ------
    ValueError
        arl is not above 1 or too large, or another argument is outside its range.
    """
    wanted = np.log(wanted_arl(arl))
    exact = limits == "exact"
    ewma_run_length(0.0, weight=weight, limits=limits, state=state)

    def excess(width: float) -> float:
        chart = _Chart(weight=weight, width=width)
        return float(np.log(chain_arl(_chain(chart, 0.0, exact=exact, state=state))) - wanted)

    # points that remember signal later than points on their own would with the same width
    shewhart = -float(ndtri(0.5 / arl))
    return float(brentq(excess, 1e-4 * shewhart, shewhart + 0.1, xtol=1e-12, rtol=1e-12))


def _checked(weight: float, width: float) -> _Chart:
    if not 0 < weight <= 1:
        raise ValueError(f"weight is {weight:g}; it must be inside (0, 1]")
    chart = _Chart(weight=weight, width=positive("width", width))
    if chart.n_nodes > MOST_NODES:
        raise ValueError(f"weight is {weight:g} with width {width:g}; too small a weight, or too"
                         " wide, for its run length to be computed")
    return chart


def _chain(chart: _Chart, shift: float, *, exact: bool, state: str) -> Chain:
    node, share = chart.nodes()
    step = chart.step(shift)
    if state == "steady":
        calm = step if shift == 0 else chart.step(0.0)
        survived, at = np.ones(1), node
        mass = settled(calm, share)
        mass /= mass.sum()
    elif exact:
        survived, at, mass = _while_limits_move(chart, shift)
    else:
        survived, at, mass = np.ones(1), np.zeros(1), np.ones(1)
    first = mass @ chart.kernel(at, node, share, shift)
    return Chain(survived=survived, mass=first, step=step, weight=np.ones(len(node)))


def _while_limits_move(chart: _Chart, shift: float) -> tuple[Floats, Floats, Floats]:
    """Survival up to the point where the limits have settled, and the EWMA's values there."""
    at, mass, survived = np.zeros(1), np.ones(1), [1.0]
    keep = (1 - chart.weight) ** 2
    left = 1.0
    while (left := left * keep) > 1e-13 and survived[-1] > _ENDED:
        limit = chart.limit * np.sqrt(1 - left)
        node, share = gauss(-limit, limit, nodes_for(2 * limit / chart.weight))
        mass = mass @ chart.kernel(at, node, share, shift)
        at = node
        survived.append(float(mass.sum()))
    return np.array(survived), at, mass
