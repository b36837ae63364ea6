"""From the address to what is asked of the desk, and the words for it."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta

from dashboard import text
from dashboard.formats import Clock
from dashboard.text import records as words
from dashboard.view import NOT_SAID, RecordsView, address
from qc.desk.looks import BY_TIME, LEVELS, SORTS, LooksAsked
from qc.desk.shop import Shop
from qc.domain.instants import parse_instant
from qc.errors import InputError

FOUND_BY = ("piece", "defect", "zone", *(name for name in LEVELS if name != "piece"), "shift")
"""Fields of the view that looks are found by, in the order they are shown."""


def asked_of(view: RecordsView) -> LooksAsked:
    """What an address asks for."""
    # no record holds the character NUL, and PostgreSQL does not even take the question
    named = [(name, getattr(view, name).replace("\0", "")) for name in FOUND_BY]
    column = view.sort.lstrip("-")
    sorted_by = column if column in SORTS else BY_TIME
    return LooksAsked(
        since_us=moment(view.since), until_us=moment(view.until),
        levels=tuple((name, None if level == NOT_SAID else level) for name, level in named
                     if level),
        first=view.first == "yes", sort=sorted_by,
        newest_first=view.sort.startswith("-") if column in SORTS else True,
    )


def moment(written: str) -> int | None:
    """Microseconds of an address; None where it has none."""
    return int(written) if written.isascii() and written.isdigit() and len(written) < 18 else None


def none_help(view: RecordsView) -> str:
    """What to do where no look fits."""
    since_us, until_us = moment(view.since), moment(view.until)
    if since_us is not None and until_us is not None and since_us >= until_us:
        return words.NONE_BACKWARDS
    return words.NONE_HELP


def list_of(view: RecordsView) -> RecordsView:
    """The view with its list alone: no look open, in whatever order."""
    return replace(view, look="", sort="", show="")


def midnight(written: str | None, shop: Shop, *, days: int = 0) -> str:
    """A day as the instant it begins, for the address; ``days`` later. Empty where it is none."""
    try:
        day = date.fromisoformat((written or "").strip()) + timedelta(days=days)
    except (ValueError, OverflowError):
        return ""
    for hour in ("00:00", "01:00"):  # there are zones whose clocks go forward at midnight
        try:
            return str(parse_instant(f"{day}T{hour}", shop.zone))
        except InputError:
            continue
    return ""


def day_of(written: str, shop: Shop, *, last: bool = False) -> str:
    """The local day of an instant of an address; of an end, the last day inside."""
    us = moment(written)
    if us is None:
        return ""
    return Clock(shop.zone).iso(us - 1 if last else us)[:10]


def chips_of(view: RecordsView, clock: Clock) -> list[tuple[str, str, str]]:
    """What is asked, one by one: its name, its level in words, and the address without it."""
    found = []
    for field in fields(view):
        level = getattr(view, field.name)
        if not level or field.name in ("look", "sort", "show"):
            continue
        if field.name in ("since", "until"):
            us = moment(level)
            name = words.CHIP_SINCE if field.name == "since" else words.CHIP_UNTIL
            shown = clock.minute(us) if us is not None else text.NOT_SAID
        else:
            name = words.FIND_LABELS[field.name]
            shown = words.level_name(field.name, None if level == NOT_SAID else level)
        found.append((name, shown, "/records" + address(view, **{field.name: "", "look": ""})))
    return found
