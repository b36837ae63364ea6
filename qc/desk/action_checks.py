"""The check of an action: from the shop's records to whether the fault's rate came back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.desk.evidence import measurements_of
from qc.desk.flag_words import units_of_shop
from qc.desk.presses import press_health
from qc.desk.scanning import Scanned, scanned
from qc.desk.shop import Shop
from qc.domain.action_checks import ActionCheck, Phase, in_units
from qc.domain.cases import OTHER_CAUSES, CaseFile
from qc.domain.counting import LOOKS, CountedPieces
from qc.domain.flags import Flag
from qc.monitor.after_action import AfterAction, Counted, check_mean, check_rate, clumping
from qc.monitor.evidence import Evidence
from qc.monitor.mix import PieceFaults, expected_faults, observed_faults
from qc.monitor.readings import Measurements
from qc.stats.comparing.intervals import wilson_interval

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

LOT_OF = {"transfer_lot": "transfer", "garment_lot": "fabric"}
"""A lot that was set aside is not pressed again: the other lots of the same are looked at."""
SCALED = (1 / 3, 3.0)
"""Our rates are brought to the flag's own usual rate when they differ by no more than this."""
LOT_CAUTION = "judged on everything pressed of the same {what} since, whatever the lot"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Phases:
    """Which pieces belong to the flagged stream before, during and after."""

    before: Bools
    during: Bools
    after: Bools
    spans: tuple[tuple[int, int], ...]

    def each(self) -> tuple[tuple[str, Bools, tuple[int, int]], ...]:
        parts = (self.before, self.during, self.after)
        return tuple(zip(("before", "during", "after"), parts, self.spans, strict=True))


def action_check(shop: Shop, case: CaseFile, *, as_of_us: int) -> ActionCheck | None:
    """Did the newest action of a case work? None where nothing was to be put right, or no action
    was taken yet. In the units the shop reads."""
    done_us, cause = case.done_us, case.cause
    if done_us is None or (cause is not None and cause["source"] in OTHER_CAUSES):
        return None
    flag = case.flag
    if flag.kind == "calibration":
        return _platen_check(shop, flag, done_us, as_of_us)
    found = scanned(shop, as_of_us)
    phases = _phases(found, flag, done_us, as_of_us)
    if phases is None or not phases.during.any():
        return _no_answer(done_us, "no piece of the fault itself is on record before the action")
    if flag.kind == "defect_rate":
        return _rate_check(found, flag, phases, done_us)
    check = _mean_check(shop, found, flag, phases, done_us=done_us, as_of_us=as_of_us)
    return in_units(check, units_of_shop(shop))


def _no_answer(done_us: int, reason: str) -> ActionCheck:
    return ActionCheck(verdict="no_answer", since_us=done_us, reason=reason)


def _phases(found: Scanned, flag: Flag, done_us: int, as_of_us: int) -> _Phases | None:
    pieces = found.counted.pieces
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)
    mine = _members(found.evidence, flag, len(pieces))
    if mine is None:
        return None
    scope = _scope(pieces, flag, mine)
    low, stop = flag.changed_between_us[0], min(done_us, flag.ended_at_us or done_us)
    first = int(pressed.min(initial=low))
    return _Phases(
        before=mine & (pressed < low),
        during=mine & (pressed >= flag.changed_at_us) & (pressed < done_us) & (pressed <= stop),
        after=scope & (pressed >= done_us),
        spans=((first, low), (flag.changed_at_us, stop), (done_us, as_of_us)),
    )


def _members(evidence: Evidence, flag: Flag, n_pieces: int) -> Bools | None:
    """The pieces of the flagged level; None where the records have no such level."""
    if flag.factor.name in ("shop", "zone"):
        return np.ones(n_pieces, dtype=bool)
    coded = evidence.factors.get(flag.factor.name)
    if coded is None or flag.factor.level not in coded.levels:
        return None
    mine = np.zeros(n_pieces, dtype=bool)
    mine[evidence.unit_piece[coded.codes == coded.levels.index(flag.factor.level)]] = True
    return mine


