"""Parts that several documents share: shares and counts in words, how platens stand."""

from __future__ import annotations

from collections.abc import Iterable

from qc.desk.shares import Share
from qc.domain.platens import PlatenHealth
from reports import wording
from reports import wording_of_records as words
from reports.cells import count, percent
from reports.document import Column, Table


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


def platens_table(title: str, platens: Iterable[PlatenHealth]) -> Table:
    """How platens stand, each with its reason."""
    names = words.PLATEN_COLUMNS
    return Table(
        title=title, columns=tuple(Column(key=key, name=name) for key, name in names.items()),
        rows=tuple((one.press, wording.PLATEN_WORDS[one.platen], one.reason) for one in platens))
