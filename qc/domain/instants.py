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


def offsets_of(zone: ZoneInfo, first_us: int, last_us: int) -> tuple[tuple[int, int], ...]:
    """The zone's offsets from UTC between two instants as (from when, offset), in microseconds,
    newest first; the oldest holds from ever."""
    found = [(first_us, _offset_us(first_us, zone))]
    day = first_us
    while day < last_us:  # no zone changes its offset twice within a day
        following = min(day + DAY_US, last_us)
        if _offset_us(following, zone) != found[-1][1]:
            low, high = day, following
            while high - low > SECOND_US:
                middle = (low + high) // 2
                low, high = ((middle, high) if _offset_us(middle, zone) == found[-1][1]
                             else (low, middle))
            found.append((-(-low // SECOND_US) * SECOND_US, _offset_us(following, zone)))
        day = following
    return tuple(reversed(found))


def _offset_us(instant_us: int, zone: ZoneInfo) -> int:
    offset = from_us(instant_us, zone).utcoffset() or timedelta()
    return offset // timedelta(microseconds=1)


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
