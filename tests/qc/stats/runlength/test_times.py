from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.rare_events import t_chart
from qc.stats.runlength.shewhart import shewhart_run_length
from qc.stats.runlength.times import time_alpha, time_limits, time_run_length
from tests.qc.stats.runlength.agreeing import agrees_with
from tests.reference.run_lengths import Simulated


@pytest.mark.parametrize("factor", [0.2, 1, 5])
@pytest.mark.parametrize("limits", ["sigma", "probability"])
def test_exact_chances_beyond_the_limits(factor: float, limits: str) -> None:
    low, high = time_limits(limits=limits)
    share = -np.expm1(-factor * low) + np.exp(-factor * high)
    run = time_run_length(factor, limits=limits)
    assert run.arl == pytest.approx(1 / share, rel=1e-9)
    assert run.sdrl == pytest.approx(np.sqrt(1 - share) / share, rel=1e-9)


def test_probability_limits_in_control_signal_as_often_as_they_say() -> None:
    for alpha in (0.05, 0.0027, 1e-5):
        assert time_run_length(1, limits="probability", alpha=alpha).arl == pytest.approx(
            1 / alpha, rel=1e-8)
        assert time_alpha(1 / alpha * (1 - 1e-9)) == pytest.approx(alpha, rel=1e-6)


def test_three_sigma_limits_are_those_the_chart_comes_to() -> None:
    # a chart of a million exponential times; limits compared where they are computed
    chart = t_chart(np.random.default_rng(31).exponential(1, 1_000_000)).charts[0]
    own, wanted = (np.array(ends) ** (1 / 3.6)
                   for ends in ((chart.lower[0], chart.upper[0]), time_limits()))
    np.testing.assert_allclose(own, wanted, rtol=0, atol=0.003)


@pytest.mark.parametrize("rules", ["western-electric", "nelson"])
@pytest.mark.parametrize("state", ["zero", "steady"])
def test_in_control_scores_of_probability_limits_are_normal(rules: str, state: str) -> None:
    # the chart's own patterns are looked for among normal scores of the times' chances
    alpha = 2 * (1 - 0.9986501019683699)  # beyond three sigma, both sides
    times = time_run_length(1, rules=rules, limits="probability", alpha=alpha, state=state)
    normal = shewhart_run_length(0, rules=rules, state=state)
    assert times.arl == pytest.approx(normal.arl, rel=1e-9)
    assert times.percentiles == normal.percentiles


@pytest.mark.parametrize(("factor", "rules", "limits"), [
    (1, "nelson", "sigma"), (2, "nelson", "sigma"), (0.5, "western-electric", "sigma"),
    (3, "nelson", "probability"), (0.6, "trend=4", "probability")])
def test_the_chart_itself_signals_as_often(factor, rules, limits) -> None:
    rng, n, length = np.random.default_rng(32), 2000, 800
    known = {"limits": limits, "centre": 1.0}
    if limits == "sigma":  # the centre line is the mean of time^(1/3.6), not the mean time
        mean = np.random.default_rng(33).exponential(1, 4_000_000) ** (1 / 3.6)
        known = {"centre": mean.mean() ** 3.6, "sigma": np.abs(np.diff(mean)).mean() / 1.1283791671}
    lengths = np.full(n, np.inf)
    for i in range(n):
        chart = t_chart(rng.exponential(1 / factor, length), rules=rules, **known).charts[0]
        if chart.signals.any():
            lengths[i] = (chart.signals != 0).argmax() + 1
    assert np.isfinite(lengths).all()
    agrees_with(time_run_length(factor, rules=rules, limits=limits), Simulated(lengths))


def test_after_long_use_with_a_change() -> None:
    # in control for 60 points without a signal, then events twice as often
    rng, lengths = np.random.default_rng(34), []
    for _ in range(12_000):
        x = np.concatenate((rng.exponential(1, 40), rng.exponential(0.5, 400)))
        signals = t_chart(x, rules="nelson", limits="probability", centre=1.0).charts[0].signals
        first = int((signals != 0).argmax())
        if first >= 40:
            lengths.append(first - 39)
    run = time_run_length(2, rules="nelson", limits="probability", state="steady")
    agrees_with(run, Simulated(np.array(lengths)))


@pytest.mark.parametrize("rules", ["limits", "western-electric", "nelson"])
def test_the_alpha_found_gives_the_run_length_wanted(rules: str) -> None:
    alpha = time_alpha(65, rules=rules)
    run = time_run_length(1, rules=rules, limits="probability", alpha=alpha)
    assert run.arl == pytest.approx(65, rel=1e-7)


@pytest.mark.parametrize(("given", "message"), [
    ({"shift": 0}, "shift is 0; it must be a finite number above 0"),
    ({"shift": -1}, "shift is -1; it must be a finite number above 0"),
    ({"shift": np.nan}, "shift is nan; it must be a finite number above 0"),
    ({"limits": "wide"}, "limits is 'wide'; allowed: sigma, probability"),
    ({"limits": "probability", "alpha": 0}, "alpha is 0; it must be 1e-12"),
    ({"rules": "some"}, "rules is 'some'; allowed: limits"),
    ({"state": "old"}, "state is 'old'; allowed: zero, steady"),
])
def test_wrong_arguments_are_named(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        time_run_length(**{"shift": 1.0, **given})


@pytest.mark.parametrize(("arl", "rules", "message"), [
    (0, "limits", "arl is 0; it must be a number above 1"),
    (500, "western-electric", "arl is 500; no limits of this chart, with these rules"),
])
def test_a_wish_that_cannot_be_met_is_named(arl, rules, message) -> None:
    with pytest.raises(ValueError, match=message):
        time_alpha(arl, rules=rules)
