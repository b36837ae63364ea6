"""View state: what a page shows, in its address, so that any view can be sent as a link.

An unknown or impossible value falls back to the default: an old link still opens its page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar
from urllib.parse import parse_qsl, quote, unquote, urlencode

from dashboard.text.setup import PARTS
from qc.domain.flags import record_levels
from qc.domain.ranking import DIMENSIONS, ORDERS
from qc.domain.streams import SUBJECTS

PERIODS = ("7", "30", "90", "all")
STEPS = ("day", "week")
SPANS = ("7", "14", "28", "84")
NOT_SAID = "~"
"""The level of records that say nothing."""
ANY_DEFECT = "any"
"""The kind of a look with whatever defect."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendsView:
    """``open`` names what the records panel shows: 'from..until' in microseconds for a point, or
    'level' for a bar with ``level`` and ``level2``; empty: closed. ``at`` is the moment of the
    comparison (microseconds UTC; empty: ``span`` days ago), ``span`` its days each way, ``of`` what
    it is narrowed to: a factor and a level joined by ':'."""

    period: str = "30"
    step: str = "day"
    kind: str = ""
    by: str = "defect"
    then: str = ""
    order: str = "number"
    open: str = ""
    level: str = ""
    level2: str = ""
    at: str = ""
    span: str = "14"
    of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CasesView:
    flag: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PressesView:
    press: str = ""
    platen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorView:
    show: str = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartsView:
    """A stream (`qc.domain.streams.Stream`), how it is charted, and what its limits come from.

    ``rules`` : names joined by commas, 'limits' for none, empty for the usual ones. ``base`` :
    'from..until' in microseconds. ``out`` : points left out, as JSON [[key, cause], ...].
    ``frozen`` : number of frozen limits, '0' for none, empty for those that count."""

    what: str = "defects"
    of: str = ""
    by: str = ""
    level: str = ""
    platen: str = ""
    step: str = ""
    period: str = "90"
    kind: str = ""
    rules: str = ""
    base: str = ""
    out: str = ""
    frozen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsView:
    """Looks to show. ``since`` and ``until`` (exclusive) bound the time pressed, in microseconds
    UTC; ``defect`` is a kind or 'any'; other fields are levels, `NOT_SAID` where nothing is said.
    ``first`` 'yes': only looks that rates count, at the first pressing. ``look`` opens one look,
    see `look_key`; ``sort``: a field, with '-' before it from the largest down; ``show`` 'files':
    where files are brought in."""

    since: str = ""
    until: str = ""
    piece: str = ""
    defect: str = ""
    zone: str = ""
    press: str = ""
    station: str = ""
    fabric: str = ""
    transfer: str = ""
    location: str = ""
    size: str = ""
    job: str = ""
    operator: str = ""
    transfer_lot: str = ""
    garment_lot: str = ""
    disposition: str = ""
    shift: str = ""
    first: str = ""
    look: str = ""
    sort: str = ""
    show: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupView:
    """``part``: a list or the settings; empty: all of them. ``item``: the record that is open, its
    key as `key_text` writes it; ``past``: the version its form is filled with, empty: the newest;
    ``do``: 'add' opens an empty form; ``find``: what a list is cut down to."""

    part: str = ""
    item: str = ""
    past: str = ""
    do: str = ""
    find: str = ""


View = TypeVar("View", TrendsView, CasesView, PressesView, FloorView, ChartsView,
               RecordsView, SetupView)

_ALLOWED: dict[tuple[type, str], tuple[str, ...]] = {
    (TrendsView, "period"): PERIODS,
    (TrendsView, "step"): STEPS,
    (TrendsView, "span"): SPANS,
    (TrendsView, "by"): DIMENSIONS,
    (TrendsView, "then"): ("", *DIMENSIONS),
    (TrendsView, "order"): ORDERS,
    (PressesView, "platen"): ("", "upper", "lower"),
    (ChartsView, "what"): SUBJECTS,
    (ChartsView, "period"): PERIODS,
    (FloorView, "show"): ("all", "attention"),
    (SetupView, "part"): tuple(PARTS),
    (SetupView, "do"): ("", "add"),
    (RecordsView, "show"): ("", "files"),
    (RecordsView, "first"): ("", "yes"),
}
_LONGEST = 2_000


