"""The finished pieces as a thermometer: where on a platen defects are too many for chance.

A cold or light spot of a platen raises defects where it lies. How the defects of a press lie over
its platen is held against how those of the same mix of work lie elsewhere; how many there are in
all plays no part in that, so a press that is worse everywhere is no spot.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.domain.instants import DAY_US
from qc.domain.piece_maps import SIDE, PieceMap, PieceSpot
from qc.monitor.zone_counts import ZoneCounts
from qc.monitor.zone_pattern import UsualPattern, chance_of, clumping, usual_pattern
from qc.stats.comparing.comparisons import compare_rates

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Fold = Callable[[str, str | None], Floats]
"""(press, place on the garment) to where its zones lie on the platen, (zones, cells)."""

PERIODS_DAYS = (7, 14, 28, 56)
SHOWN_DAYS = 28
MOST_CHANCE = 0.01
"""A spot named by luck alone anywhere in the shop: once in a hundred looks, or less often."""
MOST_CHANCE_WITHOUT = 0.01
"""The same of one place, without the job that has most there: one odd job is no cold spot."""
MOST_CHANCE_STATION = 0.01
FEWEST = 60
"""Defects of other work below which no pattern is known; a proposed starting value, no source."""
MOST_SPOTS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Period:
    """The defects of a press in a period, folded: ``seen`` (groups, cells); ``expected``
    (cells,); ``share`` (cells,) of the usual pattern and the defects it rests on (``known``)."""

    since_us: int
    chosen: Bools
    seen: Floats
    expected: Floats
    share: Floats
    known: float
    alike: float
    job: npt.NDArray[np.int64]
    station: npt.NDArray[np.int64]

    def chance(self, cells: Bools, at: int, keep: Bools | None = None) -> float:
        """Chance of so many in cell ``at`` among the defects in ``cells``, of groups ``keep``."""
        seen = self.seen[:, cells] if keep is None else self.seen[keep][:, cells]
        job = self.job if keep is None else self.job[keep]
        here = self.seen[:, at] if keep is None else self.seen[keep, at]
        _, of = np.unique(job, return_inverse=True)
        by_job = np.bincount(of, weights=seen.sum(axis=1)).astype(np.float64)
        return chance_of(
            float(here.sum()), float(seen.sum()), float(self.share[at] / self.share[cells].sum()),
            self.known * float(self.share[cells].sum()), clumping(self.alike, by_job))


def piece_maps(
    counts: ZoneCounts, *, as_of_us: int, since_us: Mapping[str, int], fold: Fold
) -> tuple[PieceMap, ...]:
    """The map of every press with work in the last eight weeks, by name.

    Parameters
    ----------
    since_us : when a press was last adjusted: what its pieces said before counts no more
    fold : where a print's zones lie on the press's platen

    Notes
    -----
    Usual: the work of the other presses. For each press, four periods back from now and nine cells
    the count of a cell among all defects of the press is judged by the beta-binomial tail with the
    clumping of jobs, and Bonferroni over all of them; without the job that has most there it must
    stand out too. What stands out is taken away before the next is looked for. Presses that have
    a spot do not count as usual for the others when these are looked at again.
    """
    presses = range(len(counts.presses))
    tainted: set[int] = set()
    for _ in range(2):
        maps = {p: _map_of(p, counts, tainted, as_of_us, since_us, fold) for p in presses}
        found = {p for p, one in maps.items() if one is not None and one.spots}
        if found == tainted or len(found) >= len(counts.presses) - 1:
            break
        tainted = found
    return tuple(sorted((m for m in maps.values() if m is not None), key=lambda m: m.press))


def _map_of(
    press: int, counts: ZoneCounts, tainted: set[int], as_of_us: int,
    since_us: Mapping[str, int], fold: Fold,
) -> PieceMap | None:
    name = counts.presses[press]
    mine = counts.press == press
    starts = _starts(as_of_us, since_us.get(name))
    if not (mine & (counts.first_us >= starts[-1])).any():
        return None
    base = ~mine & ~np.isin(counts.press, list(tainted - {press}))
    if counts.faults[base].sum() < FEWEST:
        base = ~mine | (counts.first_us < starts[-1])
    if counts.faults[base].sum() < FEWEST:
        shown = mine & (counts.first_us >= starts[-1])
        return _shown(name, counts, shown, starts[-1], as_of_us, np.zeros((SIDE**2,)),
                      why_not="too few defects with a zone on other work to compare with")
    usual = usual_pattern(counts, base)
    periods = [_period(name, counts, mine & (counts.first_us >= start), start, usual, fold)
               for start in starts]
    n_tests = len(counts.presses) * SIDE**2 * len(PERIODS_DAYS)
    spotted = [(spots[0].chance, period, spots) for period in periods
               if (spots := _spots(period, counts, n_tests))]
    if spotted:
        _, period, spots = min(spotted, key=lambda one: (one[0], -one[1].since_us))
    else:
        last = min((p for p in periods), key=lambda p: abs(_days(p, as_of_us) - SHOWN_DAYS))
        period, spots = last, ()
    return _shown(name, counts, period.chosen, period.since_us, as_of_us, period.expected,
                  seen=period.seen, spots=spots)


def _starts(as_of_us: int, adjusted_us: int | None) -> list[int]:
    """Beginnings of the periods looked at, the latest first."""
    earliest = as_of_us - PERIODS_DAYS[-1] * DAY_US if adjusted_us is None else adjusted_us
    return sorted({max(as_of_us - days * DAY_US, earliest) for days in PERIODS_DAYS}, reverse=True)


def _days(period: _Period, as_of_us: int) -> float:
    return (as_of_us - period.since_us) / DAY_US


def _period(
    press: str, counts: ZoneCounts, chosen: Bools, since_us: int, usual: UsualPattern, fold: Fold
) -> _Period:
    places = [fold(press, name) for name in (*counts.locations, None)]
    by_place = usual.expected(counts, chosen)
    expected = sum((by_place[i] @ places[i] for i in range(len(places))), np.zeros(SIDE**2))
    location = counts.location[chosen] % len(places)
    seen = np.zeros((int(chosen.sum()), SIDE**2))
    for i, matrix in enumerate(places):
        at = location == i
        seen[at] = counts.faults[chosen][at] @ matrix
    total = expected.sum()
    share = np.maximum(expected / total if total else np.full(SIDE**2, 1 / SIDE**2), 1e-9)
    return _Period(
        since_us=since_us, chosen=chosen, seen=seen, expected=expected, share=share / share.sum(),
        known=usual.weight(by_place.sum(axis=1)), alike=usual.alike, job=counts.job[chosen],
        station=counts.station[chosen],
    )


def _spots(period: _Period, counts: ZoneCounts, n_tests: int) -> tuple[PieceSpot, ...]:
    """What stands out, one after the other; what is found no longer counts for the next."""
    cells = np.ones(SIDE**2, dtype=bool)
    out: list[PieceSpot] = []
    while len(out) < MOST_SPOTS:
        chance = {at: period.chance(cells, at) for at in np.flatnonzero(cells).tolist()}
        at = min(chance, key=lambda cell: chance[cell])
        if chance[at] * n_tests > MOST_CHANCE or not _by_more_than_one_job(period, cells, at):
            break
        out.append(_spot(period, counts, at, chance[at] * n_tests))
        cells[at] = False
    return tuple(out)


def _by_more_than_one_job(period: _Period, cells: Bools, at: int) -> bool:
    jobs, of = np.unique(period.job, return_inverse=True)
    more = np.bincount(of, weights=period.seen[:, at])
    rest = of != int(more.argmax())
    return len(jobs) > 1 and period.chance(cells, at, rest) <= MOST_CHANCE_WITHOUT


def _spot(period: _Period, counts: ZoneCounts, at: int, chance: float) -> PieceSpot:
    seen, expected = float(period.seen[:, at].sum()), float(period.expected[at])
    elsewhere = max(round(period.known * float(period.share[at])), 1)
    ratio = compare_rates(round(seen), expected, elsewhere, elsewhere).ratio
    stations, n = _stations(period, counts, at)
    return PieceSpot(
        place=(at // SIDE + 1, at % SIDE + 1), seen=seen, expected=expected,
        ratio=float(ratio.value), low=float(ratio.low), high=float(ratio.high), chance=chance,
        n_jobs=len(np.unique(period.job[period.seen[:, at] > 0])), stations=stations, n_stations=n,
    )


def _stations(
    period: _Period, counts: ZoneCounts, at: int
) -> tuple[tuple[str, ...], int]:
    """At which stations a spot shows: one, all, or (empty) not to be told; and how many there are.

    The defects of the spot are held against those of all other cells, station by station.
    """
    known = [s for s in np.unique(period.station).tolist() if s >= 0]
    names = tuple(sorted(counts.stations[s] for s in known))
    if len(known) < 2:
        return (), len(known)
    here = np.array([period.seen[period.station == s, at].sum() for s in known])
    others = np.array([period.seen[period.station == s].sum() for s in known]) - here
    clumped = clumping(period.alike, here)
    share = (others + 0.5) / (others + 0.5).sum()
    one = [chance_of(h, here.sum(), q, others.sum() + 1.0, clumped)
           for h, q in zip(here, share, strict=True)]
    surest = int(np.argmin(one))
    if one[surest] * len(known) <= MOST_CHANCE_STATION:
        return (counts.stations[known[surest]],), len(known)
    cells = np.ones(SIDE**2, dtype=bool)
    shows = all(period.chance(cells, at, period.station == s) <= MOST_CHANCE_STATION
                for s in known)
    return (names if shows else ()), len(known)


def _shown(
    press: str, counts: ZoneCounts, chosen: Bools, since_us: int, as_of_us: int, expected: Floats,
    *, seen: Floats | None = None, spots: tuple[PieceSpot, ...] = (), why_not: str = "",
) -> PieceMap:
    total = counts.faults[chosen].sum(axis=0) if seen is None else seen.sum(axis=0)
    return PieceMap(
        press=press, since_us=since_us, until_us=as_of_us, seen=_square(total),
        expected=_square(expected), n_pieces=round(float(counts.n[chosen].sum())),
        n_unplaced=round(float(counts.unplaced[chosen].sum())), spots=spots, why_not=why_not,
    )


def _square(values: Floats) -> Floats:
    square = values.reshape(SIDE, SIDE).copy()
    square.flags.writeable = False
    return square
