"""Observed and expected faults of every stream, slot by slot, as the records come in.

A stream is a defect kind at one level of a factor; for a press or a station also in one zone of
the print. All levels of all factors are rows of the same arrays. The newest slots stand in a
buffer of fixed length (`qc.monitor.buffer`); what leaves it is kept as sums by row and cell
(`qc.monitor.past`), so that neither cost nor memory of the next slot grows with history.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.monitor.blocks import Blocks, BlockStore, distinct
from qc.monitor.buffer import ROOM, WINDOW, Buffer
from qc.monitor.evidence import SLOT_US, Bools, Floats, Ints, sum_by
from qc.monitor.factors import FACTORS, LEFT_OUT, LOT_FACTORS, SELDOM_MISSING, ZONED_FACTORS
from qc.monitor.numbering import Numbering, Numbers, Reader
from qc.monitor.past import Past
from qc.monitor.slots import SlotEntries
from qc.monitor.usual import (
    LevelRates,
    RateDoubt,
    UsualRates,
    level_rates,
    rate_doubt,
    usual_rates,
)

LEAST_REST = 0.05
"""A level beside which less work than this part was done, the only press or person, can only be
held against itself: without its own pieces there is nothing to fit."""

JUDGED_US, JUDGED_SHARE = 14 * DAY_US, 1 / 3
"""The usual rates leave out the newest work, so long and at most this share of all: a fault that
nobody has seen yet must not become usual. Proposed values, no source."""


class Explained(Protocol):
    """A change that has been found: from ``start`` to ``end`` (slots) its rate is ``ratio`` times
    the usual one."""

    @property
    def kind(self) -> int: ...
    @property
    def row(self) -> int: ...
    @property
    def zone(self) -> int | None: ...
    @property
    def start(self) -> int: ...
    @property
    def end(self) -> int | None: ...
    @property
    def ratio(self) -> float: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Pieces pressed from ``from_us`` (inclusive) to ``until_us`` (exclusive); None is open."""

    from_us: int | None = None
    until_us: int | None = None

    def holds(self, pressed_us: Ints) -> Bools:
        inside = np.ones(len(pressed_us), dtype=bool)
        if self.from_us is not None:
            inside &= pressed_us >= self.from_us
        if self.until_us is not None:
            inside &= pressed_us < self.until_us
        return inside


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Layout:
    """Where some blocks belong, an entry for each row of each: ``which`` block, its stream ``row``,
    where its ``rate`` stands (level x cells + cell), its ``group``; each group's row and slot."""

    which: Ints
    row: Ints
    rate: Ints
    group: Ints
    group_row: Ints
    group_slot: Ints


