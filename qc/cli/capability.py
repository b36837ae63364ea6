"""`qc capability`: does a measured characteristic keep its limits? No store needed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli.shared import Json, answer, say

if TYPE_CHECKING:
    from qc.stats.capability import Capability
    from qc.stats.indices import Index

INDICES = ("cp", "cpk", "pp", "ppk", "cpm")


def register(app: typer.Typer) -> None:
    """Add `qc capability`."""
    app.command("capability")(capability)


def _text_option(name: str, words: str, metavar: str) -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def capability(
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or XLSX.")],
    value: Annotated[str, _text_option("--value", "Measured value.", "COLUMN")],
    lower: Annotated[str | None, _text_option("--lower", "Lower limit.", "X")] = None,
    upper: Annotated[str | None, _text_option("--upper", "Upper limit.", "X")] = None,
    target: Annotated[str | None, _text_option("--target", "Value aimed at.", "X")] = None,
    subgroup: Annotated[str | None, _text_option(
        "--subgroup", "Subgroup of each value.", "COLUMN")] = None,
    confidence: Annotated[float, typer.Option(help="Confidence of each interval.")] = 0.95,
    distribution: Annotated[str | None, _text_option(
        "--distribution", "Shape of the values instead of the stated rule.", "NAME")] = None,
    sheet: Annotated[str | None, _text_option("--sheet", "Sheet of an XLSX.", "NAME")] = None,
    as_json: Json = False,
) -> None:
    """Capability and performance of a measured value: indices, intervals, share outside."""
    from qc.desk.capability import CapabilityRequest, capability_of_file, parse_numbers

    def number(option: str, text: str | None) -> float | None:
        numbers = parse_numbers(option, text, 1)
        return None if numbers is None else numbers[0]

    result = capability_of_file(file, CapabilityRequest(
        value=value, lower=number("lower", lower), upper=number("upper", upper),
        target=number("target", target), subgroup=subgroup, confidence=confidence,
        distribution=distribution, sheet=sheet,
    ))
    if as_json:
        for caution in result.cautions:
            say(f"note: {caution.value}")
    from qc.cli.capability_text import print_capability

    answer(result, as_json=as_json, to_json=_json,
           to_text=lambda result, console: print_capability(value, result, console))


def _json(result: Capability) -> dict[str, Any]:
    indices = {name: getattr(result, name) for name in INDICES}
    return {
        "n": result.n, "mean": result.mean, "sigma_inherent": result.inherent.sigma,
        "sigma_total": result.total.sigma,
        **{name: None if index is None else index.value for name, index in indices.items()},
        "intervals": {name: _ends(index) for name, index in indices.items()},
        "normality": {
            "test": result.normality.test, "statistic": result.normality.statistic,
            "p_value": result.normality.p_value,
            "p_value_ties_spread": result.normality.p_value_spread,
        },
        "percentile": _percentile(result),
        "share_outside_fitted": result.share_outside_fitted,
        "share_outside_counted": result.outside.share,
        "share_outside_counted_interval": [result.outside.low, result.outside.high],
        "confidence": result.confidence, "source": result.source,
        "methods": _methods(result),
        "cautions": [caution.value for caution in result.cautions],
    }


def _ends(index: Index | None) -> list[float] | None:
    return None if index is None else [index.low, index.high]


def _percentile(result: Capability) -> dict[str, Any]:
    if result.percentile is None or result.fit is None:
        return {"pp": None, "ppk": None, "distribution": None, "parameters": None,
                "points": None}
    found = result.percentile
    return {"pp": found.pp, "ppk": found.ppk, "distribution": found.distribution,
            "parameters": result.fit.parameters,
            "points": {"0.135": found.low, "50": found.median, "99.865": found.high}}


def _methods(result: Capability) -> dict[str, Any]:
    return {
        "sigma_inherent": result.inherent.method, "sigma_total": result.total.method,
        "degrees_of_freedom": {"sigma_inherent": result.inherent.df,
                               "sigma_total": result.total.df},
        "intervals": {name: None if (index := getattr(result, name)) is None else index.method
                      for name in INDICES},
        "distribution": result.shape_by, "share_outside_counted": result.outside.method,
    }
