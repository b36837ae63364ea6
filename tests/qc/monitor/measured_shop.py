"""An invented shop seen through its measurements alone: jobs, people, presses, readings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from qc.domain.instants import DAY_US, HOUR_US
from qc.monitor.evidence import Coded, Evidence
from qc.monitor.readings import CHARACTERISTICS, Measurements

START_US = 1_772_323_200_000_000  # 2026-03-01 00:00 UTC, a Sunday
MINUTE_US = HOUR_US // 60
BY_NAME = {c.name: c for c in CHARACTERISTICS}
PLACEMENT = ("dx_mm", "dy_mm", "rotation_deg")
WITHIN = {"dx_mm": 1.5, "dy_mm": 1.7, "rotation_deg": 0.45, "temperature_c": 0.5,
          "dwell_s": 0.1, "pressure_kpa": 3.0}
"""Standard deviation of one measurement about its job's, invented."""

TARGET = {"temperature_c": 155.0, "dwell_s": 15.0, "pressure_kpa": 300.0}
BETWEEN_SHARE = 0.5
"""Standard deviation of a job about its press and person, in that of a measurement."""

JOB_SD = {"temperature_c": 0.7, "dwell_s": 0.2, "pressure_kpa": 5.0}
"""Where it is not that share: a setting is made once for a job and shown ever since."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredShop:
    """How much of what: five pieces an hour measured at each press, or every one. ``slips`` :
    share of measurements far off; ``tails`` : degrees of freedom of a t instead of a normal;
    ``late`` : share of pieces that are looked at a day or two later; ``level_sd`` : how far
    presses, people and places honestly differ, in sigmas of a measurement."""

    days: int = 75
    jobs_a_day: float = 4.6
    n_presses: int = 6
    n_people: int = 7
    n_fabrics: int = 6
    n_places: int = 4
    home_share: float = 0.6
    pieces_an_hour: float = 40.0
    every_piece: bool = False
    slips: float = 0.0
    tails: float | None = None
    missing_person: float = 0.01
    level_sd: float = 0.0
    late: float = 0.0


def evidence_of(shop: MeasuredShop, rng: np.random.Generator) -> Evidence:
    """The pieces that were measured, one unit each, with all their factors."""
    n_jobs = rng.poisson(shop.jobs_a_day * shop.days * 6 / 7)
    day = np.sort(rng.choice([d for d in range(shop.days) if d % 7 != 0], n_jobs))
    size = np.clip(rng.lognormal(np.log(58), 0.45, n_jobs), 20, 200).astype(int)
    press = rng.integers(0, shop.n_presses, n_jobs)
    begin = START_US + day * DAY_US + (rng.uniform(7, 17, n_jobs) * HOUR_US).astype(np.int64)
    each = HOUR_US / shop.pieces_an_hour
    kept = np.maximum(size if shop.every_piece else np.ceil(size / shop.pieces_an_hour * 5), 1)
    kept = kept.astype(int)
    job = np.repeat(np.arange(n_jobs), kept)
    within = np.arange(len(job)) - np.repeat(np.cumsum(kept) - kept, kept)
    pressed = begin[job] + (within * (size / kept)[job] * each).astype(np.int64)
    spare = rng.random(n_jobs) >= shop.n_presses / shop.n_people
    home = np.where(spare, shop.n_people - 1, press % shop.n_people)
    anyone = rng.integers(0, shop.n_people, n_jobs)
    person = np.where(rng.random(n_jobs) < shop.home_share, home, anyone)
    named = np.where(rng.random(len(job)) < shop.missing_person, -1, person[job])
    fabric, place = (rng.integers(0, k, n_jobs)[job] for k in (shop.n_fabrics, shop.n_places))
    codes = {
        "press": (press[job], shop.n_presses), "operator": (named, shop.n_people),
        "station": (press[job] * 2 + rng.integers(0, 2, n_jobs)[job], 2 * shop.n_presses),
        "fabric": (fabric, shop.n_fabrics),
        "transfer": (rng.integers(0, 5, n_jobs)[job], 5), "location": (place, shop.n_places),
        "size": (rng.integers(0, 5, len(job)), 5), "shop": (np.zeros(len(job), np.int64), 1),
    }
    nothing = np.zeros(0, dtype=np.int64)
    seen = pressed + 5 * MINUTE_US
    if shop.late:
        late = rng.random(len(job)) < shop.late
        seen[late] += (rng.uniform(0.8, 2.2, int(late.sum())) * DAY_US).astype(np.int64)
    jobs = Coded(codes=job, levels=_names("J", n_jobs))
    return Evidence(
        pressed_us=pressed, seen_us=seen, n=np.ones(len(job)),
        unit_piece=np.arange(len(job)), cell=np.zeros(len(job), dtype=np.int64),
        cell_codes=np.zeros((1, 4), dtype=np.int64), cell_levels=((), (), (), ()),
        factors={name: Coded(codes=at.astype(np.int64), levels=_names(name, n))
                 for name, (at, n) in codes.items()},
        job=jobs, run=jobs, kinds=(), fault_unit=nothing, fault_kind=nothing,
        fault_n=np.zeros(0), fault_seen_us=nothing, zoned_unit=nothing, zoned_kind=nothing,
        zoned_zone=nothing, zoned_n=np.zeros(0), zoned_seen_us=nothing,
    )


def _names(name: str, n: int) -> tuple[str, ...]:
    return tuple(f"{name}{k:05d}" for k in range(n))


def measured(
    evidence: Evidence, names: tuple[str, ...], shop: MeasuredShop, rng: np.random.Generator
) -> dict[str, npt.NDArray[np.float64]]:
    """Values of some characteristics by unit, honest: jobs differ, measurements differ."""
    out = {}
    for name in names:
        within = WITHIN[name]
        between = JOB_SD.get(name, BETWEEN_SHARE * within)
        noise = rng.normal(size=len(evidence.n)) if shop.tails is None else (
            rng.standard_t(shop.tails, len(evidence.n)) / np.sqrt(shop.tails / (shop.tails - 2))
        )
        value = TARGET.get(name, 0.0) + within * noise
        value += rng.normal(0, between, len(evidence.job.levels))[evidence.job.codes]
        for factor in ("press", "operator", "location"):
            codes = evidence.factors[factor].codes
            offset = rng.normal(0, shop.level_sd * within, len(evidence.factors[factor].levels))
            value += np.where(codes >= 0, offset[codes], 0.0)
        slip = rng.random(len(value)) < shop.slips
        value[slip] += rng.choice([-1, 1], int(slip.sum())) * 15 * within
        out[name] = value
    return out


def measurements(
    values: dict[str, npt.NDArray[np.float64]]
) -> tuple[Measurements, ...]:
    """As the desk hands them over; a blank is nan."""
    out = []
    for name, value in values.items():
        unit = np.flatnonzero(~np.isnan(value))
        out.append(Measurements(
            characteristic=BY_NAME[name], unit=unit, value=value[unit],
            target=np.full(len(unit), TARGET.get(name, 0.0)),
        ))
    return tuple(out)


def seen_until(evidence: Evidence, as_of_us: int) -> Evidence:
    """The evidence as it was at a moment."""
    kept = np.flatnonzero(evidence.seen_us <= as_of_us)
    return replace(
        evidence, pressed_us=evidence.pressed_us[kept], seen_us=evidence.seen_us[kept],
        n=evidence.n[kept], unit_piece=np.arange(len(kept)), cell=evidence.cell[kept],
        factors={name: coded.take(kept) for name, coded in evidence.factors.items()},
        job=evidence.job.take(kept), run=evidence.run.take(kept),
    )
