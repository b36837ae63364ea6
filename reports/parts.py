"""Parts that several documents share: shares and counts in words, how platens stand."""

from __future__ import annotations

from collections.abc import Iterable

from qc.desk.shares import Share
from qc.domain.platens import PlatenHealth
from qc.domain.ranking import ParetoRow
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


def ratio_cells(row: ParetoRow) -> tuple[str | None, str | None, str | None]:
    """A level's ratio to what its mix gives, its interval, and whether it stands out."""
    if row.ratio is None or row.ratio_low is None or row.ratio_high is None:
        return None, None, None
    out = words.STANDS_OUT[row.ratio > 1] if row.stands_out else None
    return f"{row.ratio:.2f}", f"{row.ratio_low:.2f} to {row.ratio_high:.2f}", out


def one_digit(value: float) -> str:
    """A number that is no count."""
    return f"{value:.1f}"


def platens_table(title: str, platens: Iterable[PlatenHealth]) -> Table:
    """How platens stand, each with its reason."""
    names = words.PLATEN_COLUMNS
    return Table(
        title=title, columns=tuple(Column(key=key, name=name) for key, name in names.items()),
        rows=tuple((one.press, wording.PLATEN_WORDS[one.platen], one.reason) for one in platens))
