"""The largest changes since last week: each level against its own weeks before, at equal work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.desk.tallied import FIRST_LOOK, recorded_later
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US, HOUR_US
from qc.domain.ranking import MIX
from qc.stats.comparing.discovery import benjamini_hochberg
from qc.stats.comparing.spread import spread_about
from qc.stats.comparing.stratified import StratifiedComparison, compare_in_strata
from qc.store.inspections import read_findings, read_looks
from qc.store.sums import SPAN, Wanted, sum_tally

NOW_DAYS, BEFORE_DAYS = 7, 28
THIS_WEEK = BEFORE_DAYS // NOW_DAYS
"""Weeks are counted from the oldest, 0."""
FALSE_DISCOVERIES = 0.05
LEAST_PIECES = 20
"""A level with fewer pieces on either side is not compared: it could hardly show anything."""
OF_PIECES = ("press", "fabric", "transfer", "location")
OF_FACTORS = ("operator", "transfer_lot", "garment_lot")
DIMENSIONS = ("defect", *OF_PIECES, *OF_FACTORS)
SOURCE = (
    f"Defects of the last {NOW_DAYS} days against the {BEFORE_DAYS} days before, each level with"
    " itself, within fabric, transfer and place (Mantel & Haenszel, 1959; exact p), allowing for"
    " how much weeks vary beyond chance (Pearson). Named: Benjamini & Hochberg (1995) over all"
    " compared; 5 % of those named may be luck."
)
_COLUMNS = ("piece_id", "location", "attempt", "stage", "inspected_at", "pressed_at", "pieces",
            "defective", "press", "fabric", "transfer", *OF_FACTORS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """One level of a dimension, this week against its own weeks before.

    ``n_defects`` on ``n_pieces`` this week, ``n_before`` and ``pieces_before`` then; ``expected``
    is what the weeks before would have given the work of this week. ``p_value`` allows for more
    than chance; ``stands_out`` for how many levels were compared.
    """

    dimension: str
    level: str
    n_pieces: int
    n_defects: int
    pieces_before: int
    n_before: int
    expected: float
    ratio: float
    low: float
    high: float
    p_value: float
    stands_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LargestChanges:
    """Every level compared, what moved first: by how many defects more or fewer than expected.

    Instants are microseconds UTC; ``before_us`` to ``since_us`` are the weeks before.
    """

    as_of_us: int
    since_us: int
    before_us: int
    rows: tuple[Moved, ...]
    source: str = SOURCE

    @property
    def moved(self) -> tuple[Moved, ...]:
        """What moved by more than luck."""
        return tuple(row for row in self.rows if row.stands_out)


def largest_changes(shop: Shop, *, as_of_us: int) -> LargestChanges:
    """Which level of which dimension moved most in the last week.

    Notes
    -----
    Dimensions are those of `DIMENSIONS`. One cause may move several levels that share its pieces:
    each is named for itself. What moved five weeks ago is not new and is not named.
    """
    since_us = as_of_us // HOUR_US * HOUR_US - NOW_DAYS * DAY_US
    before_us = since_us - BEFORE_DAYS * DAY_US
    counts = _counted(shop, before_us, as_of_us)
    found = [row for name in DIMENSIONS for row in _dimension(name, counts)]
    stands_out = benjamini_hochberg([row.judged_p for _, row in found],
                                    rate=FALSE_DISCOVERIES).stands_out
    rows = [_moved(*row, bool(out)) for row, out in zip(found, stands_out, strict=True)]
    rows.sort(key=lambda row: (not row.stands_out, -abs(row.n_defects - row.expected),
                               row.dimension, row.level))
    return LargestChanges(as_of_us=as_of_us, since_us=since_us, before_us=before_us,
                          rows=tuple(rows))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Counts:
    """By dimension: frames of pieces and of faults with ``level``, the mix, ``hour_us``, ``n``."""

    pieces: dict[str, pd.DataFrame]
    faults: dict[str, pd.DataFrame]


def _counted(shop: Shop, before_us: int, as_of_us: int) -> _Counts:
    weeks = _spans_of(before_us)
    pieces, faults = (_of_records(shop, weeks, as_of_us) if recorded_later(shop, as_of_us)
                      else _of_tallies(shop, weeks))
    pieces["defect"] = pieces["press"].assign(level="")  # every piece can have every kind
    return _Counts(pieces=pieces, faults=faults)


def _spans_of(before_us: int) -> list[tuple[int, int]]:
    """The weeks before, and the last one with whatever came after it."""
    starts = range(before_us, before_us + (BEFORE_DAYS + 1) * DAY_US, NOW_DAYS * DAY_US)
    return list(zip(starts, [*starts[1:], 2**62], strict=True))


def _of_tallies(
    shop: Shop, weeks: list[tuple[int, int]]
) -> tuple[dict[str, pd.DataFrame], dict[str, pd.DataFrame]]:
    first = {"look": [FIRST_LOOK]}

    def added(name: str, key: str, where: Wanted = first, *named: str) -> pd.DataFrame:
        return sum_tally(shop.store, name, (SPAN, key, *MIX), where=where, spans=weeks,
                         named=named)

    places = [sum_tally(shop.store, name, (SPAN, "press", *MIX), where=first, spans=weeks)
              for name in ("piece_tally", "defect_tally")]
    pieces, faults = ({name: _levelled(frame, name) for name in OF_PIECES} for frame in places)
    faults["defect"] = _levelled(added("defect_tally", "kind"), "kind")
    for name in OF_FACTORS:
        mine = first | {"factor": [name]}
        pieces[name] = _levelled(added("factor_tally", "level", mine | {"kind": [None]}), "level")
        faults[name] = _levelled(added("factor_tally", "level", mine, "kind"), "level")
    return pieces, faults


def _of_records(
    shop: Shop, weeks: list[tuple[int, int]], as_of_us: int
) -> tuple[dict[str, pd.DataFrame], dict[str, pd.DataFrame]]:
    since_us = weeks[0][0] - DAY_US  # the first look at a piece may be told with a later time
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=list(_COLUMNS), since_us=since_us)
    counted = count_once(looks, read_findings(shop.store, as_of_us=as_of_us, since_us=since_us))
    pieces = counted.pieces
    hours = pieces["pressed_at"].to_numpy(dtype=np.int64) // HOUR_US * HOUR_US
    pieces[SPAN] = np.searchsorted([first for first, _ in weeks], hours, side="right") - 1
    kinds = counted.kinds[counted.kinds["look"] == FIRST_LOOK]
    found = pieces.loc[kinds["at"].to_numpy()].assign(
        n=kinds["n"].to_numpy(), kind=kinds["kind"].to_numpy())
    worked = pieces[pieces["had_prompt"].to_numpy()]
    worked, found = (part[part[SPAN] >= 0] for part in (worked, found))
    by_piece = (*OF_PIECES, *OF_FACTORS)
    return ({name: _levelled(worked, name) for name in by_piece},
            {name: _levelled(found, name) for name in by_piece}
            | {"defect": _levelled(found, "kind")})


def _levelled(frame: pd.DataFrame, column: str) -> pd.DataFrame:
    """Counts by level, mix and week; rows that do not say the level are left out."""
    kept = pd.DataFrame({"level": frame[column].astype(object)} | {
        name: frame[name].astype(object).where(frame[name].notna(), "") for name in MIX})
    kept["week"], kept["n"] = frame[SPAN].to_numpy(), frame["n"].to_numpy(dtype=np.int64)
    return kept[kept["level"].notna()]


def _dimension(name: str, counts: _Counts) -> list[tuple[tuple[str, str], StratifiedComparison]]:
    """The comparisons of a dimension's levels that have enough pieces on both sides."""
    weeks = _weeks(counts.pieces[name], counts.faults[name], every_piece=name == "defect")
    if not len(weeks):
        return []
    spread = _spread(weeks)
    levels, tables = _tables(weeks)
    made = []
    for level, (d, n, d0, n0) in zip(levels, tables, strict=True):
        compared = compare_in_strata(d, n, d0, n0, spread=spread)
        enough = min(compared.n_inspected, compared.reference_inspected) >= LEAST_PIECES
        if enough and compared.n_defective + compared.reference_defective > 0:
            made.append(((name, level), compared))
    return made


