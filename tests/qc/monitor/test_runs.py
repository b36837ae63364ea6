from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.counting import count_once
from qc.monitor.evidence import gather
from qc.monitor.runs import runs_of_work
from tests.qc.monitor.hand_shop import frames, looks_of_shop

LONGEST = 30
ANY = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(0, 40),
                         st.integers(0, 12)), min_size=1, max_size=60)


def runs(*work, late=None, longest=LONGEST):
    """Runs of (press, work, slot), each seen in its slot unless ``late`` says when."""
    press, what, slot = np.array(work, dtype=np.int64).T
    seen = slot if late is None else np.array(late, dtype=np.int64)
    run, begun = runs_of_work(press, what, slot, seen, longest=longest)
    assert len(begun) == run.max() + 1
    return run.tolist()


def test_like_work_in_slots_that_follow_one_another_is_one_run():
    assert runs((0, 7, 1), (0, 7, 1), (0, 7, 2), (0, 7, 8)) == [0, 0, 0, 0]  # overnight too


def test_another_press_or_other_work_is_another_run():
    assert len(set(runs((0, 7, 1), (1, 7, 1), (0, 8, 1)))) == 3


def test_a_slot_of_other_work_only_ends_a_run():
    first, other, again = runs((0, 7, 1), (0, 8, 2), (0, 7, 3))
    assert len({first, other, again}) == 3
    elsewhere = runs((0, 7, 1), (1, 8, 2), (0, 7, 3))  # on another press: no matter
    assert elsewhere[0] == elsewhere[2]


def test_two_at_one_press_work_on_side_by_side():
    run = runs((0, 7, 1), (0, 8, 1), (0, 7, 2), (0, 8, 2))
    assert run[0] == run[2] != run[1] == run[3]


def test_no_run_is_longer_than_the_longest():
    run = runs(*((0, 7, slot) for slot in range(70)))
    assert run == sorted(run)
    assert np.bincount(run).tolist() == [30, 30, 10]


def test_work_that_is_entered_late_joins_the_run_it_lay_in():
    run = runs((0, 7, 1), (0, 7, 3), (0, 7, 2), late=(1, 3, 9))
    assert run == [0, 0, 0]
    run = runs((0, 7, 1), (0, 8, 5), (0, 7, 20), (0, 7, 2), late=(1, 5, 20, 21))
    assert run[3] not in run[:3] and run[2] not in run[:2]


def test_evidence_has_a_run_where_no_job_is_recorded_and_the_job_where_one_is():
    looks = looks_of_shop()
    named = gather(count_once(*frames(looks)))
    assert named.run is named.job
    blank = gather(count_once(*frames([look | {"job": None} for look in looks])))
    assert (blank.job.codes < 0).all() and (blank.run.codes >= 0).all()
    some = gather(count_once(*frames(
        [look | ({"job": None} if look["press"] == "P1" else {}) for look in looks])))
    nameless = some.job.codes < 0
    assert (some.run.codes[~nameless] == some.job.codes[~nameless]).all()
    names = {some.run.levels[code] for code in some.run.codes[nameless]}
    assert all(name.startswith("P1|") for name in names) and len(names) > 5


@given(ANY, st.integers(0, 60))
def test_what_is_seen_later_changes_no_run(work, upto):
    press, what, slot, delay = np.array(work, dtype=np.int64).T
    seen = slot + delay
    all_, begun = runs_of_work(press, what, slot, seen, longest=LONGEST)
    then = seen <= upto
    run, begun_then = runs_of_work(press[then], what[then], slot[then], seen[then],
                                   longest=LONGEST)
    assert run.tolist() == all_[then].tolist()
    assert begun_then == begun[: len(begun_then)]


@given(ANY)
def test_the_order_of_rows_does_not_matter(work):
    press, what, slot, delay = np.array(work, dtype=np.int64).T
    forth = runs_of_work(press, what, slot, slot + delay, longest=LONGEST)
    back = runs_of_work(press[::-1], what[::-1], slot[::-1], (slot + delay)[::-1], longest=LONGEST)
    assert forth[0].tolist() == back[0][::-1].tolist() and forth[1] == back[1]
