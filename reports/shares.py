"""Shares and counts of pieces in words, the same in every document."""

from __future__ import annotations

from qc.desk.shares import Share
from reports import wording
from reports import wording_of_records as words
from reports.cells import count, percent


def right_at_first(found: Share) -> str:
    """How many were right at the first pressing; without a share where it is not known well."""
    form = words.AT_FIRST_WORDS if found.is_known else words.AT_FIRST_FEW
    return form.format(
        good=count(found.n_pieces - found.n_defective), n=count(found.n_pieces),
        bad=count(found.n_defective), share=percent(found.share), low=percent(found.low),
        high=percent(found.high))


def state_counts(now: tuple[tuple[str | None, int], ...]) -> str:
    """Pieces by what is done with them: '8 passed, 1 scrap'."""
    return ", ".join(
        f"{count(n)} {wording.NOT_SAID if code is None else wording.disposition(code)}"
        for code, n in now)
