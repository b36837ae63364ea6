"""Two groups compared in strata: printed values, a slow second way, edges, wrong input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import StratifiedTable

from qc.stats.comparing.comparisons import ComparisonCaution, compare_shares
from qc.stats.comparing.stratified import MOST_EXACT, StratifiedComparison, compare_in_strata
from tests.published import case
from tests.reference import strata as slow

PUBLISHED = case("strata_published")
Z = 1.959963984540054


def compared(strata: list[list[int]], **more: float) -> StratifiedComparison:
    return compare_in_strata(*np.array(strata).T, **more)


def some_strata(seed: int, *, most: int = 60) -> list[tuple[int, int, int, int]]:
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(int(rng.integers(1, 7))):
        n, n0 = (int(k) for k in rng.integers(1, most, 2))
        share = rng.uniform(0.02, 0.5)
        made.append((int(rng.binomial(n, share)), n, int(rng.binomial(n0, share)), n0))
    return made


def test_migraine_as_printed() -> None:
    printed = PUBLISHED["migraine"]
    found = compared(printed["strata"])
    assert found.chi_square == pytest.approx(printed["chi_square"], abs=printed["tolerance"])
    assert found.ratio.value == pytest.approx(printed["ratio"], abs=printed["tolerance"])
    ends = slow.log_ends(printed["strata"], Z)
    assert ends == pytest.approx((printed["log_low"], printed["log_high"]), abs=0.00005)
    # ours are ends of a score and lie inside those of the log scale by a little
    assert ends[0] < found.ratio.low < 1.02 * ends[0]
    assert 0.98 * ends[1] < found.ratio.high < ends[1]


def test_tolbutamide_and_rabbits_as_printed() -> None:
    printed = PUBLISHED["tolbutamide"]
    found = compared(printed["strata"])
    assert found.ratio.value == pytest.approx(printed["ratio"], abs=printed["tolerance"][0])
    assert found.difference.value == pytest.approx(printed["difference"],
                                                   abs=printed["tolerance"][1])
    printed = PUBLISHED["rabbits"]
    assert compared(printed["strata"]).p_value == pytest.approx(
        printed["p_value"], abs=printed["tolerance"])


@pytest.mark.parametrize("seed", range(12))
def test_a_second_way_says_the_same(seed: int) -> None:
    strata = some_strata(seed)
    found = compared(strata)
    if sum(d + d0 for d, _, d0, _ in strata) == 0:
        return
    assert (found.p_value, found.mid_p) == pytest.approx(slow.exact(strata), rel=1e-9)
    if found.n_defective and found.reference_defective:
        ends = slow.ratio_ends(strata, Z)
        assert (found.ratio.low, found.ratio.high) == pytest.approx(ends, rel=1e-7)
        ends = slow.difference_ends(strata, Z)
        assert (found.difference.low, found.difference.high) == pytest.approx(ends, abs=1e-7)


@pytest.mark.parametrize("seed", range(12, 18))
def test_a_general_library_says_the_same(seed: int) -> None:
    strata = [s for s in some_strata(seed) if 0 < s[0] + s[2] < s[1] + s[3]]
    tables = [np.array([[d, n - d], [d0, n0 - d0]]) for d, n, d0, n0 in strata]
    theirs, ours = StratifiedTable(tables), compared(strata)
    assert ours.ratio.value == pytest.approx(theirs.riskratio_pooled, rel=1e-12)
    test = theirs.test_null_odds()
    assert ours.chi_square == pytest.approx(test.statistic, rel=1e-9)


def test_one_stratum_is_the_plain_comparison() -> None:
    found, plain = compared([[9, 40, 3, 55]]), compare_shares(9, 40, 3, 55)
    assert found.ratio.value == pytest.approx(plain.ratio.value)
    assert found.difference.value == pytest.approx(plain.difference.value)
    assert found.p_value == pytest.approx(plain.p_value)
    assert found.mid_p == pytest.approx(plain.mid_p)


def test_a_change_of_mix_alone_is_no_change() -> None:
    """Hard work fails one in five, easy work one in fifty, before and after; only the mix moved."""
    strata = [[80, 400, 20, 100], [2, 100, 8, 400]]
    found = compared(strata)
    assert found.ratio.value == pytest.approx(1) and found.difference.value == pytest.approx(0)
    assert compare_shares(82, 500, 28, 500).ratio.value > 2.9


def test_work_of_one_side_alone_says_nothing() -> None:
    strata = [[4, 50, 2, 60], [30, 90, 0, 0], [0, 0, 1, 40]]
    found, alone = compared(strata), compared(strata[:1])
    assert found.ratio == pytest.approx(alone.ratio) or found.ratio.value == alone.ratio.value
    assert (found.n_inspected, found.reference_inspected) == (50, 60)
    nothing = compared(strata[1:])
    assert math.isnan(nothing.p_value) and math.isnan(nothing.ratio.value)
    assert nothing.n_inspected == 0 and math.isnan(nothing.judged_p)


def test_none_on_one_side_bounds_the_ratio_on_the_other() -> None:
    none_now = compared([[0, 200, 9, 200], [0, 50, 1, 60]])
    assert none_now.ratio.value == none_now.ratio.low == 0 and 0 < none_now.ratio.high < 1
    assert none_now.cautions == (ComparisonCaution.NOTHING_SEEN,)
    none_before = compared([[9, 200, 0, 200], [1, 50, 0, 60]])
    assert none_before.ratio.value == math.inf and none_before.ratio.low > 1
    assert 1 / none_before.ratio.low == pytest.approx(compared(
        [[0, 200, 9, 200], [0, 60, 1, 50]]).ratio.high)
    never = compared([[0, 30, 0, 30]])
    assert never.cautions == (ComparisonCaution.NONE_AT_ALL,) and math.isnan(never.ratio.value)


def test_more_than_chance_makes_wider_and_less_sure() -> None:
    strata = [[40, 400, 20, 400], [12, 100, 8, 90]]
    plain, wide = compared(strata), compared(strata, spread=1.6)
    assert wide.ratio.low < plain.ratio.low and wide.ratio.high > plain.ratio.high
    assert wide.difference.low < plain.difference.low
    assert wide.mid_p == plain.mid_p and wide.judged_p > plain.judged_p
    assert plain.judged_p == pytest.approx(plain.mid_p)


def test_many_are_judged_by_the_normal_score() -> None:
    few = [[60, 1000, 50, 1000]] * 9
    many = [[60, 1000, 50, 1000]] * 20
    assert sum(a + c for a, _, c, _ in many) > MOST_EXACT
    assert compared(many).p_value == pytest.approx(
        math.erfc(math.sqrt(compared(many).chi_square / 2)))
    exact = compared(few)
    assert exact.mid_p == pytest.approx(math.erfc(math.sqrt(exact.chi_square / 2)), rel=0.02)


def test_swapping_the_groups_turns_the_answer_over() -> None:
    strata = np.array([[7, 90, 12, 80], [3, 30, 4, 70]])
    one, other = compared(strata), compared(strata[:, [2, 3, 0, 1]])
    assert one.ratio.value == pytest.approx(1 / other.ratio.value)
    assert one.ratio.low == pytest.approx(1 / other.ratio.high)
    assert one.difference.low == pytest.approx(-other.difference.high)
    assert one.p_value == pytest.approx(other.p_value)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Rare defects in five strata, twice as many now: 95 of 100, give or take luck."""
    rng, held = np.random.default_rng(11), np.zeros(2)
    n, n0 = np.array([60, 90, 150, 40, 220]), np.array([300, 200, 500, 350, 600])
    rate, rounds = np.array([0.01, 0.02, 0.03, 0.05, 0.015]), 2000
    truth = float((rate * n * n0 / (n + n0)).sum() / (n * n0 / (n + n0)).sum())
    for _ in range(rounds):
        found = compare_in_strata(rng.binomial(n, 2 * rate), n, rng.binomial(n0, rate), n0)
        held += [found.ratio.low <= 2 <= found.ratio.high,
                 found.difference.low <= truth <= found.difference.high]
    assert ((held / rounds > 0.935) & (held / rounds < 0.97)).all(), held / rounds


@pytest.mark.parametrize(("given", "words"), [
    (([5], [4], [0], [9]), "n_defective is 5 at position 1; allowed: 0 to n_inspected"),
    (([1], [4], [10], [9]), "reference_defective is 10 at position 1"),
    (([1.5], [4], [1], [9]), "n_defective is 1.5"),
    (([1, 1], [4], [1], [9]), "n_defective"),
])
def test_wrong_counts_are_refused(given: tuple[list[float], ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        compare_in_strata(*given)


def test_wrong_spread_and_confidence_are_refused() -> None:
    with pytest.raises(ValueError, match=r"spread is 0\.5; it must be 1 or more"):
        compare_in_strata([1], [4], [1], [9], spread=0.5)
    with pytest.raises(ValueError, match="confidence"):
        compare_in_strata([1], [4], [1], [9], confidence=1.0)
