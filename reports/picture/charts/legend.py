"""The words below the panels: what every mark means, and what to know before trusting it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from reports.picture import svg
from reports.picture.charts import words
from reports.picture.legend import Entry, band, box, explain, stitch
from reports.picture.ticks import grouped, short
from reports.picture.type import brief
from reports.picture.words import SHOWN_AT_MOST, listed, span

if TYPE_CHECKING:
    from reports.picture.charts.view import Panel, View
    from reports.picture.palette import Palette
    from reports.picture.setting import Page


def draw(page: Page, view: View, *, crowded: bool) -> None:
    """One entry for each mark that is in the picture, then the cautions."""
    explain(page, entries(view, page.colours, crowded=crowded), notes=view.chart.notes,
            cautions=view.chart.cautions)


def entries(view: View, colours: Palette, *, crowded: bool) -> list[Entry]:
    """Each mark (drawn about 0, 0) with its words."""
    found = [(_mark(view, name, colours), _signal(view, name, at)) for name, at in view.said()]
    found += [("", brief(line, 200)) for line in view.chart.details()]
    found += [(_interval(colours), _change_words(view))] if view.chart.change else []
    found.append((band(colours), _band_words(view.panels[0])))
    if view.centred:
        found.append((stitch(colours["accent"]), _centre_words(view.panels[0])))
    found += _baseline(view, colours)
    if crowded:
        found += [(box(colours["ink"], "0.3"), words.CROWDED),
                  (box(colours["ink"], "0.75"), words.CROWDED_HALF)]
    return found


def data_line(view: View) -> str:
    """Which file and columns the chart was made from."""
    columns = ", ".join(map(brief, view.chart.request.columns))
    return words.DATA.format(file=brief(view.chart.file, 80), columns=columns,
                             n=grouped(view.n_points, 0))


def _signal(view: View, name: str, at: np.ndarray) -> str:
    labels = [view.label(int(k)) for k in at[:SHOWN_AT_MOST]]
    return f"{view.says(name)}: {listed(labels, len(at))}"


def _change_words(view: View) -> str:
    change = view.chart.change
    if change is None:
        return ""
    if change.first is None or change.last is None:
        return words.CHANGE_AT.format(at=view.label(change.at))
    form = words.CHANGE_SURE if change.first == change.last else words.CHANGE
    return form.format(at=view.label(change.at), first=view.label(change.first),
                       last=view.label(change.last))


def _mark(view: View, name: str, colours: Palette) -> str:
    if name != "outside_limits":
        return svg.element("path", d=svg.diamond(0, 0, 6.4), fill=colours["watch-soft"],
                           stroke=colours["watch"], stroke_width="2")
    up = any(panel.above.any() for panel in view.panels)
    down = any(panel.below.any() for panel in view.panels)
    apart = 8.5 if up and down else 0.0
    shapes = [svg.triangle(-apart, 0, 6.4, up=True)] if up else []
    shapes += [svg.triangle(apart, 0, 6.4, up=False)] if down else []
    return svg.element("path", d="".join(shapes), fill=colours["alarm"])


def _interval(colours: Palette) -> str:
    return svg.element("path", d="M-9 -6v12M9 -6v12M-9 0h18", stroke=colours["alarm"],
                       stroke_width="2", fill="none")


def _band_words(panel: Panel) -> str:
    unit = f" {panel.unit}" if panel.unit else ""
    if panel.steady:
        return f"{words.BAND}, {span(float(panel.lower[0]), float(panel.upper[0]))}{unit}"
    return words.BAND_VARYING


def _centre_words(panel: Panel) -> str:
    unit = f" {panel.unit}" if panel.unit else ""
    low, high = float(np.min(panel.centre)), float(np.max(panel.centre))
    if low == high:
        return f"{words.CENTRE} {short(low)}{unit}"
    return f"{words.CENTRE}, {short(low)} to {short(high)}{unit}"


def _baseline(view: View, colours: Palette) -> list[Entry]:
    baseline = view.chart.chart.baseline
    if baseline is None:
        learnt = view.kind.startswith("q") and view.chart.request.centre is None
        usual = words.BASELINE_USUAL if view.kind in words.MIX_KINDS else words.BASELINE_GIVEN
        return [("", words.BASELINE_BEFORE if learnt else usual)]
    whole = (baseline.first, baseline.last) == (1, view.n_points)
    if whole:
        found = [("", words.BASELINE_ALL.format(n=grouped(view.n_points, 0)))]
    else:
        text = words.BASELINE_PART.format(first=view.label(baseline.first),
                                          last=view.label(baseline.last))
        found = [(stitch(colours["thread"]), text)]
    if baseline.excluded:
        mark = svg.element("path", d="M-7 7l14 -14", stroke=colours["edge"], stroke_width="2.2")
        points = "; ".join(f"{view.label(left.at)} ({brief(left.reason, 80)})"
                           for left in baseline.excluded)
        found.append((mark, words.LEFT_OUT.format(points=points)))
    return found
