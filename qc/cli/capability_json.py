"""The JSON of `qc capability`: first the keys there were from the start, then what came later."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from qc.stats.capability.bivariate import BivariateCapability
    from qc.stats.capability.indices import Index
    from qc.stats.capability.normality import Normality
    from qc.stats.capability.study import Capability

INDICES = ("cp", "cpk", "pp", "ppk", "cpm")


def single_json(result: Capability) -> dict[str, Any]:
    """One characteristic."""
    indices = {name: getattr(result, name) for name in INDICES}
    return {
        "n": result.n, "mean": result.mean, "sigma_inherent": result.inherent.sigma,
        "sigma_total": result.total.sigma,
        **{name: None if index is None else index.value for name, index in indices.items()},
        "intervals": {name: _ends(index) for name, index in indices.items()},
        "normality": _normality(result.normality),
        "percentile": _percentile(result),
        "share_outside_fitted": result.share_outside_fitted,
        "share_outside_counted": result.outside.share,
        "share_outside_fitted_interval": None if (
            found := result.percentile_intervals) is None else found.share_outside,
        "share_outside_counted_interval": [result.outside.low, result.outside.high],
        "confidence": result.confidence, "source": result.source, "methods": _methods(result),
        "cautions": [caution.value for caution in result.cautions],
    }


def together_json(result: BivariateCapability) -> dict[str, Any]:
    """Two characteristics judged together."""
    fitted, ellipse, outside = result.fitted, result.ellipse, result.outside
    return {
        "n": result.n, "mean": result.normal.mean, "sigma": result.normal.sigma,
        "correlation": result.normal.correlation,
        "share_inside_fitted": None if fitted is None else 1 - fitted.share,
        "share_inside_counted": 1 - outside.share,
        "share_outside_fitted": None if fitted is None else fitted.share,
        "share_outside_counted": outside.share,
        "intervals": {
            "share_outside_fitted": None if fitted is None else [fitted.low, fitted.high],
            "share_outside_counted": [outside.low, outside.high],
            "equivalent_index": _ends(result.equivalent),
        },
        "equivalent_index": None if result.equivalent is None else result.equivalent.value,
        "contour": {"pp": result.contour_p, "ppk": result.contour_pk},
        "ellipse": None if ellipse is None else {
            "centre": ellipse.centre, "half_long": ellipse.half_long,
            "half_short": ellipse.half_short, "angle_deg": ellipse.angle_deg,
            "content": ellipse.content},
        "normality": [_normality(one) for one in result.normality],
        "confidence": result.confidence, "source": result.source,
        "methods": {"share_outside_fitted": None if fitted is None else fitted.method,
                    "share_outside_counted": outside.method},
        "cautions": [caution.value for caution in result.cautions],
    }


def _ends(index: Index | None) -> list[float] | None:
    return None if index is None else [index.low, index.high]


def _normality(found: Normality) -> dict[str, Any]:
    return {"test": found.test, "statistic": found.statistic, "p_value": found.p_value,
            "p_value_ties_spread": found.p_value_spread}


def _percentile(result: Capability) -> dict[str, Any]:
    found, ends = result.percentile, result.percentile_intervals
    if found is None or result.fit is None:
        return dict.fromkeys(
            ("pp", "ppk", "distribution", "parameters", "points", "intervals", "a_squared"))
    return {"pp": found.pp, "ppk": found.ppk, "distribution": found.distribution,
            "parameters": result.fit.parameters,
            "points": {"0.135": found.low, "50": found.median, "99.865": found.high},
            "intervals": None if ends is None else {
                "pp": None if math.isnan(found.pp) else ends.pp, "ppk": ends.ppk},
            "a_squared": result.fit.a_squared}


def _methods(result: Capability) -> dict[str, Any]:
    indices = {name: getattr(result, name) for name in INDICES}
    return {
        "sigma_inherent": result.inherent.method, "sigma_total": result.total.method,
        "degrees_of_freedom": {"sigma_inherent": result.inherent.df,
                               "sigma_total": result.total.df},
        "intervals": {name: None if index is None else index.method
                      for name, index in indices.items()},
        "distribution": result.shape_by,
        "percentile_intervals": None if (
            found := result.percentile_intervals) is None else found.method,
        "share_outside_counted": result.outside.method,
    }
