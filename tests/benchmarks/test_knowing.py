"""The watcher who knows the shop: its measure is the luck of the rules, its prices are counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from qc.domain.instants import DAY_US
from tests.benchmarks.judging import Honest, luck_of, work_of
from tests.benchmarks.knowing import WATCHED, Watcher, prices
from tests.benchmarks.test_planted import shop_with


@pytest.mark.parametrize("kind", ["fabric_fault", "press_fault", "weak_transfer_lot"])
def test_the_watchers_measure_is_luck(kind: str) -> None:
    shop, honest = shop_with(kind, 5), Honest(job=0.3, lot=0.1, level=0.15)
    work = work_of(shop)
    planted_one = next(fault for fault in shop.truth if fault.expect_flag)
    day = (planted_one.start_us - shop.start_us) // DAY_US
    fault = replace(planted_one, start_us=shop.start_us + day * DAY_US, end_us=None)
    watcher = Watcher(work, honest, fault.characteristic, shop.start_us)
    of, end = watcher.level(fault.factor, fault.level or ""), watcher.n_days
    found = watcher.lucks(of, end, np.full(end, end))
    assert 1e-30 < found[day] < 0.5
    assert found[day] == pytest.approx(luck_of(fault, work, honest, [fault]), rel=1e-9)


def test_a_watcher_flags_where_luck_is_rare() -> None:
    shop = shop_with("press_fault", 1)
    fault = next(fault for fault in shop.truth if fault.expect_flag)
    watcher = Watcher(work_of(shop), Honest(job=0.3), fault.characteristic, shop.start_us)
    presses = sorted(set(watcher.work.levels["press"]))
    least = {one: watcher.least("press_fault", watcher.level("press", one)) for one in presses}
    assert min(least, key=least.__getitem__) == fault.level and least[fault.level] < 1e-4
    assert all(luck > 1e-4 for one, luck in least.items() if one != fault.level)


def test_prices_are_false_flags_a_week() -> None:
    watched = [{"weeks": 10.0, "lucks": dict.fromkeys(WATCHED, []) | {"fabric_fault": lucks}}
               for lucks in ([1e-4, 2e-2], [3e-3])]
    faults = [{"luck": 10.0 ** -k, "moderate": True} for k in range(1, 101)]
    said = prices(watched, [{"kind": "fabric_fault", "faults": faults}])
    # 92 of 100 have a lower end of 85 % (Wilson 1927): the 92nd smallest is 1e-9
    assert "| fabric_fault | 100 | 92 | 1e-09 | 0.000 |" in said
    easy = [{"luck": 2e-3, "moderate": True}] * 100
    assert "| 0.002 | 0.050 |" in prices(watched, [{"kind": "fabric_fault", "faults": easy}])
