"""Charts of streams: numbers against the statistics directly, advice, stretches, freezing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qc.desk.shop import Shop
from qc.desk.stream_charts.advice import advise
from qc.desk.stream_charts.chart import Asked, StreamChart, stream_chart
from qc.desk.stream_charts.counting import counted_points
from qc.desk.stream_charts.filed import in_shop_units
from qc.desk.stream_charts.flagged import asides, touching
from qc.desk.stream_charts.freezing import freeze_limits, period_of
from qc.desk.stream_charts.making import Wanted, make
from qc.desk.stream_charts.measuring import measured_points
from qc.desk.stream_charts.points import CountPoints, ValuePoints, as_counts, as_values
from qc.desk.stream_charts.run_words import run_statement
from qc.domain.flags import FactorShare
from qc.domain.instants import DAY_US
from qc.domain.streams import Stream
from qc.errors import InputError
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.laney import p_prime_chart
from qc.stats.charts.mix import mix_chart
from qc.stats.charts.multivariate import t2_chart
from qc.stats.charts.phase_one import judge_baseline
from qc.stats.runlength.counts import count_run_length
from qc.stats.runlength.shewhart import shewhart_run_length
from qc.store.inspections import add_inspections
from qc.store.stream_baselines import read_stream_baselines
from tests.migrations.versions import FLAG
from tests.qc.desk.stream_shop import END_US, JIG_MOVED_DAY, START_US, build
from tests.qc.desk.test_stream_points import stream

P1 = stream("defects", "lifted_edge", "press", "P1")
SCORCH = stream("defects", "scorch", step="day")
DX = stream("placement", "dx_mm")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    made, *_ = build(tmp_path_factory.mktemp("charts"))
    yield made
    made.store.close()


def chart(shop: Shop, asked: Stream, **more: object) -> StreamChart:
    return stream_chart(shop, Asked(stream=asked, **more), as_of_us=END_US)  # type: ignore[arg-type]


def counts(n: list[int], count: list[int], usual: list[float] | None = None, *,
           step: str = "day", per_unit: bool = False) -> CountPoints:
    size = np.array(n)
    rates = np.array(usual if usual is not None else [sum(count) / size.sum()] * len(n))
    start = START_US + np.arange(len(n)) * DAY_US
    of = stream("defects", "" if per_unit else "scorch", "operator" if per_unit else "shop",
                "Ada" if per_unit else "", step)
    return CountPoints(stream=of, start_us=start, end_us=start + DAY_US, n=size,
                       count=np.array(count), usual=rates, mix=np.diag(size.astype(float)),
                       cells=tuple((str(k), None, None) for k in range(len(n))), rates=rates)


def values(rows: np.ndarray, point_of: np.ndarray, *, of: str = "dx_mm",
           subject: str = "placement") -> ValuePoints:
    n = np.bincount(point_of)
    means = np.array([rows[point_of == k].mean(axis=0) for k in range(len(n))])
    start = START_US + np.arange(len(n)) * DAY_US
    return ValuePoints(stream=stream(subject, of), start_us=start, end_us=start + DAY_US, n=n,
                       value=means, rows=rows, point_of=point_of,
                       units=("mm",) * rows.shape[1],
                       scales=(1.0,) * rows.shape[1])


# numbers ------------------------------------------------------------------------------------

def test_the_chart_about_the_mix_is_that_of_the_statistics(shop: Shop) -> None:
    found = chart(shop, P1)
    points = as_counts(found.points)
    assert found.kind == "mix" and found.kinds[0].advised and found.stretch is not None
    direct = mix_chart(points.count, points.n, points.usual, baseline=found.stretch.baseline,
                       limits="probability")
    assert found.chart is not None
    for name in ("value", "lower", "upper", "centres", "signals"):
        np.testing.assert_array_equal(getattr(found.chart.charts[0], name),
                                      getattr(direct.charts[0], name))


@pytest.mark.parametrize(("kind", "direct"), [
    ("p-prime", lambda p: p_prime_chart(p.count, p.n)),
    ("ewma", lambda p: ewma_chart(
        (p.share - p.usual) / np.sqrt(p.usual * (1 - p.usual) / p.n))),
])
def test_other_kinds_are_those_of_the_statistics(shop: Shop, kind: str, direct) -> None:
    points = counted_points(shop, P1, as_of_us=END_US, since_us=None)
    base = (int(points.start_us[0]), int(points.end_us[-1]))
    found = chart(shop, P1, kind=kind, base_us=base)
    expected = direct(points).charts[0]
    assert found.kind == kind and found.chart is not None
    np.testing.assert_allclose(found.chart.charts[0].value, expected.value, rtol=1e-12)
    np.testing.assert_allclose(found.chart.charts[0].upper, expected.upper, rtol=1e-12)


def test_measured_streams_are_those_of_the_statistics(shop: Shop) -> None:
    points = measured_points(shop, DX, as_of_us=END_US, since_us=None)
    base = int(points.start_us[0]), int(points.end_us[-1])
    found = chart(shop, DX, kind="individuals", base_us=base)
    expected = individuals_chart(points.value[:, 0])
    assert found.chart is not None and found.judgement is not None
    np.testing.assert_allclose(found.chart.charts[0].upper, expected.charts[0].upper, rtol=1e-12)
    assert found.judgement.cautions == judge_baseline(expected).cautions
    together = replace(DX, of="together", step="piece")
    all_three = chart(shop, together, base_us=(base[0], base[1]))
    rows = measured_points(shop, together, as_of_us=END_US, since_us=None).value
    assert all_three.kind == "t2" and all_three.chart is not None
    np.testing.assert_allclose(all_three.chart.charts[0].value, t2_chart(rows).charts[0].value,
                               rtol=1e-9)


def test_a_jig_that_moved_is_dated_with_its_interval(shop: Shop) -> None:
    found = chart(shop, replace(DX, step="day"))
    assert found.stretch is not None and found.change is not None and found.chart is not None
    moved = START_US + JIG_MOVED_DAY * DAY_US
    assert found.points.end_us[found.stretch.last - 1] <= moved + DAY_US
    first, last = found.change.first, found.change.last
    assert first is not None and last is not None
    assert found.points.start_us[first - 1] <= moved <= found.points.end_us[last - 1]


# run lengths --------------------------------------------------------------------------------

def test_run_lengths_are_those_of_the_chart(shop: Shop) -> None:
    single = chart(shop, DX, kind="individuals")
    assert single.run is not None and single.chart is not None
    assert single.run.calm_points == pytest.approx(shewhart_run_length(0.0).arl)
    assert single.run.points == pytest.approx(shewhart_run_length(1.0).arl)
    pace = float(np.ptp(single.points.start_us)) / DAY_US / (len(single.points) - 1)
    assert single.run.calm_days == pytest.approx(single.run.calm_points * pace)
    assert single.run.size == pytest.approx(single.chart.sigma)
    points = counts([200] * 30, [4, 3, 5, 4, 4, 2] * 5)
    made = make(points, "p-exact", Wanted())
    said = run_statement(points, made, "p-exact", "limits")
    centre = points.count.sum() / points.n.sum()
    sigma = np.sqrt(centre * (1 - centre) / 200)
    assert said is not None
    assert said.points == pytest.approx(count_run_length(
        centre / sigma, kind="p", centre=centre, size=200, limits="probability").arl)


# advice -------------------------------------------------------------------------------------

RNG = np.random.default_rng(5)
SIZES = [100 + 10 * (k % 3) for k in range(30)]


@pytest.mark.parametrize(("points", "kind", "why"), [
    (counts([100] * 30, [1 if k % 4 == 0 else 0 for k in range(30)]), "g", "Rare"),
    (counts(SIZES, RNG.binomial(SIZES, np.tile([0.05, 0.15], 15)).tolist(),
            np.tile([0.05, 0.15], 15).tolist()), "mix", "work changes"),
    (counts(SIZES, RNG.binomial(SIZES, RNG.uniform(0.02, 0.3, 30)).tolist()), "p-prime",
     "more than chance"),
    (counts(SIZES, RNG.binomial(SIZES, 0.02).tolist()), "p-exact", "exact tails"),
    (counts(SIZES, RNG.binomial(SIZES, 0.2).tolist()), "p", "plain limits are right"),
    (counts(SIZES, RNG.poisson(30, 30).tolist(), per_unit=True), "u", "plain limits are right"),
    (values(RNG.normal(0, 1, (30, 1)), np.arange(30)), "individuals", "one by one"),
    (values(RNG.normal(0, 1, (120, 1)), np.repeat(np.arange(30), 4)), "xbar-s", "within a point"),
    (values(RNG.normal(0, 1, (120, 1)) + np.repeat(RNG.normal(0, 3, 30), 4)[:, None],
            np.repeat(np.arange(30), 4)), "individuals", "differ"),
    (values(RNG.normal(0, 1, (30, 3)), np.arange(30), of="together"), "t2", "belong together"),
    (values(RNG.normal(0, 1, (30, 1)), np.arange(30), of="offset_c", subject="platen"), "ewma",
     "drifts"),
], ids=["rare", "mix", "more than chance", "few", "plain", "defects", "single", "means",
        "steps differ", "three values", "platen"])
def test_the_kind_advised_and_its_reason(points, kind: str, why: str) -> None:
    found = advise(points)
    assert (found[0].kind, found[0].advised, found[0].fits) == (kind, True, True)
    assert why in found[0].why and sum(one.advised for one in found) == 1
    fits = [one.fits for one in found]
    assert fits == sorted(fits, reverse=True) and all(one.why for one in found)


def test_what_does_not_suit_says_why() -> None:
    said = {one.kind: one for one in advise(counts(SIZES, RNG.binomial(SIZES, 0.2).tolist()))}
    assert not said["np"].fits and "100 to 120" in said["np"].why
    assert not said["t"].fits and "nights" in said["t"].why
    single = {one.kind: one for one in advise(values(RNG.normal(0, 1, (30, 1)), np.arange(30)))}
    assert not single["xbar-s"].fits and "several values" in single["xbar-s"].why


def test_a_kind_that_does_not_suit_is_not_drawn(shop: Shop) -> None:
    assert chart(shop, P1, kind="np").kind == "mix"
    assert chart(shop, P1, kind="nonsense").kind == "mix"


def test_rare_defects_look_for_runs_unless_told_not_to(shop: Shop) -> None:
    found = chart(shop, SCORCH)
    assert found.kind == "g" and found.rules == ("one_side",)
    assert "no point can lie below" not in " ".join(found.cautions)
    told = chart(shop, SCORCH, rules=())
    assert told.rules == () and "no point can lie below" in " ".join(told.cautions)


# the stretch --------------------------------------------------------------------------------

def test_a_point_is_left_out_with_its_cause(shop: Shop) -> None:
    points = counted_points(shop, P1, as_of_us=END_US, since_us=None)
    base = int(points.start_us[0]), int(points.end_us[-1])
    found = chart(shop, P1, base_us=base, excluded=((points.key(5), "wrong sheet"),))
    assert found.stretch is not None and found.chart is not None
    assert [(one.at, one.reason) for one in found.stretch.excluded] == [(5, "wrong sheet")]
    keep = np.arange(len(points)) != 4
    ratio = points.count[keep].sum() / (points.usual * points.n)[keep].sum()
    np.testing.assert_allclose(found.chart.charts[0].centres, ratio * points.usual, rtol=1e-12)
    assert len(found.chart.charts[0].value) == len(points)  # it stays in the picture


def test_a_stretch_too_short_gives_no_limits_and_says_what_to_do(shop: Shop) -> None:
    short = chart(shop, P1, base_us=(START_US, START_US + 3 * DAY_US))
    assert short.chart is None and "holds 3 points" in short.missing[0] and len(short.points) > 30
    assert "longer period" in short.missing[1] and short.kinds
    with pytest.raises(InputError, match="no limits to freeze: The stretch chosen holds 3"):
        freeze_limits(shop, short.asked, since_us=None, by="Ann", why="calm", at_us=END_US)


# not enough ---------------------------------------------------------------------------------

def test_what_is_missing_is_said(shop: Shop) -> None:
    short = stream_chart(shop, Asked(stream=P1), as_of_us=END_US, since_us=END_US - 4 * DAY_US)
    assert short.chart is None and "a chart is drawn from 8 on" in short.missing[0]
    none = chart(shop, replace(P1, of="bubble"))
    assert none.chart is None and "good news" in none.missing[0]
    weeks = chart(shop, replace(P1, step="week"))
    assert weeks.chart is None and "6 weeks" in weeks.missing[0]
    nobody = chart(shop, stream("setting", "pressure_dial", "press", "P1"))
    assert nobody.chart is None and nobody.missing


def test_too_few_of_a_rare_defect_take_exact_tails(shop: Shop) -> None:
    found = chart(shop, replace(SCORCH, by="press", level="P1"))
    assert advise(counted_points(shop, found.stream, as_of_us=END_US, since_us=None))[0].kind == "g"
    said = {one.kind: one for one in found.kinds}
    assert found.kind == "p-exact" and said["p-exact"].advised
    assert not said["g"].fits and "runs between two so far; it needs 8" in said["g"].why


# freezing -----------------------------------------------------------------------------------

FROZEN = [
    (P1, ""), (P1, "cusum"), (P1, "p-prime"), (SCORCH, ""), (DX, "ewma"), (DX, ""),
    (replace(DX, of="together"), "t2"), (replace(DX, of="together"), "mewma"),
    (stream("defects", "", "operator", "Ada"), ""),
]


@pytest.mark.parametrize(("asked", "kind"), FROZEN, ids=lambda one: getattr(one, "of", one) or "-")
def test_frozen_limits_hold_for_what_comes_after(tmp_path: Path, asked: Stream, kind: str) -> None:
    made, *_ = build(tmp_path)
    before = chart(made, asked, kind=kind)
    assert before.chart is not None and before.kind == (kind or before.kind)
    frozen = freeze_limits(made, Asked(stream=asked, kind=kind), since_us=None, by="Ann",
                           why="calm", at_us=END_US)
    after = chart(made, asked)
    assert after.frozen == frozen and after.judgement is None and after.kind == before.kind
    assert after.chart is not None and after.chart.baseline is None
    for old, new in zip(before.chart.charts, after.chart.charts, strict=True):
        np.testing.assert_allclose(new.value, old.value, rtol=1e-9)
        if after.kind != "t2":  # a T2 limit knows its own points from later ones
            np.testing.assert_allclose(new.upper, old.upper, rtol=1e-9)
    _add_bad_days(made)
    later = stream_chart(made, Asked(stream=asked), as_of_us=END_US + 20 * DAY_US)
    assert later.chart is not None and later.frozen == frozen
    n = len(after.points)
    if asked.subject == "defects" and after.kind in ("mix", "mix-u"):
        np.testing.assert_allclose(later.chart.charts[0].upper[:n],
                                   after.chart.charts[0].upper[:n], rtol=1e-9)
        assert (later.chart.charts[0].signalled() > n).any()
    made.store.close()


def test_earlier_limits_stay_readable_with_their_evidence(tmp_path: Path) -> None:
    made, *_ = build(tmp_path)
    points = counted_points(made, P1, as_of_us=END_US, since_us=None)
    base = int(points.start_us[0]), int(points.end_us[-10])
    first = freeze_limits(made, Asked(stream=P1, base_us=base,
                                      excluded=((points.key(4), "wrong sheet"),)),
                          since_us=None, by="Ann", why="before the new film", at_us=END_US)
    second = freeze_limits(made, Asked(stream=P1), since_us=None, by="Bo", why="all of it",
                           at_us=END_US + 1)
    late = END_US + DAY_US
    newest = stream_chart(made, Asked(stream=P1), as_of_us=late)
    assert newest.frozen == second and newest.history == (first, second)
    read = stream_chart(made, Asked(stream=P1, frozen=first.number), as_of_us=late)
    assert read.frozen == first and read.chart is not None and newest.chart is not None
    assert first.evidence["excluded"][0]["cause"] == "wrong sheet"
    assert first.evidence["n_points"] == len(points) - 10
    free = stream_chart(made, Asked(stream=P1, frozen=0), as_of_us=late)
    assert free.frozen is None and free.judgement is not None
    assert stream_chart(made, Asked(stream=P1), as_of_us=END_US - 1).history == ()
    made.store.close()


def test_nobody_freezes_without_a_name_or_without_limits(tmp_path: Path) -> None:
    made, *_ = build(tmp_path)
    for more, said in (({"by": ""}, "need a name"), ({"why": " "}, "need a reason")):
        given = {"by": "Ann", "why": "calm"} | more
        with pytest.raises(InputError, match=said):
            freeze_limits(made, Asked(stream=P1), since_us=None, at_us=END_US, **given)
    with pytest.raises(InputError, match="no limits to freeze"):
        freeze_limits(made, Asked(stream=replace(P1, of="bubble")), since_us=None, by="Ann",
                      why="calm", at_us=END_US)
    assert read_stream_baselines(made.store, P1.key) == ()
    made.store.close()


def _add_bad_days(shop: Shop) -> None:
    """Ten days in which nearly every piece of press P1 lifts."""
    looks, findings = [], []
    for k in range(10 * 40):
        at = END_US + (k // 40) * DAY_US + 8 * 3_600_000_000 + (k % 40) * 60_000_000
        looks.append({"piece_id": f"late{k}", "attempt": 1, "inspected_at": at, "pressed_at": at,
                      "stage": "final", "press": "P1", "fabric": "jersey", "transfer": "film",
                      "location": "back", "job": f"L{k // 40}", "operator": "Ada", "pieces": 1,
                      "dx_mm": 9.0, "dy_mm": 0.1 * (k % 3), "rotation_deg": 0.1 * (k % 5),
                      "disposition": "hold"})
        findings.append({"row": k, "kind": "lifted_edge", "zone": None, "extent_mm": None, "n": 1})
    add_inspections(shop.store, pd.DataFrame(looks), pd.DataFrame(findings), by="test",
                    at_us=END_US + 11 * DAY_US, source="late")


# cases and units ----------------------------------------------------------------------------

def test_the_cases_that_touch_a_stream() -> None:
    on_p1 = replace(FLAG, also=())
    assert touching([on_p1], P1) == (on_p1,)
    assert touching([on_p1], replace(P1, level="P2")) == ()
    assert touching([on_p1], stream("defects")) == (on_p1,)
    assert touching([on_p1], stream("defects", "scorch")) == ()
    assert touching([on_p1], DX) == ()
    film = replace(on_p1, press=None, factor=FactorShare(name="transfer", level="film",
                                                          weight=0.9), other_factors=())
    assert touching([film], stream("defects", "", "transfer", "film")) == (film,)
    assert touching([film], P1) == ()
    platen = replace(on_p1, kind="calibration", platen="upper",
                     characteristic="temperature_error_c")
    asked = stream("platen", "offset_c", "press", "P1", "survey", "upper")
    assert touching([platen], asked) == (platen,)
    assert touching([platen], replace(asked, of="spread_c")) == ()
    warm = replace(platen, also=("lifted_edge",))  # and the defects that it makes
    assert touching([warm], P1) == touching([warm], replace(P1, of="")) == (warm,)
    assert touching([warm], replace(P1, of="scorch")) == touching([warm], DX) == ()
    b = replace(film, factor=FactorShare(name="station", level="P1/B", weight=0.9))
    assert touching([b], P1) == (b,) and touching([b], replace(P1, level="P2")) == ()
    assert touching([b], replace(P1, by="station", level="P1/B")) == (b,)
    assert touching([b], replace(P1, by="station", level="P1/A")) == ()
    p1 = replace(film, factor=FactorShare(name="press", level="P1", weight=0.9))
    assert touching([p1], replace(P1, by="station", level="P1/A")) == (p1,)


def test_a_flag_is_about_all_of_a_stream_or_about_a_part() -> None:
    on_p1 = replace(FLAG, also=())
    b = replace(on_p1, press=None, other_factors=(),
                factor=FactorShare(name="station", level="P1/B", weight=0.9))
    assert [one.whole for one in asides([on_p1], P1)] == [True]
    assert [one.whole for one in asides([on_p1], stream("defects"))] == [False]
    assert [one.whole for one in asides([b], P1)] == [False]
    assert [one.whole for one in asides([b], replace(P1, by="station", level="P1/B"))] == [True]
    assert asides([b], replace(P1, level="P2")) == ()


def test_a_chart_in_the_shops_units_is_the_same_chart_scaled(shop: Shop) -> None:
    found = chart(shop, DX)
    values_mm = as_values(found.points)
    inches = replace(found, points=replace(values_mm, units=("in",), scales=(1 / 25.4,)))
    assert found.chart is not None
    one, other = found.chart.charts[0], in_shop_units(inches).charts[0]
    np.testing.assert_allclose(other.value * 25.4, one.value, rtol=1e-12)
    np.testing.assert_allclose(other.upper * 25.4, one.upper, rtol=1e-12)
    assert other.centre * 25.4 == pytest.approx(one.centre)
    assert period_of(found)[0] == int(found.points.start_us[0])
