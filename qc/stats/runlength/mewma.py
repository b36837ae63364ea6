"""Run length of a multivariate EWMA chart, and the decision limit for a wanted one."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri

from qc.stats.checks import positive
from qc.stats.runlength.chains import chain_arl, chain_run
from qc.stats.runlength.ewma import LIMITS, ewma_run_length
from qc.stats.runlength.mewma_plane import plane_chain
from qc.stats.runlength.mewma_radial import SmoothedChart, radial_chain
from qc.stats.runlength.quadrature import MOST_NODES, nodes_for
from qc.stats.runlength.result import RunLength, known_state, wanted_arl
from qc.stats.runlength.t2 import known_distance, known_variables

MOST_VARIABLES = 100
USUAL_ARL = 200.0
"""In-control average run length of the published designs, taken where no limit is given."""

METHOD = "integral equation, {} nodes; decision limit {:.6g}"


def mewma_run_length(
    shift: float, *, n_variables: int, decision: float | None = None, weight: float = 0.1,
    limits: str = "steady", state: str = "zero",
) -> RunLength:
    """Run length of a multivariate EWMA chart whose mean and covariance are known.

    Parameters
    ----------
    shift : lasting shift of the mean from the first point on, as its Mahalanobis distance
        sqrt(d' S^-1 d) in the covariance S of a plotted point, 0 or more
    n_variables : p, 1..100
    decision : limit of the statistic, above 0; None: the one for an average of 200 in control
    weight : lambda, weight of the newest point, inside (0, 1]
    limits : 'steady' covariance (as published tables) or 'exact' (narrower at the start)
    state : 'zero', the chart starts at the mean; 'steady', the shift comes after long use without
        a signal (the conditional steady state)

    Raises
    ------
    ValueError
        An argument is outside its range, or weight is too small to be computed.

    Notes
    -----
    Points are independent and normal; the run length then depends on the shift by its distance
    alone. In control the distance of the smoothed point from the mean is a chain of its own, with
    a noncentral chi law from each to the next; with a shift the chain has two coordinates, along
    the shift and away from it (Runger and Prabhu). Both integral equations (Rigdon) are solved on
    Gauss-Legendre nodes, in control to ten digits and with a shift to six.

    Source
    ------
    Rigdon (1995), J. Statistical Computation and Simulation 52, 351-365 (in control) and Statistics
    & Probability Letters 24, 365-373 (with a shift; from memory); Runger and Prabhu (1996),
    J. American Statistical Association 91, 1701-1706.
    """
    if decision is None:
        decision = mewma_decision(USUAL_ARL, n_variables=n_variables, weight=weight,
                                  limits=limits, state=state)
    chart = _checked(n_variables, weight, decision)
    shift = known_distance(shift)
    if limits not in LIMITS:
        raise ValueError(f"limits is {limits!r}; allowed: {', '.join(LIMITS)}")
    known_state(state)
    if n_variables == 1:
        return ewma_run_length(shift, weight=weight, width=float(np.sqrt(decision)),
                               limits=limits, state=state)
    exact = limits == "exact" and state == "zero"
    if shift == 0:
        chain = radial_chain(chart, exact=exact, state=state)
    else:
        chain = plane_chain(chart, shift, exact=exact, state=state)
    return chain_run(chain, state=state, method=METHOD.format(len(chain.mass), decision))


@lru_cache(maxsize=256)
def mewma_decision(
    arl: float, *, n_variables: int, weight: float = 0.1, limits: str = "steady",
    state: str = "zero",
) -> float:
    """The decision limit with this in-control average run length; arguments as above.

    Raises
    ------
    ValueError
        arl is not above 1 or too large, or another argument is outside its range.
    """
    wanted = np.log(wanted_arl(arl))
    # points that remember signal later than points on their own would with the same limit
    alone = float(chdtri(known_variables(n_variables, most=MOST_VARIABLES), 1 / arl))
    mewma_run_length(0.0, n_variables=n_variables, weight=weight, decision=alone, limits=limits,
                     state=state)
    exact = limits == "exact" and state == "zero"
    low, high = 1e-6 * alone, alone * 1.001 + 0.01

    def excess(decision: float) -> float:
        chart = SmoothedChart(n_variables=n_variables, weight=weight, decision=decision)
        return float(np.log(chain_arl(radial_chain(chart, exact=exact, state=state))) - wanted)

    if exact:  # each look costs a walk; mostly a few per cent above what steady limits need
        low = mewma_decision(arl, n_variables=n_variables, weight=weight)
        high = low * 1.1
        while excess(high) < 0:
            low, high = high, 2 * high
    return float(brentq(excess, low * (1 - 1e-9), high, xtol=1e-10, rtol=1e-11))


def _checked(n_variables: int, weight: float, decision: float) -> SmoothedChart:
    p = known_variables(n_variables, most=MOST_VARIABLES)
    if not 0 < weight <= 1:
        raise ValueError(f"weight is {weight:g}; it must be inside (0, 1]")
    chart = SmoothedChart(n_variables=p, weight=weight,
                          decision=positive("decision", decision))
    if nodes_for(chart.reach) > MOST_NODES:
        raise ValueError(f"weight is {weight:g} with decision {decision:g}; too small a weight, or"
                         " too wide, for its run length to be computed")
    return chart
