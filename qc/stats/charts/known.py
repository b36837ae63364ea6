"""What the user of a chart knows beforehand, and what its limits rest on otherwise."""

from __future__ import annotations

from dataclasses import dataclass

from qc.stats.charts.baselines import Baseline, BasePoints
from qc.stats.charts.chart import FEW_POINTS, Caution
from qc.stats.checks import finite, positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is given instead of estimated."""

    centre: float | None = None
    sigma: float | None = None

    def __post_init__(self) -> None:
        if self.centre is not None:
            finite("centre", self.centre)
        if self.sigma is not None:
            positive("sigma", self.sigma)


def span(base: BasePoints, known: Known) -> Baseline | None:
    """The points the estimates come from; None when nothing was estimated."""
    if known.centre is not None and known.sigma is not None:
        return None
    return base.baseline


def cautions(base: BasePoints, known: Known, sigma: float) -> tuple[Caution, ...]:
    """What limits estimated from these points must be read with."""
    found = []
    if span(base, known) is not None and base.n < FEW_POINTS:
        found.append(Caution.TOO_FEW_POINTS)
    if sigma == 0:
        found.append(Caution.NO_VARIATION)
    return tuple(found)
