"""Distance of a multivariate EWMA from its mean: the law of each step, and its chain in control."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, i0e, i1e, ive

from qc.stats.checks import Floats
from qc.stats.runlength.chains import Chain, settled
from qc.stats.runlength.quadrature import gauss, nodes_for, normal_density

ENDED = 1e-18
"""A share of runs that no digit of a result depends on."""

_SETTLED = 1e-11  # what exact limits may still lack, as a share of the steady variance
_SMALL = 1e-3  # below this a Bessel function is the first two terms of its series


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothedChart:
    n_variables: int
    weight: float
    decision: float

    @property
    def radius(self) -> float:
        """How far the smoothed point may lie from the mean, in sigma of a point."""
        return float(np.sqrt(self.decision * self.weight / (2 - self.weight)))

    @property
    def reach(self) -> float:
        """The radius in sigma of one step."""
        return self.radius / self.weight


def radial_density(at: Floats, to: Floats, n: int, weight: float) -> Floats:
    """Density of the next distance from the mean in n variables, from each ``at`` to each ``to``.

    Noncentral chi with n degrees of freedom, in logarithms: s (s/a)^v exp(-(s - a)^2 / 2) times
    the scaled Bessel function of order v = n/2 - 1 at a s.
    """
    s, a = to[None, :] / weight, (1 - weight) / weight * at[:, None]
    if n == 1:
        return (normal_density(s - a) + normal_density(s + a)) / weight
    order, product = n / 2 - 1, a * s
    small = product < _SMALL
    with np.errstate(divide="ignore", invalid="ignore"):
        bessel = np.log(_scaled_bessel(order, product)) - order * np.log(product)
    series = np.log1p(product**2 / (4 * (order + 1))) - product
    bessel = np.where(small, series - order * np.log(2) - gammaln(order + 1), bessel)
    density: Floats = np.exp(bessel + (n - 1) * np.log(s) - (s - a) ** 2 / 2) / weight
    return density


def _scaled_bessel(order: float, z: Floats) -> Floats:
    """exp(-z) I_order(z); of the orders that two and four variables need by faster functions."""
    scaled: Floats = (i0e(z) if order == 0 else i1e(z) if order == 1 else ive(order, z))
    return scaled


def radial_chain(chart: SmoothedChart, *, exact: bool, state: str) -> Chain:
    """The distance from the mean in control."""
    n, weight = chart.n_variables, chart.weight
    count, n_moving = nodes_for(chart.reach), node_count(16, 1.6 * chart.reach)
    node, share = gauss(0.0, chart.radius, count)
    step = radial_density(node, node, n, weight) * share
    at, mass, survived = np.zeros(1), np.ones(1), [1.0]
    if state == "steady":
        at, mass = node, settled(step, share)
        mass /= mass.sum()
    for radius in radii(chart) if exact else ():
        to, own = gauss(0.0, radius, n_moving)
        mass, at = mass @ (radial_density(at, to, n, weight) * own), to
        survived.append(float(mass.sum()))
        if survived[-1] < ENDED:
            break
    first = mass @ (radial_density(at, node, n, weight) * share)
    return Chain(survived=np.array(survived), mass=first, step=step, weight=np.ones(count))


def node_count(least: int, more: float) -> int:
    return least + int(np.ceil(more))


def radii(chart: SmoothedChart) -> list[float]:
    """The radius at each point until it has settled."""
    keep, left, radii = (1 - chart.weight) ** 2, 1.0, []
    while (left := left * keep) > _SETTLED:
        radii.append(chart.radius * np.sqrt(1 - left))
    return radii
