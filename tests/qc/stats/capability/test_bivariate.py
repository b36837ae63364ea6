from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.capability.bivariate import (
    BivariateCaution,
    _covariance_of_estimates,
    bivariate_capability,
    ellipse_of,
    index_of_reach,
    index_of_share,
)
from qc.stats.capability.bivariate_normal import BivariateNormal, Circle, Rectangle, share_outside
from qc.stats.capability.specification import Specification

SQUARE = Rectangle(x=Specification(lower=-6, upper=6), y=Specification(lower=-6, upper=6))
COVARIANCE = [[4, 1.5], [1.5, 3]]
POINTS = np.random.default_rng(31).multivariate_normal([0.5, -0.3], COVARIANCE, 150)


def test_the_fit_is_mean_and_covariance() -> None:
    found = bivariate_capability(*POINTS.T, SQUARE)
    np.testing.assert_allclose(found.normal.mean, POINTS.mean(axis=0), rtol=1e-12)
    np.testing.assert_allclose(found.normal.covariance, np.cov(POINTS.T), rtol=1e-12)
    assert found.fitted.share == pytest.approx(share_outside(found.normal, SQUARE), rel=1e-12)
    assert found.fitted.low < found.fitted.share < found.fitted.high


@pytest.mark.parametrize("region", [SQUARE, Circle(radius=3, centre=(1, 0))])
def test_placements_are_counted(region) -> None:
    found = bivariate_capability(*POINTS.T, region)
    inside = 0
    for x, y in POINTS.tolist():
        if isinstance(region, Circle):
            inside += math.hypot(x - 1, y) <= 3
        else:
            inside += max(abs(x), abs(y)) <= 6
    assert found.outside.n_defective == 150 - inside
    exact = stats.binomtest(150 - inside, 150).proportion_ci(0.95, "exact")
    assert (found.outside.low, found.outside.high) == pytest.approx((exact.low, exact.high))


@pytest.mark.parametrize("region", [
    Rectangle(x=Specification(lower=-3, upper=3), y=Specification(lower=-3, upper=3)),
    Circle(radius=3.2),
])
def test_the_interval_of_the_fitted_share_covers(region) -> None:
    truth = BivariateNormal(mean=(0.5, 0), sigma=(1, 0.8), correlation=0.5)
    true, rng, inside = share_outside(truth, region), np.random.default_rng(32), 0
    for _ in range(400):
        points = rng.multivariate_normal(truth.mean, truth.covariance, 40)
        fitted = bivariate_capability(*points.T, region).fitted
        inside += fitted.low <= true <= fitted.high
    assert inside / 400 == pytest.approx(0.96, abs=0.03)


def test_estimates_spread_as_simulated() -> None:
    n, r = 60, 0.7
    z = np.random.default_rng(36).normal(size=(40_000, n, 2))
    z[:, :, 1] = r * z[:, :, 0] + math.sqrt(1 - r * r) * z[:, :, 1]
    mean, log_sigma = z.mean(axis=1), np.log(z.std(axis=1, ddof=1))
    off = z - mean[:, None]
    correlation = (off[:, :, 0] * off[:, :, 1]).mean(axis=1) / off.std(axis=1).prod(axis=1)
    found = np.cov(np.column_stack([mean, log_sigma, np.arctanh(correlation)]).T)
    wanted = _covariance_of_estimates(r, n)
    size = np.sqrt(np.outer(np.diag(wanted), np.diag(wanted)))
    np.testing.assert_allclose(found / size, wanted / size, atol=0.025)


def test_one_direction_that_hardly_varies_leaves_the_interval_of_the_other() -> None:
    # the share outside is then that of one normal value, whose interval is known: cp of n - 1
    rng = np.random.default_rng(33)
    x = rng.normal(0, 1, 400)
    y = rng.normal(0, 1e-6, 400)
    region = Rectangle(x=Specification(upper=3), y=Specification(lower=-1, upper=1))
    found = bivariate_capability(x, y, region)
    room = (3 - x.mean()) / x.std(ddof=1)
    error = math.sqrt(1 / 400 + room**2 / (2 * 399))
    reach = stats.t.ppf(0.975, 399) * error
    assert found.fitted.share == pytest.approx(stats.norm.sf(room), rel=1e-6)
    assert (found.fitted.low, found.fitted.high) == pytest.approx(
        (stats.norm.sf(room + reach), stats.norm.sf(room - reach)), rel=1e-4)


def test_indices_are_those_of_one_direction_where_the_other_is_free() -> None:
    assert index_of_share(2 * stats.norm.sf(3)) == pytest.approx(1, rel=1e-12)
    assert index_of_share(2 * stats.norm.sf(4)) == pytest.approx(4 / 3, rel=1e-12)
    assert index_of_share(1.0) == 0
    assert index_of_share(0.0) == index_of_share(1e-300)
    # an ellipse that holds 99.73 % reaches 3.44 sigma in two dimensions
    assert index_of_reach(math.sqrt(stats.chi2.ppf(0.9973002, 2))) == pytest.approx(1, abs=1e-6)
    assert index_of_reach(-1.5) == -index_of_reach(1.5)