class StreamCounts:
    """All streams of a shop, grown slot by slot.

    Expected faults of a block are pieces x usual rate x the ratios of the changes found so far
    (``changes``, shared with who finds them).
    """

    def __init__(
        self, kinds: tuple[str, ...], changes: Sequence[Explained], periods: tuple[Period, ...]
    ) -> None:
        self.kinds, self.changes, self.periods = kinds, changes, periods
        self.numbers = Numbers(kinds)
        self.rows, self.cells = self.numbers.rows, self.numbers.cells
        self.cell_parts = tuple(Numbering() for _ in range(4))
        self.slot_start_us: list[int] = []
        self.buffer = Buffer(len(kinds))
        self.store = BlockStore(len(FACTORS), len(kinds))
        self._pasts = tuple(Past(len(kinds)) for _ in periods)
        self.period, self.past = periods[0], self._pasts[0]
        self.kind_total = np.zeros(len(kinds))
        self.n_pieces = 0.0
        self.begin = 0
        """The first slot of the period in force."""

        self.usual: UsualRates | None = None
        self.rates: LevelRates
        self.zone_share = np.full((len(kinds), len(ZONES)), 1.0 / len(ZONES))
        self.row_factor, self.zone_row, self.first_slot = (
            np.zeros(0, dtype=np.int64) for _ in range(3)
        )
        self.cell_codes = np.zeros((0, 4), dtype=np.int64)
        self.rate_at = np.zeros(0, dtype=np.int64)
        self._group_row, self._group_slot = (np.zeros(0, dtype=np.int64) for _ in range(2))
        self._first_group = 0
        self._laid_out: tuple[Blocks, _Layout] | None = None
        self._laid_rate: tuple[_Layout, int, Floats] | None = None
        self._told: tuple[Blocks, Bools] | None = None
        self._doubts: dict[tuple[int, int], RateDoubt] = {}

    @property
    def base(self) -> int:
        """The first slot in the buffer."""
        return self.buffer.base

    @property
    def blocks(self) -> Blocks:
        return self.store.blocks

    def slot_end_us(self, slot: int) -> int:
        """When a slot ends: what it showed is known from then on."""
        return self.slot_start_us[slot] + SLOT_US

    @property
    def n_slots(self) -> int:
        return len(self.slot_start_us)

    @property
    def shop_row(self) -> int:
        return self.rows.number[("shop", "shop")]

    @property
    def has_zones(self) -> bool:
        """Has any fault been recorded with its zone?"""
        return bool(self.past.shop_zoned.any() or len(self.blocks.z_n))

    def zoned_rows(self, rows: Ints) -> Ints:
        """Those of the rows that are looked at zone by zone."""
        return rows[self.zone_row[rows] >= 0] if self.has_zones else rows[:0]

    def factor(self, row: int) -> str:
        return FACTORS[self.row_factor[row]]

    def level(self, row: int) -> str:
        """A row's level as people write it."""
        name = self.rows.names[row]
        return str(name[1])  # type: ignore[index]

    # -- growing -------------------------------------------------------------------------------

    def advance(self, entries: SlotEntries, reader: Reader) -> Ints:
        """Take in a slot; the rows that worked or had new faults in it."""
        if self.n_slots - self.base == ROOM:
            self._retire()
        self.slot_start_us.append(entries.start_us)
        new = self._gathered(entries, reader)
        self._grow_rows()
        self._grow_cells()
        first = len(self.blocks)
        self.store.add(new)
        self.n_pieces += float(new.n.sum())
        self._add_observed(new)
        if self.usual is not None:
            self._scatter(np.arange(first, len(self.blocks)), np.arange(len(self.kinds)))
        rows = np.unique(new.row)
        return rows[rows >= 0]

    def _gathered(self, entries: SlotEntries, reader: Reader) -> Blocks:
        evidence, unit = reader.evidence, entries.unit
        rows, cell = reader.rows_of(unit), reader.cell(evidence.cell[unit])
        pressed = self._pressed_slot(evidence.pressed_us[unit])
        job = reader.job(evidence.run.codes[unit])
        first, block = distinct([pressed, cell, job, *rows.T])
        y = np.zeros((len(first), len(self.kinds)))
        fault_kind = reader.kind[entries.fault_kind]
        np.add.at(y, (block[entries.fault_at], fault_kind), entries.fault_n)
        pressed, job, rows = pressed[first], job[first], rows[first]
        return Blocks(
            n=sum_by(block, entries.n, len(first)), pressed=pressed,
            seen=np.full(len(first), self.n_slots - 1), cell=cell[first], job=job, row=rows,
            group=self._groups(rows, pressed, job), y=y, z_block=block[entries.zoned_at],
            z_kind=reader.kind[entries.zoned_kind], z_zone=entries.zoned_zone,
            z_n=entries.zoned_n,
        )

    def _pressed_slot(self, pressed_us: Ints) -> Ints:
        """The slot of pressing: the first slot with work that had not ended then."""
        ends = np.array(self.slot_start_us[self.base :]) + SLOT_US
        slot = np.searchsorted(ends, pressed_us, side="right")
        return np.minimum(slot, len(ends) - 1) + self.base

    def _groups(self, rows: Ints, pressed: Ints, job: Ints) -> Ints:
        """New numbers for what is one row, slot of pressing and job here, (blocks, factors)."""
        at, f = np.nonzero(rows >= 0)
        out = np.full(rows.shape, -1, dtype=np.int64)
        first, group = distinct([rows[at, f], pressed[at], job[at]])
        out[at, f] = group + self._first_group + len(self._group_row)
        self._group_row = np.concatenate([self._group_row, rows[at, f][first]])
        self._group_slot = np.concatenate([self._group_slot, pressed[at][first]])
        return out

    def _grow_rows(self) -> None:
        known, n = len(self.row_factor), len(self.rows)
        if n == known:
            return
        new = [FACTORS.index(str(name[0])) for name in self.rows.names[known:]]  # type: ignore[index]
        self.row_factor = np.append(self.row_factor, new).astype(np.int64)
        self.rate_at = np.append(self.rate_at, np.zeros(n - known, dtype=np.int64))
        self.first_slot = np.append(self.first_slot, np.full(n - known, self.n_slots - 1))
        zoned = np.isin(self.row_factor, [FACTORS.index(name) for name in ZONED_FACTORS])
        self.zone_row = np.where(zoned, np.cumsum(zoned) - 1, -1)
        self.buffer.grow(n, int(zoned.sum()))

    def _grow_cells(self) -> None:
        known = len(self.cell_codes)
        if len(self.cells) == known:
            return
        new = np.array([
            [-1 if part is None else parts.of(part)
             for part, parts in zip(name, self.cell_parts, strict=True)]  # type: ignore[call-overload]
            for name in self.cells.names[known:]
        ], dtype=np.int64)
        self.cell_codes = np.concatenate([self.cell_codes, new])
        if self.usual is not None:
            self.rates = self.rates.wider(self.usual, new)
            self._doubts.clear()

    def _add_observed(self, new: Blocks) -> None:
        at, kind = np.nonzero(new.y)
        n = new.y[at, kind]
        np.add.at(self.kind_total, kind, n)
        which, f = np.nonzero(new.row[at] >= 0)
        self.buffer.add_observed(
            kind[which], new.row[at[which], f], new.pressed[at[which]], n[which]
        )
        for name in ZONED_FACTORS:
            row = new.row[new.z_block, FACTORS.index(name)]
            ok = row >= 0
            self.buffer.add_zoned(
                new.z_kind[ok], self.zone_row[row[ok]], new.z_zone[ok],
                new.pressed[new.z_block[ok]], new.z_n[ok],
            )

    def _retire(self) -> None:
        """Move the oldest slots out of the buffer into the past."""
        base = self.base + WINDOW
        b = self.blocks
        old = b.pressed < base
        out = np.flatnonzero(old)
        keep, leaving = ~self.explained(out), b.kept(old)
        start = np.array(self.slot_start_us)[leaving.pressed]
        for period, past in zip(self.periods, self._pasts, strict=True):
            past.take_in(leaving, keep & period.holds(start)[:, None])
        self.store.keep(~old)
        self.buffer.shift()
        kept = self.blocks.group[self.blocks.group >= 0]
        first = int(kept.min()) if len(kept) else self._first_group + len(self._group_row)
        drop = first - self._first_group
        self._group_row, self._group_slot = self._group_row[drop:], self._group_slot[drop:]
        self._first_group = first
        self._sum_observed()
        for kind in range(len(self.kinds)):
            self.buffer.expected_total[kind] = self.buffer.expected[kind].sum(axis=1)
        self._add_past_expected(np.arange(len(self.kinds)))

    def _sum_observed(self) -> None:
        """Totals of what was seen: in the buffer and in the past."""
        buffer, past, n = self.buffer, self.past, len(self.row_factor)
        buffer.observed_total[:] = buffer.observed.sum(axis=2)
        buffer.zoned_total[:] = buffer.zoned.sum(axis=3)
        for k in range(len(self.kinds)):
            buffer.observed_total[k, :n] += sum_by(past.row, past.y[:, k], n)
        with_zones = np.flatnonzero(self.zone_row >= 0)
        buffer.zoned_total[:, : len(with_zones)] += past.zoned_of(n)[:, with_zones]

    def _add_past_expected(self, kinds: Ints) -> None:
        if self.usual is None or len(self.past.row) == 0:
            return
        n, past = len(self.row_factor), self.past
        rate = self.rates.rate[self.rate_at[past.row], past.cell]
        for k in kinds:
            self.buffer.expected_total[k, :n] += sum_by(past.row, past.n[:, k] * rate[:, k], n)

    # -- expectations --------------------------------------------------------------------------

    def touched(self, change: Explained, at: Ints | slice = slice(None)) -> Bools:
        """Blocks that a change explains."""
        b = self.blocks
        inside = b.row[at, self.row_factor[change.row]] == change.row
        inside &= b.pressed[at] >= change.start
        if change.end is not None:
            inside &= b.pressed[at] <= change.end
        return np.asarray(inside)

    def explained(self, at: Ints) -> Bools:
        """Blocks and kinds that some change explains, (blocks, kinds)."""
        out = np.zeros((len(at), len(self.kinds)), dtype=bool)
        for change in self.changes:
            out[:, change.kind] |= self.touched(change, at)
        return out

    def multipliers(self, at: Ints, kinds: Ints) -> tuple[Floats, dict[tuple[int, int], Floats]]:
        """Ratios of the changes on blocks: (blocks, kinds) of those not in one zone, and of the
        others by (kind, zone)."""
        out = np.ones((len(at), len(kinds)))
        zones: dict[tuple[int, int], Floats] = {}
        column = {int(k): i for i, k in enumerate(kinds)}
        for change in self.changes:
            if change.kind not in column:
                continue
            factor = np.where(self.touched(change, at), change.ratio, 1.0)
            if change.zone is None:
                out[:, column[change.kind]] *= factor
            else:
                key = (change.kind, change.zone)
                zones[key] = zones.get(key, 1.0) * factor
        return out, zones

    def known_ratio(self, at: Ints, kind: int) -> Floats:
        """How many times the usual rate of a kind the changes let expect, (blocks,)."""
        ratio, zones = self.multipliers(at, np.array([kind]))
        total = np.ones(len(at))
        for (k, zone), of_zone in zones.items():
            total += self.zone_share[k, zone] * (of_zone - 1.0)
        return np.asarray(ratio[:, 0] * total)

    def block_expected(self, at: Ints, kind: int, f: int) -> Floats:
        """Expected faults of a kind, (blocks,), with all that has been explained, as the streams of
        a factor (by number) see it."""
        return self._usual_of(at, kind, f) * self.known_ratio(at, kind)

    def block_zone_expected(self, at: Ints, kind: int, zone: int, f: int) -> Floats:
        """Expected faults of a kind in one zone of the print, (blocks,)."""
        ratio, zones = self.multipliers(at, np.array([kind]))
        here = self.zone_share[kind, zone] * zones.get((kind, zone), 1.0)
        return np.asarray(self._usual_of(at, kind, f) * ratio[:, 0] * here)

    def _usual_of(self, at: Ints, kind: int, f: int) -> Floats:
        """Faults of a kind that the usual rates give blocks."""
        b = self.blocks
        row = b.row[at, f]
        level = np.where(row >= 0, self.rate_at[row], 0)
        return np.asarray(b.n[at] * self.rates.rate[level, b.cell[at], kind])

    def block_zoned(self, kind: int, zone: int) -> Floats:
        """Faults of a kind seen in a zone, (blocks,) of all."""
        b = self.blocks
        mine = (b.z_kind == kind) & (b.z_zone == zone)
        return sum_by(b.z_block[mine], b.z_n[mine], len(b))

    def told(self) -> Bools:
        """Blocks that say all that is nearly always said here, (blocks,): only they can tell one
        cause from another. A lot is not its whole transfer for want of a note on the others."""
        b = self.blocks
        if self._told is None or self._told[0] is not b:
            missing = b.row[:, [FACTORS.index(name) for name in LOT_FACTORS]] < 0
            share = b.n @ missing / max(float(b.n.sum()), 1.0)
            self._told = b, np.asarray(~missing[:, share < SELDOM_MISSING].any(axis=1))
        return self._told[1]

    def _scatter(self, at: Ints, kinds: Ints) -> None:
        """Add the expected faults of blocks to the rows they belong to."""
        if len(at) == 0:
            return
        ratio, zones = self.multipliers(at, kinds)
        on, n = self._layout(at), self.blocks.n[at]
        for j, kind in enumerate(map(int, kinds)):
            e = self._rate(on, kind) * (n * ratio[:, j])[on.which]
            mine = {zone: of_zone for (k, zone), of_zone in zones.items() if k == kind}
            total = np.ones_like(e)
            for zone, of_zone in mine.items():
                more = self.zone_share[kind, zone] * (of_zone - 1.0)[on.which]
                self.buffer.add_extra(kind, zone, on.row, self.blocks.pressed[at[on.which]],
                                      e * more)
                total += more
            by_group = sum_by(on.group, e * total, len(on.group_row))
            self.buffer.add_expected(kind, on.group_row, on.group_slot, by_group)

    def _rate(self, on: _Layout, kind: int) -> Floats:
        """Usual rates of a kind where blocks belong; those asked for last are kept."""
        if self._laid_rate is None or self._laid_rate[0] is not on or self._laid_rate[1] != kind:
            rate = self.rates.rate.reshape(-1)[on.rate * len(self.kinds) + kind]
            self._laid_rate = on, kind, rate
        return self._laid_rate[2]

    def _layout(self, at: Ints) -> _Layout:
        """Where blocks belong; that of all blocks is kept until there are others."""
        b = self.blocks
        if len(at) == len(b) and self._laid_out is not None and self._laid_out[0] is b:
            return self._laid_out[1]
        which, f = np.nonzero(b.row[at] >= 0)
        block = at[which]
        row, group = b.row[block, f], b.group[block, f]
        low = int(group.min())
        group_row, group_slot = (
            a[low - self._first_group :][: int(group.max()) - low + 1]
            for a in (self._group_row, self._group_slot)
        )
        laid_out = _Layout(
            which=which, row=row, rate=self.rate_at[row] * len(self.cell_codes) + b.cell[block],
            group=group - low, group_row=group_row, group_slot=group_slot,
        )
        if len(at) == len(b):
            self._laid_out = b, laid_out
        return laid_out

    def rebuild(self, kinds: Ints) -> None:
        """Compute the expectations of these kinds again."""
        for kind in kinds:
            self.buffer.clear_expected(int(kind))
        self._scatter(np.arange(len(self.blocks)), kinds)
        self._add_past_expected(kinds)

    def past_by_cell(self, row: int, kind: int) -> Floats:
        """Faults expected of a stream in slots that have left the buffer, (cells,)."""
        at = np.flatnonzero(self.past.row == row)
        cell = self.past.cell[at]
        expected = self.past.n[at, kind] * self.rates.rate[self.rate_at[row], cell, kind]
        return sum_by(cell, expected, len(self.cell_codes))

    def rate_doubt(self, rows: Ints, kinds: Ints) -> RateDoubt:
        """How uncertain the usual rates of streams are, (streams,): the squared coefficient of
        variation of the faults expected of a mix of their cells."""
        if self.usual is None:
            raise ValueError("usual is None; rates must be fitted before they are asked for")
        level = self.rate_at[rows]
        return rate_doubt(
            self.rates.rest_y[level, kinds], self.rates.rate[level, :, kinds],
            self.rates.rest_n[level, kinds], self.usual.pairing_shape, self.cell_codes,
            self.rates.effects.at(level, kinds),
        )

    def rate_variance(self, row: int, kind: int, share: Floats) -> float:
        """The same for one stream and the parts of what is expected of it that its cells have,
        (cells,)."""
        key = int(self.rate_at[row]), kind
        if key not in self._doubts:
            self._doubts[key] = self.rate_doubt(np.array([row]), np.array([kind]))
        return float(self._doubts[key].of_mix(share[None])[0])

    def cell_variance(self, kind: int, cell: Ints) -> Floats:
        """Squared coefficients of variation of usual rates of cells; 1 of one never fitted."""
        if self.usual is None:
            raise ValueError("usual is None; rates must be fitted before they are asked for")
        known = np.append(self.usual.cell_variance[kind], 1.0)
        return known[np.minimum(cell, len(known) - 1)]

    # -- learning ------------------------------------------------------------------------------

    def refit(self, period: int) -> None:
        """Fit the usual rates again, to pieces of a period (by number), without what changes
        explain."""
        if self.period is not self.periods[period]:
            self._begin(period)
        b = self.blocks
        keep = ~self.explained(np.arange(len(b)))
        keep &= self.period.holds(np.array(self.slot_start_us)[b.pressed])[:, None]
        keep &= (b.pressed < self.first_judged())[:, None]
        columns = [FACTORS.index(name) for name in LEFT_OUT]
        active = np.unique(b.row[:, columns])
        active = active[active >= 0]
        y, n = self._own_counts(active, columns, keep)
        all_y, all_n = self._own_counts(np.array([self.shop_row]), [FACTORS.index("shop")], keep)
        rest = (all_n - n).sum(axis=(1, 2)) >= LEAST_REST * all_n.sum()
        active, y, n = active[rest], y[rest], n[rest]
        self.usual = usual_rates(all_y[0], all_n[0], self.cell_codes)
        none = np.zeros((1, *y.shape[1:]))
        self.rates = level_rates(
            self.usual, np.concatenate([none, y]), np.concatenate([none, n]), self.cell_codes
        )
        self._sum_observed()
        self._laid_out = None
        self._doubts.clear()
        self.rate_at = np.zeros(len(self.row_factor), dtype=np.int64)
        self.rate_at[active] = 1 + np.arange(len(active))
        self._fit_zone_shares(keep)
        self.rebuild(np.arange(len(self.kinds)))

    def first_judged(self) -> int:
        """The first of the slots that are still being judged, and so do not count as usual yet;
        a period that somebody decided on counts to its end."""
        if self.period.from_us is not None:
            return self.n_slots
        first, last = self.slot_start_us[0], self.slot_start_us[-1]
        judged_us = min(JUDGED_US, int((last - first) * JUDGED_SHARE))
        return int(np.searchsorted(self.slot_start_us, last - judged_us))

    def _begin(self, period: int) -> None:
        """Go over to another period: what came before it is no past of what comes now."""
        self.period, self.past = self.periods[period], self._pasts[period]
        if self.period.from_us is None:
            return
        self.begin = int(np.searchsorted(self.slot_start_us, self.period.from_us))
        self.store.keep(self.blocks.pressed >= self.begin)
        self.buffer.forget_before(self.begin)

    def _own_counts(self, rows: Ints, columns: list[int], keep: Bools) -> tuple[Floats, Floats]:
        """Faults and pieces fitted that each row put in, (rows, kinds, cells)."""
        b, n_cells = self.blocks, len(self.cell_codes)
        number = np.full(len(self.row_factor), -1, dtype=np.int64)
        number[rows] = np.arange(len(rows))
        at, f = np.nonzero(b.row[:, columns] >= 0)
        flat = number[b.row[at, np.array(columns)[f]]] * n_cells + b.cell[at]
        size = len(rows) * n_cells
        in_past = np.flatnonzero(number[self.past.row] >= 0)
        past = number[self.past.row[in_past]] * n_cells + self.past.cell[in_past]
        shape = (len(rows), len(self.kinds), n_cells)
        y, n = np.empty(shape), np.empty(shape)
        for k in range(len(self.kinds)):
            kept = keep[:, k]
            for out, in_buffer, before in (
                (y, b.y[:, k] * kept, self.past.y[:, k]), (n, b.n * kept, self.past.n[:, k]),
            ):
                counted = sum_by(flat, in_buffer[at], size) + sum_by(past, before[in_past], size)
                out[:, k] = counted.reshape(len(rows), n_cells)
        return y, n

    def _fit_zone_shares(self, keep: Bools) -> None:
        """In which zones each kind usually sits."""
        b, n_kinds = self.blocks, len(self.kinds)
        kept = keep[b.z_block, b.z_kind]
        flat = b.z_kind[kept] * len(ZONES) + b.z_zone[kept]
        zone_y = sum_by(flat, b.z_n[kept], n_kinds * len(ZONES)).reshape(n_kinds, -1)
        all_y = (b.y * keep).sum(axis=0)
        zone_y, all_y = zone_y + self.past.shop_zoned, all_y + self.past.shop_y
        self.zone_share = (zone_y + 0.5) / (all_y[:, None] + 0.5 * len(ZONES))
