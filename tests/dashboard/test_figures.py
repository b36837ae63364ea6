"""Figures as pure functions of results: what is drawn is what was computed."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from dashboard import text
from dashboard.components.ratios import MOST_ROWS, RatioRow, Scale, ratio_rows, scale_of
from dashboard.figures.evidence import evidence_figure
from dashboard.figures.platen import drift_figure, map_figure
from dashboard.figures.trend import rate_figure
from dashboard.formats import Clock, Heat
from qc.desk.cases import CaseDays
from qc.desk.trends import RateTrend
from qc.domain.instants import DAY_US
from qc.domain.platens import DriftSeries, PlatenMap
from qc.presses.surveys import surface_of
from tests.dashboard.asking import links, plain, props_of, words
from tests.qc.desk.test_floor import flag_on

CLOCK = Clock(ZoneInfo("Europe/Lisbon"))
DAY0 = 1_772_409_600_000_000


def trend() -> RateTrend:
    """Five days, the fourth outside its band."""
    share = np.array([0.02, 0.03, 0.01, 0.2, 0.02])
    n = np.full(5, 100)
    return RateTrend(
        step="day", kind=None, as_of_us=DAY0 + 5 * DAY_US, start_us=DAY0 + np.arange(5) * DAY_US,
        end_us=DAY0 + np.arange(1, 6) * DAY_US, n_pieces=n,
        n_defective=np.round(share * n).astype(np.int64), share=share, low=share / 2,
        high=share * 2, usual=np.full(5, 0.02), lower=np.zeros(5), upper=np.full(5, 0.06),
        outside=share > 0.06, spread=1.0, overall=0.056, overall_usual=0.02, cautions=(),
        source="s")


def trace(figure, name: str):
    return next(t for t in figure.data if t.name == name)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_band_is_a_band_and_the_point_outside_is_marked(scheme: str) -> None:
    figure = rate_figure(trend(), scheme, CLOCK, links=[f"?open={i}" for i in range(5)])
    band = trace(figure, text.BAND)
    assert band.fill == "tonexty" and list(band.y) == pytest.approx([6.0] * 5)
    assert list(trace(figure, text.SEEN).y) == pytest.approx([2, 3, 1, 20, 2])
    marked = trace(figure, text.STANDS_OUT)
    assert list(marked.y) == [20.0] and list(marked.customdata) == ["?open=3"]
    assert marked.marker.symbol == "diamond-open"


def test_yield_is_the_other_side() -> None:
    figure = rate_figure(trend(), "light", CLOCK, links=["?"] * 5, as_yield=True)
    assert list(trace(figure, text.SEEN).y) == pytest.approx([98, 97, 99, 80, 98])
    assert list(trace(figure, text.BAND).y) == pytest.approx([100.0] * 5)
    assert figure.layout.yaxis.range[0] <= 80


def test_no_stock_look_is_left() -> None:
    figure = rate_figure(trend(), "light", CLOCK, links=["?"] * 5)
    assert figure.layout.template.layout.font.family.startswith("'Atkinson")
    assert figure.layout.template.layout.colorway[0] != "#636efa"
    assert figure.layout.template.layout.plot_bgcolor == "rgba(0,0,0,0)"


def platen_map() -> PlatenMap:
    error = np.array([[-1.0, 0.5, 1.0], [0.0, np.nan, 0.5], [-0.5, 0.2, -6.0]])
    return PlatenMap(
        press="Cedar", platen="upper", survey_id="s", surveyed_at_us=DAY0, state="routine",
        instrument=None, setpoint_c=150.0, error_c=error, surface_c=surface_of(error),
        offset_c=float(np.nanmean(error)),
        spread_c=7.0, coldest=(3, 3), hottest=(1, 3), n_points=8, temperature_tolerance_c=5.0,
        uniformity_tolerance_c=8.0)


def test_every_probed_point_has_its_number_and_no_other() -> None:
    figure = map_figure(platen_map(), "light", Heat("c"))
    said = [note.text for note in figure.layout.annotations]
    assert len(said) == 8
    assert any("−6.0" in s and text.COLDEST in s for s in said)
    assert any("+1.0" in s and text.HOTTEST in s for s in said)
    first, last = figure.layout.yaxis.range
    assert first > last  # the far edge, row 1, is at the top
    points = figure.data[1]
    assert len(points.x) == 8 and (1, 1) not in list(zip(points.x, points.y, strict=True))


def test_a_map_in_the_shops_unit() -> None:
    """A difference of 1 degC is 1.8 degF."""
    figure = map_figure(platen_map(), "dark", Heat("f"))
    assert figure.data[1].customdata[-1][2] == pytest.approx(-10.8)
    assert figure.data[0].zmin == -figure.data[0].zmax


def drift(**more: object) -> DriftSeries:
    at = DAY0 + np.arange(4) * 7 * DAY_US
    ahead = at[-1] + np.arange(3) * DAY_US
    given: dict[str, object] = {
        "press": "Cedar", "platen": "upper", "at_us": at,
        "offset_c": np.array([0.0, -1.0, -2.0, -3.0]), "spread_c": np.ones(4),
        "states": ("as_left", "routine", "routine", "as_found"),
        "survey_ids": ("a", "b", "c", "d"), "fitted_at_us": at,
        "fitted_c": np.array([0.0, -1.0, -2.0, -3.0]), "forecast_at_us": ahead,
        "forecast_c": np.array([-3.0, -3.1, -3.2]), "forecast_low_c": np.array([-3.2, -3.4, -3.6]),
        "forecast_high_c": np.array([-2.8, -2.8, -2.8]), "slope_c_per_day": -0.14,
        "slope_interval": (-0.2, -0.1), "crosses_at_us": None, "crosses_between_us": None,
        "temperature_tolerance_c": 5.0, "uniformity_tolerance_c": 8.0, "note": "n",
    }
    return DriftSeries(**(given | more))


def test_drift_shows_tolerance_fan_and_states_by_shape() -> None:
    figure = drift_figure(drift(), "light", CLOCK, Heat("c"))
    assert list(trace(figure, text.TOLERANCE).y) == [5.0, 5.0]
    assert list(trace(figure, text.FAN).y) == pytest.approx([-2.8] * 3)
    shapes = {t.marker.symbol for t in figure.data if t.mode == "markers"}
    assert shapes == {"circle", "square", "triangle-down-open"}


def test_drift_without_a_line_or_tolerance() -> None:
    none = np.zeros(0)
    figure = drift_figure(
        drift(fitted_at_us=none, fitted_c=none, forecast_at_us=none, forecast_c=none,
              forecast_low_c=none, forecast_high_c=none, temperature_tolerance_c=None),
        "dark", CLOCK, Heat("c"))
    assert {t.name for t in figure.data} == set(text.SURVEY_NAMES.values())


def test_evidence_shades_when_the_change_began() -> None:
    days = CaseDays(
        day_start_us=DAY0 + np.arange(3) * DAY_US, n_pieces=np.array([50, 50, 50]),
        n_seen=np.array([1, 5, 10]), expected=np.array([1.0, 1.0, 1.0]),
        low=np.array([0.0, 0.05, 0.1]), high=np.array([0.1, 0.2, 0.3]))
    flag = flag_on("press", "Cedar", press="Cedar")
    figure = evidence_figure(days, flag, "light", CLOCK)
    shade = figure.layout.shapes[0]
    assert (shade.x0, shade.x1) == tuple(CLOCK.wall(us) for us in flag.changed_between_us)
    assert list(trace(figure, text.SEEN).y) == pytest.approx([2, 10, 20])


def row(label: str, ratio: float | None, *, out: bool = False, link: str = "?x") -> RatioRow:
    low, high = (None, None) if ratio is None else (ratio / 2, ratio * 2)
    return RatioRow(label=label, n=3, of="", ratio=ratio, low=low, high=high,
                    stands="worse" if out else "", link=link,
                    note="▲ more than its mix" if out else "")


def test_scale_holds_every_interval_and_one() -> None:
    scale = scale_of([row("a", 3.0), row("b", 0.2), row("c", None)])
    assert scale.low <= 0.1 and scale.high >= 6.0 and 1.0 in scale.ticks
    assert Scale(0.1, 10.0).place(1.0) == "50.00%"
    assert Scale(0.1, 10.0).place(1e9) == "100.00%"


def test_rows_are_links_and_what_stands_out_says_so_in_words() -> None:
    shown = plain(ratio_rows([row("Cedar", 2.4, out=True), row("Anvil", None)], heading="Press"))
    assert links(shown) == ["?x", "?x"]
    assert "more than its mix" in words(shown) and text.RATIO_NOT_KNOWN in words(shown)
    assert sum(p.get("className") == "ratio-row worse" for p in props_of(shown)) == 1


def test_many_rows_are_cut() -> None:
    shown = plain(ratio_rows([row(str(i), 1.0) for i in range(40)], heading="Job"))
    assert len(links(shown)) == MOST_ROWS
    late = [row(str(i), 1.0) for i in range(40)] + [row("late", 2.4, out=True)]
    assert "late" in words(plain(ratio_rows(late, heading="Job")))
