"""The floor at a glance: what each press runs, and how today and this shift compare with usual."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from qc.desk.shop import Shop
from qc.desk.tallied import CountedHours, counted_hours
from qc.domain.days import day_start_us
from qc.domain.flags import Flag, FlagList
from qc.domain.instants import DAY_US, HOUR_US, from_us, to_us
from qc.domain.platens import PlatenHealth
from qc.stats.comparing.intervals import wilson_interval
from qc.store.newest import newest_looks
from qc.store.records import read_records
from qc.store.retiring import read_retired

QUIET_AFTER_US = 2 * HOUR_US
"""Without a look for this long a press is said to be quiet."""

LOOK_BACK_DAYS = (2, 31, 400)
STATES = ("act", "watch", "running", "quiet", "unseen")
"""Most urgent first."""

FLAG_FIELDS = (
    "press", "station", "operator", "transfer_lot", "garment_lot", "fabric", "transfer", "job",
)
_LAST_COLUMNS = ("inspected_at", "station", "fabric", "transfer", "location", "job", "operator",
                 "transfer_lot", "garment_lot", "disposition")


@dataclass(frozen=True, slots=True, kw_only=True)
class LastLook:
    """The newest first look at work of a press, by when it was pressed: looks after a day, after
    washing and at pieces pressed again say nothing of what runs now. None is not said."""

    inspected_at_us: int
    station: str | None
    fabric: str | None
    transfer: str | None
    location: str | None
    job: str | None
    operator: str | None
    transfer_lot: str | None
    garment_lot: str | None
    disposition: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareNow:
    """Defective pieces since a moment, beside what the same work usually gives.

    ``share``, ``low`` and ``high`` (Wilson, 95 %) are None without pieces; ``usual`` is the
    expected share of this mix of work, None where nothing like it was pressed before.
    """

    since_us: int
    n_pieces: int
    n_defective: int
    share: float | None
    low: float | None
    high: float | None
    usual: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressNow:
    """One press now. ``last`` is None where nothing was ever recorded."""

    press: str
    name: str | None
    last: LastLook | None
    today: ShareNow
    shift: ShareNow


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """Every press as of a moment; the shift and the day began at the moments given."""

    as_of_us: int
    day_start_us: int
    shift_start_us: int
    presses: tuple[PressNow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressState:
    """How a press stands: one of `STATES`, the open flags that touch it, its platens."""

    state: str
    flags: tuple[Flag, ...]
    platens: tuple[PlatenHealth, ...]


def floor_now(shop: Shop, *, as_of_us: int) -> Floor:
    """What every press does as of a moment; one that is no longer used only while it is all the
    same."""
    day_us, shift_us = day_start(shop, as_of_us), shift_start(shop, as_of_us)
    counts = counted_hours(shop, as_of_us=as_of_us, since_us=min(day_us, shift_us))
    names = _names(shop, as_of_us)
    last = _last_looks(shop, as_of_us, names)
    known = sorted(set(names) | set(last))
    presses = (
        PressNow(
            press=press, name=names.get(press), last=last.get(press),
            today=_share_since(counts, press, day_us),
            shift=_share_since(counts, press, shift_us),
        )
        for press in known
    )
    away = {one.code for one in read_retired(shop.store, as_of_us=as_of_us)
            if one.kind == "presses"}
    return Floor(
        as_of_us=as_of_us, day_start_us=day_us, shift_start_us=shift_us,
        presses=tuple(one for one in presses if one.press not in away or one.today.n_pieces),
    )


def press_state(
    now: PressNow, *, as_of_us: int, flags: FlagList | None, health: tuple[PlatenHealth, ...]
) -> PressState:
    """How a press stands, from its last look, the open flags and its platens."""
    found = flags.flags if flags is not None else ()
    open_flags = tuple(f for f in found if f.is_open and concerns(f, now))
    platens = tuple(h for h in health if h.press == now.press)
    return PressState(state=_state(now, as_of_us, open_flags, platens), flags=open_flags,
                      platens=platens)


def concerns(flag: Flag, now: PressNow) -> bool:
    """Whether a flag is about a press or about what it runs now."""
    runs = {} if now.last is None else {
        name: getattr(now.last, name) for name in FLAG_FIELDS if name != "press"}
    return touches(flag, now.press, runs)


def touches(flag: Flag, press: str, runs: Mapping[str, str | None]) -> bool:
    """Whether a flag is about a press or about what it runs (levels by `FLAG_FIELDS`)."""
    if flag.press is not None:
        return flag.press == press
    if flag.factor.name == "press":
        return flag.factor.level == press
    if _names_press(flag, press):
        return True
    level = runs.get(flag.factor.name) if flag.factor.name in FLAG_FIELDS else None
    return level is not None and flag.factor.level == level


def _names_press(flag: Flag, press: str) -> bool:
    """Whether a level is a part of a press: its station 'P4/P4B', the time after its starts
    'P3, first 15 min'."""
    joined = {"station": "/", "time_since_start": ", "}.get(flag.factor.name)
    return joined is not None and (flag.factor.level or "").startswith(press + joined)


def day_start(shop: Shop, as_of_us: int) -> int:
    """Midnight of the day in the shop's zone."""
    return day_start_us(as_of_us, shop.zone)


