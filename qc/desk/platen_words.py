"""What is decided of a platen, in words for every face."""

from __future__ import annotations

from qc.desk.check_words import STATE_WORDS
from qc.domain.platens import PlatenHealth

PROBE_FIRST = "calibrate the probe first"


def decision_words(platen: PlatenHealth) -> str:
    """What the latest survey shows of each tolerance, with its risk; '' where there is none."""
    said = [
        f"{one.what} {STATE_WORDS[one.decision].lower()} ({risk}{risk_words(one.risk)})"
        for one, risk in zip(platen.conformity, ("risk ", ""), strict=False)
    ]
    if said and platen.probe_first:
        said.append(PROBE_FIRST)
    return ", ".join(said)


def risk_words(risk: float) -> str:
    """A risk in whole per cent; what is nearly none or nearly sure is not made exactly so."""
    percent = 100 * risk
    if percent < 1:
        return "under 1 %"
    return "over 99 %" if percent > 99 else f"{percent:.0f} %"
