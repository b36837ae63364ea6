"""The records of a shop as arrays: what detection works on.

A unit is one piece (or counted block) at one look group; its faults are those first seen there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.counting import LOOKS, CountedPieces
from qc.domain.instants import DAY_US, HOUR_US, SECOND_US
from qc.domain.kinds import ZONES
from qc.monitor.runs import runs_of_work

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

SLOT_US = 4 * HOUR_US
"""Detection looks at the shop at the end of each slot; slots start at 00:00 UTC."""

CELL_COLUMNS = ("fabric", "transfer", "location")
PIECE_FACTORS = (
    "press", "station", "operator", "transfer_lot", "garment_lot", "fabric", "transfer",
    "location", "size",
)
LONGEST_RUN_US = 5 * DAY_US
"""A run of work without a job number lasts no longer: what a press does all month still shows when
it changes. Proposed starting value, no source."""

PAUSE_US = 20 * 60 * SECOND_US
"""A press that pressed nothing for so long starts anew."""

PAUSE_GAPS, PACE_OF = 3, 30
"""Where work is slow, only after so many of its usual gaps: their mean over so many before, gaps
longer than the pause counted as that. Proposed starting values, no source."""

PIECE_US = 70 * SECOND_US
"""What a piece of a counted stack keeps its press busy for; a plausible pace, no source."""

MOST_KEYS = 2**22
"""So many combinations are counted in a table; of more, those there are get numbers first."""

EARLY_US = 15 * 60 * SECOND_US
EARLY = "first 15 min"
"""Pieces pressed within the first quarter of an hour after a start: the level of
``time_since_start``, on all presses, and of ``press_start``, on one. Common practice (first pieces
after a break are checked), no source for the figures."""


def sum_by(group: Ints, weight: Floats, size: int = 0) -> Floats:
    """Sums of weights by group number, at least ``size`` groups."""
    return np.bincount(group, weight, size).astype(np.float64, copy=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coded:
    """A text column as whole numbers into ``levels``; -1 is missing."""

    codes: Ints
    levels: tuple[str, ...]

    def name(self, code: int) -> str:
        """The level of a code, empty for -1."""
        return self.levels[code] if code >= 0 else ""

    def take(self, at: Ints) -> Coded:
        return Coded(codes=self.codes[at], levels=self.levels)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Units and their faults.

    ``unit_piece`` points into the piece rows; ``cell`` numbers the distinct (fabric, transfer,
    location, look) of ``cell_codes``; ``run`` is the job or, where none is recorded, the run of
    work that stands for it (see `qc.monitor.runs`). Fault arrays have one entry for each
    (unit, kind); zone-fault arrays one for each (unit, kind, zone) with a zone.
    """

    pressed_us: Ints
    seen_us: Ints
    n: Floats
    unit_piece: Ints
    cell: Ints
    cell_codes: Ints
    cell_levels: tuple[tuple[str, ...], ...]
    factors: Mapping[str, Coded]
    job: Coded
    run: Coded
    kinds: tuple[str, ...]
    fault_unit: Ints
    fault_kind: Ints
    fault_n: Floats
    fault_seen_us: Ints
    zoned_unit: Ints
    zoned_kind: Ints
    zoned_zone: Ints
    zoned_n: Floats
    zoned_seen_us: Ints


def gather(counted: CountedPieces) -> Evidence:
    """The evidence in counted pieces (see `qc.domain.counting.count_once`).

    A unit says what had been recorded when it was first seen: what a later look filled in counts
    for later units only, or what was known then would change afterwards.
    """
    pieces = counted.pieces
    had = [pieces[f"seen_{look}"].to_numpy(dtype=np.int64) for look in LOOKS]
    unit_piece = np.concatenate([np.flatnonzero(seen >= 0) for seen in had])
    look = np.concatenate([np.full(int((s >= 0).sum()), i) for i, s in enumerate(had)])
    unit_of = np.full((len(LOOKS), len(pieces)), -1, dtype=np.int64)
    unit_of[look, unit_piece] = np.arange(len(unit_piece))
    seen = np.stack(had)[look, unit_piece] if len(unit_piece) else np.zeros(0, np.int64)
    first_unit = seen == _first_seen(had)[unit_piece]
    columns = {name: _coded(pieces, name) for name in {*PIECE_FACTORS, "job"}}
    columns["station"] = _station_of_press(columns["press"], columns["station"])
    factors = {
        name: _known_at(columns[name], counted.filled.get(name), unit_piece, first_unit)
        for name in PIECE_FACTORS
        if len(columns[name].levels) > 0
    }
    if len(columns["press"].levels):
        factors |= _early(columns["press"], pieces, unit_piece, had)
    factors["shop"] = Coded(codes=np.zeros(len(unit_piece), dtype=np.int64), levels=("shop",))
    cell_columns = np.stack(
        [*(columns[name].codes[unit_piece] for name in CELL_COLUMNS), look], axis=1
    )
    cell_codes, cell = _distinct_rows(cell_columns)
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)[unit_piece]
    job = _known_at(columns["job"], counted.filled.get("job"), unit_piece, first_unit)
    kinds = tuple(sorted(set(counted.kinds["kind"])))
    fault_unit, fault_kind, fault_n, fault_seen = _fault_arrays(counted.kinds, kinds, unit_of)
    zoned = counted.faults[counted.faults["zone"].notna()]
    zoned_unit, zoned_kind, zoned_n, zoned_seen = _fault_arrays(zoned, kinds, unit_of)
    return Evidence(
        pressed_us=pressed,
        seen_us=seen,
        n=pieces["n"].to_numpy(dtype=np.float64)[unit_piece],
        unit_piece=unit_piece,
        cell=cell,
        cell_codes=cell_codes,
        cell_levels=(*(columns[name].levels for name in CELL_COLUMNS), LOOKS),
        factors=factors,
        job=job,
        run=_with_runs(job, columns, unit_piece, pressed, seen),
        kinds=kinds,
        fault_unit=fault_unit, fault_kind=fault_kind, fault_n=fault_n, fault_seen_us=fault_seen,
        zoned_unit=zoned_unit, zoned_kind=zoned_kind, zoned_n=zoned_n, zoned_seen_us=zoned_seen,
        zoned_zone=np.array([ZONES.index(z) for z in zoned["zone"]], dtype=np.int64),
    )


