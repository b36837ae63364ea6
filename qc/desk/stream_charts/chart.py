"""A stream of the shop as a control chart, with all a person needs to trust it or not."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.desk.chart_change import ChartChange
from qc.desk.shop import Shop
from qc.desk.stream_charts.advice import Advice, advise
from qc.desk.stream_charts.changes import stream_change
from qc.desk.stream_charts.counting import counted_points
from qc.desk.stream_charts.flagged import Aside, touched
from qc.desk.stream_charts.gaps import gap_points
from qc.desk.stream_charts.judging import AGAINST, LEAST, Judgement, Stretch, judge
from qc.desk.stream_charts.making import RULES_FOR, Wanted, make
from qc.desk.stream_charts.measuring import measured_points
from qc.desk.stream_charts.points import CountPoints, GapPoints, Points, ValuePoints
from qc.desk.stream_charts.proposing import propose
from qc.desk.stream_charts.run_words import RunStatement, run_statement
from qc.desk.stream_charts.surveying import check_points, survey_points
from qc.domain.instants import HOUR_US
from qc.domain.stream_baselines import StreamBaseline
from qc.domain.streams import Stream
from qc.stats.charts.baselines import Excluded
from qc.stats.charts.chart import FEW_POINTS, Caution, ControlChart
from qc.stats.charts.rules import RECOMMENDED, rule_set
from qc.store.stream_baselines import read_stream_baselines

USUAL_RULES = {"g": ("one_side",)}
"""A chart of rare defects sees a rise by runs on one side: no run is short enough for its limit."""
NEWEST = -1
"""The frozen limits decided last, of the kind of chart shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What to chart, and how. ``kind`` '' : the one advised. ``rules`` : names beyond the limits;
    None: those that are usual for the kind.

    ``base_us`` : the stretch limits come from; None: what is proposed. ``excluded`` : the key of a
    point of it (`Points.key`), and the cause found. ``frozen`` : number of the frozen limits to
    use, 0: none. ``aside`` : when flags and cases touch the stream (`flagged.asides`); None: they
    have not been looked for yet.
    """

    stream: Stream
    kind: str = ""
    rules: tuple[str, ...] | None = None
    base_us: tuple[int, int] | None = None
    excluded: tuple[tuple[str, str], ...] = ()
    frozen: int = NEWEST
    aside: tuple[Aside, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StreamChart:
    """A chart of a stream; ``chart`` None: there are no limits, and ``missing`` says what is
    missing; the points may be shown without.

    ``kinds`` : every kind of chart with whether it suits and why. ``stretch``, ``judgement`` :
    what limits come from; with frozen limits the judgement is in the evidence of ``frozen``, and
    the stretch is where its points lie, None where they are not shown. ``history`` : all that was
    frozen for this stream. ``suiting`` : the rules that suit, name and words. ``notes`` :
    sentences on what is counted.
    """

    asked: Asked
    kind: str
    points: Points
    kinds: tuple[Advice, ...]
    history: tuple[StreamBaseline, ...]
    chart: ControlChart | None = None
    stretch: Stretch | None = None
    judgement: Judgement | None = None
    frozen: StreamBaseline | None = None
    change: ChartChange | None = None
    run: RunStatement | None = None
    suiting: tuple[tuple[str, str], ...] = ()
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def stream(self) -> Stream:
        return self.asked.stream

    @property
    def rules(self) -> tuple[str, ...]:
        """The rules that are on, of those that suit."""
        asked = USUAL_RULES.get(self.kind, ()) if self.asked.rules is None else self.asked.rules
        return tuple(name for name, _ in self.suiting if name in asked)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to know of these limits, whatever stretch they come from."""
        if self.chart is None:
            return ()
        blind = Caution.BLIND_BELOW if "one_side" in self.rules else None
        return tuple(one.value for one in self.chart.cautions
                     if one not in AGAINST and one is not blind)


def stream_chart(
    shop: Shop, asked: Asked, *, as_of_us: int, since_us: int | None = None
) -> StreamChart:
    """The chart of a stream from ``since_us`` on, as known at a moment.
    """
    stream = asked.stream
    points = points_of(shop, stream, as_of_us=as_of_us, since_us=since_us)
    history = read_stream_baselines(shop.store, stream.key, as_of_us=as_of_us)
    lacking = _lacking(points)
    if lacking:
        return StreamChart(asked=asked, kind=asked.kind, points=points, kinds=(), history=history,
                           missing=lacking)
    kinds = advise(points)
    kind = _kind(asked, kinds, history)
    gaps: GapPoints | None = None
    if kind == "g":
        gaps = gap_points(shop, stream, as_of_us=as_of_us, since_us=since_us)
        if gaps.blocks or len(gaps) < LEAST:
            kinds = _without_gaps(kinds, gaps)
            kind, gaps = next((one.kind for one in kinds if one.advised), kinds[0].kind), None
    draft = StreamChart(asked=asked, kind=kind, points=points if gaps is None else gaps,
                        kinds=kinds, history=history, suiting=suiting_rules(kind),
                        notes=_notes(points if gaps is None else gaps))
    return _charted(draft)


