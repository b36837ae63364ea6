"""Records that come in one after another end in the same flags as one scan over all of them."""

from __future__ import annotations

from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_data import random_spec, simulate
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US, HOUR_US
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import Evidence, gather
from qc.monitor.following import ALLOWED_LATENESS_US, Follower
from qc.monitor.scan import scan
from tests.benchmarks.direct import parsed_records, store_like_looks

BUDGET = AlarmBudget(false_flags_per_week=8.0)
DAYS = 30


@cache
def shop(seed: int) -> tuple[pd.DataFrame, pd.DataFrame, int, int]:
    """Looks and findings of a small shop with a fault that is soon seen, its start and its end."""
    kind = ("press_fault", "cold_corner", "weak_transfer_lot")[seed % 3]
    spec = random_spec(np.random.default_rng(seed), fault=kind, n_pieces=5000, days=DAYS)
    made = simulate(spec, seed)
    looks, findings = store_like_looks(parsed_records(made)["inspections"])
    return looks, findings, made.start_us, made.end_us


def known(looks: pd.DataFrame, findings: pd.DataFrame, come: np.ndarray) -> Evidence:
    """The evidence of the looks that have come in."""
    return gather(count_once(looks[come], findings[findings["look"].isin(looks.index[come])]))


def said(evidence: Evidence, as_of_us: int, follower: Follower | None) -> list[tuple]:
    """Everything that is said of the flags, but for texts."""
    found = scan(evidence, (), (), BUDGET, as_of_us=as_of_us, zone=ZoneInfo("UTC"),
                 follower=follower)
    return [
        (f.id, f.characteristic, f.factor, f.other_factors, f.signalled_at_us, f.changed_at_us,
         f.changed_between_us, f.ended_at_us, f.zone, f.pieces_at_risk, f.before, f.after,
         f.expected_after, f.also)
        for f in found.flags.flags
    ]


@settings(max_examples=4)
@given(
    seed=st.sampled_from([3, 7, 8, 12]), order=st.integers(0, 2**32 - 1),
    moments=st.lists(st.floats(0.3, 1.0), min_size=1, max_size=4),
)
def test_following_the_records_ends_in_the_same_flags(seed, order, moments):
    looks, findings, start_us, end_us = shop(seed)
    rng = np.random.default_rng(order)
    made = looks["inspected_at"].to_numpy(dtype=np.int64)
    late = rng.integers(0, ALLOWED_LATENESS_US, len(looks))
    arrived = made + np.where(rng.random(len(looks)) < 0.2, late, 0)
    follower = Follower()
    for share in sorted(moments):
        now = start_us + int(share * (end_us - start_us))
        said(known(looks, findings, (arrived <= now) & (made <= now)), now, follower)
    last = end_us + ALLOWED_LATENESS_US
    shuffled = rng.permutation(len(looks))
    everything = known(looks.iloc[shuffled], findings, np.ones(len(looks), dtype=bool))
    assert said(everything, last, follower) == said(everything, last, None)


def test_flags_once_shown_keep_their_id_and_their_signal():
    looks, findings, start_us, end_us = shop(7)
    made = looks["inspected_at"].to_numpy(dtype=np.int64)
    shown: dict[str, int] = {}
    for now in range(start_us + 12 * DAY_US, end_us, 3 * DAY_US + 5 * HOUR_US):
        flags = said(known(looks, findings, made <= now), now, None)
        now_shown = {flag[0]: flag[4] for flag in flags}
        assert shown.items() <= now_shown.items()
        shown = now_shown
    assert shown


def test_a_correction_of_what_had_settled_is_taken_in():
    looks, findings, start_us, end_us = shop(8)
    follower = Follower()
    said(known(looks, findings, np.ones(len(looks), dtype=bool)), end_us, follower)
    early = looks.index[looks["inspected_at"] < start_us + 5 * DAY_US]
    corrected = findings[~findings["look"].isin(early)]
    everything = known(looks, corrected, np.ones(len(looks), dtype=bool))
    assert said(everything, end_us, follower) == said(everything, end_us, None)