def _coded(frame: pd.DataFrame, column: str) -> Coded:
    if column not in frame:
        return Coded(codes=np.full(len(frame), -1, dtype=np.int64), levels=())
    values = frame[column].astype("category")
    used = values.cat.codes.to_numpy(dtype=np.int64)
    names = np.array([str(name) for name in values.cat.categories], dtype=object)
    there = np.flatnonzero(np.bincount(used[used >= 0], minlength=len(names)) > 0)
    there = there[names[there] != ""]
    order = there[np.argsort(names[there], kind="stable")]
    number = np.full(len(names) + 1, -1, dtype=np.int64)
    number[order] = np.arange(len(order))
    return Coded(codes=number[used], levels=tuple(names[order]))


def _station_of_press(press: Coded, station: Coded) -> Coded:
    """Stations are numbered anew on each press: station 1 of P1 is not station 1 of P2."""
    both = np.where(
        (press.codes >= 0) & (station.codes >= 0),
        press.codes * max(len(station.levels), 1) + station.codes,
        -1,
    )
    used, codes = np.unique(both[both >= 0], return_inverse=True)
    out = np.full(len(both), -1, dtype=np.int64)
    out[both >= 0] = codes
    width = max(len(station.levels), 1)
    names = tuple(f"{press.levels[u // width]}/{station.levels[u % width]}" for u in used)
    return Coded(codes=out, levels=names)


def _first_seen(had: list[Ints]) -> Ints:
    """When each piece was first looked at."""
    return np.asarray(np.min([np.where(s >= 0, s, np.iinfo(np.int64).max) for s in had], axis=0))


def _known_at(coded: Coded, filled: Ints | None, unit_piece: Ints, first_unit: Bools) -> Coded:
    """A column of the units, blank in first units whose value came from a later look."""
    if filled is None or len(filled) == 0:
        return coded.take(unit_piece)
    later = np.zeros(len(coded.codes), dtype=bool)
    later[filled] = True
    codes = np.where(later[unit_piece] & first_unit, -1, coded.codes[unit_piece])
    return Coded(codes=codes, levels=coded.levels)


