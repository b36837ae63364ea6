"""The settings in their groups, what was changed, and what the alarm budget costs."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.states import notice, waiting
from dashboard.components.tables import table
from dashboard.formats import Clock
from dashboard.pages.setup.fields import setting_field
from dashboard.text import setup as setup_text
from qc.desk.budget_cost import BudgetCost, BudgetCosts
from qc.desk.house_settings import SettingShown, SettingStep
from qc.domain.flags import StreamDelay

MOST_STREAMS = 20
ZONE_GROUP = "timezone"


def settings_part(shown: Sequence[SettingShown], *, can_act: bool) -> list[Component]:
    """Every group with its own button."""
    by_name = {one.setting.name: one for one in shown}
    return [_group(heading, [by_name[name] for name in names], can_act=can_act)
            for heading, names in setup_text.SETTING_GROUPS.items()]


def budget_part(shown: Sequence[SettingShown], *, can_act: bool) -> list[Component]:
    """The alarm budget, and the place of what it costs, which takes a while to work out."""
    by_name = {one.setting.name: one for one in shown}
    mine = [by_name[name] for name in setup_text.BUDGET_SETTINGS]
    return [_group("", mine, can_act=can_act), html.Div(waiting(320), id="setup-cost")]


def _group(heading: str, shown: Sequence[SettingShown], *, can_act: bool) -> Component:
    names = [one.setting.name for one in shown]
    return html.Section([
        html.H3(heading) if heading else None,
        html.Div([setting_field(one) for one in shown], className="setup-fields"),
        html.P(setup_text.ZONE_CAUTION, className="hint") if ZONE_GROUP in names else None,
        html.Button(setup_text.KEEP_SETTINGS, type="button", className="button do",
                    disabled=not can_act,
                    id={"type": "setup-keep", "group": " ".join(names)}),
    ], className="paper setup-form")


def history(steps: Sequence[SettingStep], names: Sequence[str], clock: Clock) -> Component:
    """What was changed of these settings, newest first."""
    mine = [step for step in steps if step.name in names]
    if not mine:
        return html.P(setup_text.SETTINGS_HISTORY_NONE, className="hint")
    rows = [(clock.minute(step.at_us), setup_text.SETTING_LABELS[step.name],
             _before(step), _shown(step.after), step.by) for step in mine]
    inside = table(setup_text.SETTINGS_HEADS, rows, label=setup_text.SETTINGS_HISTORY)
    return html.Section([html.H3(setup_text.SETTINGS_HISTORY), inside], className="paper")


def _before(step: SettingStep) -> str:
    shown = _shown(step.before)
    return setup_text.AS_IT_CAME.format(value=shown) if step.was_default else shown


def _shown(value: str) -> str:
    return setup_text.CHOICE_WORDS.get(value, value) or setup_text.NOTHING_SAID


def cost_panel(costs: BudgetCosts, *, can_act: bool) -> Component:
    """What the choice in force costs, beside others, and stream by stream."""
    chosen = costs.chosen
    if not costs.streams:
        return notice(setup_text.COST_TITLE, setup_text.COST_UNKNOWN.format(
            false=f"{chosen.false_flags_per_week:g}",
            every=text.every_so_often(chosen.false_flags_per_week)))
    words = setup_text.COST_WORDS.format(
        false=f"{chosen.false_flags_per_week:g}", streams=formats.count(costs.n_streams),
        every=text.every_so_often(chosen.false_flags_per_week), days=_days(chosen.days))
    rows = [(f"{one.false_flags_per_week:.3g}", text.every_so_often(one.false_flags_per_week),
             _days(one.days), setup_text.COST_CHOSEN if one.is_chosen else _take(one, can_act))
            for one in costs.choices]
    return html.Section([
        html.H3(setup_text.COST_TITLE), html.P(words, className="check-words"),
        table(setup_text.COST_HEADS, rows, label=setup_text.COST_TITLE),
        _streams(costs.streams), html.P(setup_text.COST_SOURCE, className="source"),
    ], className="paper")


def _take(one: BudgetCost, can_act: bool) -> Component | str:
    """A tap that writes a choice into the form."""
    if not can_act:
        return ""
    per_week = f"{one.false_flags_per_week:g}"
    return html.Button(setup_text.COST_TAKE.format(per_week=per_week), type="button",
                       className="as-button", id={"type": "setup-take", "value": per_week})


def _streams(streams: Sequence[StreamDelay]) -> Component:
    shown = streams[:MOST_STREAMS]
    rows = [(text.factor_name(one.factor, one.level), text.kind_name(one.kind),
             f"{one.expected_per_day:.2g}", _days(one.days)) for one in shown]
    note = setup_text.MOST_STREAMS_NOTE.format(n=len(shown), total=formats.count(len(streams)))
    return html.Details([
        html.Summary(setup_text.COST_STREAMS), html.P(note, className="hint"),
        table(setup_text.STREAM_HEADS, rows, label=setup_text.COST_STREAMS, numeric=(2,)),
    ], className="numbers")


def _days(days: float | None) -> str:
    if days is None:
        return setup_text.COST_LATER
    return setup_text.DAY if days == 1 else setup_text.DAYS.format(n=formats.days(days))
