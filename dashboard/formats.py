"""All numbers, units and times as people read them; nothing else in the dashboard formats."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from qc.desk.flag_words import measured_value
from qc.desk.lists import symbol_of, text_of
from qc.desk.shop import Shop
from qc.domain.flags import Flag
from qc.domain.instants import DAY_US, HOUR_US, from_us
from qc.domain.records import Field
from qc.units import ShopUnits, from_stored, unit

NOT_KNOWN = "not known"
THIN = "\u202f"
_PER_CENT = re.compile(r"(?<=\d) %")
MINUS = "\u2212"
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|°[CF]|mm|in|kPa|psi|bar|s)(?!\w))")
_MINUTE_US = HOUR_US // 60


def count(n: float | None) -> str:
    """A whole number with its thousands set apart."""
    return NOT_KNOWN if n is None else f"{round(n):,}".replace(",", THIN).replace("-", MINUS)


def in_sentence(said: str) -> str:
    """A sentence made elsewhere: thousands set apart as `count` does, no unit broken off its
    number at the end of a line."""
    return _BEFORE_UNIT.sub(THIN, _THOUSANDS.sub(THIN, said))


def share(value: float | None, digits: int | None = None) -> str:
    """A share 0..1 in per cent, with one digit, or two where it is small."""
    if value is None or value != value:
        return NOT_KNOWN
    percent = 100 * value
    if digits is None and 0 < percent < 0.01:
        return f"< 0.01{THIN}%"
    if digits is None:
        digits = 2 if 0 < percent < 1 else 1
    return f"{percent:.{digits}f}{THIN}%"


def share_range(low: float, high: float) -> str:
    """An interval of shares."""
    digits = 2 if 0 < 100 * high < 1 else 1
    return f"{100 * low:.{digits}f} to {100 * high:.{digits}f}{THIN}%"


def unbroken(words: str) -> str:
    """Words in which no line ends between a number and its per cent."""
    return _PER_CENT.sub("\u00a0%", words)


def points(difference: float | None) -> str:
    """A difference of shares 0..1, in percentage points."""
    if difference is None or difference != difference:
        return NOT_KNOWN
    digits = 2 if abs(difference) < 0.01 else 1
    return f"{decimal(100 * difference, digits, sign=True)}{THIN}points"


def points_range(low: float, high: float) -> str:
    """An interval of differences of shares."""
    if low != low or high != high:
        return NOT_KNOWN
    digits = 2 if max(abs(low), abs(high)) < 0.01 else 1
    ends = (decimal(100 * end, digits, sign=True) for end in (low, high))
    return " to ".join(ends)


def times(ratio: float | None) -> str:
    """A ratio as 'so many times'."""
    if ratio is None or ratio != ratio:
        return NOT_KNOWN
    if ratio == float("inf"):
        return "any number of times"
    return f"{ratio:.2f}×" if ratio < 9.95 else f"{ratio:.0f}×"


def times_range(low: float | None, high: float | None) -> str:
    """An interval of ratios."""
    if low is None or high is None:
        return NOT_KNOWN
    if high == float("inf"):
        return f"{times(low)} or more"
    return f"{times(low)} to {times(high)}"


def money(value: float | None, currency: str = "", *, beside: float = 0.0) -> str:
    """An amount in the shop's money: whole where it, or the largest it stands ``beside`` in its
    column, is large."""
    if value is None or value != value:
        return NOT_KNOWN
    amount = count(value) if max(abs(value), beside) >= 100 else decimal(value, 2)
    return f"{currency}{THIN}{amount}" if currency else amount


def money_range(low: float, high: float, currency: str = "", *, beside: float = 0.0) -> str:
    """An interval of amounts, both ends to the same digits, see `money`."""
    if low != low or high != high:
        return NOT_KNOWN
    whole = max(abs(low), abs(high), beside) >= 100
    ends = " to ".join(count(end) if whole else decimal(end, 2) for end in (low, high))
    return f"{currency}{THIN}{ends}" if currency else ends


def decimal(value: float | None, digits: int = 1, *, sign: bool = False) -> str:
    """A plain number with a true minus."""
    if value is None or value != value:
        return NOT_KNOWN
    return f"{value:{'+' if sign else ''}.{digits}f}".replace("-", MINUS)


def days(value: float) -> str:
    """A number of days, with a digit only where it is not whole."""
    return f"{round(value, 1):g}"


@dataclass(frozen=True, slots=True)
class Clock:
    """Times in the shop's zone."""

    zone: ZoneInfo

    def day(self, us: int | None) -> str:
        return NOT_KNOWN if us is None else self._moment(us).strftime("%a %d %b %Y")

    def minute(self, us: int | None) -> str:
        return NOT_KNOWN if us is None else self._moment(us).strftime("%a %d %b %Y, %H:%M")

    def short_minute(self, us: int) -> str:
        return self._moment(us).strftime("%d %b %H:%M")

    def short_day(self, us: int) -> str:
        return self._moment(us).strftime("%d %b")

    def row_minute(self, us: int) -> str:
        """A moment inside a long list: with its year, in as few letters as tell it."""
        return self._moment(us).strftime("%Y-%m-%d %H:%M")

    def time(self, us: int) -> str:
        return self._moment(us).strftime("%H:%M")

    def wall(self, us: int) -> str:
        """ISO 8601 without offset, as a figure's time axis wants it."""
        return self._moment(us).replace(tzinfo=None).isoformat(timespec="minutes")

    def iso(self, us: int) -> str:
        return self._moment(us).isoformat(timespec="seconds")

    def until(self, us: int, now_us: int) -> str:
        """How far off a due date is, by the calendar on the wall: tomorrow is a day off whatever
        the hour."""
        off = (self._moment(us).date() - self._moment(now_us).date()).days
        if off == 0:
            return "today"
        days = f"{abs(off)} day{'s' if abs(off) != 1 else ''}"
        return f"{days} late" if off < 0 else f"in {days}"

    def span(self, since_us: int, until_us: int) -> str:
        """An interval of times, to the day where it is longer than two days."""
        if until_us - since_us >= 2 * DAY_US:
            return f"{self.day(since_us)} to {self.day(until_us)}"
        return f"{self.minute(since_us)} to {self.minute(until_us)}"

    def _moment(self, us: int) -> datetime:
        return from_us(int(us), self.zone)


