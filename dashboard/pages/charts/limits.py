"""Beside the chart: how it is charted and why, what its limits come from, what they cost."""

from __future__ import annotations

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.page import name_field, one_from
from dashboard.components.states import cautions
from dashboard.components.tables import table
from dashboard.pages.charts.asking import left_out, with_left_out
from dashboard.pages.charts.panel import Shown
from dashboard.pages.charts.saying import days_said, points_said
from dashboard.text import charts as words
from dashboard.view import address
from qc.desk.stream_charts.advice import Advice
from qc.desk.stream_charts.chart import StreamChart
from qc.domain.stream_baselines import StreamBaseline

SLOW = 30
"""Points from which a change is seen slowly; proposed, no source."""
MOST_POINTS = 80
"""Points a list offers; of more the newest of the stretch."""


def how_panel(shown: Shown) -> Component:
    """The kinds of chart: the one shown, others that suit, and why the rest do not."""
    found = shown.found
    fitting = [one for one in found.kinds if one.fits]
    others = [one for one in found.kinds if not one.fits]
    return html.Section([
        html.H3(words.HOW_TITLE),
        html.Ul([_kind(shown, one) for one in fitting], className="charts-kinds"),
        html.Details([
            html.Summary(words.NOT_SUITED.format(n=len(others))),
            html.Ul([html.Li([html.Strong(words.KINDS[one.kind]), html.Span(one.why)])
                     for one in others], className="charts-unsuited"),
        ], className="numbers") if others else None,
        *_rules(found),
    ], className="paper")


def _kind(shown: Shown, one: Advice) -> Component:
    here = one.kind == shown.found.kind
    marks = [word for word, applies in ((words.ADVISED, one.advised), (words.SHOWN_NOW, here))
             if applies]
    head = [html.Strong(words.KINDS[one.kind]),
            html.Span(", ".join(marks), className="charts-marks") if marks else None]
    inside = [html.Span(head, className="charts-kind-head"), html.Span(one.why)]
    if here:
        return html.Li(html.Div(inside, className="charts-kind here"))
    where = "/charts" + address(shown.view, kind=one.kind, rules="", frozen="0" if not any(
        made.kind == one.kind for made in shown.found.history) else "")
    return html.Li(dcc.Link(inside, href=where, className="charts-kind"))


def _rules(found: StreamChart) -> list[Component]:
    """The rules that suit this chart, to be switched."""
    if not found.suiting:
        return [html.P(words.RULES_NONE, className="hint")]
    boxes = [dmc.Checkbox(value=name, label=text.with_capital(said), size="md",
                          description=text.with_capital(words.RULE_MEANS[name]))
             for name, said in found.suiting]
    return [dmc.CheckboxGroup(id="charts-rules", label=words.RULES_TITLE, value=list(found.rules),
                              children=boxes, className="charts-rules"),
            html.P(words.RULES_PRICE, className="hint")]


def cost_panel(shown: Shown) -> Component:
    """How long until a false signal, and until a stated change is seen."""
    run = shown.found.run
    if run is None:
        return html.Section([html.H3(words.COST_TITLE), html.P(words.COST_NONE)],
                            className="paper")
    fits = {one.kind for one in shown.found.kinds if one.fits} - {shown.found.kind}
    sooner = [name for kind, name in words.SOONER.items() if kind in fits]
    change = text.with_capital(run.change)
    if run.size is not None:
        change = words.COST_SIZE.format(change=change, size=shown.reading.value(run.size))
    return html.Section([
        html.H3(words.COST_TITLE),
        html.P(words.COST_CALM.format(points=points_said(run.calm_points),
                                      days=days_said(run.calm_days))),
        html.P(words.COST_MOVED.format(
            change=change, points=points_said(run.points),
            days=days_said(run.days), late=points_said(run.late))),
        html.P(words.COST_SLOW.format(others=words.SOONER_OR.join(sooner)))
        if sooner and run.points > SLOW else None,
        html.P(words.COST_SOURCE.format(method=run.method), className="source"),
    ], className="paper")


