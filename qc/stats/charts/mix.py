"""Shares and rates whose usual value differs from sample to sample: limits for the work done."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.charts.baselines import BaselineLike, BasePoints, base_points, neighbours
from qc.stats.charts.chart import FEW_POINTS, Caution, ControlChart, make_chart
from qc.stats.charts.counts import nonconforming
from qc.stats.charts.laney import sigma_z
from qc.stats.charts.probability_limits import (
    ALPHA,
    binomial_limits,
    poisson_limits,
    tail_chance,
)
from qc.stats.charts.rules import RuleSet, pattern_signals, rule_cautions, rule_set
from qc.stats.charts.shewhart_counts import ENOUGH_EXPECTED
from qc.stats.checks import (
    Floats,
    finite_array,
    given_amounts,
    positive,
    read_only,
    refuse_where,
    same_length,
    whole_array,
)

SOURCE = (
    "ISO 7870-2:2013, {} chart, each point about what its own mix of work gives; widened for more"
    " than chance variation after Laney (2002), Quality Engineering 14, 531-537"
)

ENOUGH_FOR_SPREAD = 8
"""Fewer samples cannot tell more than chance from chance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixLimits:
    """Lower and upper limit of each share, read-only; ``spread`` : widened by so much (1: not)."""

    lower: Floats
    upper: Floats
    spread: float


def mix_limits(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, usual: npt.ArrayLike, *,
    spread_of: npt.ArrayLike | None = None,
) -> MixLimits:
    """Limits of each sample's share about its own usual share.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected, one for each sample in time order
    n_inspected : whole pieces, 1 and up
    usual : share expected of each sample, 0..1, as its mix of work gives it
    spread_of : booleans, the samples whose variation widens the limits; None: all

    Raises
    ------
    ValueError
        A count is not whole or out of range, a share outside 0..1, or lengths differ.

    Notes
    -----
    u_i +- 3 s sqrt(u_i (1 - u_i) / n_i), cut at 0 and 1; s is sigma_z of the standardised shares
    where there are `ENOUGH_FOR_SPREAD`, but never below 1: a calm stretch is no reason to call the
    next ordinary day a change. Without variation in u_i these are p-prime limits.

    Source
    ------
    ISO 7870-2:2013, p chart, each sample with its own centre; Laney (2002), Quality Engineering
    14, 531-537.
    """
    d, n = nonconforming(n_defective, n_inspected)
    centre = finite_array("usual", usual)
    same_length("usual", centre, "n_inspected", n)
    refuse_where("usual", centre, (centre < 0) | (centre > 1), "shares, 0..1")
    sigma = np.sqrt(centre * (1 - centre) / n)
    judged = np.ones(len(d), dtype=bool) if spread_of is None else np.asarray(spread_of, dtype=bool)
    same_length("spread_of", judged, "n_inspected", n)
    standardised = ((d / n - centre) / np.where(sigma > 0, sigma, np.inf))[judged]
    spread = max(1.0, sigma_z(standardised)) if len(standardised) >= ENOUGH_FOR_SPREAD else 1.0
    reach = 3 * spread * sigma
    return MixLimits(
        lower=read_only(np.maximum(centre - reach, 0)),
        upper=read_only(np.minimum(centre + reach, 1)), spread=spread,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixChart(ControlChart):
    """A chart about a mix, with what its limits rest on.

    ``ratio`` : counted in the baseline over what the mix gives there. ``spread`` : how many times
    as wide as chance alone the limits are, 1 and up.
    """

    ratio: float
    spread: float


def mix_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, usual: npt.ArrayLike, *,
    per_unit: bool = False, ratio: float | None = None, spread: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", limits: str = "sigma",
    alpha: float = ALPHA,
) -> MixChart:
    """Shares (or defects for each piece) about what the mix of work of each sample gives.

    Parameters
    ----------
    n_defective : whole, 0 and up, one for each sample in time order; at most n_inspected unless
        ``per_unit``
    n_inspected : whole pieces, 1 and up
    usual : what the mix of each sample usually gives, 0 and up; at most 1 unless ``per_unit``
    per_unit : the counts are of defects, of which a piece can have several
    ratio : known level of this stream over what its mix gives, above 0, instead of the baseline's
    spread : known width in that of chance alone, above 0
    baseline : samples that ratio and spread come from, first and last or a `Baseline`; all
    rules : as `qc.stats.charts.rules.rule_set` takes them
    limits : ``sigma`` or ``probability``
    alpha : chance of a point beyond either limit, both together; for ``probability``

    Raises
    ------
    ValueError
        A count or a usual value is out of its range, lengths differ, nothing is expected in the
        baseline, or an option is out of range.

    Notes
    -----
    The centre of a point is ratio x usual. ``sigma``: its limits lie 3 spread sqrt(c (1 - c) / n)
    either side (sqrt(c / n) for defects). ``probability``: they lie spread times as far from it as
    the exact binomial (Poisson) limits of its own size and centre. Both are cut at what there can
    be. The ratio is counted over expected in
    the baseline; the spread is sigma_z of the baseline's scores where it has `ENOUGH_FOR_SPREAD`,
    never below 1. With one usual value for all this is the p-prime or u-prime chart, but never
    narrower than chance.

    Source
    ------
    ISO 7870-2:2013; Laney (2002), Quality Engineering 14, 531-537; expected counts: Breslow & Day
    (1987), Statistical Methods in Cancer Research II, section 2.2 (indirect standardisation).
    """
    d, n, u = _counted(n_defective, n_inspected, usual, per_unit)
    base, wanted = base_points(baseline, len(d)), rule_set(rules)
    level = _ratio(d, n, u, base) if ratio is None else positive("ratio", ratio)
    centre = level * u if per_unit else np.minimum(level * u, 1.0)
    sigma = np.sqrt(centre / n if per_unit else centre * (1 - centre) / n)
    with np.errstate(divide="ignore", invalid="ignore"):
        scores = np.where(sigma > 0, (d / n - centre) / sigma, 0.0)
    width = _spread(scores, base) if spread is None else positive("spread", spread)
    tail = tail_chance(limits, alpha)
    low, high = (3 * sigma, 3 * sigma) if tail is None else _tails(n, centre, per_unit, tail)
    chart = make_chart(
        "defects for each piece" if per_unit else "share of pieces", centre, d / n,
        np.maximum(centre - width * low, 0),
        np.minimum(centre + width * high, np.inf if per_unit else 1.0),
        patterns=_patterns(scores / width, wanted))
    known = ratio is not None and spread is not None
    return MixChart(
        kind="mix-u" if per_unit else "mix", sigma=width, charts=(chart,),
        source="; ".join(filter(None, (
            SOURCE.format("u" if per_unit else "p"),
            "limits from exact tails" if tail else "", wanted.source))),
        baseline=None if known else base.baseline, ratio=level, spread=width,
        cautions=_cautions(n * centre, base, level, known=known, normal=tail is None)
        + rule_cautions("mix", wanted),
    )


