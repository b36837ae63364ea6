"""Presses: the board of platens, the map and drift of one, the checks to come."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN, named
from dashboard.components.charts import chart_box, drawn
from dashboard.components.page import page
from dashboard.components.states import bring_in, danger, mark, notice, waiting
from dashboard.components.tables import table
from dashboard.figures.platen import drift_figure, map_figure
from dashboard.formats import Clock, Heat
from dashboard.theme import HEAT, between
from dashboard.view import PressesView, SetupView, address
from qc.desk.check_words import CheckLine
from qc.desk.platen_words import decision_words
from qc.desk.pull_words import PullLine
from qc.domain.decision_words import STATE_WORDS, risk_words
from qc.domain.platens import DriftSeries, PlatenHealth, PlatenMap, spot_on_platen

SERVICE_STATES = ("recalibrate", "overdue", "watch")


def layout(search: str) -> Component:
    """The page before its content."""
    del search
    jumps = [html.A(words, href=f"#{place}") for place, words in text.PRESSES_JUMPS.items()]
    return page("/presses", html.Nav(jumps, className="jumps", **named(text.PRESSES_JUMPS_LABEL)),
                html.Div(waiting(260), id="presses-board"),
                html.Div(id="presses-spots", className="fills"),
                html.Div(waiting(460), id="presses-platen", className="section stack"),
                html.Div(id="presses-service", className="section stack"),
                html.Div(id="presses-due", className="section"),
                html.Div(id="presses-checks", className="section"),
                html.Div(id="presses-settings", className="section"),
                dcc.Store(id="presses-news"), name="presses")


def chosen(
    health: tuple[PlatenHealth, ...], view: PressesView, gone: Collection[str] = ()
) -> PlatenHealth | None:
    """The platen an address names, else the most urgent one of a press that is used."""
    for platen in health:
        if platen.press == view.press and view.platen in ("", platen.platen):
            return platen
    used = [platen for platen in health if platen.press not in gone]
    return (used or list(health))[0] if health and not view.press else None


def board(
    health: tuple[PlatenHealth, ...], here: PlatenHealth | None, as_of_us: int, heat: Heat,
    maps: Mapping[tuple[str, str], PlatenMap], clock: Clock, gone: Collection[str] = (),
) -> Component:
    """Every platen, most urgent first, each with its latest map in small; those of presses that are
    no longer used (``gone``) folded away."""
    if not health:
        return notice(text.NO_PLATENS_TITLE, text.NO_PLATENS_HELP, dcc.Link(
            text.TO_PRESSES, href="/setup" + address(SetupView(part="presses", do="add")),
            className="button do"), bring_in())
    cards = {p: _platen_card(p, _due(p, as_of_us, clock), heat,
                             _small_map(maps.get((p.press, p.platen))), here=p is here)
             for p in health}
    away = [card for p, card in cards.items() if p.press in gone]
    used = html.Nav([card for p, card in cards.items() if p.press not in gone],
                    className="board", **named(text.BOARD_TITLE))
    if not away:
        return used
    return html.Div([used, html.Details(
        [html.Summary(text.NO_LONGER_USED.format(n=len(away))),
         html.Div(away, className="board")], className="numbers folded",
        open=here is not None and here.press in gone)])


def _platen_card(
    platen: PlatenHealth, due: str, heat: Heat, small: Component | None, *, here: bool
) -> Component:
    tone, words = text.PLATEN_STATE_WORDS[platen.state]
    return dcc.Link(
        [html.Span([platen.press, html.Small(text.PLATEN_WORDS[platen.platen])], className="who"),
         _two_numbers(platen, heat), small,
         html.Span(mark(tone, words), className="state"), html.Span(due, className="due")],
        href="/presses" + address(PressesView(press=platen.press, platen=platen.platen)),
        className="platen" + (" here" if here else ""),
    )


def _due(platen: PlatenHealth, as_of_us: int, clock: Clock) -> str:
    """When it is to be surveyed; a platen never surveyed is to be surveyed now."""
    if platen.last_survey_at_us is None:
        return text.FIRST_DUE
    if platen.due_at_us is None:
        return text.NO_DUE
    return text.DUE_IN.format(clock.until(platen.due_at_us, as_of_us))


def _small_map(survey: PlatenMap | None) -> Component | None:
    """The probed points in colour of both schemes, nothing to read: the numbers are a tap away."""
    if survey is None:
        return None
    reach = max(float(np.nanmax(np.abs(survey.error_c))), survey.temperature_tolerance_c or 3.0)
    cells = [html.Span(style={} if np.isnan(error) else {
                f"--heat-{scheme}": between(stops, 0.5 + float(error) / (2 * reach))
                for scheme, stops in HEAT.items()})
             for error in survey.error_c.ravel()]
    cols = survey.error_c.shape[1]
    return html.Span(cells, className="small-map", **UNSEEN,
                     style={"gridTemplateColumns": f"repeat({cols}, 1fr)"})


def _two_numbers(platen: PlatenHealth, heat: Heat) -> Component:
    """Mean error and spread, each with its word."""
    if platen.offset_c is None or platen.spread_c is None:
        return html.Span("–", className="off")
    pairs = ((text.MEAN_SHORT, heat.difference(platen.offset_c)),
             (text.SPREAD_SHORT, _spread(platen, heat)))
    return html.Span([html.Span([value, html.Small(f" {word}")]) for word, value in pairs],
                     className="off")


def _spread(platen: PlatenHealth, heat: Heat) -> str:
    """The spread; of too few points it would be a number that means nothing, unless it is out."""
    limit, spread = platen.uniformity_tolerance_c, platen.spread_c
    if platen.spread_unjudged and (limit is None or spread is None or spread <= limit):
        return text.NOT_JUDGED
    return heat.difference(spread, sign=False)


def detail(
    health: PlatenHealth, survey: PlatenMap, drift: DriftSeries, scheme: str, clock: Clock,
    heat: Heat,
) -> list[Component | None]:
    """One platen: what is known, its map, its drift, and the caution where service is advised."""
    return [
        _facts(health, clock, heat),
        danger() if health.state in SERVICE_STATES else None,
        html.Div([map_panel(survey, scheme, clock, heat), pieces_place()], className="two"),
        drift_panel(drift, scheme, clock, heat),
    ]


def pieces_place() -> Component:
    """Where what the finished pieces say goes, once it is counted."""
    return html.Div(id="presses-pieces", className="fills")


def _facts(health: PlatenHealth, clock: Clock, heat: Heat) -> Component:
    tone, words = text.PLATEN_STATE_WORDS[health.state]
    crosses, between = _crossing(health, clock)
    tolerance = health.temperature_tolerance_c
    facts = [
        (text.MEAN_ERROR, heat.difference(health.offset_c),
         text.TOLERANCE_IS.format(heat.difference(tolerance, sign=False)) if tolerance else ""),
        (text.SPREAD, _spread(health, heat),
         text.TOLERANCE_IS.format(heat.difference(health.uniformity_tolerance_c, sign=False))
         if health.uniformity_tolerance_c else ""),
        (text.UNCERTAINTY, "± " + heat.difference(health.uncertainty_c, sign=False),
         formats.in_sentence("; ".join([text.UNCERTAINTY_IS, *health.uncertainty_parts]))),
        (text.DECISION, *_decision(health)),
        (text.CROSSES, crosses, between),
        (text.CHECK_DUE, clock.day(health.due_at_us) if health.due_at_us else text.NO_DUE,
         text.LAST_SURVEY.format(clock.day(health.last_survey_at_us))),
    ]
    return html.Section(
        [mark(tone, words, large=True),
         html.H2(f"{health.press}, {text.PLATEN_WORDS[health.platen]}:"
                 f" {formats.in_sentence(health.reason)}"),
         html.Dl([html.Div([html.Dt(name), html.Dd([value, html.Small(more)])])
                  for name, value, more in facts], className="facts"),
         _interval(health), _how_decided(health, heat)],
        className="paper case-head",
    )


def _decision(health: PlatenHealth) -> tuple[str, str]:
    """What the latest survey shows under the shop's rule, in short."""
    if health.decision is None:
        return text.NOT_DECIDED, ""
    return STATE_WORDS[health.decision], text.with_capital(decision_words(health))