def points_of(
    shop: Shop, stream: Stream, *, as_of_us: int, since_us: int | None
) -> CountPoints | ValuePoints:
    """The points of a stream, oldest first."""
    if stream.is_counted:
        return counted_points(shop, stream, as_of_us=as_of_us, since_us=since_us)
    read = {"platen": survey_points, "check": check_points}.get(stream.subject, measured_points)
    return read(shop, stream, as_of_us=as_of_us, since_us=since_us)


def suiting_rules(kind: str) -> tuple[tuple[str, str], ...]:
    """The rules beyond the limits that suit a kind of chart: name and what it looks for."""
    names = RECOMMENDED[RULES_FOR.get(kind, kind)] - {"outside_limits"}
    return tuple((name, words) for name, words in rule_set("nelson").in_words().items()
                 if name in names)


def _charted(draft: StreamChart) -> StreamChart:
    rules = ",".join(draft.rules) or "limits"
    frozen = _frozen(draft)
    stretch, missing = _stretch(draft, frozen)
    if missing:
        return replace(draft, missing=missing)
    known = None if frozen is None else frozen.known
    baseline = None if frozen or stretch is None else stretch.baseline
    try:
        chart = make(draft.points, draft.kind, Wanted(baseline=baseline, known=known, rules=rules))
        judgement = None if frozen or stretch is None else _judged(draft, stretch, rules)
    except ValueError as wrong:
        return replace(draft, missing=(f"These points cannot be charted so: {wrong}.",))
    after = stretch.last if stretch is not None else 0
    if frozen is not None and stretch is None:
        after = int((draft.points.end_us <= frozen.until_us).sum())
    return replace(
        draft, chart=chart, stretch=stretch, judgement=judgement, frozen=frozen,
        change=stream_change(draft.points, chart, after=after, known=known,
                             moved=stretch is not None and any(
                                 step >= stretch.last for step in stretch.steps)),
        run=run_statement(draft.points, chart, draft.kind, rules,
                          None if known is None else known.get("centre")),
    )


def _lacking(points: Points) -> tuple[str, ...]:
    """What is missing before there can be a chart."""
    step = points.stream.step
    n = len(points)
    if n < LEAST:
        what = {"survey": "surveys", "check": "rounds of checks", "piece": "measured pieces"}.get(
            step, f"{step}s")
        return (f"There {'is' if n == 1 else 'are'} {n} {what[:-1] if n == 1 else what} here; a"
                f" chart is drawn from {LEAST} on, and its limits can be trusted from"
                f" {FEW_POINTS} on. {_wait(points.stream)}",)
    if isinstance(points, CountPoints) and not points.count.any():
        return (f"None of {int(points.n.sum())} pieces has this defect: good news, and nothing"
                " limits could rest on.",)
    if isinstance(points, ValuePoints) and not np.ptp(points.value, axis=0).all():
        return ("All values here are the same to the last digit: record finer, or there is nothing"
                " to chart.",)
    return ()


def _wait(stream: Stream) -> str:
    if stream.subject in ("platen", "check"):
        return "Each further one is a point; look over a longer period too."
    return "Take a longer period or shorter steps, or choose more work than this."


def _kind(asked: Asked, kinds: tuple[Advice, ...], history: tuple[StreamBaseline, ...]) -> str:
    fitting = [one.kind for one in kinds if one.fits]
    named = {one.number: one.kind for one in history}.get(asked.frozen, asked.kind)
    if named in fitting:
        return named
    if asked.frozen == NEWEST and history and not asked.kind and history[-1].kind in fitting:
        return history[-1].kind
    return kinds[0].kind


def _without_gaps(kinds: tuple[Advice, ...], gaps: GapPoints) -> tuple[Advice, ...]:
    """Advice where runs between two cannot be charted: the exact tails take their place."""
    why = ("Pieces are counted in blocks here, and a block does not say in which order."
           if gaps.blocks else f"Only {len(gaps)} runs between two so far; it needs {LEAST}.")
    rest = [one for one in kinds if one.kind != "g"]
    best = next((one.kind for one in rest if one.fits and one.kind.endswith("-exact")),
                next((one.kind for one in rest if one.fits), rest[0].kind))
    found = [replace(one, advised=one.kind == best, fits=one.fits or one.kind == best)
             for one in rest]
    return (*sorted(found, key=lambda one: (not one.advised, not one.fits)),
            Advice(kind="g", fits=False, why=why))


