"""What the cases answer to."""

from __future__ import annotations

from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, no_update
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import guarded
from dashboard.formats import Clock
from dashboard.pages.cases.check import check_panel, comparison_address
from dashboard.pages.cases.layout import Listed, body, case_list, chosen, detail
from dashboard.pages.cases.pieces import FORMS, TAKES, held_address, pieces_panel
from dashboard.pages.cases.work import FIELDS, Doing, done_words, ladder, log, marks, to_hold
from dashboard.text import cases as case_text
from dashboard.view import CasesView, read_view
from qc.desk.case_steps import StepWanted
from qc.desk.cases import Case, by_status
from qc.desk.flag_words import units_of_shop
from qc.errors import QcError
from reports.hold_list import hold_list
from reports.writing import FORMS as RENDERERS

AS_BYTES = ("xlsx", "pdf")


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the cases."""
    asked = _Asked(answers)

    @app.callback(Output("cases-body", "children"), Input("address", "search"))
    @guarded
    def show_cases(search: str | None) -> Component:
        return body(asked.listed(), read_view(CasesView, search), asked.clock)

    @app.callback(Output("case-detail", "children"), Input("case-detail", "id"),
                  Input("scheme", "data"), State("address", "search"))
    @guarded
    def show_detail(_id: str, scheme: str | None, search: str | None) -> Any:
        here = asked.chosen(search)
        if scheme is None or not here:
            raise PreventUpdate
        case = answers.case(here)
        return detail(case, asked.doing(case), answers.check(here), scheme, asked.clock,
                      units_of_shop(answers.shop), can_act=answers.is_live)

    _register_steps(app, answers, asked)
    _register_list(app, answers, asked)


class _Asked:
    """What an address asks for, gathered from the answers."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers

    @property
    def clock(self) -> Clock:
        return Clock(self.answers.shop.zone)

    def chosen(self, search: str | None) -> str:
        """The flag an address shows; empty where there is none."""
        return chosen(self.answers.flags(), self.answers.cases(), read_view(CasesView, search))

    def doing(self, case: Case) -> Doing:
        """All that the steps of a case are drawn from."""
        answers, counted = self.answers, by_status(case.pieces)
        check = answers.check(case.flag.id)
        return Doing(
            case=answers.cases().get(case.flag.id), causes=answers.causes(case.flag),
            n_to_hold=to_hold(counted), now_us=answers.quick_as_of_us(), n_held=counted["held"],
            held_at=held_address(case), is_early=bool(check and check.verdict == "too_early"))

    def listed(self) -> Listed:
        """What the list is drawn from, as it is now."""
        answers, cases = self.answers, self.answers.cases()
        checks = {flag_id: answers.check(flag_id) for flag_id, case in cases.items()
                  if not case.is_closed}
        return Listed(flags=answers.flags(), cases=cases, now_us=answers.quick_as_of_us(),
                      checks={name: check for name, check in checks.items() if check})

    def list_now(self, here: str) -> list[Component]:
        """The list beside the case."""
        return case_list(self.listed(), here, self.clock)