def _interval(health: PlatenHealth) -> Component | None:
    """Whether the interval of checks fits what they found; None where nothing can be said."""
    advice = health.interval
    if advice is None:
        return None
    said = text.INTERVAL_ADVICE[advice.action].format(
        good=advice.n_good, needed=advice.n_needed, advised=formats.days(advice.advised_days))
    drifts = text.INTERVAL_DRIFTS if advice.action == "keep" and advice.drift_shown else ""
    return html.P(text.INTERVAL.format(days=formats.days(advice.days), said=said + drifts),
                  className="hint")


def _how_decided(health: PlatenHealth, heat: Heat) -> Component | None:
    """The measured values beside the limits of the rule."""
    if not health.conformity:
        return None
    measured = {"mean": (health.offset_c, health.temperature_tolerance_c),
                "spread": (health.spread_c, health.uniformity_tolerance_c)}
    rows = []
    for one in health.conformity:
        value, tolerance = measured[one.what]
        accepted = heat.difference(one.accepted_to_c, sign=False)
        rows.append((
            text.DECIDED_WHAT[one.what], heat.difference(value, sign=one.what == "mean"),
            heat.difference(tolerance, sign=False),
            "± " + heat.difference(one.uncertainty_c, sign=False),
            accepted if one.accepted_to_c > 0 else text.NOTHING_ACCEPTED,
            heat.difference(one.out_from_c, sign=False),
            mark(text.CHECK_TONES[one.decision], STATE_WORDS[one.decision]),
            risk_words(one.risk)))
    return html.Details([
        html.Summary(text.HOW_DECIDED),
        table(text.DECIDED_HEADS, rows, label=text.HOW_DECIDED, numeric=(1, 2, 3, 4, 5, 7)),
        html.P(text.DECIDED_SOURCE.format(rule=health.rule), className="hint"),
    ], className="numbers")


