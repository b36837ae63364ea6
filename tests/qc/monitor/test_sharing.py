"""Two causes that share most of their pieces are told apart by the rest."""

from __future__ import annotations

import numpy as np

from qc.monitor.attribution import judge
from qc.monitor.budget import AlarmBudget
from qc.monitor.explaining import Pick, best_causes, parts_of_one, whole_cause
from qc.monitor.replay import Watch
from qc.monitor.windows import Stream
from tests.qc.monitor.shared_pieces import BEGIN, shop


def of_the_whole(watch: Watch, parts: list[tuple[str, str]]) -> str | None:
    """The level that explains these parts of it better than each by itself, if any."""
    state, n = watch.state, watch.state.n_slots
    picks = []
    for factor, level in parts:
        stream = Stream(kind=0, row=state.rows.number[(factor, level)])
        start = max(BEGIN, int(state.first_slot[stream.row]))
        one = judge(state, stream, start, n, watch.spread)
        picks.append(Pick(best=one, found=[one]))
    (row, some), = parts_of_one(state, picks, []).items()
    assert some == picks
    whole = whole_cause(state, 0, row, some, [], watch.spread)
    return None if whole is None else state.level(whole.row)


def test_two_bad_lots_of_a_transfer_are_the_transfer_if_the_others_are_bad_too() -> None:
    lots = [("transfer_lot", "film-16"), ("transfer_lot", "film-17")]
    whole = [of_the_whole(shop(seed, of="transfer", level="film", ratio=5.0), lots)
             for seed in range(8)]
    assert whole.count("film") >= 7
    two = [of_the_whole(shop(seed, of="transfer_lot", level=("film-16", "film-17"), ratio=5.0),
                        lots) for seed in range(8)]
    assert two.count(None) >= 7


def test_both_stations_of_a_press_are_the_press() -> None:
    parts = [("station", "P2/left"), ("station", "P2/right")]
    whole = [of_the_whole(shop(seed, of="press", level="P2", ratio=3.0, stations=True), parts)
             for seed in range(4)]
    assert whole == ["P2"] * 4


def test_parts_of_different_wholes_and_a_part_alone_are_left_alone() -> None:
    watch = shop(1, of="press", level="P1", ratio=1.0, stations=True)
    state = watch.state
    rows = [state.rows.number[key] for key in (
        ("transfer_lot", "film-16"), ("transfer_lot", "foam-16"), ("station", "P1/left"))]
    one = [judge(state, Stream(kind=0, row=row), BEGIN, 1, watch.spread) for row in rows]
    picks = [Pick(best=c, found=[c]) for c in one]
    assert parts_of_one(state, picks, []) == {}
    assert parts_of_one(state, [], picks) == {}


def test_a_fault_of_a_transfer_ends_as_one_flag_though_its_lots_were_flagged_first() -> None:
    budget = AlarmBudget(false_flags_per_week=0.25)
    alone = 0
    for seed in range(6):
        watch = shop(seed, of="transfer", level="film", ratio=3.0, budget=budget)
        state = watch.state
        left = {(state.factor(c.row), state.level(c.row))
                for c in watch.changes if c.part_of is None and c.signalled >= BEGIN}
        alone += left == {("transfer", "film")}
    assert alone >= 5


def test_two_causes_that_share_most_of_their_pieces_are_both_found() -> None:
    """Most film is pressed on P1: whoever is found first has taken the other's excess there."""
    budget, both, names = AlarmBudget(false_flags_per_week=0.25), 0, []
    for seed in range(6):
        watch = shop(seed, of="transfer", level="film", ratio=5.0, and_press="P1", budget=budget)
        state = watch.state
        names.append({(state.factor(c.row), state.level(c.row)) for c in watch.changes
                      if c.part_of is None and c.signalled >= BEGIN and c.end is None})
        both += names[-1] >= {("transfer", "film"), ("press", "P1")}
    assert both >= 5, names


def test_a_cause_by_itself_hides_nothing() -> None:
    budget = AlarmBudget(false_flags_per_week=0.25)
    for seed in range(6):
        watch = shop(seed, of="press", level="P1", ratio=4.0, budget=budget)
        state = watch.state
        assert {(state.factor(c.row), state.level(c.row)) for c in watch.changes
                if c.part_of is None and c.signalled >= BEGIN} == {("press", "P1")}


def test_the_only_place_of_a_shop_is_the_shop() -> None:
    """All is printed on the chest: what happens everywhere is not the chest's."""
    for seed in range(3):
        watch = shop(seed, of="press", level=("P1", "P2"), ratio=3.0,
                     budget=AlarmBudget(false_flags_per_week=0.25))
        assert {watch.state.factor(c.row) for c in watch.changes
                if c.part_of is None and c.signalled >= BEGIN} == {"shop"}


def test_what_is_left_over_is_judged_beside_what_explains_the_rest() -> None:
    """A change that is kept for want of a better cause counts only what others leave."""
    watch = shop(2, of="press", level="P1", ratio=4.0, budget=AlarmBudget(
        false_flags_per_week=0.25))
    state, change = watch.state, watch.changes[-1]
    assert (state.factor(change.row), state.level(change.row)) == ("press", "P1")
    whole = [c for c in watch.changes if c is not change]
    picks = best_causes(state, 0, whole, watch.spread, held=[change.stream],
                        signals=lambda _: False)
    state.changes = whole
    state.rebuild(np.array([0]))
    beside = watch._beside(change, picks)
    assert beside.gain < 3.0 < change.peak
