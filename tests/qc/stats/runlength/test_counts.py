from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.charts.chart import Chart
from qc.stats.charts.rare_events import g_chart
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart
from qc.stats.runlength import rule_chain
from qc.stats.runlength.counts import count_alpha, count_limits, count_run_length
from qc.stats.runlength.result import Caution
from tests.published import case
from tests.qc.stats.runlength.agreeing import agrees_with
from tests.reference.run_lengths import Simulated

PUBLISHED = case("oc_p_chart_n50")
P50 = {"kind": "p", "centre": 0.2, "size": 50}


def _shift(share: float) -> float:
    return (share - 0.2) / np.sqrt(0.2 * 0.8 / 50)


@pytest.mark.parametrize(("share", "beta", "arl", "printed"), list(zip(
    *(PUBLISHED["recomputed"][name] for name in ("p", "beta", "ARL")),
    PUBLISHED["published"]["beta"]["value"], strict=True)))
def test_operating_characteristic_of_a_p_chart(share, beta, arl, printed) -> None:
    run = count_run_length(_shift(share), **P50)
    assert run.arl == pytest.approx(arl, rel=1e-9)
    assert 1 - 1 / run.arl == pytest.approx(beta, rel=1e-8)
    assert 1 - 1 / run.arl == pytest.approx(printed,
                                            abs=PUBLISHED["published"]["beta"]["tolerance"])
    # the shift meets the share only to the last bits, the limits are those of the file
    assert count_limits(**P50) == pytest.approx((PUBLISHED["data"]["LCL"],
                                                 PUBLISHED["data"]["UCL"]), abs=5e-5)


EXACT = [
    ({"kind": "p", "centre": 0.05, "size": 200}, 1.0,
     lambda: stats.binom(200, 0.05 + np.sqrt(0.05 * 0.95 / 200)), 200),
    ({"kind": "np", "centre": 3, "size": 30}, -0.5,
     lambda: stats.binom(30, 0.1 - 0.5 * np.sqrt(0.09 / 30)), 1),
    ({"kind": "c", "centre": 9}, 0.0, lambda: stats.poisson(9), 1),
    ({"kind": "c", "centre": 36}, 2.0, lambda: stats.poisson(48), 1),
    ({"kind": "u", "centre": 1.5, "size": 6.5}, 1.5,
     lambda: stats.poisson(9.75 + 1.5 * np.sqrt(9.75)), 6.5),
    ({"kind": "g", "centre": 40}, 1.0, lambda: stats.geom(1 / 41, loc=-1), 1),
    ({"kind": "g", "centre": 40}, 3.0, lambda: stats.geom(3 / 41, loc=-1), 1),
    ({"kind": "g", "centre": 0.5}, 0.1, lambda: stats.geom(0.1 / 1.5, loc=-1), 1),
]


@pytest.mark.parametrize("limits", ["sigma", "probability"])
@pytest.mark.parametrize(("plan", "shift", "law", "unit"), EXACT,
                         ids=[f"{plan['kind']} {shift}" for plan, shift, _, _ in EXACT])
def test_exact_chances_beyond_the_limits(plan, shift, law, unit, limits) -> None:
    low, high = (limit * unit for limit in count_limits(limits=limits, **plan))
    counts = law()
    share = counts.cdf(np.ceil(low - 1e-9) - 1) + counts.sf(np.floor(high + 1e-9))
    run = count_run_length(shift, limits=limits, **plan)
    assert run.arl == pytest.approx(1 / share, rel=1e-9)
    assert run.sdrl == pytest.approx(np.sqrt(1 - share) / share, rel=1e-9)


def _chart(kind: str, k: np.ndarray, **options) -> Chart:
    """The chart of the tool itself, of many points."""
    if kind == "g":
        return g_chart(k, centre=99, **options).charts[0]
    if kind == "c":
        return c_chart(k, centre=9, **options).charts[0]
    if kind == "u":
        return u_chart(k, np.full(len(k), 2.0), centre=4.5, **options).charts[0]
    make, centre = (np_chart, 10.0) if kind == "np" else (p_chart, 0.2)
    return make(k, np.full(len(k), 50), centre=centre, **options).charts[0]


