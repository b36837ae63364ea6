"""Where an excess lies, on small records counted by hand and by a plain second way."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson

from qc.domain.flags import FactorShare
from qc.domain.instants import DAY_US
from qc.monitor.chains import united
from qc.monitor.evidence import Coded, Evidence
from qc.monitor.excess import LEAST, MOST, OUTSIDE_GAIN, excess_lies_within
from tests.qc.monitor.test_chains import finding, platen, rate

NONE = np.zeros(0, dtype=np.int64)


def evidence_of(faulty, *, n_units=1000, pieces=1.0, kind="lifted_edge", seen_us=None):
    """Units in order of time, each looked at on day 45 unless said, with faults in some."""
    seen = np.full(n_units, 45 * DAY_US) if seen_us is None else seen_us
    at = np.asarray(faulty, dtype=np.int64)
    empty = Coded(codes=np.full(n_units, -1), levels=())
    return Evidence(
        pressed_us=seen, seen_us=seen, n=np.full(n_units, pieces), unit_piece=np.arange(n_units),
        cell=np.zeros(n_units, dtype=np.int64), cell_codes=np.zeros((1, 4), dtype=np.int64),
        cell_levels=(), factors={}, job=empty, run=empty, kinds=("bubble", kind), fault_unit=at,
        fault_kind=np.ones(len(at), dtype=np.int64), fault_n=np.ones(len(at)),
        fault_seen_us=seen[at], zoned_unit=NONE, zoned_kind=NONE, zoned_zone=NONE,
        zoned_n=np.zeros(0), zoned_seen_us=NONE,
    )


def by_ana(**more):
    """A rise of lifted edges from 1 to 3 in a hundred over 1000 of Ana's pieces."""
    return rate(factor=FactorShare(name="operator", level="Ana", weight=0.99),
                units=np.arange(1000), after=0.03, expected_after=0.01, **more)


INSIDE = np.arange(400)
"""Ana's pieces that were pressed on the platen."""


def test_a_rise_that_is_the_presss_goes_with_its_pieces():
    faulty = [*range(0, 400, 16), *range(400, 1000, 100)]  # 25 of 400 inside, 6 of 600 outside
    assert excess_lies_within(by_ana(), INSIDE, evidence_of(faulty), 50 * DAY_US)


def test_a_rise_that_is_the_persons_is_there_on_every_press():
    faulty = range(0, 1000, 33)  # 3 in a hundred everywhere
    assert not excess_lies_within(by_ana(), INSIDE, evidence_of(faulty), 50 * DAY_US)


def test_an_excess_outside_is_not_explained():
    faulty = [*range(0, 400, 100), *range(400, 1000, 20)]
    assert not excess_lies_within(by_ana(), INSIDE, evidence_of(faulty), 50 * DAY_US)


def test_other_kinds_and_later_records_do_not_count():
    faulty = [*range(0, 400, 16), *range(400, 1000, 100)]
    other = evidence_of(faulty, kind="scorch")
    assert not excess_lies_within(by_ana(), INSIDE, other, 50 * DAY_US)
    assert not excess_lies_within(by_ana(), INSIDE, evidence_of(faulty), 44 * DAY_US)


def test_what_the_rise_came_to_later_does_not_count():
    """The list of pieces grows and is cut as more is known; what was known then stays."""
    seen_us = np.arange(1000) * (DAY_US // 10)  # a hundred days, ten pieces a day, all Ana's
    evidence = replace(
        evidence_of([*range(0, 400, 16), 450, *range(520, 1000, 20)], seen_us=seen_us),
        factors={"operator": Coded(codes=np.zeros(1000, dtype=np.int64), levels=("Ana",))})
    for listed in (np.arange(1000), np.arange(300, 600)):
        ana = replace(by_ana(day=0.0), units=listed)
        assert excess_lies_within(ana, INSIDE, evidence, 50 * DAY_US)
        assert not excess_lies_within(ana, INSIDE, evidence, 100 * DAY_US)


def test_what_is_usual_is_the_levels_own_past():
    """Ten in a hundred before and since: no rise, whatever rate was fitted."""
    seen_us = np.arange(1000) * (DAY_US // 10)
    evidence = replace(evidence_of(range(0, 1000, 10), seen_us=seen_us),
                       factors={"operator": Coded(codes=np.zeros(1000, dtype=np.int64),
                                                  levels=("Ana",))})
    late = np.arange(500, 1000)
    assert not excess_lies_within(by_ana(day=50.0), late, evidence, 100 * DAY_US)
    assert excess_lies_within(by_ana(day=0.0), np.arange(1000), evidence, 100 * DAY_US)


@pytest.mark.parametrize("usual", [None, 0.0, 0.03, 0.05])
def test_without_a_rise_there_is_no_excess(usual):
    unknown = finding("defect_rate", "lifted_edge", expected_after=usual, units=np.arange(1000))
    assert not excess_lies_within(unknown, INSIDE, evidence_of(range(30)), 50 * DAY_US)


@settings(max_examples=200, deadline=None)
@given(faulty=st.sets(st.integers(0, 999), max_size=80), n_inside=st.integers(0, 1000))
def test_a_plain_second_way_says_the_same(faulty, n_inside):
    """Piece by piece, with scipy's Poisson likelihoods."""
    usual, after = 0.01, len(faulty) / 1000
    inside = sum(1 for unit in faulty if unit < n_inside)
    outside, total = len(faulty) - inside, len(faulty) - usual * 1000
    within = inside - usual * n_inside
    calm, risen = (rate_ * (1000 - n_inside) for rate_ in (usual, after))
    gain = 0.0
    if n_inside < 1000 and after > 0:
        gain = poisson.logpmf(outside, risen) - poisson.logpmf(outside, calm)
    if min(abs(within - MOST * total), abs(gain - OUTSIDE_GAIN), abs(total - LEAST)) < 1e-6:
        return  # on the line, where rounding decides
    wanted = total >= LEAST and within >= MOST * total and gain < OUTSIDE_GAIN
    assert excess_lies_within(
        by_ana(), np.arange(n_inside), evidence_of(sorted(faulty)), 50 * DAY_US) is bool(wanted)


def test_the_records_decide_over_the_pieces_that_are_shared():
    """Sure of Ana, and with 40 of 100 pieces on the platen: only the counts tell."""
    cold = platen(units=INSIDE)
    pressed = evidence_of([*range(0, 400, 16), *range(400, 1000, 100)])
    persons = evidence_of(range(0, 1000, 33))
    assert len(united([by_ana(), cold])) == 2
    assert len(united([by_ana(), cold], evidence=pressed)) == 1
    assert len(united([by_ana(), cold], evidence=persons)) == 2