def read_view(kind: type[View], search: str | None) -> View:
    """The view an address asks for."""
    asked = dict(parse_qsl((search or "").lstrip("?")))
    known: dict[str, Any] = {}
    for field in fields(kind):
        value = asked.get(field.name, "")[:_LONGEST]
        allowed = _ALLOWED.get((kind, field.name))
        if value and (allowed is None or value in allowed):
            known[field.name] = value
    return kind(**known)


def address(view: View, **changes: str) -> str:
    """The query part of the address of a view; what is at its default is left out."""
    changed = replace(view, **changes)
    default = type(view)()
    parts = [
        (field.name, getattr(changed, field.name))
        for field in fields(changed)
        if getattr(changed, field.name) != getattr(default, field.name)
    ]
    return f"?{urlencode(parts)}" if parts else ""


def records_address(
    levels: Iterable[tuple[str, str | None]] = (), *, kind: str = "",
    since_us: int | None = None, until_us: int | None = None, first: bool = False,
) -> str:
    """The address of the looks behind a number: the one way other pages lead to records.

    Parameters
    ----------
    levels : (dimension, level) pairs, dimensions as in `qc.domain.ranking`, factors of a flag or
        any other field of `RecordsView`; None is "not said". What records cannot be found by (the
        whole shop) is left out.
    kind : a defect kind, or `ANY_DEFECT`; empty: looks without a defect too. A level of the
        dimension defect counts before it.
    since_us, until_us : pressed in this period (inclusive, exclusive), microseconds UTC.
    first : only looks that rates count; else looks at pieces pressed again are among them.
    """
    asked = {field.name: "" for field in fields(RecordsView)} | {"first": "yes" if first else ""}
    asked |= {"defect": kind, "since": _moment(since_us), "until": _moment(until_us)}
    asked |= {name: NOT_SAID if level is None else level for pair in levels
              for name, level in record_levels(*pair) if name in asked}
    return "/records" + address(RecordsView(**asked))


def look_key(look: Mapping[str, Any]) -> str:
    """A look in an address: piece, attempt, place and stage joined by '/'."""
    place = look["location"]
    named = NOT_SAID if place is None else _escaped(place)
    return "/".join((_escaped(look["piece_id"]), str(look["attempt"]), named, look["stage"]))


def _escaped(part: str) -> str:
    """Quoted so that it holds no '/', and is never taken for `NOT_SAID`."""
    return quote(part, safe="").replace("~", "%7E")


def look_of(key: str) -> dict[str, Any] | None:
    """What a key names: the identity of a look; None where it names nothing."""
    parts = key.split("/")
    if "\0" in unquote(key) or len(parts) != 4 or not parts[0] or not parts[1].isdigit():
        return None
    piece, attempt, place, stage = parts
    return {"piece_id": unquote(piece), "attempt": int(attempt[:4]), "stage": stage,
            "location": None if place == NOT_SAID else unquote(place)}


def _moment(us: int | None) -> str:
    return "" if us is None else str(int(us))


def point_us(opened: str) -> tuple[int, int] | None:
    """The stretch of time of a point in a chart, from a view's ``open``."""
    since, dots, until = opened.partition("..")
    if not dots or not since.isdigit() or not until.isdigit():
        return None
    return int(since), int(until)


def key_text(key: Sequence[str]) -> str:
    """The key of a record as one text for an address."""
    return "/".join(quote(part, safe="") for part in key)


def key_of(text: str) -> tuple[str, ...]:
    """The key that `key_text` wrote."""
    return tuple(unquote(part) for part in text.split("/"))
