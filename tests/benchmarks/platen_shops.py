"""Simulated shops of platens whose true mean error is known at every moment.

A platen's true offset is a path of straight pieces: a level, a drift from a change day on, an
adjustment that was surveyed (as found, as left), a step that nobody wrote down. What a survey reads
is the path, the shop's one probe with its own constant error, the scatter of surveys about an
unchanged platen, a pattern of nine points, and noise at each of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.instants import DAY_US

Floats = npt.NDArray[np.float64]

T0_US = 1_767_225_600_000_000
"""2026-01-01 00:00 UTC."""
SIDE = 3
SETPOINT_C = 165.0
SURVEYS_AFTER_CROSSING = 3
AS_LEFT_AFTER_DAYS = 0.1

KINDS = ("none", "from_start", "midway", "adjusted", "step", "step_in_drift", "corner")
"""No change; a drift from before the first survey; one that begins midway; one that goes on after
an adjustment on record; an unsaid step and nothing else; an unsaid step in a drift that goes on;
one corner cold at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """From ``day`` on the offset is ``level_c`` + ``slope`` (days - ``day``)."""

    day: float
    level_c: float
    slope: float

    def at(self, day: float) -> float:
        return self.level_c + self.slope * (day - self.day)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TruePlaten:
    """What one platen truly does. ``changes_day``: when its drift, step or cold corner began."""

    press: str
    kind: str
    tolerance_c: float
    uniformity_c: float
    check_days: float
    pieces: tuple[Piece, ...]
    changes_day: float | None
    corner_c: float
    pattern_c: Floats
    survey_days: Floats
    states: tuple[str, ...]

    def offset(self, day: float) -> float:
        """True mean error at a day, degC: a cold corner is part of the mean."""
        return self._piece(day).at(day) + float(self.map_c(day).mean())

    def slope(self, day: float) -> float:
        return self._piece(day).slope

    def crosses(self, day: float, *, bias_c: float = 0.0) -> float | None:
        """The day at which the piece of that day leaves the tolerance, as a probe that is
        ``bias_c`` off would read it; None if it never does; the day itself if it has."""
        return _leaves(self._piece(day), day, self.tolerance_c,
                       bias_c + float(self.map_c(day).mean()))

    def spread(self, day: float) -> float:
        return float(np.ptp(self.map_c(day)))

    def map_c(self, day: float) -> Floats:
        """Deviation of each of the nine points at a day, before any noise."""
        cold = self.kind == "corner" and self.changes_day is not None and day >= self.changes_day
        return self.pattern_c - self.corner_c * cold * (np.arange(SIDE * SIDE) == SIDE - 1)

    def points(self, day: float) -> Floats:
        """True error of each of the nine points at a day, degC."""
        return self._piece(day).at(day) + self.map_c(day)

    def _piece(self, day: float) -> Piece:
        return [piece for piece in self.pieces if piece.day <= day][-1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueShop:
    """Platens surveyed with one probe: ``uncertainty_c`` (k = 2) is on its record, ``bias_c`` its
    error; ``scatter_c`` and ``point_c`` are standard deviations of a survey's mean and a point."""

    platens: tuple[TruePlaten, ...]
    uncertainty_c: float
    bias_c: float
    scatter_c: float
    point_c: float
    readings: pd.DataFrame
    presses: pd.DataFrame
    instruments: pd.DataFrame


def true_shop(rng: np.random.Generator, *, n_platens: int = 6) -> TrueShop:
    """A shop of random make, its platens of random kinds."""
    uncertainty = rng.uniform(0.5, 2.0)
    bias, scatter = rng.normal(0, uncertainty / 2), rng.uniform(0.2, 0.6)
    point = rng.uniform(0.3, 0.8)
    platens = tuple(_platen(rng, f"P{n}") for n in range(n_platens))
    # the mean of nine noisy points scatters too: what is left is of the survey as a whole
    whole = np.sqrt(max(scatter**2 - point**2 / SIDE**2, 0.0))
    frames = [_surveys(rng, platen, bias, whole, point) for platen in platens]
    listed = pd.DataFrame([{
        "press": p.press, "heated_lower": "no", "temperature_tolerance_c": p.tolerance_c,
        "uniformity_tolerance_c": p.uniformity_c, "check_every_days": p.check_days,
    } for p in platens])
    probe = {"instrument": "K1", "uncertainty_c": uncertainty, "k": 2.0, "calibrated_at": T0_US,
             "due_at": T0_US + 5000 * DAY_US}
    return TrueShop(
        platens=platens, uncertainty_c=uncertainty, bias_c=bias,
        scatter_c=float(np.hypot(whole, point / SIDE)), point_c=point,
        readings=pd.concat(frames, ignore_index=True), presses=listed,
        instruments=pd.DataFrame([probe]),
    )


def _platen(rng: np.random.Generator, press: str) -> TruePlaten:
    kind = str(rng.choice(KINDS))
    tolerance, every = rng.uniform(3, 6), rng.uniform(3, 14)
    n = int(rng.integers(15, 45))
    days = np.cumsum(every * rng.uniform(0.8, 1.2, n)) - every
    pieces, changed, left = _path(rng, kind, days, tolerance)
    states = ["routine"] * n
    if left is not None:
        at = int(np.searchsorted(days, left))
        days = np.insert(days, at, left - AS_LEFT_AFTER_DAYS)
        states[at:at + 1] = ["as_found", "as_left"]
        days[at + 1] = left
    pattern = rng.normal(0, rng.uniform(0.3, 0.9), SIDE * SIDE)
    pattern -= pattern.mean()
    platen = TruePlaten(
        press=press, kind=kind, tolerance_c=tolerance,
        uniformity_c=rng.uniform(5, 8), check_days=every, pieces=pieces, changes_day=changed,
        corner_c=rng.uniform(4, 8), pattern_c=pattern, survey_days=days, states=tuple(states),
    )
    return _ended(platen)


def _path(
    rng: np.random.Generator, kind: str, days: Floats, tolerance: float
) -> tuple[tuple[Piece, ...], float | None, float | None]:
    """Pieces of the true offset, the day of the change, the day of an as-left survey."""
    start = rng.normal(0, 0.2 * tolerance)
    slope = float(rng.choice((-1, -1, -1, 1)) * rng.uniform(0.05, 0.3))
    slope = slope if kind in ("from_start", "midway", "adjusted", "step_in_drift") else 0.0
    changed = float(rng.uniform(days[4], days[-5]))
    first = Piece(day=-1e9, level_c=start, slope=0.0)
    if kind in ("none", "corner"):
        return (first,), changed if kind == "corner" else None, None
    if kind == "midway":
        return (first, Piece(day=changed, level_c=start, slope=slope)), changed, None
    if kind == "step":
        size = float(rng.choice((-1, 1)) * rng.uniform(0.35, 0.8) * tolerance)
        return (first, Piece(day=changed, level_c=start + size, slope=0.0)), changed, None
    first = Piece(day=days[0] - 1e-6, level_c=start, slope=slope)
    if kind == "from_start":
        return (first,), float(days[0]), None
    # somebody turns it back when it has gone most of the way
    away = np.sign(slope) * rng.uniform(0.5, 0.9) * tolerance
    back = first.day + max(float((away - start) / slope), float(days[2] - days[0]))
    if kind == "adjusted":
        left = float(days[min(int(np.searchsorted(days, back)), len(days) - 5)])
        again = Piece(day=left - AS_LEFT_AFTER_DAYS / 2, level_c=rng.normal(0, 0.3), slope=slope)
        return (first, again), again.day, left
    return (first, Piece(day=back, level_c=rng.normal(0, 0.3), slope=slope)), back, None


def _ended(platen: TruePlaten) -> TruePlaten:
    """Without the surveys that nobody would make: those long after the tolerance was left."""
    out = [abs(platen.offset(day)) > platen.tolerance_c for day in platen.survey_days]
    last = out.index(True) + SURVEYS_AFTER_CROSSING if any(out) else len(out)
    return replace(platen, survey_days=platen.survey_days[:last], states=platen.states[:last])


def _leaves(piece: Piece, day: float, tolerance: float, bias: float) -> float | None:
    if abs(piece.at(day) + bias) > tolerance:
        return day
    if piece.slope == 0:
        return None
    limit = np.sign(piece.slope) * tolerance
    return float(piece.day + (limit - bias - piece.level_c) / piece.slope)


def _surveys(
    rng: np.random.Generator, platen: TruePlaten, bias: float, whole: float, point: float
) -> pd.DataFrame:
    n, cells = len(platen.survey_days), SIDE * SIDE
    true = np.array([platen.points(day) for day in platen.survey_days])
    noise = rng.normal(0, whole, (n, 1)) + rng.normal(0, point, (n, cells))
    row, col = np.divmod(np.tile(np.arange(cells), n), SIDE)
    at_us = [T0_US + round(day * DAY_US) for day in platen.survey_days]
    return pd.DataFrame({
        "survey_id": np.repeat([f"{platen.press}-{k}" for k in range(n)], cells),
        "measured_at": np.repeat(at_us, cells), "press": platen.press, "platen": "upper",
        "setpoint_c": SETPOINT_C, "row": row + 1, "col": col + 1,
        "reading_c": (SETPOINT_C + bias + true + noise).ravel(), "instrument": "K1",
        "state": np.repeat(platen.states, cells),
    })
