"""Charts of rare events: units between events (g) and time between events (t)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, ndtri

from qc.stats.charts.baselines import BaselineLike, BasePoints, base_points
from qc.stats.charts.chart import FEW_POINTS, Caution, Chart, ControlChart, make_chart
from qc.stats.charts.counts import SURE, known_rate
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.known import Known
from qc.stats.charts.probability_limits import (
    ALPHA,
    RunBand,
    geometric_limits,
    tail_chance,
    weibull_limits,
)
from qc.stats.charts.rules import RuleSet, pattern_signals, patterns_on, rule_cautions, rule_set
from qc.stats.checks import Floats, given_amounts, read_only, whole_array

ENOUGH = 100_000
"""Points that tell whether times are steady; more cost time and tell no more."""

POWER = 1 / 3.6
"""Makes exponential times nearly normal (Nelson 1994)."""

G_SOURCE = (
    "Kaminsky, Benneyan, Davis & Burke (1992), J. Quality Technology 24(2), 63-69: g chart"
)
G_TAILS = "limits from exact geometric tails: a chance of at most {:g} beyond each; Goh (1987)"
T_SOURCE = (
    "Nelson (1994), J. Quality Technology 26(3): individuals chart of time^(1/3.6), shown as time"
)
T_TAILS = "t chart of times as they are; {} limits: a chance of {:g} beyond each"


def g_chart(
    n_between: npt.ArrayLike, *, centre: float | None = None, baseline: BaselineLike = None,
    rules: str = "limits", limits: str = "sigma", alpha: float = ALPHA,
) -> ControlChart:
    """Number of good units between one nonconforming unit and the next.

    Parameters
    ----------
    n_between : whole units, 0 and up: those strictly between two events, in time order
    centre : known mean number, 0 and up, instead of the mean of the baseline
    baseline : points the mean comes from, first and last or a `Baseline`; all points
    rules : name in `qc.stats.charts.rules.RULE_SETS`
    limits : ``sigma`` or ``probability``
    alpha : chance of a point beyond either limit, both together; for ``probability``

    Raises
    ------
    ValueError
        A count is not whole or below 0, or an option is out of range.

    Notes
    -----
    ``sigma``: centre x-bar, limits x-bar +- 3 sqrt(x-bar (x-bar + 1)), lower limit 0. Nearly two
    points in three lie below this centre by chance, so a run below it is no evidence.
    ``probability``: the geometric distribution with mean x-bar (share 1 / (x-bar + 1)); the upper
    limit is the smallest whole number whose chance of a larger one is at most alpha / 2, the
    lower limit the largest whose chance of a smaller one is at most alpha / 2, the centre line
    the median; other rules hold points against that line by their own normal score. A high point
    is good news here: events became rarer. Units must fail independently at one rate.

    Source
    ------
    Kaminsky, Benneyan, Davis & Burke (1992), J. Quality Technology 24(2), 63-69; Benneyan (2001),
    Health Care Management Science 4, 305-318; probability limits: Goh (1987). From memory.
    """
    x = whole_array("n_between", n_between)
    base, wanted = base_points(baseline, len(x)), rule_set(rules)
    mean = float(x[base.at].mean()) if centre is None else known_rate(centre)
    tail = tail_chance(limits, alpha)
    if tail is None:
        chart = _moments_chart(x, mean, wanted)
    else:
        chart = _tails_chart("units between events", x, _whole_runs(mean, tail), wanted,
                             lambda k: (k + 1) * -np.log1p(1 / mean))
    found = _cautions(chart, base if centre is None else None)
    return ControlChart(
        kind="g", source=_joined(G_SOURCE, G_TAILS.format(tail) if tail else "", wanted.source),
        sigma=None, charts=(chart,), baseline=base.baseline if centre is None else None,
        cautions=found + ((Caution.SKEWED,) if tail is None and mean > 0 else ())
        + _rule_cautions(wanted, about_mean=tail is None),
    )


def t_chart(
    time_between: npt.ArrayLike, *, centre: float | None = None, sigma: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", limits: str = "sigma",
    alpha: float = ALPHA, shape: float = 1.0,
) -> ControlChart:
    """Time between one event and the next.

    Parameters
    ----------
    time_between : times in any unit, 0 and up, in time order
    centre : known centre line in the unit of time instead of an estimate; with ``probability``
        the known mean time
    sigma : known standard deviation of time^(1/3.6), above 0; only with ``sigma`` limits
    baseline : points that estimates come from, first and last or a `Baseline`; all points
    rules : name in `qc.stats.charts.rules.RULE_SETS`
    limits : ``sigma`` or ``probability``
    alpha : chance of a point beyond either limit, both together; for ``probability``
    shape : known Weibull shape, 0.1..20, for ``probability``; 1: exponential times

    Returns
    -------
    ControlChart. ``sigma``: the times, limits shown back-transformed, and the moving range of
    time^(1/3.6); ``sigma`` is that of time^(1/3.6). ``probability``: the times alone.

    Raises
    ------
    ValueError
        A time is not finite or below 0, there are too few for a moving range, or an option is
        out of range or does not go with these limits.

    Notes
    -----
    ``sigma``: y = x^(1/3.6), an individuals chart of y, its lines raised to 3.6; a lower limit
    below 0 becomes 0. ``probability``: limits -theta ln(1 - alpha / 2) and -theta ln(alpha / 2),
    centre line the median theta ln 2, theta the mean; with a shape b, each -ln to the power
    1 / b and theta the scale. Other rules hold points against the median by their own normal
    score; a caution says when times vary more or less than the distribution allows. A high point
    is good news here: events became rarer.

    Source
    ------
    Nelson (1994), A control chart for parts-per-million nonconforming items, J. Quality
    Technology 26(3), 239-240; exponential limits from the definition. From memory.
    """
    x = given_amounts("time_between", time_between, at_least=1 + (limits == "sigma"), zero=True)
    middle = None if centre is None else known_rate(centre)
    tail = tail_chance(limits, alpha)
    _check_pair("sigma", sigma, None, tail is not None)
    _check_pair("shape", shape, 1.0, tail is None)
    if tail is None:
        found = _nelson_chart(x, Known(centre=middle, sigma=sigma), baseline, rules)
    else:
        found = _weibull_chart(x, middle, baseline, rule_set(rules), tail=tail, shape=shape)
    zero = (Caution.ZERO_TIMES,) if x.min() == 0 else ()
    return replace(found, cautions=found.cautions + zero)


def _rule_cautions(rules: RuleSet, *, about_mean: bool) -> tuple[Caution, ...]:
    """Nearly two points in three lie below the mean: only about the median do sides suit runs."""
    if about_mean and rules.one_side:
        return (Caution.RULES_FOR_OTHERS,)
    return rule_cautions("g", rules)


def _moments_chart(x: Floats, mean: float, rules: RuleSet) -> Chart:
    sigma = math.sqrt(mean * (mean + 1))
    return make_chart("units between events", mean, x, 0.0, mean + 3 * sigma,
                      patterns=patterns_on(x, mean, sigma, rules))


def _whole_runs(mean: float, tail: float) -> RunBand:
    """The definition's limits of units strictly between events; whole numbers, median apart."""
    if mean == 0:
        return RunBand(lower=0.0, median=0.0, upper=0.0)
    run = geometric_limits(mean, tail=tail)
    return RunBand(lower=float(math.floor(run.lower)), median=max(run.median - 1, 0.0),
                   upper=float(max(math.ceil(run.upper) - 1, 0)))