def _counted(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, usual: npt.ArrayLike, per_unit: bool
) -> tuple[Floats, Floats, Floats]:
    if per_unit:
        d, n = whole_array("n_defective", n_defective), given_amounts("n_inspected", n_inspected)
        same_length("n_defective", d, "n_inspected", n)
    else:
        d, n = nonconforming(n_defective, n_inspected)
    u = finite_array("usual", usual)
    same_length("usual", u, "n_inspected", n)
    refuse_where("usual", u, (u < 0) | (not per_unit) & (u > 1),
                 "numbers, 0 and up" if per_unit else "shares, 0..1")
    return np.asarray(d, dtype=np.float64), np.asarray(n, dtype=np.float64), u


def _ratio(d: Floats, n: Floats, u: Floats, base: BasePoints) -> float:
    expected = float((n[base.at] * u[base.at]).sum())
    if expected <= 0:
        raise ValueError("usual expects nothing in the baseline; there is nothing to compare with")
    return float(d[base.at].sum()) / expected


def _spread(scores: Floats, base: BasePoints) -> float:
    next_to = neighbours(base)
    pairs = next_to.stop - next_to.start if isinstance(next_to, slice) else len(next_to)
    if base.n < ENOUGH_FOR_SPREAD or pairs < 1:
        return 1.0
    return max(1.0, sigma_z(scores, base))


def _tails(n: Floats, centre: Floats, per_unit: bool, tail: float) -> tuple[Floats, Floats]:
    """How far below and above its centre the exact limits of each point lie, 0 and up."""
    band = poisson_limits(n * centre, tail=tail) if per_unit else binomial_limits(
        n, centre, tail=tail)
    return np.maximum(centre - band.lower / n, 0), np.maximum(band.upper / n - centre, 0)


def _patterns(z: Floats, rules: RuleSet) -> npt.NDArray[np.uint8] | None:
    return pattern_signals(z, rules) if rules.patterns else None


def _cautions(
    expected: Floats, base: BasePoints, ratio: float, *, known: bool, normal: bool
) -> tuple[Caution, ...]:
    found = []
    if not known and base.n < FEW_POINTS:
        found.append(Caution.TOO_FEW_POINTS)
    if ratio == 0:
        found.append(Caution.NOTHING_COUNTED)
    elif normal and 0 < float(expected.min()) < ENOUGH_EXPECTED:
        found.append(Caution.SMALL_COUNTS)
    return tuple(found)
