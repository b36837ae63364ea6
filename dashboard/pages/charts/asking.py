"""What an address asks of the desk, and where points and choices lead."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import parse_qsl

from dashboard.answers import Answers
from dashboard.view import (
    ANY_DEFECT,
    ChartsView,
    PressesView,
    address,
    point_us,
    records_address,
)
from qc.desk.stream_charts.chart import NEWEST, Asked, StreamChart, stream_chart
from qc.desk.stream_charts.choices import Offered, offered, whole
from qc.desk.stream_charts.flagged import Aside, asides, touching
from qc.desk.stream_charts.points import GapPoints, Points
from qc.domain.flags import Flag
from qc.domain.streams import Stream, press_of_station

ONLY_LIMITS = "limits"


def stream_of(view: ChartsView) -> Stream:
    """The stream an address names, as it stands there."""
    return Stream(subject=view.what, of=view.of, by=view.by, level=view.level, step=view.step,
                  platen=view.platen)


def settled(view: ChartsView, there: Offered) -> ChartsView:
    """The view with every choice made: what is missing or cannot be takes its usual."""
    stream = whole(stream_of(view), there)
    changes = {"what": stream.subject, "of": stream.of, "by": stream.by, "level": stream.level,
               "platen": stream.platen, "step": stream.step}
    same = all(getattr(view, name) == value for name, value in changes.items())
    if not same and any(getattr(view, name) not in ("", value)
                        for name, value in changes.items()):
        # another stream than the address named: what was said of that one does not go for this
        changes |= {"kind": "", "rules": "", "base": "", "out": "", "frozen": ""}
    return ChartsView(**({name: getattr(view, name) for name in (
        "period", "kind", "rules", "base", "out", "frozen")} | changes))


def asked_of(view: ChartsView, aside: tuple[Aside, ...] | None = None) -> Asked:
    """A settled view as the desk takes it; ``aside`` : when flags touch it, None: not known yet."""
    return Asked(stream=stream_of(view), kind=view.kind, rules=_rules(view.rules),
                 base_us=point_us(view.base), excluded=tuple(left_out(view)), aside=aside,
                 frozen=int(view.frozen) if view.frozen.isdigit() else NEWEST)


def not_here(search: str | None, whole: ChartsView) -> tuple[str, ...]:
    """What an address names and this shop does not have, as it stands there."""
    named = dict(parse_qsl((search or "").lstrip("?")))
    return tuple(value for name in ("what", "of", "by", "level", "platen", "step", "period")
                 if (value := named.get(name, "")) and value != getattr(whole, name))


def left_out(view: ChartsView) -> list[tuple[str, str]]:
    """Points left out, as the address has them: key and cause; anything else is passed over."""
    try:
        rows: Any = json.loads(view.out or "[]")
    except ValueError:
        return []
    if not isinstance(rows, list):
        return []
    return [(str(row[0]), str(row[1])) for row in rows if isinstance(row, list) and len(row) == 2]


def left_out_within(
    view: ChartsView, points: Points, period_us: tuple[int, int]
) -> list[tuple[str, str]]:
    """The points left out, with their causes, that lie in a stretch: another one keeps them."""
    inside = {points.key(at) for at in range(1, len(points) + 1)
              if period_us[0] <= points.start_us[at - 1] < period_us[1]}
    return [row for row in left_out(view) if row[0] in inside]


def with_left_out(view: ChartsView, rows: list[tuple[str, str]]) -> str:
    """The address with these points left out."""
    said = json.dumps(rows, ensure_ascii=False, separators=(",", ":")) if rows else ""
    return address(view, out=said)


def offer(answers: Answers) -> Offered:
    """What there is to choose from."""
    return answers.quick("streams offered", lambda now_us: offered(answers.shop, as_of_us=now_us))


def flags_of(answers: Answers, view: ChartsView) -> tuple[Flag, ...] | None:
    """The flags and open cases that touch the stream, those that go on first; None while the flags
    are still being looked for."""
    known = answers.flags_newest()
    if known is None:
        return None
    listed = {flag.id for flag in known.flags}
    cases = [case.flag for flag_id, case in answers.cases().items()
             if flag_id not in listed and not case.is_closed]
    found = touching((*known.flags, *cases), stream_of(view))
    return tuple(sorted(found, key=lambda flag: not flag.is_open))


def chart_of(answers: Answers, view: ChartsView) -> StreamChart:
    """The chart a settled view asks for; what flags are about is not proposed once they are
    known."""
    flags = flags_of(answers, view)
    asked = asked_of(view, None if flags is None else asides(flags, stream_of(view)))
    since_us = answers.since_us(view.period)
    return answers.quick(("stream chart", asked, since_us), lambda now_us: stream_chart(
        answers.shop, asked, as_of_us=now_us, since_us=since_us))


def point_link(found: StreamChart, k: int) -> str:
    """Where the records of a point are: looks in its time and work; a press for its surveys."""
    stream, points = found.stream, found.points
    if stream.subject in ("platen", "check"):
        return "/presses" + address(PressesView(press=stream.level, platen=stream.platen))
    gaps = isinstance(points, GapPoints)
    levels = _levels(stream)
    if stream.step in ("job", "piece") and not gaps:
        levels.append((stream.step, points.labels[k]))
    return records_address(
        levels, kind=(stream.of or ANY_DEFECT) if stream.is_counted and not gaps else "",
        since_us=int(points.start_us[k]), until_us=int(points.end_us[k]))


def _levels(stream: Stream) -> list[tuple[str, str | None]]:
    """Whose work, as records are found by it."""
    if stream.by == "station":
        press = press_of_station(stream.level)
        return [("press", press), ("station", stream.level.removeprefix(f"{press}/"))]
    return [] if stream.by == "shop" else [(stream.by, stream.level)]


def _rules(text: str) -> tuple[str, ...] | None:
    if not text:
        return None
    return () if text == ONLY_LIMITS else tuple(text.split(","))