def _nelson_chart(
    x: npt.NDArray[Any], known: Known, baseline: BaselineLike, rules: str
) -> ControlChart:
    middle = None if known.centre is None else known.centre**POWER
    inner = individuals_chart(x**POWER, centre=middle, sigma=known.sigma, baseline=baseline,
                              rules=rules)
    main, moving = inner.charts
    shown = replace(
        main, name="time between events", centre=_as_time(main.centre), value=_own(x),
        lower=np.broadcast_to(_as_time(main.lower[0]), x.shape),
        upper=np.broadcast_to(_as_time(main.upper[0]), x.shape),
    )
    blind = (Caution.BLIND_BELOW,) if shown.lower[0] == 0 < shown.upper[0] else ()
    return replace(
        inner, kind="t", source=_joined(T_SOURCE, rule_set(rules).source),
        charts=(shown, replace(moving, name="moving range of time^(1/3.6)")),
        cautions=inner.cautions + blind,
    )


def _own(x: npt.NDArray[Any]) -> Floats:
    """A copy that cannot be written, whatever becomes of the caller's array."""
    return read_only(np.array(x, dtype=np.float64))


def _as_time(y: float) -> float:
    return float(max(y, 0.0)) ** (1 / POWER)


def _weibull_chart(
    x: npt.NDArray[Any], mean: float | None, baseline: BaselineLike, rules: RuleSet, *, tail: float,
    shape: float,
) -> ControlChart:
    base = base_points(baseline, len(x))
    if not 0.1 <= shape <= 20:
        raise ValueError(f"shape is {shape:g}; it must be 0.1 to 20")
    scale = _scale(x[base.at], shape) if mean is None else mean / math.gamma(1 + 1 / shape)
    band = weibull_limits(scale, tail=tail, shape=shape)
    chart = _tails_chart("time between events", _own(x), band, rules,
                         lambda t: -((t / scale) ** shape))
    law = "exponential" if shape == 1 else f"Weibull (shape {shape:g})"
    found = _cautions(chart, base if mean is None else None)
    return ControlChart(
        kind="t", source=_joined(T_TAILS.format(law, tail), rules.source), sigma=None,
        charts=(chart,), baseline=base.baseline if mean is None else None,
        cautions=found + _unsteady(x[base.at][:ENOUGH], shape),
    )


