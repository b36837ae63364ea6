"""Streams a shop can chart: what is counted or measured, of which work, one point for each what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

SUBJECTS = ("defects", "placement", "setting", "platen", "check")
"""What a stream is of: defects, where the print sits, what was set, a heated platen by its
surveys, a timer or gauge by its checks."""

MEASURES: Mapping[str, tuple[str, ...]] = {
    "placement": ("together", "dx_mm", "dy_mm", "rotation_deg"),
    "setting": ("temperature_c", "dwell_s", "pressure_kpa", "pressure_dial"),
    "platen": ("offset_c", "spread_c"),
    "check": ("dwell_s", "pressure_kpa", "pressure_dial"),
}
"""What is measured of each subject; defects have a kind, or '' for any."""

TOGETHER = ("dx_mm", "dy_mm", "rotation_deg")

LEVELS: Mapping[str, tuple[str, ...]] = {
    "defects": ("shop", "press", "station", "operator", "fabric", "transfer", "location",
                "transfer_lot", "garment_lot", "zone"),
    "placement": ("shop", "press", "station", "operator", "fabric", "transfer", "location",
                  "transfer_lot", "garment_lot"),
    "setting": ("press", "shop", "station", "operator", "fabric", "transfer"),
    "platen": ("press",),
    "check": ("press",),
}
"""Whose work a stream is of. Stations are numbered anew on each press: P4/B is B of P4."""

STEPS: Mapping[str, tuple[str, ...]] = {
    "defects": ("day", "shift", "week", "job"),
    "placement": ("day", "piece", "shift", "week", "job"),
    "setting": ("day", "piece", "shift", "week", "job"),
    "platen": ("survey",),
    "check": ("check",),
}
"""What one point stands for; the first is the usual one."""

PLATENS = ("upper", "lower")


def press_of_station(level: str) -> str:
    """The press of a station, both as flags name them: press and station joined by '/'."""
    return level.rpartition("/")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One stream of one shop.

    ``subject`` of `SUBJECTS`; ``of`` : a defect kind ('' any) or a measure; ``by`` and ``level`` :
    whose work, level '' for the whole shop; ``platen`` : of a platen's surveys, else ''; ``step`` :
    one point for each.
    """

    subject: str
    of: str
    by: str
    level: str
    step: str
    platen: str = ""

    @property
    def is_counted(self) -> bool:
        """Whether its points are counts, not measurements."""
        return self.subject == "defects"

    @property
    def per_unit(self) -> bool:
        """Whether defects are counted, each kind of a piece once, instead of pieces with any.

        Tallies of people, lots and zones count pieces with each kind; which pieces have several
        they do not say.
        """
        tallied = self.by in ("operator", "transfer_lot", "garment_lot", "zone")
        return self.is_counted and not self.of and (tallied or self.step == "job")

    @property
    def measures(self) -> tuple[str, ...]:
        """What is measured at each point, by name; empty for counts."""
        if self.is_counted:
            return ()
        return TOGETHER if self.of == "together" else (self.of,)

    @property
    def key(self) -> dict[str, str]:
        """The stream as a baseline kept for it names it."""
        return asdict(self)