PLANS = {"p": P50, "np": {"kind": "np", "centre": 10, "size": 50}, "c": {"kind": "c", "centre": 9},
         "u": {"kind": "u", "centre": 4.5, "size": 2}, "g": {"kind": "g", "centre": 99}}


def _points(kind: str, shift: float, n: int, rng: np.random.Generator) -> np.ndarray:
    if kind == "g":
        return rng.geometric(shift / 100, n) - 1
    if kind in ("c", "u"):
        return rng.poisson(9 + shift * 3, n)
    return rng.binomial(50, 0.2 + shift * np.sqrt(0.16 / 50), n)


@pytest.mark.parametrize(("kind", "shift", "rules", "limits"), [
    ("p", 0.8, "nelson", "sigma"), ("p", -1, "western-electric", "probability"),
    ("np", 0.5, "trend=4,alternating=6", "sigma"), ("c", 1, "nelson", "sigma"),
    ("c", 0.5, "nelson", "probability"), ("u", -0.5, "one_side=5,mixture=4", "sigma"),
    ("g", 2, "nelson", "sigma"), ("g", 0.7, "western-electric", "probability"),
    ("g", 3, "stratification=6,trend=5", "probability")])
def test_the_chart_itself_signals_as_often(kind, shift, rules, limits) -> None:
    rng, n, length = np.random.default_rng(21), 2500, 900
    lengths = np.full(n, np.inf)
    for i in range(n):
        signals = _chart(kind, _points(kind, shift, length, rng), rules=rules,
                         limits=limits).signals
        if signals.any():
            lengths[i] = (signals != 0).argmax() + 1
    assert np.isfinite(lengths).all()
    agrees_with(count_run_length(shift, rules=rules, limits=limits, **PLANS[kind]),
                Simulated(lengths))


@pytest.mark.parametrize("rules", ["western-electric", "nelson"])
def test_after_long_use_rules_are_half_way_there(rules: str) -> None:
    fresh, used = (count_run_length(1, rules=rules, state=state, **P50)
                   for state in ("zero", "steady"))
    assert used.arl < fresh.arl
    calm = count_run_length(0, rules=rules, state="steady", **P50)
    assert calm.sdrl == pytest.approx(np.sqrt(calm.arl * (calm.arl - 1)), rel=1e-8)
    alone = [count_run_length(1, state=state, **P50).arl for state in ("zero", "steady")]
    assert alone[0] == alone[1]


def test_many_values_are_as_good_as_normal() -> None:
    # steps of a hundredth of sigma, none on the centre line; Champ & Woodall (1987) for normal
    run = count_run_length(0, kind="c", centre=10_000.5, rules="western-electric")
    assert run.arl == pytest.approx(91.75, rel=0.01)


def test_a_centre_on_a_possible_count_has_points_on_neither_side() -> None:
    # with centre 9 a run on one side is broken by a 9, with 9.3 by none
    on, off = (count_run_length(0, kind="c", centre=centre, rules="one_side").arl
               for centre in (9.0, 9.3))
    assert on > 1.1 * off


@pytest.mark.parametrize("rules", ["stratification", "mixture=5", "four_of_five", "trend=5"])
def test_a_count_on_a_line_is_on_it_however_it_is_written(rules: str) -> None:
    # 55 of 100 lie at 1 sigma: (55 - 50) / 5 exactly, (0.55 - 0.5) / 0.05 but for rounding
    pieces = count_run_length(0.5, kind="np", centre=50, size=100, rules=rules)
    share = count_run_length(0.5, kind="p", centre=0.5, size=100, rules=rules)
    assert share.arl == pytest.approx(pieces.arl, rel=1e-11)


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
@pytest.mark.parametrize("arl", [100, 370.4, 2000])
def test_the_alpha_found_is_the_largest_that_will_do(plan, arl) -> None:
    calm = 1.0 if plan["kind"] == "g" else 0.0
    alpha = count_alpha(arl, **plan)
    run = count_run_length(calm, limits="probability", alpha=alpha, **plan)
    tighter = count_run_length(calm, limits="probability", alpha=alpha * (1 + 1e-6), **plan)
    assert run.arl >= arl > tighter.arl
    assert alpha >= 0.999999 / arl


