"""The whole way from evidence to flags, most urgent first."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from qc.domain.baselines import BaselineDecision
from qc.domain.flags import Flag, FlagList, StreamDelay
from qc.domain.instants import DAY_US
from qc.domain.platens import CalibrationSignal
from qc.monitor.budget import AlarmBudget
from qc.monitor.chains import united
from qc.monitor.delays import stream_delays, typical_delay
from qc.monitor.evidence import Evidence
from qc.monitor.findings import Finding, defect_finding
from qc.monitor.following import Follower
from qc.monitor.knowledge import known_of
from qc.monitor.measured_findings import calibration_finding, measured_findings
from qc.monitor.readings import Measurements
from qc.monitor.replay import Outcome, replay
from qc.monitor.words import message, next_step

SHORT_HISTORY_DAYS = 14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """The flags with what they rest on: findings by flag id, and the replay."""

    flags: FlagList
    findings: dict[str, Finding]
    outcome: Outcome | None


def scan(
    evidence: Evidence, measurements: tuple[Measurements, ...],
    signals: tuple[CalibrationSignal, ...], budget: AlarmBudget, *, as_of_us: int,
    zone: ZoneInfo, baselines: tuple[BaselineDecision, ...] = (),
    follower: Follower | None = None,
) -> Scan:
    """All flags up to a moment, those that another explains last; with a follower of the shop, from
    where it stands."""
    go_through = replay if follower is None else follower.outcome
    outcome = go_through(evidence, budget, as_of_us=as_of_us, baselines=baselines)
    found, history = [], {}
    if outcome is not None:
        found = [defect_finding(outcome, c) for c in outcome.changes]
        history = {f.id_text: known_of(outcome, c)
                   for f, c in zip(found, outcome.changes, strict=True)}
    found += measured_findings(evidence, measurements, budget, as_of_us=as_of_us)
    found += [calibration_finding(evidence, signal) for signal in signals]
    named = {_id(f): f for f in united(found, history=history, evidence=evidence)}
    flags = [_flag(key, f, evidence, zone) for key, f in named.items()]
    flags.sort(key=lambda f: (not f.is_open, named[f.id].part_of != "", -f.urgency, f.id))
    return Scan(
        flags=_listed(tuple(flags), evidence, outcome, budget, as_of_us), findings=named,
        outcome=outcome,
    )


def _id(finding: Finding) -> str:
    return hashlib.blake2b(finding.id_text.encode(), digest_size=6).hexdigest()


def _flag(key: str, f: Finding, evidence: Evidence, zone: ZoneInfo) -> Flag:
    return Flag(
        id=key, kind=f.kind, characteristic=f.characteristic, direction=f.direction,
        press=f.factor.level if f.factor.name == "press" else None, platen=f.platen, zone=f.zone,
        signalled_at_us=f.signalled_at_us, changed_at_us=f.changed_at_us,
        changed_between_us=(f.low_us, f.high_us), ended_at_us=f.ended_at_us, factor=f.factor,
        other_factors=f.other_factors, before=f.before, after=f.after,
        expected_after=f.expected_after, unit=f.unit,
        pieces_at_risk=n_pieces(evidence, f), also=f.also, message=message(f, zone),
        next_step=next_step(f), urgency=_urgency(f, evidence),
    )


def n_pieces(evidence: Evidence, finding: Finding) -> int:
    """Pieces (counted once, whatever looks they had) that a finding touches."""
    _, first = np.unique(evidence.unit_piece[finding.units], return_index=True)
    return int(evidence.n[finding.units[first]].sum())


def _urgency(f: Finding, evidence: Evidence) -> float:
    """Extra faulty pieces so far, as the common coin; a platen or a setting is worth its pieces
    at an assumed one in fifty."""
    pieces = n_pieces(evidence, f)
    if f.kind == "defect_rate" and f.after is not None and f.expected_after is not None:
        return pieces * max(f.after - f.expected_after, 0.0)
    return pieces / 50


def _listed(
    flags: tuple[Flag, ...], evidence: Evidence, outcome: Outcome | None, budget: AlarmBudget,
    as_of_us: int,
) -> FlagList:
    seen = evidence.seen_us <= as_of_us
    _, first = np.unique(evidence.unit_piece[seen], return_index=True)
    pieces = int(evidence.n[seen][first].sum())
    baseline, n_streams, delay = None, 0, None
    delays: tuple[StreamDelay, ...] = ()
    if outcome is not None:
        baseline = outcome.baseline_us
        n_streams = len(outcome.state.row_factor) * len(evidence.kinds)
        delays = stream_delays(outcome, budget)
        delay = typical_delay(delays)
    return FlagList(
        flags=flags, as_of_us=as_of_us, baseline_us=baseline, n_pieces=pieces,
        n_streams=n_streams, false_flags_per_week=budget.false_flags_per_week,
        doubling_delay_days=delay, delays=delays, cautions=_cautions(evidence, outcome, pieces),
    )


def _cautions(evidence: Evidence, outcome: Outcome | None, pieces: int) -> tuple[str, ...]:
    said = []
    if outcome is None or pieces == 0:
        return ("No inspected pieces yet: nothing can be flagged.",)
    starts = outcome.state.slot_start_us
    days = (starts[-1] - starts[0]) / DAY_US
    if days < SHORT_HISTORY_DAYS:
        said.append(
            f"Only {history_words(days)} of records: usual rates are uncertain and only large "
            "changes can be told from luck."
        )
    for name in ("operator", "transfer_lot"):
        if name not in evidence.factors:
            words = name.replace("_", " ")
            said.append(f"No {words} is recorded, so none can be found as the cause.")
    if not evidence.job.levels:
        said.append("No job is recorded: a run of like work at one press stands for one.")
    return tuple(said)


def history_words(days: float) -> str:
    """How long records reach back; less than a day is called one."""
    whole = round(days)
    return "a day" if whole <= 1 else f"{whole} days"
