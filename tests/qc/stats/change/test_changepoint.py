from __future__ import annotations

import math

import numpy as np
import pytest

from qc.stats.change.changepoint import StepCaution, binomial_step, normal_step, poisson_step
from tests.published import case
from tests.reference.comparisons import best_step

NORMAL = case("changepoint_normal_constructed")
BINOMIAL = case("changepoint_binomial_constructed")
PRINTED = case("changepoints_published")


def test_normal_step_where_worked_out() -> None:
    found = normal_step(NORMAL["data"]["x"], centre=0, sigma=1)
    wanted = NORMAL["recomputed"]
    assert found.last_before == wanted["tau_hat"]
    np.testing.assert_allclose(2 * found.support, wanted["objective_t_0_to_Tm1"], rtol=1e-9)
    assert found.after == pytest.approx(np.mean(NORMAL["data"]["x"][12:]))
    # within -log(1 - sqrt(0.9)) = 2.9699 of the best, on the printed objective over 2
    likely = [t for t, doubled in enumerate(wanted["objective_t_0_to_Tm1"])
              if doubled / 2 >= 18.818 / 2 - 2.9699]
    assert (found.low, found.high) == (likely[0], likely[-1]) == (7, 15)


def test_binomial_step_where_worked_out() -> None:
    d = BINOMIAL["data"]["D"]
    found = binomial_step(d, [BINOMIAL["data"]["n"]] * len(d), before=BINOMIAL["parameters"]["p0"])
    assert found.last_before == BINOMIAL["recomputed"]["tau_hat"]
    np.testing.assert_allclose(found.support, BINOMIAL["recomputed"]["objective"], rtol=1e-9)
    assert found.after == pytest.approx((9 + 8 + 11 + 10) / 200)


def test_the_nile_as_printed() -> None:
    nile = PRINTED["nile"]
    found = normal_step(nile["flow"], centre=nile["before"], sigma=nile["sigma"])
    assert nile["first_year"] + found.last_before - 1 == nile["last_year_before"]
    assert found.after == pytest.approx(nile["after"], abs=nile["tolerance"])
    assert found.low <= found.last_before <= found.high < found.low + 5
    assert found.cautions == ()


def test_coal_mines_as_printed() -> None:
    coal = PRINTED["coal"]
    assert sum(coal["events"]) == coal["n_events"]
    found = poisson_step(coal["events"], [coal["before"]] * len(coal["events"]))
    year = coal["first_year"] - 1
    assert year + found.last_before == coal["last_year_before"]
    assert found.after * coal["before"] == pytest.approx(coal["after"], abs=coal["tolerance"])
    # 90 % here, with the rate before taken as known; theirs, with both unknown, is of like width
    assert abs(year + found.low - coal["likely"][0]) <= 1
    assert abs(year + found.high - coal["likely"][1]) <= 1


def test_binomial_step_agrees_with_a_plain_search() -> None:
    rng = np.random.default_rng(32)
    n = rng.integers(20, 200, 60)
    d = rng.binomial(n, np.where(np.arange(60) < 25, 0.08, 0.03))

    def support(t: int) -> float:
        bad, of = int(d[t:].sum()), int(n[t:].sum())
        p = bad / of
        return ((bad * math.log(p / 0.08) if bad else 0.0)
                + ((of - bad) * math.log((1 - p) / 0.92) if of > bad else 0.0))

    found = binomial_step(d, n, before=0.08)
    assert found.last_before == best_step(support, 60)
    np.testing.assert_allclose(found.support, [support(t) for t in range(60)], rtol=1e-9)


def test_one_point_and_a_million() -> None:
    one = normal_step([4.0], centre=0, sigma=1)
    assert (one.last_before, one.low, one.high, one.after) == (0, 0, 0, 4.0)
    n = 1_000_000
    rng = np.random.default_rng(33)
    x = rng.normal(np.where(np.arange(n) < n - 300, 0, 1.0), 1)
    assert abs(normal_step(x, centre=0, sigma=1).last_before - (n - 300)) < 20