def test_the_largest_ellipse_touches_the_rectangle() -> None:
    found = bivariate_capability(*POINTS.T, SQUARE)
    (mx, my), (sx, sy) = found.normal.mean, found.normal.sigma
    reach = min((6 - abs(mx)) / sx, (6 - abs(my)) / sy)
    assert found.contour_pk == pytest.approx(index_of_reach(reach), rel=1e-9)
    assert found.contour_p == pytest.approx(index_of_reach(6 / max(sx, sy)), rel=1e-9)


def test_the_largest_ellipse_touches_the_circle() -> None:
    region = Circle(radius=5, centre=(1, 0))
    found = bivariate_capability(*POINTS.T, region)
    angle = np.linspace(0, 2 * np.pi, 400_001)
    rim = np.array([1 + 5 * np.cos(angle), 5 * np.sin(angle)]) - np.array(
        found.normal.mean)[:, None]
    reach = np.sqrt((rim * np.linalg.solve(found.normal.covariance, rim)).sum(axis=0).min())
    assert found.contour_pk == pytest.approx(index_of_reach(reach), rel=1e-9)
    largest = math.sqrt(np.linalg.eigvalsh(found.normal.covariance)[1])
    assert found.contour_p == pytest.approx(index_of_reach(5 / largest), rel=1e-9)


def test_a_corner_without_middle_has_no_centred_index() -> None:
    region = Rectangle(x=Specification(upper=6), y=Specification(lower=-5, upper=5))
    found = bivariate_capability(*POINTS.T, region)
    assert math.isnan(found.contour_p)
    assert found.contour_pk > 0


def test_the_ellipse_holds_what_it_says() -> None:
    normal = BivariateNormal(mean=(1, 2), sigma=(2, 1), correlation=-0.6)
    found = ellipse_of(normal, 0.9)
    assert (found.centre, found.content) == ((1, 2), 0.9)
    assert found.half_long > found.half_short
    turn = math.radians(found.angle_deg)
    z = np.random.default_rng(34).multivariate_normal(normal.mean, normal.covariance, 200_000)
    off = z - np.array(found.centre)
    long = off @ [math.cos(turn), math.sin(turn)] / found.half_long
    short = off @ [-math.sin(turn), math.cos(turn)] / found.half_short
    assert (np.hypot(long, short) <= 1).mean() == pytest.approx(0.9, abs=0.003)
    assert -90 <= found.angle_deg < 0


RNG = np.random.default_rng(35)
STEADY = RNG.normal(size=(200, 2))


@pytest.mark.parametrize(("points", "caution"), [
    (STEADY[:20], "FEW_POINTS"),
    (STEADY * [1, 0], "NO_VARIATION"),
    (STEADY + np.repeat([0.0, 5.0], 100)[:, None], "ALIKE"),
    (np.vstack([STEADY, [[9, 0], [0, 9], [-8, 0], [7, 1], [0, 8], [8, 0], [-9, 1]]]), "UNSTABLE"),
    (STEADY**2, "NOT_NORMAL"),
    (np.column_stack([STEADY[:, 0], 2 - STEADY[:, 0]]), "ON_A_LINE"),
    (STEADY + 20, "MEAN_OUTSIDE"),
])
def test_what_speaks_against_a_share_is_said(points, caution: str) -> None:
    found = bivariate_capability(*points.T, SQUARE)
    assert caution in {each.name for each in found.cautions}
    assert not {each.name for each in bivariate_capability(*STEADY.T, SQUARE).cautions}


def test_without_variation_there_is_only_the_count() -> None:
    found = bivariate_capability([1.0] * 5, [0.1 + 0.2] * 5, Circle(radius=2))
    assert (found.fitted, found.equivalent, found.ellipse) == (None, None, None)
    assert math.isnan(found.contour_p)
    assert math.isnan(found.contour_pk)
    assert found.outside.share == 0
    assert BivariateCaution.NO_VARIATION in found.cautions


def test_a_line_of_placements_has_a_share() -> None:
    x = np.linspace(-2, 2, 60)
    found = bivariate_capability(x, 3 * x, SQUARE)
    assert found.fitted.share == pytest.approx(2 * stats.norm.sf(2 / x.std(ddof=1)), rel=1e-6)
    assert math.isfinite(found.fitted.low)
    assert found.ellipse.half_short == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("arguments", "message"), [
    ({"x": [1, 2, 3], "y": [1, 2, 3]}, "x has 3 values; it needs at least 4"),
    ({"x": [1, 2, 3, 4], "y": [1, 2, np.nan, 4]}, "y is nan at position 3"),
    ({"x": [1, 2, 3, np.inf], "y": [1, 2, 3, 4]}, "x is inf at position 4"),
    ({"x": [], "y": []}, "x has 0 values"),
    ({"x": [1, 2, 3, 4], "y": [1, 2, 3, 4, 5]}, "x has 4 values and y 5; they must be as many"),
    ({"x": [1, 2, 3, 4], "y": [1, 2, 3, 4], "confidence": 0}, "confidence is 0; it must be insi"),
])
def test_wrong_input_is_named(arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        bivariate_capability(region=SQUARE, **arguments)
