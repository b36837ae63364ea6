"""Instants: microseconds since 1970-01-01 UTC inside, ISO 8601 outside."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from qc.errors import InputError

SECOND_US = 1_000_000
HOUR_US = 3600 * SECOND_US
DAY_US = 24 * HOUR_US
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def to_us(moment: datetime) -> int:
    """An aware datetime as microseconds UTC."""
    return (moment - _EPOCH) // timedelta(microseconds=1)


def from_us(instant_us: int, zone: ZoneInfo) -> datetime:
    """An instant as an aware datetime in a zone."""
    return (_EPOCH + timedelta(microseconds=int(instant_us))).astimezone(zone)


def iso(instant_us: int, zone: ZoneInfo) -> str:
    """An instant as ISO 8601 with the zone's offset."""
    return from_us(instant_us, zone).isoformat()


def parse_instant(text: str, zone: ZoneInfo) -> int:
    """ISO 8601 text as microseconds UTC; without an offset it is a wall-clock time in ``zone``.

    Raises
    ------
    InputError
        Not a time, or a local time that does not exist or exists twice (clock change).
    """
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            f"{text!r} is not a time; write it as 2026-03-01T14:30 or with an offset"
        ) from None
    if moment.tzinfo is None:
        moment = _in_zone(moment, zone, text)
    return to_us(moment)


def parse_due(text: str, zone: ZoneInfo) -> int:
    """A date, due at its end, or a time, as `parse_instant` reads it; microseconds UTC."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return parse_instant(text, zone)
    return parse_instant(f"{day + timedelta(days=1)}T00:00", zone) - SECOND_US


def _in_zone(wall: datetime, zone: ZoneInfo, text: str) -> datetime:
    earlier, later = wall.replace(tzinfo=zone, fold=0), wall.replace(tzinfo=zone, fold=1)
    if earlier.utcoffset() == later.utcoffset():
        return earlier
    back = earlier.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    word = "exists twice" if back == wall else "does not exist"
    raise InputError(f"{text!r} {word} in {zone.key} (clock change); write it with an offset")
