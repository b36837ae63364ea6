"""Names as numbers, given in order of appearance: the same whether records come at once or not."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np

from qc.monitor.evidence import Ints


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