def _unsteady(x: npt.NDArray[Any], shape: float) -> tuple[Caution, ...]:
    """Whether times, made exponential by a Weibull shape, vary as one steady rate makes them.

    Source
    ------
    Bartlett (1937), Proc. Royal Society A 160, 268-282, for exponential samples of one each.
    From memory.
    """
    if len(x) < 2 or x.min() == 0:
        return ()
    n, log_x = len(x), shape * np.log(x)
    log_mean = log_x.max() + math.log(float(np.exp(log_x - log_x.max()).mean()))
    spread = 2 * n * (log_mean - float(log_x.mean())) / (1 + (n + 1) / (6 * n))
    if spread > chdtri(n - 1, SURE):
        return (Caution.BURSTS,)
    return (Caution.REGULAR,) if spread < chdtri(n - 1, 1 - SURE) else ()


def _scale(x: npt.NDArray[Any], shape: float) -> float:
    """Most likely scale for a known shape; the mean for exponential times."""
    if shape == 1:
        return float(x.mean())
    longest = float(x.max())
    if longest == 0:
        return 0.0
    return longest * float(((x / longest) ** shape).mean()) ** (1 / shape)


def _tails_chart(
    name: str, x: Floats, band: RunBand, rules: RuleSet, log_above: Callable[[Floats], Floats]
) -> Chart:
    """``log_above`` : logarithm of the chance of more than x, for the points' normal scores."""
    if not rules.patterns:
        patterns = None
    elif band.upper == 0:
        patterns = patterns_on(x, 0.0, 0.0, rules)
    else:
        patterns = pattern_signals(-ndtri(np.exp(log_above(x))), rules)
    return make_chart(name, band.median, x, band.lower, band.upper, patterns=patterns)


def _cautions(chart: Chart, estimated_from: BasePoints | None) -> tuple[Caution, ...]:
    found = []
    if estimated_from is not None and estimated_from.n < FEW_POINTS:
        found.append(Caution.TOO_FEW_POINTS)
    if chart.upper[0] == chart.lower[0]:
        found.append(Caution.NO_VARIATION)
    elif chart.lower[0] == 0:
        found.append(Caution.BLIND_BELOW)
    return tuple(found)


def _check_pair(name: str, value: float | None, default: float | None, wrong: bool) -> None:
    if wrong and value != default:
        other = "sigma" if name == "sigma" else "probability"
        raise ValueError(f"{name} is {value:g}; it goes with limits {other!r} only")


def _joined(*parts: str) -> str:
    return "; ".join(filter(None, parts))
