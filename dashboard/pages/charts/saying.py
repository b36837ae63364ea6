"""A stream's chart as it is read: titles, values with their units, names of points, verdicts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dashboard import formats, text
from dashboard.formats import Clock
from dashboard.text import charts as words
from qc.desk.charting import Chart, names_of
from qc.desk.stream_charts.chart import StreamChart
from qc.desk.stream_charts.filed import scale_of
from qc.desk.stream_charts.points import GapPoints, ValuePoints
from qc.domain.streams import Stream

SHARES = ("p", "p-prime", "mix")
RATES = ("u", "u-prime", "mix-u")
COLUMNS = {"°C": "c", "°F": "f", "kPa": "kpa", "psi": "psi", "bar": "bar", "mm": "mm", "in": "in",
           "s": "s", "°": "deg"}
_DIGITS = {"kPa": 1, "in": 3, "bar": 3, "psi": 2}


def title(stream: Stream, *, gaps: bool = False) -> str:
    """What is charted, in one line; ``gaps`` : good pieces between two."""
    where = words.WHERE[stream.by].format(level=text.level_name(stream.by, stream.level or None))
    if stream.subject == "platen":
        where = words.WHERE_PLATEN.format(platen=stream.platen, level=stream.level)
    if gaps:
        return words.TITLE_GAPS.format(what=text.kind_in_sentence(stream.of), where=where)
    return words.TITLES[stream.subject].format(what=_what(stream), where=where, step=stream.step)


def _what(stream: Stream) -> str:
    if stream.subject == "defects":
        if stream.per_unit:
            return words.DEFECTS_PER_PIECE
        return words.PIECES_WITH.format(what=text.kind_in_sentence(stream.of))
    if stream.of == "together":
        return words.TITLE_TOGETHER
    return (words.CHECKED if stream.subject == "check" else words.MEASURES)[stream.of]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """How the values of one chart are said; ``factor`` makes a plotted value one that is read."""

    found: StreamChart
    clock: Clock

    @property
    def kind(self) -> str:
        return self.found.chart.kind if self.found.chart is not None else self.found.kind

    @property
    def is_share(self) -> bool:
        return self.kind in SHARES

    @property
    def is_score(self) -> bool:
        """Whether points are distances of counts from what their mix gives."""
        return self.kind in ("ewma", "cusum") and self.found.stream.is_counted

    @property
    def factor(self) -> float:
        return 100.0 if self.is_share else scale_of(self.found)

    @property
    def symbol(self) -> str:
        """The unit behind a value; empty where it has none."""
        points = self.found.points
        if isinstance(points, ValuePoints) and self.kind not in ("t2", "mewma"):
            return points.unit
        return "%" if self.is_share else "σ" if self.is_score else ""

    @property
    def unit(self) -> str:
        """The unit in words, below the title."""
        if self.kind in ("t2", "mewma"):
            return words.UNIT_T2
        if self.is_score:
            return words.UNIT_SCORES
        if isinstance(self.found.points, GapPoints):
            return words.UNIT_GAPS
        if self.found.stream.is_counted:
            return words.UNIT_SHARE if self.is_share else words.UNIT_RATE
        each = words.UNIT_EACH[self.found.stream.step] if isinstance(
            self.found.points, ValuePoints) and self.found.points.single else (
            words.UNIT_MEAN.format(step=self.found.stream.step))
        return f"{self.symbol}, {each}" if self.symbol else each

    @property
    def title(self) -> str:
        """What is charted, in one line."""
        return title(self.found.stream, gaps=isinstance(self.found.points, GapPoints))

    def value(self, plotted: float) -> str:
        """A plotted value with its unit."""
        if not np.isfinite(plotted):
            return words.NO_LIMIT
        if self.is_share:
            return formats.share(plotted)
        if isinstance(self.found.points, GapPoints):
            return formats.count(plotted)
        digits = 3 if self.kind in RATES else _DIGITS.get(self.symbol, 2)
        said = formats.decimal(plotted * self.factor, digits)
        return f"{said}{formats.THIN}{self.symbol}" if self.symbol else said

    def limits(self, lower: float, upper: float) -> str:
        """Lower and upper limit."""
        if not np.isfinite(lower):
            return f"up to {self.value(upper)}"
        return f"{self.value(lower)} to {self.value(upper)}"

    def point(self, at: int) -> str:
        """The name of the point at a 1-based position."""
        points, k = self.found.points, at - 1
        if isinstance(points, GapPoints):
            return words.RUN_TO.format(when=self.clock.minute(int(points.end_us[k]) - 1))
        start = int(points.start_us[k])
        if points.stream.subject == "platen":  # a label ends in the state of its survey
            return f"{self.clock.day(start)} ({points.labels[k].rpartition('(')[2]}"
        if points.labels:
            return points.labels[k]
        if points.stream.step == "shift":
            return self.clock.minute(start)
        return f"week of {self.clock.day(start)}" if points.stream.step == "week" else (
            self.clock.day(start))

    def points(self) -> tuple[str, ...]:
        """The names of all points."""
        return tuple(self.point(at) for at in range(1, len(self.found.points) + 1))

    def short(self, at: int) -> str:
        """The name of a point where there is little room: without what the foot says."""
        points = self.found.points
        if points.stream.step in ("job", "piece") and not isinstance(points, GapPoints):
            return points.labels[at - 1]
        start = int(points.start_us[at - 1])
        return self.clock.short_minute(start) if points.stream.step == "shift" else (
            self.clock.short_day(start))

    def size(self, at: int) -> str:
        """What a point counts or rests on."""
        points, k = self.found.points, at - 1
        n = int(points.n[k])
        if isinstance(points, GapPoints):
            return f"{formats.count(n)} pieces, the last with it"
        counted = getattr(points, "count", None)
        if counted is None:
            what = words.SIZES.get(points.stream.subject, words.SIZES["placement"])[n != 1]
            return f"{formats.count(n)} {what}"
        noun = "defects on" if points.stream.per_unit else "of"
        return f"{formats.count(int(counted[k]))} {noun} {formats.count(n)} pieces"

    def says(self, chart: Chart, k: int) -> str:
        """What a point (0-based in the chart) says; empty where it does not signal."""
        signals = int(chart.signals[k])
        if not signals:
            return ""
        said = []
        rules = dict(self.found.suiting)
        for name in names_of(signals):
            if name == "outside_limits":
                said.append(words.OUTSIDE_WORDS[tone_of(chart, k)])
            else:
                said.append(f"{rules.get(name, name)}: {words.RULE_MEANS[name]}")
        return "; ".join(said)


def tone_of(chart: Chart, k: int) -> str:
    """How a point signals: 'above', 'below', 'pattern', or not ('')."""
    names = names_of(int(chart.signals[k]))
    if "outside_limits" in names:
        return "below" if chart.value[k] < chart.lower[k] else "above"
    return "pattern" if names else ""


def days_said(days: float) -> str:
    """A stretch of the calendar, in the unit that suits it."""
    if days < 1.5:
        return words.IN_DAY if days >= 0.95 else words.IN_HOURS.format(n=max(round(days * 24), 1))
    if days < 730:
        return words.IN_DAYS.format(n=formats.count(days))
    return words.IN_YEARS.format(n=formats.count(days / 365.25))


def points_said(n: float) -> str:
    """A number of points: whole, or with a digit where it is small."""
    return formats.count(n) if n >= 9.5 else formats.decimal(n)
