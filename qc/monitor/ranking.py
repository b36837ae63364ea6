"""Ranked defects, judged on the mix: observed counts of each level against the usual rates.

Usual rate of a defect kind = its count over the pieces, in each cell of fabric, transfer and
location and for each group of looks, over the whole history. What is ranked by is left out of the
cell, or every level would be compared with itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.counting import LOOKS, CountedPieces
from qc.domain.ranking import FINDING_DIMENSIONS, ParetoRow, mix_of
from qc.stats.comparing.discovery import benjamini_hochberg
from qc.stats.comparing.ratios import StandardisedRatio, standardised_ratio

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Level = tuple[str | None, ...]

FALSE_DISCOVERIES = 0.05
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sums:
    """Counts for one ranking, as frames with a column ``n`` and any number of rows for a key.

    Of the period, by the dimensions that split pieces: ``pieces`` every piece once; ``exposed``
    pieces by look and mix; ``faults`` defects, also by the dimensions that split findings. Of the
    whole history, by look and mix: ``usual_exposed`` pieces, ``usual_faults`` defects, also by the
    dimensions that split findings. A dimension is a column of its name; the mix only has those
    that are not ranked by.
    """

    pieces: pd.DataFrame
    exposed: pd.DataFrame
    faults: pd.DataFrame
    usual_exposed: pd.DataFrame
    usual_faults: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """The columns of a ranking: what splits the pieces, what splits the findings, and the mix."""

    split: list[str]
    found: list[str]
    mix: list[str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grouping:
    """Rows of several frames put into numbered groups, a code array for each frame;
    ``names[g]`` has one name for each column."""

    codes: list[Ints]
    names: list[Level]


def asked_for(by: tuple[str, ...]) -> Asked:
    """What a ranking by these dimensions needs its counts by."""
    return Asked(
        split=[name for name in by if name not in FINDING_DIMENSIONS],
        found=[name for name in by if name in FINDING_DIMENSIONS],
        mix=list(mix_of(by)),
    )


def rank_levels(
    counted: CountedPieces, *, by: tuple[str, ...], kinds: tuple[str, ...] = (),
    since_us: int | None = None, until_us: int | None = None,
) -> tuple[ParetoRow, ...]:
    """Levels of one or two dimensions by falling number of defects, ties by name.

    Parameters
    ----------
    counted : the whole history, counted once; a column ``shift`` when ranked by it
    by : names from `qc.domain.ranking.DIMENSIONS`, each once
    kinds : defect kinds to rank; all when empty
    since_us, until_us : period of the pieces ranked, on pressed_at
    """
    inside = in_period(counted.pieces, since_us, until_us)
    return rank_sums(sums_of(counted, by=by, kinds=kinds, inside=inside), by=by)


def rank_sums(sums: Sums, *, by: tuple[str, ...]) -> tuple[ParetoRow, ...]:
    """The same from counts.

    Notes
    -----
    Expected defects of a level: the sum over its pieces of the usual rates, for each group of
    looks the pieces had. Intervals are exact for a Poisson count; a level stands out by the
    procedure of Benjamini and Hochberg at 5 % over the two-sided exact p-values of all levels.
    The usual rates are taken as known, so levels of short histories look surer than they are.
    """
    asked = asked_for(by)
    level = _grouped([sums.pieces, sums.exposed, sums.faults], asked.split)
    finding = _grouped([sums.faults, sums.usual_faults], asked.found)
    observed = _table(level.codes[2], finding.codes[0], sums.faults["n"], level, finding)
    expected = _expected(sums, asked, level, finding)
    n_pieces = _added(level.codes[0], sums.pieces["n"], len(level.names))
    shown = (n_pieces > 0)[:, None] & np.ones(observed.shape, dtype=bool)
    if asked.found:
        shown &= (observed > 0) | (expected > 0)
    at_level, at_finding = np.nonzero(shown)
    names = [
        _in_order(by, level.names[a], finding.names[b])
        for a, b in zip(at_level, at_finding, strict=True)
    ]
    return _rows(names, observed[shown], expected[shown], n_pieces[at_level])


def sums_of(
    counted: CountedPieces, *, by: tuple[str, ...], kinds: tuple[str, ...],
    inside: npt.NDArray[np.bool_],
) -> Sums:
    """The counts of pieces, those of the period being ``inside``."""
    asked, pieces = asked_for(by), counted.pieces
    faults = counted.faults if "zone" in by else counted.kinds
    if kinds:
        faults = faults[faults["kind"].isin(list(kinds))]
    at = faults["at"].to_numpy(dtype=np.int64)
    keys = list(dict.fromkeys([*asked.split, *asked.mix]))
    of_piece = pieces[keys].iloc[at].reset_index(drop=True)
    found = of_piece.assign(
        n=faults["n"].to_numpy(), look=faults["look"].to_numpy(),
        **{name: faults["kind" if name == "defect" else name].to_numpy() for name in asked.found})
    exposed, usual = [], []
    for look in LOOKS:
        had = pieces[f"had_{look}"].to_numpy(dtype=bool)
        exposed.append(pieces.loc[had & inside, [*keys, "n"]].assign(look=look))
        usual.append(pieces.loc[had, [*asked.mix, "n"]].assign(look=look))
    return Sums(
        pieces=pieces.loc[inside, [*asked.split, "n"]], exposed=pd.concat(exposed),
        faults=found[inside[at]], usual_exposed=pd.concat(usual), usual_faults=found,
    )


def shift_labels(
    pressed_us: Ints, zone: ZoneInfo, shift_minutes: tuple[int, ...]
) -> npt.NDArray[np.object_]:
    """Start of the shift each instant lies in, as local clock time ('06:00').

    Before the day's first start the last shift of the day before still runs.
    """
    local = pd.DatetimeIndex(pd.to_datetime(pressed_us, unit="us", utc=True)).tz_convert(zone)
    minute = np.asarray(local.hour) * 60 + np.asarray(local.minute)
    labels = np.array([f"{m // 60:02d}:{m % 60:02d}" for m in shift_minutes], dtype=object)
    at = np.searchsorted(np.array(shift_minutes), minute, side="right") - 1
    chosen: npt.NDArray[np.object_] = labels[at]  # -1, before the first start, is the last shift
    return chosen


def in_period(
    pieces: pd.DataFrame, since_us: int | None, until_us: int | None
) -> npt.NDArray[np.bool_]:
    """Which pieces were pressed from ``since_us`` (inclusive) to ``until_us`` (exclusive)."""
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)
    inside = np.ones(len(pressed), dtype=bool)
    if since_us is not None:
        inside &= pressed >= since_us
    if until_us is not None:
        inside &= pressed < until_us
    return inside


def _grouped(frames: Sequence[pd.DataFrame], columns: list[str]) -> Grouping:
    """Rows of all frames grouped by columns; one group of all rows when there are none."""
    ends = np.cumsum([len(frame) for frame in frames])
    code = np.zeros(int(ends[-1]), dtype=np.int64)
    names: list[Level] = [()]
    for column in columns:
        values = np.concatenate([frame[column].astype(object).to_numpy() for frame in frames])
        own, found = pd.factorize(values, use_na_sentinel=True)
        known: list[str | None] = [None, *(str(name) for name in found)]
        joint, code = np.unique(code * len(known) + own + 1, return_inverse=True)
        names = [(*names[k // len(known)], known[k % len(known)]) for k in joint.tolist()]
    return Grouping(codes=np.split(code, ends[:-1]), names=names)


def _added(code: Ints, n: pd.Series, size: int) -> Floats:
    return np.bincount(code, weights=n.to_numpy(dtype=np.float64), minlength=size).astype(
        np.float64)


def _table(row: Ints, column: Ints, n: pd.Series, rows: Grouping, columns: Grouping) -> Floats:
    """Counts added up, (rows, columns)."""
    shape = (len(rows.names), len(columns.names))
    return _added(row * shape[1] + column, n, shape[0] * shape[1]).reshape(shape)


def _expected(sums: Sums, asked: Asked, level: Grouping, finding: Grouping) -> Floats:
    """Defects the usual rates would give the pieces of the period, (levels, findings)."""
    cell = _grouped([sums.exposed, sums.usual_exposed, sums.usual_faults], asked.mix)
    here, whole, found = cell.codes
    expected = np.zeros((len(level.names), len(finding.names)))
    for look in LOOKS:
        now, ever, seen = ((frame["look"] == look).to_numpy(dtype=bool) for frame in
                           (sums.exposed, sums.usual_exposed, sums.usual_faults))
        exposed = _table(level.codes[1][now], here[now], sums.exposed["n"][now], level, cell)
        pieces = _added(whole[ever], sums.usual_exposed["n"][ever], len(cell.names))
        count = _table(found[seen], finding.codes[1][seen], sums.usual_faults["n"][seen], cell,
                       finding)
        expected += exposed @ (count / np.maximum(pieces, 1.0)[:, None])
    return expected


def _in_order(by: tuple[str, ...], level: Level, finding: Level) -> Level:
    of_piece, of_finding = iter(level), iter(finding)
    return tuple(next(of_finding if name in FINDING_DIMENSIONS else of_piece) for name in by)


def _rows(
    names: list[Level], observed: Floats, expected: Floats, n_pieces: Floats
) -> tuple[ParetoRow, ...]:
    ratio = standardised_ratio(observed, expected, confidence=CONFIDENCE)
    stands_out = benjamini_hochberg(ratio.p_value, rate=FALSE_DISCOVERIES).stands_out
    total = float(observed.sum())
    order = sorted(range(len(names)), key=lambda k: (-observed[k], _sort_key(names[k])))
    rows, so_far = [], 0.0
    for k in order:
        so_far += float(observed[k])
        rows.append(_row(names[k], ratio, k, bool(stands_out[k]), int(n_pieces[k]),
                         of_all=(float(observed[k]), so_far, total)))
    return tuple(rows)


def _row(
    level: Level, ratio: StandardisedRatio, k: int, stands_out: bool, n_pieces: int, *,
    of_all: tuple[float, float, float],
) -> ParetoRow:
    observed, so_far, total = of_all
    expects = bool(ratio.expected[k] > 0)
    return ParetoRow(
        level=level, n_defects=int(observed), n_pieces=n_pieces, rate=observed / n_pieces,
        share=observed / total if total else None, cumulative=so_far / total if total else None,
        expected=float(ratio.expected[k]), ratio=float(ratio.ratio[k]) if expects else None,
        ratio_low=float(ratio.low[k]) if expects else None,
        ratio_high=float(ratio.high[k]) if expects else None,
        p_value=float(ratio.p_value[k]), stands_out=stands_out,
    )


def _sort_key(level: Level) -> tuple[tuple[bool, str], ...]:
    return tuple((name is None, name or "") for name in level)
