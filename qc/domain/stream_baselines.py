"""Limits of a stream's chart, frozen by somebody for a reason: only ever added."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamBaseline:
    """Limits frozen for one stream and kind of chart, and what they were decided on.

    ``stream`` : what `qc.domain.streams.Stream.key` gives. Limits come from points in [``from_us``,
    ``until_us``), microseconds UTC. ``known`` : what the chart takes instead of a baseline, in
    stored units. ``evidence`` : the figures looked at (JSON values).
    """

    number: int
    decided_at_us: int
    by: str
    stream: Mapping[str, str]
    kind: str
    from_us: int
    until_us: int
    why: str
    known: Mapping[str, Any]
    evidence: Mapping[str, Any]

    @property
    def period(self) -> tuple[int, int]:
        """From when to when its points were."""
        return self.from_us, self.until_us
