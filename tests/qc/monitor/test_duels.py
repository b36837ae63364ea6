"""Two causes that share most of their pieces are told apart by the rest."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from qc.domain.counting import count_once
from qc.monitor.attribution import Candidate, candidates, judge
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US, gather
from qc.monitor.explaining import Pick, best_causes, parts_of_one, whole_cause
from qc.monitor.joint import settled
from qc.monitor.replay import Watch
from qc.monitor.windows import Stream
from tests.qc.monitor.hand_shop import START_US

N_SLOTS, PER_SLOT, BEGIN = 240, 40, 190
NO_FLAGS = AlarmBudget(false_flags_per_week=1e-12)


def shop(seed: int, *, of: str, level: str | tuple[str, ...], ratio: float, missing: float = 0.0,
         one_lot: bool = False, stations: bool = False, budget: AlarmBudget = NO_FLAGS,
         and_press: str = "") -> Watch:
    """A shop watched to its end in which levels of a factor got worse, and with ``and_press`` a
    press too; press P1 does most of the film, Ada works mostly there, lots last 12 slots, or one
    since it began."""
    rng = np.random.default_rng(seed)
    n = N_SLOTS * PER_SLOT
    pressed = START_US + np.arange(n) * (SLOT_US // PER_SLOT)
    slot = np.arange(n) // PER_SLOT
    transfer = np.where(rng.random(n) < 0.4, "film", "foam")
    press = np.where(rng.random(n) < np.where(transfer == "film", 0.8, 0.25), "P1", "P2")
    lot = np.char.add(np.char.add(transfer, "-"), (slot // 12 if not one_lot else
                                                   (slot >= BEGIN)).astype(int).astype(str))
    levels = {
        "press": press, "transfer": transfer, "transfer_lot": lot.astype(object),
        "operator": np.where(rng.random(n) < np.where(press == "P1", 0.8, 0.2), "ada", "bo"),
        "station": np.where(rng.random(n) < 0.5, "left", "right") if stations else None,
    }
    bad = np.isin(levels[of], level) & (slot >= BEGIN)
    levels["transfer_lot"] = np.where(rng.random(n) < missing, None, levels["transfer_lot"])
    looks = pd.DataFrame({
        "piece_id": [f"L{i}" for i in range(n)], "attempt": 1, "stage": "final",
        "inspected_at": pressed + 60_000_000, "pressed_at": pressed,
        "fabric": rng.choice(["rib", "fleece"], n), "location": "chest", "size": None,
        "job": [f"J{i // 25}" for i in range(n)], "garment_lot": None,
        "disposition": "pass", "pieces": 1, "defective": 0, **levels,
    }).rename_axis("look")
    worse = np.where((press == and_press) & (slot >= BEGIN), ratio, 1.0)
    faulty = np.flatnonzero(rng.random(n) < 0.03 * np.where(bad, ratio, 1.0) * worse)
    findings = pd.DataFrame({"look": faulty, "kind": "lifted_edge", "zone": None, "n": 1})
    evidence = gather(count_once(looks, findings))
    watch = Watch(evidence.kinds, budget)
    watch.catch_up(evidence, as_of_us=START_US + N_SLOTS * SLOT_US)
    return watch


def first(watch: Watch) -> list[tuple[str, str]]:
    """Factor and level of the candidates after their duels, best first."""
    state = watch.state
    found = candidates(state, 0, watch.spread)
    out = settled(state, found, watch.spread)
    return [(state.factor(c.stream.row), state.level(c.stream.row)) for c in out]


@pytest.mark.parametrize(("of", "level"), [
    ("press", "P1"), ("transfer", "film"), ("operator", "ada"), ("transfer", "foam")])
def test_the_cause_wins_over_what_shares_its_pieces(of: str, level: str) -> None:
    right = [first(shop(seed, of=of, level=level, ratio=3.0))[0] == (of, level)
             for seed in range(10)]
    assert sum(right) >= 8


def test_a_lot_is_not_its_transfer_for_want_of_a_note_on_some_pieces() -> None:
    """All film since the fault began is of one lot; of some of it the lot is not known."""
    right = [first(shop(seed, of="transfer", level="film", ratio=3.0, missing=0.08,
                        one_lot=True))[0] == ("transfer_lot", "film-1") for seed in range(10)]
    assert sum(right) >= 8


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


def test_scores_only_fall_and_the_best_stands_first() -> None:
    watch = shop(3, of="press", level="P1", ratio=3.0)
    state = watch.state
    found = candidates(state, 0, watch.spread)
    out = settled(state, found, watch.spread)
    assert sorted(c.stream.row for c in out) == sorted(c.stream.row for c in found)
    assert all(c.score <= out[0].score for c in out)
    assert [c.gain for c in sorted(out, key=row)] == [c.gain for c in sorted(found, key=row)]
    assert settled(state, found[:1], watch.spread) == found[:1]
    assert settled(state, [], watch.spread) == []


def row(candidate: Candidate) -> tuple[int, int]:
    zone = candidate.stream.zone
    return candidate.stream.row, -1 if zone is None else zone