def _with_runs(
    job: Coded, columns: Mapping[str, Coded], unit_piece: Ints, pressed_us: Ints, seen_us: Ints
) -> Coded:
    """Jobs, with runs of work where none is named: a run is called by what it began with, so that
    more records give no old run another name."""
    blank = np.flatnonzero(job.codes < 0)
    if len(blank) == 0:
        return job
    press, *work = (columns[name] for name in ("press", *CELL_COLUMNS))
    piece = unit_piece[blank]
    kinds, which = _distinct_rows(np.stack([one.codes[piece] for one in work], axis=1))
    slot = pressed_us[blank] // SLOT_US
    run, begun = runs_of_work(
        press.codes[piece], which, slot, np.maximum(seen_us[blank] // SLOT_US, slot),
        longest=LONGEST_RUN_US // SLOT_US)
    codes = job.codes.copy()
    codes[blank] = len(job.levels) + run
    names = (
        "|".join([press.name(at), *(one.name(c) for one, c in zip(work, kinds[of], strict=True)),
                  str(since)])
        for at, of, since in begun)
    return Coded(codes=codes, levels=(*job.levels, *names))


def _early(
    press: Coded, pieces: pd.DataFrame, unit_piece: Ints, had: list[Ints]
) -> dict[str, Coded]:
    """Units pressed soon after their press started: on any press, and press by press."""
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)
    busy = (pieces["n"].to_numpy(dtype=np.int64) - 1) * PIECE_US
    early = _soon_after_start(press.codes, pressed, busy, _first_seen(had))[unit_piece]
    return {
        "time_since_start": Coded(codes=np.where(early, 0, -1), levels=(EARLY,)),
        "press_start": Coded(
            codes=np.where(early, press.codes[unit_piece], -1),
            levels=tuple(f"{name}, {EARLY}" for name in press.levels),
        ),
    }


def _soon_after_start(press: Ints, pressed_us: Ints, busy_us: Ints, seen_us: Ints) -> Bools:
    """Which pieces were pressed soon after a pause of their press; a stack keeps it busy.

    What is a pause goes by the pace of the press: one piece in ten minutes is no start each time.

    Judged by what had been seen by the end of each piece's own slot, so that a piece entered late
    changes nothing that was known before.
    """
    order = _by_press_and_time(press, np.maximum(seen_us, pressed_us) // SLOT_US, pressed_us)
    press, pressed = press[order], pressed_us[order] - int(pressed_us.min(initial=0))
    until = pressed + busy_us[order]
    # one running maximum for all presses: each begins above all that came before it
    apart = int(until.max(initial=0)) + PAUSE_US + 1
    latest = np.maximum.accumulate(until + press * apart) - press * apart
    first = np.diff(press, prepend=-2) != 0
    gap = pressed - np.roll(latest, 1)
    starts = first | (gap >= np.maximum(PAUSE_US, PAUSE_GAPS * _usual_gap(gap, first)))
    begun = pressed[np.maximum.accumulate(np.where(starts, np.arange(len(press)), 0))]
    soon = (pressed >= begun) & (pressed - begun < EARLY_US) & (press >= 0)
    out = np.empty(len(press), dtype=bool)
    out[order] = soon
    return out


def _usual_gap(gap: Ints, first: Bools) -> Floats:
    """Mean gap before each piece, over those before it on its press; 0 where there is none."""
    total = np.concatenate([[0.0], np.cumsum(np.where(first, 0, np.clip(gap, 0, PAUSE_US)))])
    at = np.arange(len(gap))
    since = np.maximum(np.maximum.accumulate(np.where(first, at, 0)) + 1, at - PACE_OF)
    mean: Floats = (total[at] - total[np.minimum(since, at)]) / np.maximum(at - since, 1)
    return mean


def _by_press_and_time(press: Ints, slot: Ints, pressed_us: Ints) -> Ints:
    """Order by press, then slot, then time of pressing; quick where they come in order of time."""
    if not ((np.diff(slot) > 0) | ((np.diff(slot) == 0) & (np.diff(pressed_us) >= 0))).all():
        return np.lexsort((pressed_us, slot, press))
    narrow = press.astype(np.int16) if press.max(initial=0) < 2**15 else press
    return np.argsort(narrow, kind="stable")


def _fault_arrays(
    faults: pd.DataFrame, kinds: tuple[str, ...], unit_of: Ints
) -> tuple[Ints, Ints, Floats, Ints]:
    look = faults["look"].map({name: i for i, name in enumerate(LOOKS)}).to_numpy(dtype=np.int64)
    at = faults["at"].to_numpy(dtype=np.int64)
    unit = np.asarray(unit_of[look, at], dtype=np.int64)
    number = {kind: i for i, kind in enumerate(kinds)}
    kind = np.asarray(faults["kind"].map(number), dtype=np.int64)
    n = np.asarray(faults["n"], dtype=np.float64)
    seen = np.asarray(faults["seen"], dtype=np.int64)
    return unit, kind, n, seen


def _distinct_rows(columns: Ints) -> tuple[Ints, Ints]:
    """Distinct rows and, for each row, which one it is; by one mixed-radix key, not row by row."""
    if len(columns) == 0:
        return columns, np.zeros(0, dtype=np.int64)
    key, size = np.zeros(len(columns), dtype=np.int64), 1
    for column in columns.T:
        width = int(column.max()) + 2
        if size * width > MOST_KEYS:  # too many to count: number those there are
            used, key = np.unique(key, return_inverse=True)
            size = len(used)
        key, size = key * width + column + 1, size * width
    if size > MOST_KEYS:
        _, first, which = np.unique(key, return_index=True, return_inverse=True)
        return columns[first], which.astype(np.int64)
    first = np.full(size, len(columns))
    first[key[::-1]] = np.arange(len(columns) - 1, -1, -1)
    used = np.flatnonzero(first < len(columns))
    number = np.zeros(size, dtype=np.int64)
    number[used] = np.arange(len(used))
    return columns[first[used]], number[key]
