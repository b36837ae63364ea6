"""Keeping up with the records: what has settled is not gone through again.

A watch is kept up to the last slot whose records have all come in (``ALLOWED_LATENESS_US`` after
its end). Later slots are gone through anew each time, from a copy. If something changes before
that, a correction or a row entered later still, the watch begins again: the outcome is always that
of one scan over everything.
"""

from __future__ import annotations

import copy

import numpy as np
import pandas as pd

from qc.domain.baselines import BaselineDecision
from qc.domain.instants import DAY_US
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import Bools, Evidence, Ints
from qc.monitor.replay import Outcome, Watch

ALLOWED_LATENESS_US = DAY_US
"""A record may come in so late after it was made without anything being gone through again."""


class Follower:
    """The watch of one shop, kept between scans."""

    def __init__(self) -> None:
        self._watch: Watch | None = None
        self._asked: tuple[object, ...] = ()
        self._settled_us = 0
        self._mark = 0

    def outcome(
        self, evidence: Evidence, budget: AlarmBudget, *, as_of_us: int,
        baselines: tuple[BaselineDecision, ...] = (),
    ) -> Outcome | None:
        """What `qc.monitor.replay.replay` would say."""
        if len(evidence.n) == 0 or not evidence.kinds:
            return None
        asked = (budget, baselines, evidence.kinds)
        settled_us = as_of_us - ALLOWED_LATENESS_US
        if self._watch is None or not self._goes_on(evidence, asked, settled_us):
            self._watch = Watch(evidence.kinds, budget, baselines)
        self._watch.catch_up(evidence, as_of_us=settled_us)
        self._asked, self._settled_us = asked, settled_us
        self._mark = prefix_mark(evidence, settled_us)
        tail = copy.deepcopy(self._watch)
        tail.catch_up(evidence, as_of_us=as_of_us)
        return tail.outcome(evidence)

    def _goes_on(self, evidence: Evidence, asked: tuple[object, ...], settled_us: int) -> bool:
        """Is what was gone through still what the records say?"""
        return (
            asked == self._asked and settled_us >= self._settled_us
            and prefix_mark(evidence, self._settled_us) == self._mark
        )


def prefix_mark(evidence: Evidence, upto_us: int) -> int:
    """A number that changes with anything that had been seen by a moment, whatever the order."""
    old = evidence.seen_us < upto_us
    unit = _hash(evidence.pressed_us) + 3 * _hash(evidence.seen_us) + 5 * _hash(evidence.n)
    for name in sorted(evidence.factors):
        coded = evidence.factors[name]
        unit = unit * np.uint64(31) + _names(coded.levels)[coded.codes]
    unit = unit * np.uint64(31) + _names(evidence.job.levels)[evidence.job.codes]
    kinds = _names(evidence.kinds)
    fault = unit[evidence.fault_unit] * kinds[evidence.fault_kind] + _hash(evidence.fault_n)
    zoned = unit[evidence.zoned_unit] * kinds[evidence.zoned_kind] + _hash(
        evidence.zoned_n * 16 + evidence.zoned_zone
    )
    return hash((
        _total(unit, old), _total(fault, evidence.fault_seen_us < upto_us),
        _total(zoned, evidence.zoned_seen_us < upto_us),
    ))


def _hash(values: np.ndarray) -> np.ndarray:
    return pd.util.hash_array(np.ascontiguousarray(values))


def _names(names: tuple[str, ...]) -> np.ndarray:
    """Hashes of names, with one more at the end for code -1."""
    return _hash(np.array([*names, ""], dtype=object))


def _total(values: np.ndarray, chosen: Bools | Ints) -> int:
    return int(values[chosen].sum(dtype=np.uint64))
