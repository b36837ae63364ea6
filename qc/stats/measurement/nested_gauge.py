"""A gauge watched over repeats, days and runs: what each level of time adds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from qc.stats.checks import Floats
from qc.stats.measurement.variance_components import VarianceInterval, variance_interval


class NestedCaution(Enum):
    """What a reader must know before using the study; the value is the sentence to show."""

    NEGATIVE_COMPONENT = "a component came out below 0 and counts as 0: it is too small to see"
    FEW_RUNS = "fewer than 4 runs: what runs add is known poorly, see its interval"


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level of time: the standard deviation seen there and the variance it adds.

    ``deviation`` : between repeats, between the averages of days, between the means of runs, with
    ``df``; it holds what the levels below leave in an average. ``variance`` : what the level
    itself adds (0 or more) with its interval; ``raw`` before a negative value became 0.
    """

    deviation: float
    df: int
    variance: float
    low: float
    high: float
    raw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedStudy:
    """Repeats within days within runs.

    ``one_measurement`` : standard deviation of a single measurement, all levels together, with its
    interval. ``run_means``, ``run_deviations`` : mean of each run and standard deviation of the
    daily averages in it.
    """

    repeats: Level
    days: Level
    runs: Level
    one_measurement: float
    one_measurement_low: float
    one_measurement_high: float
    run_means: tuple[float, ...]
    run_deviations: tuple[float, ...]
    n_repeats: int
    n_days: int
    n_runs: int
    confidence: float
    method: str
    cautions: tuple[NestedCaution, ...]


def nested_gauge(values: npt.ArrayLike, *, confidence: float = 0.95) -> NestedStudy:
    """What repeats, days and runs add to the variation of one check piece.

    Parameters
    ----------
    values : (runs, days, repeats), one unit, finite; two or more of each
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        Not three dimensions, fewer than two of a level, or a value not finite.

    Notes
    -----
    As for `nested_gauge_from_days`, from each day's average and standard deviation.
    """
    x = _finite("values", values, 3)
    if x.shape[2] < 2:
        raise ValueError(f"values has {x.shape[2]} repeats a day; it needs at least 2")
    return nested_gauge_from_days(
        x.mean(axis=2), x.std(axis=2, ddof=1), n_repeats=x.shape[2], confidence=confidence
    )


def nested_gauge_from_days(
    daily_average: npt.ArrayLike, daily_deviation: npt.ArrayLike, *, n_repeats: int,
    confidence: float = 0.95,
) -> NestedStudy:
    """The same from a log that keeps only each day's average and standard deviation.

    Parameters
    ----------
    daily_average, daily_deviation : (runs, days), two or more of each; deviations 0 and up
    n_repeats : behind each average, 2 and up

    Raises
    ------
    ValueError
        Shapes differ or are too small, a value is not finite, a deviation is negative, or
        n_repeats is below 2.

    Notes
    -----
    Level 1: deviations pooled over days; level 2: of averages within a run, pooled over runs;
    level 3: of the runs' means. days = level 2 squared - level 1 squared / repeats, runs = level 3
    squared - level 2 squared / days. Components below 0 count as 0 in ``one_measurement``.
    Intervals: modified large samples, chi-square (exact) for repeats.

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.1; intervals as `variance_interval`.
    """
    average, deviation = _finite("daily_average", daily_average, 2), _finite(
        "daily_deviation", daily_deviation, 2)
    _check_days(average, deviation, n_repeats)
    n_runs, n_days = average.shape
    means, within = average.mean(axis=1), average.var(axis=1, ddof=1)
    squares = np.array([(deviation**2).mean(), within.mean(), means.var(ddof=1)])
    df = np.array([n_runs * n_days * (n_repeats - 1), n_runs * (n_days - 1), n_runs - 1])
    made_of = np.array([[1, 0, 0], [-1 / n_repeats, 1, 0], [0, -1 / n_days, 1]])
    *found, whole = (variance_interval(squares, df, row, confidence=confidence)
                     for row in (*made_of, made_of.sum(axis=0)))
    levels = [_level(*one) for one in zip(squares, df, found, strict=True)]
    one = math.sqrt(sum(level.variance for level in levels))
    return NestedStudy(
        repeats=levels[0], days=levels[1], runs=levels[2], one_measurement=one,
        one_measurement_low=math.sqrt(max(whole.low, 0.0)),
        one_measurement_high=max(one, math.sqrt(max(whole.high, 0.0))),
        run_means=tuple(means.tolist()), run_deviations=tuple(np.sqrt(within).tolist()),
        n_repeats=n_repeats, n_days=n_days, n_runs=n_runs, confidence=confidence,
        method=found[0].method, cautions=_cautions(levels),
    )


def _level(square: float, df: int, found: VarianceInterval) -> Level:
    variance = max(found.value, 0.0)
    return Level(deviation=float(np.sqrt(square)), df=int(df), variance=variance,
                 low=max(found.low, 0.0), high=max(found.high, variance), raw=found.value)


def _cautions(levels: list[Level]) -> tuple[NestedCaution, ...]:
    pairs = ((any(level.raw < 0 for level in levels), NestedCaution.NEGATIVE_COMPONENT),
             (levels[2].df < 3, NestedCaution.FEW_RUNS))
    return tuple(caution for applies, caution in pairs if applies)


def _finite(name: str, values: npt.ArrayLike, dimensions: int) -> Floats:
    x = np.array(values, dtype=np.float64)
    if x.ndim != dimensions:
        raise ValueError(f"{name} has {x.ndim} dimensions; it must have {dimensions}")
    if not np.isfinite(x).all():
        raise ValueError(f"{name} is {x[~np.isfinite(x)][0]} somewhere; it must be finite")
    if min(x.shape[:2]) < 2:
        raise ValueError(f"{name} has shape {x.shape}; it needs 2 runs and 2 days or more")
    return x


def _check_days(average: Floats, deviation: Floats, n_repeats: int) -> None:
    if average.shape != deviation.shape:
        raise ValueError(f"daily_average has shape {average.shape} and daily_deviation "
                         f"{deviation.shape}; they must be the same")
    if (deviation < 0).any():
        raise ValueError(f"daily_deviation is {deviation.min():g}; allowed: numbers from 0")
    if n_repeats != int(n_repeats) or n_repeats < 2:
        raise ValueError(f"n_repeats is {n_repeats}; allowed: whole numbers from 2")
