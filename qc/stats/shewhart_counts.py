"""Charts of counts: nonconforming pieces (p, np) and nonconformities (u, c), exact limits."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri

from qc.stats.baselines import BaselineLike, BasePoints, base_points
from qc.stats.charts import FEW_POINTS, Caution, ControlChart, make_chart
from qc.stats.checks import Floats, finite_array, refuse_where, same_length, whole_array
from qc.stats.rules import patterns_on, rule_set

SOURCE = "ISO 7870-2:2013, {} chart with the limits of each sample's own size"
_SURE = 0.001  # chance of calling ordinary counts too variable


def p_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Share of nonconforming pieces in samples of any size.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected, one for each sample
    n_inspected : whole pieces, 1 and up
    centre : known share, 0..1, instead of the pooled share of the baseline
    baseline : samples the centre comes from, first and last or a `Baseline`; all samples
    rules : name in `qc.stats.rules.RULE_SETS`

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, or an option is out of range.

    Notes
    -----
    p-bar +- 3 sqrt(p-bar (1 - p-bar) / n_i), cut at 0 and 1. Pieces must fail independently; a
    caution says when shares vary more than that allows.

    Source
    ------
    ISO 7870-2:2013, p chart. Checked against Montgomery & Runger, Example 16-4, and Ishikawa,
    Guide to Quality Control, pp. 77-79.
    """
    d, n = _defective(n_defective, n_inspected)
    base = base_points(baseline, len(d))
    middle = float(d[base.at].sum() / n[base.at].sum()) if centre is None else _known_share(centre)
    sigma = np.sqrt(middle * (1 - middle) / n)
    return _count_chart("p", "fraction nonconforming", d / n, sigma, centre=middle, most=1.0,
                        base=base, known=centre is not None, rules=rules)


def np_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Number of nonconforming pieces in samples of one size; as `p_chart`, times the size.

    ``centre`` is a known mean number a sample, 0..n.

    Raises
    ------
    ValueError
        As for `p_chart`, or sizes differ (one centre line would not fit them all).
    """
    d, n = _defective(n_defective, n_inspected)
    refuse_where("n_inspected", n, n != n[0], f"one size for all samples, as {n[0]:g} at the first;"
                 " use a p chart for unequal sizes")
    base = base_points(baseline, len(d))
    middle = float(d[base.at].mean()) if centre is None else float(centre)
    if not 0 <= middle <= n[0]:
        raise ValueError(f"centre is {middle:g}; it must be a number of pieces, 0..{n[0]:g}")
    sigma = np.sqrt(middle * (1 - middle / n))
    return _count_chart("np", "number nonconforming", d, sigma, centre=middle, most=float(n[0]),
                        base=base, known=centre is not None, rules=rules)


def u_chart(
    n_defects: npt.ArrayLike, n_units: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Nonconformities per unit in samples of any size.

    Parameters
    ----------
    n_defects : whole, 0 and up, one for each sample
    n_units : area of opportunity (pieces, metres, hours), above 0
    centre, baseline, rules : as for `p_chart`; the centre is 0 and up

    Raises
    ------
    ValueError
        A count is not whole, a size not above 0, lengths differ, or an option is out of range.

    Notes
    -----
    u-bar +- 3 sqrt(u-bar / n_i), cut at 0. Nonconformities must be rare and independent.

    Source
    ------
    ISO 7870-2:2013, u chart. Checked against Montgomery & Runger, Example 16-5, and Ishikawa,
    Guide to Quality Control, pp. 81-83.
    """
    c = whole_array("n_defects", n_defects)
    n = finite_array("n_units", n_units)
    same_length("n_defects", c, "n_units", n)
    refuse_where("n_units", n, n <= 0, "numbers above 0")
    base = base_points(baseline, len(c))
    middle = float(c[base.at].sum() / n[base.at].sum()) if centre is None else _known_rate(centre)
    return _count_chart("u", "nonconformities per unit", c / n, np.sqrt(middle / n), centre=middle,
                        most=np.inf, base=base, known=centre is not None, rules=rules)


def c_chart(
    n_defects: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Number of nonconformities in samples of one size; c-bar +- 3 sqrt(c-bar), cut at 0.

    Parameters, errors and source as for `u_chart`. Checked against NIST/SEMATECH e-Handbook,
    6.3.3.1.
    """
    c = whole_array("n_defects", n_defects)
    base = base_points(baseline, len(c))
    middle = float(c[base.at].mean()) if centre is None else _known_rate(centre)
    return _count_chart("c", "number of nonconformities", c, np.full(len(c), np.sqrt(middle)),
                        centre=middle, most=np.inf, base=base, known=centre is not None,
                        rules=rules)


def _count_chart(
    kind: str, name: str, value: Floats, sigma: Floats, *, centre: float, most: float,
    base: BasePoints, known: bool, rules: str,
) -> ControlChart:
    wanted = rule_set(rules)
    lower, upper = centre - 3 * sigma, centre + 3 * sigma
    np.maximum(lower, 0.0, out=lower)
    np.minimum(upper, most, out=upper)
    chart = make_chart(name, centre, value, lower, upper,
                       patterns=patterns_on(value, centre, sigma, wanted))
    return ControlChart(
        kind=kind, source="; ".join(filter(None, (SOURCE.format(kind), wanted.source))),
        sigma=None, charts=(chart,), baseline=None if known else base.baseline,
        cautions=_cautions(value[base.at], centre, sigma[base.at], known),
    )


def _cautions(value: Floats, centre: float, sigma: Floats, known: bool) -> tuple[Caution, ...]:
    found = []
    if not known and len(value) < FEW_POINTS:
        found.append(Caution.TOO_FEW_POINTS)
    if not sigma.any():
        found.append(Caution.NO_VARIATION if centre > 0 else Caution.NOTHING_COUNTED)
    elif _too_variable(value, centre, sigma, n_free=len(value) - (not known)):
        found.append(Caution.MORE_VARIATION)
    return tuple(found)


def _too_variable(value: Floats, centre: float, sigma: Floats, *, n_free: int) -> bool:
    # index of dispersion against chi-square (Cochran 1954, Biometrics 10, 417-451)
    if n_free < 1:
        return False
    z = value - centre
    z /= sigma
    return bool(z @ z > chdtri(n_free, _SURE))


def _defective(n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike) -> tuple[Floats, Floats]:
    d = whole_array("n_defective", n_defective)
    n = whole_array("n_inspected", n_inspected, low=1)
    same_length("n_defective", d, "n_inspected", n)
    refuse_where("n_defective", d, d > n, "0 to the number inspected")
    return d, n


def _known_share(centre: float) -> float:
    if not 0 <= centre <= 1:
        raise ValueError(f"centre is {centre:g}; it must be a share, 0..1")
    return float(centre)


def _known_rate(centre: float) -> float:
    if not (np.isfinite(centre) and centre >= 0):
        raise ValueError(f"centre is {centre:g}; it must be a finite number, 0 and up")
    return float(centre)
