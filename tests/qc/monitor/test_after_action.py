"""Did it come back: error rates by simulation, the laws against scipy, edges and wrong input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from qc.monitor.after_action import (
    RISK,
    USUAL_EVENTS,
    AfterAction,
    CheckCaution,
    Counted,
    Verdict,
    check_mean,
    check_rate,
    clumping,
)
from qc.stats.comparing.intervals import wilson_interval

PAST, FAULT = Counted(seen=20, expected=20.0), Counted(seen=24, expected=8.0, n_pieces=400)
PER_PIECE = 0.02


def after(seen: float, expected: float) -> Counted:
    return Counted(seen=seen, expected=expected, n_pieces=expected / PER_PIECE)


def followed(
    rng: np.random.Generator, *, ratio: float, fault: float = 3.0, clump: float = 1.0,
    past: float = 20.0, expected: float = 8.0, most: float = 60.0,
) -> tuple[Verdict, float]:
    """The first verdict when the tool looks again after every 0.25 faults expected, and when."""
    def drawn(mean: float) -> float:
        if clump == 1:
            return float(rng.poisson(mean))
        return float(rng.negative_binomial(mean / (clump - 1), 1 / clump))

    old = Counted(seen=drawn(past), expected=past) if past else Counted(seen=0, expected=0)
    bad = Counted(seen=drawn(expected * fault), expected=expected, n_pieces=expected / PER_PIECE)
    seen, exposure = 0.0, 0.0
    while exposure < most:
        exposure += 0.25
        seen += drawn(0.25 * ratio)
        made = check_rate(old, bad, after(seen, exposure), clump=clump)
        if made.verdict is not Verdict.TOO_EARLY:
            return made.verdict, exposure
    return Verdict.TOO_EARLY, most


def wrong_at_most(wrong: int, n: int) -> None:
    """The risk promised is not above what was counted: the interval's lower end is below it."""
    bound = RISK / (1 - RISK)
    assert wilson_interval(wrong, n, confidence=0.99).low <= bound, f"{wrong} of {n}"


@pytest.mark.parametrize(("past", "expected", "clump"), [(20, 8, 1), (0, 5, 1), (20, 8, 2)])
def test_looking_after_every_piece_keeps_both_risks(
    past: float, expected: float, clump: float
) -> None:
    rng = np.random.default_rng(11)
    for ratio, wrong in ((1.0, Verdict.NOT_BACK), (3.0, Verdict.CAME_BACK)):
        found = [followed(rng, ratio=ratio, past=past, expected=expected, clump=clump)[0]
                 for _ in range(250)]
        wrong_at_most(found.count(wrong), len(found))
        right = Verdict.CAME_BACK if ratio == 1 else Verdict.NOT_BACK
        assert found.count(right) > 0.6 * len(found)


def test_the_pieces_said_to_be_needed_are_about_those_that_are() -> None:
    rng = np.random.default_rng(5)
    took = [when for verdict, when in (followed(rng, ratio=1.0) for _ in range(300))
            if verdict is Verdict.CAME_BACK]
    said = check_rate(PAST, FAULT, after(0, 0)).n_more
    assert said is not None and 0.5 < said * PER_PIECE / float(np.median(took)) < 2


def test_a_rate_half_way_back_is_called_better_once_it_is_sure() -> None:
    half = check_rate(Counted(seen=60, expected=60.0), Counted(seen=240, expected=40.0),
                      after(250, 100.0))
    assert half.verdict is Verdict.BETTER
    assert half.low > half.usual * 1.2 and half.high < half.raised


def test_the_odds_are_those_of_two_negative_binomial_laws() -> None:
    made = check_rate(PAST, FAULT, after(7, 3.0))
    def law(shape: float, rate: float) -> float:
        return float(stats.nbinom.logpmf(7, shape, rate / (rate + 3.0)))

    back = law(USUAL_EVENTS + 20, USUAL_EVENTS + 20.0)
    assert made.log_odds == pytest.approx(law(24, 8.0) - back, rel=1e-9)
    assert made.limit == pytest.approx(math.log(19))


def test_a_well_known_past_and_fault_give_walds_poisson_test() -> None:
    """With both rates all but known: k log(ratio) - (ratio - 1) expected, Wald (1945)."""
    much = 1e7
    made = check_rate(Counted(seen=much, expected=much), Counted(seen=3 * much, expected=much),
                      after(9, 4.0))
    assert made.log_odds == pytest.approx(9 * math.log(3) - 2 * 4.0, rel=1e-4)


def test_the_interval_is_the_exact_poisson_one() -> None:
    """Garwood's limits of a count of 3: 0.619 and 8.767 (chi-square quantiles)."""
    made = check_rate(PAST, FAULT, after(3, 2.8))
    exact = stats.chi2.ppf(0.025, 6) / 2, stats.chi2.ppf(0.975, 8) / 2
    assert (made.low, made.high) == pytest.approx(exact, rel=1e-9)
    assert exact == pytest.approx((0.619, 8.767), abs=5e-4)


@given(st.integers(0, 60), st.floats(0.1, 40))
def test_more_faults_never_speak_for_a_cure(seen: int, expected: float) -> None:
    less, more = (check_rate(PAST, FAULT, after(k, expected)) for k in (seen, seen + 1))
    assert more.log_odds > less.log_odds


def said(made: AfterAction) -> list[CheckCaution]:
    return list(made.cautions)


def test_nothing_pressed_since_is_too_early_with_a_number_of_pieces() -> None:
    made = check_rate(PAST, FAULT, Counted(seen=0, expected=0, n_pieces=0))
    assert made.verdict is Verdict.TOO_EARLY and made.log_odds == 0
    assert made.n_more is not None and 100 < made.n_more < 400
    assert said(made) == []