def base_panel(shown: Shown, *, can_freeze: bool) -> Component:
    """What the limits come from, judged; choosing it, leaving points out, freezing it."""
    found = shown.found
    if found.frozen is not None:
        parts = _frozen(shown, found.frozen)
    elif found.stretch is None:
        parts = [*_left_over(shown), _another_stretch(is_open=True)]
    else:
        parts = [*_stretch(shown), *_choosing(shown),
                 _freezing(shown) if can_freeze else html.P(words.LOOKS_BACK)]
    if found.frozen is None and any(one.kind == found.kind for one in found.history):
        parts.append(dcc.Link(words.BASE_BACK, href="/charts" + address(
            shown.view, frozen="", base="", out="")))
    earlier = [one for one in found.history if one is not found.frozen]
    if earlier:
        parts.append(_earlier(shown, earlier))
    return html.Section([html.H3(words.BASE_TITLE), *(one for one in parts if one is not None)],
                        className="paper charts-base")


def _stretch(shown: Shown) -> list[Component | None]:
    found, reading = shown.found, shown.reading
    stretch, judged = found.stretch, found.judgement
    if stretch is None or judged is None:
        return []
    said = words.BASE_BY[stretch.by].format(
        n=formats.count(stretch.n),
        stretch=f"{reading.point(stretch.first)} to {reading.point(stretch.last)}")
    lines = list(stretch.why)
    lines += [words.BASE_AGAINST.format(words=one) for one in judged.against]
    if judged.fit:
        lines.append(words.BASE_FIT)
    if judged.signals:
        lines.append(words.BASE_SIGNALS.format(points=_listed(reading.point(at)
                                                              for at in judged.signals)))
    if stretch.steps:
        lines.append(words.BASE_MOVED.format(days=_listed(reading.point(at)
                                                          for at in stretch.steps)))
    outs = [html.Li([words.OUT_NOW.format(point=reading.point(one.at), cause=one.reason), " ",
                     dcc.Link(words.OUT_BACK, href="/charts" + _without(shown, one.at))])
            for one in stretch.excluded]
    return [html.P(said, className="baseline-now"), _unlooked(shown),
            html.Ul([*(html.Li(line) for line in lines), *outs], className="reasons"),
            _back(shown) if stretch.by == "chosen" else None]


def _left_over(shown: Shown) -> list[Component | None]:
    """Where there are no limits: why stands above; what was chosen can be taken back."""
    return [html.P(words.NO_LIMITS, className="baseline-now"), _unlooked(shown),
            _back(shown) if shown.view.base else None]


def _back(shown: Shown) -> Component:
    return dcc.Link(words.BASE_PROPOSE, href="/charts" + address(shown.view, base="", out=""))


def _unlooked(shown: Shown) -> Component | None:
    """Said until the flags are there; the browser takes it away then."""
    return html.P(words.BASE_UNLOOKED, id="charts-unlooked", className="hint") if (
        shown.flags is None) else None


def _without(shown: Shown, at: int) -> str:
    key = shown.found.points.key(at)
    return with_left_out(shown.view, [row for row in left_out(shown.view) if row[0] != key])


def _choosing(shown: Shown) -> list[Component | None]:
    """Another stretch by days, and a point to leave out with its cause."""
    found, reading = shown.found, shown.reading
    stretch, judged = found.stretch, found.judgement
    if stretch is None or judged is None:
        return []
    gone = {one.at for one in stretch.excluded}
    inside = [at for at in range(stretch.first, stretch.last + 1) if at not in gone]
    order = [*(at for at in judged.signals if at not in gone), *reversed(inside)]
    offered = tuple({found.points.key(at): reading.point(at) for at in order[:MOST_POINTS]}.items())
    return [
        _another_stretch(is_open=False),
        html.Details([
            html.Summary(words.OUT_TITLE), html.P(words.OUT_LEAD, className="hint"),
            html.Div([
                one_from("charts-out-point", words.OUT_POINT, offered, offered[0][0]),
                dmc.TextInput(id="charts-out-cause", label=words.OUT_CAUSE, size="md", radius="sm",
                              className="choice"),
                html.Button(words.OUT_TAKE, id="charts-out", className="button", type="button"),
            ], className="choices"),
        ], className="numbers"),
    ]


