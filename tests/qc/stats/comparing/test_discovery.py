from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from qc.stats.comparing.discovery import benjamini_hochberg
from tests.published import case
from tests.reference.comparisons import discoveries

EXAMPLE = case("benjamini_hochberg_1995_example")


def test_the_example_of_the_paper() -> None:
    found = benjamini_hochberg(EXAMPLE["p_values"], rate=EXAMPLE["rate"])
    assert found.stands_out.tolist() == [True] * EXAMPLE["n_found"] + [False] * 11
    assert found.n_compared == 15


@pytest.mark.parametrize("seed", range(5))
def test_agrees_with_two_libraries_and_the_plain_procedure(seed: int) -> None:
    rng = np.random.default_rng(seed)
    p = np.round(np.r_[rng.uniform(size=40), rng.uniform(0, 0.02, 20)], 3)
    found = benjamini_hochberg(p, rate=0.1)
    np.testing.assert_allclose(found.adjusted, stats.false_discovery_control(p), rtol=1e-9)
    rejected, adjusted, *_ = multipletests(p, 0.1, method="fdr_bh")
    np.testing.assert_allclose(found.adjusted, adjusted, rtol=1e-9)
    np.testing.assert_array_equal(found.stands_out, rejected)
    assert found.stands_out.tolist() == discoveries(p.tolist(), 0.1)


def test_unknown_comparisons_do_not_count() -> None:
    p = [0.01, np.nan, 0.02, np.nan, 0.9]
    found, known = benjamini_hochberg(p), benjamini_hochberg([0.01, 0.02, 0.9])
    assert found.stands_out.tolist() == [True, False, True, False, False]
    assert found.adjusted[[0, 2, 4]].tolist() == known.adjusted.tolist()
    assert np.isnan(found.adjusted[1])
    assert found.n_compared == 3


@pytest.mark.parametrize(("p", "wanted"), [
    ([], []), ([np.nan], [False]), ([0.0], [True]), ([1.0], [False]), ([0.05, 0.05], [True, True]),
])
def test_edges(p, wanted) -> None:
    assert benjamini_hochberg(p).stands_out.tolist() == wanted


def test_false_discoveries_stay_below_the_rate() -> None:
    rng = np.random.default_rng(17)
    shares = []
    for _ in range(2000):
        p = np.r_[rng.uniform(size=30), rng.uniform(0, 1e-4, 10)]
        out = benjamini_hochberg(p).stands_out
        shares.append(out[:30].sum() / max(1, out.sum()))
    assert np.mean(shares) < 0.05


@pytest.mark.parametrize(("call", "message"), [
    (lambda: benjamini_hochberg([0.1, 1.2]), r"p_values is 1\.2 at position 2; allowed: 0\.\.1"),
    (lambda: benjamini_hochberg([-0.1]), r"p_values is -0\.1 at position 1"),
    (lambda: benjamini_hochberg([0.1], rate=1), r"rate is 1; it must be inside \(0, 1\)"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
