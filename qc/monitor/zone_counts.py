"""Pieces and their defects by press, station, mix, job and day, with the zone of each defect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.counting import CountedPieces
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.domain.ranking import MIX

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

LOOK = "prompt"
N_ZONES = len(ZONES)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneCounts:
    """Groups of pieces that share press, station, mix of work, job and day.

    One entry for each group: ``press``, ``station`` (-1 not said), ``location``, ``cell`` (its mix
    of fabric, transfer and place) and ``job`` number names; ``first_us`` when its first piece was
    pressed; ``n`` pieces; ``faults`` (groups, zones) defects by zone; ``unplaced`` those without.
    Names: ``presses``, ``stations``, ``locations``.
    """

    press: Ints
    station: Ints
    location: Ints
    cell: Ints
    job: Ints
    first_us: Ints
    n: Floats
    faults: Floats
    unplaced: Floats
    presses: tuple[str, ...]
    stations: tuple[str, ...]
    locations: tuple[str, ...]


def zone_counts(counted: CountedPieces, kinds: Sequence[str]) -> ZoneCounts:
    """Count what was found of some kinds of defect when the pieces were first looked at.

    A piece with two of the kinds in one zone counts once there. Jobs nobody noted are told apart
    by press and day.
    """
    at = np.flatnonzero(counted.pieces[f"had_{LOOK}"].to_numpy())
    pieces = counted.pieces.iloc[at]
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)
    codes, names = {}, {}
    for name in ("press", "station", "location", "job"):
        code, levels = pd.factorize(pieces[name].astype(object))
        codes[name], names[name] = code.astype(np.int64), tuple(map(str, levels))
    mixes = pieces.groupby(list(MIX), dropna=False, sort=False, observed=True)
    cell: Ints = mixes.ngroup().to_numpy().astype(np.int64)
    day = (pressed - pressed.min(initial=0)) // DAY_US
    keys: tuple[Ints, ...] = (
        codes["press"], codes["station"], codes["location"], cell, codes["job"], day)
    first, group = _groups(keys)
    n = pieces["n"].to_numpy(dtype=np.float64)
    first_us = np.full(len(first), np.iinfo(np.int64).max)
    np.minimum.at(first_us, group, pressed)
    faults, unplaced = _faults(counted, kinds, at, group, len(first))
    return ZoneCounts(
        press=keys[0][first], station=keys[1][first], location=keys[2][first],
        cell=keys[3][first], job=_jobs(keys[4], keys[0], day)[first],
        first_us=first_us,
        n=np.bincount(group, weights=n, minlength=len(first)).astype(np.float64),
        faults=faults, unplaced=unplaced, presses=names["press"], stations=names["station"],
        locations=names["location"],
    )


def _groups(keys: Sequence[Ints]) -> tuple[Ints, Ints]:
    """First row of each group of equal keys, and the group of each row."""
    total = np.zeros(len(keys[0]), dtype=np.int64)
    for key in keys:
        _, total = np.unique(total * (int(key.max(initial=0)) + 2) + key + 1, return_inverse=True)
    _, first, group = np.unique(total, return_index=True, return_inverse=True)
    return first, group


def _jobs(job: Ints, press: Ints, day: Ints) -> Ints:
    """Jobs by number; those not noted get one for each press and day."""
    instead = -1 - (press * (int(day.max(initial=0)) + 1) + day)
    return np.where(job >= 0, job, instead)


def _faults(
    counted: CountedPieces, kinds: Sequence[str], at: Ints, group: Ints, n_groups: int
) -> tuple[Floats, Floats]:
    faults = counted.faults
    mine = faults[faults["kind"].isin(list(kinds)) & (faults["look"] == LOOK)]
    zone = pd.Categorical(mine["zone"], categories=list(ZONES)).codes.astype(np.int64)
    once = pd.DataFrame({"at": mine["at"].to_numpy(), "zone": zone, "n": mine["n"].to_numpy()})
    once = once.groupby(["at", "zone"], sort=False)["n"].max().reset_index()
    of_piece = np.full(len(counted.pieces), -1, dtype=np.int64)
    of_piece[at] = group
    row, zone = of_piece[once["at"].to_numpy()], once["zone"].to_numpy()
    known = row >= 0
    joint = row[known] * (N_ZONES + 1) + zone[known] + 1
    table = np.bincount(joint, weights=once["n"].to_numpy(dtype=np.float64)[known],
                        minlength=n_groups * (N_ZONES + 1))
    by_zone = table.reshape(n_groups, N_ZONES + 1).astype(np.float64)
    return by_zone[:, 1:], by_zone[:, 0]
