"""What limits are proposed from: never what is off, and with the reason in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from qc.desk.shop import Shop
from qc.desk.stream_charts.chart import Asked, stream_chart
from qc.desk.stream_charts.flagged import Aside, touched
from qc.desk.stream_charts.freezing import freeze_limits, period_of
from qc.desk.stream_charts.judging import judge
from qc.desk.stream_charts.points import GapPoints, Points, ValuePoints
from qc.desk.stream_charts.proposing import Proposal, propose
from qc.domain.instants import DAY_US
from tests.qc.desk.stream_shop import END_US, JIG_MOVED_DAY, START_US, build
from tests.qc.desk.test_stream_charts import counts, values
from tests.qc.desk.test_stream_points import stream

DX = stream("placement", "dx_mm")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    made, *_ = build(tmp_path_factory.mktemp("proposals"))
    yield made
    made.store.close()


def series(*parts: tuple[int, float], seed: int = 5, of: str = "dx_mm",
           subject: str = "placement") -> ValuePoints:
    """Days whose level is what each part says, with a spread of 1."""
    rng = np.random.default_rng(seed)
    level = np.repeat([mean for _, mean in parts], [n for n, _ in parts])
    rows = (level + rng.normal(0, 1, len(level))).reshape(-1, 1)
    return values(rows, np.arange(len(rows)), of=of, subject=subject)


def during(points: Points, first: int, last: int | None, *, whole: bool = True) -> Aside:
    """A flag about the points at these 1-based positions; ``last`` None: it goes on."""
    return Aside(from_us=int(points.start_us[first - 1]) + 1, whole=whole,
                 until_us=None if last is None else int(points.end_us[last - 1]) - 1)


def span(found: Proposal) -> tuple[int, int]:
    assert found.stretch is not None, found.why
    return found.stretch.first, found.stretch.last


def test_of_two_levels_the_one_with_fewer_defects_is_proposed() -> None:
    rates = np.repeat([0.04, 0.15], 30)
    points = counts([300] * 60, np.random.default_rng(3).binomial(300, rates).tolist(), [0.1] * 60)
    for kind in ("mix", "p-prime"):
        first, last = span(propose(points, kind))
        assert first == 1 and 28 <= last <= 32
    assert "the fewest defects" in propose(points, "mix").why[0]
    worse_first = counts([300] * 60, points.count[::-1].tolist(), [0.1] * 60)
    assert span(propose(worse_first, "mix"))[0] >= 29


def test_a_steady_series_is_proposed_whole_and_judged_fit() -> None:
    rng = np.random.default_rng(8)
    points = counts([300] * 40, rng.binomial(300, 0.1, 40).tolist(), [0.1] * 40)
    found = propose(points, "mix").stretch
    assert found is not None and (found.first, found.last, found.by) == (1, 40, "proposed")
    assert judge(points, "mix", found).fit and found.why == (
        "The level did not move in these points.",)
    few = counts([300] * 12, rng.binomial(300, 0.1, 12).tolist(), [0.1] * 12)
    short = propose(few, "mix").stretch
    assert short is not None
    assert [one.name for one in judge(few, "mix", short).cautions] == ["TOO_FEW_POINTS"]


# measured values: near to what they should be, not long -----------------------------------

@pytest.mark.parametrize(("parts", "good"), [
    (((18, 0.0), (26, 5.0)), (1, 18)),  # a fault that lasts longer than what was before it
    (((24, 4.0), (12, 0.0)), (25, 36)),  # a fault from the start, mended late
    (((14, 0.0), (25, -4.0), (10, 0.0)), (1, 14)),  # a fault in the middle
    (((10, 0.1), (25, -4.0), (16, 0.0)), (36, 51)),  # equally good, the longer one counts
])
def test_a_fault_that_lasts_does_not_become_usual(
    parts: tuple[tuple[int, float], ...], good: tuple[int, int]
) -> None:
    points = series(*parts)
    first, last = span(propose(points, "individuals"))
    assert abs(first - good[0]) <= 1 and abs(last - good[1]) <= 1
    assert "nearest to where the print should sit" in propose(points, "individuals").why[0]


def test_a_platen_that_heats_unevenly_is_not_usual() -> None:
    uneven = series((9, 2.0), (20, 8.0), of="spread_c", subject="platen")
    assert span(propose(uneven, "individuals")) == (1, 9)
    assert "the smallest spread" in propose(uneven, "individuals").why[0]
    short = series((4, 2.0), (9, 9.0), of="spread_c", subject="platen")
    found = propose(short, "individuals")
    assert found.stretch is None and "the most even has only 4 points" in found.why[0]


def test_all_three_together_are_held_to_their_place() -> None:
    rng = np.random.default_rng(9)
    rows = rng.normal(0, 1, (60, 3)) * (1.0, 2.0, 0.3)
    rows[20:, 2] += 1.5  # five of its own sigmas, though small beside up and down
    points = values(rows, np.arange(60), of="together")
    first, last = span(propose(points, "t2"))
    assert first == 1 and abs(last - 20) <= 1


def test_runs_between_two_take_the_part_with_the_longest() -> None:
    rng = np.random.default_rng(2)
    between = np.r_[rng.geometric(1 / 150, 25), rng.geometric(1 / 15, 60)] - 1
    start = START_US + np.arange(len(between)) * DAY_US
    points = GapPoints(stream=stream("defects", "scorch"), start_us=start, end_us=start + DAY_US,
                       n=between + 1, between=between, since_last=0, blocks=False)
    first, last = span(propose(points, "g"))
    assert first == 1 and 22 <= last <= 28  # many short runs are many points, and no better


# flags ---------------------------------------------------------------------------------------

def test_what_a_flag_is_about_is_set_aside_though_it_looks_steady() -> None:
    points = series((50, 0.0))
    assert span(propose(points, "individuals")) == (1, 50)
    assert span(propose(points, "individuals", [during(points, 31, None)])) == (1, 30)
    assert span(propose(points, "individuals", [during(points, 1, 20)])) == (21, 50)
    middle = propose(points, "individuals", [during(points, 15, 25)])
    assert span(middle) == (26, 50) and "no open flag or case is about" in middle.why[1]
    assert "Of 2 parts" in middle.why[0]


def test_a_flagged_point_is_one_that_lies_in_its_time_in_part() -> None:
    points = series((10, 0.0))
    noon = int(points.start_us[4]) + DAY_US // 2
    assert touched(points, [Aside(from_us=noon, until_us=noon + DAY_US, whole=True)]).tolist() == [
        k in (4, 5) for k in range(10)]
    assert touched(points, []).sum() == 0


def test_nothing_left_is_said_with_its_reason() -> None:
    points = series((30, 0.0))
    found = propose(points, "individuals", [during(points, 6, None)])
    assert found.stretch is None
    assert "about 25 of 30 points" in found.why[0] and "has 5 in a row" in found.why[0]
    assert propose(points, "individuals", [during(points, 1, None)]).stretch is None


def test_a_flag_about_a_part_of_the_work_counts_where_too_little_is_left() -> None:
    points = counts([300] * 40, np.random.default_rng(4).binomial(300, 0.1, 40).tolist(),
                    [0.1] * 40)
    some = propose(points, "mix", [during(points, 21, None, whole=False)])
    assert span(some) == (1, 20)
    all_of_it = propose(points, "mix", [during(points, 3, None, whole=False)])
    assert span(all_of_it) == (1, 40) and "a part of this work in 38" in all_of_it.why[-1]
    own = propose(points, "mix", [during(points, 3, None, whole=False), during(points, 1, 10)])
    assert span(own) == (11, 40)


def test_the_chart_proposes_anew_when_flags_are_known(shop: Shop) -> None:
    moved_us = START_US + JIG_MOVED_DAY * DAY_US
    early = Aside(from_us=START_US + 20 * DAY_US, until_us=None, whole=True)
    unlooked = stream_chart(shop, Asked(stream=DX), as_of_us=END_US)
    looked = stream_chart(shop, Asked(stream=DX, aside=(early,)), as_of_us=END_US)
    assert unlooked.stretch is not None and looked.stretch is not None
    assert period_of(unlooked)[1] <= moved_us
    assert period_of(looked)[1] <= early.from_us and looked.judgement is not None
    assert looked.judgement.flagged == 0


def test_a_flagged_stretch_can_be_chosen_and_says_so_wherever_it_is_frozen(tmp_path) -> None:
    made, *_ = build(tmp_path)
    base = (START_US, END_US)
    aside = (Aside(from_us=START_US + JIG_MOVED_DAY * DAY_US, until_us=None, whole=True),)
    asked = Asked(stream=DX, base_us=base, aside=aside)
    found = stream_chart(made, asked, as_of_us=END_US)
    assert found.judgement is not None and found.judgement.flagged == 10  # no work on Sundays
    assert not found.judgement.fit and "an open flag or case is about 10 of these" in (
        found.judgement.against[0])
    late = tuple((found.points.key(at), "jig moved") for at in range(27, 37))
    without = stream_chart(made, replace(asked, excluded=late), as_of_us=END_US)
    assert without.judgement is not None and without.judgement.flagged == 0
    kept = freeze_limits(made, asked, since_us=None, by="Ann", why="all of it", at_us=END_US)
    assert "an open flag or case is about 10" in kept.evidence["against"][0]
    assert kept.evidence["flags_looked_at"] and not kept.evidence["fit"]
    blind = freeze_limits(made, replace(asked, aside=None), since_us=None, by="Ann", why="again",
                          at_us=END_US + 1)
    assert not blind.evidence["flags_looked_at"]
    made.store.close()
