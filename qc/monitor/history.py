"""A shop's work day by day: what a baseline is chosen from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Bools, Evidence, Floats, Ints, sum_by
from qc.monitor.usual import plain_rates, usual_rates


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explained:
    """A change already found: the units it touches, and the kinds of defect it raised in them."""

    flag_id: str
    kinds: tuple[str, ...]
    units: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Days:
    """Days of work in order: start and end of each, and the day of each unit (-1: none)."""

    start_us: Ints
    end_us: Ints
    of_unit: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """Work gathered by day, press and mix (fabric, transfer, place, look group).

    ``day``, ``press``, ``cell`` : (rows,). ``looked`` : (rows,) pieces looked at; ``n`` and ``y`` :
    (rows, kinds) of them those that no explained change of the kind touched, and their defects.
    ``pieces`` and ``touched`` : (days,) pieces pressed, and those touched by an explained change.
    """

    days: Days
    kinds: tuple[str, ...]
    presses: tuple[str, ...]
    day: Ints
    press: Ints
    cell: Ints
    cell_codes: Ints
    looked: Floats
    n: Floats
    y: Floats
    pieces: Floats
    touched: Floats

    @property
    def n_days(self) -> int:
        return len(self.days.start_us)


def gather_history(
    evidence: Evidence, days: Days, explained: tuple[Explained, ...], *, as_of_us: int
) -> History:
    """The history in the evidence as known at a moment, without what is explained already."""
    unit = np.flatnonzero((days.of_unit >= 0) & (evidence.seen_us <= as_of_us))
    press = _codes(evidence, "press")
    n_cells = max(len(evidence.cell_codes), 1)
    key = (days.of_unit[unit] * (len(press[1]) + 1) + press[0][unit] + 1) * n_cells
    used, row = np.unique(key + evidence.cell[unit], return_inverse=True)
    out = _out(evidence, explained)
    row_of = np.full(len(evidence.n), -1, dtype=np.int64)
    row_of[unit] = row
    day, rest = np.divmod(used // n_cells, len(press[1]) + 1)
    return History(
        days=days, kinds=evidence.kinds, presses=press[1], day=day, press=rest - 1,
        cell=used % n_cells, cell_codes=evidence.cell_codes,
        looked=sum_by(row, evidence.n[unit], len(used)),
        n=_columns(row, evidence.n[unit], len(used), out[:, unit]),
        y=_defects(evidence, row_of, len(used), out, as_of_us),
        pieces=_pieces(evidence, days, unit),
        touched=_pieces(evidence, days, unit[out[:, unit].any(axis=0)]),
    )


def usual_of(history: History, rows: Bools) -> Floats:
    """Usual rate of each kind in each cell of the mix from some of the rows, (cells, kinds)."""
    n_cells, n_kinds = len(history.cell_codes), len(history.kinds)
    y, n = np.zeros((n_kinds, n_cells)), np.zeros((n_kinds, n_cells))
    for kind in range(n_kinds):
        y[kind] = sum_by(history.cell[rows], history.y[rows, kind], n_cells)
        n[kind] = sum_by(history.cell[rows], history.n[rows, kind], n_cells)
    return plain_rates(usual_rates(y, n, history.cell_codes), history.cell_codes)


def _codes(evidence: Evidence, factor: str) -> tuple[Ints, tuple[str, ...]]:
    if factor not in evidence.factors:
        return np.full(len(evidence.n), -1, dtype=np.int64), ()
    return evidence.factors[factor].codes, evidence.factors[factor].levels


def _out(evidence: Evidence, explained: tuple[Explained, ...]) -> Bools:
    """Units left out of each kind, (kinds, units)."""
    out = np.zeros((len(evidence.kinds), len(evidence.n)), dtype=bool)
    for change in explained:
        for kind in change.kinds:
            if kind in evidence.kinds:
                out[evidence.kinds.index(kind), change.units] = True
    return out


def _columns(row: Ints, n: Floats, n_rows: int, out: Bools) -> Floats:
    found = [sum_by(row, np.where(kind, 0.0, n), n_rows) for kind in out]
    return np.column_stack(found) if found else np.zeros((n_rows, 0))


def _defects(
    evidence: Evidence, row_of: Ints, n_rows: int, out: Bools, as_of_us: int
) -> Floats:
    unit, kind = evidence.fault_unit, evidence.fault_kind
    keep = (row_of[unit] >= 0) & (evidence.fault_seen_us <= as_of_us) & ~out[kind, unit]
    n_kinds = len(evidence.kinds)
    both = row_of[unit[keep]] * n_kinds + kind[keep]
    return sum_by(both, evidence.fault_n[keep], n_rows * n_kinds).reshape(n_rows, n_kinds)


def _pieces(evidence: Evidence, days: Days, unit: Ints) -> Floats:
    """Pieces of each day, each once whatever looks it had."""
    _, first = np.unique(evidence.unit_piece[unit], return_index=True)
    chosen = unit[first]
    return sum_by(days.of_unit[chosen], evidence.n[chosen], len(days.start_us))
