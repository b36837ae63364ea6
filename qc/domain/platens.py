"""Health of a platen: the latest survey, its drift, and when it is due."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

PLATEN_STATES = ("recalibrate", "overdue", "watch", "unknown", "in_tolerance")
"""Most urgent first."""

HOT_PLATEN_CAUTION = (
    "Hot platen: the surface may be above 150 °C (300 °F) and burns at the first touch. Keep "
    "hands, hair and sleeves out of the closing path, wear heat gloves for the probe and never "
    "reach under an open platen. Out of limits: stop the press, hold the pieces since the last "
    "good check and tell maintenance; do not correct the setting on your own. Heaters, relays, "
    "wiring and the controller are for qualified people, locked out first. The press maker's "
    "manual, local codes and your site rules come first."
)
"""Shown wherever service or a survey of a platen is advised."""

LOCK_OUT_CAUTION = (
    "Lock out first; only people trained and authorised at this site. Switch off, isolate, lock "
    "and tag; release air and block the platen so that it cannot fall or close; prove it: try to "
    "start, read the air gauge at zero. The platen stays hot long after it is off: measure it. "
    "Heaters, relays, wiring and the controller are for a licensed or qualified electrical person "
    "only. Afterwards guards back, two-hand control and emergency stop tested, first piece "
    "approved. The press maker's manual and local electrical and machine codes come first; this "
    "note does not replace them."
)
"""Shown on a service order, beside the caution about the hot platen."""


SPREAD_POINTS = 5
"""Points a survey needs before it can show that a spread is kept: the centre and four places about
it (common practice, no source)."""

DECISIONS = ("out", "not_shown", "in_tolerance")
"""What a measurement shows of a tolerance under a decision rule; the worst first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conformity:
    """What one survey shows of the tolerance of its ``what``, 'mean' or 'spread', in degC.

    ``risk`` : chance that the true value is beyond the tolerance, whatever was decided.
    ``uncertainty_c`` : of the measured value, expanded (k = 2). Measured up to ``accepted_to_c`` it
    is in tolerance (below 0: nothing can be), beyond ``out_from_c`` out, between them not shown.
    """

    what: str
    decision: str
    risk: float
    uncertainty_c: float
    accepted_to_c: float
    out_from_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalAdvice:
    """Whether the interval between checks fits what they found; advice, never done by itself.

    ``action`` 'lengthen', 'halve' or 'keep', from ``days`` to ``advised_days``; ``n_good`` checks
    in a row at that interval found the platen good, of ``n_needed``; ``last_bad_us`` the last that
    did not.
    """

    action: str
    days: float
    advised_days: float
    n_good: int
    n_needed: int
    last_bad_us: int | None
    drift_shown: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatenHealth:
    """One platen at one moment. Temperatures are differences in degC, instants microseconds UTC.

    ``offset_c`` is the mean reading minus the setpoint of the latest survey, ``spread_c`` hottest
    minus coldest point. ``uncertainty_c`` is the probe's, expanded (k = 2), ``uncertainty_parts``
    what makes it up, in words. ``rule`` is the shop's decision rule in words, ``conformity`` what
    it says of the mean and of the spread; ``spread_unjudged`` : the spread has a tolerance, but too
    few points were probed to show it kept; ``probe_first`` : the probe is too uncertain for the
    tolerance, so calibrate it first. ``interval`` is advice on the interval between checks. None is
    unknown, never 0.
    """

    press: str
    platen: str
    last_survey_at_us: int | None
    offset_c: float | None
    spread_c: float | None
    coldest: tuple[int, int] | None
    hottest: tuple[int, int] | None
    uncertainty_c: float | None
    slope_c_per_day: float | None
    slope_interval: tuple[float, float] | None
    crosses_at_us: int | None
    crosses_between_us: tuple[int, int | None] | None
    due_at_us: int | None
    state: str
    reason: str
    temperature_tolerance_c: float | None
    uniformity_tolerance_c: float | None
    uncertainty_parts: tuple[str, ...] = ()
    rule: str = ""
    conformity: tuple[Conformity, ...] = ()
    probe_first: bool = False
    spread_unjudged: bool = False
    interval: IntervalAdvice | None = None

    @property
    def decision(self) -> str | None:
        """The worst decision; None where there is no tolerance or no survey to decide on. What
        cannot be judged is not shown to be kept."""
        found = [one.decision for one in self.conformity]
        return min(found + ["not_shown"] * self.spread_unjudged, key=DECISIONS.index, default=None)

    @property
    def risk(self) -> float | None:
        """The highest risk that a true value is beyond its tolerance."""
        return max((one.risk for one in self.conformity), default=None)

    @property
    def needs_service(self) -> bool:
        """Is somebody to work on the hot platen, to survey or to adjust it?"""
        return self.state in ("recalibrate", "overdue", "watch")


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationSignal:
    """A platen that needs service, as a change in time, for a flag.

    ``characteristic`` is 'temperature_error_c' (the offset) or 'temperature_spread_c'.
    ``before`` and ``after`` are that characteristic at the start of the drift (None where nothing
    earlier was surveyed) and now (degC);
    ``signalled_at_us`` is the survey at which it could first be said, unchanged at later looks.
    """

    press: str
    platen: str
    characteristic: str
    direction: str
    signalled_at_us: int
    changed_at_us: int
    changed_between_us: tuple[int, int]
    ended_at_us: int | None
    before: float | None
    after: float
    tolerance_c: float
    coldest: tuple[int, int] | None
    last_good_us: int | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlatenMap:
    """One survey of a platen as a grid, row 1 and column 1 at the operator's far left.

    ``error_c`` : (rows, columns), reading minus setpoint in degC, nan where nothing was probed,
    read-only. ``surface_c`` : the same between the points, evenly spaced from the first to the last
    row and column, nan where a point beside is missing. Tolerances are None where the press has
    none.
    """

    press: str
    platen: str
    survey_id: str
    surveyed_at_us: int
    state: str
    instrument: str | None
    setpoint_c: float
    error_c: npt.NDArray[np.float64]
    surface_c: npt.NDArray[np.float64]
    offset_c: float
    spread_c: float
    coldest: tuple[int, int]
    hottest: tuple[int, int]
    n_points: int
    temperature_tolerance_c: float | None
    uniformity_tolerance_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurveyEwma:
    """Surveys since the last adjustment taken together: how far they lie from those before them.

    ``value_c`` : EWMA at each survey but the first, degC; beyond ``limit_c`` either way it signals.
    ``run_length`` : surveys of an unmoved platen until a false signal, on average; ``years`` : the
    same at the shop's interval of checks. Arrays are read-only.
    """

    at_us: npt.NDArray[np.int64]
    value_c: npt.NDArray[np.float64]
    limit_c: float
    run_length: float
    years: float

    @property
    def direction(self) -> int:
        """1 or -1 where the newest survey signals a rise or a fall, else 0."""
        newest = float(self.value_c[-1])
        return 0 if abs(newest) <= self.limit_c else (1 if newest > 0 else -1)

    @property
    def since_us(self) -> int | None:
        """The first of the surveys that signal now; None if the newest does not."""
        if self.direction == 0:
            return None
        calm = np.flatnonzero(np.abs(self.value_c) <= self.limit_c)
        return int(self.at_us[0 if len(calm) == 0 else calm[-1] + 1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DriftSeries:
    """All surveys of a platen with the line of its drift and how far that leads.

    Arrays are read-only; instants int64 microseconds UTC, temperatures differences in degC.
    ``fitted_*`` covers the surveys the line comes from, ``forecast_*`` runs from the last survey
    to the crossing or 60 days, with the 95 % fan; all empty where there is no line. ``together`` is
    the EWMA of the surveys, None while there are too few.
    """

    press: str
    platen: str
    at_us: npt.NDArray[np.int64]
    offset_c: npt.NDArray[np.float64]
    spread_c: npt.NDArray[np.float64]
    states: tuple[str, ...]
    survey_ids: tuple[str, ...]
    fitted_at_us: npt.NDArray[np.int64]
    fitted_c: npt.NDArray[np.float64]
    forecast_at_us: npt.NDArray[np.int64]
    forecast_c: npt.NDArray[np.float64]
    forecast_low_c: npt.NDArray[np.float64]
    forecast_high_c: npt.NDArray[np.float64]
    slope_c_per_day: float | None
    slope_interval: tuple[float, float] | None
    crosses_at_us: int | None
    crosses_between_us: tuple[int, int | None] | None
    temperature_tolerance_c: float | None
    uniformity_tolerance_c: float | None
    note: str
    together: SurveyEwma | None = None


def place_on_platen(row: int, col: int, n_rows: int, n_cols: int) -> str:
    """A probed point as the operator would point at it."""
    deep = _third(row, n_rows, ("far", "", "near"))
    wide = _third(col, n_cols, ("left", "", "right"))
    return " ".join(filter(None, (deep, wide))) or "centre"


def spot_on_platen(row: int, col: int, n_rows: int, n_cols: int) -> str:
    """The same with its row and column, as every face says it."""
    return f"{place_on_platen(row, col, n_rows, n_cols)} (row {row}, column {col})"


def _third(at: int, size: int, words: tuple[str, str, str]) -> str:
    middle = (size + 1) / 2
    return words[0] if at < middle else words[2] if at > middle else words[1]