def shift_start(shop: Shop, as_of_us: int) -> int:
    """When the shift of a moment began."""
    moment = from_us(as_of_us, shop.zone)
    minute = moment.hour * 60 + moment.minute
    begun = [start for start in shop.shift_minutes if start <= minute]
    start = begun[-1] if begun else shop.shift_minutes[-1]
    midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    if not begun:  # the last shift of the day before goes on past midnight
        before = from_us(to_us(midnight) - 12 * HOUR_US, shop.zone)
        midnight = before.replace(hour=0, minute=0, second=0, microsecond=0)
    return to_us(midnight.replace(hour=start // 60, minute=start % 60))


def shift_period(shop: Shop, moment_us: int) -> tuple[int, int]:
    """When the shift of a moment begins (inclusive) and ends (exclusive)."""
    start_us = shift_start(shop, moment_us)
    start = from_us(start_us, shop.zone)
    minute = start.hour * 60 + start.minute
    later = [one for one in shop.shift_minutes if one > minute]
    midnight = start.replace(hour=0, minute=0)
    if not later:  # on the shop's clock: a day may have 23 or 25 hours
        midnight = from_us(to_us(midnight) + 36 * HOUR_US, shop.zone).replace(hour=0, minute=0)
    end = later[0] if later else shop.shift_minutes[0]
    return start_us, to_us(midnight.replace(hour=end // 60, minute=end % 60))


def _state(
    now: PressNow, as_of_us: int, flags: tuple[Flag, ...], platens: tuple[PlatenHealth, ...]
) -> str:
    states = {platen.state for platen in platens}
    if flags or "recalibrate" in states:
        return "act"
    if states & {"overdue", "watch"}:
        return "watch"
    if now.last is None:
        return "unseen"
    return "running" if as_of_us - now.last.inspected_at_us <= QUIET_AFTER_US else "quiet"


def _names(shop: Shop, as_of_us: int) -> dict[str, str | None]:
    frame = read_records(shop.store, "presses", as_of_us=as_of_us)
    return {str(row["press"]): _said(row.get("name")) for row in frame.to_dict("records")}


def _last_looks(shop: Shop, as_of_us: int, listed: Iterable[str]) -> dict[str, LastLook]:
    """The newest look at each press, from no further back than needed."""
    found: dict[str, dict[str, Any]] = {}
    for days in LOOK_BACK_DAYS:
        found = newest_looks(shop.store, as_of_us=as_of_us, columns=_LAST_COLUMNS, fresh=True,
                             since_us=as_of_us - days * DAY_US)
        if set(listed) <= set(found):
            break
    return {
        press: LastLook(
            inspected_at_us=int(row["inspected_at"]),
            **{name: _said(row[name]) for name in _LAST_COLUMNS if name != "inspected_at"})
        for press, row in found.items()
    }


def _share_since(counts: CountedHours, press: str, since_us: int) -> ShareNow:
    mine = counts.cells[(counts.cells["press"] == press) & (counts.cells["hour_us"] >= since_us)]
    n, bad = int(mine["n"].sum()), int(mine["n_defective"].sum())
    if n == 0:
        return ShareNow(since_us=since_us, n_pieces=0, n_defective=0, share=None, low=None,
                        high=None, usual=None)
    interval = wilson_interval(bad, n)
    expected = float((mine["n"] * mine["cell"].map(counts.usual)).sum()) / n
    return ShareNow(
        since_us=since_us, n_pieces=n, n_defective=bad, share=float(interval.share),
        low=float(interval.low), high=float(interval.high), usual=expected,
    )


def _said(value: object) -> str | None:
    return None if value is None or pd.isna(value) else str(value)  # type: ignore[call-overload]
