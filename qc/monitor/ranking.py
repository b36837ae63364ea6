"""Ranked defects, judged on the mix: observed counts of each level against the usual rates.

Usual rate of a defect kind = its count over the pieces, in each cell of fabric, transfer and
location and for each group of looks, over the whole history. What is ranked by is left out of the
cell, or every level would be compared with itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.counting import LOOKS, CountedPieces
from qc.domain.ranking import FINDING_DIMENSIONS, MIX, ParetoRow
from qc.stats.comparing.discovery import benjamini_hochberg
from qc.stats.comparing.ratios import StandardisedRatio, standardised_ratio

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Level = tuple[str | None, ...]

FALSE_DISCOVERIES = 0.05
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grouping:
    """Rows put into numbered groups; ``names[g]`` has one name for each dimension."""

    code: Ints
    names: list[Level]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """Pieces and faults grouped for one ranking.

    ``level``, ``cell`` and ``finding`` number the levels of the pieces, their mix, and the levels
    of the faults. ``at``, ``look``, ``n``: piece, group of looks and count of each fault.
    ``inside``: pieces of the period.
    """

    level: Grouping
    cell: Grouping
    finding: Grouping
    at: Ints
    look: Ints
    n: Floats
    had: Floats
    n_pieces: Floats
    inside: npt.NDArray[np.bool_]


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

    Notes
    -----
    Expected defects of a level: the sum over its pieces of the usual rates, for each group of
    looks the pieces had. Intervals are exact for a Poisson count; a level stands out by the
    procedure of Benjamini and Hochberg at 5 % over the two-sided exact p-values of all levels.
    The usual rates are taken as known, so levels of short histories look surer than they are.
    """
    question = _question(counted, by, kinds, in_period(counted.pieces, since_us, until_us))
    observed = _observed(question)
    expected = _expected(question)
    n_pieces = np.bincount(
        question.level.code[question.inside], weights=question.n_pieces[question.inside],
        minlength=len(question.level.names),
    ).astype(np.float64)
    shown = (n_pieces > 0)[:, None] & np.ones(observed.shape, dtype=bool)
    if set(by) & set(FINDING_DIMENSIONS):
        shown &= (observed > 0) | (expected > 0)
    level, finding = np.nonzero(shown)
    names = [
        _in_order(by, question.level.names[a], question.finding.names[b])
        for a, b in zip(level, finding, strict=True)
    ]
    return _rows(names, observed[shown], expected[shown], n_pieces[level])


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


def _question(
    counted: CountedPieces, by: tuple[str, ...], kinds: tuple[str, ...],
    inside: npt.NDArray[np.bool_],
) -> Question:
    pieces = counted.pieces
    faults = counted.faults if "zone" in by else counted.kinds
    if kinds:
        faults = faults[faults["kind"].isin(list(kinds))]
    split = [name for name in by if name not in FINDING_DIMENSIONS]
    named = ["kind" if name == "defect" else name for name in by if name in FINDING_DIMENSIONS]
    return Question(
        level=_grouped(pieces, split), cell=_grouped(pieces, [m for m in MIX if m not in by]),
        finding=_grouped(faults, named), at=faults["at"].to_numpy(dtype=np.int64),
        look=pd.Index(LOOKS).get_indexer(pd.Index(faults["look"])).astype(np.int64),
        n=faults["n"].to_numpy(dtype=np.float64), n_pieces=pieces["n"].to_numpy(dtype=np.float64),
        had=np.column_stack([pieces[f"had_{look}"] for look in LOOKS]).astype(np.float64),
        inside=inside,
    )


def _grouped(frame: pd.DataFrame, columns: list[str]) -> Grouping:
    """Rows grouped by columns; one group of all rows when there are none."""
    code = np.zeros(len(frame), dtype=np.int64)
    names: list[Level] = [()]
    for column in columns:
        own, found = pd.factorize(frame[column].astype(object), use_na_sentinel=True)
        known: list[str | None] = [None, *(str(name) for name in found)]
        joint, code = np.unique(code * len(known) + own + 1, return_inverse=True)
        names = [(*names[k // len(known)], known[k % len(known)]) for k in joint.tolist()]
    return Grouping(code=code, names=names)


def _observed(question: Question) -> Floats:
    """Defects in the period, (levels, findings)."""
    chosen = question.inside[question.at]
    shape = (len(question.level.names), len(question.finding.names))
    joint = question.level.code[question.at] * shape[1] + question.finding.code
    count = np.bincount(joint[chosen], weights=question.n[chosen], minlength=shape[0] * shape[1])
    return count.astype(np.float64).reshape(shape)


def _expected(question: Question) -> Floats:
    """Defects the usual rates would give the pieces of the period, (levels, findings)."""
    n_cells = len(question.cell.names)
    inside = question.inside
    joint = question.level.code[inside] * n_cells + question.cell.code[inside]
    pairs, code = np.unique(joint, return_inverse=True)
    expected = np.zeros((len(question.level.names), len(question.finding.names)))
    for look in range(len(LOOKS)):
        weight = question.n_pieces * question.had[:, look]
        exposed = np.bincount(code, weights=weight[inside], minlength=len(pairs))
        rates = _usual_rates(question, look, weight)
        np.add.at(expected, pairs // n_cells, exposed[:, None] * rates[pairs % n_cells])
    return expected


def _usual_rates(question: Question, look: int, weight: Floats) -> Floats:
    """Rate of each finding in each cell over the whole history, (cells, findings)."""
    shape = (len(question.cell.names), len(question.finding.names))
    seen = question.look == look
    joint = question.cell.code[question.at[seen]] * shape[1] + question.finding.code[seen]
    count = np.bincount(joint, weights=question.n[seen], minlength=shape[0] * shape[1])
    exposed = np.bincount(question.cell.code, weights=weight, minlength=shape[0])
    rates: Floats = count.reshape(shape) / np.maximum(exposed, 1.0)[:, None]
    return rates


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
