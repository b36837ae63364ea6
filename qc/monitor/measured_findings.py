"""Shifts of measured streams and signals of platens, as findings."""

from __future__ import annotations

import numpy as np

from qc.domain.flags import FactorShare
from qc.domain.platens import CalibrationSignal
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US, Bools, Evidence, Floats, Ints
from qc.monitor.findings import IDLE_SLOTS, Finding, level_name
from qc.monitor.measured import Watched, find_shifts
from qc.monitor.measured_shifts import Shift, touched
from qc.monitor.measured_start import Sized, sized
from qc.monitor.readings import (
    CHARACTERISTICS,
    Measurements,
    gather_readings,
    reading_groups,
    streams_together,
)

N_GROUPS = len({c.name if c.kind == "setting" else c.kind for c in CHARACTERISTICS})
"""Groups that share the measured part of the budget: each setting, and placement."""

WORTH_SAYING = 0.5
"""Part of the least change from which a further direction is said to have moved too."""

JOB_IDLE_SLOTS = 6
"""Slots of work after which a job that is not seen is done."""

CALIBRATION_GAIN = 20.0
"""What a platen at its tolerance weighs beside other findings; only their order matters."""


def measured_findings(
    evidence: Evidence, measurements: tuple[Measurements, ...], budget: AlarmBudget, *,
    as_of_us: int,
) -> list[Finding]:
    """All shifts of all measured characteristics."""
    found = []
    groups: dict[str, Ints] = {}
    for together in streams_together(measurements):
        kind = together[0].characteristic.kind
        if kind not in groups:
            groups[kind] = reading_groups(evidence, kind)
        readings = gather_readings(evidence, together, groups[kind])
        watched = find_shifts(
            readings, tuple(m.characteristic for m in together), budget, as_of_us=as_of_us,
            n_groups=N_GROUPS,
        )
        found += [
            _finding(evidence, together, watched, shift)
            for shift in watched.shifts if not shift.absorbed
        ]
    return found


def _finding(
    evidence: Evidence, together: tuple[Measurements, ...], watched: Watched, shift: Shift
) -> Finding:
    readings = watched.readings
    size = sized(watched, shift)
    moved = _moved(together, size)
    main = together[moved[0]]
    placed = main.characteristic.kind == "placement"
    changed_us, ended_us = int(readings.pressed_us[size.first]), _ended(watched, shift)
    low_us = int(readings.pressed_us[size.before])
    high_us = int(max(readings.pressed_last_us[size.high], changed_us))
    mine = _codes(evidence, shift.factor)[main.unit] == shift.level
    pressed = evidence.pressed_us[main.unit]
    since = mine & (pressed >= changed_us)
    if ended_us is not None:
        since &= pressed <= ended_us
    before = _mean(main.value[mine & (pressed < changed_us)])
    signalled_us = _signalled(watched, shift)
    shares = _shares(evidence, shift)
    return Finding(
        id_text=f"{main.characteristic.kind}|{_watched_name(together)}|{shift.first[0]}"
                f"|{_level_name(evidence, *shift.first)}|{signalled_us}",
        kind=main.characteristic.kind, characteristic=main.characteristic.name,
        direction="up" if size.amount[moved[0]] > 0 else "down", zone=None, platen=None,
        signalled_at_us=signalled_us, changed_at_us=min(max(changed_us, low_us), signalled_us),
        low_us=low_us, high_us=min(high_us, signalled_us), ended_at_us=ended_us,
        factor=shares[0], other_factors=shares[1:], before=before,
        after=_mean(main.value[since]),
        expected_after=before if placed else _mean(main.target[since]),
        unit=main.characteristic.unit, gain=0.5 * shift.rivals[0].t2,
        units=_touched(evidence, shift, low_us, ended_us),
        also=tuple(together[k].characteristic.name for k in moved[1:]),
        shift=tuple(_in_unit(together[k], size, k, since) for k in moved),
    )


def _signalled(watched: Watched, shift: Shift) -> int:
    """The end of the slot that gave the signal: from then on the flag is there."""
    return (int(watched.readings.seen_slot[shift.signalled]) + 1) * SLOT_US


def _watched_name(together: tuple[Measurements, ...]) -> str:
    """What is watched, the same however many directions have been measured yet."""
    characteristic = together[0].characteristic
    return "placement" if characteristic.kind == "placement" else characteristic.name


