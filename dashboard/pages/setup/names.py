"""Kinds of defect and people: lists that come with the trade, or from the records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.states import notice
from dashboard.components.tables import table
from dashboard.formats import Clock
from dashboard.pages.setup.fields import FIELD
from dashboard.pages.setup.lists import retired_words, use_button
from dashboard.text import setup as setup_text
from qc.desk.in_use import Retired
from qc.desk.own_kinds import OwnKind
from qc.desk.people import MOST_COUNTED, Person
from qc.domain.kinds import defect_kinds


def kinds_part(
    own: Sequence[OwnKind], gone: Mapping[str, Retired], clock: Clock, *, can_act: bool
) -> list[Component | None]:
    """The shop's own kinds before the trade's, each with the way to put it away, and the form to
    add one."""
    rows: list[Sequence[Any]] = [
        (text.kind_name(one.code), retired_words(gone.get(one.code), clock) or "",
         use_button("kinds", one.code, gone.get(one.code), text.kind_name(one.code))
         if can_act else "",
         setup_text.OWN_KIND.format(by=one.by, when=clock.day(one.at_us))) for one in own]
    rows += [(kind.name, kind.definition, kind.severity, setup_text.TRADE)
             for kind in defect_kinds().values()]
    return [
        _kind_form() if can_act else None,
        html.Div(table(setup_text.KIND_HEADS, rows, label=setup_text.PARTS["kinds"]),
                 className="paper"),
    ]


def _kind_form() -> Component:
    return html.Section([
        html.H3(setup_text.ADD_KIND),
        html.Div(dmc.TextInput(
            id={"type": FIELD, "name": "kind"}, label=setup_text.KIND_LABEL, size="md",
            description=setup_text.KIND_HELP, inputProps={"autoComplete": "off"},
            inputWrapperOrder=["label", "input", "description", "error"]),
            className="setup-fields"),
        html.P(setup_text.KIND_MEANS, className="hint"),
        html.Button(setup_text.KEEP_KIND, type="button", className="button do",
                    id={"type": "setup-do", "do": "kind"}),
    ], className="paper setup-form")


def people_part(known: Sequence[Person], clock: Clock) -> list[Component]:
    """Everybody named, those seen last first."""
    if not known:
        return [notice(setup_text.PEOPLE_NONE_TITLE, setup_text.PEOPLE_NONE)]
    rows = [(one.name, *(_count(n) for n in (one.n_pressed, one.n_looks, one.n_changes)),
             clock.day(one.last_us)) for one in known]
    return [
        html.P(setup_text.PEOPLE_HELP.format(n=formats.count(MOST_COUNTED)), className="hint"),
        html.Div(table(setup_text.PEOPLE_HEADS, rows, label=setup_text.PARTS["people"],
                       numeric=(1, 2, 3)), className="paper"),
    ]


def _count(n: int) -> str:
    return formats.count(n) if n else "–"