def _frozen(draft: StreamChart) -> StreamBaseline | None:
    mine = [one for one in draft.history if one.kind == draft.kind]
    if draft.asked.frozen == NEWEST:
        return mine[-1] if mine else None
    return next((one for one in mine if one.number == draft.asked.frozen), None)


def _stretch(
    draft: StreamChart, frozen: StreamBaseline | None
) -> tuple[Stretch | None, tuple[str, ...]]:
    """What limits come from, or what is missing for it."""
    points, asked = draft.points, draft.asked
    if frozen is not None:
        return _between(points, (frozen.from_us, frozen.until_us), (), by="frozen"), ()
    if asked.base_us is None:
        proposed = propose(points, draft.kind, asked.aside or ())
        found, why = proposed.stretch, (*proposed.why, _what_to_do(points.stream))
    else:
        found = _between(points, asked.base_us, (), by="chosen")
        n = 0 if found is None else found.n
        why = (f"The stretch chosen holds {_n_points(n)}; limits need at least {LEAST}.",
               _what_to_do(points.stream))
    if found is None or found.n < LEAST:
        return None, why
    left = _excluded(points, found, asked.excluded)
    if found.n - len(left) < LEAST:
        return None, (f"Only {_n_points(found.n - len(left))} of the stretch would be left; limits"
                      f" need at least {LEAST}.", _what_to_do(points.stream))
    return replace(found, excluded=left), ()


def _n_points(n: int) -> str:
    return f"{n} point{'' if n == 1 else 's'}"


def _what_to_do(stream: Stream) -> str:
    """How there come to be limits."""
    more = {"survey": ", and survey the platen when it is due", "check": ", and go on checking"}
    return (f"Look over a longer period{more.get(stream.step, '')}, or take another stretch by"
            " hand.")


def _judged(draft: StreamChart, stretch: Stretch, rules: str) -> Judgement:
    """The judgement of a stretch, with how many of its points flags are about."""
    at = slice(stretch.first - 1, stretch.last)
    here = touched(draft.points, draft.asked.aside or ())[at]
    out = sum(bool(here[one.at - stretch.first]) for one in stretch.excluded)
    return replace(judge(draft.points, draft.kind, stretch, rules), flagged=int(here.sum()) - out)


def _between(
    points: Points, period_us: tuple[int, int], excluded: tuple[Excluded, ...], *, by: str
) -> Stretch | None:
    inside = np.flatnonzero((points.start_us >= period_us[0]) & (points.start_us < period_us[1]))
    if not len(inside):
        return None
    return Stretch(first=int(inside[0]) + 1, last=int(inside[-1]) + 1, excluded=excluded, by=by)


def _excluded(
    points: Points, stretch: Stretch, wanted: tuple[tuple[str, str], ...]
) -> tuple[Excluded, ...]:
    """Points of the stretch that were left out, by their keys; others are passed over."""
    cause = {key: words.strip() for key, words in wanted if words.strip()}
    return tuple(Excluded(at=at, reason=cause[points.key(at)])
                 for at in range(stretch.first, stretch.last + 1) if points.key(at) in cause)


def _notes(points: Points) -> tuple[str, ...]:
    stream, said = points.stream, []
    if stream.is_counted:
        said.append("Counted at the first look, each piece once, by when it was pressed.")
    if stream.per_unit and not isinstance(points, GapPoints):
        said.append("Defects for each piece: a piece with two kinds counts twice, because what is"
                    " kept of people, lots, zones and jobs does not say which pieces have both.")
    if isinstance(points, GapPoints):
        said.append(f"{points.since_last} good pieces since the last one.")
    if isinstance(points, ValuePoints) and points.left_out:
        said.append(f"{points.left_out} left out: "
                    + ("no recipe says what should have been set." if stream.subject == "setting"
                       else "too few points were probed." if stream.subject == "platen"
                       else "no job is noted."))
    if stream.subject == "platen":
        said.append("A survey as left begins a new level on purpose: take a stretch after it.")
    if stream.is_counted and stream.step == "shift" and (points.start_us % HOUR_US).any():
        said.append("Pieces are kept by whole hours: where a shift begins within one, those of that"
                    " hour stand in the shift it began in.")
    return tuple(said)
