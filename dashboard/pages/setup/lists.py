"""A list of the shop: what stands there, the form to add or change one, its versions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.states import cautions, mark, notice
from dashboard.components.tables import table
from dashboard.formats import Clock, Reader
from dashboard.pages.setup.fields import list_field
from dashboard.text import setup as setup_text
from dashboard.view import SetupView, address, key_text
from qc.desk.in_use import Retired
from qc.desk.lists import FieldChange, FormField, ListedRecord, PastVersion, key_fields, list_kind

MOST_ROWS = 100
FIND_FROM = 12
"""Rows from which a list can be searched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRecord:
    """The record that is open, or the empty form to add one (``now`` None); ``past``: the version
    its form is filled with, empty: the one that stands; ``cautions``: what is to be known of it;
    ``retired``: since when it is no longer used."""

    kind: str
    fields: tuple[FormField, ...]
    now: ListedRecord | None = None
    versions: tuple[PastVersion, ...] = ()
    past: str = ""
    retired: Retired | None = None
    can_retire: bool = False
    cautions: tuple[str, ...] = ()


def list_part(
    kind: str, records: Sequence[ListedRecord], gone: Mapping[str, Retired], view: SetupView,
    reader: Reader, *, can_act: bool,
) -> list[Component | None]:
    """The list with the way to add to it; what is no longer used folded away."""
    one = setup_text.one_of(kind)
    add = dcc.Link(setup_text.add_words(kind), className="button do",
                   href="/setup" + address(SetupView(part=kind, do="add"))) if can_act else None
    if not records:
        return [notice(setup_text.NONE_TITLE.format(one=one), setup_text.NONE_HELP, add)]
    found = [record for record in _in_order(kind, records) if _fits(record, view.find)]
    away = [record for record in found if record.key[0] in gone and len(record.key) == 1]
    found = [record for record in found if record not in away]
    shown = found[:MOST_ROWS]
    cut = setup_text.SHOWN_OF.format(shown=formats.count(len(shown)),
                                     total=formats.count(len(found)))
    if kind == "jobs" and not view.find:
        cut = setup_text.NEWEST_SHOWN.format(shown=formats.count(len(shown)))
    return [
        html.Div([add, _find(view) if len(records) > FIND_FROM else None],
                 className="list-tools"),
        html.P(cut, className="hint") if len(shown) < len(found) else None,
        html.P(setup_text.NOT_FOUND) if not found and not away else None,
        _table(kind, shown, reader) if shown else None,
        html.Details([html.Summary(setup_text.RETIRED_LIST.format(n=len(away))),
                      _table(kind, away[:MOST_ROWS], reader)], className="numbers")
        if away else None,
    ]


def _in_order(kind: str, records: Sequence[ListedRecord]) -> Sequence[ListedRecord]:
    """By their names; jobs that are still in the house first, the newest at the top."""
    if kind != "jobs":
        return records
    newest_first = list(reversed(records))
    return sorted(newest_first, key=lambda one: one.values["shipped_at"] is not None)


def _find(view: SetupView) -> Component:
    return dmc.TextInput(id="setup-find", label=setup_text.FIND, value=view.find, size="md",
                         debounce=400, inputProps={"type": "search", "autoComplete": "off"})


def _fits(record: ListedRecord, wanted: str) -> bool:
    said = " ".join(str(value) for value in record.values.values() if value is not None)
    return all(word in said.casefold() for word in wanted.casefold().split())


def _table(kind: str, records: Sequence[ListedRecord], reader: Reader) -> Component:
    """One row for each record; columns that say nothing of any are left out."""
    known = list_kind(kind).by_name
    names = [name for name in setup_text.COLUMNS[kind]
             if any(record.values[name] is not None for record in records)]
    labels = [setup_text.field_label(name) for name in names]
    first = ", ".join(setup_text.field_label(name) for name in key_fields(kind))
    rows = []
    for record in records:
        to = "/setup" + address(SetupView(part=kind, item=key_text(record.key)))
        cells = [reader.value(known[name], record.values[name]) for name in names]
        rows.append([dcc.Link(key_words(record.key), href=to), *cells, _last(record, reader)])
    numeric = [at for at, name in enumerate(names, start=1)
               if not known[name].is_text and known[name].kind != "instant"]
    return html.Div(table([first, *labels, setup_text.CHANGED_HEAD], rows,
                          label=setup_text.PARTS[kind], numeric=numeric), className="paper")


def key_words(key: Sequence[str]) -> str:
    """The key of a record as people say it."""
    return " with ".join(key)


def _last(record: ListedRecord, reader: Reader) -> str:
    if record.code_only:
        return setup_text.NOTHING_SAID
    told = setup_text.WRITTEN_BY.format(by=record.by, when=reader.clock.day(record.at_us))
    return told if record.counts else f"{told}; {setup_text.NOT_YET_VALID}"


def record_part(it: OpenRecord, reader: Reader, *, can_act: bool) -> list[Component | None]:
    """The form of a record, what to know before changing it, its versions, its papers."""
    one = setup_text.one_of(it.kind)
    title = (setup_text.ADD_TITLE.format(one=one) if it.now is None
             else text.with_capital(f"{one} {key_words(it.now.key)}"))
    return [
        html.H2(title),
        html.P(setup_text.CODE_ONLY, className="hint") if it.now and it.now.code_only else None,
        html.P(setup_text.FILLED_FROM.format(n=it.past), className="cautions")
        if it.past else None,
        cautions(it.cautions),
        retired_words(it.retired, reader.clock), _papers(it),
        (_needs(it) or form(it)) if can_act else None,
        use_button(it.kind, it.now.key[0], it.retired) if can_act and it.can_retire and it.now
        else None,
        _versions(it, reader, can_act=can_act) if it.versions else None,
    ]


