"""What `qc capability` says to people: a short table, what it means, and what to beware of."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from qc.desk.capability import INDEX_WORDS

if TYPE_CHECKING:
    from qc.stats.capability.bivariate import BivariateCapability
    from qc.stats.capability.bivariate_normal import Circle, Rectangle
    from qc.stats.capability.indices import Index
    from qc.stats.capability.specification import Specification
    from qc.stats.capability.study import Capability
    from qc.stats.comparing.intervals import ShareInterval

WORTH_MOVING = 0.1
"""What centring must gain in ppk to be worth a line."""

USUAL_WISH = "An index of 1 leaves 3 sigma to the limit; 1.33 is often asked for (common practice)."


def print_single(column: str, result: Capability, console: Console) -> None:
    """One characteristic."""
    console.print(_headline(column, result), highlight=False)
    console.print(_table(result))
    for line in meaning(result):
        console.print(line, highlight=False)
    _print_end(result, console)


def print_together(
    columns: tuple[str, str], result: BivariateCapability, console: Console
) -> None:
    """Two characteristics judged together."""
    normal = result.normal
    console.print(f"[bold]{escape(' and '.join(columns))}[/bold]: {result.n} placements",
                  highlight=False)
    table = Table(box=None, pad_edge=False)
    for heading in ("", "mean", "sigma", "Anderson-Darling p"):
        table.add_column(heading, justify="right" if heading else "left")
    for k, name in enumerate(columns):
        p_value = result.normality[k].p_value
        table.add_row(escape(name), f"{normal.mean[k]:.4g}", f"{normal.sigma[k]:.4g}",
                      "" if math.isnan(p_value) else f"{p_value:.3g}")
    console.print(table)
    for line in _together(result):
        console.print(line, highlight=False)
    _print_end(result, console)


def _together(result: BivariateCapability) -> list[str]:
    lines = [f"Must lie in {_region(result.region)}."]
    fitted, ellipse, index = result.fitted, result.ellipse, result.equivalent
    if fitted is not None:
        lines.append(f"{per_cent(fitted.share)} are expected outside ({per_cent(fitted.low)} to"
                     f" {per_cent(fitted.high)}).")
    lines.append(f"{_counted(result.outside, result.n)}.")
    if index is not None:
        lines.append(f"As much as one direction with a cp of {index.value:.2f} would have outside"
                     f" ({index.low:.2f} to {index.high:.2f}).")
    if ellipse is not None:
        lines.append(f"{100 * ellipse.content:g} % lie in an ellipse {2 * ellipse.half_long:.4g} by"
                     f" {2 * ellipse.half_short:.4g}, its long axis {abs(ellipse.angle_deg):.0f}"
                     f" degrees {'from' if ellipse.angle_deg >= 0 else 'back from'} +x to +y.")
    return lines


def _region(region: Rectangle | Circle) -> str:
    from qc.stats.capability.bivariate_normal import Circle

    if isinstance(region, Circle):
        x, y = region.centre
        return f"a circle of radius {region.radius:.6g} around {x:.6g}, {y:.6g}"
    return f"a rectangle, x {_limits(region.x)}, y {_limits(region.y)}"


def _limits(side: Specification) -> str:
    if side.two_sided:
        return f"{side.lower:.6g} to {side.upper:.6g}"
    return f"from {side.lower:.6g}" if side.upper is None else f"up to {side.upper:.6g}"


def _print_end(result: Capability | BivariateCapability, console: Console) -> None:
    for caution in result.cautions:
        console.print(f"[bold]beware:[/bold] {caution.value}", highlight=False)
    console.print(f"source: {result.source}", style="dim", highlight=False)


def meaning(result: Capability) -> list[str]:
    """Sentences on what the numbers say."""
    lines = [USUAL_WISH] if result.ppk is not None else []
    lines += _nearer(result) + _not_shown(result) + _centring(result) + _outside(result)
    if result.fit is not None:
        lines.append(_shape(result))
    return lines


def _headline(column: str, result: Capability) -> str:
    limits = result.specification
    parts = [f"{name} {value:.6g}" for name, value in (
        ("lower limit", limits.lower), ("upper limit", limits.upper), ("target", limits.target),
    ) if value is not None]
    return (f"[bold]{escape(column)}[/bold]: {result.n} values, mean {result.mean:.6g}, sigma"
            f" {result.total.sigma:.4g} ({_inherent(result)})\n{', '.join(parts)}")


def _inherent(result: Capability) -> str:
    within = "between neighbours" if result.inherent.method.startswith("moving") else (
        "within subgroups")
    return f"{result.inherent.sigma:.4g} {within}"


def _table(result: Capability) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("index")
    table.add_column("value", justify="right")
    table.add_column(f"{100 * result.confidence:g} % interval", justify="right")
    table.add_column("what the process does against its limits")
    for name, words in INDEX_WORDS.items():
        index: Index | None = getattr(result, name)
        if index is not None:
            table.add_row(name, f"{index.value:.3f}", f"{index.low:.3f} to {index.high:.3f}", words)
    if result.percentile is not None and not _normal(result):
        ends = result.percentile_intervals
        table.add_row("ppk", f"{result.percentile.ppk:.3f}", "" if ends is None else
                      f"{ends.ppk[0]:.3f} to {ends.ppk[1]:.3f}",
                      f"as it was, by percentiles ({result.percentile.distribution})")
    return table


def _nearer(result: Capability) -> list[str]:
    if result.ppk is None or result.percentile is None:
        return []
    low, high = result.specification.ends
    by = result.percentile
    is_lower = math.isnan(by.upper) or by.lower < by.upper
    limit = f"The {'lower' if is_lower else 'upper'} limit, {low if is_lower else high:.6g},"
    if not _normal(result):
        return [f"{limit} is the nearer one, by percentiles."]
    sigmas = 3 * result.ppk.value
    side = "from the mean" if sigmas >= 0 else "on the wrong side of the mean"
    return [f"{limit} is the nearer one: {abs(sigmas):.2f} sigma {side}."]


def _not_shown(result: Capability) -> list[str]:
    if result.ppk is None or not _normal(result) or not result.ppk.low < 1 <= result.ppk.value:
        return []
    return [f"The interval of ppk begins at {result.ppk.low:.2f}: that the process keeps 3 sigma"
            " to its limits is not shown."]


def _centring(result: Capability) -> list[str]:
    if result.pp is None or result.ppk is None or not _normal(result):
        return []
    if result.pp.value - result.ppk.value < WORTH_MOVING:
        return []
    low, high = result.specification.ends
    return [f"Moving the mean to the middle, {(low + high) / 2:.6g}, would raise ppk from"
            f" {result.ppk.value:.2f} to {result.pp.value:.2f}."]


def _normal(result: Capability) -> bool:
    return result.fit is not None and result.fit.name == "normal"


def _outside(result: Capability) -> list[str]:
    counted = f"{_counted(result.outside, result.n)}."
    if math.isnan(result.share_outside_fitted):
        return [counted]
    ends = result.percentile_intervals
    around = "" if ends is None else " ({} to {})".format(*map(per_cent, ends.share_outside))
    return [f"{per_cent(result.share_outside_fitted)} are expected outside{around}.", counted]


def _counted(outside: ShareInterval, n: int) -> str:
    return (f"{int(outside.n_defective)} of {n} were counted outside"
            f" ({per_cent(outside.low)} to {per_cent(outside.high)})")


def _shape(result: Capability) -> str:
    p_value, name = result.normality.p_value, result.fit.name if result.fit else ""
    told = "" if math.isnan(p_value) else f" (normality: Anderson-Darling p {p_value:.3g})"
    return f"Expected by a {name} distribution{told}."


def per_cent(share: float) -> str:
    """A share as people read it; very small ones in pieces per million."""
    if 0 < share < 1e-4:
        return f"{1e6 * share:.3g} per million"
    return f"{100 * share:.3g} %"
