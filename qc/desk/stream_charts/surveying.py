"""Streams of a press itself: its platens survey by survey, its timers and gauges check by check."""

from __future__ import annotations

import numpy as np

from qc.desk.shop import Shop
from qc.desk.stream_charts.measuring import scale_of, unit_of
from qc.desk.stream_charts.points import Floats, Ints, ValuePoints
from qc.domain.streams import Stream
from qc.presses.checks import round_numbers
from qc.presses.surveys import surveys_of
from qc.store.records import distinct_of, read_records

NEWEST = 12_000
"""Readings of surveys, and checks, that are gone through for what can be chosen: those of years."""


def survey_points(
    shop: Shop, stream: Stream, *, as_of_us: int, since_us: int | None
) -> ValuePoints:
    """Mean error or spread of a platen, one point for each survey with enough probed points.

    Surveys as left begin a new level on purpose; they are points as the others are, named by
    their state.
    """
    readings = read_records(shop.store, "platen_readings", as_of_us=as_of_us)
    found = surveys_of(readings, as_of_us=as_of_us).get((stream.level, stream.platen), [])
    kept = [one for one in found if not one.partial and one.at_us >= (since_us or 0)]
    value = np.array([one.offset_c if stream.of == "offset_c" else one.spread_c for one in kept],
                     dtype=np.float64)
    return _single(
        shop, stream, np.array([one.at_us for one in kept], dtype=np.int64), value,
        labels=tuple(f"{one.survey_id} ({one.state.replace('_', ' ')})" for one in kept),
        n=np.array([one.n_points for one in kept], dtype=np.int64),
        left_out=sum(one.partial for one in found),
    )


def check_points(
    shop: Shop, stream: Stream, *, as_of_us: int, since_us: int | None
) -> ValuePoints:
    """Mean of measured less set, one point for each round of checks."""
    checks = read_records(shop.store, "machine_checks", as_of_us=as_of_us)
    mine = checks[(checks["press"] == stream.level) & (checks["quantity"] == stream.of)
                  & checks["measured_value"].notna() & checks["set_value"].notna()
                  & (checks["measured_at"] >= (since_us or 0))]
    mine = mine.sort_values("measured_at", kind="stable")
    rounds = [rows for _, rows in mine.groupby(round_numbers(mine))] if len(mine) else []
    value = np.array([float((one["measured_value"] - one["set_value"]).mean()) for one in rounds],
                     dtype=np.float64)
    at_us = np.array([int(one["measured_at"].min()) for one in rounds], dtype=np.int64)
    return _single(
        shop, stream, at_us, value,
        labels=(), n=np.array([len(one) for one in rounds], dtype=np.int64), left_out=0,
    )


def platens_of(shop: Shop, *, as_of_us: int) -> tuple[tuple[str, str], ...]:
    """Press and platen of the newest surveys, the points of years."""
    return tuple((press, platen) for press, platen in distinct_of(
        shop.store, "platen_readings", ("press", "platen"), at_most=NEWEST, as_of_us=as_of_us))


def checked_of(shop: Shop, *, as_of_us: int) -> tuple[tuple[str, str], ...]:
    """Press and quantity of the newest checks."""
    return tuple((press, quantity) for press, quantity in distinct_of(
        shop.store, "machine_checks", ("press", "quantity"), at_most=NEWEST, as_of_us=as_of_us))


def _single(
    shop: Shop, stream: Stream, at_us: Ints, value: Floats, *, labels: tuple[str, ...], n: Ints,
    left_out: int,
) -> ValuePoints:
    rows = value.reshape(-1, 1)
    measure = "temperature_c" if stream.subject == "platen" else stream.of
    return ValuePoints(stream=stream, start_us=at_us, end_us=at_us + 1, n=n, labels=labels,
                       value=rows, rows=rows, point_of=np.arange(len(rows)), left_out=left_out,
                       units=(unit_of(shop, measure),), scales=(scale_of(shop, measure),))