def retired_words(gone: Retired | None, clock: Clock) -> Component | None:
    """Since when an entry is no longer used, and who said so."""
    if gone is None:
        return None
    return html.P(mark("quiet", setup_text.RETIRED_SINCE.format(
        when=clock.minute(gone.at_us), by=gone.by)))


def use_button(kind: str, code: str, gone: Retired | None, what: str = "") -> Component:
    """The way to put an entry away or take it up again, with what that means."""
    words = setup_text.RETIRE if gone is None else setup_text.BRING_BACK
    if what:
        words = (setup_text.RETIRE_KIND if gone is None
                 else setup_text.BRING_BACK_KIND).format(what=what)
    button = html.Button(words, type="button", className="button", id={
        "type": "setup-use", "kind": kind, "code": code, "to": "away" if gone is None else "back"})
    return button if what else html.Div(
        [button, html.P(setup_text.RETIRE_MEANS, className="hint")], className="takes")


def _needs(it: OpenRecord) -> Component | None:
    """What must be on other lists before this can be added."""
    missing = [one.field.listed for one in it.fields
               if one.field.required and one.field.listed and not one.options]
    if not missing:
        return None
    links = [dcc.Link(setup_text.PARTS[part], className="button",
                      href="/setup" + address(SetupView(part=part, do="add"))) for part in missing]
    return notice(setup_text.NEEDS_TITLE, setup_text.NEEDS.format(
        what=" and ".join(setup_text.A_LISTED[part] for part in missing)),
        html.Div(links, className="takes"))


def form(it: OpenRecord) -> Component:
    """The fields in their groups, and the button that keeps them."""
    recipe = it.kind == "recipes"
    means = setup_text.VERSIONED_RECIPE if recipe else (
        setup_text.VERSIONED + (setup_text.VERSIONED_USE if it.can_retire else ""))
    one = setup_text.one_of(it.kind)
    button = setup_text.KEEP_NEW.format(one=one)
    if it.now is not None:
        button = (setup_text.KEEP_RECIPE.format(n=it.now.n_versions + 1) if recipe
                  else setup_text.KEEP_CHANGE)
    return html.Section([
        dcc.Store(id="setup-of", data=None if it.now is None else it.now.n_versions),
        *_groups(it),
        html.P(means, className="hint") if it.now is not None else None,
        html.Button(button, type="button", className="button do",
                    id={"type": "setup-do", "do": "record"}),
    ], className="paper setup-form")


def _groups(it: OpenRecord) -> list[Component]:
    by_name = {one.field.name: one for one in it.fields}
    groups = list(setup_text.GROUPS.get(it.kind, ()))
    named = {name for _, names in groups for name in names}
    rest = tuple(name for name in by_name if name not in named)
    if rest:
        groups.append((setup_text.OTHER_FIELDS if groups else "", rest))
    return [
        html.Fieldset([
            html.Legend(heading) if heading else None,
            html.Div([list_field(by_name[name]) for name in names if name in by_name],
                     className="setup-fields"),
        ]) for heading, names in groups
    ]


def _papers(it: OpenRecord) -> Component | None:
    if it.kind != "jobs" or it.now is None:
        return None
    place = f"/jobs/{key_text(it.now.key)}"
    return html.Div([
        html.A(setup_text.SHEET_PDF, href=f"{place}.pdf", target="_blank", className="button"),
        html.A(setup_text.SHEET_HTML, href=f"{place}.html", target="_blank", className="button"),
    ], className="takes")


def _versions(it: OpenRecord, reader: Reader, *, can_act: bool) -> Component:
    known = list_kind(it.kind).by_name
    return html.Section([
        html.H2(setup_text.HISTORY),
        html.Ol([_version(one, known, reader, _again(it, one) if can_act else None)
                 for one in it.versions], className="versions"),
    ], className="paper section")


def _again(it: OpenRecord, one: PastVersion) -> Component | None:
    """The way to take a past version up again: nothing is kept before the button is pressed."""
    if one.counts or it.now is None:
        return None
    view = SetupView(part=it.kind, item=key_text(it.now.key), past=one.version)
    return dcc.Link(setup_text.WRITE_AGAIN.format(n=one.version), className="button",
                    href="/setup" + address(view))


def _version(
    one: PastVersion, known: Mapping[str, Any], reader: Reader, again: Component | None
) -> Component:
    who = setup_text.WRITTEN_BY.format(by=one.by, when=reader.clock.minute(one.at_us))
    said = [(setup_text.field_label(name), reader.value(known[name], value))
            for name, value in one.values.items() if value is not None]
    return html.Li([
        html.Div([html.Strong(setup_text.VERSION.format(n=one.version)), html.Span(who),
                  mark("calm", setup_text.IN_FORCE) if one.counts else None],
                 className="version-head"),
        html.Ul([html.Li(_change(change, known, reader)) for change in one.changes]),
        html.Details([
            html.Summary(setup_text.ALL_OF_VERSION.format(n=one.version)),
            html.Dl([html.Div([html.Dt(name), html.Dd(value)]) for name, value in said],
                    className="order-facts"),
            again,
        ], className="anew"),
    ])


def _change(change: FieldChange, known: Mapping[str, Any], reader: Reader) -> str:
    before, after = (reader.value(known[change.field], value) or setup_text.NOTHING_SAID
                     for value in (change.before, change.after))
    return setup_text.CHANGED_TO.format(field=setup_text.field_label(change.field), before=before,
                                        after=after)
