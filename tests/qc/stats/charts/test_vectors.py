from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.vectors import (
    KnownVectors,
    finite_table,
    plotted_vectors,
    regular,
    squared_distances,
)
from tests.published import case

NONE = KnownVectors()
ROWS = np.random.default_rng(1).normal(size=(24, 3)) * [1, 10, 0.1] + [0, 100, 5]


def test_a_table_is_a_copy_of_its_own() -> None:
    table = finite_table("values", ROWS)
    assert table is not ROWS
    assert not np.shares_memory(table, ROWS)
    assert finite_table("values", [[1, 2]]).dtype == np.float64
    np.testing.assert_array_equal(finite_table("values", np.asfortranarray(ROWS)), ROWS)


def test_distances_in_pieces_are_the_distances() -> None:
    x = np.random.default_rng(2).normal(size=(40_000, 2))
    covariance = np.array([[2.0, 0.7], [0.7, 1.0]])
    wanted = np.einsum("ij,jk,ik->i", x - 1, np.linalg.inv(covariance), x - 1)
    np.testing.assert_allclose(squared_distances(x, 1.0, covariance), wanted, rtol=1e-11)


def test_single_rows_give_the_sample_covariance() -> None:
    found = plotted_vectors(ROWS, None, NONE, None)
    np.testing.assert_allclose(found.covariance, np.cov(ROWS.T), rtol=1e-12)
    assert (found.n_mean, found.degrees) == (24, 23)
    assert found.size is None


def test_a_known_mean_leaves_every_row_free() -> None:
    found = plotted_vectors(ROWS, None, KnownVectors(mean=[0, 100, 5]), None)
    off = ROWS - [0, 100, 5]
    np.testing.assert_allclose(found.covariance, off.T @ off / 24, rtol=1e-12)
    assert (found.n_mean, found.degrees) == (np.inf, 24)
    assert found.baseline == Baseline(first=1, last=24)


def test_steps_give_half_their_mean_product() -> None:
    found = plotted_vectors(ROWS, None, NONE, (3, 20), from_steps=True)
    steps = np.diff(ROWS[2:20], axis=0)
    np.testing.assert_allclose(found.covariance, steps.T @ steps / 34, rtol=1e-12)
    assert np.isnan(found.degrees)


def test_steps_as_printed() -> None:
    published = case("t2_gravel_56")
    found = plotted_vectors(published["data"]["x"], None, NONE, None, from_steps=True)
    for value, name in [(found.covariance, "steps_covariance"),
                        (found.distances()[:20], "T2_steps")]:
        printed = published["published"][name]
        np.testing.assert_allclose(value, printed["value"], rtol=0, atol=printed["tolerance"])


def test_subgroups_are_pooled_from_the_baseline_alone() -> None:
    label = np.repeat(np.arange(8), 3)
    left_out = Baseline(first=1, last=6, excluded=(Excluded(at=2, reason="stuck platen"),))
    found = plotted_vectors(ROWS, label, NONE, left_out)
    chosen = [ROWS[label == i] for i in (0, 2, 3, 4, 5)]
    np.testing.assert_allclose(found.covariance, np.mean([np.cov(g.T) for g in chosen], axis=0))
    np.testing.assert_allclose(found.mean, np.vstack(chosen).mean(axis=0))
    assert (found.n_mean, found.degrees) == (15, 10)


def test_names_of_subgroups_may_be_of_any_kind() -> None:
    names = ["late", 3, "early", 3, "late", "early", "late", 3]
    found = plotted_vectors(ROWS[:8], names, NONE, None)
    np.testing.assert_allclose(found.points[1], ROWS[[1, 3, 7]].mean(axis=0))
    assert found.size is not None
    assert found.size.tolist() == [3, 3, 2]


@pytest.mark.parametrize("missing", [None, float("nan")])
def test_every_row_needs_a_subgroup(missing) -> None:
    with pytest.raises(ValueError, match=r"subgroup is .* at position 2; every value needs one"):
        plotted_vectors(ROWS[:3], [1.0, missing, 1.0], NONE, None)


@pytest.mark.parametrize("offset", [0.0, 1e6])
def test_nearly_dependent_variables_are_told_from_dependent_ones(offset: float) -> None:
    rng = np.random.default_rng(3)
    x = rng.normal(size=(200, 2)) + offset
    near = np.c_[x, x.sum(axis=1) + rng.normal(0, 1e-3, 200)]
    assert plotted_vectors(near, None, NONE, None).n_variables == 3
    with pytest.raises(ValueError, match="variables 1, 2, 3 follow from each other"):
        plotted_vectors(np.c_[x, x.sum(axis=1)], None, NONE, None)


def test_rounding_is_not_variation() -> None:
    constant = np.full(1000, 0.1)
    with pytest.raises(ValueError, match="do not vary in variable 2"):
        plotted_vectors(np.c_[np.random.default_rng(4).normal(size=1000), constant], None, NONE,
                        None)
    with pytest.raises(ValueError, match="do not vary in variable 1"):
        regular(np.diag([0.0, 1.0]), np.zeros(2))


def test_arrays_are_closed_to_writing() -> None:
    found = plotted_vectors(ROWS, np.repeat(np.arange(8), 3), NONE, None)
    for array in (found.points, found.size, found.mean, found.covariance):
        assert array is not None
        assert not array.flags.writeable
