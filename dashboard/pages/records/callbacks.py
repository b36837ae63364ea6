"""What the page answers to: the address alone; the choices only write the address."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dash import (
    ALL,
    MATCH,
    ClientsideFunction,
    Dash,
    Input,
    Output,
    State,
    ctx,
    html,
    no_update,
    set_props,
)
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import formats, text
from dashboard.answers import Answers
from dashboard.components.states import notice
from dashboard.formats import Clock
from dashboard.pages.records.asking import asked_of, day_of, list_of, midnight, none_help
from dashboard.pages.records.files_callbacks import register_files
from dashboard.pages.records.finding import chips, count_words, form, level_written
from dashboard.pages.records.grid import BLOCK, Recent, grid, grid_row, sort_asked
from dashboard.pages.records.layout import empty_part, part, switch
from dashboard.pages.records.look import taken_back_rows
from dashboard.pages.records.look_callbacks import register_looks
from dashboard.pages.records.taking import MOST_IN_XLSX, register_taking
from dashboard.text import records as words
from dashboard.view import RecordsView, address, read_view
from qc.desk.looks import (
    BY_TIME,
    LookCount,
    has_looks,
    look_page,
    looks_counted,
    suggestions,
    taken_back_at,
)
from qc.errors import QcError

HERE = "/records"


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the page."""
    _register_part(app)
    _register_finding(app, answers)
    _register_grid(app, answers)
    register_looks(app, answers)
    register_files(app, answers)
    register_taking(app, answers)


def _register_part(app: Dash) -> None:
    @app.callback(
        Output("records-part", "children"), Output("records-switch", "children"),
        Output("records-shown", "data"), Input("address", "search"),
        State("records-shown", "data"), prevent_initial_call=True,
    )
    def show_part(search: str | None, shown: str) -> tuple[list[Component], list[Component], str]:
        show = read_view(RecordsView, search).show
        if show == shown:
            raise PreventUpdate
        return part(show), switch(show), show


def _register_finding(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("records-find", "children"), Output("records-chips", "children"),
        Output("records-take", "children"), Input("address", "search"),
        State({"type": "records-find", "field": ALL}, "value"),
        State({"type": "records-find", "field": ALL}, "id"),
    )
    def show_choices(search: str | None, values: list[Any], ids: list[dict[str, str]]) -> Any:
        view, shop = read_view(RecordsView, search), answers.shop
        if ctx.triggered_id and not ids and view.show:
            raise PreventUpdate
        asked = list_of(view)
        around = chips(view, Clock(shop.zone)), _takes(asked)
        if ids and _written(asked, values, ids, answers) == asked:
            return no_update, *around  # the person's own doing: what they write in stays
        known = answers.quick("levels suggested", lambda _us: suggestions(shop))
        return form(view, shop, known, answers.since_us), *around

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        Input({"type": "records-find", "field": ALL}, "value"),
        State({"type": "records-find", "field": ALL}, "id"), State("address", "search"),
        State("address", "pathname"), prevent_initial_call=True,
    )
    def find(values: list[Any], ids: list[dict[str, str]], search: str | None, path: str) -> str:
        view = read_view(RecordsView, search)
        wanted = _written(view, values, ids, answers)
        if not ids or wanted == view or path.rstrip("/") != HERE:
            raise PreventUpdate
        return address(wanted, look="") or "?"


def _written(view: RecordsView, values: list[Any], ids: list[dict[str, str]], answers: Answers
             ) -> RecordsView:
    """A view with what stands in the choices; a day left alone keeps its very moment."""
    changes = {}
    for one, value in zip(ids, values, strict=True):
        name = one["field"]
        if name in ("since", "until"):
            last = name == "until"
            if (value or "") != day_of(getattr(view, name), answers.shop, last=last):
                changes[name] = midnight(value, answers.shop, days=int(last))
        else:
            changes[name] = level_written(name, value)
    return replace(view, **changes)


def _takes(view: RecordsView) -> list[Component]:
    query = address(view)
    means = words.TAKE_MEANS.format(most=formats.count(MOST_IN_XLSX))
    return [html.A(label, href=f"{HERE}/looks.{form}{query}", className="as-button", title=means)
            for form, label in (("csv", words.TAKE_CSV), ("xlsx", words.TAKE_XLSX))]


