"""Settings against recipe: who set what beside the recipe, on what, since when."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.states import cautions, danger, mark
from dashboard.components.tables import table
from qc.desk.recipe_words import SettingLine, SettingsInWords


def settings_section(words: SettingsInWords) -> Component | None:
    """What was set against the recipes, the worst first, what is inside folded away; the caution
    where a platen is off behind its display. Nothing where no recipe is loaded."""
    found = words.found
    if not found.n_recipes:
        return None
    wanted = [line for line in words.lines if line.row.needs_a_look]
    good = [line for line in words.lines if not line.row.needs_a_look]
    lead = text.SETTINGS_LEAD.format(n=formats.count(found.n_pieces), period=words.period,
                                     with_recipe=formats.count(found.n_with_recipe))
    inside = [
        html.H2(text.SETTINGS_TITLE), html.P(lead),
        _outside(wanted) if wanted else html.P(text.SETTINGS_NONE) if good else None,
        cautions(words.faults), _good(good), _untold(words.untold),
        html.P(text.SETTINGS_SOURCE.format(age=words.survey_age), className="hint"),
    ]
    return html.Div([html.Section(inside, className="paper"),
                     danger() if words.heat_is_hidden else None], className="stack")


def _outside(lines: list[SettingLine]) -> Component:
    rows = [
        (line.row.press, text.with_capital(line.what), _pieces(line), _off_by(line), line.when,
         _where(line))
        for line in lines
    ]
    return table(text.SETTINGS_HEADS, rows, label=text.SETTINGS_TITLE, numeric=(2, 3))


def _pieces(line: SettingLine) -> Component:
    """Pieces outside, their share and its interval."""
    row = line.row
    of = text.SETTINGS_OF.format(n=formats.count(row.n_outside), of=formats.count(row.n_told))
    if row.share_low is None or row.share_high is None:
        return _over(of)
    return _over(of, formats.share(row.share),
                 formats.share_range(row.share_low, row.share_high))


def _off_by(line: SettingLine) -> Component:
    return _over(line.off_by, line.off_range)


def _over(value: str, *more: str) -> Component:
    """A figure, and below it in small what it comes to and may be."""
    return html.Div([value, *(html.Div(words, className="aside") for words in more if words)])


def _where(line: SettingLine) -> Component:
    """By whom, on what, and what else is to be known."""
    said = [text.SETTINGS_BY.format(line.who) if line.who else "",
            text.SETTINGS_ON.format(line.on) if line.on else "",
            *(text.with_capital(note) for note in line.notes)]
    return html.Div([html.Div(words) for words in said if words])


def _good(lines: list[SettingLine]) -> Component | None:
    """The rows without a piece outside, folded away."""
    if not lines:
        return None
    summary = text.SETTINGS_GOOD.format(n=len(lines))
    rows = [
        (line.row.press, text.with_capital(line.what), formats.count(line.row.n_told),
         _off_by(line), mark(*text.SETTINGS_STATES[line.state]))
        for line in lines
    ]
    inside = table(text.SETTINGS_GOOD_HEADS, rows, label=summary, numeric=(2, 3))
    return html.Details([html.Summary(summary), inside], className="numbers folded")


def _untold(sentences: tuple[str, ...]) -> Component | None:
    if not sentences:
        return None
    listed = html.Ul([html.Li(sentence) for sentence in sentences])
    return html.Details([html.Summary(text.SETTINGS_UNTOLD.format(n=len(sentences))), listed],
                        className="numbers folded")
