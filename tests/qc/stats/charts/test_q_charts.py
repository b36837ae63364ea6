from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats import blocks
from qc.stats.charts.chart import Caution
from qc.stats.charts.q_charts import q_chart, q_rate_chart, q_share_chart
from tests.published import case
from tests.reference.short_run import q_scores, rate_chances, share_chances

QUESENBERRY = case("short_run_q_chart_normal")
MU, SIGMA = QUESENBERRY["parameters"]["mu"], QUESENBERRY["parameters"]["sigma"]
KNOWN = {"KK": {"centre": MU, "sigma": SIGMA}, "UK": {"sigma": SIGMA}, "KU": {"centre": MU},
         "UU": {}}


@pytest.mark.parametrize("what", KNOWN)
def test_scores_as_recomputed_to_ten_digits(what: str) -> None:
    chart = q_chart(QUESENBERRY["data"]["x"], **KNOWN[what]).charts[0]
    wanted = [q for q in QUESENBERRY["recomputed"][what] if q is not None]
    np.testing.assert_allclose(chart.value, wanted, rtol=1e-9, atol=1e-9)
    assert chart.first_at == 1 + QUESENBERRY["recomputed"][what].count(None)
    assert chart.at[-1] == len(QUESENBERRY["data"]["x"])
    assert (chart.centre, chart.lower[0], chart.upper[0]) == (0, -3, 3)


@pytest.mark.parametrize("what", KNOWN)
@pytest.mark.parametrize("shift", [0.0, 1e6])
def test_scores_agree_with_a_fresh_look_at_every_value(what: str, shift: float) -> None:
    x = np.random.default_rng(3).normal(shift + MU, SIGMA, 60)
    known = {name: value + shift * (name == "centre") for name, value in KNOWN[what].items()}
    chart = q_chart(x, **known).charts[0]
    slow = q_scores(x.tolist(), known.get("centre"), known.get("sigma"))
    assert chart.first_at == 1 + slow.count(None)
    np.testing.assert_allclose(chart.value, slow[chart.first_at - 1:], rtol=1e-9,
                               atol=1e-9 if not shift else 1e-7)


@pytest.mark.parametrize("what", ["UK", "KU", "UU"])
def test_the_size_of_a_block_shows_nowhere(monkeypatch, what: str) -> None:
    x = np.random.default_rng(4).normal(MU, SIGMA, 200)
    whole = q_chart(x, **KNOWN[what]).charts[0].value
    monkeypatch.setattr(blocks, "BLOCK", 7)
    np.testing.assert_allclose(q_chart(x, **KNOWN[what]).charts[0].value, whole, rtol=1e-10)


@pytest.mark.parametrize("what", KNOWN)
def test_in_control_scores_are_standard_normal_and_independent(what: str) -> None:
    # from the start: 3000 runs of eight values
    rng = np.random.default_rng(11)
    runs = np.array([q_chart(rng.normal(MU, SIGMA, 8), **KNOWN[what]).charts[0].value
                     for _ in range(3000)])
    for column in runs.T:
        assert stats.kstest(column, "norm").pvalue > 1e-4
    off = np.corrcoef(runs.T)[np.triu_indices(runs.shape[1], 1)]
    assert np.abs(off).max() < 4.5 / np.sqrt(3000)


def test_parts_are_judged_apart() -> None:
    rng = np.random.default_rng(5)
    part = rng.choice(["A", "B", "C"], 70)
    x = rng.normal(np.select([part == "A", part == "B"], [10, 400], -3), 2)
    chart = q_chart(x, part=part).charts[0]
    value = np.r_[np.full(chart.first_at - 1, np.nan), chart.value]
    for name in "ABC":
        own = q_scores(x[part == name].tolist())
        np.testing.assert_allclose(value[part == name], np.array(own, dtype=float), rtol=1e-9,
                                   atol=1e-9)
    assert np.isnan(chart.value[np.isin(chart.at - 1, np.flatnonzero(part == "C")[:2])]).all()


