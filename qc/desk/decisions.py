"""The decisions about the baseline that the replay of a shop goes by."""

from __future__ import annotations

from dataclasses import replace

from qc.desk.agreed import agreed_changes
from qc.desk.shop import Shop
from qc.domain.baselines import BaselineDecision
from qc.domain.instants import parse_instant
from qc.store.baselines import read_baselines


def decisions(shop: Shop, *, as_of_us: int) -> tuple[BaselineDecision, ...]:
    """The decisions known at a moment, oldest first: the setting, then what was frozen."""
    from_us = setting_us(shop)
    found = [] if from_us is None else [BaselineDecision(
        decided_at_us=0, from_us=from_us, until_us=None, by="", why="setting baseline_from")]
    agreed = agreed_changes(shop, None, as_of_us=as_of_us)
    for one in read_baselines(shop.store, as_of_us=as_of_us):
        before = tuple(c.at_us for c in agreed if c.at_us <= one.decision.from_us)
        found.append(replace(one.decision, agreed_us=before))
    return tuple(found)


def setting_us(shop: Shop) -> int | None:
    """The setting baseline_from as an instant; None where it is empty."""
    said = shop.settings["baseline_from"]
    return parse_instant(said, shop.zone) if said else None
