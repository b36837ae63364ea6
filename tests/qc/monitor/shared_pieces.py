"""An invented shop in which the causes of a fault share most of their pieces."""

from __future__ import annotations

import numpy as np
import pandas as pd

from qc.domain.counting import count_once
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US, gather
from qc.monitor.replay import Watch
from tests.qc.monitor.hand_shop import START_US

N_SLOTS, PER_SLOT, BEGIN = 240, 40, 190
NO_FLAGS = AlarmBudget(false_flags_per_week=1e-12)


def shop(seed: int, *, of: str, level: str | tuple[str, ...], ratio: float, missing: float = 0.0,
         one_lot: bool = False, stations: bool = False, budget: AlarmBudget = NO_FLAGS,
         and_press: str = "", until: int = N_SLOTS) -> Watch:
    """A shop watched to its end in which levels of a factor got worse, ``until`` a slot, and with
    ``and_press`` a press too; press P1 does most of the film, Ada works mostly there, lots last 12
    slots, or one since it began."""
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
    bad = np.isin(levels[of], level) & (slot >= BEGIN) & (slot < until)
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