def test_poisson_step_agrees_with_a_plain_search() -> None:
    rng = np.random.default_rng(30)
    mean = rng.uniform(0.5, 4, 60)
    k = rng.poisson(mean * np.where(np.arange(60) < 35, 1, 2.5))

    def support(t: int) -> float:
        seen, wanted = int(k[t:].sum()), float(mean[t:].sum())
        return (seen * math.log(seen / wanted) if seen else 0.0) - (seen - wanted)

    found = poisson_step(k, mean)
    assert found.last_before == best_step(support, 60)
    assert found.support[10] == pytest.approx(support(10))
    assert abs(found.last_before - 35) <= 5


@pytest.mark.parametrize(("step", "most_off"), [
    (lambda rng, t: normal_step(
        rng.normal(np.where(np.arange(60) < t, 0, 1.5), 1), centre=0, sigma=1), 2.0),
    (lambda rng, t: binomial_step(
        rng.binomial(50, np.where(np.arange(60) < t, 0.05, 0.15)), [50] * 60, before=0.05), 2.0),
    (lambda rng, t: poisson_step(
        rng.poisson(np.where(np.arange(60) < t, 3.0, 7.0)), [3.0] * 60), 2.0),
])
def test_the_interval_holds_the_true_point_as_often_as_it_says(step, most_off) -> None:
    rng = np.random.default_rng(31)
    found = [step(rng, 40) for _ in range(1500)]
    held = np.mean([one.low <= 40 <= one.high for one in found])
    assert held >= 0.88  # 90 % stated; standard error 0.008
    assert abs(np.median([one.last_before for one in found]) - 40) <= 1
    assert np.mean([one.high - one.low for one in found]) < 20
    assert np.mean([abs(one.last_before - 40) for one in found]) < most_off


def test_points_without_a_step_show_none() -> None:
    found = poisson_step([3] * 20, [3.0] * 20)
    assert StepCaution.NO_STEP_SHOWN in found.cautions
    assert (found.low, found.high) == (0, 19)


def test_a_step_before_the_first_point_is_said() -> None:
    found = binomial_step([20] * 10, [50] * 10, before=0.05)
    assert found.last_before == 0
    assert found.cautions == (StepCaution.FROM_THE_START,)


@pytest.mark.parametrize("d", [[0, 0, 0, 50, 50], [50, 50, 50, 0, 0]])
def test_none_and_all_are_levels_too(d) -> None:
    found = binomial_step(d, [50] * 5, before=0.5)
    assert np.isfinite(found.support).all()
    assert found.after in (0.0, 1.0)


def test_scale_and_direction_do_not_matter() -> None:
    x = np.array(NORMAL["data"]["x"])
    found = normal_step(x, centre=0, sigma=1)
    for other in (normal_step(-x, centre=0, sigma=1),
                  normal_step(x * 1.8 + 32, centre=32, sigma=1.8)):
        assert (other.last_before, other.low, other.high) == (
            found.last_before, found.low, found.high)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: normal_step([], centre=0, sigma=1), "values has 0 values; it needs at least 1"),
    (lambda: normal_step([1], centre=0, sigma=0), "sigma is 0; it must be a finite number above"),
    (lambda: normal_step([1], centre=np.nan, sigma=1), "centre is nan; it must be a finite num"),
    (lambda: binomial_step([1], [5], before=0), r"before is 0; it must be inside \(0, 1\)"),
    (lambda: binomial_step([6], [5], before=0.1), "n_defective is 6 at position 1; allowed: 0 t"),
    (lambda: normal_step([1, np.nan], centre=0, sigma=1), "values is nan at position 2; it must"),
    (lambda: normal_step([1], centre=0, sigma=np.inf), "sigma is inf; it must be a finite number"),
    (lambda: binomial_step([1.5], [5], before=0.1), r"n_defective is 1\.5 at position 1; allowed"),
    (lambda: binomial_step([0], [0], before=0.1), "n_inspected is 0 at position 1; allowed: who"),
    (lambda: binomial_step([-1], [5], before=0.1), "n_defective is -1 at position 1; allowed: w"),
    (lambda: poisson_step([1, 2], [1, np.inf]), "expected is inf at position 2; it must be a fin"),
    (lambda: poisson_step([], []), "n_events has 0 values; it needs at least 1"),
    (lambda: poisson_step([1], [0]), "expected is 0 at position 1; allowed: numbers above 0"),
    (lambda: poisson_step([1, 2], [1]), "n_events has 2 values and expected 1"),
    (lambda: poisson_step([1], [1], confidence=2), "confidence is 2; it must be inside"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