def test_known_values_may_differ_from_part_to_part() -> None:
    chart = q_chart([10.3, 401, 9.7], part=["A", "B", "A"], centre=[10, 400, 10],
                    sigma=[0.3, 2, 0.3])
    np.testing.assert_allclose(chart.charts[0].value, [1, 0.5, -1])
    alike = q_chart([10.3, 401, 9.7, 399, 402], part=list("ABABB"), sigma=[0.3, 2, 0.3, 2, 2])
    np.testing.assert_allclose(alike.charts[0].value[:2], [-(2**0.5), -(0.5**0.5)])


def test_a_late_shift_signals_and_an_early_one_is_learnt() -> None:
    # Quesenberry (1991): the chart loses sight of a shift near the start
    noise = np.random.default_rng(6).normal(size=60)
    late = q_chart(noise + 4 * (np.arange(60) >= 40), rules="nelson").charts[0]
    early = q_chart(noise + 4 * (np.arange(60) >= 2), rules="nelson").charts[0]
    assert late.signals[38:50].any()
    assert not late.signals[:38].any()
    assert len(early.signalled()) == 0


def test_values_far_out_end_at_a_finite_score() -> None:
    chart = q_chart([0.0, 1.0, 0.5, 0.2, 0.7] * 100 + [1e12], centre=0.5).charts[0]
    assert np.isfinite(chart.value).all()
    assert chart.value[-1] > 37
    assert chart.signalled().tolist() == [501]


def test_nothing_is_said_while_nothing_varied() -> None:
    chart = q_chart([0.1, 0.1, 0.1, 0.3, 0.1, 0.2])
    assert chart.charts[0].first_at == 5
    assert chart.cautions == (Caution.NOTHING_VARIED,)
    later = q_chart([1.0, 2.0, 1.5, 7.0, 7.0, 7.0, 7.1], part=list("AAABBBB"))
    assert np.isnan(later.charts[0].value[1:]).all()
    assert later.cautions == (Caution.NOTHING_VARIED,)
    assert q_chart([0.1, 0.3, 0.1, 0.3]).cautions == ()


def test_a_million_values() -> None:
    x = np.random.default_rng(8).normal(160, 1.5, 1_000_000)
    value = q_chart(x).charts[0].value
    assert abs(value.std() - 1) < 0.005
    np.testing.assert_allclose(value[-1], (x[-1] - x[:-1].mean()) / x[:-1].std(), rtol=1e-5)


DEFECTS, PIECES = [2, 0, 3, 1, 6, 0, 0, 9], [50, 40, 60, 50, 55, 8, 50, 45]


@pytest.mark.parametrize(("make", "slow"), [(q_share_chart, share_chances),
                                            (q_rate_chart, rate_chances)])
@pytest.mark.parametrize(("step", "share"), [("middle", 0.5), ("whole", 1.0)])
def test_counts_agree_with_counting_every_way(make, slow, step: str, share: float) -> None:
    chart = make(DEFECTS, PIECES, step=step).charts[0]
    wanted = [stats.norm.ppf(below + share * itself) for below, itself in slow(DEFECTS, PIECES)]
    np.testing.assert_allclose(chart.value, wanted, rtol=1e-9)
    assert chart.first_at == 2


def test_counts_with_a_known_rate_are_scores_of_their_distributions() -> None:
    # Quesenberry's formulas (from memory): the normal score of B(x; n, p) and of P(c; rate n)
    share = q_share_chart(DEFECTS, PIECES, centre=0.05, step="whole").charts[0]
    np.testing.assert_allclose(share.value, stats.norm.ppf(stats.binom.cdf(DEFECTS, PIECES, 0.05)))
    rate = q_rate_chart(DEFECTS, PIECES, centre=0.05, step="whole").charts[0]
    mean = 0.05 * np.array(PIECES)
    np.testing.assert_allclose(rate.value, stats.norm.ppf(stats.poisson.cdf(DEFECTS, mean)))
    assert (share.first_at, share.at[-1]) == (1, 8)


