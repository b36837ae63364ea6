from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline
from qc.stats.charts.chart import Caution
from qc.stats.charts.constants import d2, d3
from qc.stats.charts.individuals import individuals_chart
from tests.published import case
from tests.reference.charts import individuals_limits, moving_ranges

PUBLISHED = [case("imr_concentration"), case("imr_primer_viscosity")]


@pytest.mark.parametrize("published", PUBLISHED, ids=lambda c: c["source"][:40])
def test_limits_as_printed(published) -> None:
    chart = individuals_chart(published["data"]["x"])
    main, moving = chart.charts
    printed = published["published"]
    for value, name in [(main.centre, "mean"), (moving.centre, "MRbar"),
                        (main.upper[0], "X_UCL_d2_1p128"), (main.lower[0], "X_LCL_d2_1p128")]:
        assert value == pytest.approx(printed[name]["value"], abs=printed[name]["tolerance"])


@pytest.mark.parametrize("published", PUBLISHED, ids=lambda c: c["source"][:40])
def test_limits_as_recomputed_to_ten_digits(published) -> None:
    chart = individuals_chart(published["data"]["x"])
    main, moving = chart.charts
    wanted = published["recomputed"]
    found = {"mean": main.centre, "MRbar": moving.centre, "X_UCL": main.upper[0],
             "X_LCL": main.lower[0], "MR_UCL": moving.upper[0], "sigma_hat": chart.sigma}
    assert found == pytest.approx({name: wanted[name] for name in found}, rel=1e-9)
    np.testing.assert_allclose(moving.value, wanted["MR"], rtol=1e-9)
    assert main.signalled().tolist() == published["signals"]["X_beyond_limits"]
    assert (moving.lower == 0).all()


def test_limits_agree_with_a_plain_loop() -> None:
    x = np.random.default_rng(1).normal(155, 2, 200)
    main, moving = individuals_chart(x).charts
    lower, centre, upper = individuals_limits(x.tolist())
    assert (main.lower[7], main.centre, main.upper[7]) == pytest.approx((lower, centre, upper))
    np.testing.assert_allclose(moving.value, moving_ranges(x.tolist()))
    assert moving.at[0] == 2
    assert moving.at[-1] == 200


def test_known_values_stand_instead_of_estimates() -> None:
    chart = individuals_chart([10, 12, 9], centre=10, sigma=0.5)
    main, moving = chart.charts
    assert (main.lower[0], main.centre, main.upper[0]) == (8.5, 10, 11.5)
    assert moving.centre == pytest.approx(0.5 * d2(2))
    assert moving.upper[0] == pytest.approx(0.5 * (d2(2) + 3 * d3(2)))
    assert main.signalled().tolist() == [2]
    assert chart.baseline is None
    assert chart.cautions == ()


def test_a_baseline_holds_the_limits_still() -> None:
    x = [*PUBLISHED[0]["data"]["x"], 150.0, 60.0]
    with_baseline = individuals_chart(x, baseline=(1, 20))
    alone = individuals_chart(x[:20])
    assert with_baseline.charts[0].upper[0] == alone.charts[0].upper[0]
    assert with_baseline.charts[0].signalled().tolist() == [21, 22]
    assert with_baseline.charts[1].signalled().tolist() == [21, 22]
    assert with_baseline.baseline == Baseline(first=1, last=20)


@pytest.mark.parametrize("value", [0.1, 155.3, -7.7])
def test_equal_values_do_not_signal(value: float) -> None:
    # the mean of equal decimals need not equal them to the last bit
    chart = individuals_chart([value] * 31, rules="nelson")
    hugging = chart.charts[0].signalled("stratification").tolist()
    assert hugging == list(range(15, 32))
    assert not chart.charts[0].signalled().size
    assert not chart.charts[0].signalled("one_side").size
    assert Caution.NO_VARIATION in chart.cautions


def test_any_other_value_signals_after_a_baseline_without_variation() -> None:
    chart = individuals_chart([5.0] * 25 + [5.1], baseline=(1, 25), rules="western-electric")
    assert chart.charts[0].signalled().tolist() == [26]


def test_a_point_on_a_limit_is_not_beyond_it() -> None:
    # 0.7 - 0.1 = 3 * 0.2 in decimals, but not to the last bit
    chart = individuals_chart([0.7, 0.1, -0.5, 0.7000001], centre=0.1, sigma=0.2)
    assert chart.charts[0].signalled().tolist() == [4]


def test_few_points_are_said_to_be_few() -> None:
    assert individuals_chart(range(19)).cautions == (Caution.TOO_FEW_POINTS,)
    assert individuals_chart(range(20)).cautions == ()


def test_results_cannot_be_written() -> None:
    values = np.arange(30.0)
    chart = individuals_chart(values).charts[0]
    values[0] = 99
    assert chart.value[0] == 0
    for array in (chart.value, chart.lower, chart.upper, chart.signals):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


@pytest.mark.parametrize(("arguments", "message"), [
    ({"values": [1.0]}, "values has 1 values; it needs at least 2"),
    ({"values": [1, np.nan, 3]}, "values is nan at position 2; it must be a finite number"),
    ({"values": [[1, 2], [3, 4]]}, "values has 2 dimensions"),
    ({"values": [1, 2, 3], "sigma": 0}, "sigma is 0; it must be a finite number above 0"),
    ({"values": [1, 2, 3], "centre": np.inf}, "centre is inf; it must be a finite number"),
    ({"values": [1, 2, 3], "baseline": (2, 4)}, "baseline is 2:4; it must lie inside 1:3"),
    ({"values": [1, 2, 3], "baseline": (3, 2)}, "baseline is 3:2; it must lie inside 1:3"),
    ({"values": [1, 2, 3], "baseline": (2, 2)}, "baseline has 1 point"),
    ({"values": [1, 2, 3], "rules": "some"}, "rules is 'some'; allowed: limits, west"),
])
def test_wrong_input_is_named(arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        individuals_chart(**arguments)
