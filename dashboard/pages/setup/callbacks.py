"""What Set-up answers to: its address, and the buttons that keep something."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, no_update
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import guarded, mark
from dashboard.formats import Clock, Reader
from dashboard.pages.setup import guide_callbacks, printed
from dashboard.pages.setup.fields import FIELD, SETTING
from dashboard.pages.setup.layout import overview, part_frame, who_field
from dashboard.pages.setup.lists import MOST_ROWS, OpenRecord, list_part, record_part
from dashboard.pages.setup.names import kinds_part, people_part
from dashboard.pages.setup.saying import as_of_words, errors_of, named_texts
from dashboard.pages.setup.settings import budget_part, cost_panel, history, settings_part
from dashboard.text import setup as setup_text
from dashboard.view import SetupView, address, key_of, key_text, read_view
from qc.desk.budget_cost import budget_costs
from qc.desk.heat_limits import heat_caution, recipes_too_hot
from qc.desk.house_settings import settings_history, settings_shown
from qc.desk.in_use import CAN_RETIRE, bring_back, retire, retired
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.lists import (
    ListedRecord,
    form_fields,
    list_sizes,
    listed,
    newest_jobs,
    one_listed,
    past_versions,
)
from qc.desk.own_kinds import add_own_kind, kinds_of_shop
from qc.desk.people import people
from qc.domain.kinds import defect_kinds
from qc.errors import FormError, QcError

BUDGET = "false_flags_per_week"
_SETTINGS = tuple(name for names in setup_text.SETTING_GROUPS.values() for name in names)


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the page, of the first run, and the papers of a job."""
    guide_callbacks.register(app, answers)
    printed.register(app, answers)
    _register_parts(app, answers)
    _register_keeping(app, answers)

    @app.callback(Output("setup-cost", "children"), Input("setup-cost", "id"))
    @guarded
    def show_cost(_id: str) -> Component:
        return cost_panel(answers.slow("budget cost", lambda then_us: budget_costs(
            answers.shop, as_of_us=then_us)), can_act=answers.is_live)

    @app.callback(
        Output({"type": SETTING, "name": BUDGET}, "value"),
        Output("setup-said", "children", allow_duplicate=True),
        Input({"type": "setup-take", "value": ALL}, "n_clicks"), prevent_initial_call=True,
    )
    def take(clicks: list[int | None]) -> tuple[str, str]:
        if not any(clicks) or not ctx.triggered_id:
            raise PreventUpdate
        return str(ctx.triggered_id["value"]), setup_text.COST_TAKEN


def _register_parts(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("setup-body", "children"), Output("setup-said", "children"),
        Input("address", "search"), Input("setup-news", "data"), Input("first-run-news", "data"),
    )
    def show(search: str | None, news: dict[str, str] | None, _first_run: str | None) -> Any:
        """What was kept is said with the page that shows it, never before."""
        view = read_view(SetupView, search)
        said = news["said"] if news and news["at"] == address(view) else ""
        return guarded(_part)(answers, view), said

    @app.callback(
        Output("address", "search", allow_duplicate=True), Input("setup-find", "value"),
        State("address", "search"), prevent_initial_call=True,
    )
    def find(wanted: str | None, search: str | None) -> str:
        view = read_view(SetupView, search)
        if (wanted or "") == view.find:
            raise PreventUpdate
        return address(view, find=wanted or "")


def _part(answers: Answers, view: SetupView) -> Component:
    if not view.part:
        return overview(_counts(answers))
    return part_frame(view, _inside(answers, view), can_act=answers.is_live)


def _counts(answers: Answers) -> dict[str, int]:
    return answers.quick("setup counts", lambda _: list_sizes(answers.shop) | {
        "kinds": len(defect_kinds()) + len(kinds_of_shop(answers.shop))})


def _inside(answers: Answers, view: SetupView) -> list[Any]:
    shop, now_us, can_act = answers.shop, answers.quick_as_of_us(), answers.is_live
    who = [who_field()] if can_act else []
    clock = Clock(shop.zone)
    if view.part == "kinds":
        return [*who, *kinds_part(kinds_of_shop(shop), retired(shop)["kinds"], clock,
                                   can_act=can_act)]
    if view.part == "people":
        return people_part(answers.slow("people", lambda _: people(shop)), clock)
    if view.part in ("budget", "settings"):
        is_budget = view.part == "budget"
        names = setup_text.BUDGET_SETTINGS if is_budget else _SETTINGS
        forms = (budget_part if is_budget else settings_part)(settings_shown(shop),
                                                              can_act=can_act)
        return [*who, *forms, history(settings_history(shop, as_of_us=now_us), names, clock)]
    return _list_or_record(answers, view, who)


