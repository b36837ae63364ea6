"""What bringing files in answers to: files that came, ticks that change how they are read, load."""

from __future__ import annotations

from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import notice
from dashboard.pages.records.files import progress, report_part
from dashboard.pages.records.loading import start
from dashboard.receiving import Received, register
from dashboard.text import records as words

NOBODY = "not said"
"""Who a dry run is done by: nothing of it is kept."""


def register_files(app: Dash, answers: Answers) -> None:
    """The callbacks of bringing files in, and the addresses they are sent to."""
    received = Received()
    register(app.server, received, lambda: answers.is_live)
    app.clientside_callback(ClientsideFunction("records", "drop"), Output("drop-input", "title"),
                            Input("drop", "id"))

    @app.callback(Output("files-report", "children"), Output("drop", "hidden"),
                  Input("drop", "id"))
    def show_place(_id: str) -> Any:
        if answers.is_live:
            raise PreventUpdate
        return notice(words.DROP_TITLE, words.LOOKS_BACK), True

    @app.callback(Output("files-run", "data"), Output("files-tick", "disabled"),
                  Output("files-report", "children", allow_duplicate=True),
                  Input("files-sent", "data"), prevent_initial_call=True)
    def check(sent: str | None) -> Any:
        run = received.run(sent or "")
        if run is None or not run.paths:
            raise PreventUpdate
        start(run, answers, by=NOBODY, load=False)
        return sent, False, progress(run)

    @app.callback(Output("files-report", "children", allow_duplicate=True),
                  Output("files-tick", "disabled", allow_duplicate=True),
                  Output("drop-said", "children", allow_duplicate=True),
                  Input("files-tick", "n_intervals"), State("files-run", "data"),
                  prevent_initial_call=True)
    def follow(_n: int | None, name: str | None) -> Any:
        run = received.run(name or "")
        if run is None:
            return notice(words.DROP_TITLE, words.RUN_GONE), True, ""
        if run.is_busy:
            return progress(run), no_update, no_update
        return report_part(name or "", run), True, ""

    _register_decisions(app, answers, received)


def _register_decisions(app: Dash, answers: Answers, received: Received) -> None:
    ticks = {"new_codes": Input("files-new-codes", "checked"),
             "as_read": Input("files-as-read", "checked"),
             "ignored": Input({"type": "files-ignore", "column": ALL}, "checked")}

    @app.callback(
        output=[Output("files-tick", "disabled", allow_duplicate=True),
                Output("files-report", "children", allow_duplicate=True)],
        inputs=ticks, state={"columns": State({"type": "files-ignore", "column": ALL}, "id"),
                             "name": State("files-run", "data")}, prevent_initial_call=True)
    def read_anew(new_codes: bool | None, as_read: bool | None, ignored: list[bool | None],
                  columns: list[dict[str, str]], name: str | None) -> Any:
        run = received.run(name or "")
        ignore = tuple(one["column"] for one, tick in zip(columns, ignored, strict=True) if tick)
        asked = bool(new_codes), bool(as_read), ignore
        if run is None or run.is_busy or asked == (run.new_codes, run.as_read, run.ignore):
            raise PreventUpdate
        run.new_codes, run.as_read, run.ignore = asked
        start(run, answers, by=NOBODY, load=False)
        return False, progress(run)

    @app.callback(
        output={"said": Output("files-load-said", "children"),
                "tick": Output("files-tick", "disabled", allow_duplicate=True),
                "report": Output("files-report", "children", allow_duplicate=True)},
        inputs={"clicks": Input("files-load", "n_clicks")},
        state={"by": State(NAME_FIELD, "value"), "name": State("files-run", "data")},
        prevent_initial_call=True)
    def load(clicks: int | None, by: str | None, name: str | None) -> Any:
        run = received.run(name or "")
        if not clicks or not answers.is_live:
            raise PreventUpdate
        if not (by or "").strip():
            return {"said": words.FILES_NEEDS_NAME, "tick": no_update, "report": no_update}
        if run is None or run.state != "checked":
            return {"said": words.RUN_GONE, "tick": no_update, "report": no_update}
        start(run, answers, by=str(by).strip(), load=True)
        return {"said": no_update, "tick": False, "report": progress(run)}

    @app.callback(Output("files-report", "children", allow_duplicate=True),
                  Output("drop-said", "children"), Input("files-anew", "n_clicks"),
                  prevent_initial_call=True)
    def anew(clicks: int | None) -> Any:
        if not clicks:
            raise PreventUpdate
        return [], ""

