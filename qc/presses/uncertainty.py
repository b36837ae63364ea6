"""How well a probe knows the platen: budgets, and the uncertainty on an instrument's record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty inside: about 95 % for a normal error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeUncertainty:
    """Expanded uncertainty (k = 2, degC) and, where it is weak, why in words."""

    expanded_c: float
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
    instrument: str | None, instruments: pd.DataFrame, *, default_c: float, at_us: int
) -> ProbeUncertainty:
    """The k = 2 uncertainty of the instrument a survey names, or the shop's default and why."""
    if instrument is None:
        return ProbeUncertainty(expanded_c=default_c, caution=_default("no probe named", default_c))
    rows = instruments[instruments["instrument"] == instrument]
    if rows.empty:
        why = f"probe {instrument} is not on the list of instruments"
        return ProbeUncertainty(expanded_c=default_c, caution=_default(why, default_c))
    row = rows.iloc[-1]
    if pd.isna(row["uncertainty_c"]):
        why = f"probe {instrument} has no uncertainty on record"
        return ProbeUncertainty(expanded_c=default_c, caution=_default(why, default_c))
    k = COVERAGE if pd.isna(row["k"]) else float(row["k"])
    expanded = float(row["uncertainty_c"]) * COVERAGE / k
    past = not pd.isna(row["due_at"]) and int(row["due_at"]) < at_us
    caution = f"probe {instrument} was past its own calibration date" if past else ""
    return ProbeUncertainty(expanded_c=expanded, caution=caution)


def _default(why: str, default_c: float) -> str:
    return f"{why}, so ±{default_c:.1f} °C is taken for an unproven one"