def _crossing(health: PlatenHealth, clock: Clock) -> tuple[str, str]:
    """When a platen leaves its tolerance, and how sure that is."""
    tolerance, offset = health.temperature_tolerance_c, health.offset_c
    if tolerance is not None and offset is not None and abs(offset) > tolerance:
        return text.ALREADY_OUT, ""
    if health.crosses_at_us is None:
        return text.NO_CROSSING, ""
    if health.crosses_between_us is None:
        return clock.day(health.crosses_at_us), ""
    first, last = health.crosses_between_us
    end = text.OPEN_ENDED if last is None else clock.day(last)
    return (clock.day(health.crosses_at_us),
            text.CROSSES_BETWEEN.format(first=clock.day(first), last=end))


def map_panel(survey: PlatenMap, scheme: str, clock: Clock, heat: Heat) -> Component:
    """The map of a survey."""
    cols = range(survey.error_c.shape[1])
    rows = [
        (text.MAP_ROW.format(i + 1), *(heat.difference(_number(survey, i, j)) for j in cols))
        for i in range(survey.error_c.shape[0])
    ]
    heads = ("", *(text.MAP_COLUMN.format(j + 1) for j in cols))
    source = text.MAP_SOURCE.format(
        when=clock.minute(survey.surveyed_at_us), instrument=survey.instrument or text.NOT_SAID,
        state=text.SURVEY_STATES.get(survey.state, survey.state))
    words = text.MAP_WORDS.format(
        set=heat.reading(survey.setpoint_c), cold=_spot(survey, survey.coldest, heat),
        hot=_spot(survey, survey.hottest, heat))
    title = text.OF_PLATEN.format(
        what=text.MAP_TITLE, press=survey.press, platen=text.PLATEN_WORDS[survey.platen])
    return chart_box(
        drawn("map", map_figure(survey, scheme, heat), label=f"{title}. {words}"),
        title=title, unit=text.MAP_UNIT.format(unit=heat.symbol), source=source,
        description=words,
        extra=html.P(text.OPERATOR_STANDS, className="edge-word"),
        table=table(heads, rows, label=title, numeric=tuple(j + 1 for j in cols)),
    )


def _number(survey: PlatenMap, i: int, j: int) -> float | None:
    value = float(survey.error_c[i, j])
    return value if value == value else None


def _spot(survey: PlatenMap, at: tuple[int, int], heat: Heat) -> str:
    row, col = at
    rows, cols = survey.error_c.shape
    place = spot_on_platen(row, col, rows, cols)
    return f"{place}, {heat.difference(_number(survey, row - 1, col - 1))}"


def drift_panel(drift: DriftSeries, scheme: str, clock: Clock, heat: Heat) -> Component:
    """The drift of a platen."""
    order = range(len(drift.at_us) - 1, -1, -1)
    ewma = {} if drift.together is None else dict(zip(
        drift.together.at_us.tolist(), drift.together.value_c.tolist(), strict=True))
    rows = [
        (clock.minute(int(drift.at_us[i])), text.SURVEY_STATES.get(drift.states[i], ""),
         heat.difference(float(drift.offset_c[i])),
         heat.difference(float(drift.spread_c[i]), sign=False),
         heat.difference(ewma[at]) if (at := int(drift.at_us[i])) in ewma else "",
         drift.survey_ids[i])
        for i in order
    ]
    words = " ".join([_drift_words(drift, heat), *_ewma_words(drift, clock, heat)])
    figure = drift_figure(drift, scheme, clock, heat)
    title = text.OF_PLATEN.format(
        what=text.DRIFT_TITLE, press=drift.press, platen=text.PLATEN_WORDS[drift.platen])
    return chart_box(
        drawn("drift", figure, label=f"{title}. {words}"), title=title,
        unit=text.DRIFT_UNIT.format(unit=heat.symbol), source=text.DRIFT_SOURCE,
        description=words,
        table=table(text.DRIFT_HEADS, rows, label=title, numeric=(2, 3, 4)),
    )


