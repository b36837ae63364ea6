"""What is said of the instruments that readings name."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pandas as pd

from qc.domain.instants import DAY_US
from qc.presses.instruments import instrument_cautions
from tests.qc.presses.made import T0, instruments

ZONE = ZoneInfo("Asia/Tokyo")


def said_of(*rows: tuple[str | None, float]) -> tuple[str, ...]:
    """Cautions for readings by (instrument, day), against a list of K1 (due on day 10) and K2."""
    frame = pd.DataFrame(
        [(name, T0 + round(day * DAY_US)) for name, day in rows],
        columns=["instrument", "measured_at"])
    older = instruments(due_day=3)
    open_end = instruments(due_day=None).assign(instrument="K2")
    return instrument_cautions(frame, pd.concat([older, open_end, instruments(due_day=10)]), ZONE)


def test_readings_in_date_are_not_remarked_on() -> None:
    assert said_of(("K1", 1), ("K1", 9.9), ("K2", 500)) == ()


def test_what_was_measured_out_of_date_is_said_with_the_date_and_what_to_do() -> None:
    one, = said_of(("K1", 1), ("K1", 10.5), ("K1", 11))
    day = pd.Timestamp(T0 + 10 * DAY_US, unit="us", tz="UTC").tz_convert(ZONE).strftime("%d %b %Y")
    assert one == (f"2 rows name K1, measured after it was due for calibration on {day}:"
                   " calibrate it first, then measure again")


def test_unknown_and_nameless_instruments_are_said() -> None:
    assert said_of((None, 1), ("K9", 1), (None, 2)) == (
        "2 rows name no instrument: how well it was measured is not known",
        "1 row names K9, which is not on the list of instruments: load it, with its calibration,"
        " as kind instruments",
    )
