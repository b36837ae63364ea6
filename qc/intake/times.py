"""Times from text, a whole column at once: ISO 8601, without an offset in the shop's zone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.instants import iso, parse_instant
from qc.errors import InputError
from qc.intake.table import object_array
from qc.intake.texts import quoted

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

NO_TIME = np.iinfo(np.int64).min
EARLIEST_US = 315_532_800_000_000
"""1980-01-01 UTC. Before it a time is a slip: spreadsheets show an empty date as 1900."""
AHEAD_US = 300_000_000
"""Clocks differ; a time further ahead than this is a slip."""
_START = re.compile(r"\d{4}-\d\d-\d\d|\d{8}T")


@dataclass(frozen=True, slots=True, eq=False)
class Times:
    """Microseconds UTC of each text (`NO_TIME` where there is none), and what is wrong with it."""

    us: Ints
    messages: list[str | None]


def times_of(name: str, texts: list[str], *, zone: ZoneInfo, latest_us: int | None) -> Times:
    """Read each text; blank ones have neither a time nor a message."""
    sound = np.array([bool(_START.match(text)) for text in texts], dtype=bool)
    us = np.full(len(texts), NO_TIME, dtype=np.int64)
    at = np.flatnonzero(sound)
    us[at] = _parsed([texts[n] for n in at.tolist()], zone)
    messages: list[str | None] = [None] * len(texts)
    late = (us > latest_us) if latest_us is not None else np.zeros(len(us), dtype=bool)
    doubtful = (us == NO_TIME) | (us < EARLIEST_US) | late
    for n in np.flatnonzero(doubtful).tolist():
        if texts[n]:
            messages[n] = f"{name} {_why(texts[n], int(us[n]), zone, latest_us)}"
    return Times(us, messages)


def _parsed(texts: list[str], zone: ZoneInfo) -> Ints:
    """Microseconds of texts that look like times; `NO_TIME` where one is none after all."""
    exact = np.array([_has_offset(text) for text in texts], dtype=bool)
    cells = pd.Series(object_array(texts))
    us = np.full(len(texts), NO_TIME, dtype=np.int64)
    if exact.any():
        us[exact] = _microseconds(
            pd.to_datetime(cells[exact], format="ISO8601", errors="coerce", utc=True))
    if not exact.all():
        wall = pd.to_datetime(cells[~exact], format="ISO8601", errors="coerce")
        local = wall.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
        us[~exact] = _microseconds(local)
    return us


def _has_offset(text: str) -> bool:
    clock = text[9:]
    return "+" in clock or "Z" in clock or "z" in clock or "-" in clock[2:]


def _microseconds(moments: pd.Series) -> Ints:
    plain = moments.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy()
    us = plain.astype("datetime64[us]").astype(np.int64)
    us[np.isnat(plain)] = NO_TIME
    return us


def _why(text: str, us: int, zone: ZoneInfo, latest_us: int | None) -> str:
    if us == NO_TIME:
        return _no_time(text, zone)
    if latest_us is not None and us > latest_us:
        now = iso(latest_us - AHEAD_US, zone)[:19]
        return f"is {quoted(text)}, ahead of now ({now} in {zone.key})"
    return f"is {quoted(text)}, before 1980; check the year"


def _no_time(text: str, zone: ZoneInfo) -> str:
    try:
        parse_instant(text, zone)
    except InputError as error:
        if "clock change" in str(error):
            return str(error)
    except (ValueError, OverflowError):
        pass
    return f"is {quoted(text)}, not a time; write it as 2026-03-01T14:30 or with an offset"