def _register_steps(app: Dash, answers: Answers, asked: _Asked) -> None:
    fields = {name.replace("-", "_"): State(f"case-{name}", "value", allow_optional=True)
              for name in FIELDS}

    @app.callback(
        output={
            "said": Output("case-said", "children"), "ladder": Output("case-ladder", "children"),
            "log": Output("case-log", "children"), "check": Output("case-check", "children"),
            "pieces": Output("case-pieces", "children"), "list": Output("case-list", "children"),
            "marks": Output("case-marks", "children"),
        },
        inputs={"clicks": Input({"type": "case-do", "step": ALL}, "n_clicks"),
                "written": fields,
                "around": {"by": State(NAME_FIELD, "value"), "seen": State("case-seen", "data"),
                           "scheme": State("scheme", "data")}},
        prevent_initial_call=True,
    )
    def take(clicks: list[int | None], written: dict[str, Any], around: dict[str, Any]) -> Any:
        if not any(clicks) or not ctx.triggered_id or not answers.is_live:
            raise PreventUpdate
        (here, seen), step = around["seen"], str(ctx.triggered_id["step"])
        try:
            if not (around["by"] or "").strip():
                return _nothing_but(said=case_text.YOUR_NAME_NEEDED)
            said = _text(step, written)
            if asked_for := case_text.asked_for(step, said):
                return _nothing_but(said=asked_for)
            wanted = StepWanted(flag_id=here, step=step, text=said, seen=seen)
            answers.take_step(wanted, by=around["by"])
        except QcError as refused:
            told = log(here, answers.cases().get(here), asked.clock)
            return _nothing_but(said=text.with_capital(f"{refused}."), log=told)
        return _shown(answers, asked, here, step, around["scheme"])

    app.clientside_callback(
        ClientsideFunction("cases", "said"), Output("case-said", "title"),
        Input("case-said", "children"), prevent_initial_call=True)

    @app.callback(
        Output("case-log", "children", allow_duplicate=True),
        Output("case-list", "children", allow_duplicate=True), Input("case-tick", "n_intervals"),
        State("case-seen", "data"), prevent_initial_call=True,
    )
    def follow(_n: int | None, shown: list[Any]) -> Any:
        here, seen = shown
        case = answers.cases().get(here)
        if case is None or case.last == seen:
            raise PreventUpdate
        return log(here, case, asked.clock), asked.list_now(here)


def _text(step: str, written: dict[str, Any]) -> str:
    """What was written for a step: own words win over a choice."""
    if step == "cause":
        return str(written["cause_words"] or written["cause"] or "")
    return str(written.get(step) or "")


def _nothing_but(**changed: Any) -> dict[str, Any]:
    names = ("said", "ladder", "log", "check", "pieces", "list", "marks")
    return dict.fromkeys(names, no_update) | changed


def _shown(
    answers: Answers, asked: _Asked, here: str, step: str, scheme: str | None
) -> dict[str, Any]:
    """All that a step changes, and what is said of it."""
    case = answers.case(here)
    doing, clock, check = asked.doing(case), asked.clock, answers.check(here)
    what = text.kind_in_sentence(case.shown_kind)
    return {
        "said": done_words(step, doing), "ladder": ladder(doing, clock),
        "log": log(here, doing.case, clock),
        "check": check_panel(check, what, scheme or "light", clock,
                             there=comparison_address(case, check)),
        "pieces": pieces_panel(case, clock), "list": asked.list_now(here),
        "marks": marks(case.flag, doing.case, doing.now_us, clock),
    }


def _register_list(app: Dash, answers: Answers, asked: _Asked) -> None:
    # the buttons are drawn anew with the pieces: only the browser can tell that from a press
    app.clientside_callback(
        ClientsideFunction("cases", "take"), Output("case-form", "data"),
        *(Input(button, "n_clicks") for button in TAKES.values()), prevent_initial_call=True)
    app.clientside_callback(
        ClientsideFunction("cases", "taken"), Output("case-form", "clear_data"),
        Input("case-taking", "children"), prevent_initial_call=True)

    @app.callback(
        Output("case-file", "data"), Input("case-form", "data"), State("address", "search"),
        State("case-seen", "data"), prevent_initial_call=True,
        running=[(Output("case-taking", "children"), case_text.TAKING, "")],
    )
    def take_list(wanted: list[Any] | None, search: str | None, shown: list[Any] | None) -> Any:
        if not wanted or wanted[0] not in FORMS:
            raise PreventUpdate
        return _hold_file(answers, shown[0] if shown else asked.chosen(search), str(wanted[0]))


def _hold_file(answers: Answers, here: str, form: str) -> Any:
    document = hold_list(
        answers.case(here), shop_name=answers.shop.name, zone=answers.shop.zone,
        as_of_us=answers.slow_as_of_us(), now_us=answers.quick_as_of_us())
    content = RENDERERS[f".{form}"](document)
    if form in AS_BYTES:
        return dcc.send_bytes(content, f"hold-{here}.{form}", type=FORMS[form])
    return {"filename": f"hold-{here}.{form}", "content": content.decode("utf-8"),
            "type": FORMS[form]}
