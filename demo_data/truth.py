"""What is true of an invented shop: the planted faults, and the honest changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One planted fault or honest change; instants in microseconds UTC.

    ``characteristic`` is what it shows in most, ``shows_in`` everything it rightly shows in
    (a drifting platen: the platen's error and the edges that lift). ``size`` is the factor on the
    rate of ``characteristic`` (or the drift in degC a day, see ``note``). ``usual`` is how many
    defects the usual rate gives the touched pieces, ``extra`` how many more the fault is expected
    to give, ``n_pieces`` how many pieces it touches; counts of `characteristic`'s kind, or of
    ``shows_in``'s first kind where the characteristic is measured. ``end_us`` is None for a
    fault still running at the shop's end. ``expect_flag``: ought it to be flagged? ``within``:
    further levels its pieces are at, where a fault sits at two things at once (the first pieces
    after a start, of one press); naming one of them is right too.
    """

    kind: str
    factor: str
    level: str | None
    characteristic: str
    shows_in: tuple[str, ...]
    zone: str | None
    platen: str | None
    start_us: int
    end_us: int | None
    size: float
    usual: float
    extra: float
    n_pieces: int
    expect_flag: bool
    note: str
    within: tuple[tuple[str, str], ...] = ()


def explains(planted: Planted, flag: Mapping[str, Any]) -> bool:
    """Does a flag, as `qc flags --json` gives it, name this fault as the cause?

    The flag's factor and level are the fault's, and what it flags is something the fault rightly
    shows in.
    """
    return flag["characteristic"] in planted.shows_in and named(planted, flag["factor"])


def touches(planted: Planted, flag: Mapping[str, Any]) -> bool:
    """Is the fault among what a flag names at all, on top or as a rival?"""
    rivals = [flag["factor"], *flag["other_factors"]]
    return flag["characteristic"] in planted.shows_in and any(named(planted, f) for f in rivals)


def named(planted: Planted, factor: Mapping[str, Any]) -> bool:
    """Is this factor with its level the fault's own?"""
    own = ((planted.factor, planted.level), *planted.within)
    return (factor["name"], factor["level"]) in own
