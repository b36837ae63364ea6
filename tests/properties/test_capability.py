"""What must hold for the indices of any values: order, scale, zero, mirror, containment."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from qc.stats.capability.bivariate import bivariate_capability
from qc.stats.capability.bivariate_normal import BivariateNormal, Circle, Rectangle, share_outside
from qc.stats.capability.noncentral import noncentral_t_cdf, noncentrality
from qc.stats.capability.normality import anderson_darling
from qc.stats.capability.specification import Specification
from qc.stats.capability.study import Capability, capability

values = st.lists(st.integers(-400, 400).map(lambda k: k / 8), min_size=3, max_size=40)
NAMES = ("cp", "cpk", "pp", "ppk", "cpm")


def numbers(found: Capability) -> list[float]:
    indices = [getattr(found, name) for name in NAMES]
    return [number for i in indices if i is not None for number in (i.value, i.low, i.high)]


@settings(max_examples=60, deadline=None)
@given(values, st.sampled_from([0.5, 2.0, 16.0]), st.sampled_from([-64.0, 0.0, 32.0]))
def test_another_unit_shows_the_same_indices(x, scale, zero) -> None:
    assume(max(x) > min(x))
    limits, other = (Specification(lower=a * -60 + b, upper=a * 55 + b, target=b)
                     for a, b in ((1, 0), (scale, zero)))
    one = capability(x, limits, distribution="normal")
    two = capability(np.array(x) * scale + zero, other, distribution="normal")
    assert numbers(two) == pytest.approx(numbers(one), rel=1e-7, abs=1e-9)
    assert two.outside.share == one.outside.share
    assert two.percentile.ppk == pytest.approx(one.percentile.ppk, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(values)
def test_a_mirror_swaps_the_limits(x) -> None:
    assume(max(x) > min(x))
    one = capability(x, Specification(lower=-60, upper=40), distribution="normal")
    two = capability(-np.array(x), Specification(lower=-40, upper=60), distribution="normal")
    assert numbers(two) == pytest.approx(numbers(one), rel=1e-7, abs=1e-9)
    assert two.share_outside_fitted == pytest.approx(one.share_outside_fitted, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(values, st.randoms())
def test_order_matters_to_neighbours_only(x, random) -> None:
    assume(max(x) > min(x))
    mixed = list(x)
    random.shuffle(mixed)
    one, two = (capability(each, Specification(lower=-60, upper=40, target=0),
                           distribution="normal") for each in (x, mixed))
    for name in ("pp", "ppk", "cpm"):
        assert getattr(two, name).value == pytest.approx(getattr(one, name).value, rel=1e-9)
    assert two.normality.statistic == pytest.approx(one.normality.statistic, rel=1e-6, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(values)
def test_an_index_lies_in_its_interval_and_below_the_one_of_both_sides(x) -> None:
    assume(max(x) > min(x))
    found = capability(x, Specification(lower=-60, upper=55, target=0), distribution="normal")
    for name in ("cp", "cpk", "pp", "ppk"):
        index = getattr(found, name)
        assert index.low <= index.value + 0.35 * abs(index.value)  # two values: the median is low
        assert index.low < index.high
    assert found.cpk.value <= found.cp.value + 1e-12
    assert found.ppk.value <= found.pp.value + 1e-12
    assert found.cpm.value <= found.pp.value + 1e-12
    assert 0 <= found.share_outside_fitted <= 1


@settings(max_examples=80, deadline=None)
@given(st.floats(-30, 30), st.floats(1, 500), st.floats(1e-4, 1 - 1e-4))
def test_noncentrality_undoes_the_distribution(t, df, probability) -> None:
    delta = noncentrality(t, df, probability)
    assert noncentral_t_cdf(t, df, delta) == pytest.approx(probability, abs=1e-11)
    assert noncentral_t_cdf(t, df, delta + 0.1) <= probability


@settings(max_examples=60, deadline=None)
@given(values)
def test_normality_knows_no_unit_and_no_side(x) -> None:
    one, two = anderson_darling(x), anderson_darling([5 - 3 * v for v in x])
    if math.isnan(one.statistic):
        assert math.isnan(two.statistic)
    else:
        assert two.statistic == pytest.approx(one.statistic, rel=1e-7, abs=1e-9)
        assert one.p_value == pytest.approx(two.p_value, nan_ok=True, abs=1e-7)
        assert one.p_value_spread == pytest.approx(two.p_value_spread, nan_ok=True, abs=1e-6)


means = st.floats(-4, 4)
sigmas = st.floats(0.05, 4)


@settings(max_examples=80, deadline=None)
@given(means, means, sigmas, sigmas, st.floats(-0.99, 0.99), st.floats(0.5, 6))
def test_a_circle_lies_between_its_squares(mx, my, sx, sy, r, radius) -> None:
    normal = BivariateNormal(mean=(mx, my), sigma=(sx, sy), correlation=r)

    def square(half: float) -> Rectangle:
        side = Specification(lower=-half, upper=half)
        return Rectangle(x=side, y=side)

    outer, circle, inner = (share_outside(normal, region) for region in (
        square(radius), Circle(radius=radius), square(radius / math.sqrt(2))))
    assert 0 <= outer <= circle + 1e-12
    assert circle <= inner + 1e-12
    assert inner <= 1


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**31), st.floats(0, 2 * math.pi))
def test_a_turned_sheet_has_the_same_share_in_a_circle(seed, angle) -> None:
    points = np.random.default_rng(seed).normal(size=(30, 2)) * [1, 2.5] + [0.5, -1]
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    one, two = (bivariate_capability(*each.T, Circle(radius=5)) for each in (points, points @ turn))
    assert two.fitted.share == pytest.approx(one.fitted.share, rel=1e-7)
    assert two.fitted.high == pytest.approx(one.fitted.high, rel=0.02)
    assert two.outside.share == one.outside.share
    assert two.contour_pk == pytest.approx(one.contour_pk, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(means, means, sigmas, sigmas, st.floats(-0.99, 0.99))
def test_swapped_directions_have_the_same_share(mx, my, sx, sy, r) -> None:
    region = Rectangle(x=Specification(lower=-2, upper=3), y=Specification(lower=-4, upper=1))
    swapped = Rectangle(x=region.y, y=region.x)
    one = share_outside(BivariateNormal(mean=(mx, my), sigma=(sx, sy), correlation=r), region)
    two = share_outside(BivariateNormal(mean=(my, mx), sigma=(sy, sx), correlation=r), swapped)
    assert two == pytest.approx(one, rel=1e-8)
