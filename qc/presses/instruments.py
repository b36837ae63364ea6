"""What is wrong with the instruments that some readings name: said when the readings come in."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pandas as pd

from qc.domain.instants import from_us


def instrument_cautions(
    readings: pd.DataFrame, instruments: pd.DataFrame, zone: ZoneInfo
) -> tuple[str, ...]:
    """One sentence for each instrument that is unknown or was out of date, and for rows of none.

    ``readings`` has the columns measured_at and instrument, ``instruments`` those of its record
    kind, both in stored units; of several versions of an instrument the last row counts.
    """
    said = []
    if nameless := int(readings["instrument"].isna().sum()):
        said.append(f"{_rows(nameless)} no instrument: how well it was measured is not known")
    due = instruments.drop_duplicates("instrument", keep="last").set_index("instrument")["due_at"]
    for name, at_us in readings.groupby("instrument", sort=True)["measured_at"]:
        if name not in due.index:
            said.append(f"{_rows(len(at_us))} {name}, which is not on the list of instruments:"
                        " load it, with its calibration, as kind instruments")
        elif late := int((at_us > due[name]).sum()):  # never later than a date that is not known
            day = from_us(int(due[name]), zone).strftime("%d %b %Y")
            said.append(f"{_rows(late)} {name}, measured after it was due for calibration on {day}:"
                        " calibrate it first, then measure again")
    return tuple(said)


def _rows(n: int) -> str:
    return "1 row names" if n == 1 else f"{n:,} rows name"
