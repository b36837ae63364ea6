"""Names as numbers, given in order of appearance: the same whether records come at once or not."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np

from qc.monitor.evidence import Evidence, Ints
from qc.monitor.factors import FACTORS


class Numbering:
    """Numbers 0, 1, ... of names."""

    def __init__(self) -> None:
        self.number: dict[Hashable, int] = {}
        self.names: list[Hashable] = []

    def __len__(self) -> int:
        return len(self.names)

    def of(self, name: Hashable) -> int:
        """The number of a name, a new one if it has none."""
        if name not in self.number:
            self.number[name] = len(self.names)
            self.names.append(name)
        return self.number[name]


class Translation:
    """The codes of one evidence as numbers; names unseen so far get theirs in sorted order."""

    def __init__(self, names: Sequence[Hashable], numbering: Numbering) -> None:
        self._names, self._numbering = names, numbering
        self._number = np.full(len(names) + 1, -1, dtype=np.int64)  # the last entry is for code -1

    def __call__(self, codes: Ints) -> Ints:
        numbers = self._number[codes]
        unknown = (numbers < 0) & (codes >= 0)
        if unknown.any():
            for code in np.unique(codes[unknown]):
                self._number[code] = self._numbering.of(self._names[code])
            numbers = self._number[codes]
        return numbers


class Numbers:
    """The numbers of a shop: its stream rows (factor, level), cells and jobs, and its kinds."""

    def __init__(self, kinds: tuple[str, ...]) -> None:
        self.kinds = kinds
        self.rows, self.cells, self.jobs = Numbering(), Numbering(), Numbering()


class Reader:
    """One evidence in numbers: which stream rows, cell and job each unit belongs to."""

    def __init__(self, evidence: Evidence, numbers: Numbers) -> None:
        self.evidence = evidence
        self.rows = {
            f: Translation([(name, lv) for lv in evidence.factors[name].levels], numbers.rows)
            for f, name in enumerate(FACTORS) if name in evidence.factors
        }
        cells = [_cell_name(evidence, codes) for codes in evidence.cell_codes]
        self.cell = Translation(cells, numbers.cells)
        self.job = Translation(evidence.run.levels, numbers.jobs)
        self.kind = np.array([numbers.kinds.index(k) for k in evidence.kinds], dtype=np.int64)

    def rows_of(self, unit: Ints) -> Ints:
        """Stream rows of units, (units, factors)."""
        out = np.full((len(unit), len(FACTORS)), -1, dtype=np.int64)
        for f, translation in self.rows.items():
            out[:, f] = translation(self.evidence.factors[FACTORS[f]].codes[unit])
        return out


def _cell_name(evidence: Evidence, codes: Ints) -> tuple[str | None, ...]:
    return tuple(
        None if code < 0 else levels[code]
        for code, levels in zip(codes, evidence.cell_levels, strict=True)
    )
