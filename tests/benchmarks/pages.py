"""The server's time for each page as history grows: ten million pieces beside a hundred thousand.

One invented shop of sixteen presses (`tests.benchmarks.long_shops`) twice: in its first five weeks,
and after ten years of the same daily work. ``--a-day`` gives either its own pace, to see what a
busier shop costs. Every callback of the pages is asked over the app's own HTTP interface, in turns,
on the views that a page opens with (a month) and on one week: once when none of the answers kept
from before holds any more, as in a new minute or after a save, and once again, as people feel it
mostly. The figure is the processor time at the larger shop over that at the smaller one, the median
over the turns; the database's time is in it (it runs in this process), and a busy machine does not
judge. Wanted: at most 1.3.

Not judged: what is opened from a number, which shows the records themselves; a ranking by two
dimensions that no tally holds together, and charts of jobs or of what is measured, which read the
records of their period; what draws every survey of a platen; and slow answers, which the pages ask
for at most once a minute. Not asked: the flags and what shows them, which read everything.

The larger store takes half an hour to make, and 3.5 GB; it is kept in the folder given.
"""

from __future__ import annotations

import argparse
import gc
import statistics
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dash import Dash

from dashboard import create_app
from qc.domain.instants import DAY_US
from qc.store import open_store
from qc.store.newest import newest_inspected_us, newest_looks
from tests.benchmarks.long_shops import PIECES_A_DAY, build_long_shop, long_spec
from tests.benchmarks.measuring import heading, say, verdict
from tests.dashboard.asking import callback

WANTED = 1.3
WEEK = "?period=7"
MONTH = "period=30"
WORK = ("job", "fabric", "transfer", "location")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One callback: the output asked for, and the values it is given; or what the bench asks at a
    ``path``, with the newest look's work in braces; ``judged`` by the ratio."""

    name: str
    output: str = ""
    path: str = ""
    given: dict[str, Any] = field(default_factory=dict)
    judged: bool = True
    slow: bool = False


def _trends(name: str, output: str, search: str, *, judged: bool = True) -> Question:
    given = {"address__search": search}
    if output in ("trends-yield.children", "trends-rate.children"):
        given["scheme__data"] = "light"
    if output == "trends-kind.data":
        given = {}
    return Question(name=f"Trends: {name}", output=output, given=given, judged=judged)


def _charts(name: str, search: str, *, judged: bool = True) -> Question:
    return Question(name=f"Charts: {name}", output="charts-body.children", judged=judged,
                    given={"address__search": search, "scheme__data": "light"})


def questions(end_us: int) -> list[Question]:
    """What is asked of both shops."""
    tick = {"tick__n_intervals": 1}
    point = f"?open={end_us - 3 * DAY_US}..{end_us - 2 * DAY_US}"
    here = {"address__search": "?press=P3&platen=upper", "scheme__data": "light"}
    rate, ranking = "trends-rate.children", "trends-ranking.children"
    return [
        Question(name="Floor: every press", output="floor-cards.children",
                 given={"address__search": "", **tick}),
        _trends("share by day, a month", rate, ""),
        _trends("share by day, a week", rate, WEEK),
        _trends("yield by day, a month", "trends-yield.children", ""),
        _trends("one kind by day", rate, "?kind=lifted_edge"),
        _trends("share by week", rate, "?step=week&period=90"),
        _trends("ranked defects, a month", ranking, ""),
        _trends("ranked defects, a week", ranking, WEEK),
        *(_trends(f"ranked by {by}, a week", ranking, f"{WEEK}&by={by}")
          for by in ("press", "fabric", "operator", "transfer_lot", "zone", "shift")),
        _trends("press and defect, a week", ranking, f"{WEEK}&by=press&then=defect"),
        _trends("press and operator, a week", ranking, f"{WEEK}&by=press&then=operator",
                judged=False),
        _trends("at a glance, a month", "trends-glance.children", ""),
        Question(name="Trends: before and after, two weeks each way",
                 output="trends-compared.children",
                 given={"address__search": "", "scheme__data": "light",
                        "trends-soon__n_intervals": 1}),
        Question(name="Trends: what moved since last week", output="trends-moved.children",
                 given={"trends-soon__n_intervals": 1} | tick),
        _trends("kinds to choose from", "trends-kind.data", ""),
        _trends("records of a point", "trends-records.children", point, judged=False),
        _trends("records of a bar, a week", "trends-records.children",
                f"{WEEK}&open=level&level=lifted_edge", judged=False),
        Question(name="Presses: board", output="presses-board.children",
                 given={"address__search": here["address__search"]} | tick),
        Question(name="Presses: a platen and its surveys", output="presses-platen.children",
                 given=here, judged=False),
        Question(name="Presses: due", output="presses-due.children", given=tick),
        Question(name="Presses: checks and pulls", output="presses-checks.children", given=tick),
        Question(name="Presses: what pieces say (slow)", output="presses-spots.children",
                 given=tick, judged=False, slow=True),
        Question(name="Presses: set against recipe (slow)", output="presses-settings.children",
                 given=tick, judged=False, slow=True),
        _charts("a press's defects by day", f"?{MONTH}&by=press&level=P3"),
        _charts("a kind by shift", f"?{MONTH}&of=lifted_edge&by=press&level=P3&step=shift"),
        _charts("a fabric's defects by job", f"?{MONTH}&by=fabric&level=FLEECE-C&step=job",
                judged=False),
        _charts("a platen's surveys", "?what=platen&of=offset_c&by=press&level=P3&platen=upper",
                judged=False),
        _charts("where prints sit, by day", f"?what=placement&of=together&{MONTH}", judged=False),
        _charts("dwell by day", f"?what=setting&of=dwell_s&by=press&level=P3&{MONTH}",
                judged=False),
        Question(name="Charts: what there is to choose", output="charts-level.data",
                 given={"address__search": ""}),
        Question(name="Set-up: presses", output="setup-body.children",
                 given={"address__search": "?part=presses"}),
        Question(name="Set-up: jobs", output="setup-body.children",
                 given={"address__search": "?part=jobs"}),
        Question(name="Bench: its lists", path="/bench/lists"),
        Question(name="Bench: how a job stands",
                 path="/bench/job?job={job}&fabric={fabric}&transfer={transfer}&location={location}"),
        Question(name="Every page: as of", output="as-of.children", given=tick),
    ]


