"""What an opened look answers to: opening, correcting, and being overtaken while correcting."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, Patch, State, ctx, no_update
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.states import notice
from dashboard.pages.records.fixing import PARTS, Seen, finding_row, fix_panel, meanwhile
from dashboard.pages.records.look import look_panel
from dashboard.text import records as words
from dashboard.view import RecordsView, look_of, read_view
from qc.desk.correcting import WhichLook, correct
from qc.desk.look_fields import WrittenFinding, changes_written, length_symbol
from qc.desk.looks import OpenedLook, code_lists, open_look
from qc.errors import Conflict, InputError, NotFound, QcError

OPEN, CLOSED = "records-split open", "records-split"


def register_looks(app: Dash, answers: Answers) -> None:
    """The callbacks of the opened look."""
    @app.callback(
        Output("records-look", "children"), Output("records-split", "className"),
        Output("look-shown", "data"), Input("address", "search"), State("look-shown", "data"),
    )
    def show_look(search: str | None, shown: str) -> Any:
        view = read_view(RecordsView, search)
        if not view.look:
            return "", CLOSED, ""
        if view.look == shown:
            raise PreventUpdate
        return _panel(answers, view), OPEN, view.look

    app.clientside_callback(
        ClientsideFunction("records", "arrive"), Output("records-look", "title"),
        Input("look-shown", "data"), State("look-shown", "data"), prevent_initial_call=True)
    _register_fixing(app, answers)


def _register_fixing(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("fix-findings", "children"), Input("fix-more", "n_clicks"),
        State({"type": "fix-finding", "part": "kind", "at": ALL}, "id"),
        prevent_initial_call=True,
    )
    def one_more(clicks: int | None, there: list[dict[str, Any]]) -> Patch:
        if not clicks:
            raise PreventUpdate
        more = Patch()
        more.append(finding_row(len(there), WrittenFinding(), length_symbol(answers.shop),
                                code_lists(answers.shop)))
        return more

    @app.callback(
        output={"said": Output("fix-said", "children"), "meanwhile":
                Output("fix-meanwhile", "children"), "seen": Output("fix-seen", "data"),
                "keep": Output("fix-keep", "children"),
                "panel": Output("records-look", "children", allow_duplicate=True),
                "news": Output("records-news", "data", allow_duplicate=True)},
        inputs={"clicks": Input("fix-keep", "n_clicks")},
        state={"seen": State("fix-seen", "data"), "by": State("fix-by", "value"),
               "why": State("fix-why", "value"), "search": State("address", "search"),
               "news": State("records-news", "data"),
               "values": State({"type": "fix", "field": ALL}, "value"),
               "fields": State({"type": "fix", "field": ALL}, "id"),
               "told": State({"type": "fix-finding", "part": ALL, "at": ALL}, "value"),
               "rows": State({"type": "fix-finding", "part": ALL, "at": ALL}, "id")},
        prevent_initial_call=True,
    )
    def keep(clicks: int | None, seen: list[Any], by: str | None, why: str | None,
             search: str | None, news: int, values: list[Any], fields: list[dict[str, str]],
             told: list[Any], rows: list[dict[str, Any]]) -> dict[str, Any]:
        if not clicks or not answers.is_live:
            raise PreventUpdate
        if not (by or "").strip():
            return _nothing_but(said=words.FIX_NEEDS_NAME)
        if not (why or "").strip():
            return _nothing_but(said=words.FIX_NEEDS_WHY)
        was = Seen(key=seen[0], base=seen[1], seen=seen[2])
        identity = look_of(was.key)
        opened = open_look(answers.shop, identity or {})
        try:
            changes = changes_written(
                _version(opened, was.base),
                {one["field"]: str(value or "") for one, value in zip(fields, values, strict=True)},
                _findings(rows, told), answers.shop)
            if not changes:
                return _nothing_but(said=words.FIX_NOTHING)
            kept = correct(answers.shop, WhichLook(**identity or {}), changes, why=str(why),
                           by=str(by).strip(), at_us=answers.now_us(), seen_version=was.seen)
        except Conflict:
            return _overtaken(answers, was, changes)
        except QcError as refused:
            return _nothing_but(said=_said(refused))
        view = read_view(RecordsView, search)
        panel = _panel(answers, view, said=words.FIX_KEPT.format(n=kept.version))
        return _nothing_but() | {"panel": panel, "news": (news or 0) + 1}

    @app.callback(
        Output("records-look", "children", allow_duplicate=True),
        Input("fix-leave", "n_clicks"), State("address", "search"), prevent_initial_call=True,
    )
    def leave(clicks: int | None, search: str | None) -> Component:
        if not clicks or not ctx.triggered_id:
            raise PreventUpdate
        return _panel(answers, read_view(RecordsView, search))


def _overtaken(answers: Answers, was: Seen, changes: tuple[str, ...]) -> dict[str, Any]:
    """Somebody else was quicker: what they changed is shown, what was written stays."""
    opened = open_look(answers.shop, look_of(was.key) or {})
    newest = opened.now["version"]
    now = Seen(key=was.key, base=was.base, seen=newest)
    return _nothing_but(
        said="", meanwhile=meanwhile(opened, was, changes, answers.shop), seen=now.as_data(),
        keep=words.FIX_KEEP_ON_TOP.format(n=newest))


def _panel(answers: Answers, view: RecordsView, said: str = "") -> Component:
    identity = look_of(view.look)
    try:
        if identity is None:
            raise NotFound("the address names no look")
        until_us = None if answers.is_live else answers.quick_as_of_us()
        opened = open_look(answers.shop, identity, as_of_us=until_us)
    except NotFound:
        return notice(words.NO_SUCH_LOOK_TITLE, words.NO_SUCH_LOOK_HELP)
    fix = fix_panel(opened, answers.shop, code_lists(answers.shop), can_act=answers.is_live)
    return look_panel(opened, view, answers.shop, fix, said=said)


def _version(opened: OpenedLook, version: int) -> Mapping[str, Any]:
    return next(one for one in opened.versions if one["version"] == version)


def _findings(rows: list[dict[str, Any]], told: list[Any]) -> list[WrittenFinding]:
    written: dict[int, dict[str, str]] = {}
    for one, value in zip(rows, told, strict=True):
        written.setdefault(one["at"], {})[one["part"]] = str(value or "").strip()
    return [WrittenFinding(**{part: parts.get(part, "") for part in PARTS})
            for _, parts in sorted(written.items())]


def _said(refused: QcError) -> str:
    problems = refused.problems if isinstance(refused, InputError) else (str(refused),)
    return " ".join(text.with_capital(f"{one}.") for one in problems)


def _nothing_but(**changed: Any) -> dict[str, Any]:
    names = ("said", "meanwhile", "seen", "keep", "panel", "news")
    return dict.fromkeys(names, no_update) | changed
