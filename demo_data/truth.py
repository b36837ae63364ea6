"""What is true of an invented shop: the planted faults, and the honest changes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One planted fault or honest change; instants in microseconds UTC.

    ``characteristic`` is what it shows in most, ``shows_in`` everything it rightly shows in
    (a drifting platen: the platen's error and the edges that lift). ``size`` is the factor on the
    rate of ``characteristic`` (or the drift in degC a day, see ``note``). ``usual`` is how many
    defects the usual rate gives the touched pieces, ``extra`` how many more the fault is expected
    to give, ``n_pieces`` how many pieces it touches; counts of `characteristic`'s kind, or of
    ``shows_in``'s first kind where the characteristic is measured. ``end_us`` is None for a
    fault still running at the shop's end. ``expect_flag``: ought it to be flagged?
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
