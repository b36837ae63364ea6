"""Observed and expected faults of every stream, slot by slot, as the records come in.

A stream is a defect kind at one level of a factor; for a press or a station also in one zone of
the print. Arrays are (level, slot of pressing, kind); what is seen late still counts in the slot
it was pressed in.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from qc.domain.kinds import ZONES
from qc.monitor.evidence import Blocks, Bools, Evidence, Floats, Ints, sum_by
from qc.monitor.usual import CellRates, UsualRates, rescaled_main

ZONED_FACTORS = ("press", "station")
"""Factors that can spoil one zone of the print: a corner of a platen, a jig, a pad."""

LEFT_OUT = ("press", "station", "operator", "transfer_lot", "garment_lot", "size")
"""Factors whose levels are measured by rates that leave their own pieces out."""

CLUMP_FACTORS = ("job", "transfer_lot", "garment_lot")
"""What makes faults come in clumps inside a window of another stream. Presses and people stay:
what they are like is in a stream's own past."""


@dataclass(slots=True)
class FactorCounts:
    """Counts of one factor: observed, expected and the clump term, (levels, slots, kinds);
    ``zoned`` (levels, slots, kinds, zones) for factors that can spoil one zone. Totals are over
    all slots so far. ``extra``: what explained changes of one zone add to the expectation,
    (levels, slots) by (kind, zone); part of ``expected`` already."""

    observed: Floats
    expected: Floats
    clump: Floats
    zoned: Floats | None
    observed_total: Floats
    expected_total: Floats
    zoned_total: Floats | None
    extra: dict[tuple[int, int], Floats] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Groups:
    """Where the blocks of one factor add up: ``cell`` (level and slot) and ``job`` in that cell of
    each block, 0 where it has no level; and what the cells and jobs are."""

    cell: Ints
    job: Ints
    level_of_cell: Ints
    slot_of_cell: Ints
    cell_of_job: Ints


def _groups(blocks: Blocks, name: str, job: Ints) -> _Groups:
    known = blocks.level[name] >= 0
    n_slots, n_jobs = len(blocks.slot_start_us), int(job.max(initial=0)) + 1
    flat = blocks.level[name][known] * n_slots + blocks.pressed[known]
    cells, which = np.unique(flat, return_inverse=True)
    jobs, member = np.unique(which * n_jobs + job[known], return_inverse=True)
    cell_of, job_of = np.zeros(len(known), dtype=np.int64), np.zeros(len(known), dtype=np.int64)
    cell_of[known], job_of[known] = which, member
    return _Groups(
        cell=cell_of, job=job_of, level_of_cell=cells // n_slots, slot_of_cell=cells % n_slots,
        cell_of_job=jobs // n_jobs,
    )


