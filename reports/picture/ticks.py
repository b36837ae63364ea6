"""Tidy numbers along an axis, and numbers as people read them."""

from __future__ import annotations

import math
from dataclasses import dataclass

THIN = "\u2009"
MINUS = "\u2212"
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
CLOSE = 0.8
"""A round step may be so much shorter than the one wanted."""
PLAIN_FROM, PLAIN_TO = 1e-4, 1e7
"""Outside these sizes numbers are written as so many times a power of ten."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Ticks of an axis in the unit of the data; what is written is the value over 10**power.

    ``by_ratio`` : each tick is written by itself.
    """

    at: tuple[float, ...]
    digits: int
    power: int
    by_ratio: bool = False

    def label(self, value: float) -> str:
        if self.by_ratio:
            return _by_ratio(value)
        return "0" if value == 0 else grouped(value / 10**self.power, self.digits)


def tidy_scale(low: float, high: float, *, about: int, whole: bool = False) -> Scale:
    """Round ticks inside low..high, roughly so many; ``whole`` keeps them whole numbers."""
    step = _step((high - low) / max(about, 1))
    if whole:
        step = 5.0 if step == 2.5 else max(round(step), 1.0)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    at = tuple(k * step for k in range(first, last + 1))
    power = _power(max(abs(low), abs(high)), step)
    return Scale(at=at, digits=_digits(step / 10**power), power=power)


def log_ticks(low: float, high: float, *, about: int) -> Scale:
    """Ticks of an axis by ratios, inside low..high above 0: powers of ten, 2 and 5 between."""
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    at: tuple[float, ...] = ()
    for between in ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
        at = tuple(each for power in range(first, last + 1) for step in between
                   if low * (1 - 1e-9) <= (each := step * 10.0**power) <= high * (1 + 1e-9))
        if len(at) <= 2 * about:
            break
    every = max(math.ceil(len(at) / (2 * about)), 1)
    return Scale(at=at[::every], digits=0, power=0, by_ratio=True)


def _by_ratio(value: float) -> str:
    """A tick of an axis by ratios: 1, 2, 3 or 5 times a power of ten."""
    if PLAIN_FROM <= value < PLAIN_TO:
        return short(value)
    power = math.floor(math.log10(value) + 1e-9)
    first = round(value / 10.0**power)
    return f"10{raised(power)}" if first == 1 else f"{first} × 10{raised(power)}"


def grouped(value: float, digits: int) -> str:
    """A number with so many decimals, thousands set apart, and a true minus."""
    shown = f"{value:,.{digits}f}".replace(",", THIN).replace("-", MINUS)
    return shown.removeprefix(MINUS) if float(f"{value:.{digits}f}") == 0 else shown


def short(value: float, digits: int = 4) -> str:
    """A number to so many significant digits, as it stands in a sentence."""
    if not math.isfinite(value):
        return "none"
    if value == 0 or PLAIN_FROM <= abs(value) < PLAIN_TO:
        size = 0 if value == 0 else math.floor(math.log10(abs(value)))
        places = max(digits - 1 - size, 0)
        text = grouped(value, places)
        return text.rstrip("0").rstrip(".") if "." in text else text
    mantissa, power = f"{value:.{digits - 1}e}".split("e")
    return f"{grouped(float(mantissa), digits - 1)} × 10{raised(int(power))}"


def places(reach: float, digits: int) -> int | None:
    """Decimals that show a column of numbers up to ``reach`` to so many digits.

    None where they are so large or small that each has to be written with its power of ten.
    """
    if reach == 0:
        return 0
    if not PLAIN_FROM <= reach < PLAIN_TO:
        return None
    return max(digits - 1 - math.floor(math.log10(reach)), 0)


def raised(power: int) -> str:
    """A power of ten behind 10, as plain text."""
    return f"^{MINUS if power < 0 else ''}{abs(power)}"


def _step(rough: float) -> float:
    if not (rough > 0 and math.isfinite(rough)):
        return 1.0
    ten = 10.0 ** math.floor(math.log10(rough))
    return next(s for s in STEPS if s * ten >= CLOSE * rough) * ten


def _power(reach: float, step: float) -> int:
    """The power of ten to take out: none while numbers stay short."""
    if reach == 0 or (reach < PLAIN_TO and step >= PLAIN_FROM):
        return 0
    return math.floor(math.log10(reach))


def _digits(step: float) -> int:
    return next((d for d in range(12) if abs(round(step, d) - step) < 1e-9 * step), 12)
