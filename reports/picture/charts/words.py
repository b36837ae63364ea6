"""Wording of the pictures of charts. Plain trade words; no sentence here computes anything."""

from __future__ import annotations

from qc.desk.charting import ChartRequest
from reports.picture.ticks import grouped
from reports.picture.words import quantity

KIND_WORDS = {
    "individuals": "Individuals and moving range", "xbar-r": "Means and ranges of subgroups",
    "xbar-s": "Means and standard deviations of subgroups", "p": "Share nonconforming (p)",
    "np": "Number nonconforming (np)", "c": "Number of defects (c)",
    "u": "Defects per unit (u)", "p-prime": "Share nonconforming, with the usual scatter (p')",
    "u-prime": "Defects per unit, with the usual scatter (u')",
    "g": "Units between events (g)", "t": "Time between events (t)",
    "ewma": "Weighted moving average (EWMA)", "cusum": "Cumulative sums (CUSUM)",
    "mix": "Share, about the mix of work", "mix-u": "Defects a piece, about the mix of work",
    "t2": "Several values at once (T²)", "mewma": "Several moving averages at once (MEWMA)",
    "deviation": "Deviation from nominal", "standardised": "Standardised values, many parts",
    "q": "Q statistics of values, no history needed",
    "q-p": "Q statistics of shares, no history needed",
    "q-u": "Q statistics of rates, no history needed",
}
UNITLESS_KINDS = ("t2", "mewma", "standardised", "q", "q-p", "q-u")
MIX_KINDS = ("mix", "mix-u")
SHARE_KINDS = ("p", "p-prime", "mix")
OUTSIDE = "outside the limits"
POINT_WORDS = {"subgroup": "subgroup", "row": "row"}
CALM = "No point signals a change."
BAND = "within the limits"
BAND_VARYING = "within the limits, which differ from point to point"
CENTRE = "centre"
BASELINE_ALL = "limits come from all {n} points"
BASELINE_PART = "limits come from points {first} to {last}"
BASELINE_BEFORE = "each point is judged by those before it"
BASELINE_GIVEN = "centre and spread were given, not estimated from these points"
BASELINE_USUAL = "centre: what the shop's usual rates give the work of each point"
BASELINE_MARK = "limits from here"
LEFT_OUT = "left out of the limits: {points}"
CHANGE_AT = "the change most likely began at {at}"
CHANGE_SURE = "the change most likely began at {at} (90 % sure)"
CHANGE = "the change most likely began at {at} (90 % between {first} and {last})"
CROWDED = "so many points that they share columns: the span of those in each"
CROWDED_HALF = "the middle half of the points in each column"
LOWER, UPPER, SAYS = "lower limit", "upper limit", "what it says"
CENTRE_IS = "Centre {centre}."
NOT_ALL_ROWS = (
    "{rows} of {n} points, {marked} of them points that signal; qc chart --json has all points."
)
DATA = "Data: {file}, {columns}; {n} points."


def charted(request: ChartRequest) -> tuple[str, str]:
    """What is charted, as a title, and its unit (may be empty)."""
    if request.count is None:
        columns = request.values or (request.value or "",)
        names, units = zip(*map(quantity, columns), strict=True)
        return ", ".join(names), units[0]
    count, size = quantity(request.count)[0], quantity(request.size or "")[0]
    if not size or request.kind == "np":
        return count, ""
    return f"{count} {'of' if 'p' in request.kind else 'per'} {size}", ""


def verdict(n: int, n_points: int, first: str) -> str:
    """What the chart says, in one sentence."""
    if n == 0:
        return CALM
    if n == 1:
        return f"One of {grouped(n_points, 0)} points signals a change: {first}."
    return (f"{grouped(n, 0)} of {grouped(n_points, 0)} points signal a change, the first at"
            f" {first}.")
