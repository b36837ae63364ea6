from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportions_chisquare

from qc.stats.comparing.comparisons import compare_rates, compare_shares
from qc.stats.comparing.levels import LevelCaution, compare_many_rates, compare_many_shares
from tests.published import case
from tests.reference.comparisons import discoveries
from tests.reference.two_groups import conditional_p, fisher

PRINTED = case("many_levels_published")
D, N = [3, 5, 40, 6], [100, 120, 110, 95]


def test_smokers_of_four_hospitals_as_printed() -> None:
    wanted = PRINTED["smokers"]
    found = compare_many_shares(wanted["n_defective"], wanted["n_inspected"])
    assert found.chi_square == pytest.approx(wanted["chi_square"], abs=wanted["tolerance"][0])
    assert found.p_value == pytest.approx(wanted["p_value"], abs=wanted["tolerance"][1])
    assert found.df == wanted["df"]
    assert found.discoveries.stands_out.tolist() == [False, False, False, True]


def test_horse_kicks_as_printed() -> None:
    wanted = PRINTED["horses"]
    deaths = np.repeat(np.arange(5), wanted["corps_years"])
    found = compare_many_rates(deaths, np.ones(200))
    assert found.overall == pytest.approx(wanted["mean"])
    assert found.chi_square * found.overall / 200 == pytest.approx(
        wanted["variance"], abs=wanted["tolerance"])
    assert found.dispersion == pytest.approx(1, abs=0.01)


def test_overall_chi_square_agrees_with_two_libraries() -> None:
    found = compare_many_shares(D, N)
    table = np.array([D, np.subtract(N, D)])
    wanted = stats.chi2_contingency(table, correction=False)
    assert (found.chi_square, found.p_value, found.df) == pytest.approx(
        (wanted.statistic, wanted.pvalue, wanted.dof), rel=1e-9)
    other = proportions_chisquare(D, N)
    assert (found.chi_square, found.p_value) == pytest.approx(other[:2], rel=1e-9)
    assert found.overall == sum(D) / sum(N)
    assert found.dispersion == found.chi_square / 3


def test_overall_dispersion_agrees_with_a_library() -> None:
    found = compare_many_rates(D, N)
    expected = np.array(N) * sum(D) / sum(N)
    wanted = stats.chisquare(D, expected)
    assert (found.chi_square, found.p_value) == pytest.approx(tuple(wanted), rel=1e-9)


def test_each_level_is_compared_with_all_others_together() -> None:
    shares, rates = compare_many_shares(D, N), compare_many_rates(D, N)
    for k, (d, n) in enumerate(zip(D, N, strict=True)):
        rest = (sum(D) - d, sum(N) - n)
        assert shares.against_rest.p_value[k] == pytest.approx(fisher(d, n, *rest)[0], rel=1e-11)
        assert rates.against_rest.p_value[k] == pytest.approx(
            conditional_p(d, n, *rest)[0], rel=1e-9)
        pairs = ((shares, compare_shares(d, n, *rest)), (rates, compare_rates(d, n, *rest)))
        for many, one in pairs:
            assert many.against_rest.ratio.low[k] == pytest.approx(one.ratio.low, rel=1e-12)
            assert many.against_rest.difference.high[k] == pytest.approx(
                one.difference.high, rel=1e-12)
    for found in (shares, rates):
        p = found.against_rest.p_value
        wanted = multipletests(p, 0.05, method="fdr_bh")
        np.testing.assert_allclose(found.discoveries.adjusted, wanted[1], rtol=1e-12)
        assert found.discoveries.stands_out.tolist() == discoveries(p.tolist(), 0.05)
    assert shares.discoveries.stands_out[2]