def _tables(weeks: pd.DataFrame) -> tuple[list[str], np.ndarray]:
    """Levels by name, and for each the counts of its mix: (levels, 4, mixes), as
    `compare_in_strata` takes them."""
    code, names = weeks["level"].factorize(sort=True)
    cell, now = weeks["cell"].to_numpy(), (weeks["week"] == THIS_WEEK).to_numpy()
    shape = (len(names), int(cell.max()) + 1)
    joint = code * shape[1] + cell
    sums = [
        np.bincount(joint[part], weights=weeks[count].to_numpy(dtype=np.float64)[part],
                    minlength=shape[0] * shape[1]).reshape(shape)
        for part in (now, ~now) for count in ("d", "n")
    ]
    return [str(name) for name in names], np.stack(sums, axis=1)


def _weeks(pieces: pd.DataFrame, faults: pd.DataFrame, *, every_piece: bool) -> pd.DataFrame:
    """Pieces ``n`` and defects ``d`` by level, mix (``cell``) and ``week``."""
    keys = ["level", *MIX, "week"]
    sums = [frame.groupby(keys)["n"].sum() for frame in (pieces, faults)]
    worked, found = sums[0].rename("n").reset_index(), sums[1].rename("d").reset_index()
    if every_piece:
        levels = pd.DataFrame({"level": found["level"].unique()})
        worked = worked.drop(columns="level").merge(levels, how="cross")
    joined = worked.merge(found, on=keys, how="left")
    joined["d"] = np.minimum(joined["d"].fillna(0), joined["n"])
    joined["cell"] = joined.groupby(list(MIX), sort=False).ngroup()
    return joined


def _spread(weeks: pd.DataFrame) -> float:
    """How much the weeks before vary beyond chance, each level with itself, over all levels."""
    before = weeks[weeks["week"] < THIS_WEEK]
    if not len(before):
        return 1.0
    cell = before.groupby("cell")[["d", "n"]].sum()
    expected = before["n"] * before["cell"].map(cell["d"] / cell["n"])
    each = before.assign(expected=expected).groupby(["level", "week"])[["d", "n", "expected"]].sum()
    each = each.reset_index()
    return spread_about(each["d"], each["expected"], each["n"],
                        each["level"].factorize()[0]).times


def _moved(of: tuple[str, str], found: StratifiedComparison, stands_out: bool) -> Moved:
    ratio, weight = found.ratio, found.reference_inspected
    expected = (found.n_defective / ratio.value if 0 < ratio.value < float("inf")
                else found.n_inspected * found.reference_defective / weight)
    return Moved(
        dimension=of[0], level=of[1], n_pieces=found.n_inspected, n_defects=found.n_defective,
        pieces_before=weight, n_before=found.reference_defective, expected=expected,
        ratio=ratio.value, low=ratio.low, high=ratio.high, p_value=found.judged_p,
        stands_out=stands_out)
