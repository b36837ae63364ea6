"""What was decided of a measurement against its tolerance, in words for every face."""

from __future__ import annotations

from collections.abc import Iterable

from qc.domain.platens import Conformity

STATE_WORDS = {"out": "Out of tolerance", "not_shown": "Cannot be shown",
               "in_tolerance": "In tolerance"}
SPREAD_UNJUDGED = "spread not judged (too few points)"
NO_TOLERANCE = "no tolerance is set"


def judged_words(judged: Iterable[Conformity]) -> str:
    """What a survey shows of each tolerance, with its risk."""
    said = [
        f"{one.what} {STATE_WORDS[one.decision].lower()} "
        f"({'' if at else 'risk '}{risk_words(one.risk)})"
        for at, one in enumerate(judged)
    ]
    return ", ".join(said) or NO_TOLERANCE


def risk_words(risk: float) -> str:
    """A risk in whole per cent; what is nearly none or nearly sure is not made exactly so."""
    percent = 100 * risk
    if percent < 1:
        return "under 1 %"
    return "over 99 %" if percent > 99 else f"{percent:.0f} %"