def _register_grid(app: Dash, answers: Answers) -> None:
    lists = Lists(answers)
    app.clientside_callback(
        ClientsideFunction("records", "ready"), Output("grid-ready", "data"),
        Input("records-grid", "id"))

    @app.callback(
        Output("records-grid", "children"), Output("records-count", "children"),
        Input("grid-ready", "data"), Input("address", "search"), Input("records-news", "data"),
        Input("records-again", "n_clicks"),
        State({"type": "looks", "of": ALL, "at": ALL}, "id"),
        State({"type": "looks", "of": ALL, "at": ALL}, "getRowsRequest"),
    )
    def show_grid(ready: bool | None, search: str | None, _news: int, _again: int | None,
                  shown: list[dict[str, Any]], requests: list[dict[str, Any] | None]) -> Any:
        view = read_view(RecordsView, search)
        if not ready or view.show:
            raise PreventUpdate
        if ctx.triggered_id == "address" and _shows(view, shown, requests):
            raise PreventUpdate
        try:
            return _listed(lists, view)
        except QcError as error:
            return notice(text.ERROR_TITLE, text.with_capital(f"{error}."), tone="watch"), ""

    @app.callback(
        Output({"type": "looks", "of": MATCH, "at": MATCH}, "getRowsResponse"),
        Input({"type": "looks", "of": MATCH, "at": MATCH}, "getRowsRequest"),
        State({"type": "looks", "of": MATCH, "at": MATCH}, "id"), prevent_initial_call=True,
    )
    def show_rows(request: dict[str, Any] | None, own: dict[str, Any]) -> dict[str, Any]:
        if not request:
            raise PreventUpdate
        view = replace(read_view(RecordsView, own["of"]), sort=sort_asked(request["sortModel"]))
        try:
            return _rows(lists, view, int(own["at"]), int(request["startRow"]))
        except QcError as error:
            app_says(text.with_capital(f"{error}."))
            return {"rowData": [], "rowCount": int(request["startRow"])}

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        Input({"type": "looks", "of": ALL, "at": ALL}, "getRowsRequest"),
        State("address", "search"), prevent_initial_call=True,
    )
    def keep_order(requests: list[dict[str, Any] | None], search: str | None) -> str:
        view = read_view(RecordsView, search)
        request = requests[-1] if requests else None
        if not request or sort_asked(request["sortModel"]) == view.sort:
            raise PreventUpdate
        return address(view, sort=sort_asked(request["sortModel"])) or "?"


def app_says(said: str) -> None:
    """A sentence above the list."""
    set_props("records-said", {"children": said})


def _shows(view: RecordsView, shown: list[dict[str, Any]],
           requests: list[dict[str, Any] | None]) -> bool:
    """Whether the grid on the page already lists what an address asks for."""
    if not shown:
        return False
    request = requests[-1]
    is_sorted = request is None or sort_asked(request["sortModel"]) == view.sort
    return bool(shown[-1]["of"] == address(list_of(view)) and is_sorted)


class Lists:
    """Lists of looks that are on somebody's screen."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers
        self.marks: Recent[tuple[int, int]] = Recent()
        self._counts: Recent[LookCount] = Recent()

    def count(self, view: RecordsView, at_us: int) -> LookCount:
        """How many looks a list has, as of the moment it was asked for."""
        asked = replace(asked_of(view), sort=BY_TIME, newest_first=True)
        known = self._counts.find((asked, at_us))
        return known or self._counts.keep((asked, at_us), looks_counted(
            self.answers.shop, asked, as_of_us=at_us))


def _listed(lists: Lists, view: RecordsView) -> tuple[Component, Any]:
    """The list and how long it is; or why there is none."""
    answers = lists.answers
    if not has_looks(answers.shop):
        return empty_part(), ""
    at_us = answers.quick_as_of_us()
    count = lists.count(view, at_us)
    clock = Clock(answers.shop.zone)
    gone = _taken_back(answers, view, clock)
    if count.is_all and not count.n_looks:
        return (notice(words.COUNTED_NONE, none_help(view)),
                [html.Strong(words.COUNTED_NONE), *gone])
    return grid(view, at_us), [*_counted(count, at_us, clock), *gone]


def _taken_back(answers: Answers, view: RecordsView, clock: Clock) -> list[Component]:
    """What was taken back at the piece that is asked for: no list shows it."""
    gone = taken_back_at(answers.shop, view.piece) if view.piece else []
    if not gone:
        return []
    n = words.TAKEN_BACK_HERE_ONE if len(gone) == 1 else words.TAKEN_BACK_HERE.format(n=len(gone))
    return [html.Div([html.P(n), html.Ul(taken_back_rows(gone[::-1], view, clock),
                                         className="looks-too")], className="taken-back")]


def _counted(count: LookCount, at_us: int, clock: Clock) -> list[Component]:
    means = words.COUNT_MEANS.format(when=clock.minute(at_us))
    return [html.Strong(count_words(count)), html.Span(means, className="aside")]


def _rows(lists: Lists, view: RecordsView, at_us: int, start: int) -> dict[str, Any]:
    asked, shop, marks = asked_of(view), lists.answers.shop, lists.marks
    count = lists.count(view, at_us)
    key = (asked, at_us)
    found = look_page(shop, asked, as_of_us=at_us, start=start, n=BLOCK,
                      after=marks.find((*key, start)), is_all=count.is_all)
    rows, clock = found.rows, Clock(shop.zone)
    if len(rows) == BLOCK and found.by_time:
        marks.keep((*key, start + BLOCK), (rows[-1]["pressed_at"], rows[-1]["number"]))
    by = words.FIELD_WORDS.get(asked.sort, asked.sort).lower()
    app_says("" if found.is_sorted else words.NOT_SORTED.format(
        by=by, most=formats.count(count.n_looks)))
    last = start + len(rows) if len(rows) < BLOCK else (count.n_looks if count.is_all else None)
    return {"rowData": [grid_row(row, clock) for row in rows], "rowCount": last}
