"""Freezing the limits of a stream: from then on they count, and what they rest on is kept."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from qc.desk.shop import Shop
from qc.desk.stream_charts.chart import Asked, StreamChart, stream_chart
from qc.desk.stream_charts.making import known_of
from qc.domain.stream_baselines import StreamBaseline
from qc.errors import InputError
from qc.store.stream_baselines import freeze_stream


def freeze_limits(
    shop: Shop, asked: Asked, *, since_us: int | None, by: str, why: str, at_us: int
) -> StreamBaseline:
    """Freeze the limits a chart has now, for the points that come after.

    ``asked`` : as the chart was asked for; its stretch and kind are to be given.

    Raises
    ------
    InputError
        Nobody or no reason is named, or there are no limits to freeze.
    """
    found = stream_chart(shop, replace(asked, frozen=0), as_of_us=at_us, since_us=since_us)
    if found.chart is None or found.stretch is None:
        raise InputError(f"there are no limits to freeze: {' '.join(found.missing)}".strip())
    start, end = period_of(found)
    return freeze_stream(
        shop.store, stream=found.stream.key, kind=found.kind, period_us=(start, end), why=why,
        known=known_of(found.chart, found.points), evidence=evidence_of(found), by=by, at_us=at_us)


def period_of(found: StreamChart) -> tuple[int, int]:
    """From the start of the first point limits come from to the end of the last."""
    if found.stretch is None:
        raise InputError("there are no limits here, so nothing they come from")
    points, stretch = found.points, found.stretch
    return int(points.start_us[stretch.first - 1]), int(points.end_us[stretch.last - 1])


def evidence_of(found: StreamChart) -> dict[str, Any]:
    """The figures a decision rests on, as JSON can hold them."""
    if found.stretch is None or found.judgement is None:
        raise InputError("there are no limits here that were judged")
    stretch, judged, points = found.stretch, found.judgement, found.points
    at = slice(stretch.first - 1, stretch.last)
    return {
        "n_points": stretch.n, "n": int(points.n[at].sum()), "by": stretch.by,
        "against": list(judged.against), "fit": judged.fit,
        "flags_looked_at": found.asked.aside is not None,
        "signals_us": [int(points.start_us[k - 1]) for k in judged.signals],
        "excluded": [{"key": points.key(one.at), "start_us": int(points.start_us[one.at - 1]),
                      "cause": one.reason} for one in stretch.excluded],
    }