def _moved(together: tuple[Measurements, ...], size: Sized) -> list[int]:
    """Characteristics that moved, the one that moved most first."""
    low, high = size.interval
    least = np.array([m.characteristic.least for m in together])
    sure = (low > 0) | (high < 0)
    enough = np.abs(size.amount) >= WORTH_SAYING * least
    order = np.argsort(-size.in_sigmas, kind="stable")
    return [int(k) for at, k in enumerate(order) if at == 0 or (sure[k] and enough[k])]


def _in_unit(
    one: Measurements, size: Sized, k: int, since: Bools
) -> tuple[str, float, float, float]:
    """A characteristic's shift in the unit it is recorded in."""
    characteristic = one.characteristic
    scale = 1.0
    if characteristic.relative:
        scale = float(one.target[since].mean()) if since.any() else float(one.target.mean())
    low, high = size.interval
    return (
        characteristic.name, float(size.amount[k] * scale), float(low[k] * scale),
        float(high[k] * scale),
    )


def _codes(evidence: Evidence, factor: str) -> Ints:
    return evidence.job.codes if factor == "job" else evidence.factors[factor].codes


def _level_name(evidence: Evidence, factor: str, level: int) -> str | None:
    if factor == "job":
        return evidence.job.levels[level]
    return level_name(evidence, factor, level)


def _ended(watched: Watched, shift: Shift) -> int | None:
    """Last pressing of a shift that went back, or whose level is no longer at work."""
    readings, final = watched.readings, watched.final
    mine = np.flatnonzero(touched(readings, shift))
    last = int(readings.pressed_last_us[mine].max())
    if shift.end is not None:
        return last
    slots = np.unique(readings.seen_slot[: final.part.stop if final else 0])
    idle = len(slots) - np.searchsorted(slots, readings.seen_slot[mine[-1]], side="right")
    return last if idle > (IDLE_SLOTS if shift.factor != "job" else JOB_IDLE_SLOTS) else None


def _shares(evidence: Evidence, shift: Shift) -> tuple[FactorShare, ...]:
    score = np.array([rival.score for rival in shift.rivals])
    weight = np.exp(score - score.max())
    weight = weight / weight.sum()
    return tuple(
        FactorShare(
            name=r.factor, level=_level_name(evidence, r.factor, r.level), weight=float(w)
        )
        for r, w in zip(shift.rivals, weight, strict=True)
    )


def _touched(evidence: Evidence, shift: Shift, low_us: int, ended_us: int | None) -> Ints:
    mine = _codes(evidence, shift.factor) == shift.level
    inside = mine & (evidence.pressed_us >= low_us)
    if ended_us is not None:
        inside &= evidence.pressed_us <= ended_us
    return np.flatnonzero(inside)


def _mean(values: Floats) -> float | None:
    return float(values.mean()) if len(values) else None


def calibration_finding(evidence: Evidence, signal: CalibrationSignal) -> Finding:
    """A platen's signal with the pieces pressed on it since it was last known to be good."""
    since = signal.changed_between_us[0]
    if signal.last_good_us is not None:
        since = min(since, signal.last_good_us)
    press = evidence.factors.get("press")
    units = np.zeros(0, dtype=np.int64)
    if press is not None and signal.press in press.levels:
        inside = press.codes == press.levels.index(signal.press)
        inside &= evidence.pressed_us >= since
        if signal.ended_at_us is not None:
            inside &= evidence.pressed_us <= signal.ended_at_us
        units = np.flatnonzero(inside)
    return Finding(
        id_text=f"calibration|{signal.characteristic}|{signal.press}|{signal.platen}"
                f"|{signal.signalled_at_us}",
        kind="calibration", characteristic=signal.characteristic, direction=signal.direction,
        zone=None, platen=signal.platen, signalled_at_us=signal.signalled_at_us,
        changed_at_us=signal.changed_at_us, low_us=signal.changed_between_us[0],
        high_us=signal.changed_between_us[1], ended_at_us=signal.ended_at_us,
        factor=FactorShare(name="press", level=signal.press, weight=1.0), other_factors=(),
        before=signal.before, after=signal.after, expected_after=signal.before, unit="degC",
        gain=CALIBRATION_GAIN * abs(signal.after) / max(signal.tolerance_c, 0.1), units=units,
    )
