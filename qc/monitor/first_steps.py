"""What to do first about a finding: the first check, the usual action, the cautions."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from qc.domain.kinds import Cause, causes_of, defect_kinds
from qc.monitor.attribution import FAMILY_OF
from qc.monitor.bonds import FAMILIES
from qc.monitor.factors import LOT_FACTORS
from qc.monitor.findings import Finding
from qc.monitor.phrases import capital, cause_words, characteristic_words

Causes = Callable[[str], Sequence[Cause]]
"""The causes of a defect kind, the likeliest first: the trade's order, or the shop's own."""

HOT_VARIABLES = ("temperature", "warm-up", "pressure", "dwell", "sensor", "cleanliness", "closing")
"""Checks of these are made at a press that is hot or closes."""

PLACE_CHECKS = {
    "press": "look over its platen, pad, cover sheet and gauge",
    "operator": "watch two cycles together",
    "transfer": "compare unpressed sheets with a good lot",
    "fabric": "compare unpressed pieces with another lot or style",
}
"""What to look at, by family, where the table lists no cause of a defect that sits there. Common
practice, no source."""

CAUTION = "; hot and closing: trained people only, maker's manual first"
SERVICE_CAUTION = "burns, pinch, live parts: locked out, maker's manual first"


def next_step(finding: Finding, causes: Causes = causes_of) -> str:
    """One sentence: what to check first, what is usually done, whether pressing again helps."""
    if finding.kind == "calibration":
        return (
            f"Hold what {cause_words(finding.factor)} pressed since its last good survey; have a "
            f"qualified person survey and adjust the {finding.platen} platen ({SERVICE_CAUTION})."
        )
    if finding.kind == "setting":
        return (
            f"Put the {characteristic_words(finding.characteristic)} back to the recipe, or record "
            f"a new recipe version if it was meant; then check the first piece{CAUTION}."
        )
    if finding.kind == "placement":
        return (
            "Check the jig and the reference point against the job sheet, measure five pieces in "
            "a row, and sort what was pressed by tolerance; pressing again does not move a print."
        )
    return _defect_step(finding, causes)


def _defect_step(finding: Finding, causes: Causes) -> str:
    lot = finding.factor.name in LOT_FACTORS
    hold = f"set {cause_words(finding.factor)} aside; " if lot else ""
    check, hot = _first_check(finding, causes(finding.characteristic))
    caution = CAUTION if hot else ""
    return capital(f"{hold}{check}{_usual_action(finding.characteristic)}{caution}.")


def _first_check(finding: Finding, ranked: Sequence[Cause]) -> tuple[str, bool]:
    """What to look at first, and whether that is at a hot press."""
    family = FAMILY_OF.get(finding.factor.name)
    cause = _first_cause(finding, ranked)
    if cause is not None:
        found = cause.first_check or "what it was last time"
        hot = any(word in cause.variable for word in HOT_VARIABLES)
        return f"check first: {found} (suspect: {cause.words})", hot
    if family is not None:
        place = cause_words(finding.factor)
        return f"check first {place}: {PLACE_CHECKS[family]}", family == "press"
    return "look at the last ten pieces and compare them with the reference sample", False


def _first_cause(finding: Finding, ranked: Sequence[Cause]) -> Cause | None:
    """The likeliest cause that sits where the finding points; anywhere, if it points at no family.

    A cause in the shop's own words has no family and may sit anywhere.
    """
    if finding.factor.name == "time_since_start":
        warming = [cause for cause in ranked if cause.variable == "warm-up"]
        return next(iter(warming or ranked), None)
    family = FAMILY_OF.get(finding.factor.name)
    if family is None:
        return next(iter(ranked), None)
    here = [cause for cause in ranked if cause.family in (family, "")]
    near = FAMILIES.get(finding.factor.name) or FAMILIES.get(family, ())
    return next(iter(here or [c for c in ranked if c.family in near]), None)


def _usual_action(defect: str) -> str:
    kind = defect_kinds().get(defect)
    if kind is None:
        return ""
    action = kind.usual_disposition.partition(";")[0]
    return f"; pieces: {action}; {_pressing_again(kind.pressing_again_helps)}"


def _pressing_again(helps: str) -> str:
    """The table's 'yes, usually', 'sometimes', 'no (fades by itself)' as a clause."""
    answer, _, why = helps.partition(" (")
    words = {
        "yes, usually": "pressing again usually helps",
        "sometimes": "pressing again sometimes helps", "no": "pressing again does not help",
    }.get(answer, f"pressing again helps: {answer}")
    return f"{words} ({why}" if why else words
