"""Correcting a look: a form of its fields, and what to do when somebody else was quicker."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.page import name_field
from dashboard.components.states import notice
from dashboard.formats import Clock
from dashboard.pages.records.look import change_list
from dashboard.text import records as words
from dashboard.view import look_key
from qc.desk.look_fields import (
    FINDINGS,
    ShownField,
    WrittenFinding,
    differences,
    finding_texts,
    length_symbol,
    shown_fields,
    value_text,
)
from qc.desk.looks import OpenedLook
from qc.desk.shop import Shop
from qc.domain.kinds import ZONES
from qc.domain.records import INSPECTIONS

BLANK_FINDINGS = 1
"""Empty rows for findings to add, at first."""
PARTS = ("kind", "zone", "extent", "n")
Lists = Mapping[str, Sequence[str]]
"""Codes that can be chosen, by the list they stand on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a form was filled from: the look, the version its fields show (``base``), and the
    version the person agreed to correct (``seen``), which is newer once they were told of it."""

    key: str
    base: int
    seen: int

    def as_data(self) -> list[Any]:
        return [self.key, self.base, self.seen]


def fix_panel(opened: OpenedLook, shop: Shop, lists: Lists, *, can_act: bool) -> Component:
    """The means to correct a look, folded away until asked for."""
    if not can_act:
        return notice(words.FIX, words.LOOKS_BACK)
    look = opened.now
    if look["withdrawn"]:
        return notice(words.TAKEN_BACK, words.TAKEN_BACK_HELP)
    seen = Seen(key=look_key(look), base=look["version"], seen=look["version"])
    return html.Details(
        [html.Summary(words.FIX),
         dcc.Store(id="fix-seen", data=seen.as_data()),
         html.P(words.FIX_LEAD, className="hint"),
         _findings(look, shop, lists),
         html.Div([_group(heading, names, look, shop, lists)
                   for heading, names in words.GROUPS], className="fix-groups"),
         html.P(id="fix-usual", role="status", className="hint"),
         html.Div(id="fix-meanwhile", role="alert"),
         html.Div([name_field(required=True),
                   dmc.TextInput(id="fix-why", label=words.FIX_WHY, size="md", required=True,
                                 className="fix-why"),
                   html.Button(words.FIX_KEEP, id="fix-keep", type="button",
                               className="button do")], className="fix-foot"),
         html.Div([html.Button(words.FIX_TAKE_BACK, id="fix-take-back", type="button",
                               className="button"),
                   html.Span(words.FIX_TAKE_BACK_MEANS, className="hint")],
                  className="takes take-back"),
         html.Div(id="fix-said", role="status", className="said")],
        className="fix case-work", id="fix")


def _group(heading: str, names: Sequence[str], look: Mapping[str, Any], shop: Shop, lists: Lists
           ) -> Component:
    shown = {field.name: field for field in shown_fields(shop)}
    fields = [_field(shown[name], look, shop, lists) for name in names
              if name not in INSPECTIONS.identity]
    return html.Fieldset([html.Legend(heading), html.Div(fields, className="fix-fields")])


def _field(shown: ShownField, look: Mapping[str, Any], shop: Shop, lists: Lists) -> Component:
    field, value = shown.field, value_text(shown, look[shown.name], shop)
    label = words.FIELD_WORDS[shown.name] + (f", {shown.symbol}" if shown.symbol else "")
    own = {"type": "fix", "field": shown.name}
    if field.choices:
        return dmc.Select(
            id=own, label=label, value=value or None, clearable=not shown.needed, size="md",
            allowDeselect=False, comboboxProps={"shadow": "md"}, maxDropdownHeight=360,
            data=[{"value": one, "label": text.with_capital(words.choice_name(field.name, one))}
                  for one in field.choices])
    if field.listed:
        known = sorted({*lists[field.listed], *([value] if value else [])})
        return dmc.Select(id=own, label=label, value=value or None, searchable=True, size="md",
                          allowDeselect=False, comboboxProps={"shadow": "md"},
                          maxDropdownHeight=360, data=list(known))
    if field.name == "note":
        return dmc.Textarea(id=own, label=label, value=value, autosize=True, minRows=2, size="md")
    hint = {"description": words.FIX_TIME_HINT} if field.kind == "instant" else {}
    mode = {} if field.is_text or field.kind == "instant" else {"inputMode": "decimal"}
    return dmc.TextInput(id=own, label=label, value=value, size="md", inputProps=mode, **hint)


def _findings(look: Mapping[str, Any], shop: Shop, lists: Lists) -> Component:
    told = finding_texts(look["findings"], shop)
    rows = [finding_row(at, one, length_symbol(shop), lists) for at, one in enumerate(
        (*told, *(WrittenFinding(),) * BLANK_FINDINGS))]
    return html.Fieldset(
        [html.Legend(words.FIX_FINDINGS), html.Div(rows, id="fix-findings"),
         html.Button(words.FIX_MORE, id="fix-more", type="button", className="button")],
        className="fix-findings")


def finding_row(at: int, one: WrittenFinding, unit: str, lists: Lists) -> Component:
    """A finding to write; without a kind it is none."""
    def own(part: str) -> dict[str, Any]:
        return {"type": "fix-finding", "part": part, "at": at}

    kinds = sorted({*lists["kinds"], *([one.kind] if one.kind else [])},
                   key=lambda kind: words.choice_name("kind", kind))
    return html.Div(
        [dmc.Select(id=own("kind"), label=words.FIX_KIND.format(n=at + 1), value=one.kind or None,
                    clearable=True, searchable=True, size="md", maxDropdownHeight=360,
                    comboboxProps={"shadow": "md"}, placeholder=words.FIX_NONE,
                    data=[{"value": kind, "label": words.choice_name("kind", kind)}
                          for kind in kinds]),
         dmc.Select(id=own("zone"), label=words.FIX_ZONE, value=one.zone or None, clearable=True,
                    size="md", comboboxProps={"shadow": "md"}, maxDropdownHeight=360,
                    data=[{"value": zone, "label": zone.replace("_", " ")} for zone in ZONES]),
         dmc.TextInput(id=own("extent"), label=words.FIX_EXTENT.format(unit=unit),
                       value=one.extent, size="md", inputProps={"inputMode": "decimal"}),
         dmc.TextInput(id=own("n"), label=words.FIX_N, value=one.n, size="md",
                       inputProps={"inputMode": "numeric"})],
        className="fix-finding")


def meanwhile(
    opened: OpenedLook, seen: Seen, mine: Sequence[str], shop: Shop
) -> Component:
    """What others changed since the version a person had before them, with two ways on.

    ``mine``: what the person would change, as `changes_written` says it.
    """
    clock = Clock(shop.zone)
    by_version = {one["version"]: one for one in opened.versions}
    rows, theirs = [], set()
    for version in opened.versions:
        if version["version"] <= seen.base:
            continue
        who = html.Strong(f"{version['changed_by']}, {clock.minute(version['changed_at'])}")
        why = html.P(words.VERSION_WHY.format(why=version["why"]))
        if version["withdrawn"]:
            rows.append(html.Li([who, html.P(html.Ins(words.TAKEN_BACK)), why]))
            continue
        changes = differences(by_version[version["version"] - 1], version, shop)
        theirs |= {change.name for change in changes}
        rows.append(html.Li([who, why, change_list(changes)]))
    written = {field.written: field.name for field in shown_fields(shop)} | {FINDINGS: FINDINGS}
    both = [words.FIELD_WORDS[name].lower() for name in
            (written[part.partition("=")[0]] for part in mine) if name in theirs]
    warning = html.P(words.MEANWHILE_BOTH.format(names=", ".join(both)), className="call")
    return html.Section(
        [html.H4(words.MEANWHILE_TITLE), html.P(words.MEANWHILE_LEAD), html.Ul(rows),
         warning if both else None,
         html.Div([html.Button(words.MEANWHILE_LEAVE, id="fix-leave", type="button",
                               className="button")], className="takes")],
        className="meanwhile")
