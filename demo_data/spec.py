"""What an invented shop is made of: presses, fabrics, transfers, places, kinds of defect, faults.

Every rate, share and temperature here and in `demo_data.kinds` is invented: plausible numbers
for examples and tests, nobody's experience.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

Range = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """A heat press. ``pressure`` is how it shows pressure ('kpa' or 'dial'); ``prefers`` the
    fabrics the planner likes to put on it; ``pace`` how long a piece takes, times the usual."""

    code: str
    name: str
    kind: str = "swing-away"
    heated_lower: bool = False
    stations: tuple[str, ...] = ("A",)
    pressure: str = "kpa"
    prefers: tuple[str, ...] = ()
    pace: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fabric:
    """A garment fabric; ``share`` is its part of the work, ``dwell_more_s`` what the thick ones
    need on top of the transfer's dwell."""

    code: str
    name: str
    cotton_pct: float
    polyester_pct: float
    surface: str
    weight_gsm: float
    heat_limit_c: float
    share: float
    dwell_more_s: float = 0.0
    lot_days: Range = (5, 12)

    @property
    def other_pct(self) -> float:
        return 100.0 - self.cotton_pct - self.polyester_pct

    @property
    def traits(self) -> frozenset[str]:
        """Words by which a kind of defect says how this fabric changes its rate."""
        fibre = "blend"
        if self.cotton_pct >= 95:
            fibre = "cotton"
        elif self.polyester_pct >= 85:
            fibre = "polyester"
        return frozenset({self.surface, fibre, f"{fibre} {self.surface}"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfer:
    """A transfer with its usual recipe; ``share`` is its part of the work."""

    code: str
    name: str
    kind: str
    share: float
    temperature_c: float
    dwell_s: float
    pressure_kpa: float
    pressure_dial: float
    peel: str
    peel_wait_s: float
    locations: tuple[str, ...]
    cover: str = "non-stick sheet"
    second_press_s: float = 0.0
    lot_days: Range = (5, 11)

    @property
    def traits(self) -> frozenset[str]:
        return frozenset({self.kind})


@dataclass(frozen=True, slots=True, kw_only=True)
class Location:
    """A place on the garment, how it is measured, and its tolerances."""

    code: str
    reference: str
    part_measured: str
    dx_tolerance_mm: float
    dy_tolerance_mm: float
    rotation_tolerance_deg: float

    @property
    def traits(self) -> frozenset[str]:
        return frozenset({self.code})


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of defect in this shop.

    ``rate``: share of pieces at a look of ``look``; ``effects``: factor on the rate by trait of
    fabric, transfer or place; ``zones``: shares of the nine zones, empty where a zone says
    nothing; ``dispositions``: shares of what is done with the piece.
    """

    code: str
    rate: float
    look: str = "prompt"
    effects: Mapping[str, float] = field(default_factory=dict)
    zones: tuple[float, ...] = ()
    extent_mm: Range | None = None
    dispositions: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault to plant, or an honest change (kinds 'mix_change', 'press_mix_change').

    ``kind`` is one of `demo_data.faults.FAULTS`. It runs from ``day`` (days after the shop's
    first midnight) to ``until_day``, or to the end; with ``enough`` it ends as soon as the usual
    rate would have given that many defects of ``characteristic``. ``level`` empty: the generator
    takes one with enough work. ``ratio``: on the rate, in all ('zone' only says where the extra
    ones sit). ``size``: how far what is measured moves: degC a day of drift, degC of a corner or a
    setting, mm of placement (a mean shift alone: standard deviations), the share of dwell or
    pressure that is missing, days of a slow rise. ``of``: the fabric of a press's new mix.
    """

    kind: str
    day: float = 0.0
    until_day: float | None = None
    level: str = ""
    characteristic: str = "lifted_edge"
    zone: str | None = None
    ratio: float = 3.0
    size: float = 0.0
    enough: float | None = None
    of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LongLot:
    """A lot of a transfer or a fabric that begins on a day and lasts, a large delivery."""

    of: str
    day: float
    days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A platen adjusted on a day: ``offset_c`` before, near 0 afterwards."""

    press: str
    day: int
    offset_c: float
    platen: str = "upper"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopSpec:
    """An invented shop. It works Monday to Saturday, 07:00 to 20:00 local time.

    ``job_cv``: coefficient of variation of a kind's rate from job to job; ``level_sd``: honest
    differences (of log rate) between presses and people, and between lots unless ``lot_sd`` says
    how much those differ. ``home_share``: how much people stay at their own press. ``breaks``:
    (after so many seconds of work, seconds long). ``blocks``: share of the jobs that are written
    down as counted stacks. ``measured_per_hour``: prints whose place is measured, at each press.
    ``missing``: times the usual share of fields left empty;
    ``unrecorded``: columns this shop does not keep at all.
    """

    name: str
    zone: str
    until: date
    days: int
    n_pieces: int
    presses: tuple[Press, ...]
    fabrics: tuple[Fabric, ...]
    transfers: tuple[Transfer, ...]
    locations: tuple[Location, ...]
    kinds: tuple[Kind, ...]
    operators: tuple[str, ...]
    inspectors: tuple[str, ...]
    faults: tuple[Fault, ...] = ()
    long_lots: tuple[LongLot, ...] = ()
    services: tuple[Service, ...] = ()
    job_cv: float = 0.3
    level_sd: float = 0.12
    lot_sd: float | None = None
    home_share: float = 0.6
    breaks: tuple[Range, ...] = ((5 * 3600.0, 1800.0),)
    blocks: float = 0.0
    measured_per_hour: int = 5
    missing: float = 1.0
    unrecorded: tuple[str, ...] = ()
    first_job: int = 1001
    temperature_tolerance_c: float = 5.5
    uniformity_tolerance_c: float = 8.0
    probe_uncertainty_c: float = 1.3

    @property
    def tz(self) -> ZoneInfo:
        return ZoneInfo(self.zone)
