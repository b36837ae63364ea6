"""One look, opened: what it says, what was found, its versions, and the piece's other looks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN
from dashboard.components.states import mark
from dashboard.formats import Clock
from dashboard.text import records as words
from dashboard.view import RecordsView, address, look_key
from qc.desk.look_fields import (
    FINDINGS,
    Difference,
    differences,
    finding_texts,
    length_symbol,
    shown_fields,
    value_text,
)
from qc.desk.looks import OpenedLook
from qc.desk.shop import Shop
from qc.domain.kinds import ZONES, findings_in_words, plain_name
from qc.domain.records import INSPECTIONS

DISPOSITION_TONES = {"pass": "calm", "press_again": "watch", "hold": "watch", "scrap": "alarm",
                     "concession": "quiet"}
OTHERS_SHOWN = 50
Row = Mapping[str, Any]


def look_panel(
    opened: OpenedLook, view: RecordsView, shop: Shop, *parts: Any, said: str = ""
) -> Component:
    """The look; ``parts``: what can be done with it; ``said``: what was just done."""
    look, clock = opened.now, Clock(shop.zone)
    tone = DISPOSITION_TONES.get(look["disposition"], "quiet")
    done = words.choice_name("disposition", str(look["disposition"]))
    head = html.Div(
        [html.Div([dcc.Link(words.BACK_TO_LIST, href="/records" + address(view, look=""),
                            className="as-button look-close")], className="look-ways"),
         html.H2(words.LOOK_TITLE.format(piece=look["piece_id"]), id="look-title", tabIndex=-1),
         html.P(words.LOOK_UNDER.format(
             stage=text.with_capital(words.look_name(look)), place=_place(look),
             when=clock.minute(look["inspected_at"])), className="look-under"),
         html.Div(_marks(opened, tone, text.with_capital(done)), className="marks")],
        className="look-head")
    news = html.P(said, role="status", className="said done") if said else None
    return html.Article(
        [head, news, _found(opened.told, shop), _said(look, shop), *parts, _versions(opened, shop),
         _others(opened, view, clock)],
        className="paper look")


def _marks(opened: OpenedLook, tone: str, done: str) -> list[Component]:
    """How the look stands: what is done with the piece, and whether the record was changed."""
    if opened.now["withdrawn"]:
        return [mark("alarm", words.TAKEN_BACK)]
    n = len(opened.versions) - 1
    changed = [mark("quiet", words.CORRECTED.format(n=n))] if n else []
    return [mark(tone, done), *changed]


def _place(look: Mapping[str, Any]) -> str:
    return (look["location"] or words.NO_PLACE).replace("_", " ")


def _found(look: Mapping[str, Any], shop: Shop) -> Component:
    told = finding_texts(look["findings"], shop)
    inside: list[Any] = [html.H3(words.FOUND_TITLE)]
    if look["pieces"] > 1:
        inside.append(html.P(words.OF_BLOCK.format(bad=look["defective"] or 0, n=look["pieces"])))
    if not told:
        return html.Section([*inside, html.P(words.FOUND_NOTHING)], className="look-found")
    unit = length_symbol(shop)
    rows = []
    for one in told:
        more = [one.zone.replace("_", " "),
                words.FINDING_SIZE.format(extent=one.extent, unit=unit) if one.extent else "",
                _times(one.n, look)]
        rows.append(html.Li([html.Strong(plain_name(one.kind)),
                             html.Span(", ".join(part for part in more if part))]))
    marked = {one.zone for one in told if one.zone}
    inside.append(html.Div([html.Ul(rows), _print(marked) if marked else None],
                           className="found-rows"))
    return html.Section(inside, className="look-found")


def _times(n: str, look: Mapping[str, Any]) -> str:
    if n in ("", "1"):
        return ""
    return (words.FINDING_PIECES if look["pieces"] > 1 else words.FINDING_COUNT).format(n=n)


def _print(marked: set[str]) -> Component:
    """The print with the zones where something was found; the list beside it says the same."""
    return html.Div([html.Span(className="zone-found" if zone in marked else "")
                     for zone in ZONES], className="print-zones", **UNSEEN)


def _said(look: Mapping[str, Any], shop: Shop) -> Component:
    shown = {field.name: field for field in shown_fields(shop)}
    clock, groups, silent = Clock(shop.zone), [], []
    for heading, names in words.GROUPS:
        pairs = []
        for name in names:
            value = look[name]
            if value is None:
                silent.append(words.FIELD_WORDS[name].lower())
                continue
            pairs.append(html.Div([html.Dt(words.FIELD_WORDS[name]),
                                   html.Dd(_value(shown[name], value, shop, clock))]))
        if pairs:
            groups.append(html.Section([html.H3(heading), html.Dl(pairs, className="facts")]))
    foot = html.P(words.NOT_SAID_HERE.format(names=", ".join(silent)), className="source")
    return html.Div([*groups, foot if silent else None], className="look-said")


def _value(shown: Any, value: Any, shop: Shop, clock: Clock) -> str:
    field = shown.field
    if field.kind == "instant":
        return clock.minute(value)
    if field.choices:
        return words.choice_name(field.name, str(value))
    if field.kind == "whole":
        return formats.count(value)
    if field.name == "location":
        return str(value).replace("_", " ")
    written = value_text(shown, value, shop).replace("-", formats.MINUS) \
        if not field.is_text else str(value)
    return f"{written}{formats.THIN}{shown.symbol}" if shown.symbol else written


def _versions(opened: OpenedLook, shop: Shop) -> Component:
    clock, rows = Clock(shop.zone), []
    for before, version in zip((None, *opened.versions), opened.versions, strict=False):
        title = words.VERSION_FIRST if before is None else words.VERSION_N.format(
            n=version["version"])
        title = words.TAKEN_BACK if version["withdrawn"] else title
        inside = [html.H4(title), html.P(words.VERSION_BY.format(
            by=version["changed_by"], when=clock.minute(version["changed_at"])))]
        if before is not None:
            inside.append(html.P(words.VERSION_WHY.format(why=version["why"] or text.NOT_SAID)))
        if before is not None and not version["withdrawn"]:
            inside.append(change_list(differences(before, version, shop)))
        rows.append(html.Li(inside))
    return html.Section([html.H3(words.VERSIONS_TITLE), html.Ol(rows[::-1], reversed=True)],
                        className="look-versions")


def change_list(changes: tuple[Difference, ...]) -> Component:
    """Fields with what they said and what they say now."""
    return html.Ul([html.Li(change_words(one)) for one in changes], className="changes")


def change_words(change: Difference) -> list[Any]:
    """One field: its name, what it said struck out, what it says."""
    before, after = (_side(change.name, side) for side in (change.before, change.after))
    return [html.Span(f"{words.FIELD_WORDS[change.name]}: "), html.Del(before), " → ",
            html.Ins(after)]


def _side(name: str, written: str) -> str:
    if not written:
        return words.NOTHING
    if name == FINDINGS:
        return findings_in_words(written)
    field = INSPECTIONS.by_name[name]
    if field.kind == "instant":
        return written.replace("T", " ")
    if name == "location":
        return written.replace("_", " ")
    return words.choice_name(name, written) if field.choices else written


def _others(opened: OpenedLook, view: RecordsView, clock: Clock) -> Component:
    standing = [
        html.Li([look_link(look, view, clock), html.Span(f"{_found_line(look)}; {_done(look)}")])
        for look in opened.others[:OTHERS_SHOWN]]
    rows = [*standing, *taken_back_rows(opened.taken_back, view, clock)]
    inside = html.Ul(rows, className="looks-too") if rows else html.P(words.OTHERS_NONE)
    return html.Section([html.H3(words.OTHERS_TITLE), inside], className="look-others")


def taken_back_rows(looks: Iterable[Row], view: RecordsView, clock: Clock) -> list[Component]:
    """Looks that were taken back, each with the way to it and what it had found."""
    return [html.Li([look_link(look, view, clock), mark("alarm", words.TAKEN_BACK),
                     html.Span(_found_line(look))])
            for look in list(looks)[:OTHERS_SHOWN]]


def look_link(look: Row, view: RecordsView, clock: Clock) -> Component:
    """The way to another look at a piece."""
    said = words.OTHER.format(stage=text.with_capital(words.look_name(look)), place=_place(look),
                              when=clock.minute(look["inspected_at"]))
    return dcc.Link(said, href="/records" + address(view, look=look_key(look)))


def _found_line(look: Row) -> str:
    said = findings_in_words(";".join(one["kind"] for one in look["findings"]))
    return said or words.FOUND_NOTHING.rstrip(".")


def _done(look: Row) -> str:
    return words.choice_name("disposition", str(look["disposition"]))