def _scope(pieces: pd.DataFrame, flag: Flag, mine: Bools) -> Bools:
    column = LOT_OF.get(flag.factor.name)
    if column is None:
        return mine
    values = pieces[column].astype(object)
    return np.asarray(values.isin(values[mine].unique()))


def _rate_check(found: Scanned, flag: Flag, phases: _Phases, done_us: int) -> ActionCheck:
    counted = found.counted
    pieces = _piece_faults(counted, flag)
    pressed = counted.pieces["pressed_at"].to_numpy(dtype=np.int64)
    seen = observed_faults(pieces)
    expected = expected_faults(pieces, base=pressed < flag.changed_between_us[0])
    expected = expected * _scale(flag, pieces.n, expected, phases.during)
    parts = [_counted(seen, expected, pieces.n, part) for _, part, _ in phases.each()]
    if parts[1].expected <= 0:
        return _no_answer(done_us, "nothing comparable was pressed before the fault")
    job = np.full(len(pressed), -1, dtype=np.int64)  # a piece that nobody has looked at has none
    job[found.evidence.unit_piece] = found.evidence.run.codes
    clump = _clump(job, phases, seen, expected, parts)
    made = check_rate(*parts, clump=clump)
    return _answer(made, flag, done_us, is_count=True, unit="share", phases=tuple(
        _share_phase(name, span, part)
        for (name, _, span), part in zip(phases.each(), parts, strict=True)))


def _piece_faults(counted: CountedPieces, flag: Flag) -> PieceFaults:
    pieces = counted.pieces
    zone = flag.zone or (flag.factor.level if flag.factor.name == "zone" else None)
    faults = counted.kinds if zone is None else counted.faults[counted.faults["zone"] == zone]
    faults = faults[faults["kind"] == flag.characteristic]
    cell = pieces.groupby(["fabric", "transfer", "location"], dropna=False, observed=True,
                          sort=False).ngroup()
    return PieceFaults(
        cell=np.asarray(cell, dtype=np.int64),
        had=np.stack([pieces[f"had_{look}"].to_numpy(dtype=bool) for look in LOOKS], axis=1),
        n=pieces["n"].to_numpy(dtype=np.float64), at=faults["at"].to_numpy(dtype=np.int64),
        look=np.asarray(faults["look"].map({look: i for i, look in enumerate(LOOKS)}),
                        dtype=np.int64),
        count=faults["n"].to_numpy(dtype=np.float64),
    )


def _scale(flag: Flag, n: Floats, expected: Floats, during: Bools) -> float:
    ours = float(expected[during].sum())
    if flag.expected_after is None or ours <= 0:
        return 1.0
    scale = flag.expected_after * float(n[during].sum()) / ours
    return scale if SCALED[0] <= scale <= SCALED[1] else 1.0


def _counted(seen: Floats, expected: Floats, n: Floats, part: Bools) -> Counted:
    return Counted(seen=float(seen[part].sum()), expected=float(expected[part].sum()),
                   n_pieces=float(n[part].sum()))


def _clump(
    job: Ints, phases: _Phases, seen: Floats, expected: Floats, parts: list[Counted]
) -> float:
    """Variance over mean of the faults of jobs like those since the action, at the raised rate."""
    ratio = [part.seen / part.expected if part.expected > 0 else 1.0 for part in parts]
    known, sizes = [], []
    for (_, mask, _), rate in zip(phases.each(), ratio, strict=True):
        chosen = np.flatnonzero(mask & (job >= 0))
        by_job = pd.DataFrame({"job": job[chosen], "seen": seen[chosen],
                               "usual": expected[chosen]}).groupby("job").sum()
        known.append(by_job.assign(expected=rate * by_job["usual"]))
        sizes.append(by_job["usual"].to_numpy() * ratio[1])
    together = pd.concat(known)
    like = sizes[2] if sizes[2].sum() > 0 else sizes[1]
    return clumping(together["seen"].to_numpy(), together["expected"].to_numpy(), like)


