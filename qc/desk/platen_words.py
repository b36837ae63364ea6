"""What is decided of a platen, in words for every face."""

from __future__ import annotations

from qc.domain.decision_words import SPREAD_UNJUDGED, judged_words
from qc.domain.platens import PlatenHealth

PROBE_FIRST = "calibrate the probe first"


def decision_words(platen: PlatenHealth) -> str:
    """What the latest survey shows of each tolerance, with its risk; '' where there is none."""
    if not platen.conformity:
        return SPREAD_UNJUDGED if platen.spread_unjudged else ""
    said = judged_words(platen.conformity)
    if platen.spread_unjudged and all(one.what != "spread" for one in platen.conformity):
        said = f"{said}, {SPREAD_UNJUDGED}"
    return f"{said}, {PROBE_FIRST}" if platen.probe_first else said
