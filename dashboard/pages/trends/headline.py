"""The head of the trends: how many come off right, is it moving, what it costs, what costs most."""

from __future__ import annotations

from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import named
from dashboard.pages.trends.asked import Glance
from dashboard.text import trends as words
from dashboard.view import ANY_DEFECT, TrendsView, address, records_address
from qc.desk.quality_cost import quality_cost
from qc.desk.shares import Share, whole_share

MOVED_PARTS = {"rose": "alarm", "fell": "calm"}
SETTINGS = "/setup?part=settings"


def headline(asked: Glance, view: TrendsView) -> Component | None:
    """Four answers in one look; nothing without pieces, which the charts below say."""
    share = whole_share(asked.trend)
    if share is None:
        return None
    tiles = [_yield(asked, share, view), _moving(asked, view), _cost(asked, view),
             _most(asked, view)]
    return html.Section(tiles, className="glance", **named(words.FIRST_LOOK_LABEL))


def _tile(label: str, big: str, said: str, *ways: Any, tone: str = "") -> Component:
    return html.Div(
        [html.H2(label), html.P(big, className="big"),
         html.P(formats.unbroken(said), className="said-small"),
         html.P(list(ways), className="tile-ways") if ways else None],
        className=f"tile paper {tone}".strip())


def _yield(asked: Glance, share: Share, view: TrendsView) -> Component:
    label = (words.YIELD_OF_ASKED.format(what=text.kind_in_sentence(view.kind)) if view.kind
             else words.YIELD_ASKED)
    way = dcc.Link(words.TO_RECORDS, href=records_address(
        kind=view.kind or ANY_DEFECT, since_us=asked.since_us, first=True))
    said = {"bad": formats.count(share.n_defective), "n": formats.count(share.n_pieces),
            "period": words.period_words(view.period),
            "low_high": formats.share_range(1 - share.high, 1 - share.low)}
    late = _only_later(asked, view)
    if late and not share.n_defective:
        return _tile(label, words.ONLY_LATER,
                     words.ONLY_LATER_WORDS.format(**said, late=formats.count(late)), way)
    if not share.is_known:
        return _tile(label, words.TOO_FEW, words.TOO_FEW_WORDS.format(**said), way)
    usual = None if asked.trend.overall_usual is None else 1 - asked.trend.overall_usual
    return _tile(label, formats.share(1 - share.share),
                 words.YIELD_WORDS.format(
                     **said, usual=formats.share(usual), apart=_apart(asked))
                 + _later_words(late), way)


def _only_later(asked: Glance, view: TrendsView) -> int:
    """Pieces at which a kind was seen at no first look but at a later one; a rate of one kind is of
    first looks, a ranking of all."""
    if not view.kind:
        return 0
    return max(asked.ranking.n_defects - int(asked.trend.n_defective.sum()), 0)


def _later_words(late: int) -> str:
    return words.LATER_TOO.format(n=formats.count(late)) if late else ""


def _apart(asked: Glance) -> str:
    """Whether the share differs from what is usual for its work by more than luck, in words."""
    share, usual = whole_share(asked.trend), asked.trend.overall_usual
    if share is None or usual is None:
        return ""
    return words.NOT_APART if share.low <= usual <= share.high else words.APART


def _moving(asked: Glance, view: TrendsView) -> Component:
    found, ratio = asked.moving, asked.moving.comparison.ratio
    before = words.AS_LONG_BEFORE.format(n=asked.days)
    big = words.MOVING_WORDS[found.verdict].format(times=formats.times(ratio.value))
    way = dcc.Link(words.TO_BEFORE_AFTER, href="/trends" + address(
        view, at=str(found.after.stretch.from_us), span=_span(asked.days), of="", open="",
        level="", level2="") + "#before-after")
    if found.verdict == "nothing":
        return _tile(words.MOVING_ASKED, big, words.MOVING_NOTHING.format(before=before), way)
    said = words.MOVING_FOOT.format(
        times=formats.times(ratio.value), what=text.kind_in_sentence(view.kind), before=before,
        low_high=formats.times_range(ratio.low, ratio.high))
    if found.verdict == "luck" and _apart(asked) == words.APART:
        said += words.MOVING_BESIDE
    return _tile(words.MOVING_ASKED, big, said, way,
        tone=MOVED_PARTS.get(found.verdict, ""))


def _span(days: int) -> str:
    """The nearest span that a comparison can have."""
    return {7: "7", 30: "28", 90: "84"}[days]


def _cost(asked: Glance, view: TrendsView) -> Component:
    if asked.price is None:
        return _tile(words.COST_ASKED, words.COST_NOT_SAID, "",
                     dcc.Link(words.COST_SET, href=SETTINGS))
    cost = quality_cost(asked.trend, asked.price)
    currency = asked.price.currency
    return _tile(
        words.COST_ASKED, formats.money(cost.total, currency), words.COST_OF.format(
            period=words.period_words(view.period),
            hundred=formats.money(cost.per_hundred, currency),
            usual=formats.money(cost.usual_total, currency), apart=_apart(asked))
        + _later_words(_only_later(asked, view)),
        html.A(words.COST_HEADING, href="#cost"))


def _most(asked: Glance, view: TrendsView) -> Component:
    label = words.MOST_ASKED if asked.price is None else words.MOST_ASKED_COST
    rows, by = asked.ranking.rows, asked.ranking.by
    if not rows or not rows[0].n_defects:
        return _tile(label, words.NOTHING_SHOWS, "")
    top = rows[0]
    said: dict[str, str] = {"n": formats.count(top.n_defects), "share": formats.share(top.share),
                            "all": formats.count(asked.ranking.n_defects)}
    if asked.price is not None:
        said["cost"] = formats.money(top.n_defects * asked.price.each, asked.price.currency)
    return _tile(
        label, text.level_name(by[0], top.level[0]),
        (words.MOST_WORDS if asked.price is None else words.MOST_WORDS_COST).format(**said),
        html.A(words.TO_RANKING, href="#ranking"),
        dcc.Link(words.TO_RECORDS, href=records_address(
            [(by[0], top.level[0])], kind=view.kind or ANY_DEFECT, since_us=asked.since_us,
            first=True)))
