"""Charts: any stream as a control chart, with what its limits rest on."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.page import one_from, page
from dashboard.components.states import waiting
from dashboard.text import charts as words
from dashboard.view import ChartsView, read_view
from qc.desk.stream_charts.choices import Offered
from qc.domain.streams import STEPS, SUBJECTS, Stream

CHOICES = ("what", "of", "by", "level", "platen", "step", "period")
ANY = "any"
"""What a list shows for any defect, and for the whole shop."""


def layout(search: str) -> Component:
    """The page before its content."""
    view = read_view(ChartsView, search)
    labels = {"what": words.SUBJECT_LABEL, "of": words.OF_LABELS[view.what],
              "by": words.BY_LABEL, "level": words.LEVEL_LABEL, "platen": words.PLATEN_LABEL,
              "step": words.STEP_LABEL, "period": words.PERIOD_LABEL}
    start = {name: getattr(view, name) or ANY for name in CHOICES}
    choices = [
        html.Div(one_from(f"charts-{name}", labels[name], _first(name, start[name]), start[name]),
                 id=f"charts-{name}-box", hidden=name in ("platen",) and not view.platen)
        for name in CHOICES]
    return page(
        "/charts",
        html.Section([html.H2(words.QUESTIONS, className="unseen"),
                      html.Div(choices, className="choices charts-questions")]),
        html.Div(waiting(620), id="charts-body"),
        html.P(id="charts-said", className="said", role="status"),
        dcc.Store(id="charts-followed"), dcc.Store(id="charts-whole"),
        dcc.Store(id="charts-flags-ready"), dcc.Store(id="charts-drawn"),
        dcc.Store(id="charts-on-page"),
        name="charts",
    )


def _first(name: str, value: str) -> tuple[tuple[str, str], ...]:
    """What a list holds before the shop has answered: what it starts with."""
    known = {"what": words.SUBJECTS, "period": text.PERIOD_WORDS}.get(name)
    if known is not None:
        return tuple(known.items())
    return ((value, words.STEPS.get(value, text.with_capital(value.replace("_", " ")))),)


def options(stream: Stream, there: Offered) -> dict[str, list[tuple[str, str]]]:
    """What each list offers for a whole stream."""
    subject = stream.subject
    names = words.CHECKED if subject == "check" else words.MEASURES
    of = [(code or ANY, text.with_capital(text.ALL_WORK) if not code else text.kind_name(code))
          for code in there.measures_of(stream)] if subject == "defects" else [
        (name, names[name]) for name in there.measures_of(stream)]
    levels = [(level, text.with_capital(text.level_name(stream.by, level))
               if stream.by in ("zone", "location") else level)
              for level in dict.fromkeys((*there.levels_of(stream), stream.level)) if level]
    return {
        "what": [(name, words.SUBJECTS[name]) for name in SUBJECTS], "of": of,
        "by": [(name, text.with_capital(text.DIMENSION_WORDS[name]))
               for name in there.works_of(subject)],
        "level": levels if stream.by != "shop" else [],
        "platen": [(name, text.with_capital(name))
                   for name in there.platens_of(stream.level)] if subject == "platen" else [],
        "step": [(name, words.STEPS[name]) for name in STEPS[subject]],
        "period": list(text.PERIOD_WORDS.items()),
    }
