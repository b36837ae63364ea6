"""What was made of records that are only ever added, kept until another one is recorded.

Surveys, checks and pulls are asked for at every look at a page, and years of them take a while to
go through; but they only change when somebody has been to a press.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from threading import Lock
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

import pandas as pd
from sqlalchemy import Engine, func, select

from qc.desk.shop import Shop
from qc.store.records import read_records
from qc.store.schema import records

Made = TypeVar("Made")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Kept:
    number: int
    given: Hashable
    newest_us: int
    made: Any


_kept: WeakKeyDictionary[Engine, dict[str, _Kept]] = WeakKeyDictionary()
_lock = Lock()


def made_of(
    shop: Shop, kind: str, make: Callable[[pd.DataFrame], Made], *, as_of_us: int,
    given: Hashable = None,
) -> Made:
    """What ``make`` makes of the records of a kind as known at a moment; not to be changed.

    Parameters
    ----------
    kind : a kind of record without versions, with a time ``measured_at``
    make : a function of these records alone and of what is ``given``; one for each kind
    """
    kept = _newest(shop, kind, make, given)
    if kept.newest_us <= as_of_us:
        made: Made = kept.made
        return made
    return make(read_records(shop.store, kind, as_of_us=as_of_us))


def _newest(
    shop: Shop, kind: str, make: Callable[[pd.DataFrame], Any], given: Hashable
) -> _Kept:
    table = records[kind]
    with shop.store.reading() as connection:
        number = int(connection.scalar(select(func.max(table.c.number))) or 0)
    with _lock:
        mine = _kept.setdefault(shop.store.engine, {})
        kept = mine.get(kind)
        if kept is None or kept.number < number or kept.given != given:
            frame = read_records(shop.store, kind)
            kept = mine[kind] = _Kept(
                number=int(frame.index.max()) if len(frame) else 0, given=given,
                newest_us=int(frame["measured_at"].max()) if len(frame) else 0, made=make(frame))
        return kept
