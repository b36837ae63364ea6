"""What an opened look answers to: opening, correcting, and being overtaken while correcting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, Patch, State, ctx, no_update
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import notice
from dashboard.pages.records.fixing import PARTS, Seen, finding_row, fix_panel, meanwhile
from dashboard.pages.records.look import look_panel
from dashboard.text import records as words
from dashboard.view import RecordsView, look_of, read_view
from qc.desk.correcting import WhichLook, correct, take_back
from qc.desk.look_fields import WrittenFinding, changes_written, length_symbol
from qc.desk.looks import OpenedLook, code_lists, open_look
from qc.domain.kinds import plain_name, suggested_disposition
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
        Input("records-look", "children"), State("look-shown", "data"), prevent_initial_call=True)
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
        Output("fix-usual", "children"),
        Input({"type": "fix-finding", "part": "kind", "at": ALL}, "value"),
        Input({"type": "fix", "field": "disposition"}, "value"),
        State("fix-seen", "data"),
    )
    def usual(kinds: list[str | None], disposition: str | None, seen: list[Any]) -> str:
        attempt = (look_of(seen[0]) or {}).get("attempt", 1)
        return usually_done([kind for kind in kinds if kind], disposition, attempt)

    @app.callback(
        output={"said": Output("fix-said", "children"), "meanwhile":
                Output("fix-meanwhile", "children"), "seen": Output("fix-seen", "data"),
                "keep": Output("fix-keep", "children"),
                "panel": Output("records-look", "children", allow_duplicate=True),
                "news": Output("records-news", "data", allow_duplicate=True)},
        inputs={"clicks": Input("fix-keep", "n_clicks"),
                "backs": Input("fix-take-back", "n_clicks")},
        state={
            "around": {"seen": State("fix-seen", "data"), "by": State(NAME_FIELD, "value"),
                       "why": State("fix-why", "value"), "search": State("address", "search"),
                       "news": State("records-news", "data")},
            "form": {"values": State({"type": "fix", "field": ALL}, "value"),
                     "fields": State({"type": "fix", "field": ALL}, "id"),
                     "told": State({"type": "fix-finding", "part": ALL, "at": ALL}, "value"),
                     "rows": State({"type": "fix-finding", "part": ALL, "at": ALL}, "id")}},
        prevent_initial_call=True,
    )
    def keep(clicks: int | None, backs: int | None, around: dict[str, Any],
             form: dict[str, list[Any]]) -> dict[str, Any]:
        if not (clicks or backs) or not answers.is_live:
            raise PreventUpdate
        if not (around["by"] or "").strip():
            return _nothing_but(said=words.FIX_NEEDS_NAME)
        if not (around["why"] or "").strip():
            return _nothing_but(said=words.FIX_NEEDS_WHY)
        key, base, seen = around["seen"]
        was = Seen(key=key, base=base, seen=seen)
        changes: tuple[str, ...] = ()
        try:
            if ctx.triggered_id == "fix-take-back":
                _take_back(answers, was, around)
                said = f"{words.TAKEN_BACK}."
            else:
                changes = _changes(answers, was, form)
                if not changes:
                    return _nothing_but(said=words.FIX_NOTHING)
                kept = correct(answers.shop, _which(was), changes, why=around["why"],
                               by=around["by"].strip(), at_us=answers.now_us(),
                               seen_version=was.seen)
                said = words.FIX_KEPT.format(n=kept.version)
        except (Conflict, NotFound):  # a look that was taken back is found no more
            return _overtaken(answers, was, changes)
        except QcError as refused:
            return _nothing_but(said=_said(refused))
        panel = _panel(answers, read_view(RecordsView, around["search"]), said=said)
        return _nothing_but() | {"panel": panel, "news": (around["news"] or 0) + 1}

    @app.callback(
        Output("records-look", "children", allow_duplicate=True),
        Input("fix-leave", "n_clicks"), State("address", "search"), prevent_initial_call=True,
    )
    def leave(clicks: int | None, search: str | None) -> Component:
        if not clicks or not ctx.triggered_id:
            raise PreventUpdate
        return _panel(answers, read_view(RecordsView, search))


def usually_done(kinds: Sequence[str], disposition: str | None, attempt: int) -> str:
    """What is usually done with a piece that shows these kinds, where a correction says that it
    passed, or that it did not though nothing was found; else nothing. What was done is a fact: it
    is never changed with the findings by itself."""
    if not disposition or bool(kinds) != (disposition == "pass"):
        return ""
    usual = suggested_disposition(kinds, attempt=attempt)
    return words.FIX_USUAL.format(
        found=", ".join(plain_name(kind).lower() for kind in dict.fromkeys(kinds))
        or words.FIX_USUAL_NOTHING,
        usual=text.DISPOSITION_WORDS[usual], now=text.DISPOSITION_WORDS[disposition])


def _which(was: Seen) -> WhichLook:
    identity = look_of(was.key) or {}
    return WhichLook(**identity, no_location=identity["location"] is None)


def _take_back(answers: Answers, was: Seen, around: dict[str, Any]) -> None:
    take_back(answers.shop, _which(was), why=around["why"], by=around["by"].strip(),
              at_us=answers.now_us(), seen_version=was.seen)


def _changes(answers: Answers, was: Seen, form: dict[str, list[Any]]) -> tuple[str, ...]:
    """What was written otherwise than the version says that the form was filled from."""
    opened = open_look(answers.shop, look_of(was.key) or {})
    fields = {one["field"]: str(value or "")
              for one, value in zip(form["fields"], form["values"], strict=True)}
    return changes_written(_version(opened, was.base), fields,
                           _findings(form["rows"], form["told"]), answers.shop)


def _overtaken(answers: Answers, was: Seen, changes: tuple[str, ...]) -> dict[str, Any]:
    """Somebody else was quicker: what they changed is shown, what was written stays."""
    opened = open_look(answers.shop, look_of(was.key) or {})
    newest = opened.now["version"]
    now = Seen(key=was.key, base=was.base, seen=newest)
    return _nothing_but(
        said="", meanwhile=meanwhile(opened, was, changes, answers.shop), seen=now.as_data(),
        keep=words.FIX_KEEP if opened.now["withdrawn"] else words.FIX_KEEP_ON_TOP.format(n=newest))


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
    return " ".join(text.with_capital(f"{words.fields_named(one)}.") for one in problems)


def _nothing_but(**changed: Any) -> dict[str, Any]:
    names = ("said", "meanwhile", "seen", "keep", "panel", "news")
    return dict.fromkeys(names, no_update) | changed
