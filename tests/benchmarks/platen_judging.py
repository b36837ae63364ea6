"""What is said of simulated platens, held against what they truly do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from qc.domain.instants import DAY_US
from qc.domain.platens import CalibrationSignal, PlatenHealth
from qc.presses.conformity import conformity
from qc.presses.decision import GUARDED, SIMPLE
from qc.presses.health import platen_health
from qc.presses.repeatability import repeatability
from qc.presses.signals import calibration_signals
from qc.presses.surveys import Limits, surveys_of
from tests.benchmarks.platen_shops import T0_US, TruePlaten, TrueShop

FEWEST_SURVEYS = 3
DEFAULT_C = 3.8
OFFSET, SPREAD = "temperature_error_c", "temperature_spread_c"
STARTS_OF = {"midway": OFFSET, "step": OFFSET, "corner": SPREAD}
"""Kinds whose change begins inside the record, and what it is a change of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One platen as of one of its surveys. Days count from the survey it is judged at.

    ``truth`` : until the tolerance is left as this probe reads it, None if it never is;
    ``really`` : the same of the true offset; ``first``, ``last`` : what `crosses_between` says,
    ``last`` None where it is open; ``due`` : when the next survey is due.
    """

    kind: str
    drift_shown: bool
    drifts: bool
    said_out: bool
    truth: float | None
    really: float | None
    says: float | None
    first: float | None
    last: float | None
    due: float | None
    check_days: float

    @property
    def ahead(self) -> bool:
        return self.truth is not None and self.truth > 0

    @property
    def covered(self) -> bool:
        """Does the interval hold the crossing? One that is open holds one that never comes."""
        return self._held(self.truth)

    @property
    def really_covered(self) -> bool:
        return self._held(self.really)

    def _held(self, truth: float | None) -> bool:
        if self.first is None:
            return truth is None
        if truth is None:
            return self.last is None
        return self.first <= truth and (self.last is None or truth <= self.last)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The mean or the spread of one survey: the risk stated that the true value is beyond the
    tolerance, what is decided with a guard band of U, and the truth."""

    what: str
    said_out: bool
    guarded: str
    risk: float
    beyond: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A change that was flagged: does its interval hold the true start, or begin too late?

    ``needless`` : it begins before a good survey at which truly nothing had changed yet.
    """

    kind: str
    held: bool
    width: float
    late: bool
    needless: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """All that is judged of one shop. ``quiet_years`` : platen-years without any change."""

    runs: tuple[Run, ...]
    verdicts: tuple[Verdict, ...]
    starts: tuple[Start, ...]
    missed: int
    quiet_years: float
    false_flags: int


def judged(shop: TrueShop, rng: np.random.Generator) -> Judged:
    """Everything the product says of a shop, against the truth."""
    signals = calibration_signals(
        shop.readings, shop.presses, shop.instruments, as_of_us=T0_US + 5000 * DAY_US,
        default_uncertainty_c=DEFAULT_C)
    changing = [p for p in shop.platens if p.kind in STARTS_OF]
    starts = [start for p in changing for start in _start(p, signals)]
    quiet = [p for p in shop.platens if p.kind == "none"]
    return Judged(
        runs=tuple(_runs(shop, rng)), verdicts=tuple(_verdicts(shop)), starts=tuple(starts),
        missed=len(changing) - len(starts),
        quiet_years=sum(float(np.ptp(p.survey_days)) for p in quiet) / 365.25,
        false_flags=sum(s.press in {p.press for p in quiet} for s in signals),
    )


def _runs(shop: TrueShop, rng: np.random.Generator) -> Iterator[Run]:
    """Each platen once, as of a random survey after its last change with the crossing ahead."""
    chosen = {p: day for p in shop.platens if (day := _moment(p, shop.bias_c, rng)) is not None}
    last_us = shop.readings["press"].map({p.press: _us(day) for p, day in chosen.items()})
    known = shop.readings[shop.readings["measured_at"] <= last_us]
    said = {h.press: h for h in platen_health(
        known, shop.presses, shop.instruments, as_of_us=T0_US + 5000 * DAY_US,
        default_uncertainty_c=DEFAULT_C)}
    for platen, day in chosen.items():
        yield run_of(platen, day, said[platen.press], shop.bias_c)


def _moment(platen: TruePlaten, bias_c: float, rng: np.random.Generator) -> float | None:
    """A survey to be judged at; None where there is none."""
    begins = platen.pieces[-1].day
    days = [
        float(day) for n, day in enumerate(platen.survey_days)
        if n + 1 >= FEWEST_SURVEYS and day > begins and platen.crosses(day, bias_c=bias_c) != day
    ]
    return float(rng.choice(days)) if days else None


def run_of(platen: TruePlaten, day: float, said: PlatenHealth, bias_c: float) -> Run:
    """What was said at a survey beside what comes."""
    def days_ahead(instant_us: int | None) -> float | None:
        return None if instant_us is None else (instant_us - _us(day)) / DAY_US

    def left(crossing: float | None) -> float | None:
        return None if crossing is None else crossing - day

    slope, between = said.slope_interval, said.crosses_between_us
    return Run(
        kind=platen.kind, drifts=platen.slope(day) != 0,
        drift_shown=slope is not None and (slope[0] > 0 or slope[1] < 0),
        said_out=said.offset_c is not None and abs(said.offset_c) > platen.tolerance_c,
        truth=left(platen.crosses(day, bias_c=bias_c)), really=left(platen.crosses(day)),
        says=days_ahead(said.crosses_at_us),
        first=None if between is None else days_ahead(between[0]),
        last=None if between is None else days_ahead(between[1]),
        due=days_ahead(said.due_at_us), check_days=platen.check_days,
    )


def _verdicts(shop: TrueShop) -> Iterator[Verdict]:
    """Every survey of every platen, with the scatter of surveys as known then, and the truth."""
    found = surveys_of(shop.readings)
    pooled = repeatability(found)
    for platen in shop.platens:
        limits = Limits(temperature_tolerance_c=platen.tolerance_c,
                        uniformity_tolerance_c=platen.uniformity_c)
        for survey in found[platen.press, "upper"]:
            day = (survey.at_us - T0_US) / DAY_US
            truth = {"mean": abs(platen.offset(day)) > platen.tolerance_c,
                     "spread": platen.spread(day) > platen.uniformity_c}
            simple, guarded = (conformity(
                survey, limits, probe_standard_c=shop.uncertainty_c / 2, guard=guard,
                offset_sigma_c=pooled.offset_c(survey.at_us),
                point_sigma_c=pooled.point_c(survey.at_us)) for guard in (SIMPLE, GUARDED))
            for one, strict in zip(simple, guarded, strict=True):
                yield Verdict(what=one.what, said_out=one.decision == "out", risk=one.risk,
                              guarded=strict.decision, beyond=truth[one.what])


def _start(platen: TruePlaten, signals: tuple[CalibrationSignal, ...]) -> Iterator[Start]:
    """The first flag about a platen's change, if there is one."""
    mine = [s for s in signals if s.press == platen.press
            and s.characteristic == STARTS_OF[platen.kind]]
    if mine and platen.changes_day is not None:
        yield start_of(platen.kind, platen.changes_day, mine[0])


def start_of(kind: str, changes_day: float, said: CalibrationSignal) -> Start:
    """A flag beside the true start of what it is about."""
    low, high = said.changed_between_us
    truth = _us(changes_day)
    return Start(
        kind=kind, held=low <= truth <= high, width=(high - low) / DAY_US,
        late=low > truth,
        needless=said.last_good_us is not None and low < said.last_good_us < truth,
    )


def _us(day: float) -> int:
    return T0_US + round(day * DAY_US)
