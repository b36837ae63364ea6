"""The work of an invented shop: which piece was pressed when, where, by whom, of what.

Nothing here knows of defects. A fault planted later never changes the plan, so that a shop with
and without it can be compared piece by piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import numpy.typing as npt

from demo_data.lots import lot_codes
from demo_data.spec import ShopSpec
from qc.domain.instants import DAY_US, SECOND_US, to_us

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

OPENS_S = 7 * 3600 + 300
OPEN_S = 12 * 3600 + 2700
LATE_SHIFT_S = 14 * 3600
CLOSES_S = 20 * 3600
SIZES = ("S", "M", "L", "XL", "2XL")
SIZE_SHARES = (0.15, 0.30, 0.30, 0.17, 0.08)
JOB_PIECES = (30, 200)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Pieces in the order of their jobs.

    ``code[factor]`` : (pieces,) positions into ``names[factor]``, -1 where there is none, for
    press, station, fabric, transfer, location, job, operator, transfer_lot, garment_lot, size.
    Instants are microseconds UTC; ``in_job`` numbers the pieces of a job from 1. ``midnights_us``
    are the local midnights of the days 0, 1, ... of the shop.
    """

    code: dict[str, Ints]
    names: dict[str, tuple[str, ...]]
    pressed_us: Ints
    inspected_us: Ints
    in_job: Ints
    midnights_us: Ints
    end_us: int

    @property
    def n(self) -> int:
        return len(self.pressed_us)

    @property
    def start_us(self) -> int:
        return int(self.midnights_us[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Jobs:
    """One entry for each job: what, where, how many, when (seconds of its day), at which pace."""

    size: Ints
    fabric: Ints
    transfer: Ints
    location: Ints
    press: Ints
    day: Ints
    start_s: Floats
    cycle_s: Floats


def make_plan(spec: ShopSpec, rng: np.random.Generator) -> Plan:
    """The work of all days."""
    midnights = midnights_of(spec)
    jobs = _all_jobs(spec, rng)
    job = np.repeat(np.arange(len(jobs.size)), jobs.size)
    in_job = np.arange(len(job)) - np.repeat(np.cumsum(jobs.size) - jobs.size, jobs.size)
    wall_s = _wall_clock(spec, _work_seconds(jobs, job, in_job, rng))
    pressed = midnights[jobs.day[job]] + (wall_s * SECOND_US).astype(np.int64)
    pressed -= pressed % SECOND_US
    end_us = end_of(spec)
    checked = (rng.gamma(3.0, 180.0, len(job)) + 90).astype(np.int64) * SECOND_US
    code, names = _codes(spec, jobs, job, in_job, rng)
    at_day = (pressed - midnights[0]) / DAY_US
    for factor, of, things, letters in (
        ("transfer_lot", "transfer", spec.transfers, "T"),
        ("garment_lot", "fabric", spec.fabrics, "G"),
    ):
        drawn = lot_codes(
            spec, [(x.code, x.lot_days) for x in things], code[of], at_day, job, letters, rng)
        code[factor], names[factor] = drawn
    return Plan(
        code=code, names=names, pressed_us=pressed, inspected_us=np.minimum(
            pressed + checked, end_us), in_job=in_job + 1, midnights_us=midnights, end_us=end_us,
    )


def first_day(spec: ShopSpec) -> date:
    """The date of day 0."""
    return spec.until - timedelta(days=spec.days - 1)


def midnights_of(spec: ShopSpec) -> Ints:
    """Local midnight of each day, microseconds UTC; a clock change makes a day longer."""
    days = (first_day(spec) + timedelta(days=n) for n in range(spec.days))
    return np.array([
        to_us(datetime(d.year, d.month, d.day, tzinfo=spec.tz)) for d in days
    ])


def end_of(spec: ShopSpec) -> int:
    """Closing time of the last day, microseconds UTC."""
    return int(midnights_of(spec)[-1]) + CLOSES_S * SECOND_US


def working_days(spec: ShopSpec) -> list[int]:
    """Days the shop works: all but Sundays."""
    start = first_day(spec).weekday()
    return [day for day in range(spec.days) if (start + day) % 7 != 6]


def mix_of_days(spec: ShopSpec) -> tuple[Ints, Floats]:
    """Combinations (n, 3) of fabric, transfer, location, and their shares (days, n)."""
    places = {place.code: at for at, place in enumerate(spec.locations)}
    combos = [
        (f, t, places[code])
        for f in range(len(spec.fabrics))
        for t, transfer in enumerate(spec.transfers) for code in transfer.locations
    ]
    share = np.array([
        spec.fabrics[f].share * spec.transfers[t].share / len(spec.transfers[t].locations)
        for f, t, _ in combos
    ])
    shares = np.tile(share / share.sum(), (spec.days, 1))
    for change in (fault for fault in spec.faults if fault.kind == "mix_change"):
        mine = np.array([spec.fabrics[f].code == change.level for f, _, _ in combos])
        until = change.until_day if change.until_day is not None else spec.days
        days = slice(int(change.day), int(until))
        part = shares[days][:, mine].sum(axis=1, keepdims=True)
        wanted = np.minimum(part * change.ratio, 0.9)
        shares[days] *= np.where(mine, wanted / part, (1 - wanted) / (1 - part))
    return np.array(combos), shares


def _all_jobs(spec: ShopSpec, rng: np.random.Generator) -> _Jobs:
    combos, shares = mix_of_days(spec)
    days = working_days(spec)
    per_day = spec.n_pieces / len(days) * rng.lognormal(0, 0.15, len(days))
    per_day *= spec.n_pieces / per_day.sum()
    liking = liking_of_days(spec)
    pace = np.array([press.pace for press in spec.presses])
    parts, carried = [], 0.0
    for day, wanted in zip(days, per_day, strict=True):
        sizes = _job_sizes(wanted + carried, rng)
        carried += wanted - sizes.sum()
        combo = combos[rng.choice(len(combos), len(sizes), p=shares[day])]
        press = _presses_for(sizes, liking[day][:, combo[:, 0]], pace, rng)
        start, cycle = _hours(spec, sizes, press, pace, rng)
        parts.append((sizes, *combo.T, press, np.full(len(sizes), day), start, cycle))
    joined = [np.concatenate(column) for column in zip(*parts, strict=True)]
    size, fabric, transfer, location, press, day_of, start, cycle = joined
    order = np.lexsort((start, day_of))
    return _Jobs(
        size=size[order], fabric=fabric[order], transfer=transfer[order],
        location=location[order], press=press[order], day=day_of[order], start_s=start[order],
        cycle_s=cycle[order],
    )


def _job_sizes(wanted: float, rng: np.random.Generator) -> Ints:
    n = max(1, int(wanted / JOB_PIECES[0]) + 1)
    sizes = np.clip(rng.lognormal(np.log(58), 0.45, n), *JOB_PIECES).astype(np.int64)
    total = np.cumsum(sizes)
    return sizes[: max(1, int(np.searchsorted(total, wanted - sizes[0] / 2)))]


def liking_of_days(spec: ShopSpec) -> Floats:
    """How much each press is given each fabric, (days, presses, fabrics)."""
    usual = np.array([
        [3.0 if fabric.code in press.prefers else 1.0 for fabric in spec.fabrics]
        for press in spec.presses
    ])
    liking = np.tile(usual, (spec.days, 1, 1))
    codes = [press.code for press in spec.presses]
    fabrics = [fabric.code for fabric in spec.fabrics]
    for change in (fault for fault in spec.faults if fault.kind == "press_mix_change"):
        until = change.until_day if change.until_day is not None else spec.days
        days = slice(int(change.day), int(until))
        liking[days, codes.index(change.level), fabrics.index(change.of)] *= change.ratio
    return liking


def _presses_for(
    sizes: Ints, liking: Floats, pace: Floats, rng: np.random.Generator
) -> Ints:
    """A press for each job: one that likes the fabric and has little to do yet."""
    load = np.zeros(len(liking))
    chosen = np.zeros(len(sizes), dtype=np.int64)
    luck = rng.random(len(sizes))
    typical = max(sizes.mean(), sizes.sum() / len(liking))
    for at, size in enumerate(sizes):
        weight = liking[:, at] * np.exp(-2.0 * load / typical)
        chosen[at] = np.searchsorted(np.cumsum(weight), luck[at] * weight.sum())
        load[chosen[at]] += size * pace[chosen[at]]
    return chosen


def _hours(
    spec: ShopSpec, sizes: Ints, press: Ints, pace: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Working second at which each job begins and its seconds per piece, jobs one after another
    on each press with idle time spread between them."""
    work_s = OPEN_S - sum(length for _, length in spec.breaks)
    start, cycle = np.zeros(len(sizes)), rng.uniform(58, 85, len(sizes)) * pace[press]
    for p in range(len(pace)):
        mine = np.flatnonzero(press == p)
        lasts = sizes[mine] * cycle[mine]
        if lasts.sum() > 0.95 * work_s:
            cycle[mine] *= 0.95 * work_s / lasts.sum()
            lasts = sizes[mine] * cycle[mine]
        idle = rng.dirichlet(np.ones(len(mine) + 1))[:-1] * (work_s - lasts.sum())
        start[mine] = np.cumsum(idle) + np.cumsum(lasts) - lasts
    return start, cycle


def _work_seconds(
    jobs: _Jobs, job: Ints, in_job: Ints, rng: np.random.Generator
) -> Floats:
    jitter = rng.uniform(0, 0.8, len(job))
    return jobs.start_s[job] + (in_job + jitter) * jobs.cycle_s[job]


def _wall_clock(spec: ShopSpec, work_s: Floats) -> Floats:
    """Seconds since local midnight from seconds of work: breaks lie between."""
    return OPENS_S + work_s + sum(
        np.where(work_s > after, length, 0) for after, length in spec.breaks)


def _codes(
    spec: ShopSpec, jobs: _Jobs, job: Ints, in_job: Ints, rng: np.random.Generator
) -> tuple[dict[str, Ints], dict[str, tuple[str, ...]]]:
    operator = _operators(spec, jobs, rng)
    size = rng.choice(len(SIZES), len(job), p=SIZE_SHARES)
    code = {
        "press": jobs.press[job], "fabric": jobs.fabric[job], "transfer": jobs.transfer[job],
        "location": jobs.location[job], "job": job, "operator": operator[job],
        # pieces of a job are staged by size
        "size": size[np.lexsort((size, job))],
    }
    names = {
        "press": tuple(p.code for p in spec.presses),
        "fabric": tuple(f.code for f in spec.fabrics),
        "transfer": tuple(t.code for t in spec.transfers),
        "location": tuple(place.code for place in spec.locations),
        "job": tuple(f"J{spec.first_job + n}" for n in range(len(jobs.size))),
        "operator": spec.operators, "size": SIZES,
    }
    code["station"], names["station"] = _stations(spec, code["press"], in_job)
    return code, names


def _stations(spec: ShopSpec, press: Ints, in_job: Ints) -> tuple[Ints, tuple[str, ...]]:
    """A press with one station has none to speak of."""
    n = np.array([len(p.stations) for p in spec.presses])
    first = np.cumsum(n) - n
    code = np.where(n[press] > 1, first[press] + in_job % n[press], -1)
    return code, tuple(f"{p.code}{station}" for p in spec.presses for station in p.stations)


def _operators(spec: ShopSpec, jobs: _Jobs, rng: np.random.Generator) -> Ints:
    """Mainly the person whose press it is, in the shift that person works; others help out."""
    n = len(spec.operators)
    home = np.arange(n) % len(spec.presses)
    late_person = (np.arange(n) // len(spec.presses) + np.arange(n)) % 2 == 1
    late_job = _wall_clock(spec, jobs.start_s) >= LATE_SHIFT_S
    other = np.where(late_person[None, :] == late_job[:, None], 1.0, 0.15)
    at_home = (home[None, :] == jobs.press[:, None]) * other
    other = other * (1 - (at_home > 0))
    share = other / np.maximum(other.sum(axis=1, keepdims=True), 1e-9)
    weight = spec.home_share * at_home + (1 - spec.home_share) * share
    bounds = np.cumsum(weight, axis=1)
    luck = rng.random(len(bounds)) * bounds[:, -1]
    return (bounds < luck[:, None]).sum(axis=1)
