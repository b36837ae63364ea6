"""Tallies of pieces and defects, kept in the transaction that changes the records.

A change adds the difference it makes: what the pieces it touches counted after it, less what
they counted before. So the tallies are always what a count over all records would give, and a
screen that reads them does not slow down as the history grows.

A piece counts in the hour in which it was pressed (by its first look), once under each group of
looks it had (prompt, after_24h, wash), and under "late" if it had no prompt one; a defective piece
under the first group it had, a defect under the group it was first seen at. What is coarser than
an hour is in `coarser`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import ColumnElement, Connection, delete, func, select

from qc.domain.counting import LATE, LOOKS, CountedPieces, count_once
from qc.domain.instants import HOUR_US
from qc.errors import InputError
from qc.store.base import Change, Store
from qc.store.coarser import shop_zone, with_coarser
from qc.store.frames import read_frame
from qc.store.schema import TALLIES
from qc.store.schema import findings as findings_table
from qc.store.schema import inspections as looks_table
from qc.store.schema import words as words_table
from qc.store.summing import Part, Tally, add_tally, differences, summed
from qc.store.words import Words, among, spelled

Ints = npt.NDArray[np.int64]

FACTORS = ("operator", "transfer_lot", "garment_lot", "job")
"""Factors with a tally of their own, besides the zone of the print."""
PLACE = ("press", "fabric", "transfer", "location")
_LOOK_COLUMNS = (
    "piece_id", "location", "attempt", "stage", "inspected_at", "pieces", "defective",
    "pressed_at", "press", "fabric", "transfer", *FACTORS,
)
_FINDING_COLUMNS = ("look", "kind", "zone", "n")
_PART_ROWS = 1_000_000


def update_tallies(
    change: Change, *, before: Ints, gone: Ints, looks: pd.DataFrame, findings: pd.DataFrame
) -> None:
    """Bring the tallies up to date with a change.

    Parameters
    ----------
    before : numbers of all looks that stood, before the change, at the pieces it touches.
    gone : those of them that stand no more.
    looks, findings : looks that stand anew, indexed by number, and their findings.
    """
    connection, words = change.connection, Words(change.connection)
    zone = shop_zone(connection)
    looks = looks.reindex(columns=list(_LOOK_COLUMNS))
    findings = findings.reindex(columns=list(_FINDING_COLUMNS))
    if not len(before):  # new pieces alone: the difference is what they count
        _add(connection, with_coarser(tallied(looks, findings, words, keep=True), words, zone,
                                      keep=True))
        return
    old_looks, old_findings = _looks_of(connection, before)
    kept = ~np.isin(old_looks.index.to_numpy(), gone)
    kept_findings = old_findings[~old_findings["look"].isin(gone)]
    old = tallied(old_looks, old_findings, words, keep=True)
    new = tallied(_joined(old_looks[kept], looks), _joined(kept_findings, findings), words,
                  keep=True)
    changed = {name: differences(tally, old[name]) for name, tally in new.items()}
    _add(connection, with_coarser(changed, words, zone, keep=True))


def _add(connection: Connection, tallies: Mapping[str, Tally]) -> None:
    for name, tally in tallies.items():
        add_tally(connection, TALLIES[name], tally)


def _joined(old: pd.DataFrame, new: pd.DataFrame) -> pd.DataFrame:
    return pd.concat([old, new]) if len(old) else new


def _looks_of(connection: Connection, numbers: Ints) -> tuple[pd.DataFrame, pd.DataFrame]:
    wanted = numbers.tolist()
    return _read(connection, among(connection, looks_table.c.number, wanted),
                 among(connection, findings_table.c.look, wanted))


def _read(
    connection: Connection, of_looks: ColumnElement[bool], of_findings: ColumnElement[bool]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    number = looks_table.c.number
    looks = read_frame(connection, select(
        number, *(looks_table.c[name] for name in _LOOK_COLUMNS)
    ).where(of_looks).order_by(number)).set_index("number")
    found = findings_table.c
    findings = read_frame(connection, select(
        *(found[name] for name in _FINDING_COLUMNS)
    ).join(looks_table, number == found.look).where(of_findings).order_by(
        found.look, found.position))
    return looks, findings


def tallied(
    looks: pd.DataFrame, findings: pd.DataFrame, words: Words, *, keep: bool
) -> dict[str, Tally]:
    """The hourly tallies of these looks alone, by table."""
    counted = count_once(looks, findings)
    keys = _Keys(counted, words, keep)
    return {
        "piece_tally": keys.pieces(),
        "defect_tally": keys.defects(),
        "factor_tally": keys.factors(),
    }


class _Keys:
    """Tally keys of counted pieces, as numbers."""

    def __init__(self, counted: CountedPieces, words: Words, keep: bool) -> None:
        self.counted = counted
        pieces = counted.pieces
        columns = {name: pieces[name] for name in (*PLACE, *FACTORS)}
        columns |= {"kind": counted.kinds["kind"], "fault_kind": counted.faults["kind"],
                    "fault_zone": counted.faults["zone"]}
        self.words = words.codes(columns, keep=keep, also=(*LOOKS, LATE, *FACTORS, "zone"))
        self.hour = pieces["pressed_at"].to_numpy(dtype=np.int64) // HOUR_US * HOUR_US
        self.n = pieces["n"].to_numpy(dtype=np.int64)
        self.number = words.numbers

    def pieces(self) -> Tally:
        first = np.zeros(len(self.n), dtype=bool)
        parts = []
        for look, at in self._had():
            bad = np.where(first[at], 0, self.counted.pieces["n_defective"].to_numpy()[at])
            first[at] = True
            keys = [self.hour[at], *(self.words[name][at] for name in PLACE), self._same(look, at)]
            parts.append((keys, [self.n[at], bad]))
        return summed(parts)

    def defects(self) -> Tally:
        kinds = self.counted.kinds
        at = kinds["at"].to_numpy(dtype=np.int64)
        keys = [self.hour[at], *(self.words[name][at] for name in PLACE), self._looks(kinds),
                self.words["kind"]]
        return summed([(keys, [kinds["n"].to_numpy(dtype=np.int64)])])

    def factors(self) -> Tally:
        """Each part is summed before the next is made: all at once they would fill gigabytes."""
        return summed([summed([part]).columns() for part in self._factor_parts()])

    def _factor_parts(self) -> Iterator[Part]:
        kinds, faults = self.counted.kinds, self.counted.faults
        at, kind = kinds["at"].to_numpy(dtype=np.int64), self.words["kind"]
        for name in FACTORS:
            level = self.words[name]
            for look, had in self._had():
                yield self._part(name, level[had], had, self._same(look, had),
                                 self._same(None, had), self.n[had])
            yield self._part(name, level[at], at, self._looks(kinds), kind, kinds["n"])
        yield self._part("zone", self.words["fault_zone"], faults["at"].to_numpy(dtype=np.int64),
                         self._looks(faults), self.words["fault_kind"], faults["n"])

    def _part(
        self, factor: str, level: Ints, at: Ints, look: Ints, kind: Ints, n: pd.Series | Ints
    ) -> Part:
        cell = [self.words[name][at] for name in PLACE if name != "press"]
        keys = [self._same(factor, at), self.hour[at], level, *cell, look, kind]
        return keys, [np.asarray(n, dtype=np.int64)]

    def _had(self) -> list[tuple[str, Ints]]:
        pieces = self.counted.pieces
        had = [(look, pieces[f"had_{look}"].to_numpy()) for look in LOOKS]
        late = ~had[0][1] if len(pieces) else np.zeros(0, dtype=bool)
        return [(look, np.flatnonzero(chosen)) for look, chosen in [*had, (LATE, late)]]

    def _same(self, word: str | None, at: Ints) -> Ints:
        return np.full(len(at), self.number[word] if word else 0, dtype=np.int64)

    def _looks(self, faults: pd.DataFrame) -> Ints:
        return np.asarray(faults["look"].map(self.number), dtype=np.int64)


def read_piece_tally(
    store: Store, *, since_us: int | None = None, until_us: int | None = None
) -> pd.DataFrame:
    """Pieces by hour, press, fabric, transfer, location and look (or "late"): n, n_defective.

    Whole hours that begin at or after ``since_us`` and before ``until_us``.
    """
    return _read_tally(store, "piece_tally", since_us, until_us)


def read_defect_tally(
    store: Store, *, since_us: int | None = None, until_us: int | None = None
) -> pd.DataFrame:
    """Pieces with a defect of each kind, by hour, press, fabric, transfer, location, look: n."""
    return _read_tally(store, "defect_tally", since_us, until_us)


def read_factor_tally(
    store: Store, factor: str, *, since_us: int | None = None, until_us: int | None = None
) -> pd.DataFrame:
    """Pieces by hour and level of a factor: n; ``kind`` is missing in the rows that count pieces.

    For the zone there are only rows with a kind: every piece has every zone.
    """
    if factor not in (*FACTORS, "zone"):
        raise InputError(f"no tally by {factor!r}; there are: {', '.join((*FACTORS, 'zone'))}")
    frame = _read_tally(store, "factor_tally", since_us, until_us, factor)
    return frame.drop(columns="factor")


def _read_tally(
    store: Store, name: str, since_us: int | None, until_us: int | None, factor: str | None = None
) -> pd.DataFrame:
    table = TALLIES[name]
    query = select(table).order_by(*table.primary_key.columns)
    if since_us is not None:
        query = query.where(table.c.hour_us >= int(since_us))
    if until_us is not None:
        query = query.where(table.c.hour_us < int(until_us))
    with store.reading() as connection:
        if factor is not None:
            query = query.where(table.c["factor"] == select(
                func.coalesce(func.max(words_table.c.number), 0)).where(
                    words_table.c.word == factor).scalar_subquery())
        frame = read_frame(connection, query)
        numbers = {column.name: frame[column.name].to_numpy(dtype=np.int64)
                   for column in table.primary_key.columns if column.name != "hour_us"}
        known = spelled(connection, np.concatenate(list(numbers.values())))
    return frame.assign(**{key: _category(codes, known) for key, codes in numbers.items()})


def _category(numbers: Ints, known: Mapping[int, str]) -> pd.Categorical:
    used = np.unique(numbers[numbers > 0])
    codes = np.where(numbers > 0, np.searchsorted(used, numbers), -1)
    words = pd.Index([known[number] for number in used.tolist()], dtype="str")
    return pd.Categorical.from_codes(codes, categories=words)


def rebuild_tallies(store: Store, *, by: str, at_us: int) -> None:
    """Count all records anew and put the result in place of the tallies."""
    with store.changing(by=by, at_us=at_us, what="rebuild tallies") as change:
        recount(change.connection)


def recount(connection: Connection) -> None:
    """The same inside a transaction that is under way."""
    for table in TALLIES.values():
        connection.execute(delete(table))
    for part in _parts(connection, Words(connection), keep=True):
        _add(connection, part)


def check_tallies(store: Store) -> list[str]:
    """Where the tallies differ from a count over all records, one line each; empty: they agree."""
    with store.reading() as connection:
        words = Words(connection)
        parts = list(_parts(connection, words, keep=False))
        lines = []
        for name, table in TALLIES.items():
            stored = read_frame(connection, select(table)).to_numpy(dtype=np.int64)
            n_keys = len(table.primary_key.columns)
            kept = Tally(keys=stored[:, :n_keys], values=stored[:, n_keys:])
            truth = summed([part[name].columns() for part in parts])
            wrong = differences(truth, kept)
            if len(wrong.keys):
                lines.append(f"{name}: {len(wrong.keys)} of its counts differ from the records; "
                             "qc rebuild counts anew")
        return lines


def _parts(connection: Connection, words: Words, *, keep: bool) -> Iterator[dict[str, Tally]]:
    """Tallies of all records, made piece by piece of the identities so that memory stays small."""
    n_rows = connection.scalar(select(func.count()).select_from(looks_table)) or 0
    edges = np.linspace(-(2.0**63), 2.0**63, int(n_rows // _PART_ROWS) + 2)
    bounds = [int(edge) >> 10 << 10 for edge in edges]  # a piece's looks stay in one part
    table = looks_table.c
    zone = shop_zone(connection)
    for low, high in zip(bounds[:-1], bounds[1:], strict=True):
        standing = table.superseded_at.is_(None) & table.identity.between(low, high - 1)
        looks, findings = _read(connection, standing, standing)
        yield with_coarser(tallied(looks, findings, words, keep=keep), words, zone, keep=keep)
