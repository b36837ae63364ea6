"""What standards promise of a temperature sensor that nobody has calibrated.

Source
------
Type K and T: ASTM E230/E230M-12 (standard and special tolerances) and IEC 60584-1:2013 (classes 1
and 2), for unused wire. Pt100: IEC 60751, classes A and B.
"""

from __future__ import annotations

from collections.abc import Callable


def _wire(least_c: float, share: float) -> Callable[[float], float]:
    """The greater of a fixed part and a share of the temperature in degC."""
    return lambda at_c: max(least_c, share * abs(at_c))


def _resistor(fixed_c: float, share: float) -> Callable[[float], float]:
    return lambda at_c: fixed_c + share * abs(at_c)


_TOLERANCES: dict[str, tuple[str, Callable[[float], float]]] = {
    "type_k_standard": ("type K, ASTM E230 standard", _wire(2.2, 0.0075)),
    "type_k_special": ("type K, ASTM E230 special", _wire(1.1, 0.004)),
    "type_k_class_1": ("type K, IEC 60584-1 class 1", _wire(1.5, 0.004)),
    "type_k_class_2": ("type K, IEC 60584-1 class 2", _wire(2.5, 0.0075)),
    "type_t_standard": ("type T, ASTM E230 standard", _wire(1.0, 0.0075)),
    "pt100_class_a": ("Pt100, IEC 60751 class A", _resistor(0.15, 0.002)),
    "pt100_class_b": ("Pt100, IEC 60751 class B", _resistor(0.30, 0.005)),
}


def sensor_tolerance(sensor: str, at_c: float) -> float:
    """How far off an uncalibrated sensor of a class may be at a temperature, degC, each way.

    ``sensor`` is one of `qc.domain.records.SENSORS`; ``at_c`` in degC, 0 to 375.
    """
    return _TOLERANCES[sensor][1](at_c)


def sensor_words(sensor: str) -> str:
    """A class as people write it."""
    return _TOLERANCES[sensor][0]
