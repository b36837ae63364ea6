"""Stored units (degC, kPa, mm, s) to and from the units a shop writes and reads.

A temperature and a difference of temperatures are two quantities: 5 degF of difference is
2.78 K, without the 32. Gauge readings, dial numbers and pressure classes are three kinds of
pressure and never become each other, so only gauge units appear here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

Number = TypeVar("Number", float, npt.NDArray[np.float64])


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of one quantity: stored value = (written value - zero) * factor."""

    quantity: str
    suffix: str
    symbol: str
    factor: float = 1.0
    zero: float = 0.0


UNITS: tuple[Unit, ...] = (
    Unit("temperature", "c", "°C"),
    Unit("temperature", "f", "°F", 5 / 9, 32.0),
    Unit("temperature_difference", "c", "°C"),
    Unit("temperature_difference", "f", "°F", 5 / 9),
    Unit("gauge_pressure", "kpa", "kPa"),
    Unit("gauge_pressure", "psi", "psi", 6.894757293168361),  # 1 lbf/in2, exact by definition
    Unit("gauge_pressure", "bar", "bar", 100.0),
    Unit("length", "mm", "mm"),
    Unit("length", "in", "in", 25.4),
    Unit("duration", "s", "s"),
    Unit("angle", "deg", "°"),
    Unit("mass_per_area", "gsm", "g/m²"),
    Unit("share", "pct", "%"),
)
_BY_KEY = {(unit.quantity, unit.suffix): unit for unit in UNITS}


def units_of(quantity: str) -> tuple[Unit, ...]:
    """All units of a quantity, the stored one first; empty for a quantity without units."""
    return tuple(unit for unit in UNITS if unit.quantity == quantity)


def unit(quantity: str, suffix: str) -> Unit:
    """The unit with this suffix, as in ``unit("length", "in")``.

    Raises
    ------
    KeyError
        The quantity has no such unit.
    """
    return _BY_KEY[(quantity, suffix)]


def to_stored(value: Number, quantity: str, suffix: str) -> Number:
    """A written value in the stored unit of its quantity."""
    u = unit(quantity, suffix)
    return (value - u.zero) * u.factor


def from_stored(value: Number, quantity: str, suffix: str) -> Number:
    """A stored value in the unit with this suffix."""
    u = unit(quantity, suffix)
    return value / u.factor + u.zero


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopUnits:
    """Suffixes of the units a shop reads; all else is shown as it is stored."""

    temperature: str = "c"
    length: str = "mm"
    pressure: str = "kpa"

    def suffix(self, quantity: str) -> str:
        """The suffix in which a quantity is shown."""
        chosen = {
            "temperature": self.temperature, "temperature_difference": self.temperature,
            "length": self.length, "gauge_pressure": self.pressure,
        }
        return chosen.get(quantity) or units_of(quantity)[0].suffix


STORED_UNITS = ShopUnits()
"""degC, mm and kPa, as stored."""