class Shop:
    """A store, and an app of it that runs; its clock begins at the newest look."""

    def __init__(self, place: Path) -> None:
        store = open_store(str(place))
        self.end_us = newest_inspected_us(store) or 0
        newest = newest_looks(store, as_of_us=self.end_us, since_us=self.end_us - 7 * DAY_US,
                              columns=("inspected_at", "number", *WORK))
        self.work = max(newest.values(), key=lambda look: (look["inspected_at"], look["number"]))
        store.close()
        self.place, self.now_us = place, self.end_us
        self.app = self.started()

    def started(self) -> Dash:
        """An app that has answered nothing yet, past its own first steps."""
        app = create_app(str(self.place), clock_us=lambda: self.now_us)
        callback(app, "as-of.children", tick__n_intervals=0)
        return app

    def app_for(self, question: Question) -> Dash:
        """The app a minute later, when no quick answer holds; for a slow one a new app."""
        self.now_us += 61_000_000
        return self.started() if question.slow else self.app


def kept_shop(folder: Path, n_pieces: int, a_day: int = PIECES_A_DAY) -> Shop:
    """The shop of so many pieces at this pace, made if it is not in the folder yet."""
    place = folder / f"shop-{n_pieces}-{a_day}.db"
    if not place.exists():
        say(f"  making {place.name} ...")
        build_long_shop(place, long_spec(n_pieces, a_day))
    return Shop(place)


def ask(app: Dash, question: Question, work: Mapping[str, str]) -> float:
    """Seconds of the processor until the answer."""
    gc.collect()
    start = time.process_time()
    if question.path:
        answer = app.server.test_client().get(question.path.format_map(work))
        assert answer.status_code == 200, answer.get_data(as_text=True)[:500]
    else:
        callback(app, question.output, **question.given)
    return time.process_time() - start


def measure(
    shops: Sequence[Shop], n_turns: int, only: str = "", *, judged_alone: bool = False
) -> dict[str, float]:
    """Ratio of the last shop to the first, by question that is judged."""
    taken: dict[tuple[str, int, str], list[float]] = defaultdict(list)
    asked = [one for one in questions(shops[0].end_us) if only in one.name
             and (one.judged or not judged_alone)]
    for turn in range(n_turns + 1):
        for question in asked:
            for number, shop in enumerate(shops):
                app = shop.app_for(question)
                first, again = (ask(app, question, shop.work) for _ in range(2))
                if turn:  # the first turn brings the stores' pages and the surveys into memory
                    taken[question.name, number, "first"].append(first)
                    taken[question.name, number, "again"].append(again)
    ratios = {}
    say(f"  {'callback':<40} {'first, ms':>15} {'again, ms':>13}  ratio")
    for question in asked:
        ms = {key: [1000 * statistics.median(taken[question.name, number, key])
                    for number in range(len(shops))] for key in ("first", "again")}
        small, large = (taken[question.name, number, "first"] for number in (0, len(shops) - 1))
        ratio = statistics.median(b / a for a, b in zip(small, large, strict=True))
        if question.judged:
            ratios[question.name] = ratio
        say(f"  {question.name:<40} {_pair(ms['first']):>15} {_pair(ms['again']):>13}"
            f"  {ratio:.2f}{'' if question.judged else ' (not judged)'}")
    return ratios


def _pair(ms: Sequence[float]) -> str:
    return " / ".join(f"{one:.0f}" for one in ms)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, help="where the stores are, or will be made and kept")
    parser.add_argument("--pieces", type=int, nargs=2, default=[100_000, 10_000_000])
    parser.add_argument("--a-day", type=int, nargs=2, default=[PIECES_A_DAY, PIECES_A_DAY],
                        help="pieces of a working day in either shop")
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--only", default="", help="callbacks whose name holds this")
    parser.add_argument("--judged", action="store_true", help="leave out what is not judged")
    wanted = parser.parse_args()
    heading("Pages as history grows", "tests.benchmarks.pages")
    asked = list(zip(wanted.pieces, wanted.a_day, strict=True))
    shops = [kept_shop(wanted.folder, *one) for one in asked]
    for n, a_day in asked:
        say(f"  {n:,} pieces in {long_spec(n, a_day).days} days")
    ratios = measure(shops, wanted.turns, wanted.only, judged_alone=wanted.judged)
    worst = max(ratios, key=ratios.__getitem__)
    return 0 if verdict(f"largest ratio ({worst})", ratios[worst], at_most=WANTED) else 1


if __name__ == "__main__":
    raise SystemExit(main())