def test_clumps_and_a_missing_past_are_said_and_need_more_pieces() -> None:
    plain = check_rate(PAST, FAULT, after(0, 1.0))
    clumped = check_rate(Counted(seen=0, expected=0), FAULT, after(0, 1.0), clump=2.0)
    assert said(clumped) == [CheckCaution.NO_PAST, CheckCaution.CLUMPED]
    assert (clumped.n_more or 0) > (plain.n_more or 0)
    assert abs(clumped.log_odds) < abs(plain.log_odds)


def test_back_though_a_little_above_the_usual_is_said() -> None:
    made = check_rate(Counted(seen=0, expected=0), Counted(seen=50, expected=11.0),
                      after(57, 37.0))
    assert made.verdict is Verdict.CAME_BACK and CheckCaution.ABOVE in made.cautions
    assert CheckCaution.ABOVE not in check_rate(PAST, FAULT, after(10, 10.0)).cautions


def test_a_fault_that_was_no_rise_has_nothing_to_come_back_from() -> None:
    made = check_rate(PAST, Counted(seen=4, expected=8.0), after(100, 10.0))
    assert made.verdict is Verdict.TOO_EARLY and made.n_more is None
    assert CheckCaution.NO_RISE in made.cautions


def test_decided_needs_no_more() -> None:
    assert check_rate(PAST, FAULT, after(10, 10.0)).n_more == 0


@pytest.mark.parametrize(("change", "words"), [
    ({"during": Counted(seen=3, expected=0)}, "during.expected is 0"),
    ({"after": Counted(seen=-1, expected=1)}, "after.seen is -1; it must be finite, 0 and up"),
    ({"usual": Counted(seen=1, expected=math.nan)}, "usual.expected is nan"),
    ({"clump": 0.5}, "clump is 0.5; it must be finite, 1 and up"),
    ({"risk": 0.5}, r"risk is 0.5; it must lie inside \(0, 0.5\)"),
])
def test_what_cannot_be_asked_is_refused(change: dict[str, object], words: str) -> None:
    given_: dict[str, object] = {"usual": PAST, "during": FAULT, "after": after(1, 1.0)}
    given_ |= change
    with pytest.raises(ValueError, match=words):
        check_rate(**given_)  # type: ignore[arg-type]


def test_clumping_is_what_jobs_of_their_own_rate_show() -> None:
    """Variance over mean of job counts, counted in a large second sample of such jobs."""
    rng = np.random.default_rng(2)
    for cv in (0.0, 0.5, 1.0):
        rate = rng.gamma(1 / cv**2, cv**2, 20_000) if cv else np.ones(20_000)
        mean = rng.uniform(0.3, 6, 20_000)
        seen = rng.poisson(mean * rate)
        found = clumping(seen[:4000], mean[:4000], mean)
        counted = float(((seen - mean) ** 2).sum() / mean.sum())
        assert found == pytest.approx(counted, rel=0.08)


def test_few_jobs_are_taken_to_differ_by_about_a_third() -> None:
    assert clumping([], [], [3.0, 3.0]) == pytest.approx(1 + 0.09 * 3)
    assert clumping([], [], []) == 1.0
    assert clumping([5] * 40, [5.0] * 40, [3.0]) == 1.0


def test_means_keep_both_risks_too() -> None:
    rng = np.random.default_rng(7)
    wrong = {Verdict.NOT_BACK: 0, Verdict.CAME_BACK: 0}
    n = 250
    for _ in range(n):
        old, bad = rng.normal(0, 1, 30), rng.normal(2, 1, 8)
        for centre, mistake in ((0.0, Verdict.NOT_BACK), (2.0, Verdict.CAME_BACK)):
            new = rng.normal(centre, 1, 25)
            for k in range(1, 26):
                made = check_mean(old, bad, new[:k], n_pieces=k)
                assert made is not None
                if made.verdict is not Verdict.TOO_EARLY:
                    wrong[mistake] += made.verdict is mistake
                    break
    for count in wrong.values():
        wrong_at_most(count, n)


def test_means_of_a_shifted_stream() -> None:
    old, bad = [0.1, -0.2, 0.0, 0.2, -0.1], [3.1, 2.9, 3.2]
    back = check_mean(old, bad, [0.1, -0.1, 0.0], n_pieces=30)
    still = check_mean(old, bad, [3.0, 3.2, 2.8], n_pieces=30)
    half = check_mean(old, bad, [1.5, 1.6, 1.4], n_pieces=30)
    assert back and still and half
    assert (back.verdict, still.verdict, half.verdict) == (
        Verdict.CAME_BACK, Verdict.NOT_BACK, Verdict.BETTER)
    assert (back.usual, back.raised) == (pytest.approx(0.0), pytest.approx(9.2 / 3))
    none = check_mean(old, bad, [], n_pieces=0)
    assert none and none.verdict is Verdict.TOO_EARLY and none.n_more is None


def test_further_off_than_the_fault_is_not_better() -> None:
    made = check_mean([0.0, 0.1, -0.1], [1.0, 1.1, 0.9], [3.0, 3.1, 2.9], n_pieces=3)
    assert made and made.verdict is Verdict.NOT_BACK


def test_means_of_too_little_are_not_judged() -> None:
    assert check_mean([1.0], [2.0], [1.0], n_pieces=1) is None
    assert check_mean([], [2.0, 2.1, 2.2, 2.3], [1.0], n_pieces=1) is None
    with pytest.raises(ValueError, match="during has a value that is not finite"):
        check_mean([1.0, 2.0], [math.nan], [1.0], n_pieces=1)
