"""How the defects of usual work lie over the zones of a print, and how surely that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import betabinom

from qc.monitor.mix import CELL_PIECES
from qc.monitor.zone_counts import N_ZONES, ZoneCounts

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

LOCATION_DEFECTS = 50.0
"""Defects of the whole shop that stand in for the pattern of a place on the garment where there
are few; a proposed starting value, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsualPattern:
    """Defects of the work compared with.

    ``rate`` (cells,): with a zone, for each piece. ``share`` (locations + 1, zones): over the
    zones of a print; the last row is for places not said. ``known`` (locations + 1,): defects the
    share rests on. ``n`` : defects in all. ``alike`` : how much those of one job are alike in
    where they lie, 0 (not at all) to 1 (intraclass correlation).
    """

    rate: Floats
    share: Floats
    known: Floats
    n: float
    alike: float

    def expected(self, counts: ZoneCounts, chosen: Bools) -> Floats:
        """Defects of the chosen groups of pieces by place on the garment and zone,
        (locations + 1, zones)."""
        location, cell = counts.location[chosen], counts.cell[chosen]
        total = np.bincount(location % len(self.share), minlength=len(self.share),
                            weights=counts.n[chosen] * self.rate[cell])
        return total[:, None] * self.share

    def weight(self, by_location: Floats) -> float:
        """Defects that a share expected of such a mix of places (weights) rests on."""
        total = by_location.sum()
        if not total:
            return self.n
        return min(float(1.0 / ((by_location / total) ** 2 / self.known).sum()), self.n)


def usual_pattern(counts: ZoneCounts, base: Bools) -> UsualPattern:
    """The pattern of the groups in ``base``, which must hold a defect with a zone."""
    faults, pieces = counts.faults[base], counts.n[base]
    n_cells, n_places = int(counts.cell.max(initial=-1)) + 1, len(counts.locations) + 1
    total = faults.sum()
    shop = total / pieces.sum()
    seen = np.bincount(counts.cell[base], weights=faults.sum(axis=1), minlength=n_cells)
    worked = np.bincount(counts.cell[base], weights=pieces, minlength=n_cells)
    place = counts.location[base] % n_places
    by_place = np.zeros((n_places, N_ZONES))
    np.add.at(by_place, place, faults)
    overall = (faults.sum(axis=0) + 1.0) / (total + N_ZONES)
    own = by_place.sum(axis=1)
    share = (by_place + LOCATION_DEFECTS * overall) / (own + LOCATION_DEFECTS)[:, None]
    return UsualPattern(
        rate=(seen + CELL_PIECES * shop) / (worked + CELL_PIECES), share=share,
        known=own + min(LOCATION_DEFECTS, float(total)), n=float(total),
        alike=_alike(faults, share[place], counts.job[base]),
    )


def _alike(faults: Floats, share: Floats, job: npt.NDArray[np.int64]) -> float:
    """Intraclass correlation of the zones of one job's defects, by moments; at least 0."""
    _, of = np.unique(job, return_inverse=True)
    seen, wanted = np.zeros((of.max() + 1, N_ZONES)), np.zeros((of.max() + 1, N_ZONES))
    np.add.at(seen, of, faults)
    np.add.at(wanted, of, share * faults.sum(axis=1, keepdims=True))
    n = seen.sum(axis=1, keepdims=True)
    mean = wanted / np.maximum(n, 1.0)
    luck = wanted * (1.0 - mean)
    pairs = float((n * (n - 1.0) * mean * (1.0 - mean)).sum())
    return min(max(float(((seen - wanted) ** 2 - luck).sum()) / pairs, 0.0), 1.0) if pairs else 0.0


def clumping(alike: float, by_job: Floats) -> float:
    """By how much the variance of a count in one zone exceeds luck (design effect)."""
    total = by_job.sum()
    return 1.0 + alike * max(float((by_job**2).sum() / total) - 1.0, 0.0) if total else 1.0


def chance_of(seen: float, of: float, share: float, known: float, clumped: float) -> float:
    """Chance of at least ``seen`` defects of ``of`` in a place with a share that ``known`` defects
    say.

    Notes
    -----
    Beta-binomial: the share is known only from so many defects. Clumped counts speak as fewer
    independent ones (Rao & Scott 1992, Biometrics 48, 577-585, from memory).
    """
    n, k = round(of / clumped), int(np.floor(seen / clumped))
    if not k:
        return 1.0
    terms = betabinom.logpmf(np.arange(k, n + 1), n, known * share, known * (1.0 - share))
    return min(float(np.exp(terms).sum()), 1.0)  # as a sum: the library's tail is none far out
