"""What the Trends page asks of the desk for a view: the parts beside the rates and the ranking."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.answers import Answers
from dashboard.view import TrendsView
from qc.desk.before_after import (
    FILTERS,
    BeforeAfter,
    Narrowed,
    Stretch,
    around,
    before_after,
    levels_to_compare,
)
from qc.desk.floor import day_start
from qc.desk.moved import LargestChanges, largest_changes
from qc.desk.quality_cost import Price, price_of
from qc.desk.trends import RateTrend
from qc.domain.instants import DAY_US
from qc.domain.ranking import Pareto

ALL_LOOKS_BACK = 30
"""With all records shown, whether it moves is asked of so many days."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """All that the head of the page answers from."""

    trend: RateTrend
    moving: BeforeAfter
    price: Price | None
    ranking: Pareto
    days: int
    since_us: int | None


def trend_of(answers: Answers, view: TrendsView) -> RateTrend:
    """The rate the page shows."""
    return answers.trend(step=view.step, kind=view.kind, since_us=answers.since_us(view.period))


def ranking_of(answers: Answers, view: TrendsView, by: tuple[str, ...]) -> Pareto:
    """Ranked defects of the period."""
    return answers.ranking(by=by, kind=view.kind, since_us=answers.since_us(view.period))


def glance(answers: Answers, view: TrendsView) -> Glance:
    """The period against as long before, its price, and what shows most in it."""
    days = ALL_LOOKS_BACK if view.period == "all" else int(view.period)
    since_us = answers.since_us(str(days)) or 0
    before = Stretch(from_us=since_us - days * DAY_US, until_us=since_us)
    after = Stretch(from_us=since_us, until_us=max(answers.quick_as_of_us(), since_us) + 1)
    return Glance(
        # by the day whatever the charts show: whole weeks reach back before the period
        trend=answers.trend(step="day", kind=view.kind, since_us=answers.since_us(view.period)),
        price=price_of(answers.shop), days=days,
        moving=compared(answers, before, after, Narrowed(kind=view.kind or None)),
        ranking=ranking_of(answers, view, ("press",) if view.kind else ("defect",)),
        since_us=answers.since_us(view.period))


def compared(answers: Answers, before: Stretch, after: Stretch, of: Narrowed) -> BeforeAfter:
    """Two stretches held against each other; the key leaves out the seconds of now."""
    key = ("before after", before, after.from_us, of)
    return answers.quick(key, lambda now_us: before_after(
        answers.shop, before, after, of=of, as_of_us=now_us))


def comparison(answers: Answers, view: TrendsView) -> BeforeAfter:
    """The comparison a view asks for."""
    before, after = around(moment(answers, view), int(view.span),
                           as_of_us=answers.quick_as_of_us())
    return compared(answers, before, after, narrowed(view))


def moment(answers: Answers, view: TrendsView) -> int:
    """The moment of the comparison: the one asked for, else as many days ago as it looks back."""
    if view.at.isdigit():
        return int(view.at)
    return day_start(answers.shop, answers.quick_as_of_us() - int(view.span) * DAY_US)


def narrowed(view: TrendsView) -> Narrowed:
    """What a view narrows the comparison to."""
    factor, colon, level = view.of.partition(":")
    if not colon or factor not in FILTERS:
        return Narrowed(kind=view.kind or None)
    return Narrowed(kind=view.kind or None, factor=factor, level=level)


def levels(answers: Answers) -> tuple[tuple[str, str], ...]:
    """What a comparison can be narrowed to."""
    return answers.quick("levels to compare", lambda _: levels_to_compare(answers.shop))


def changes(answers: Answers) -> LargestChanges:
    """The largest changes since last week."""
    return answers.quick("largest changes", lambda now_us: largest_changes(
        answers.shop, as_of_us=now_us))
