"""What narrows the list: choices and their chips. They only write the address."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN, named
from dashboard.formats import Clock
from dashboard.pages.records.asking import FOUND_BY, chips_of, day_of
from dashboard.text import records as words
from dashboard.view import ANY_DEFECT, NOT_SAID, RecordsView, address
from qc.desk.looks import MOST_COUNTED, LookCount
from qc.desk.shop import Shop
from qc.domain.kinds import ZONES
from qc.domain.records import DISPOSITIONS

CLOSED_LISTS = ("defect", "zone", "press", "fabric", "transfer", "disposition", "shift")
"""Chosen from a list; anything else may be typed."""
Levels = Mapping[str, Sequence[str]]


def find_id(field: str) -> dict[str, str]:
    return {"type": "records-find", "field": field}


def form(view: RecordsView, shop: Shop, known: Levels, since_us: Callable[[str], int | None]
         ) -> Component:
    """The choices, folded away until asked for."""
    n = sum(1 for name in (*FOUND_BY, "since", "until") if getattr(view, name))
    summary = words.FIND_COUNT.format(n=n) if n else words.FIND
    period = html.Div(
        [_day("since", words.FROM_DAY, day_of(view.since, shop)),
         _day("until", words.TO_DAY, day_of(view.until, shop, last=True)),
         html.Div([html.Span(words.QUICK_LABEL, className="choice-label"),
                   html.Div([dcc.Link(label, className="as-button",
                                      href="/records" + address(view, until="", since=str(
                                          since_us(days) or "")))
                             for days, label in words.QUICK_PERIODS.items()],
                            className="takes")], className="find-quick")],
        className="find-period")
    return html.Details(
        [html.Summary(summary), period,
         html.Div([_choice(name, view, shop, known) for name in FOUND_BY],
                  className="find-choices")],
        className="records-find")


def _day(field: str, label: str, value: str) -> Component:
    return dmc.TextInput(id=find_id(field), label=label, value=value, size="md", debounce=600,
                         inputProps={"type": "date"}, className="find-day")


def _choice(name: str, view: RecordsView, shop: Shop, known: Levels) -> Component:
    value, label = getattr(view, name), words.FIND_LABELS[name]
    if name == "piece":
        return dmc.TextInput(id=find_id(name), label=f"{label}, {words.EXACTLY}", value=value,
                             debounce=600, size="md")
    options = [(level, words.level_name(name, level)) for level in _levels(name, shop, known)]
    if name == "defect":
        options.insert(0, (ANY_DEFECT, words.ANY_DEFECT))
    if name not in ("defect", "press", "fabric", "transfer", "disposition", "shift"):
        options.append((NOT_SAID, words.SAID_NOTHING))
    if name in CLOSED_LISTS:
        if value and value not in dict(options):
            options.append((value, words.level_name(name, value)))
        return dmc.Select(
            id=find_id(name), label=label, value=value or None, clearable=True, searchable=True,
            size="md", maxDropdownHeight=360, comboboxProps={"shadow": "md"},
            clearButtonProps=named(f"{label}: {text.ALL_WORK}"), className="choice",
            data=[{"value": level, "label": shown} for level, shown in options])
    shown = words.SAID_NOTHING if value == NOT_SAID else value
    return dmc.Autocomplete(
        id=find_id(name), label=label, value=shown, size="md", limit=40, debounce=600,
        maxDropdownHeight=360, comboboxProps={"shadow": "md"},
        data=[level if level != NOT_SAID else words.SAID_NOTHING for level, _ in options])


def _levels(name: str, shop: Shop, known: Levels) -> Sequence[str]:
    if name == "zone":
        return ZONES
    if name == "disposition":
        return DISPOSITIONS
    if name == "shift":
        return tuple(f"{at // 60:02d}:{at % 60:02d}" for at in shop.shift_minutes)
    return known[name]


def level_written(name: str, value: Any) -> str:
    """What stands in a choice, as the address has it."""
    written = str(value or "").strip()
    return NOT_SAID if written == words.SAID_NOTHING and name not in CLOSED_LISTS else written


def chips(view: RecordsView, clock: Clock) -> list[Component]:
    """What is asked, each to be taken away."""
    asked = chips_of(view, clock)
    shown: list[Component] = [
        dcc.Link([html.Span(f"{name}: "), html.B(level), html.Span(" ×", **UNSEEN)], href=href,
                 className="chip", title=words.CHIP_OFF.format(name=name, level=level))
        for name, level, href in asked]
    if shown:
        shown.append(dcc.Link(words.CLEAR, href="/records", className="chip chip-all"))
    return shown


def count_words(count: LookCount) -> str:
    """How many looks there are, as far as is known."""
    n, pieces = formats.count(count.n_looks), formats.count(count.n_pieces)
    if not count.is_all:
        more = count.n_looks >= MOST_COUNTED
        return (words.COUNTED_MORE if more else words.COUNTED_SOME).format(n=n)
    if count.n_looks == 0:
        return words.COUNTED_NONE
    if count.n_looks == 1:
        return words.COUNTED_ONE
    return words.COUNTED.format(n=n, pieces=pieces)