def _share_phase(name: str, span: tuple[int, int], part: Counted) -> Phase:
    n = round(part.n_pieces)
    if n == 0:
        return _phase(name, span, 0, (np.nan,) * 3, np.nan)
    interval = wilson_interval(min(round(part.seen), n), n)
    ends = (float(interval.share), float(interval.low), float(interval.high))
    return _phase(name, span, n, ends, part.expected / part.n_pieces)


def _phase(name: str, span: tuple[int, int], n: int, ends: tuple[float, ...], usual: float
           ) -> Phase:
    value, low, high = ends
    return Phase(name=name, since_us=span[0], until_us=span[1], n_pieces=n, value=value, low=low,
                 high=high, usual=usual)


def _mean_check(
    shop: Shop, found: Scanned, flag: Flag, phases: _Phases, *, done_us: int, as_of_us: int
) -> ActionCheck:
    measured = next((m for m in measurements_of(shop, found.counted, found.evidence,
                                                as_of_us=as_of_us)
                     if m.characteristic.name == flag.characteristic), None)
    if measured is None:
        return _no_answer(done_us, "this is not measured on pieces")
    groups = [_group_means(measured, found, part) for _, part, _ in phases.each()]
    n_pieces = [n for n, _ in groups]
    made = check_mean(*(means for _, means in groups), n_pieces=n_pieces[2])
    if made is None:
        return _no_answer(done_us, "too few jobs were measured before the action")
    unit = "share" if measured.characteristic.relative else measured.characteristic.unit
    return _answer(made, flag, done_us, is_count=False, unit=unit, phases=tuple(
        _mean_phase(name, span, n, means, made.usual)
        for (name, _, span), (n, means) in zip(phases.each(), groups, strict=True)))


def _group_means(measured: Measurements, found: Scanned, part: Bools) -> tuple[int, Floats]:
    """Pieces measured, and the mean deviation of each job, or run of work without one."""
    evidence = found.evidence
    inside = part[evidence.unit_piece[measured.unit]]
    unit = measured.unit[inside]
    group = pd.factorize(evidence.run.codes[unit])[0]
    n = np.bincount(group)
    means = np.bincount(group, weights=measured.deviation[inside]) / np.maximum(n, 1)
    return len(unit), means.astype(np.float64)


def _mean_phase(
    name: str, span: tuple[int, int], n: int, means: Floats, usual: float
) -> Phase:
    if len(means) == 0:
        return _phase(name, span, 0, (np.nan,) * 3, usual)
    mean = float(means.mean())
    reach = 1.96 * float(means.std(ddof=1)) / np.sqrt(len(means)) if len(means) > 1 else np.nan
    return _phase(name, span, n, (mean, mean - reach, mean + reach), usual)


def _answer(
    made: AfterAction, flag: Flag, done_us: int, *, is_count: bool, unit: str,
    phases: tuple[Phase, ...],
) -> ActionCheck:
    cautions = [caution.value for caution in made.cautions]
    if flag.factor.name in LOT_OF:
        cautions.append(LOT_CAUTION.format(what=LOT_OF[flag.factor.name]))
    return ActionCheck(
        verdict=made.verdict.value, since_us=done_us, is_count=is_count, unit=unit,
        seen=made.value, usual=made.usual, raised=made.raised, n_pieces=made.n_pieces,
        n_more=made.n_more, risk=made.risk, phases=phases, method=made.method,
        cautions=tuple(cautions),
    )


def _platen_check(shop: Shop, flag: Flag, done_us: int, as_of_us: int) -> ActionCheck:
    """A platen is back when a survey after the action shows it within its tolerance."""
    health = next((one for one in press_health(shop, as_of_us=as_of_us)
                   if (one.press, one.platen) == (flag.press, flag.platen)), None)
    surveyed = health.last_survey_at_us if health else None
    if health is None or surveyed is None or surveyed < done_us:
        return ActionCheck(verdict="too_early", since_us=done_us, is_count=False, unit="degC",
                           reason="no survey of this platen since; one survey decides it")
    verdict = "not_back" if health.state == "recalibrate" else "came_back"
    return ActionCheck(verdict=verdict, since_us=done_us, is_count=False, unit="degC",
                       reason=health.reason, method="survey after the action against the tolerance")
