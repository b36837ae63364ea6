"""Sums of tallies, added up by the database: a page gets the few rows it shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import (
    CTE,
    BigInteger,
    Connection,
    Double,
    cast,
    column,
    func,
    or_,
    select,
    values,
)
from sqlalchemy.sql import ColumnElement

from qc.store.base import Store
from qc.store.frames import read_frame
from qc.store.schema import TALLIES, day_defect_tally, day_tally, mix_tally, words
from qc.store.words import NO_WORD, spelled

MIX = ("fabric", "transfer", "location")
TIMES = ("hour_us", "day_us")
SPAN = "span"
Wanted = Mapping[str, Sequence[str | None]]


def sum_tally(
    store: Store, name: str, by: Sequence[str], *, since_us: int | None = None,
    until_us: int | None = None, where: Wanted | None = None, named: Sequence[str] = (),
    spans: Sequence[tuple[int, int]] | None = None,
) -> pd.DataFrame:
    """Counts of a tally added up by some of its keys.

    Parameters
    ----------
    name : a table of `qc.store.schema.TALLIES`
    by : keys to keep; words are spelled out, None where there is none
    since_us, until_us : hours or days that begin in this period (inclusive, exclusive)
    where : by key, the words wanted of it (None: no word)
    named : keys that must have a word
    spans : stretches of time (from inclusive, until exclusive) that do not overlap. What begins in
        one is added up with its number, ``span`` among the keys; all else is left out.
    """
    table = TALLIES[name]
    counts = [count.name for count in table.columns if not count.primary_key]
    within = _spans(spans or [(0, 0)])
    keys = [within.c.span if key == SPAN else table.c[key] for key in by]
    query = select(
        *keys, *(cast(func.sum(table.c[count]), BigInteger).label(count) for count in counts),
    ).group_by(*keys)
    for time in (table.c[key] for key in TIMES if key in table.c):
        if spans is not None:
            query = query.select_from(within).join(
                table, (time >= within.c.from_us) & (time < within.c.until_us))
        if since_us is not None:
            query = query.where(time >= int(since_us))
        if until_us is not None:
            query = query.where(time < int(until_us))
    for key, wanted in (where or {}).items():
        query = query.where(_one_of(table.c[key], wanted))
    query = query.where(*(table.c[key] != NO_WORD for key in named))
    with store.reading() as connection:
        frame = read_frame(connection, query)
        return _spelled(connection, frame, [key for key in by if key not in (*TIMES, SPAN)])


def _spans(spans: Sequence[tuple[int, int]]) -> CTE:
    columns = (column(name, BigInteger) for name in (SPAN, "from_us", "until_us"))
    return values(*columns, name="spans").data(
        [(number, int(first), int(until)) for number, (first, until) in enumerate(spans)]
    ).cte("spans")


def daily_shares(store: Store, *, kind: str | None, since_us: int | None) -> pd.DataFrame:
    """Pieces looked at on the day, by the day they were pressed on: day_us, n, n_defective (with
    any defect, or with one kind) and how many of them the usual rates of their mix expect.

    The usual rate of a mix is its share over the whole history.
    """
    day, usual = day_tally.c, _usual(kind)
    prompt = _one_of(day.look, ["prompt"])
    lately = day.day_us >= int(since_us) if since_us is not None else day.day_us.is_not(None)
    query = select(
        day.day_us, cast(func.sum(day.n), BigInteger).label("n"),
        cast(func.sum(day.n_defective), BigInteger).label("n_defective"),
        cast(func.sum(day.n * usual.c.rate), Double).label("expected"),
    ).join(
        usual, (day.fabric == usual.c.fabric) & (day.transfer == usual.c.transfer)
        & (day.location == usual.c.location)
    ).where(prompt, lately).group_by(day.day_us).order_by(day.day_us)
    with store.reading() as connection:
        frame = read_frame(connection, query)
        if kind is not None:
            frame["n_defective"] = _bad_of(connection, kind, since_us).reindex(
                frame["day_us"]).fillna(0).to_numpy(dtype=np.int64)
    return frame


def _usual(kind: str | None) -> Any:
    """Share of defective pieces of each mix, as a table to join with."""
    mix = mix_tally.c
    bad = _one_of(mix.part, ["defective"]) if kind is None else (
        _one_of(mix.part, ["defects"]) & _one_of(mix.kind, [kind]))
    pieces = _one_of(mix.part, ["pieces"])
    n = func.sum(mix.n).filter(pieces)
    keys = [mix[name] for name in MIX]
    return select(
        *keys, (cast(func.coalesce(func.sum(mix.n).filter(bad), 0), Double) / n).label("rate")
    ).where(_one_of(mix.look, ["prompt"]), or_(pieces, bad)).group_by(*keys).having(
        n > 0).cte("usual")


def _bad_of(connection: Connection, kind: str, since_us: int | None) -> pd.Series:
    day = day_defect_tally.c
    query = select(day.day_us, cast(func.sum(day.n), BigInteger).label("n")).where(
        _one_of(day.look, ["prompt"]), _one_of(day.kind, [kind])).group_by(day.day_us)
    if since_us is not None:
        query = query.where(day.day_us >= int(since_us))
    return read_frame(connection, query).set_index("day_us")["n"]


def _one_of(column: ColumnElement[Any], wanted: Sequence[str | None]) -> ColumnElement[bool]:
    named = [word for word in wanted if word is not None]
    found = select(words.c.number).where(words.c.word.in_(named))
    is_named = column == found.scalar_subquery() if len(named) == 1 else column.in_(found)
    return or_(is_named, column == NO_WORD) if None in wanted else is_named


def _spelled(connection: Connection, frame: pd.DataFrame, keys: Sequence[str]) -> pd.DataFrame:
    """The frame with words for their numbers; only those in it are looked up."""
    numbers = {key: frame[key].to_numpy(dtype=np.int64) for key in keys}
    used = np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *numbers.values()]))
    known = spelled(connection, used)
    palette = np.array([known.get(number) for number in used.tolist()], dtype=object)
    return frame.assign(**{
        key: palette[np.searchsorted(used, codes)] if len(codes) else np.zeros(0, dtype=object)
        for key, codes in numbers.items()})
