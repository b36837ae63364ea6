"""Coarser tallies, each a sum of an hourly one: by the shop's day, and by mix of work alone.

They change by the same differences in the same transaction, so they are always the sums they say.
A page that shows weeks reads days, and the usual rates of the whole history are one row for each
mix of work, however long that history is.
"""

from __future__ import annotations

from collections.abc import Mapping
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from sqlalchemy import Connection, delete, select

from qc.config import setting, zone_of
from qc.domain.days import day_starts
from qc.store.frames import read_frame
from qc.store.schema import TALLIES, settings
from qc.store.summing import Tally, add_tally, summed
from qc.store.words import Words

Ints = npt.NDArray[np.int64]

DAILY = {"day_tally": "piece_tally", "day_defect_tally": "defect_tally"}
"""Tallies by the shop's day, and the hourly ones they are sums of."""
PARTS = ("pieces", "defective", "defects", "zones")
"""What the rows of `mix_tally` count."""


def shop_zone(connection: Connection) -> ZoneInfo:
    """The zone the shop's days begin in."""
    kept = connection.scalar(select(settings.c.value).where(settings.c.name == "timezone"))
    return zone_of(kept or setting("timezone").default)


def with_coarser(
    hourly: Mapping[str, Tally], words: Words, zone: ZoneInfo, *, keep: bool
) -> dict[str, Tally]:
    """Hourly tallies (or differences of them) with the coarser ones that are their sums."""
    words.learn([*PARTS, "zone"], keep=keep)
    daily = {name: _by_day(hourly[source], zone) for name, source in DAILY.items()}
    return {**hourly, **daily, "mix_tally": _by_mix(hourly, words)}


def _by_day(tally: Tally, zone: ZoneInfo) -> Tally:
    hour, _press, fabric, transfer, location, *which = tally.keys.T  # look, and kind of defect
    keys = [*which, day_starts(hour, zone), fabric, transfer, location]
    return summed([(keys, list(tally.values.T))])


def _by_mix(hourly: Mapping[str, Tally], words: Words) -> Tally:
    number = words.numbers
    pieces, defects, factors = (hourly[name] for name in
                                ("piece_tally", "defect_tally", "factor_tally"))
    cell = list(pieces.keys[:, 2:].T)  # fabric, transfer, location, look
    nothing = np.zeros(len(pieces.keys), dtype=np.int64)
    at = factors.keys[:, 0] == number["zone"]
    _factor, _hour, zone, *zoned, kind = factors.keys[at].T
    no_zone = np.zeros(len(defects.keys), dtype=np.int64)

    def part(name: str, rows: int) -> Ints:
        return np.full(rows, number[name], dtype=np.int64)

    return summed([
        ([part("pieces", len(nothing)), *cell, nothing, nothing], [pieces.values[:, 0]]),
        ([part("defective", len(nothing)), *cell, nothing, nothing], [pieces.values[:, 1]]),
        ([part("defects", len(no_zone)), *defects.keys[:, 2:].T, no_zone],
         [defects.values[:, 0]]),
        ([part("zones", int(at.sum())), *zoned, kind, zone], [factors.values[at][:, 0]]),
    ])


def recount_days(connection: Connection, zone: ZoneInfo) -> None:
    """Sum the tallies by day anew from the hourly ones: the shop's days begin elsewhere now."""
    for name, source in DAILY.items():
        connection.execute(delete(TALLIES[name]))
        table = TALLIES[source]
        rows = read_frame(connection, select(table)).to_numpy(dtype=np.int64)
        n_keys = len(table.primary_key.columns)
        hourly = Tally(keys=rows[:, :n_keys], values=rows[:, n_keys:])
        add_tally(connection, TALLIES[name], _by_day(hourly, zone))