def test_counts_far_out_keep_the_digits_of_their_tail() -> None:
    high, low = q_share_chart([40, 0], [50, 4000], centre=0.05).charts[0].value
    assert high == pytest.approx(stats.norm.isf(
        stats.binom.sf(40, 50, 0.05) + stats.binom.pmf(40, 50, 0.05) / 2), rel=1e-9)
    assert low == pytest.approx(stats.norm.ppf(stats.binom.pmf(0, 4000, 0.05) / 2), rel=1e-9)
    assert high > 12
    assert low < -12


@pytest.mark.parametrize("make", [q_share_chart, q_rate_chart])
def test_the_middle_of_the_step_does_not_cry_wolf_over_clean_samples(make) -> None:
    clean, size = [0] * 12, [50] * 12
    assert np.abs(make(clean, size).charts[0].value).max() < 1e-12
    assert not make(clean, size, centre=0.00002).charts[0].signals.any()
    assert len(make(clean, size, centre=0.00002, step="whole").charts[0].signalled()) == 12


def test_counts_in_control_rarely_signal() -> None:
    rng = np.random.default_rng(9)
    beyond = [len(q_share_chart(rng.binomial(100, 0.08, 30), [100] * 30).charts[0].signalled())
              for _ in range(200)]
    assert 0.0005 < sum(beyond) / (200 * 29) < 0.006


def test_counts_of_parts_are_judged_apart() -> None:
    part = list("ABABABAB")
    chart = q_share_chart(DEFECTS, PIECES, part=part).charts[0]
    for name in "AB":
        own = [k for k in range(8) if part[k] == name]
        alone = q_share_chart([DEFECTS[k] for k in own], [PIECES[k] for k in own]).charts[0]
        np.testing.assert_allclose(chart.value[[k - chart.first_at + 1 for k in own[1:]]],
                                   alone.value)


def test_rules_about_zones_do_not_suit_counts() -> None:
    assert q_share_chart(DEFECTS, PIECES, rules="nelson").cautions == (Caution.RULES_FOR_OTHERS,)
    assert q_share_chart(DEFECTS, PIECES, rules="one_side").cautions == ()


@pytest.mark.parametrize(("make", "arguments", "message"), [
    (q_chart, {"values": [1.0, 2.0]}, "values has no point with a Q"),
    (q_chart, {"values": [1.0, 2.0, 3.0], "part": list("abc")}, "values has no point with a Q"),
    (q_chart, {"values": [2.0] * 9}, "they must vary"),
    (q_chart, {"values": []}, "values has 0 values"),
    (q_chart, {"values": [1.0, np.inf, 3]}, "values is inf at position 2"),
    (q_chart, {"values": [1.0, 2, 3], "sigma": 0}, "sigma is 0 at position 1; allowed: numbers"),
    (q_chart, {"values": [1.0, 2, 3], "centre": [1, 2]}, "values has 3 values and centre 2"),
    (q_chart, {"values": [1.0, 2, 3], "part": list("ab")}, "values has 3 values and part 2"),
    (q_chart, {"values": [1.0, 2, 3], "rules": "all"}, "rules is 'all'"),
    (q_share_chart, {"n_defective": [1, 9], "n_inspected": [5, 8]}, "n_defective is 9 at position"),
    (q_share_chart, {"n_defective": [1.5], "n_inspected": [5]}, "n_defective is 1.5 at position 1"),
    (q_share_chart, {"n_defective": [0], "n_inspected": [0]}, "n_inspected is 0 at position 1"),
    (q_share_chart, {"n_defective": [1], "n_inspected": [5]}, "values has no point with a Q"),
    (q_share_chart, {"n_defective": [1, 1], "n_inspected": [5, 5], "centre": 1}, "centre is 1; it"),
    (q_share_chart, {"n_defective": [1, 1], "n_inspected": [5, 5], "step": "half"},
     "step is 'half'; allowed: middle, whole"),
    (q_rate_chart, {"n_defects": [1, -1], "n_units": [5, 5]}, "n_defects is -1 at position 2"),
    (q_rate_chart, {"n_defects": [1, 1], "n_units": [5, 0]}, "n_units is 0 at position 2"),
    (q_rate_chart, {"n_defects": [1, 1], "n_units": [5, 5], "centre": 0}, "centre is 0; it must"),
])
def test_wrong_input_is_named(make, arguments, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        make(**arguments)
