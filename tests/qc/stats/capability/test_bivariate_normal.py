from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.capability.bivariate_normal import BivariateNormal, Circle, Rectangle, share_outside
from qc.stats.capability.specification import Specification
from tests.published import case
from tests.reference.bivariate import share_inside


def rectangle(a: float, b: float, c: float, d: float) -> Rectangle:
    return Rectangle(x=Specification(lower=a, upper=b), y=Specification(lower=c, upper=d))


def normal(mean=(0.0, 0.0), sigma=(1.0, 1.0), correlation=0.0) -> BivariateNormal:
    return BivariateNormal(mean=mean, sigma=sigma, correlation=correlation)


CASES = [
    normal(), normal((0.3, -0.2), (1, 2), 0.6), normal((1, 1), (0.5, 0.7), -0.9),
    normal((0, 0), (2, 0.3), 0.2), normal((2.5, 0), (1, 1), 0.99),
]


@pytest.mark.parametrize("each", CASES)
def test_a_rectangle_agrees_with_slow_integration(each: BivariateNormal) -> None:
    inside = share_inside(each.mean, each.sigma, each.correlation, (-3, 3.5), lambda _: (-2, 2.5))
    assert 1 - share_outside(each, rectangle(-3, 3.5, -2, 2.5)) == pytest.approx(inside, abs=1e-9)


@pytest.mark.parametrize("each", CASES)
def test_a_rectangle_agrees_with_the_library(each: BivariateNormal) -> None:
    # four corners of the library's cumulative distribution, good to 1e-5 or better
    library = stats.multivariate_normal(each.mean, each.covariance)
    inside = library.cdf([3.5, 2.5], lower_limit=[-3, -2])
    assert 1 - share_outside(each, rectangle(-3, 3.5, -2, 2.5)) == pytest.approx(inside, abs=1e-5)


@pytest.mark.parametrize("each", CASES)
def test_a_circle_agrees_with_slow_integration(each: BivariateNormal) -> None:
    def height(x: float) -> tuple[float, float]:
        half = math.sqrt(max(4 - (x - 0.5) ** 2, 0.0))
        return -0.25 - half, -0.25 + half

    # Simpson loses digits where the rim is vertical
    inside = share_inside(each.mean, each.sigma, each.correlation, (-1.5, 2.5), height, 40_000)
    found = share_outside(each, Circle(radius=2, centre=(0.5, -0.25)))
    assert 1 - found == pytest.approx(inside, abs=3e-7)


@pytest.mark.parametrize(("off", "sigma", "radius"), [
    ((0, 0), 1, 3), ((0.5, 1), 1, 3), ((0, 0), 1, 8), ((2, -1), 0.4, 3), ((0, 0), 1, 0.1),
    ((30, 0), 7, 5),
])
def test_a_round_distribution_agrees_with_noncentral_chi_square(off, sigma, radius) -> None:
    wanted = stats.ncx2.sf((radius / sigma) ** 2, 2, (off[0] ** 2 + off[1] ** 2) / sigma**2)
    found = share_outside(normal(off, (sigma, sigma)), Circle(radius=radius))
    assert found == pytest.approx(wanted, rel=1e-9)


def test_radii_of_the_published_table() -> None:
    published = case("circular_error_harter_1960")
    data, printed = published["data"], published["published"]["radius"]
    for ratio, share, radius in zip(data["smaller_over_larger_sigma"], data["share"],
                                    printed["value"], strict=True):
        each = normal(sigma=(1, ratio))
        low, high = (1 - share_outside(each, Circle(radius=radius + step * printed["tolerance"]))
                     for step in (-1, 1))
        assert low <= share <= high, (ratio, share)


def test_independent_directions_multiply() -> None:
    beyond = stats.norm.sf
    found = share_outside(normal((0.5, 1), (1, 2)), rectangle(-8, 9, -15, 14))
    x, y = beyond(8.5) + beyond(8.5), beyond(8) + beyond(6.5)
    assert found == pytest.approx(x + y - x * y, rel=1e-9)


def test_a_limit_that_does_not_exist_is_no_limit() -> None:
    one_sided = Rectangle(x=Specification(upper=2), y=Specification(lower=-1))
    found = share_outside(normal(correlation=0.5), one_sided)
    wide = share_outside(normal(correlation=0.5), rectangle(-40, 2, -1, 40))
    assert found == pytest.approx(wide, rel=1e-12)


@pytest.mark.parametrize("correlation", [-1.0, 1.0, 1 - 1e-12])
def test_directions_that_move_together_are_a_line(correlation: float) -> None:
    # y = -+x: outside where |x| > 2
    each = normal(correlation=correlation)
    assert share_outside(each, rectangle(-2, 2, -3, 3)) == pytest.approx(
        2 * stats.norm.sf(2), rel=1e-6)
    assert share_outside(each, rectangle(-2, 2, -1.5, 1.7)) == pytest.approx(
        stats.norm.sf(1.5) + stats.norm.sf(1.7), rel=1e-5)
    assert share_outside(each, Circle(radius=2 * math.sqrt(2))) == pytest.approx(
        2 * stats.norm.sf(2), rel=1e-6)


def test_a_thin_line_is_cut_by_the_rim_where_it_meets_it() -> None:
    thin = normal((0, 1), (1, 1e-5))
    assert share_outside(thin, Circle(radius=2)) == pytest.approx(
        2 * stats.norm.sf(math.sqrt(3)), rel=1e-4)
    # half of what is near the rim is beyond it
    found = share_outside(normal((0, 2), (0.01, 0.01)), Circle(radius=2))
    assert found == pytest.approx(0.5, abs=2e-3)


@pytest.mark.parametrize(("sigma", "wanted"), [
    ((0.0, 1.0), 2 * stats.norm.sf(2)), ((1.0, 0.0), 2 * stats.norm.sf(3)), ((0.0, 0.0), 0.0),
])
def test_a_direction_without_variation(sigma, wanted: float) -> None:
    assert share_outside(normal(sigma=sigma), rectangle(-3, 3, -2, 2)) == pytest.approx(
        wanted, abs=1e-12)


def test_a_mean_far_outside_and_one_point_outside() -> None:
    assert share_outside(normal((50, 0)), rectangle(-3, 3, -2, 2)) == 1
    assert share_outside(normal((5, 0), (0, 0)), rectangle(-3, 3, -2, 2)) == 1
    assert share_outside(normal((5, 0), (0, 0)), Circle(radius=3)) == 1


def test_the_border_belongs_to_the_region() -> None:
    x, y = np.array([3.0, 3.1, 0.0]), np.array([2.0, 0.0, -2.0])
    assert rectangle(-3, 3, -2, 2).holds(x, y).tolist() == [True, False, True]
    assert Circle(radius=5, centre=(0, -2)).holds(np.array([3.0, 5.0]),
                                                  np.array([2.0, -1.9])).tolist() == [True, False]


@pytest.mark.parametrize(("given", "message"), [
    ({"radius": 0}, "radius is 0; it must be a finite number above 0"),
    ({"radius": math.nan}, "radius is nan; it must be a finite"),
    ({"radius": 1, "centre": (0, math.inf)}, "centre is inf; it must be a finite number"),
])
def test_a_circle_that_is_none(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        Circle(**given)
