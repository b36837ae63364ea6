"""The benchmark of platens: its simulated truth is what it says, and answers are judged right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from qc.domain.instants import DAY_US
from qc.domain.platens import CalibrationSignal
from qc.presses.surveys import surveys_of
from tests.benchmarks import platens
from tests.benchmarks.platen_judging import Run, run_of, start_of
from tests.benchmarks.platen_shops import KINDS, T0_US, Piece, TruePlaten, true_shop
from tests.qc.presses.made import T0, health_at, readings, survey

DRIFT = Piece(day=10.0, level_c=1.0, slope=-0.1)


def platen(*pieces: Piece, kind: str = "midway", corner_c: float = 0.0) -> TruePlaten:
    return TruePlaten(
        press="P1", kind=kind, tolerance_c=4.0, uniformity_c=6.0, check_days=7.0, pieces=pieces,
        changes_day=10.0, corner_c=corner_c, pattern_c=np.zeros(9), survey_days=np.arange(5) * 7.0,
        states=("routine",) * 5)


def test_a_true_drift_crosses_where_its_line_does() -> None:
    one = platen(Piece(day=-1e9, level_c=1.0, slope=0.0), DRIFT)
    assert one.offset(0.0) == one.offset(10.0) == 1.0 and one.slope(0.0) == 0.0
    assert one.crosses(20.0) == pytest.approx(60.0)  # from +1 down to -4 at 0.1 a day
    assert one.offset(60.0) == pytest.approx(-4.0)
    assert one.crosses(20.0, bias_c=-1.0) == pytest.approx(50.0)
    assert one.crosses(0.0) is None and one.crosses(70.0) == 70.0


def test_a_cold_corner_is_part_of_the_mean() -> None:
    one = platen(Piece(day=-1e9, level_c=0.5, slope=0.0), kind="corner", corner_c=4.5)
    assert (one.offset(9.0), one.spread(9.0)) == (0.5, 0.0)
    assert (one.offset(11.0), one.spread(11.0)) == (pytest.approx(0.0), pytest.approx(4.5))
    assert one.points(11.0).mean() == pytest.approx(one.offset(11.0))


def test_surveys_scatter_about_the_truth_as_the_shop_says() -> None:
    scatter, points = [], []
    for seed in range(20):
        shop = true_shop(np.random.default_rng(seed))
        found = surveys_of(shop.readings)
        for one in shop.platens:
            errors = [s.offset_c - shop.bias_c - one.offset((s.at_us - T0_US) / DAY_US)
                      for s in found[one.press, "upper"]]
            scatter += (np.array(errors) / shop.scatter_c).tolist()
            for s in found[one.press, "upper"]:
                true = one.map_c((s.at_us - T0_US) / DAY_US)
                noise = np.array(list(s.deviations.values())) - (true - true.mean())
                points.append(noise.std(ddof=1) / shop.point_c)
    assert np.std(scatter) == pytest.approx(1.0, abs=0.05) and abs(np.mean(scatter)) < 0.08
    assert np.mean(points) == pytest.approx(0.97, abs=0.03)  # c4 of nine values


def test_every_kind_of_platen_is_made() -> None:
    shops = [true_shop(np.random.default_rng(seed)) for seed in range(20)]
    made = [one for shop in shops for one in shop.platens]
    assert {one.kind for one in made} == set(KINDS)
    assert any("as_left" in one.states for one in made)
    assert all(np.all(np.diff(one.survey_days) > 0) for one in made)


def held(run: Run, truth: float | None) -> bool:
    return replace(run, truth=truth).covered


def test_a_forecast_is_held_against_the_crossing() -> None:
    drifting = readings(*[survey(7 * i, 1.0 - 0.1 * max(0.0, 7 * i - 10)) for i in range(6)])
    (said,) = health_at(35, drifting)
    one = platen(Piece(day=-1e9, level_c=1.0, slope=0.0), DRIFT)
    run = run_of(one, (T0 - T0_US) / DAY_US + 35.0, said, 0.0)
    assert run.drifts and run.ahead and not run.said_out
    assert run.truth == pytest.approx(25.0) == run.really
    run = replace(run, first=20.0, last=30.0)
    assert held(run, 25.0) and not held(run, 19.0) and not held(run, 31.0)
    assert not held(run, None) and held(replace(run, last=None), None)
    nothing = replace(run, first=None, last=None)
    assert held(nothing, None) and not held(nothing, 25.0)


@pytest.mark.parametrize(("low", "high", "good", "verdict"), [
    (8.0, 12.0, 7.0, (True, False, False)),
    (8.0, 12.0, 9.0, (True, False, True)),
    (10.5, 12.0, 9.0, (False, True, False)),
    (8.0, 12.0, 11.0, (True, False, False)),
])
def test_a_start_is_held_against_the_truth(low, high, good, verdict) -> None:
    def at(day: float) -> int:
        return T0_US + round(day * DAY_US)

    said = CalibrationSignal(
        press="P1", platen="upper", characteristic="temperature_error_c", direction="down",
        signalled_at_us=at(14), changed_at_us=at(low), changed_between_us=(at(low), at(high)),
        ended_at_us=None, before=0.0, after=-3.0, tolerance_c=4.0, coldest=None,
        last_good_us=at(good), reason="")
    start = start_of("midway", 10.0, said)
    assert (start.held, start.late, start.needless) == verdict
    assert start.width == pytest.approx(high - low)


def test_the_report_has_all_its_figures(capsys: pytest.CaptureFixture[str]) -> None:
    platens.report(platens.shops(6, 3))
    said = capsys.readouterr().out
    for figure in ("crosses_between holds the crossing", "due after the crossing", "median width",
                   "said recalibrate", "false calibration flags a year", "90 % interval holds it"):
        assert figure in said, figure
    assert "nan" not in said
