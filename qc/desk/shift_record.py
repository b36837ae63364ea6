"""A shift as the next one, and the manager, need it: what was made, what is off, what waits."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from qc.desk.cases import CasePiece, case_pieces
from qc.desk.flags import current_flags
from qc.desk.floor import shift_period
from qc.desk.piece_lists import by_disposition
from qc.desk.presses import press_health
from qc.desk.ranking import ranked_defects
from qc.desk.recipe_words import SettingLine, settings_in_words
from qc.desk.shares import Share, share_of
from qc.desk.shop import Shop
from qc.desk.whereabouts import pressed_between
from qc.domain.flags import Flag
from qc.domain.platens import PlatenHealth
from qc.domain.ranking import ParetoRow
from qc.errors import InputError

WAITS = ("press_again", "hold")
"""Dispositions that leave something to do, as does none at all."""
IN_ORDER = frozenset({"in_tolerance", "unknown"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftPress:
    """A press in the shift: its pieces with a defect, once each, and its defects beside what its
    mix of work usually gives."""

    press: str
    share: Share
    defects: ParetoRow


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftRecord:
    """The pieces pressed in a shift, and how the shop stands, as known at ``as_of_us``.

    ``total`` : pieces with a defect, once each; None without pieces. ``expected`` : defects that
    the mix of work usually gives. ``defects`` : kinds, the commonest first. ``now`` : pieces by
    newest disposition, most first. ``waiting`` : those that somebody must still do something with,
    oldest first. ``new_flags`` were signalled in the shift, ``open_flags`` before or after it.
    ``platens`` : those out of order or soon. ``settings`` : what was set outside its recipe.
    """

    start_us: int
    end_us: int
    as_of_us: int
    total: Share | None
    n_defects: int
    expected: float
    defects: tuple[ParetoRow, ...]
    presses: tuple[ShiftPress, ...]
    now: tuple[tuple[str | None, int], ...]
    waiting: tuple[CasePiece, ...]
    new_flags: tuple[Flag, ...]
    open_flags: tuple[Flag, ...]
    platens: tuple[PlatenHealth, ...]
    settings: tuple[SettingLine, ...]

    @property
    def is_over(self) -> bool:
        return self.as_of_us >= self.end_us


def shift_record(shop: Shop, *, moment_us: int, as_of_us: int) -> ShiftRecord:
    """The record of the shift that a moment lies in.

    Raises
    ------
    InputError
        The shift begins after ``as_of_us``.
    """
    start_us, end_us = shift_period(shop, moment_us)
    if start_us >= as_of_us:
        raise InputError(f"the shift of {shop.iso(start_us)} has not begun as of "
                         f"{shop.iso(as_of_us)}; name an earlier moment")
    counted, there = pressed_between(shop, start_us, end_us, as_of_us=as_of_us)
    kinds, presses = (
        ranked_defects(shop, by=(name,), as_of_us=as_of_us, since_us=start_us, until_us=end_us)
        for name in ("defect", "press"))
    said = there["disposition"].astype(object)
    flags = current_flags(shop, as_of_us=as_of_us).flags
    return ShiftRecord(
        start_us=start_us, end_us=end_us, as_of_us=as_of_us,
        total=_share(counted.pieces), n_defects=kinds.n_defects,
        expected=sum(row.expected for row in kinds.rows),
        defects=tuple(row for row in kinds.rows if row.n_defects),
        presses=_presses(counted.pieces, presses.rows),
        now=by_disposition(there, there["n"]),
        waiting=case_pieces(there[said.isna() | said.isin(WAITS)])[::-1],
        new_flags=tuple(flag for flag in flags if start_us <= flag.signalled_at_us < end_us),
        open_flags=tuple(flag for flag in flags
                         if flag.is_open and not start_us <= flag.signalled_at_us < end_us),
        platens=tuple(one for one in press_health(shop, as_of_us=as_of_us)
                      if one.state not in IN_ORDER),
        settings=tuple(line for line in settings_in_words(
            shop, as_of_us=min(as_of_us, end_us - 1), since_us=start_us).lines
            if line.row.n_outside),
    )


def _share(pieces: pd.DataFrame) -> Share | None:
    return share_of(int(pieces["n_defective"].sum()), int(pieces["n"].sum()))


def _presses(pieces: pd.DataFrame, rows: tuple[ParetoRow, ...]) -> tuple[ShiftPress, ...]:
    found = []
    for row in sorted(rows, key=lambda row: row.level[0] or ""):
        mine = pieces[(pieces["press"] == row.level[0]).to_numpy(dtype=bool, na_value=False)]
        share = _share(mine)
        if share is not None and row.level[0] is not None:
            found.append(ShiftPress(press=row.level[0], share=share, defects=row))
    return tuple(found)