class StreamCounts:
    """All streams of a shop, grown slot by slot.

    ``expected`` of a block is pieces x usual rate x the multiplier of what has been explained
    already (`multiplier`, and `zone_multiplier` for changes that sit in one zone).
    """

    def __init__(self, evidence: Evidence, blocks: Blocks) -> None:
        self.evidence, self.blocks = evidence, blocks
        self.n_kinds, self.n_slots = len(evidence.kinds), len(blocks.slot_start_us)
        self.n_levels = {name: len(f.levels) for name, f in evidence.factors.items()}
        self.counts = {name: self._empty(name) for name in evidence.factors}
        self.job = _jobs(blocks)
        self.n_jobs = int(self.job.max(initial=0)) + 1
        self.groups = {name: _groups(blocks, name, self.job) for name in evidence.factors}
        self.block_y = np.zeros((len(blocks.n), self.n_kinds))
        self.kind_total = np.zeros(self.n_kinds)
        self.n_pieces = 0.0
        self._zone_share = np.full((self.n_kinds, len(ZONES)), 1.0 / len(ZONES))
        self.block_z = (
            np.zeros((len(blocks.n), self.n_kinds, len(ZONES))) if len(blocks.z_n) else None
        )
        self.n_visible = 0
        self._fault_at, self._zoned_at = 0, 0
        self.usual: UsualRates | None = None
        self.level_y: dict[str, Floats] = {}
        self.level_n: dict[str, Floats] = {}
        self.level_scale: dict[str, Floats] = {}
        self.level_variance: dict[str, Floats] = {}
        self.multiplier = np.ones((len(blocks.n), self.n_kinds))
        self.zone_multiplier: dict[tuple[int, int], Floats] = {}

    def _empty(self, name: str) -> FactorCounts:
        shape = (self.n_levels[name], self.n_slots, self.n_kinds)
        zoned = name in ZONED_FACTORS and len(self.blocks.z_n) > 0
        return FactorCounts(
            observed=np.zeros(shape), expected=np.zeros(shape), clump=np.zeros(shape),
            zoned=np.zeros((*shape, len(ZONES))) if zoned else None,
            observed_total=np.zeros((shape[0], shape[2])),
            expected_total=np.zeros((shape[0], shape[2])),
            zoned_total=np.zeros((shape[0], shape[2], len(ZONES))) if zoned else None,
        )

    # -- growing -------------------------------------------------------------------------------

    def advance(self, slot: int) -> tuple[Ints, Ints]:
        """Take in what was seen in this slot; the new blocks and the blocks with new faults."""
        blocks = self.blocks
        stop = int(np.searchsorted(blocks.seen, slot, side="right"))
        new = np.arange(self.n_visible, stop)
        self.n_visible = stop
        self.n_pieces += float(blocks.n[new].sum())
        self._add_expected(new)
        faulty = self._add_faults(slot)
        self._add_zoned_faults(slot)
        return new, faulty

    def _add_faults(self, slot: int) -> Ints:
        b = self.blocks
        stop = int(np.searchsorted(b.y_seen, slot, side="right"))
        new = slice(self._fault_at, stop)
        self._fault_at = stop
        at, kind, n = b.y_block[new], b.y_kind[new], b.y_n[new]
        np.add.at(self.block_y, (at, kind), n)
        np.add.at(self.kind_total, kind, n)
        for name, counts in self.counts.items():
            level = b.level[name][at]
            known = level >= 0
            where = (level[known], b.pressed[at[known]], kind[known])
            np.add.at(counts.observed, where, n[known])
            np.add.at(counts.observed_total, (level[known], kind[known]), n[known])
        return at

    def _add_zoned_faults(self, slot: int) -> None:
        b = self.blocks
        stop = int(np.searchsorted(b.z_seen, slot, side="right"))
        new = slice(self._zoned_at, stop)
        self._zoned_at = stop
        at, kind, zone, n = b.z_block[new], b.z_kind[new], b.z_zone[new], b.z_n[new]
        if self.block_z is not None:
            np.add.at(self.block_z, (at, kind, zone), n)
        for name, counts in self.counts.items():
            if counts.zoned is None or counts.zoned_total is None:
                continue
            level = b.level[name][at]
            known = level >= 0
            where = (level[known], b.pressed[at[known]], kind[known], zone[known])
            np.add.at(counts.zoned, where, n[known])
            np.add.at(counts.zoned_total, (where[0], where[2], where[3]), n[known])

    def _add_expected(self, at: Ints) -> None:
        if len(at) == 0 or self.usual is None:
            return
        for name, counts in self.counts.items():
            self._scatter(name, counts, at, slice(None))

    def _scatter(self, name: str, counts: FactorCounts, at: Ints, kinds: slice | Ints) -> None:
        at = at[self.blocks.level[name][at] >= 0]
        expected = self.block_expected(at, kinds, factor=name)
        groups = self.groups[name]
        cells, jobs = groups.cell[at], groups.job[at]
        if len(at) < self.n_visible // 4:  # a few new blocks: only the places they touch
            used, cells = np.unique(cells, return_inverse=True)
            used_jobs, jobs = np.unique(jobs, return_inverse=True)
            cell_of_job = np.searchsorted(used, groups.cell_of_job[used_jobs])
        else:
            used, cell_of_job = np.arange(len(groups.level_of_cell)), groups.cell_of_job
        level_of, slot_of = groups.level_of_cell[used], groups.slot_of_cell[used]
        totals = sum_rows(cells, expected, len(used))
        per_job = sum_rows(jobs, expected, len(cell_of_job))
        squares = sum_rows(cell_of_job, per_job**2, len(used))
        where = np.arange(self.n_kinds)[kinds]
        counts.expected[level_of[:, None], slot_of[:, None], where] += totals
        by_level, level_at = np.unique(level_of, return_inverse=True)
        counts.expected_total[by_level[:, None], where] += sum_rows(
            level_at, totals, len(by_level)
        )
        if counts.zoned is not None:
            self._scatter_extra(name, counts, at, where)
        counts.clump[level_of[:, None], slot_of[:, None], where] += squares

    def _scatter_extra(self, name: str, counts: FactorCounts, at: Ints, kinds: Ints) -> None:
        """What explained changes of one zone add, for these blocks."""
        b = self.blocks
        for (kind, zone), factor in self.zone_multiplier.items():
            if kind not in kinds:
                continue
            touched = at[factor[at] != 1.0]
            plain = self._plain_expected(touched, kind, name) * self.zone_share()[kind, zone]
            extra = counts.extra.setdefault((kind, zone), np.zeros(counts.expected.shape[:2]))
            where = (b.level[name][touched], b.pressed[touched])
            np.add.at(extra, where, plain * (factor[touched] - 1.0))

    def _plain_expected(self, at: Ints, kind: int, factor: str) -> Floats:
        """Expected faults of a kind without what sits in one zone, (blocks,)."""
        rate = self.block_rate(at, np.array([kind]), factor=factor).rate[:, 0]
        return self.blocks.n[at] * rate * self.multiplier[at, kind]

    # -- expectations --------------------------------------------------------------------------

    def block_expected(
        self, at: Ints, kinds: slice | Ints = slice(None), *, factor: str = "shop"
    ) -> Floats:
        """Expected faults (blocks, kinds), with what has been explained folded in.

        As the streams of ``factor`` see it: the level's own pieces are left out of its rate.
        """
        rate = self.block_rate(at, kinds, factor=factor).rate
        explained = self.multiplier[at][:, kinds] * self._zone_total(at)[:, kinds]
        return self.blocks.n[at][:, None] * rate * explained

    def block_rate(
        self, at: Ints, kinds: slice | Ints = slice(None), *, factor: str = "shop"
    ) -> CellRates:
        """Usual rates of blocks, (blocks, kinds), with what they are uncertain by.

        Raises
        ------
        ValueError
            No usual rates have been set yet.
        """
        if self.usual is None:
            raise ValueError("usual is None; rates must be set before they are asked for")
        cell = self.blocks.cell[at]
        if factor not in self.level_y:
            return self.usual.at(kinds, cell)
        level = self.blocks.level[factor][at]
        chosen = np.arange(self.n_kinds)[kinds]
        where = (level[:, None], chosen[None, :], cell[:, None])
        return self.usual.at(
            kinds, cell, y_out=self.level_y[factor][where], n_out=self.level_n[factor][where],
            scale=self.level_scale[factor][where],
            main_variance=self.level_variance[factor][(slice(None), *where)],
        )

    def _zone_total(self, at: Ints) -> Floats:
        total = np.ones((len(at), self.n_kinds))
        if self.zone_multiplier:
            share = self.zone_share()
            for (kind, zone), extra in self.zone_multiplier.items():
                total[:, kind] += share[kind, zone] * (extra[at] - 1.0)
        return total

    def zone_share(self) -> Floats:
        """Usual share of each kind's faults in each zone, (kinds, zones), as last fitted."""
        return self._zone_share

    def zone_expected(
        self, name: str, zone: int, levels: Ints, slots: slice, kinds: Ints
    ) -> tuple[Floats, Floats]:
        """Expected faults in one zone, (levels, slots, kinds), and their totals over all slots."""
        counts = self.counts[name]
        share = self.zone_share()[kinds, zone]
        recent = counts.expected[levels, slots][..., kinds] * share
        total = counts.expected_total[levels][:, kinds] * share
        for (kind, at_zone), extra in counts.extra.items():
            column = np.flatnonzero(kinds == kind)
            if len(column) == 0:
                continue
            weight = (1.0 if at_zone == zone else 0.0) - share[column[0]]
            recent[..., column[0]] += weight * extra[levels, slots]
            total[..., column[0]] += weight * extra[levels].sum(axis=1)
        return recent, total

    def block_zone_expected(self, at: Ints, kind: int, zone: int, *, factor: str) -> Floats:
        """Expected faults of a kind in one zone of the print, (blocks,)."""
        extra = self.zone_multiplier.get((kind, zone))
        base = self._plain_expected(at, kind, factor) * self.zone_share()[kind, zone]
        return base * (1.0 if extra is None else extra[at])

    def set_rates(self, usual: UsualRates, excluded: dict[int, Bools], since_slot: int) -> None:
        """Take new usual rates; every expectation is computed again.

        ``excluded`` and ``since_slot`` as for `fit_counts`, from which the rates were fitted.
        """
        self.usual = usual
        for name in LEFT_OUT:
            if name in self.counts:
                self._fit_levels(name, usual, excluded, since_slot)
        self.rebuild(np.arange(self.n_kinds))

    def _fit_levels(
        self, name: str, usual: UsualRates, excluded: dict[int, Bools], since_slot: int
    ) -> None:
        """What each level put into the usual rates, and how the main effects were without it."""
        y, n = self._counts_by(self.blocks.level[name], self.n_levels[name], excluded, since_slot)
        self.level_y[name], self.level_n[name] = y, n
        scale, variance = rescaled_main(usual, y, n, self.evidence.cell_codes)
        self.level_scale[name], self.level_variance[name] = scale, variance

    def _counts_by(
        self, level: Ints, n_levels: int, excluded: dict[int, Bools], since_slot: int
    ) -> tuple[Floats, Floats]:
        """Faults and pieces fitted, each (levels, kinds, cells)."""
        b, n_cells = self.blocks, len(self.evidence.cell_codes)
        at = np.arange(self.n_visible)
        at = at[(b.pressed[at] >= since_slot) & (level[at] >= 0)]
        flat, size = level[at] * n_cells + b.cell[at], n_levels * n_cells
        y = np.empty((n_levels, self.n_kinds, n_cells))
        n = np.empty_like(y)
        pieces = sum_by(flat, b.n[at], size)
        for kind in range(self.n_kinds):
            keep = slice(None) if kind not in excluded else ~excluded[kind][at]
            kept = at[keep]
            counted = sum_by(flat[keep], self.block_y[kept, kind], size)
            y[:, kind] = counted.reshape(n_levels, n_cells)
            of_kind = pieces if kind not in excluded else sum_by(flat[keep], b.n[kept], size)
            n[:, kind] = of_kind.reshape(n_levels, n_cells)
        return y, n

    def rebuild(self, kinds: Ints) -> None:
        """Compute the expectations of these kinds again from all visible blocks."""
        at = np.arange(self.n_visible)
        for name, counts in self.counts.items():
            counts.expected[..., kinds] = 0.0
            counts.expected_total[..., kinds] = 0.0
            counts.clump[..., kinds] = 0.0
            for key in [key for key in counts.extra if key[0] in kinds]:
                del counts.extra[key]
            self._scatter(name, counts, at, kinds)

    # -- what the usual rates are fitted to ------------------------------------------------------

    def fit_counts(self, excluded: dict[int, Bools], since_slot: int) -> tuple[Floats, Floats]:
        """Faults and pieces by (kind, cell) of visible blocks, without those excluded by kind."""
        whole = np.zeros(len(self.blocks.n), dtype=np.int64)
        y, n = self._counts_by(whole, 1, excluded, since_slot)
        return y[0], n[0]

    def fit_zone_shares(self, excluded: dict[int, Bools]) -> None:
        """Learn in which zones each kind usually sits, without the excluded blocks."""
        if self.block_z is None:
            return
        in_zone, total = self.block_z[: self.n_visible], self.block_y[: self.n_visible]
        zone_y, all_y = in_zone.sum(axis=0), self.kind_total.copy()
        for kind, out in excluded.items():
            keep = ~out[: self.n_visible]
            zone_y[kind], all_y[kind] = in_zone[keep, kind].sum(axis=0), total[keep, kind].sum()
        self._zone_share = (zone_y + 0.5) / (all_y[:, None] + 0.5 * len(ZONES))


def _jobs(blocks: Blocks) -> Ints:
    """Job numbers; work without a job is one job for each press, cell and slot."""
    job = blocks.job.copy()
    missing = job < 0
    if missing.any():
        press = blocks.level["press"][missing]
        cell, slot = blocks.cell[missing], blocks.pressed[missing]
        key = (press * (int(cell.max()) + 1) + cell) * (int(slot.max()) + 1) + slot
        job[missing] = int(job.max(initial=-1)) + 1 + np.unique(key, return_inverse=True)[1]
    return job


def sum_rows(group: Ints, values: Floats, size: int) -> Floats:
    """Sums of the rows of ``values`` by group, (size, columns)."""
    out = np.empty((size, values.shape[1]))
    for column in range(values.shape[1]):
        out[:, column] = sum_by(group, values[:, column], size)
    return out