def _another_stretch(*, is_open: bool) -> Component:
    """The days of a stretch chosen by hand."""
    return html.Details([
        html.Summary(words.BASE_CHOOSE),
        html.Div([
            dmc.TextInput(id="charts-from", label=words.BASE_FROM, size="md", radius="sm",
                          placeholder=words.BASE_DAY_HINT, className="choice"),
            dmc.TextInput(id="charts-until", label=words.BASE_UNTIL, size="md", radius="sm",
                          placeholder=words.BASE_DAY_HINT, className="choice"),
            html.Button(words.BASE_TAKE, id="charts-take", className="button", type="button"),
        ], className="choices"),
    ], className="numbers", open=is_open)


def _freezing(shown: Shown) -> Component:
    judged = shown.found.judgement
    flagged = judged.flagged if judged is not None else 0
    return html.Div([
        cautions((words.FREEZE_FLAGGED.format(n=flagged),)) if flagged else None,
        html.P(words.FREEZE_UNLOOKED, id="charts-freeze-unlooked", className="hint")
        if shown.flags is None else None,
        name_field(radius="sm", className="choice"),
        dmc.TextInput(id="charts-why", label=words.FREEZE_WHY, size="md", radius="sm",
                      className="choice baseline-why"),
        html.Button(words.FREEZE, id="charts-freeze", className="button", type="button"),
        html.P(words.FREEZE_MEANS, className="baseline-means"),
    ], className="choices charts-freeze")


def _frozen(shown: Shown, frozen: StreamBaseline | None) -> list[Component | None]:
    """Limits that were frozen, with what was known then."""
    if frozen is None:
        return []
    clock, evidence = shown.clock, frozen.evidence
    against = evidence.get("against", [])
    outs = [words.BASE_FROZEN_OUT.format(what=clock.day(int(one["start_us"])), cause=one["cause"])
            for one in evidence.get("excluded", [])]
    unlooked = (words.FROZEN_UNLOOKED,) if evidence.get("flags_looked_at") is False else ()
    newer = [one for one in shown.found.history
             if one.kind == frozen.kind and one.number > frozen.number]
    return [
        html.P(words.BASE_FROZEN.format(
            day=clock.day(frozen.decided_at_us), by=frozen.by, why=frozen.why,
            stretch=_span(shown, frozen), n=formats.count(evidence.get("n_points", 0))),
            className="baseline-now"),
        html.P(words.BASE_READING) if newer else None,
        html.Ul([html.Li(words.BASE_FROZEN_AGAINST.format(words="; ".join(against)))
                 if against else html.Li(words.BASE_FIT),
                 *(html.Li(line) for line in (*unlooked, *outs))],
                className="reasons"),
        dcc.Link(words.BASE_NEW, className="button",
                 href="/charts" + address(shown.view, frozen="0", kind=frozen.kind, base="",
                                          out="")),
    ]


def _span(shown: Shown, frozen: StreamBaseline) -> str:
    return f"{shown.clock.day(frozen.from_us)} to {shown.clock.day(frozen.until_us - 1)}"


def _earlier(shown: Shown, history: list[StreamBaseline]) -> Component:
    rows = [
        (shown.clock.day(one.decided_at_us), words.KINDS[one.kind], _span(shown, one), one.by,
         one.why, dcc.Link(words.BASE_READ, href="/charts" + address(
             shown.view, frozen=str(one.number), kind=one.kind, base="", out="")))
        for one in reversed(history)]
    return html.Div([html.H4(words.BASE_EARLIER),
                     table(words.BASE_EARLIER_HEADS, rows, label=words.BASE_EARLIER)])


def _listed(names: object, most: int = 6) -> str:
    said = list(names)  # type: ignore[call-overload]
    more = f" and {len(said) - most} more" if len(said) > most else ""
    return ", ".join(said[:most]) + more
