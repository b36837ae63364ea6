"""The chart itself with its verdict, its numbers, and what each point says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN
from dashboard.components.charts import chart_box, drawn
from dashboard.components.states import cautions, mark, notice
from dashboard.components.tables import table
from dashboard.figures.stream_chart import Drawn, Shaded, stream_figure
from dashboard.formats import Clock
from dashboard.pages.charts.asking import point_link
from dashboard.pages.charts.saying import Reading, tone_of
from dashboard.text import charts as words
from dashboard.view import ChartsView, address
from qc.desk.charting import Chart
from qc.desk.stream_charts.chart import StreamChart
from qc.desk.stream_charts.filed import which_values
from qc.desk.stream_charts.points import GapPoints, Points
from qc.domain.flags import Flag

MOST_SAID = 12
MOST_ROWS = 60
"""Rows of the numbers on the page, the newest; the file has all. A page draws each cell by itself,
so that thousands of them would hold it up."""
CUSUM_SIGN = {0: 1.0, 1: -1.0}
"""The sum of what lies below is drawn below: both sides in one picture."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """All that the page shows of a stream. ``flags`` : those that touch it, None while they are
    still being looked for. ``not_here`` : what the address names and the shop does not have."""

    found: StreamChart
    view: ChartsView
    scheme: str
    clock: Clock
    flags: tuple[Flag, ...] | None = ()
    not_here: tuple[str, ...] = ()

    @property
    def flags_mark(self) -> str:
        """What of the flags is on the page: empty while they are still being looked for."""
        if self.flags is None:
            return ""
        return " ".join(f"{one.id}:{one.changed_at_us}:{one.ended_at_us}"
                        for one in self.flags) or "none"

    @property
    def reading(self) -> Reading:
        return Reading(found=self.found, clock=self.clock)


def missing_panel(shown: Shown) -> Component:
    """What is said where there are no limits."""
    return notice(words.NO_LIMITS_TITLE if shown.found.kinds else words.MISSING_TITLE,
                  " ".join(shown.found.missing),
                  *([] if shown.view.period == "all" else [
                      dcc.Link(words.MISSING_LINK, className="button",
                               href="/charts" + address(shown.view, period="all"))]))


def chart_panel(shown: Shown) -> Component:
    """The chart in its frame, with the second statistic where there is one."""
    found, reading = shown.found, shown.reading
    if found.chart is None:
        return missing_panel(shown)
    name, verdict = reading.title, verdict_words(shown)
    figure = stream_figure(_main(shown), shown.scheme, shown.clock, found.points.start_us,
                           labels=_tick_labels(found.points))
    extra = [_second(shown), cautions(found.cautions)]
    return html.Div([
        html.P(mark(*_tone(found), large=True), className="charts-verdict"),
        chart_box(
            drawn("stream", figure, label=f"{name}. {verdict}", opens=True), title=name,
            unit=reading.unit, description=verdict, source=source_line(shown),
            table=_numbers(shown), extra=html.Div([one for one in extra if one is not None]),
            saves=_saving(shown)),
    ])


def source_line(shown: Shown) -> str:
    """Method, if there is a chart, and data, below it."""
    found, clock = shown.found, shown.clock
    method = (f"{text.with_capital(found.chart.source)}.",) if found.chart is not None else ()
    first, last = (clock.day(int(found.points.start_us[k])) for k in (0, -1))
    data = words.SOURCE_DATA.format(n=formats.count(len(found.points)), first=first, last=last)
    return " ".join([*method, *found.notes, data])


def verdict_words(shown: Shown) -> str:
    """What the chart says, in one or two sentences."""
    found, reading = shown.found, shown.reading
    n, of = len(signalling(found)), len(found.points)
    said = words.CALM if n == 0 else words.SIGNALS_ONE.format(of=of) if n == 1 else (
        words.SIGNALS.format(n=n, of=of))
    change = found.change
    if change is None:
        return said
    if n == 0:
        said = words.MOVED
    if change.first is None or change.last is None or change.first == change.last:
        began = words.CHANGE_AT.format(at=reading.point(change.at))
    else:
        began = words.CHANGE_SURE.format(at=reading.point(change.at),
                                         first=reading.point(change.first),
                                         last=reading.point(change.last))
    return f"{said} {began}"


def signalling(found: StreamChart) -> list[int]:
    """Positions at which any of the statistics signals."""
    if found.chart is None:
        return []
    at = [part.at[part.signals != 0] for part in found.chart.charts]
    return [int(k) for k in np.unique(np.concatenate(at))]


def _tone(found: StreamChart) -> tuple[str, str]:
    n = len(signalling(found))
    if n:
        return "alarm", words.SIGNALS_ONE.format(of=len(found.points)) if n == 1 else (
            words.SIGNALS.format(n=n, of=len(found.points)))
    if found.change is not None:
        return "watch", words.MOVED
    return "calm", words.CALM


def _main(shown: Shown) -> Drawn:
    """The main statistic; both sums of a CUSUM together, what lies below drawn below."""
    found = shown.found
    part = _part(shown, 0)
    if found.kind != "cusum" or found.chart is None:
        return part
    low = _part(shown, 1)
    larger = low.value > part.value
    return Drawn(
        at=part.at, value=np.where(larger, -low.value, part.value), lower=-low.upper,
        upper=part.upper, centre=np.zeros(len(part.at)), links=part.links, base=part.base,
        tone=tuple(("below" if b else "above") if one or other else "" for one, other, b in
                   zip(part.tone, low.tone, larger, strict=True)),
        hover=tuple(b if lower else a for a, b, lower in
                    zip(part.hover, low.hover, larger, strict=True)),
        left_out=part.left_out, change=part.change, shaded=part.shaded, suffix=part.suffix)


def _part(shown: Shown, k: int) -> Drawn:
    found, reading = shown.found, shown.reading
    chart = _chart(found, k)
    factor, stretch = reading.factor, found.stretch
    centre = chart.centres if chart.centres is not None else np.full(len(chart.value), chart.centre)
    change = found.change
    return Drawn(
        at=chart.at, value=chart.value * factor, lower=chart.lower * factor,
        upper=chart.upper * factor, centre=centre * factor,
        tone=tuple(tone_of(chart, i) for i in range(len(chart.value))),
        hover=tuple(_hover(reading, chart, i) for i in range(len(chart.value))),
        links=tuple(point_link(found, int(at) - 1) for at in chart.at),
        centre_name=words.CENTRE_MIX if reading.kind.startswith("mix") else words.CENTRE,
        base=None if stretch is None else (stretch.first, stretch.last),
        left_out=() if stretch is None else tuple(one.at for one in stretch.excluded),
        change=None if change is None else (
            change.first or change.at, change.at, change.last or change.at),
        shaded=tuple(shaded(shown)), suffix=f"{formats.THIN}{reading.symbol}",
        from_zero=reading.is_share or reading.kind in ("g", "u", "u-prime", "mix-u", "t2", "mewma"))


def _chart(found: StreamChart, k: int) -> Chart:
    if found.chart is None:
        raise ValueError("there is no chart")
    return found.chart.charts[k]


def _hover(reading: Reading, chart: Chart, i: int) -> str:
    at = int(chart.at[i])
    lines = [f"<b>{reading.point(at)}</b>", f"{reading.value(chart.value[i])}"
             f" ({reading.limits(chart.lower[i], chart.upper[i])})", reading.size(at),
             reading.says(chart, i)]
    return "<br>".join(line for line in lines if line)


def shaded(shown: Shown) -> list[Shaded]:
    """The stretch of each flag among the points."""
    found, starts = [], shown.found.points.start_us
    for k, flag in enumerate(shown.flags or (), start=1):
        end = flag.ended_at_us
        first = int(np.searchsorted(starts, flag.changed_at_us, side="right"))
        last = len(starts) if end is None else int(np.searchsorted(starts, end, side="right"))
        if last >= max(first, 1) and len(starts):
            found.append(Shaded(first=max(first, 1), last=last,
                                name=case_mark(flag, k)))
    return found


def case_mark(flag: Flag, n: int) -> str:
    """How a flag is named in the chart."""
    return (words.CASE_MARK if flag.is_open else words.ENDED_MARK).format(n=n)


def _second(shown: Shown) -> Component | None:
    """The statistic that goes with the main one: moving ranges, or the spread within."""
    found = shown.found
    if found.chart is None or len(found.chart.charts) < 2 or found.kind == "cusum":
        return None
    part = _part(shown, 1)
    name = words.SECOND.get(_chart(found, 1).name, text.with_capital(_chart(found, 1).name))
    figure = stream_figure(
        Drawn(at=part.at, value=part.value, lower=part.lower, upper=part.upper, centre=part.centre,
              tone=part.tone, hover=part.hover, links=part.links, suffix=part.suffix,
              from_zero=True),
        shown.scheme, shown.clock, found.points.start_us, height=230,
        labels=_tick_labels(found.points))
    figure.update_layout(showlegend=False)
    n = int((_chart(found, 1).signals != 0).sum())
    label = f"{name}. {words.CALM if n == 0 else words.SIGNALS.format(n=n, of=len(part.at))}"
    return html.Div([html.H4(name), drawn("stream-second", figure, label=label, opens=True)],
                    className="charts-second")


def says_panel(shown: Shown) -> Component | None:
    """Each point that signals: what it says, and its records."""
    found = shown.found
    if found.chart is None:
        return None
    rows = [_says_row(shown, at) for at in reversed(signalling(found))]
    more = () if len(rows) <= MOST_SAID else (
        words.SAYS_MORE.format(shown=MOST_SAID, n=len(rows)),)
    none = words.SAYS_NONE if found.change is None else words.SAYS_MOVED
    inside: list[Component] = [html.P(none)] if not rows else [
        table(words.SAYS_HEADS, rows[:MOST_SAID], label=words.SAYS_TITLE, numeric=(1, 2)),
        *(html.P(line, className="hint") for line in more)]
    return html.Section([html.H3(words.SAYS_TITLE), *inside], className="paper")


def _says_row(shown: Shown, at: int) -> tuple[str | Component, ...]:
    """A point with what each statistic says; the value is that of the first that signals."""
    found, reading = shown.found, shown.reading
    said, value, limits = [], "", ""
    for k in range(len(found.chart.charts) if found.chart is not None else 0):
        part = _chart(found, k)
        i = at - part.first_at
        if not 0 <= i < len(part.value) or not part.signals[i]:
            continue
        what = reading.says(part, i)
        if k and found.kind != "cusum":
            name = words.SECOND.get(part.name, part.name)
            what = words.SECOND_SAYS.format(name=name, says=what)
        which = which_values(found, at)
        said.append(text.with_capital(f"{what}: {which}" if which else what))
        value = value or reading.value(part.value[i])
        limits = limits or reading.limits(part.lower[i], part.upper[i])
    return (reading.point(at), value, limits, ". ".join(said),
            dcc.Link(words.OPEN, href=point_link(found, at - 1)))


def _numbers(shown: Shown) -> Component:
    """The numbers of the main statistic, the newest first."""
    found, reading, part = shown.found, shown.reading, _chart(shown.found, 0)
    centre = part.centres if part.centres is not None else np.full(len(part.value), part.centre)
    rows = [
        (reading.point(int(part.at[i])), reading.size(int(part.at[i])),
         reading.value(part.value[i]), reading.value(centre[i]),
         reading.limits(part.lower[i], part.upper[i]), reading.says(part, i),
         dcc.Link(words.OPEN, href=point_link(found, int(part.at[i]) - 1)))
        for i in reversed(range(max(len(part.value) - MOST_ROWS, 0), len(part.value)))]
    heads = (text.with_capital(_point_name(found.points)),
             words.HEAD_N.get(found.stream.subject, words.HEADS[0]), *words.HEADS[1:])
    shown_rows = table(heads, rows, label=reading.title, numeric=(1, 2, 3, 4))
    if len(part.value) <= MOST_ROWS:
        return shown_rows
    more = words.NUMBERS_MORE.format(shown=MOST_ROWS, n=formats.count(len(part.value)))
    return html.Div([html.P(more, className="hint"), shown_rows])


def _tick_labels(points: Points) -> tuple[str, ...]:
    """Names for the axis where points are things, not times."""
    return points.labels if points.stream.step in ("job", "piece") else ()


def _point_name(points: Points) -> str:
    return "run" if isinstance(points, GapPoints) else words.STEPS[points.stream.step]


def _saving(shown: Shown) -> Component:
    """The chart as a picture and its numbers as a file, with what the page shows."""
    search = address(shown.view)
    return html.Div([html.Span(text.SAVE, **UNSEEN), *(
        html.A(name, href=f"/charts/stream.{form}{search}", download=f"chart.{form}",
               className="save") for form, name in text.SAVE_FORMS.items())], className="saves")
