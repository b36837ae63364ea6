"""A flag: one real change, what explains it best, since when, and what it touches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

FLAG_KINDS = ("defect_rate", "placement", "setting", "calibration")
FACTORS = (
    "press", "station", "operator", "transfer_lot", "garment_lot", "fabric", "transfer",
    "location", "size", "zone", "time_since_start", "job", "shop",
)

RIVAL = 0.1
"""Share of the evidence from which a rival is named and worth a comparison. Proposed starting
value, no source."""

LEADING = 0.6
"""Share of the evidence below which a cause with such a rival is not named alone. Proposed
starting value, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorShare:
    """One candidate cause and its share of the evidence; the shop's level is None."""

    name: str
    level: str | None
    weight: float


def record_levels(name: str, level: str | None) -> tuple[tuple[str, str | None], ...]:
    """What a flagged level is in the records, as (field, level) pairs.

    Stations are flagged as press/station and starts of one press as 'P3, first 15 min', because
    each press has its own: records say the press, and a station's name alone. That a piece came
    soon after a start no record says: such pieces are found by their press. The press ends at the
    last '/', so that a press may have one in its name.
    """
    if level is not None and name == "station" and "/" in level:
        press, _, station = level.rpartition("/")
        return ("press", press), ("station", station)
    if level is not None and name == "time_since_start":
        press, comma, _ = level.rpartition(", ")
        return (("press", press),) if comma else ()
    return ((name, level),)


def worthy_rivals(rivals: Iterable[FactorShare]) -> tuple[FactorShare, ...]:
    """Rivals with a share of the evidence worth naming, at most two."""
    return tuple(rival for rival in rivals if rival.weight >= RIVAL)[:2]


def named_causes(
    factor: FactorShare, rivals: Iterable[FactorShare]
) -> tuple[FactorShare, ...]:
    """The cause alone, or with its rivals where the records cannot tell them apart."""
    return (factor, *(worthy_rivals(rivals) if factor.weight < LEADING else ()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """All that a face needs to say of one change. Instants are microseconds UTC.

    ``before``, ``after`` and ``expected_after`` are in ``unit``: rates per piece for defect rates,
    stored units for measured streams. ``zone`` is set where the rise sits in one zone of the
    print. ``also`` names further characteristics that the same change explains. ``sure`` says how
    sure it is and ``settle`` which comparison would tell the cause from its rivals (None: no rival
    worth it). ``part_of``: id of the flag whose cause has explained this one; it has ended then.
    """

    id: str
    kind: str
    characteristic: str
    direction: str
    press: str | None
    platen: str | None
    zone: str | None
    signalled_at_us: int
    changed_at_us: int
    changed_between_us: tuple[int, int]
    ended_at_us: int | None
    factor: FactorShare
    other_factors: tuple[FactorShare, ...]
    before: float | None
    after: float | None
    expected_after: float | None
    unit: str
    pieces_at_risk: int
    also: tuple[str, ...]
    message: str
    next_step: str
    urgency: float
    sure: str = ""
    settle: str | None = None
    part_of: str | None = None

    @property
    def is_open(self) -> bool:
        return self.ended_at_us is None


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamDelay:
    """How soon a doubling of one stream would be seen.

    ``days``: typical days of work until it is flagged; None if more than a quarter of a year.
    ``expected_per_day``: pieces with the defect, at the usual rate. The shop's level is None.
    """

    factor: str
    level: str | None
    kind: str
    expected_per_day: float
    days: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagList:
    """The flags up to ``as_of_us``, most urgent first, with what the alarm budget promises.

    ``doubling_delay_days``: typical days until a doubling of an ordinary press's most common
    defect would be flagged; None where too little is known. ``delays``: the same for each stream.
    ``cautions`` are plain sentences.
    """

    flags: tuple[Flag, ...]
    as_of_us: int
    baseline_us: tuple[int, int] | None
    n_pieces: int
    n_streams: int
    false_flags_per_week: float
    doubling_delay_days: float | None
    cautions: tuple[str, ...]
    delays: tuple[StreamDelay, ...] = ()
