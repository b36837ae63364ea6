"""A multivariate EWMA with a shift: its chain in two coordinates, along the shift and away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.stats.checks import Floats
from qc.stats.runlength.chains import Chain, settled
from qc.stats.runlength.mewma_radial import (
    ENDED,
    SmoothedChart,
    node_count,
    radial_density,
    radii,
)
from qc.stats.runlength.quadrature import gauss, nodes_for, normal_density


def plane_chain(chart: SmoothedChart, shift: float, *, exact: bool, state: str) -> Chain:
    """The smoothed point with a shift from the first point on."""
    plane = _Plane.of(chart)
    disc = plane.disc(chart.radius)
    step = plane.step(disc, disc, shift)
    at, mass, survived = _HalfDisc.of(0.0, 1, 1), np.ones(1), [1.0]
    if state == "steady":
        share = (disc.along[:, None] * disc.away).ravel()
        at, mass = disc, settled(plane.step(disc, disc, 0.0), share)
        mass /= mass.sum()
    moving = _Plane.moving(chart)
    for radius in radii(chart) if exact else ():
        to = moving.disc(radius)
        mass, at = moving.carried(mass, at, to, shift), to
        survived.append(float(mass.sum()))
        if survived[-1] < ENDED:
            break
    first = plane.carried(mass, at, disc, shift)
    return Chain(survived=np.array(survived), mass=first, step=step, weight=np.ones(len(first)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _HalfDisc:
    """Nodes of a half disc: along the shift z, and away from it y, 0 or more.

    z = radius sin(angle) and y = radius cos(angle) t, so that what is integrated is smooth up to
    the rim. ``z``, ``along`` : (a), angles' nodes and their shares. ``y``, ``away`` : (a, t).
    """

    radius: float
    z: Floats
    along: Floats
    y: Floats
    away: Floats

    @classmethod
    def of(cls, radius: float, n_along: int, n_away: int) -> _HalfDisc:
        angle, angle_share = gauss(-np.pi / 2, np.pi / 2, n_along)
        t, t_share = gauss(0.0, 1.0, n_away)
        rim = radius * np.cos(angle)
        return cls(radius=radius, z=radius * np.sin(angle), along=angle_share * rim,
                   y=np.outer(rim, t), away=np.outer(rim, t_share))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """The chain of the smoothed point in two coordinates."""

    chart: SmoothedChart
    n_along: int
    n_away: int
    n_between: int

    @classmethod
    def of(cls, chart: SmoothedChart) -> _Plane:
        # the nodes of the angle lie widest in the middle, pi^2 / 2 reaches over their number
        reach = chart.reach
        return cls(chart=chart, n_along=node_count(12, 4.4 * reach),
                   n_away=node_count(10, 1.1 * reach), n_between=nodes_for(reach))

    @classmethod
    def moving(cls, chart: SmoothedChart) -> _Plane:
        """With as many nodes as a density needs that is carried on, not solved for."""
        reach = chart.reach
        return cls(chart=chart, n_along=node_count(10, 3.7 * reach),
                   n_away=node_count(8, 0.9 * reach), n_between=node_count(16, 1.6 * reach))

    def disc(self, radius: float) -> _HalfDisc:
        return _HalfDisc.of(radius, self.n_along, self.n_away)

    def step(self, at: _HalfDisc, to: _HalfDisc, shift: float) -> Floats:
        """Chance from each node to near each other, with its quadrature shares."""
        ahead, between, spread = self._parts(at, to, shift)
        n_at, n_to = at.y.size, to.y.size
        apart = np.einsum("xg,bgt->xbt", between, spread, optimize=True)
        chance = apart.reshape(*at.y.shape, *to.y.shape) * ahead[:, None, :, None]
        joint: Floats = chance.reshape(n_at, n_to)
        return joint

    def carried(self, mass: Floats, at: _HalfDisc, to: _HalfDisc, shift: float) -> Floats:
        """Share of all runs near each node after one more point."""
        ahead, between, spread = self._parts(at, to, shift)
        by_line = np.einsum("at,atg->ag", mass.reshape(at.y.shape),
                            between.reshape(*at.y.shape, -1))
        moved: Floats = np.einsum("bg,bgt->bt", ahead.T @ by_line, spread)
        return moved.ravel()

    def _parts(
        self, at: _HalfDisc, to: _HalfDisc, shift: float
    ) -> tuple[Floats, Floats, Floats]:
        weight = self.chart.weight
        ahead = normal_density((to.z - (1 - weight) * at.z[:, None]) / weight - shift)
        # the law of y is computed on one row of nodes for all lines, and read off between them
        row, share = gauss(0.0, to.radius, self.n_between)
        between = radial_density(at.y.ravel(), row, self.chart.n_variables - 1, weight)
        spread = _read_off(row, share, to.y) * to.away[:, None, :]
        return ahead * (to.along / weight), between, spread


def _read_off(row: Floats, share: Floats, wanted: Floats) -> Floats:
    """Weights that read a smooth function on Gauss-Legendre nodes off elsewhere, (a, row, t).

    Barycentric, with the weights (-1)^k sqrt((1 - x^2) w) of these nodes x and their shares w.

    Source
    ------
    Wang and Xiang (2012), Mathematics of Computation 81, 861-877.
    """
    end = row[0] + row[-1]
    bary = np.sqrt(row * (end - row) * share) * (-1.0) ** np.arange(len(row))
    off = wanted[:, None, :] - row[None, :, None]
    off[off == 0] = np.finfo(np.float64).tiny
    terms = bary[None, :, None] / off
    weights: Floats = terms / terms.sum(axis=1, keepdims=True)
    return weights