def test_false_discoveries_among_alike_levels_stay_below_the_rate() -> None:
    rng = np.random.default_rng(50)
    n = rng.integers(50, 800, 12)
    any_share, any_rate, overall = 0, 0, 0
    for _ in range(400):
        found = compare_many_shares(rng.binomial(n, 0.05), n)
        rates = compare_many_rates(rng.poisson(n * 0.05), n)
        any_share += found.discoveries.stands_out.any()
        any_rate += rates.discoveries.stands_out.any()
        overall += rates.p_value < 0.05
    assert any_share / 400 <= 0.05 + 2 * 0.011
    assert any_rate / 400 <= 0.05 + 2 * 0.011
    assert overall / 400 == pytest.approx(0.05, abs=3 * 0.011)


def test_order_does_not_matter() -> None:
    there, back = compare_many_shares(D, N), compare_many_shares(D[::-1], N[::-1])
    assert there.chi_square == pytest.approx(back.chi_square, rel=1e-12)
    np.testing.assert_allclose(there.against_rest.p_value, back.against_rest.p_value[::-1])
    np.testing.assert_array_equal(there.discoveries.stands_out,
                                  back.discoveries.stands_out[::-1])


def test_nothing_to_compare_is_said() -> None:
    for found in (compare_many_shares([0, 0], [9, 8]), compare_many_shares([9, 8], [9, 8]),
                  compare_many_rates([0, 0], [1.0, 2.0])):
        assert np.isnan(found.chi_square)
        assert np.isnan(found.p_value)
        assert found.cautions == (LevelCaution.NO_VARIATION,)
        assert not found.discoveries.stands_out.any()
    few = compare_many_shares([1, 0, 2], [20, 20, 20])
    assert few.cautions == (LevelCaution.LITTLE_EXPECTED,)
    assert compare_many_shares(D, N).cautions == ()


def test_little_expected_is_below_1_somewhere_or_below_5_in_more_than_a_fifth() -> None:
    ten = [10] * 9
    assert compare_many_rates([*ten, 0], [*ten, 0.5]).cautions == (LevelCaution.LITTLE_EXPECTED,)
    assert compare_many_rates([*ten, 2], [*ten, 2]).cautions == ()
    eight = [10] * 8
    assert compare_many_rates([*eight, 2, 2], [*eight, 2, 2]).cautions == ()  # a fifth, not more
    assert compare_many_rates([*eight, 2, 2, 2], [*eight, 2, 2, 2]).cautions != ()
    one_piece = compare_many_shares([1, 9], [1, 90])
    assert one_piece.cautions == (LevelCaution.LITTLE_EXPECTED,)
    assert one_piece.against_rest.p_value[0] == pytest.approx(fisher(1, 1, 9, 90)[0], rel=1e-9)


def test_a_dwarf_beside_a_giant_keeps_its_rest() -> None:
    found = compare_many_rates([1, 5, 3], [1e-9, 1e9, 2e-9])
    one = compare_rates(5, 1e9, 4, 3e-9)
    assert found.against_rest.ratio.value[1] == pytest.approx(one.ratio.value, rel=1e-12)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: compare_many_shares([1], [2]), "n_defective has 1 level; a comparison needs at least"),
    (lambda: compare_many_shares([1, 2], [2]), "n_defective has 2 values and n_inspected 1"),
    (lambda: compare_many_shares([3, 1], [2, 2]), "n_defective is 3 at position 1; allowed: 0 to"),
    (lambda: compare_many_shares([1, 1], [2, 0]), "n_inspected is 0 at position 2; allowed: whol"),
    (lambda: compare_many_shares([], []), "n_defective has 0 values"),
    (lambda: compare_many_shares([1, 1], [2, 2], rate=0), r"rate is 0; it must be inside \(0, 1\)"),
    (lambda: compare_many_rates([1, 0.5], [2, 2]), r"n_events is 0\.5 at position 2; allowed: wh"),
    (lambda: compare_many_rates([1, 1], [2, -1]), "exposure is -1 at position 2; allowed: finite"),
    (lambda: compare_many_rates([1, 1], [2, np.nan]), "exposure is nan at position 2; it must be"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