def _list_or_record(answers: Answers, view: SetupView, who: list[Component]) -> list[Any]:
    shop, now_us = answers.shop, answers.quick_as_of_us()
    reader = Reader(shop, Clock(shop.zone))
    if not view.item and view.do != "add":
        newest = view.part == "jobs" and not view.find  # there are ever more of them
        records = answers.quick(("list", view.part, newest), lambda as_of_us: newest_jobs(
            shop, as_of_us=as_of_us, at_most=2 * MOST_ROWS) if newest else listed(
            shop, view.part, as_of_us=as_of_us))
        gone = retired(shop, as_of_us=now_us).get(view.part, {})
        return list_part(view.part, records, gone, view, reader, can_act=answers.is_live)
    key = key_of(view.item) if view.item else None
    now = one_listed(shop, view.part, key, as_of_us=now_us) if key else None
    it = OpenRecord(
        kind=view.part, past=view.past if key else "",
        fields=form_fields(shop, view.part, key, as_of_us=now_us, past=view.past),
        now=now, can_retire=view.part in CAN_RETIRE,
        retired=retired(shop).get(view.part, {}).get(key[0]) if key else None,
        cautions=() if now is None else _cautions(answers, view.part, now),
        versions=past_versions(shop, view.part, key, as_of_us=now_us) if key else ())
    return [*who, *record_part(it, reader, can_act=answers.is_live)]


def _cautions(answers: Answers, part: str, now: ListedRecord) -> tuple[str, ...]:
    """What is to be known of a record before it is used."""
    if part == "fabrics":
        return recipes_too_hot(answers.shop, now.key[0], as_of_us=answers.quick_as_of_us())
    said = heat_caution(answers.shop, now.values) if part == "recipes" else ""
    return (text.with_capital(said),) if said else ()


