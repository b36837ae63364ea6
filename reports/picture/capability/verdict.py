"""What a picture of capability says in one sentence, and how loudly."""

from __future__ import annotations

from qc.desk.capability import (
    BivariateCapability,
    Capability,
    FileCapability,
    ShareInterval,
)
from reports.picture.capability import words
from reports.picture.ticks import grouped
from reports.picture.words import per_cent


def judged(found: FileCapability) -> tuple[str, str]:
    """Tone and sentence for one value."""
    result = found.result
    index = found.nearest
    if index is None:
        tone = "alarm" if result.outside.n_defective else "watch"
        return tone, f"{words.EQUAL} {_lie(result.outside, words.VALUES)}."
    tone = _tone(*index)
    expected = words.EXPECTED.format(share=per_cent(result.share_outside_fitted))
    return tone, f"{words.ROOM[tone]} {_lie(result.outside, words.VALUES)}{expected}."


def judged_together(result: BivariateCapability) -> tuple[str, str]:
    """Tone and sentence for two values."""
    index, lie = result.equivalent, _lie(result.outside, words.PLACEMENTS)
    if index is None or result.fitted is None:
        return ("alarm" if result.outside.n_defective else "watch"), f"{words.EQUAL_ONE} {lie}."
    tone = _tone(index.value, index.low)
    expected = words.EXPECTED.format(share=per_cent(result.fitted.share))
    return tone, f"{words.ROOM[tone]} {lie}{expected}."


def _tone(value: float, low: float) -> str:
    if not value >= 1:
        return "alarm"
    return "calm" if low >= 1 else "watch"


def _lie(outside: ShareInterval, what: tuple[str, str]) -> str:
    one, many = what
    n = int(outside.n_defective)
    among = f"of {grouped(int(outside.n_inspected), 0)} {many if outside.n_inspected != 1 else one}"
    if n == 0:
        return f"none {among} lies outside"
    return f"{'one' if n == 1 else grouped(n, 0)} {among} {'lies' if n == 1 else 'lie'} outside"


def outside_words(outside: ShareInterval, some: str, none: str) -> str:
    """The counted share outside, with its interval."""
    n = int(outside.n_defective)
    return (some if n else none).format(
        n=grouped(n, 0), all=grouped(int(outside.n_inspected), 0), drawn="",
        share=per_cent(n / int(outside.n_inspected)), low=per_cent(outside.low),
        high=per_cent(outside.high))


def share_interval(result: Capability) -> str:
    """Interval of the share the fitted distribution puts outside; empty where there is none."""
    ends = result.percentile_intervals
    if ends is None:
        return ""
    low, high = map(per_cent, ends.share_outside)
    return words.INTERVAL.format(low=low, high=high)
