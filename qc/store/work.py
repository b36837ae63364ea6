"""Counts of one job and of one kind of work, straight from the tallies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
from sqlalchemy import ColumnElement, Connection, Table, func, select

from qc.domain.records import JOBS
from qc.store.base import Store
from qc.store.frames import read_frame
from qc.store.hashing import record_fingerprints
from qc.store.schema import TALLIES, records, words
from qc.store.words import among

FIRST_LOOK = "prompt"
GONE_THROUGH = 2_000
"""Jobs entered last that are gone through for those still in the house."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkCounts:
    """Pieces of one fabric, transfer and place in a period, first looks: how many, how many with a
    defect, and how many with each kind of defect."""

    n: int
    n_defective: int
    kinds: dict[str, int]


def job_began_us(store: Store, job: str, *, since_us: int) -> int | None:
    """The hour in which a job's first piece was pressed, from ``since_us`` on; None without one."""
    tally = TALLIES["factor_tally"]
    with store.reading() as connection:
        factor, level = _numbers(connection, "job", job)
        found = connection.scalar(select(func.min(tally.c.hour_us)).where(
            tally.c.factor == factor, tally.c.hour_us >= int(since_us), tally.c.level == level))
    return None if found is None or not level else int(found)


def jobs_now(store: Store, recent: Sequence[str], *, at_most: int) -> pd.DataFrame:
    """Jobs not shipped among the newest `GONE_THROUGH`, and whatever is known of ``recent`` ones:
    job, fabric, transfer, location, ordered, shipped_at; the newest first."""
    table = records["jobs"]
    fields = [table.c[field.name] for field in JOBS.fields]
    standing = select(table.c.number, *fields).where(table.c.superseded_at.is_(None))
    newest = table.c.number.desc()
    with store.reading() as connection:
        lately = standing.order_by(newest).limit(GONE_THROUGH).subquery()
        waiting = select(lately).where(lately.c.shipped_at.is_(None)).order_by(
            lately.c.number.desc()).limit(at_most)
        known = standing.where(among(connection, table.c.identity, _identities(recent)))
        found = pd.concat([read_frame(connection, waiting),
                           read_frame(connection, known.order_by(newest))])
    return found.drop_duplicates("number").sort_values("number", ascending=False)


def _identities(jobs: Sequence[str]) -> list[int]:
    """By what the store finds a job by index."""
    named = pd.DataFrame({"job": pd.Series(list(jobs), dtype=object)})
    return [int(one) for one in record_fingerprints(JOBS, named).identity]


def work_counts(
    store: Store, *, fabric: str, transfer: str, location: str | None, since_us: int
) -> WorkCounts:
    """Counts of the pieces pressed from ``since_us`` on."""
    pieces, defects = TALLIES["piece_tally"], TALLIES["defect_tally"]
    with store.reading() as connection:
        codes = _numbers(connection, fabric, transfer, location or "", FIRST_LOOK)

        n, bad = connection.execute(select(
            func.sum(pieces.c.n), func.sum(pieces.c.n_defective)
        ).where(*_of(pieces, codes, since_us))).one()
        named = defects.join(words, words.c.number == defects.c.kind)
        kinds = connection.execute(
            select(words.c.word, func.sum(defects.c.n)).select_from(named)
            .where(*_of(defects, codes, since_us)).group_by(words.c.word))
        return WorkCounts(n=int(n or 0), n_defective=int(bad or 0),
                          kinds={str(word): int(count) for word, count in kinds})


def _of(tally: Table, codes: list[int], since_us: int) -> list[ColumnElement[bool]]:
    names = ("fabric", "transfer", "location", "look")
    return [tally.c.hour_us >= int(since_us),
            *(tally.c[name] == code for name, code in zip(names, codes, strict=True))]


def _numbers(connection: Connection, *texts: str) -> list[int]:
    """The number of each word; 0 where a text is empty, -1 where it was never used."""
    rows = connection.execute(select(words.c.word, words.c.number).where(words.c.word.in_(texts)))
    known = {str(row.word): int(row.number) for row in rows}
    return [0 if not text else known.get(text, -1) for text in texts]