def _register_keeping(app: Dash, answers: Answers) -> None:
    fields, settings = {"type": FIELD, "name": ALL}, {"type": SETTING, "name": ALL}

    @app.callback(
        output={"errors": Output(fields, "error"), "news": Output("setup-news", "data"),
                "said": Output("setup-said", "children", allow_duplicate=True),
                "search": Output("address", "search", allow_duplicate=True)},
        inputs={"clicks": Input({"type": "setup-do", "do": ALL}, "n_clicks")},
        state={"values": State(fields, "value"), "ids": State(fields, "id"),
               "by": State(NAME_FIELD, "value", allow_optional=True),
               "search": State("address", "search"),
               "of": State("setup-of", "data", allow_optional=True)},
        prevent_initial_call=True,
    )
    def keep(clicks: list[int | None], values: list[Any], ids: list[dict[str, str]],
             by: str | None, of: int | None, search: str | None) -> Any:
        if not any(clicks) or not ctx.triggered_id or not answers.is_live:
            raise PreventUpdate
        view, texts = read_view(SetupView, search), named_texts(ids, values)
        nothing = {"news": no_update, "search": no_update, "said": no_update,
                   "errors": [None] * len(ids)}
        try:
            to, said = _keep(answers, view, texts, by or "", of)
        except FormError as refused:
            return nothing | {"errors": errors_of(refused, ids, view.part),
                              "said": mark("alarm", setup_text.NOT_KEPT)}
        except QcError as refused:
            return nothing | {"said": mark("alarm", text.with_capital(f"{refused}."))}
        moved = no_update if to == address(view) else to
        return nothing | {"news": {"said": said, "at": to, "n": sum(n or 0 for n in clicks)},
                          "search": moved}

    @app.callback(
        Output("setup-news", "data", allow_duplicate=True),
        Output("setup-said", "children", allow_duplicate=True),
        Input({"type": "setup-use", "kind": ALL, "code": ALL, "to": ALL}, "n_clicks"),
        State(NAME_FIELD, "value", allow_optional=True), State("address", "search"),
        prevent_initial_call=True,
    )
    def use(clicks: list[int | None], by: str | None, search: str | None) -> Any:
        if not any(clicks) or not ctx.triggered_id or not answers.is_live:
            raise PreventUpdate
        asked, at_us = ctx.triggered_id, answers.now_us()
        kind, code = str(asked["kind"]), str(asked["code"])
        away = asked["to"] == "away"
        try:
            (retire if away else bring_back)(answers.shop, kind, code, by=by or "", at_us=at_us)
        except QcError as refused:
            return no_update, mark("alarm", text.with_capital(f"{refused}."))
        what = text.kind_name(code) if kind == "kinds" else text.with_capital(
            f"{setup_text.one_of(kind)} {code}")
        said = (setup_text.NOW_RETIRED if away else setup_text.NOW_BACK).format(what=what)
        at = address(read_view(SetupView, search))
        return {"said": said, "at": at, "n": at_us}, no_update

    @app.callback(
        output={"errors": Output(settings, "error"),
                "news": Output("setup-news", "data", allow_duplicate=True),
                "said": Output("setup-said", "children", allow_duplicate=True),
                "shop": Output("shop-name", "children", allow_duplicate=True),
                "moment": Output("as-of", "children", allow_duplicate=True)},
        inputs={"clicks": Input({"type": "setup-keep", "group": ALL}, "n_clicks")},
        state={"values": State(settings, "value"), "ids": State(settings, "id"),
               "by": State(NAME_FIELD, "value", allow_optional=True),
               "search": State("address", "search")},
        prevent_initial_call=True,
    )
    def keep_settings(clicks: list[int | None], values: list[Any], ids: list[dict[str, str]],
                      by: str | None, search: str | None) -> Any:
        if not any(clicks) or not ctx.triggered_id or not answers.is_live:
            raise PreventUpdate
        group = str(ctx.triggered_id["group"]).split()
        mine = {name: value for name, value in named_texts(ids, values).items() if name in group}
        nothing = {"errors": [None] * len(ids), "news": no_update, "said": no_update,
                   "shop": no_update, "moment": no_update}
        try:
            changed = answers.keep_settings(mine, by=by or "")
        except FormError as refused:
            return nothing | {"errors": errors_of(refused, ids),
                              "said": mark("alarm", setup_text.NOT_KEPT)}
        except QcError as refused:
            return nothing | {"said": mark("alarm", text.with_capital(f"{refused}."))}
        said = (setup_text.SETTINGS_KEPT.format(names="; ".join(_now(answers, changed)))
                if changed else setup_text.KEPT_SAME)
        at = address(read_view(SetupView, search))
        return nothing | {"news": {"said": said, "at": at, "n": sum(n or 0 for n in clicks)},
                          "shop": answers.shop.name, "moment": as_of_words(answers)}


def _now(answers: Answers, changed: Sequence[str]) -> list[str]:
    """Settings as they stand now, each in words."""
    return [setup_text.setting_words(one.setting.name, one.setting.kind, one.text, one.symbol)
            for one in settings_shown(answers.shop) if one.setting.name in changed]


def _keep(
    answers: Answers, view: SetupView, texts: Mapping[str, str], by: str, seen: int | None
) -> tuple[str, str]:
    """Keep what is written; where to go from there, and what to say."""
    shop, now_us = answers.shop, answers.now_us()
    if view.part == "kinds":
        code = add_own_kind(shop, texts["kind"], by=by, at_us=now_us)
        return address(view), setup_text.KIND_KEPT.format(what=text.kind_name(code))
    key = key_of(view.item) if view.item else None
    kept = keep_record(shop, RecordWritten(kind=view.part, texts=texts, key=key, seen=seen),
                       by=by, at_us=now_us)
    words = {"new": setup_text.KEPT_NEW, "changed": setup_text.KEPT_CHANGED,
             "same": setup_text.KEPT_SAME}[kept.became]
    what = text.with_capital(f"{setup_text.one_of(view.part)} {' with '.join(kept.key)}")
    to = address(SetupView(part=view.part, item=key_text(kept.key)))
    said = words.format(what=what, n=kept.version)
    if kept.cautions:
        more = len(kept.cautions) - 1
        said += setup_text.CAUTION.format(what=text.with_capital(kept.cautions[0]))
        said += setup_text.CAUTION_MORE.format(n=more) if more else ""
    return to, said
