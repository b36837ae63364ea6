"""Do placements, measured in two directions at once, keep inside a rectangle or a circle?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri, stdtrit

from qc.stats.capability.bivariate_normal import BivariateNormal, Circle, Rectangle, share_outside
from qc.stats.capability.indices import Index
from qc.stats.capability.normality import LEVEL, Normality, anderson_darling
from qc.stats.capability.stability import SURE, beyond_p_value
from qc.stats.charts.autocorrelation import likeness
from qc.stats.checks import Floats, finite_array, inside_unit, same_length
from qc.stats.comparing.intervals import ShareInterval, exact_interval
from qc.stats.deviation import standard_deviation

SOURCE = "bivariate normal distribution; share by integration (Owen 1956, Harter 1960)"
DELTA = "delta method on the probit scale, t quantile"
FEW_POINTS = 50
CONTENT = 0.9973
_STEP = 1e-3
_SMALLEST = 1e-300


class BivariateCaution(Enum):
    """What a reader must know before trusting the result; the value is the sentence to show."""

    FEW_POINTS = f"fewer than {FEW_POINTS} placements: read the intervals, not the shares"
    NO_VARIATION = "one of the two directions does not vary: no share can be fitted"
    UNSTABLE = (
        "placements were not stable: the share says what was, not what will be; find the cause of"
        " the change first (control chart)"
    )
    ALIKE = "neighbouring placements are alike: the intervals are too narrow"
    NOT_NORMAL = "placements are not normal in at least one direction: trust the counted share"
    ON_A_LINE = "both directions move together exactly: was one computed from the other?"
    MEAN_OUTSIDE = "the mean placement itself lies outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedShare:
    """A share outside by the fitted distribution, with its interval."""

    share: float
    low: float
    high: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """Holds ``content`` of the fitted distribution. ``angle_deg``: of the long axis, from +x to +y.

    Half axes in the unit of the data.
    """

    centre: tuple[float, float]
    half_long: float
    half_short: float
    angle_deg: float
    content: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BivariateCapability:
    """Share of placements outside a region, fitted and counted, and indices.

    ``equivalent``: what Cp a centred normal characteristic with two limits would have at the same
    share outside. ``contour_p`` and ``contour_pk``: the same for the content of the largest
    ellipse of equal density that fits the region, moved to the middle of the region (nan where it
    has none) and where it is. None or nan where the placements do not vary.
    """

    source: str
    n: int
    normal: BivariateNormal
    region: Rectangle | Circle
    confidence: float
    fitted: FittedShare | None
    outside: ShareInterval
    equivalent: Index | None
    contour_p: float
    contour_pk: float
    ellipse: Ellipse | None
    normality: tuple[Normality, Normality]
    cautions: tuple[Enum, ...]


def bivariate_capability(
    x: npt.ArrayLike, y: npt.ArrayLike, region: Rectangle | Circle, *, confidence: float = 0.95
) -> BivariateCapability:
    """Share of placements inside a rectangle or a circle.

    Parameters
    ----------
    x, y : n finite values each, in time order, in the unit of the region, n >= 4
    region : rectangle or circle
    confidence : of each interval, inside (0, 1)

    Raises
    ------
    ValueError
        Too few or not finite values, lengths that differ, confidence outside (0, 1).

    Notes
    -----
    Means and covariance (divisor n - 1) give a bivariate normal; its share outside is integrated.
    The interval is mean -+ t standard errors of the probit of that share, from the covariance of
    the five estimates and n - 1 degrees of freedom; its coverage is 94 to 98 % at 95 % (simulated,
    n = 20 to 200). The counted share has the exact binomial interval.

    Source
    ------
    Share: Owen (1956), Harter (1960), see `share_outside`. Indices: ISO 22514-6 by content of an
    ellipse, as remembered, its text was not at hand. Standard errors: Muirhead (1982), Aspects of
    Multivariate Statistical Theory, chapters 1 and 5.
    """
    dx, dy = finite_array("x", x, at_least=4), finite_array("y", y, at_least=4)
    same_length("x", dx, "y", dy)
    inside_unit("confidence", confidence)
    normal = _normal_of(dx, dy)
    fitted = None if min(normal.sigma) == 0 else _fitted(normal, region, len(dx), confidence)
    n_outside = len(dx) - int(np.count_nonzero(region.holds(dx, dy)))
    normality = anderson_darling(dx), anderson_darling(dy)
    centred, where_it_is = _contours(normal, region) if fitted else (math.nan, math.nan)
    return BivariateCapability(
        source=SOURCE, n=len(dx), normal=normal, region=region, confidence=confidence,
        fitted=fitted, outside=exact_interval(n_outside, len(dx), confidence=confidence),
        equivalent=None if fitted is None else _equivalent(fitted), contour_p=centred,
        contour_pk=where_it_is, ellipse=None if fitted is None else ellipse_of(normal, CONTENT),
        normality=normality, cautions=_cautions(dx, dy, normal, region, normality),
    )


def ellipse_of(normal: BivariateNormal, content: float) -> Ellipse:
    """The ellipse of equal density that holds this share of a bivariate normal, inside (0, 1)."""
    inside_unit("content", content)
    variances, axes = np.linalg.eigh(normal.covariance)
    reach = math.sqrt(-2 * math.log1p(-content))  # chi-square with two degrees of freedom
    short, long = (reach * math.sqrt(max(v, 0.0)) for v in variances.tolist())
    angle = math.degrees(math.atan2(axes[1, 1], axes[0, 1]))
    return Ellipse(centre=normal.mean, half_long=long, half_short=short,
                   angle_deg=(angle + 90) % 180 - 90, content=content)


def index_of_share(outside: float) -> float:
    """Cp of a centred normal characteristic with this share outside its two limits."""
    return -float(ndtri(max(outside, _SMALLEST) / 2)) / 3


def index_of_reach(reach: float) -> float:
    """Cp of a centred normal characteristic with the content of an ellipse of this reach.

    ``reach``: Mahalanobis distance of its rim. Below 0 where the middle lies outside.
    """
    return math.copysign(index_of_share(math.exp(-(reach**2) / 2)), reach)


def _normal_of(x: Floats, y: Floats) -> BivariateNormal:
    sigma = standard_deviation(x, "x"), standard_deviation(y, "y")
    r = 0.0
    if min(sigma) > 0:
        r = float(((x - x.mean()) / sigma[0]) @ ((y - y.mean()) / sigma[1])) / (len(x) - 1)
    return BivariateNormal(mean=(float(x.mean()), float(y.mean())), sigma=sigma,
                           correlation=min(max(r, -1.0), 1.0))


def _fitted(
    normal: BivariateNormal, region: Rectangle | Circle, n: int, confidence: float
) -> FittedShare:
    share = share_outside(normal, region)
    gradient = _probit_gradient(normal, region)
    error = math.sqrt(float(gradient @ _covariance_of_estimates(normal.correlation, n) @ gradient))
    reach = float(stdtrit(n - 1, 0.5 + confidence / 2)) * error
    middle = _probit(share)
    return FittedShare(share=share, low=float(ndtr(middle - reach)),
                       high=float(ndtr(middle + reach)), method=DELTA)


def _probit_gradient(normal: BivariateNormal, region: Rectangle | Circle) -> Floats:
    """By both means in sigma, both log sigma, and the inverse hyperbolic tangent of r."""
    (mx, my), (sx, sy) = normal.mean, normal.sigma
    angle = math.atanh(min(max(normal.correlation, -1 + 1e-12), 1 - 1e-12))

    def at(k: int, step: float) -> float:
        grown = math.exp(step)
        moved = (
            replace(normal, mean=(mx + step * sx, my)), replace(normal, mean=(mx, my + step * sy)),
            replace(normal, sigma=(sx * grown, sy)), replace(normal, sigma=(sx, sy * grown)),
            replace(normal, correlation=math.tanh(angle + step)),
        )[k]
        return _probit(share_outside(moved, region))

    return np.array([(at(k, _STEP) - at(k, -_STEP)) / (2 * _STEP) for k in range(5)])


def _covariance_of_estimates(r: float, n: int) -> Floats:
    """Of the five estimates of `_probit_gradient`, large samples."""
    covariance = np.zeros((5, 5))
    covariance[:2, :2] = np.array([[1, r], [r, 1]]) / n
    covariance[2:4, 2:4] = np.array([[1, r * r], [r * r, 1]]) / (2 * (n - 1))
    covariance[4, 2:4] = covariance[2:4, 4] = r / (2 * (n - 1))
    covariance[4, 4] = 1 / (n - 3)
    return covariance


def _probit(share: float) -> float:
    return float(ndtri(min(max(share, _SMALLEST), 1 - 1e-16)))


def _equivalent(fitted: FittedShare) -> Index:
    return Index(value=index_of_share(fitted.share), low=index_of_share(fitted.high),
                 high=index_of_share(fitted.low), method=fitted.method)


def _contours(normal: BivariateNormal, region: Rectangle | Circle) -> tuple[float, float]:
    middle = _middle(region)
    centred = math.nan if middle is None else index_of_reach(
        _reach(replace(normal, mean=middle), region))
    return centred, index_of_reach(_reach(normal, region))


def _middle(region: Rectangle | Circle) -> tuple[float, float] | None:
    if isinstance(region, Circle):
        return region.centre
    if not (region.x.two_sided and region.y.two_sided):
        return None
    return sum(region.x.ends) / 2, sum(region.y.ends) / 2


def _reach(normal: BivariateNormal, region: Rectangle | Circle) -> float:
    """Mahalanobis distance from the mean to the border, below 0 from outside."""
    (mx, my), (sx, sy) = normal.mean, normal.sigma
    if isinstance(region, Rectangle):
        (a, b), (c, d) = region.x.ends, region.y.ends
        return min((mx - a) / sx, (b - mx) / sx, (my - c) / sy, (d - my) / sy)
    inside = math.hypot(mx - region.centre[0], my - region.centre[1]) <= region.radius
    return math.copysign(_distance_to_rim(normal, region), 1.0 if inside else -1.0)


def _distance_to_rim(normal: BivariateNormal, region: Circle) -> float:
    variances, axes = np.linalg.eigh(normal.covariance)
    off = axes.T @ (np.array(region.centre) - np.array(normal.mean))
    spread = np.sqrt(np.maximum(variances, 1e-24 * variances[1]))
    low, high = 0.0, 2 * math.pi
    for _ in range(8):  # each pass looks at a fiftieth of the angles the one before left
        angle = np.linspace(low, high, 201)
        rim = off[:, None] + region.radius * np.array([np.cos(angle), np.sin(angle)])
        distance = np.hypot(*(rim / spread[:, None]))
        best, step = float(angle[np.argmin(distance)]), (high - low) / 200
        low, high = best - 2 * step, best + 2 * step
    return float(distance.min())


def _cautions(
    x: Floats, y: Floats, normal: BivariateNormal, region: Rectangle | Circle,
    normality: tuple[Normality, Normality],
) -> tuple[Enum, ...]:
    both = (x, y)
    flat = min(normal.sigma) == 0
    alike = [likeness(v) for v in both]
    mean_inside = bool(region.holds(*(np.array(m) for m in normal.mean)))
    found = (
        (len(x) < FEW_POINTS, BivariateCaution.FEW_POINTS),
        (flat, BivariateCaution.NO_VARIATION),
        # two looks, so half the chance for each
        (not flat and min(map(beyond_p_value, both)) < SURE / 2, BivariateCaution.UNSTABLE),
        (any(r.matters and r.r > 0 for r in alike), BivariateCaution.ALIKE),
        (any(one.p_value_spread < LEVEL / 2 for one in normality), BivariateCaution.NOT_NORMAL),
        (abs(normal.correlation) > 1 - 1e-9, BivariateCaution.ON_A_LINE),
        (not mean_inside, BivariateCaution.MEAN_OUTSIDE),
    )
    own = tuple(caution for applies, caution in found if applies)
    return own + tuple(dict.fromkeys(c for one in normality for c in one.cautions))