def ago(us: int, now_us: int) -> str:
    """How long before now, in the largest whole unit."""
    gone = max(now_us - us, 0)
    if gone < 2 * _MINUTE_US:
        return "just now"
    if gone < 2 * HOUR_US:
        return f"{gone // _MINUTE_US} min ago"
    if gone < 2 * DAY_US:
        return f"{gone // HOUR_US} h ago"
    return f"{gone // DAY_US} days ago"


@dataclass(frozen=True, slots=True)
class Heat:
    """Temperatures in the unit the shop reads."""

    suffix: str

    @property
    def symbol(self) -> str:
        return unit("temperature_difference", self.suffix).symbol

    def shown(self, difference_c: float) -> float:
        """A difference of temperatures in the shop's unit."""
        return float(from_stored(float(difference_c), "temperature_difference", self.suffix))

    def difference(self, difference_c: float | None, *, sign: bool = True) -> str:
        if difference_c is None:
            return NOT_KNOWN
        return f"{decimal(self.shown(difference_c), sign=sign)}{THIN}{self.symbol}"

    def plain(self, temperature_c: float) -> str:
        """A temperature as it is typed: no unit, no needless digits."""
        return f"{float(from_stored(float(temperature_c), 'temperature', self.suffix)):.4g}"

    def reading(self, temperature_c: float | None) -> str:
        if temperature_c is None:
            return NOT_KNOWN
        there = float(from_stored(float(temperature_c), "temperature", self.suffix))
        return f"{decimal(there)}{THIN}{self.symbol}"


def of_flag(value: float | None, flag: Flag, units: ShopUnits) -> str:
    """A rate or a measured value of a flag, in the unit the shop reads it in."""
    if value is None:
        return NOT_KNOWN
    if flag.unit == "per piece":
        return share(value)
    return in_sentence(measured_value(value, flag, units).replace("-", MINUS))


@dataclass(frozen=True, slots=True)
class Reader:
    """Fields of records as people of a shop read them."""

    shop: Shop
    clock: Clock

    def value(self, field: Field, value: object) -> str:
        """A stored value with its unit; empty where nothing is said."""
        if value is None:
            return ""
        if field.kind == "instant":
            return self.clock.minute(int(str(value)))
        shown = text_of(field, value, self.shop)
        if field.kind == "choice" or field.name == "location":
            return shown.replace("_", " ")
        symbol = symbol_of(field, self.shop)
        return f"{shown.replace('-', MINUS)}{THIN}{symbol}" if symbol else shown
