"""How well a probe knows the platen: budgets, and the uncertainty on an instrument's record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from qc.presses.sensors import sensor_tolerance, sensor_words
from qc.presses.surveys import number_or_none

COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty inside: about 95 % for a normal error."""

EVEN_PARTS = {"meter_c": "meter", "contact_c": "contact with the surface"}
"""Fields of an instrument with a limit, inside which the error is as likely anywhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One contribution to an uncertainty: ``standard_c`` its standard uncertainty in degC,
    ``words`` what it is and where its size comes from."""

    words: str
    standard_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeUncertainty:
    """Expanded uncertainty (k = 2, degC), what it is made up of where that is known, and, where it
    is weak, why in words."""

    expanded_c: float
    parts: tuple[Part, ...] = ()
    caution: str = ""

    @property
    def standard_c(self) -> float:
        return self.expanded_c / COVERAGE


def expanded_uncertainty(
    *, half_widths: Sequence[float] = (), standard: Sequence[float] = (), k: float = COVERAGE
) -> float:
    """Expanded uncertainty of independent contributions added in squares.

    Parameters
    ----------
    half_widths : limits of errors taken as equally likely inside them, degC, each >= 0
    standard : standard uncertainties (from a certificate divided by its k, or repeats), degC, >= 0
    k : coverage factor, above 0

    Raises
    ------
    ValueError
        A contribution is below 0 or not finite, there is none, or k is not above 0.

    Source
    ------
    JCGM 100:2008 (GUM), 4.3.7 for the rectangular half-width a / sqrt(3), 5.1.2 for the sum.
    """
    parts = [*half_widths, *standard]
    if not parts:
        raise ValueError("half_widths and standard are both empty; a budget needs a contribution")
    for part in parts:
        if not (math.isfinite(part) and part >= 0):
            raise ValueError(f"a contribution is {part}; it must be a finite number, 0 or above")
    if not (math.isfinite(k) and k > 0):
        raise ValueError(f"k is {k}; it must be a finite number above 0")
    variance = sum(a * a / 3 for a in half_widths) + sum(u * u for u in standard)
    return k * math.sqrt(variance)


def probe_uncertainty(
    instrument: str | None, instruments: pd.DataFrame, *, default_c: float, at_us: int,
    at_c: float,
) -> ProbeUncertainty:
    """The k = 2 uncertainty of the instrument a survey names, or the shop's default and why.

    Its certificate stands for the sensor as it was calibrated; without one the sensor counts with
    the tolerance of its class at ``at_c`` (degC). The meter, how well the tip takes the heat of the
    surface (contact) and how far repeated readings differ are added where they are noted.
    """
    row, why = _record(instrument, instruments)
    if row is None:
        return ProbeUncertainty(expanded_c=default_c, caution=_default(why, default_c))
    sensor, beside = _sensor(row, at_c), _beside_the_sensor(row)
    if sensor is None:
        why = f"probe {instrument} has no uncertainty on record"
        if beside:
            why = f"probe {instrument} has neither a certificate nor a class of sensor on record"
        return ProbeUncertainty(expanded_c=default_c, caution=_default(why, default_c))
    parts = (sensor, *beside)
    past = not pd.isna(row["due_at"]) and int(row["due_at"]) < at_us
    return ProbeUncertainty(
        expanded_c=expanded_uncertainty(standard=[part.standard_c for part in parts]), parts=parts,
        caution=f"probe {instrument} was past its own calibration date" if past else "",
    )


def _record(
    instrument: str | None, instruments: pd.DataFrame
) -> tuple[pd.Series | None, str]:
    """The row of an instrument, or None and why there is none."""
    if instrument is None:
        return None, "no probe named"
    rows = instruments[instruments["instrument"] == instrument]
    if rows.empty:
        return None, f"probe {instrument} is not on the list of instruments"
    return rows.iloc[-1], ""


def _sensor(row: pd.Series, at_c: float) -> Part | None:
    """How far off the sensor may be: by its certificate, else by its class."""
    certified, kind = number_or_none(row.get("uncertainty_c")), row.get("sensor")
    if certified is not None:
        k = number_or_none(row.get("k")) or COVERAGE
        return Part(words=f"certificate: ±{certified:.2g} °C, k = {k:.3g}",
                    standard_c=certified / k)
    if isinstance(kind, str):
        words = f"sensor without a certificate, {sensor_words(kind)} at {at_c:.0f} °C"
        return _even(words, sensor_tolerance(kind, at_c))
    return None


def _beside_the_sensor(row: pd.Series) -> tuple[Part, ...]:
    """What else of an instrument is noted."""
    parts = [
        _even(words, most) for name, words in EVEN_PARTS.items()
        if (most := number_or_none(row.get(name))) is not None
    ]
    repeat = number_or_none(row.get("repeat_c"))
    if repeat is not None:
        words = f"repeated readings: standard deviation {repeat:.2g} °C"
        parts.append(Part(words=words, standard_c=repeat))
    return tuple(parts)


def _even(words: str, most_c: float) -> Part:
    """A part that is as likely anywhere within its limits (JCGM 100:2008, 4.3.7)."""
    return Part(words=f"{words}: within ±{most_c:.2g} °C", standard_c=most_c / math.sqrt(3))


def _default(why: str, default_c: float) -> str:
    return f"{why}, so ±{default_c:.1f} °C is taken for an unproven one"
