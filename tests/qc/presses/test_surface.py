"""The smooth map of a survey."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from qc.presses.surveys import STEPS, surface_of


def test_it_goes_through_every_point_and_no_further() -> None:
    error = np.array([[0.0, 2.0], [4.0, -2.0], [1.0, 1.0]])
    surface = surface_of(error)
    assert surface.shape == (2 * STEPS + 1, STEPS + 1)
    np.testing.assert_allclose(surface[::STEPS, ::STEPS], error)
    assert surface[STEPS // 2, 0] == pytest.approx(2.0)  # halfway down the first gap
    assert surface[STEPS // 2, STEPS // 2] == pytest.approx(error[:2].mean())
    assert surface.max() == 4.0 and surface.min() == -2.0


def test_it_agrees_with_a_library() -> None:
    error = np.random.default_rng(2).normal(size=(4, 5))
    surface = surface_of(error)
    fit = RegularGridInterpolator((np.arange(4), np.arange(5)), error)
    at = np.stack(np.meshgrid(np.linspace(0, 3, surface.shape[0]),
                              np.linspace(0, 4, surface.shape[1]), indexing="ij"), axis=-1)
    np.testing.assert_allclose(surface, fit(at), atol=1e-12)


def test_it_says_nothing_beside_a_missing_point() -> None:
    error = np.arange(12.0).reshape(3, 4)
    error[0, 0] = np.nan
    surface = surface_of(error)
    assert np.isnan(surface[:STEPS, :STEPS]).all()
    assert np.isfinite(surface[STEPS + 1:, :]).all()
    assert np.isfinite(surface[:, STEPS + 1:]).all()


@pytest.mark.parametrize("shape", [(1, 1), (1, 4), (5, 1)])
def test_a_line_or_a_point(shape: tuple[int, int]) -> None:
    error = np.arange(float(np.prod(shape))).reshape(shape)
    surface = surface_of(error)
    assert surface.shape == tuple((n - 1) * STEPS + 1 for n in shape)
    np.testing.assert_allclose(surface.ravel()[::STEPS], error.ravel())