def test_alpha_with_rules_on() -> None:
    alpha = count_alpha(60, kind="c", centre=9, rules="western-electric")
    run = count_run_length(0, kind="c", centre=9, rules="western-electric", limits="probability",
                           alpha=alpha)
    assert run.arl >= 60
    with pytest.raises(ValueError, match="arl is 5000; no limits of this chart, with these rules"):
        count_alpha(5000, kind="c", centre=9, rules="western-electric")


@pytest.mark.parametrize(("plan", "shift", "blind"), [
    (P50, 0, False), ({"kind": "c", "centre": 4}, 0, True), ({"kind": "g", "centre": 99}, 1, True),
    ({"kind": "c", "centre": 25}, 0, False)])
def test_a_chart_without_a_lower_limit_says_so(plan, shift, blind) -> None:
    for rules in ("limits", "western-electric"):
        cautions = count_run_length(shift, rules=rules, **plan).cautions
        assert (Caution.NO_LOWER_LIMIT in cautions) == blind


def test_a_chart_that_cannot_signal_says_so() -> None:
    # a share of 1 leaves no unit between events, and there is no lower limit to fall below
    run = count_run_length(100, kind="g", centre=99)
    assert run.arl == np.inf
    assert Caution.NEVER in run.cautions


@pytest.mark.parametrize(("given", "message"), [
    ({"kind": "q"}, "kind is 'q'; allowed: p, np, c, u, g"),
    ({"centre": 0}, r"centre is 0; it must be inside \(0, 1\)"),
    ({"centre": 1.5}, r"centre is 1.5; it must be inside \(0, 1\)"),
    ({"size": None}, "size is None; a chart of kind 'p' needs one"),
    ({"size": 0}, "size is 0; it must be a whole number from 1"),
    ({"size": 12.5}, "size is 12.5; it must be a whole number from 1"),
    ({"size": np.inf}, "size is inf; it must be a whole number from 1"),
    ({"shift": 20}, "shift is 20; it would make the share of nonconforming pieces 1.33137"),
    ({"shift": -4}, "shift is -4; it would make the share of nonconforming pieces -0.0262742"),
    ({"shift": np.nan}, "shift is nan; it must be a finite number"),
    ({"limits": "wide"}, "limits is 'wide'; allowed: sigma, probability"),
    ({"limits": "probability", "alpha": 2}, "alpha is 2; it must be 1e-12 to below 1"),
    ({"rules": "some"}, "rules is 'some'; allowed: limits"),
    ({"state": "old"}, "state is 'old'; allowed: zero, steady"),
    ({"kind": "np", "centre": 60}, r"centre is 60; it must be a number of pieces inside \(0, 50\)"),
    ({"kind": "c"}, "size is 50; a chart of kind 'c' takes none"),
    ({"kind": "c", "size": None, "centre": -2}, "centre is -2; it must be a finite number above 0"),
    ({"kind": "c", "size": None, "centre": 1, "shift": -2}, "shift is -2; it would make the mean"),
    ({"kind": "u", "size": -1}, "size is -1; it must be a finite number above 0"),
    ({"kind": "u", "size": 0}, "size is 0; it must be a finite number above 0"),
    ({"kind": "g", "size": None, "centre": 3, "shift": 5}, "shift is 5; as a factor it would make"),
    ({"kind": "g", "size": None, "centre": 3, "shift": 0}, "shift is 0; as a factor it would make"),
])
def test_wrong_arguments_are_named(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        count_run_length(**{"shift": 0.0, **P50, **given})


def test_too_many_values_for_ups_and_downs_are_refused(monkeypatch) -> None:
    monkeypatch.setattr(rule_chain, "MOST_PLACES", 100)
    with pytest.raises(ValueError, match="rules look at ups and downs among too many different"):
        count_run_length(0, rules="trend", kind="c", centre=100)
