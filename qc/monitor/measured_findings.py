"""Shifts of measured streams and signals of platens, as findings."""

from __future__ import annotations

import numpy as np

from qc.domain.flags import FactorShare
from qc.domain.platens import CalibrationSignal
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import Evidence, Floats, Ints
from qc.monitor.findings import Finding, level_name
from qc.monitor.measured import Shift, find_shifts, start_interval
from qc.monitor.readings import Measurements, Readings, gather_readings

ONSET_LOOK_BACK = 60
"""Readings before the best start that the interval of the start may reach into."""


CALIBRATION_GAIN = 20.0
"""What a platen at its tolerance weighs beside other findings; only their order matters."""


def measured_findings(
    evidence: Evidence, measurements: tuple[Measurements, ...], budget: AlarmBudget, *,
    as_of_us: int,
) -> list[Finding]:
    """All shifts of all measured characteristics."""
    found = []
    for one in measurements:
        readings = gather_readings(evidence, one)
        shifts = find_shifts(
            readings, one.characteristic, budget, as_of_us=as_of_us,
            n_characteristics=len(measurements),
        )
        found += [_finding(evidence, one, readings, shift) for shift in shifts]
    return found


def _finding(
    evidence: Evidence, measurements: Measurements, readings: Readings, shift: Shift
) -> Finding:
    characteristic = measurements.characteristic
    level = level_name(evidence, shift.factor, shift.level)
    low_us, changed_us, high_us, ended_us = _when(readings, shift)
    mine = evidence.factors[shift.factor].codes[measurements.unit] == shift.level
    pressed = evidence.pressed_us[measurements.unit]
    last = ended_us if ended_us is not None else np.iinfo(np.int64).max
    since = mine & (pressed >= changed_us) & (pressed <= last)
    placed = characteristic.kind == "placement"
    before = _mean(measurements.value[mine & (pressed < changed_us)])
    signalled_us = int(
        readings.seen_us[readings.seen_slot == readings.seen_slot[shift.signalled]].max()
    )
    return Finding(
        id_text=f"{characteristic.kind}|{characteristic.name}|{shift.factor}|{level}"
                f"|{signalled_us}",
        kind=characteristic.kind, characteristic=characteristic.name,
        direction="up" if shift.shift > 0 else "down", zone=None, platen=None,
        signalled_at_us=signalled_us, changed_at_us=changed_us, low_us=low_us, high_us=high_us,
        ended_at_us=ended_us, factor=_shares(evidence, shift)[0],
        other_factors=_shares(evidence, shift)[1:], before=before,
        after=_mean(measurements.value[since]),
        expected_after=before if placed else _mean(measurements.target[since]),
        unit=characteristic.unit, gain=0.5 * shift.rivals[0].z ** 2,
        units=_touched(evidence, shift, low_us, ended_us),
    )


def _when(readings: Readings, shift: Shift) -> tuple[int, int, int, int | None]:
    mine = np.flatnonzero(readings.level[shift.factor] == shift.level)
    begin = int(np.searchsorted(mine, shift.start))
    stop = len(mine) if shift.end is None else int(np.searchsorted(mine, shift.end, "right"))
    reach = max(begin - ONSET_LOOK_BACK, 0)
    value = readings.value[mine[reach:stop]]
    before = float(np.median(readings.value[mine[reach:begin]])) if begin > reach else 0.0
    sigma = max(float(np.std(value[begin - reach :])), abs(shift.shift) / 8, 1e-9)
    low, high = start_interval(value, before, shift.shift, sigma)
    pressed = readings.pressed_us[mine]
    ended = None if shift.end is None else int(pressed[stop - 1])
    low_us = int(pressed[max(reach + min(low, begin - reach) - 1, 0)])
    high_us = int(pressed[max(reach + high, begin)])
    return low_us, int(pressed[begin]), high_us, ended


def _shares(evidence: Evidence, shift: Shift) -> tuple[FactorShare, ...]:
    score = np.array([rival.score for rival in shift.rivals])
    weight = np.exp(score - score.max())
    weight = weight / weight.sum()
    return tuple(
        FactorShare(
            name=r.factor, level=level_name(evidence, r.factor, r.level), weight=float(w)
        )
        for r, w in zip(shift.rivals, weight, strict=True)
    )


def _touched(evidence: Evidence, shift: Shift, low_us: int, ended_us: int | None) -> Ints:
    mine = evidence.factors[shift.factor].codes == shift.level
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