def _ewma_words(drift: DriftSeries, clock: Clock, heat: Heat) -> list[str]:
    """What the surveys say taken together, and how rarely they say it falsely."""
    together = drift.together
    if together is None:
        return []
    said = text.EWMA_WORDS[together.direction].format(
        value=heat.difference(float(together.value_c[-1])),
        limit=heat.difference(together.limit_c, sign=False), since=clock.day(together.since_us))
    return [said + text.EWMA_RUN.format(n=round(together.run_length),
                                        years=formats.decimal(together.years, 0))]


def _drift_words(drift: DriftSeries, heat: Heat) -> str:
    if drift.slope_c_per_day is None:
        return f"{text.with_capital(drift.note)}."
    low, high = drift.slope_interval or (None, None)
    return text.DRIFT_WORDS.format(
        slope=heat.difference(30 * drift.slope_c_per_day),
        low=heat.difference(None if low is None else 30 * low),
        high=heat.difference(None if high is None else 30 * high),
        note=f" {drift.note}" if drift.note else "")


def due_list(
    health: tuple[PlatenHealth, ...], as_of_us: int, clock: Clock, gone: Collection[str] = (),
) -> Component | None:
    """The checks to come of presses that are used, soonest first; a first survey is due now."""
    due = sorted((p for p in health if p.press not in gone
                  and (p.due_at_us is not None or p.last_survey_at_us is None)),
                 key=lambda p: p.due_at_us or as_of_us)
    if not due:
        return None
    wanted = [p for p in due if p.state != "in_tolerance"]
    good = [p for p in due if p.state == "in_tolerance"]

    def when(p: PlatenHealth) -> tuple[str, str]:
        if p.due_at_us is None:
            return text.with_capital(text.FIRST_DUE), ""
        return clock.day(p.due_at_us), clock.until(p.due_at_us, as_of_us)

    def listed(platens: list[PlatenHealth]) -> Component:
        return table(text.DUE_HEADS, [
            (f"{p.press}, {text.PLATEN_WORDS[p.platen]}", *when(p),
             mark(*text.PLATEN_STATE_WORDS[p.state]), formats.in_sentence(p.reason))
            for p in platens], label=text.DUE_TITLE)

    return html.Section([html.H2(text.DUE_TITLE), listed(wanted) if wanted else None,
                         _more_in_order(listed(good), len(good), alone=not wanted)],
                        className="paper")


def _more_in_order(inside: Component, n: int, *, alone: bool) -> Component | None:
    """What is in order, folded away."""
    if not n:
        return None
    words = text.ALL_IN_ORDER if alone else text.MORE_IN_ORDER
    return html.Details([html.Summary(words.format(n=n)), inside], className="numbers folded")


def check_list(checks: tuple[CheckLine, ...], clock: Clock) -> Component | None:
    """The latest check of every timer and gauge, those in tolerance folded away."""
    if not checks:
        return None
    good = [one for one in checks if one.state == "in_tolerance"]
    inside: list[Component] = [html.H2(text.TIMERS_TITLE)]
    if len(good) < len(checks):
        inside.append(_check_table([one for one in checks if one not in good], clock))
    if good:
        inside.append(html.Details(
            [html.Summary(text.TIMERS_GOOD.format(n=len(good))), _check_table(good, clock)],
            className="numbers folded"))
    inside.append(html.P(text.TIMERS_SOURCE, className="hint"))
    return html.Section(inside, className="paper")


def _check_table(checks: list[CheckLine], clock: Clock) -> Component:
    rows = [
        (one.press, one.what, one.set_to, one.off_by, one.tolerance,
         mark(text.CHECK_TONES[one.state], one.state_words), clock.day(one.checked_at_us))
        for one in checks
    ]
    return table(text.TIMERS_HEADS, rows, label=text.TIMERS_TITLE, numeric=(2, 3, 4))


def pull_list(pulls: tuple[PullLine, ...], clock: Clock) -> Component | None:
    """The latest pulls of paper and film, uneven ones first, even ones folded away."""
    if not pulls:
        return None
    wanted = [one for one in pulls if one.state != "even"]
    even = [one for one in pulls if one.state == "even"]

    def listed(lines: list[PullLine]) -> Component:
        return table(text.PULLS_HEADS, [
            (one.where, one.method, one.grips, mark(text.PULL_TONES[one.state], one.state_words),
             text.with_capital(one.said), clock.day(one.pulled_at_us)) for one in lines],
            label=text.PULLS_TITLE)

    return html.Section([html.H2(text.PULLS_TITLE), listed(wanted) if wanted else None,
                         _more_in_order(listed(even), len(even), alone=not wanted),
                         html.P(text.PULLS_SOURCE, className="hint")], className="paper")
