"""Looks that are read once and added to: who asks again gets what is new, not everything anew.

Versions of a look are only ever added, so while none but first versions have come in, what was
read before still stands. A correction, a hold, a store put in the place of another, or a look at a
moment gone by make everything be read again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from pandas.api.types import union_categoricals
from sqlalchemy import func, select

from qc.store.audit import newest_link
from qc.store.base import Store
from qc.store.inspections import read_findings, read_looks
from qc.store.schema import audit
from qc.store.schema import inspections as table


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Read:
    """What was read as of a moment, of the looks after ``after`` up to ``newest``, when the log
    stood at ``mark``."""

    looks: pd.DataFrame
    findings: pd.DataFrame
    as_of_us: int
    after: int
    newest: int
    mark: tuple[int, str]


class KeptLooks:
    """The looks at the pieces of one store and their findings, as `read_looks` and `read_findings`
    give them. They are kept from the second reading on: a command reads only once."""

    def __init__(self, columns: Sequence[str]) -> None:
        self.columns = tuple(columns)
        self._read: _Read | None = None
        self._asked = False

    def read(self, store: Store, *, as_of_us: int) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Looks and findings as known at a moment."""
        old = self._read
        if old is not None and (as_of_us < old.as_of_us or not _goes_on(store, old)):
            old = self._read = None
        new = _read(store, self.columns, as_of_us, after=0 if old is None else old.newest)
        if old is not None and not _goes_on(store, old):  # corrected while it was read
            old, new = None, _read(store, self.columns, as_of_us, after=0)
        keep = self._asked and _holds_all(store, new)
        known = new if old is None else _joined(old, new)
        self._read, self._asked = known if keep else None, True
        return known.looks, known.findings


def _read(store: Store, columns: Sequence[str], as_of_us: int, *, after: int) -> _Read:
    with store.reading() as connection:
        mark = newest_link(connection)
    looks = read_looks(store, as_of_us=as_of_us, columns=columns, after=after)
    findings = read_findings(store, as_of_us=as_of_us, after=after)
    last = int(looks.index[-1]) if len(looks) else after
    return _Read(
        looks=looks, findings=findings[findings["look"] <= last], as_of_us=as_of_us,
        after=after, newest=last, mark=mark,
    )


def _goes_on(store: Store, old: _Read) -> bool:
    """Is it the same store, with nothing but first versions since?"""
    number, chain = old.mark
    with store.reading() as connection:
        stands = connection.scalar(select(audit.c.chain).where(audit.c.number == number))
        since = table.c.number > old.newest
        again = connection.scalar(select(func.max(table.c.revision)).where(since))
    return stands == chain and (again is None or again == 1)


def _holds_all(store: Store, read: _Read) -> bool:
    """Is every look that stands in what was gone through among those read, and nothing else?"""
    count = select(func.count(), func.sum(table.c.number)).where(
        table.c.superseded_at.is_(None), table.c.number > read.after, table.c.number <= read.newest
    )
    with store.reading() as connection:
        n_looks, total = connection.execute(count).one()
    numbers = read.looks.index.to_numpy(dtype=np.int64)
    return (int(n_looks), int(total or 0)) == (len(numbers), int(numbers.sum()))


def _joined(old: _Read, new: _Read) -> _Read:
    if not len(new.looks):
        return old
    return _Read(
        looks=_appended(old.looks, new.looks), findings=_appended(old.findings, new.findings),
        as_of_us=new.as_of_us, after=old.after, newest=new.newest, mark=new.mark,
    )


def _appended(frame: pd.DataFrame, more: pd.DataFrame) -> pd.DataFrame:
    """The rows of both; text stays a category, its values in the order they turned up."""
    columns = {
        name: union_categoricals([frame[name], more[name]])
        if isinstance(frame[name].dtype, pd.CategoricalDtype)
        else pd.concat([frame[name], more[name]], ignore_index=True)
        for name in frame.columns
    }
    out = pd.DataFrame(columns, copy=False)
    if frame.index.name is not None:
        out.index = frame.index.append(more.index)
    return out
