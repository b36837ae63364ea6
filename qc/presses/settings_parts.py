"""The pieces of a period as arrays, and whose those outside a window are, of what, since when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.domain.instants import DAY_US
from qc.domain.recipes import NAMED_QUANTITIES, SETTING_STATES, OperatorPart, PairPart
from qc.presses.recipes import Coded, Ints, coded
from qc.presses.settings_judged import CODE, Judged

N_STATES = len(SETTING_STATES)
OUTSIDE = np.isin(np.arange(N_STATES), [CODE[name] for name in ("below", "above", "other")])
TOLD = OUTSIDE | np.isin(np.arange(N_STATES), [CODE[name] for name in ("inside", "not_shown")])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """The pieces (or counted blocks of ``n``) of the period, (pieces,)."""

    press: Coded
    operator: Coded
    fabric: Coded
    transfer: Coded
    pressed_us: Ints
    n: Ints
    day: Ints

    @property
    def pair(self) -> Ints:
        """A number for each fabric and transfer."""
        return self.fabric.codes * len(self.transfer.levels) + self.transfer.codes


def work_of(pieces: pd.DataFrame, *, until_us: int) -> Work:
    """The pieces as arrays; days are counted back from ``until_us``."""
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)
    return Work(
        press=coded(pieces["press"]), operator=coded(pieces["operator"]),
        fabric=coded(pieces["fabric"]), transfer=coded(pieces["transfer"]), pressed_us=pressed,
        n=pieces["n"].to_numpy(dtype=np.int64), day=-((until_us - pressed) // DAY_US),
    )


def counted(numbers: Ints, weights: Ints, length: int) -> Ints:
    """Pieces by number 0..length - 1."""
    return np.bincount(numbers, weights=weights, minlength=length).round().astype(np.int64)


class Parts:
    """Whose the pieces outside are, of what, since when."""

    def __init__(self, name: str, judged: Judged, work: Work) -> None:
        self.work, self.judged = work, judged
        self.named = name in NAMED_QUANTITIES
        self.outside = np.flatnonzero(OUTSIDE[judged.state])
        self.press = work.press.codes[self.outside]
        self.told = np.flatnonzero(TOLD[judged.state]) if len(self.outside) else self.outside
        self.told_press = work.press.codes[self.told]

    def of(self, press: int) -> Ints:
        return self.outside[self.press == press]

    def span(self, press: int) -> tuple[int | None, int | None, int]:
        """First and last piece outside, and how many were told before the first."""
        when = self.work.pressed_us[self.of(press)]
        if not len(when):
            return None, None, 0
        first = int(when.min())
        mine = self.told[self.told_press == press]
        before = int(self.work.n[mine][self.work.pressed_us[mine] < first].sum())
        return first, int(when.max()), before

    def operators(self, press: int) -> tuple[OperatorPart, ...]:
        levels = self.work.operator.levels
        return tuple(
            OperatorPart(operator=None if code < 0 else levels[code], n_outside=n, n_told=of)
            for code, n, of in self._most(self.work.operator.codes, press)
        )

    def pairs(self, press: int) -> tuple[PairPart, ...]:
        fabrics, transfers = self.work.fabric.levels, self.work.transfer.levels
        return tuple(
            PairPart(fabric=fabrics[code // len(transfers)],
                     transfer=transfers[code % len(transfers)], n_outside=n, n_told=of)
            for code, n, of in self._most(self.work.pair, press)
        )

    def _most(self, codes: Ints, press: int) -> list[tuple[int, int, int]]:
        """(code, pieces outside, pieces told) of those with any outside, most first."""
        mine = self.of(press)
        if not len(mine):
            return []
        told = self.told[self.told_press == press]
        length = int(codes[told].max()) + 2  # one more for nobody named
        n = counted(codes[mine] + 1, self.work.n[mine], length)
        of = counted(codes[told] + 1, self.work.n[told], length)
        order = np.argsort(-n, kind="stable")
        return [(int(at) - 1, int(n[at]), int(of[at])) for at in order if n[at] > 0]

    def most_set(self, press: int) -> tuple[str | None, str | None]:
        """The commonest name set where it was outside, and what the recipe asked there."""
        mine, said, asked = self.of(press), self.judged.said, self.judged.asked
        if not self.named or said is None or asked is None or not len(mine):
            return None, None
        cells = said.codes[mine] * len(asked.levels) + asked.codes[mine]
        most = int(np.argmax(counted(cells, self.work.n[mine], 1)))
        return said.levels[most // len(asked.levels)], asked.levels[most % len(asked.levels)]
