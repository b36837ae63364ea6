"""Before and after a moment: the choices, the figure, and what can and cannot be said."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.charts import chart_box, drawn
from dashboard.components.page import one_from, one_of
from dashboard.components.states import cautions, notice, waiting
from dashboard.components.tables import table
from dashboard.figures.before_after import before_after_figure
from dashboard.formats import Clock
from dashboard.text import trends as words
from dashboard.view import ANY_DEFECT, TrendsView, records_address
from qc.desk.before_after import BeforeAfter, Side
from qc.domain.instants import from_us, to_us


def compared_section(view: TrendsView) -> Component:
    """The section before its content."""
    return html.Section([
        html.H2(words.BEFORE_AFTER_HEADING, id="before-after"),
        html.Div([
            dmc.DateInput(id="trends-at", label=words.AT_LABEL, valueFormat="DD MMM YYYY",
                          size="md", radius="sm", className="choice", clearable=False),
            one_of("trends-span", words.SPAN_LABEL, tuple(words.SPAN_WORDS.items()), view.span),
            one_from("trends-of", words.OF_LABEL, of_choices(()), view.of or "all"),
        ], className="choices"),
        html.Div(waiting(300), id="trends-compared"),
    ], className="section")


def of_choices(levels: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """What the comparison can be narrowed to, as values and words."""
    return (("all", text.with_capital(words.OF_ALL)),
            *((f"{factor}:{level}", words.OF_GROUPS[factor].format(level))
              for factor, level in levels))


def shown_day(moment_us: int, clock: Clock) -> str:
    """The day of a moment, as the date box holds it."""
    return from_us(moment_us, clock.zone).date().isoformat()


def chosen_us(day: str | None, shown_us: int, clock: Clock) -> int:
    """The moment a day in the box stands for: its midnight, unless it is the day already shown."""
    if not day or day[:10] == shown_day(shown_us, clock):
        return shown_us
    midnight = datetime.combine(date.fromisoformat(day[:10]), time(), tzinfo=clock.zone)
    return to_us(midnight)


def compared_panel(
    found: BeforeAfter, moment_us: int, scheme: str, clock: Clock
) -> Component:
    """Both stretches and what they say."""
    what, of = text.kind_in_sentence(found.of.kind), words.narrowed_words(found.of)
    said = words.before_after_words(found)
    if not found.before.n_pieces or not found.after.n_pieces:
        return notice(words.BA_EMPTY_TITLE, said)
    title = words.BA_TITLE.format(what=what, of=of, when=clock.minute(moment_us))
    links = {name: _records(found, side) for name, side in
             (("before", found.before), ("after", found.after))}
    return chart_box(
        drawn("compared", before_after_figure(found, scheme, links=links),
              label=f"{title}. {said}", opens=True),
        title=title, unit=words.BA_UNIT, description=said, source=found.source,
        table=_table(found, links, title, clock),
        extra=cautions(words.before_after_cautions(found)))


def _records(found: BeforeAfter, side: Side) -> str:
    of = found.of
    levels = [(of.factor, of.level)] if of.factor is not None else []
    return records_address(levels, kind=of.kind or ANY_DEFECT, since_us=side.stretch.from_us,
                           until_us=side.stretch.until_us, first=True)


def _table(found: BeforeAfter, links: dict[str, str], title: str, clock: Clock) -> Component:
    rows: list[tuple[Any, ...]] = []
    for name, side in (("before", found.before), ("after", found.after)):
        span = clock.span(side.stretch.from_us, side.stretch.until_us)
        rows.append((
            words.BA_PERIODS[name].format(span), formats.count(side.n_pieces),
            formats.count(side.n_defective), formats.share(side.share),
            formats.share_range(side.low or 0.0, side.high or 0.0),
            dcc.Link(text.OPEN_RECORDS, href=links[name])))
    compared = found.comparison
    if compared.n_inspected:
        ratio = compared.ratio
        rows.append((
            words.BA_ADJUSTED, formats.count(compared.n_inspected),
            formats.count(compared.n_defective), formats.times(ratio.value),
            formats.times_range(ratio.low, ratio.high), ""))
    return table(words.BA_HEADS, rows, label=title, numeric=(1, 2, 3, 4))
