"""A baseline proposed: the longest recent stretch of work that holds together.

A fault must not become what is usual. So pieces of changes already explained are left out, the
rest is cut where a level moved, and a stretch that stands higher than another in some kind of
defect is not proposed while the other is long enough: faults raise a rate, hardly anything lowers
one by accident.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from qc.domain.baselines import Against, KindCount, LeftStretch, Move, Proposal, Wait
from qc.monitor.evidence import Ints
from qc.monitor.history import History
from qc.monitor.steadiness import (
    Stretch,
    cautions_of,
    how_much_higher,
    steady_stretches,
    streams_of,
    surest_move,
)
from qc.stats.charts.chart import Caution

ENOUGH_DAYS = 20
"""Days of work; ISO 7870-2 asks for 20 to 25 samples before limits are set."""

ENOUGH_PIECES = 1000
"""Ten defects of a kind that one piece in a hundred shows; a proposed value, no source."""

MOSTLY = 0.5
"""A change that runs in more than this share of a kind's pieces runs in most of the stretch."""

PACE_DAYS = 20


def propose(history: History) -> Proposal | None:
    """The stretch of a history best fit to be the baseline; None without any work.

    Of the stretches with enough work, and without an explained change in most of it, the longest
    in days of work that no other of them beats, the latest of equals; if there is none, the last
    one, which is still growing. That a stretch too short to be proposed beats it speaks against it.
    """
    if history.n_days == 0:
        return None
    stretches, moves = steady_stretches(history)
    fit = [one for one in stretches if _is_fit(history, one)]
    best = [one for one in fit if not any(_beats(history, other, one) for other in fit)]
    chosen = max(best or fit or stretches[-1:], key=lambda one: (one.n_days, one.first))
    beaten = any(_beats(history, other, chosen) for other in stretches)
    return _proposal(history, chosen, tuple(_left(history, stretches, moves, chosen)), beaten)


def judge_period(history: History) -> Proposal | None:
    """What is to be said of a period somebody chose: all days of the history, none cut off."""
    if history.n_days == 0:
        return None
    whole = Stretch(first=0, stop=history.n_days)
    found = _proposal(history, whole, (), False)
    if surest_move(history, whole) is None:
        return found
    return replace(found, against=(*found.against, Against.LEVEL_MOVED))


def _is_fit(history: History, one: Stretch) -> bool:
    return not _too_little(history, one) and not _mostly_explained(history, one)


def _too_little(history: History, one: Stretch) -> bool:
    return one.n_days < ENOUGH_DAYS or _pieces(history, one) < ENOUGH_PIECES


def _pieces(history: History, one: Stretch) -> float:
    """Pieces of a stretch that no explained change touches."""
    inside = slice(one.first, one.stop)
    return float(history.pieces[inside].sum() - history.touched[inside].sum())


def _mostly_explained(history: History, one: Stretch) -> bool:
    rows = (history.day >= one.first) & (history.day < one.stop)
    kept, looked = history.n[rows].sum(axis=0), history.looked[rows].sum()
    return bool((kept < (1 - MOSTLY) * looked).any())


def _beats(history: History, one: Stretch, other: Stretch) -> bool:
    """Does the surest difference between them, stream by stream, say that this one is lower?"""
    if one == other:
        return False
    return how_much_higher(history, other, one) > how_much_higher(history, one, other)


def _left(
    history: History, stretches: tuple[Stretch, ...], moves: tuple[Move, ...], chosen: Stretch
) -> list[LeftStretch]:
    """The other stretches, each with the move that lies between it and the chosen one."""
    start, end = history.days.start_us, history.days.end_us
    return [
        LeftStretch(
            from_us=int(start[one.first]), until_us=int(end[one.stop - 1]),
            n_pieces=int(history.pieces[one.first:one.stop].sum()),
            move=_between(moves, one, chosen),
        )
        for one in stretches if one != chosen
    ]


def _between(moves: tuple[Move, ...], one: Stretch, chosen: Stretch) -> Move:
    nearest = chosen.first if one.first < chosen.first else chosen.stop
    return next(move for move in moves if move.day == nearest)


def _proposal(
    history: History, chosen: Stretch, left: tuple[LeftStretch, ...], beaten: bool
) -> Proposal:
    said: tuple[Caution, ...] = ()
    signals: Ints = np.zeros(0, dtype=np.int64)
    if history.kinds:
        said, signals = cautions_of(streams_of(history, chosen))
    inside = slice(chosen.first, chosen.stop)
    return Proposal(
        from_us=int(history.days.start_us[chosen.first]),
        until_us=int(history.days.end_us[chosen.stop - 1]), n_days=chosen.n_days,
        n_pieces=int(history.pieces[inside].sum()), n_left_out=int(history.touched[inside].sum()),
        defects=_counts(history, chosen), left_stretches=left,
        against=_against(history, chosen, beaten, said),
        signals_us=_signals(history, chosen, signals), wait=_wait(history, chosen),
    )


def _counts(history: History, one: Stretch) -> tuple[KindCount, ...]:
    rows = (history.day >= one.first) & (history.day < one.stop)
    seen, looked = history.y[rows].sum(axis=0), history.n[rows].sum(axis=0)
    found = [KindCount(kind=kind, n_defects=int(seen[at]), n_looked=int(looked[at]))
             for at, kind in enumerate(history.kinds)]
    return tuple(sorted(found, key=lambda count: (-count.n_defects, count.kind)))


def _against(
    history: History, one: Stretch, beaten: bool, said: tuple[Caution, ...]
) -> tuple[Against, ...]:
    asked = (
        (_too_little(history, one), Against.TOO_LITTLE),
        (_mostly_explained(history, one), Against.MOSTLY_EXPLAINED),
        (beaten, Against.HIGHER),
        (Caution.UNSTABLE in said, Against.UNSTABLE),
        (Caution.NEIGHBOURS_ALIKE in said, Against.NEIGHBOURS_ALIKE),
    )
    return tuple(reason for applies, reason in asked if applies)


def _signals(history: History, one: Stretch, days: Ints) -> tuple[int, ...]:
    return tuple(int(us) for us in history.days.start_us[one.first + days])


def _wait(history: History, one: Stretch) -> Wait | None:
    if not _too_little(history, one):
        return None
    n_pieces = max(ENOUGH_PIECES - int(_pieces(history, one)), 0)
    late = history.pieces[-PACE_DAYS:]
    pace = float(late.sum()) / len(late)
    days = max(ENOUGH_DAYS - one.n_days, math.ceil(n_pieces / pace))
    return Wait(n_days=days, n_pieces=n_pieces)
