"""What a bivariate normal distribution puts outside a rectangle or a circle."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from qc.stats.capability.specification import Specification
from qc.stats.checks import Floats, finite, positive

Bools = npt.NDArray[np.bool_]

_FARTHEST = 38.0  # standard deviations at which the density is too small for a number
_STEPS = np.array([-9.0, -5, -3, -1.5, -0.5, 0, 0.5, 1.5, 3, 5, 9])
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_THINNEST = 1e-12  # of the larger spread: two values that lie on a line


@dataclass(frozen=True, slots=True, kw_only=True)
class BivariateNormal:
    """Means, standard deviations (0 and up) and correlation of two values, x and y."""

    mean: tuple[float, float]
    sigma: tuple[float, float]
    correlation: float

    @property
    def covariance(self) -> Floats:
        """The 2 x 2 covariance matrix."""
        (sx, sy), r = self.sigma, self.correlation
        return np.array([[sx * sx, r * sx * sy], [r * sx * sy, sy * sy]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """Limits of x and of y, each with at least one."""

    x: Specification
    y: Specification

    def holds(self, x: Floats, y: Floats) -> Bools:
        """Which points lie inside or on the border, as booleans."""
        (a, b), (c, d) = self.x.ends, self.y.ends
        inside: Bools = (x >= a) & (x <= b) & (y >= c) & (y <= d)
        return inside


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """All points within a radius (above 0) of a centre."""

    radius: float
    centre: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        positive("radius", self.radius)
        for value in self.centre:
            finite("centre", value)

    def holds(self, x: Floats, y: Floats) -> Bools:
        """Which points lie inside or on the border, as booleans."""
        inside: Bools = np.hypot(x - self.centre[0], y - self.centre[1]) <= self.radius
        return inside


def share_outside(normal: BivariateNormal, region: Rectangle | Circle) -> float:
    """Probability outside a region.

    Notes
    -----
    One integral by Gauss-Legendre over one variable of the conditional probability of the other,
    split where that changes fast; of what is outside, so that a small share keeps its digits
    (relative error below 1e-9).

    Source
    ------
    Owen (1956), Annals of Mathematical Statistics 27, 1075-1090 (rectangle); Harter (1960),
    J. Amer. Stat. Assoc. 55, 723-731 (circle).
    """
    if max(normal.sigma) == 0:
        return float(not region.holds(*np.array(normal.mean)))
    if isinstance(region, Circle):
        return _outside_circle(normal, region)
    return _outside_rectangle(normal, region)


def _outside_rectangle(normal: BivariateNormal, region: Rectangle) -> float:
    (mx, my), (sx, sy), r = normal.mean, normal.sigma, normal.correlation
    (a, b), (c, d) = region.x.ends, region.y.ends
    low, high = _standard(a, mx, sx), _standard(b, mx, sx)
    beside = float(ndtr(low) + ndtr(-high))
    if sx == 0:
        low, high, beside = -np.inf, np.inf, float(not a <= mx <= b)
    slope, inner = r * sy, max(sy * math.sqrt(max(1 - r * r, 0.0)), _THINNEST * max(sx, sy))
    # where x carries y over a limit, unless it does so too slowly to matter
    steep = abs(slope) > 1e-3 * inner
    crossings = [(limit - my) / slope for limit in (c, d) if steep and math.isfinite(limit)]
    width = inner / abs(slope) if steep else math.nan
    z, weight = _panels(max(low, -_FARTHEST), min(high, _FARTHEST),
                        [at + width * _STEPS for at in crossings])
    middle = my + slope * z
    missed = ndtr((c - middle) / inner) + ndtr((middle - d) / inner)
    return min(beside + float((weight * _density(z) * missed).sum()), 1.0)


def _outside_circle(normal: BivariateNormal, region: Circle) -> float:
    # along the principal axes both coordinates are independent
    variances, axes = np.linalg.eigh(normal.covariance)
    sv, su = np.sqrt(np.maximum(variances, (_THINNEST**2) * variances[1])).tolist()
    off = axes.T @ (np.array(normal.mean) - np.array(region.centre))
    (mv, mu), radius = off.tolist(), region.radius
    # u = radius sin(angle): smooth up to the rim
    rims = np.sqrt(np.maximum(radius**2 - (np.abs(mv) + sv * _STEPS).clip(0) ** 2, 0.0))
    cuts = [np.arcsin(np.clip(at / radius, -1, 1)) for at in (mu + su * _STEPS, rims, -rims)]
    angle, weight = _panels(-math.pi / 2, math.pi / 2, cuts)
    u, half = radius * np.sin(angle), radius * np.cos(angle)
    missed = ndtr((-half - mv) / sv) + ndtr((mv - half) / sv)
    within = (weight * half * _density((u - mu) / su) / su * missed).sum()
    beside = ndtr((-radius - mu) / su) + ndtr((mu - radius) / su)
    return min(float(beside + within), 1.0)


def _standard(limit: float, mean: float, sigma: float) -> float:
    return (limit - mean) / sigma if sigma > 0 else math.nan


def _density(z: Floats) -> Floats:
    density: Floats = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    return density


def _panels(low: float, high: float, cuts: list[Floats]) -> tuple[Floats, Floats]:
    """Nodes and weights of a composite rule on low..high, cut there and at a pace of 1."""
    if not low < high:
        return np.empty(0), np.empty(0)
    paces = np.linspace(low, high, max(int(math.ceil(high - low)), 8) + 1)
    places = np.unique(np.clip(np.concatenate([paces, *cuts]), low, high))
    half = np.diff(places)[:, None] / 2
    nodes = places[:-1, None] + half * (_NODES + 1)
    return nodes.ravel(), (half * _WEIGHTS).ravel()
