"""The first run: four steps from an empty store to the first record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.components.attributes import UNSEEN, named
from dashboard.components.page import page_link
from dashboard.components.states import cautions, danger
from dashboard.pages.setup.fields import GUIDE, list_field, setting_field
from dashboard.pages.setup.layout import who_field
from dashboard.text import setup as setup_text
from qc.desk.first_run import STEPS, FirstRun
from qc.desk.house_settings import SettingShown
from qc.desk.lists import FormField
from qc.domain.platens import HOT_PLATEN_CAUTION

SHOP_SETTINGS = ("shop_name", "timezone", "temperature_unit", "length_unit", "pressure_unit")
FIELDS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "press": {"presses": ("press",)},
    "material": {"fabrics": ("fabric",), "transfers": ("transfer",)},
}
"""The fields that each step asks for, by list."""
RECIPE = ("temperature_c", "dwell_s", "pressure_class", "peel")
"""What a first recipe may say; all of it optional."""
ON_THE_WAY = ("/records",)
"""Pages where the last step is taken: no more needs saying there."""


def guide(
    run: FirstRun, settings: Sequence[SettingShown], fields: Mapping[str, FormField],
    too_hot: tuple[str, ...] = (),
) -> Component:
    """The steps: those done, the one to take now, those after it. ``fields`` by list and name;
    ``too_hot``: what is to be said of the recipes kept so far."""
    rungs = [_rung(step, run, _means(step, settings, fields, too_hot)) for step in STEPS]
    return html.Section([
        html.H2(setup_text.GUIDE_TITLE),
        html.P(setup_text.GUIDE_LEAD, className="lead"), who_field(),
        html.Ol(rungs, className="guide-steps"),
        html.Div(id="guide-said", role="status", className="said"),
        html.P([setup_text.GUIDE_DEMO, " ", html.Code(setup_text.GUIDE_DEMO_COMMAND)],
               className="hint"),
    ], className="paper guide", **named(setup_text.GUIDE_TITLE))


def guide_link(run: FirstRun) -> Component:
    """One line for the other pages: how far it is, and the way on."""
    step = run.next_step
    words = setup_text.GUIDE_LINK.format(n=STEPS.index(step) + 1,
                                         step=setup_text.GUIDE_STEPS[step].lower())
    return html.Div([html.P(words), dcc.Link(setup_text.GUIDE_GO, href="/setup",
                                             className="button do")],
                    className="paper guide-link")


def _rung(step: str, run: FirstRun, means: list[Any]) -> Component:
    done, now = step in run.done, step == run.next_step
    state = (setup_text.GUIDE_DONE if done else setup_text.GUIDE_NEXT if now
             else setup_text.GUIDE_LATER)
    shape = "●" if done else "◆" if now else "○"
    head = html.H3([html.Span(shape, className="rung-mark", **UNSEEN),
                    setup_text.GUIDE_STEPS[step], html.Small(state)])
    return html.Li([head, html.Div(means) if now else None],
                   className="guide-step" + (" done" if done else "") + (" now" if now else ""))


def _means(
    step: str, settings: Sequence[SettingShown], fields: Mapping[str, FormField],
    too_hot: tuple[str, ...],
) -> list[Any]:
    """What a step asks for, and the button that keeps it."""
    if step == "record":
        return [cautions(too_hot), html.P(setup_text.GUIDE_RECORD), html.Div([
            page_link(setup_text.GUIDE_BENCH, "/bench", className="button do"),
            dcc.Link(setup_text.GUIDE_RECORDS, href="/records", className="button"),
        ], className="takes")]
    keep = html.Button(setup_text.GUIDE_KEEP, type="button", className="button do",
                       id={"type": "guide-do", "step": step})
    if step == "shop":
        mine = [one for name in SHOP_SETTINGS for one in settings if one.setting.name == name]
        return [html.Div([setting_field(one, GUIDE) for one in mine], className="setup-fields"),
                keep]
    asked = [list_field(fields[f"{kind}.{name}"], GUIDE,
                        likely=setup_text.GUIDE_LIKELY[name])
             for kind, names in FIELDS[step].items() for name in names]
    return [html.Div(asked, className="setup-fields"),
            _recipe(fields) if step == "material" else
            html.P(setup_text.GUIDE_PRESS_HELP, className="hint"), keep]


def _recipe(fields: Mapping[str, FormField]) -> Component:
    return html.Details([
        html.Summary(setup_text.GUIDE_RECIPE),
        html.P(setup_text.GUIDE_RECIPE_HELP, className="hint"),
        html.Div([list_field(fields[f"recipes.{name}"], GUIDE) for name in RECIPE],
                 className="setup-fields"),
        danger(HOT_PLATEN_CAUTION),
    ], className="anew")
