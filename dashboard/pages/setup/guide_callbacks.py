"""The first run's steps, on whichever page the guide stands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, no_update
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import guarded, mark
from dashboard.pages.setup.fields import GUIDE
from dashboard.pages.setup.guide import FIELDS, ON_THE_WAY, RECIPE, guide, guide_link
from dashboard.pages.setup.saying import as_of_words, errors_of, named_texts
from dashboard.text import setup as setup_text
from dashboard.view import SetupView, read_view
from qc.desk.first_run import first_run
from qc.desk.heat_limits import recipes_too_hot
from qc.desk.house_settings import settings_shown
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.lists import FormField, form_fields, listed
from qc.errors import FormError, QcError

WHOLE = ("/", "/setup")
"""Pages that show the guide itself; the others show the way to it."""


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the first run."""

    @app.callback(
        Output("first-run", "children"), Input("first-run", "id"), Input("address", "search"),
        Input("first-run-news", "data"), State("address", "pathname"),
    )
    @guarded
    def show(_id: str, search: str | None, _news: Any, pathname: str | None) -> Any:
        run = answers.quick("first run", lambda _: first_run(answers.shop))
        path = "/" + (pathname or "").strip("/")
        if run.is_over or not answers.is_live:
            return None
        if path in WHOLE and not (path == "/setup" and read_view(SetupView, search).part):
            return guide(run, settings_shown(answers.shop), _fields(answers), _too_hot(answers))
        if path in ON_THE_WAY and run.next_step == "record":
            return None
        return guide_link(run)

    _register_steps(app, answers)
    app.clientside_callback(
        ClientsideFunction("setup", "zone"),
        Output({"type": GUIDE, "name": "timezone"}, "value"),
        Input({"type": GUIDE, "name": "timezone"}, "id"),
        State({"type": GUIDE, "name": "timezone"}, "data"),
        State({"type": GUIDE, "name": "timezone"}, "value"),
    )


def _too_hot(answers: Answers) -> tuple[str, ...]:
    """What is to be said of the recipes before anything is pressed by them."""
    shop, now_us = answers.shop, answers.now_us()
    fabrics = dict.fromkeys(one.key[0] for one in listed(shop, "recipes", as_of_us=now_us))
    return tuple(said for fabric in fabrics
                 for said in recipes_too_hot(shop, fabric, as_of_us=now_us))


def _fields(answers: Answers) -> dict[str, FormField]:
    now_us = answers.quick_as_of_us()
    return {f"{kind}.{one.field.name}": one for kind in ("presses", "fabrics", "transfers",
                                                         "recipes")
            for one in form_fields(answers.shop, kind, None, as_of_us=now_us)}


def _register_steps(app: Dash, answers: Answers) -> None:
    fields = {"type": GUIDE, "name": ALL}

    @app.callback(
        output={"errors": Output(fields, "error"), "said": Output("guide-said", "children"),
                "news": Output("first-run-news", "data"),
                "shop": Output("shop-name", "children", allow_duplicate=True),
                "moment": Output("as-of", "children", allow_duplicate=True)},
        inputs={"clicks": Input({"type": "guide-do", "step": ALL}, "n_clicks")},
        state={"values": State(fields, "value"), "ids": State(fields, "id"),
               "by": State(NAME_FIELD, "value", allow_optional=True)},
        prevent_initial_call=True,
    )
    def keep(clicks: list[int | None], values: list[Any], ids: list[dict[str, str]],
             by: str | None) -> Any:
        if not any(clicks) or not ctx.triggered_id or not answers.is_live:
            raise PreventUpdate
        step, texts = str(ctx.triggered_id["step"]), named_texts(ids, values)
        nothing = {"errors": [None] * len(ids), "news": no_update, "shop": no_update,
                   "moment": no_update}
        try:
            _keep(answers, step, texts, by or "")
        except FormError as refused:
            return nothing | {"errors": errors_of(refused, ids, *FIELDS.get(step, ()), "recipes"),
                              "said": mark("alarm", setup_text.NOT_KEPT)}
        except QcError as refused:
            return nothing | {"said": mark("alarm", text.with_capital(f"{refused}."))}
        return nothing | {"said": "", "news": step, "shop": answers.shop.name,
                          "moment": as_of_words(answers)}


def _keep(answers: Answers, step: str, texts: Mapping[str, str], by: str) -> None:
    """Keep one step; what an earlier try has kept already stays as it is."""
    if step == "shop":
        if not texts["shop_name"].strip():
            raise FormError({"shop_name": [setup_text.SHOP_NEEDS_NAME]})
        answers.keep_settings(texts, by=by, meant=("timezone",))
        return
    for kind, names in FIELDS[step].items():
        mine = {name: texts[name] for name in names}
        known = {one.key[0] for one in listed(answers.shop, kind, as_of_us=answers.now_us())}
        if mine[names[0]].strip() not in known:
            keep_record(answers.shop, RecordWritten(kind=kind, texts=mine), by=by,
                        at_us=answers.now_us())
    if step == "material" and any(texts[name] for name in RECIPE):
        keep_record(answers.shop, RecordWritten(kind="recipes", texts=texts), by=by,
                    at_us=answers.now_us())
