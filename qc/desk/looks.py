"""Looks at pieces: found by what they say, a page at a time; one opened with all its versions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from qc.desk.shop import Shop
from qc.domain.instants import offsets_of
from qc.domain.records import INSPECTIONS
from qc.store.codes import known_codes
from qc.store.corrections import looks_at, looks_taken_back, versions_of
from qc.store.look_pages import (
    LocalHours,
    LookCount,
    LookFilter,
    Order,
    bounds_of_pressing,
    count_looks,
    each_look,
    levels_of_newest,
    page_of_looks,
)

LEVELS = {
    "piece": "piece_id", "press": "press", "station": "station", "fabric": "fabric",
    "transfer": "transfer", "location": "location", "size": "size", "job": "job",
    "operator": "operator", "transfer_lot": "transfer_lot", "garment_lot": "garment_lot",
    "disposition": "disposition",
}
"""What looks are found by, and the field of a look that says it; besides the defect, its zone and
the shift."""
ANY = "any"
BY_TIME = "pressed_at"
SORTS = (BY_TIME, "inspected_at", "piece_id", "press", "fabric", "transfer", "location", "size",
         "job", "operator", "transfer_lot", "garment_lot", "disposition", "attempt", "stage")
MOST_COUNTED = 10_000
"""Counting stops here: a longer list is read from its newest end, or narrowed."""
COUNT_S, PAGE_S = 0.5, 10.0
"""How long counting, and finding a page, may take the store."""
NEWEST_LOOKS = 5_000
"""So many looks are read for the levels that can be chosen; any other can be written."""
_LISTED = {"press": "presses", "fabric": "fabrics", "transfer": "transfers", "defect": "kinds"}
_WRITTEN = ("station", "location", "size", "job", "operator", "transfer_lot", "garment_lot")

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class LooksAsked:
    """Which looks, in which order.

    ``since_us`` (inclusive) and ``until_us`` (exclusive) bound the time pressed. ``levels``: pairs
    of a name of `LEVELS`, 'defect', 'zone' or 'shift' and the level; None where nothing is said;
    the defect may be `ANY`. ``first``: only looks that rates count, see `LookFilter`.
    """

    since_us: int | None = None
    until_us: int | None = None
    levels: tuple[tuple[str, str | None], ...] = ()
    first: bool = False
    sort: str = BY_TIME
    newest_first: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class LookPage:
    """Some of the looks asked for. ``is_sorted``: in the order asked; else ``by_time``, because
    there are too many to sort by anything else."""

    rows: tuple[Row, ...]
    is_sorted: bool
    by_time: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedLook:
    """A look with every version, oldest first, and the other looks at its piece, newest first;
    those that were taken back (``taken_back``) apart, because they count no more."""

    versions: tuple[Row, ...]
    others: tuple[Row, ...]
    taken_back: tuple[Row, ...] = ()

    @property
    def now(self) -> Row:
        return self.versions[-1]

    @property
    def told(self) -> Row:
        """The version that says what was found last: taking a look back says nothing of that."""
        return next((one for one in self.versions[::-1] if not one["withdrawn"]), self.now)


def look_page(
    shop: Shop, asked: LooksAsked, *, as_of_us: int, start: int, n: int,
    after: tuple[int, int] | None = None, is_all: bool | None = None,
) -> LookPage:
    """The looks from position ``start`` on, at most ``n``.

    ``is_all``: whether they could all be counted, where that is known. ``after``: time pressed
    and number of the look before the page, where known: deep pages are then found as fast as the
    first. A list longer than `MOST_COUNTED` is sorted by time alone.
    """
    wanted = look_filter(shop, asked, as_of_us)
    by = asked.sort if asked.sort in SORTS else BY_TIME
    if by != BY_TIME and is_all is None:
        is_all = looks_counted(shop, asked, as_of_us=as_of_us).is_all
    if not is_all:
        by = BY_TIME
    order = Order(by=by, newest_first=asked.newest_first)
    rows = page_of_looks(shop.store, wanted, order=order, start=start, n=n,
                         after=after if by == BY_TIME else None, seconds=PAGE_S)
    return LookPage(rows=tuple(rows), is_sorted=by == asked.sort,
                    by_time=by == BY_TIME)


def looks_counted(shop: Shop, asked: LooksAsked, *, as_of_us: int) -> LookCount:
    """How many looks there are and at how many pieces, as far as is quickly known."""
    return count_looks(shop.store, look_filter(shop, asked, as_of_us), most=MOST_COUNTED,
                       seconds=COUNT_S)


def all_looks(shop: Shop, asked: LooksAsked, *, as_of_us: int) -> Iterator[list[Row]]:
    """All looks asked for, oldest first, in parts; the store is read as the parts are taken."""
    return each_look(shop.store, look_filter(shop, asked, as_of_us))


def open_look(
    shop: Shop, identity: Mapping[str, Any], *, as_of_us: int | None = None
) -> OpenedLook:
    """A look with its versions, and its piece's other looks; as known at a moment if one is given.
    A look that was taken back is still readable: its last version is ``withdrawn``.

    Raises
    ------
    NotFound
        No such look.
    """
    versions = versions_of(shop.store, identity)
    if as_of_us is not None:
        versions = [one for one in versions
                    if one["version"] == 1 or one["changed_at"] <= as_of_us]
    me = {name: versions[0][name] for name in INSPECTIONS.identity}
    standing, gone = (
        tuple(look for look in reversed(looks)
              if any(look[name] != value for name, value in me.items()))
        for looks in (looks_at(shop.store, str(me["piece_id"])),
                      taken_back_at(shop, str(me["piece_id"]))))
    return OpenedLook(versions=tuple(versions), others=standing, taken_back=gone)


def taken_back_at(shop: Shop, piece_id: str) -> list[Row]:
    """The looks at a piece that were taken back, oldest first: no list of looks has them."""
    return looks_taken_back(shop.store, piece_id)


def has_looks(shop: Shop) -> bool:
    """Whether any look was ever recorded."""
    return bounds_of_pressing(shop.store) is not None


def suggestions(shop: Shop) -> dict[str, tuple[str, ...]]:
    """Levels to choose from, by the name they are found by: the whole list where there is one,
    else what the newest looks say."""
    lists = known_codes(shop.store)
    newest = levels_of_newest(shop.store, [LEVELS[name] for name in _WRITTEN],
                              n_looks=NEWEST_LOOKS)
    found = {name: newest[LEVELS[name]] for name in _WRITTEN}
    found |= {name: sorted(lists[listed]) for name, listed in _LISTED.items()}
    return {name: tuple(levels) for name, levels in found.items()}


def code_lists(shop: Shop) -> dict[str, tuple[str, ...]]:
    """The codes on each list, in order: presses, fabrics, transfers, kinds."""
    return {name: tuple(sorted(codes)) for name, codes in known_codes(shop.store).items()}


def look_filter(shop: Shop, asked: LooksAsked, as_of_us: int) -> LookFilter:
    """What is asked, as the store understands it."""
    levels = dict(asked.levels)
    defect, zone = levels.get("defect"), levels.get("zone")
    return LookFilter(
        as_of_us=as_of_us, since_us=asked.since_us, until_us=asked.until_us,
        levels={LEVELS[name]: level for name, level in levels.items() if name in LEVELS},
        with_finding="defect" in levels or "zone" in levels,
        kind=None if defect == ANY else defect, in_zone="zone" in levels, zone=zone,
        first=asked.first,
        hours=_hours(shop, levels["shift"], asked, as_of_us) if "shift" in levels else None,
    )


def _hours(shop: Shop, shift: str | None, asked: LooksAsked, as_of_us: int) -> LocalHours:
    starts = shop.shift_minutes
    names = [f"{minute // 60:02d}:{minute % 60:02d}" for minute in starts]
    bounds = bounds_of_pressing(shop.store) or (as_of_us, as_of_us)
    first = max(asked.since_us or bounds[0], bounds[0])
    last = min(asked.until_us or bounds[1], bounds[1])
    offsets = offsets_of(shop.zone, first, max(first, last))
    if shift not in names:
        return LocalHours(stretches=(), offsets=offsets)
    at = names.index(shift)
    if at + 1 < len(starts):
        return LocalHours(stretches=((starts[at], starts[at + 1]),), offsets=offsets)
    # the last shift runs on until the next day's first start
    return LocalHours(stretches=((starts[at], 1440), (0, starts[0])), offsets=offsets)
