"""The whole way: a fault inside the records a baseline is chosen from does not become normal.

Simulated shops with a press whose edges lift three times as often as usual: from the second week
on, or from the first day until it was put right after half of the time. Held against what the
simulator knows to be the usual rate of each piece.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest

from demo_data import SimulatedShop, random_spec, simulate
from demo_data.building import build_store
from demo_data.truth import Planted
from qc.desk.baseline import (
    baseline_standing,
    freeze_baseline,
    history_of,
)
from qc.desk.flags import current_flags
from qc.desk.ranking import ranked_defects
from qc.desk.scanning import scanned
from qc.desk.shop import Shop, open_shop
from qc.domain.flags import Flag
from qc.domain.instants import DAY_US
from qc.monitor.history import usual_of

SWALLOWED = 1.35
"""Half of the period at three times the rate would make what is usual twice what it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    shop: Shop
    sim: SimulatedShop
    fault: Planted


@pytest.fixture(scope="module", params=[
    (400, 15.0, None), (401, 15.0, None), (400, 0.0, 30.0), (401, 0.0, 30.0),
], ids=["early-a", "early-b", "first-day-a", "first-day-b"])
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
         ) -> Iterator[Made]:
    seed, day, until_day = request.param
    spec = random_spec(np.random.default_rng(seed), fault="press_fault", n_pieces=20_000, days=60,
                       n_presses=4)
    (fault,) = spec.faults
    spec = replace(spec, faults=(replace(fault, day=day, until_day=until_day),), blocks=0.0,
                   unrecorded=())
    sim = simulate(spec, seed)
    place = tmp_path_factory.mktemp("robust") / "shop.db"
    build_store(sim, place, by="tester")
    shop = open_shop(str(place))
    yield Made(shop=shop, sim=sim, fault=sim.truth[0])
    shop.store.close()


def about(made: Made, flags: tuple[Flag, ...]) -> list[Flag]:
    """Flags of the fault: its defect, and its press or the one station of it."""
    return [flag for flag in flags if made.fault.characteristic in (flag.characteristic, *flag.also)
            and (flag.factor.level or "").split("/")[0] == made.fault.level]


def usual_on_press(made: Made) -> tuple[float, float]:
    """Rate of the fault's defect on its press: by the proposed baseline, and in truth."""
    found = baseline_standing(made.shop, as_of_us=made.sim.end_us).proposal
    assert found is not None and found.is_ready
    known = scanned(made.shop, made.sim.end_us)
    history = history_of(made.shop, known, (), as_of_us=made.sim.end_us,
                         since_us=found.from_us, until_us=found.until_us)
    kind = history.kinds.index(made.fault.characteristic)
    rate = usual_of(history, np.ones(len(history.day), dtype=bool))[:, kind]
    evidence, pieces = known.evidence, known.counted.pieces
    press = evidence.factors["press"]
    mine = press.codes == press.levels.index(made.fault.level)
    mine &= evidence.cell_codes[evidence.cell][:, 3] == 0  # the first look
    ids = pieces["piece_id"].to_numpy()[evidence.unit_piece[mine]]
    truth = made.sim.usual[made.fault.characteristic].reindex(ids)
    return float(rate[evidence.cell[mine]].mean()), float(truth.mean())


def test_what_is_usual_has_not_swallowed_the_fault(made: Made) -> None:
    proposed, true = usual_on_press(made)
    assert true / SWALLOWED < proposed < true * SWALLOWED


def test_the_fault_is_flagged_and_stands_out_beside_its_mix(made: Made) -> None:
    found = about(made, current_flags(made.shop, as_of_us=made.sim.end_us).flags)
    assert found, "a fault of three times the rate, half of the records long, is not flagged"
    rows = ranked_defects(made.shop, by=("press",), kinds=(made.fault.characteristic,),
                          as_of_us=made.sim.end_us).rows
    (row,) = [row for row in rows if row.level == (made.fault.level,)]
    assert row.stands_out and row.ratio == max(one.ratio or 0 for one in rows)


def test_its_expected_rate_is_the_usual_one(made: Made) -> None:
    found = about(made, current_flags(made.shop, as_of_us=made.sim.end_us).flags)
    _, true = usual_on_press(made)
    assert found[0].expected_after is not None
    assert found[0].expected_after < 1.5 * true


def test_frozen_in_the_middle_it_changes_no_flag_already_given(made: Made) -> None:
    middle = made.sim.start_us + 45 * DAY_US
    before = {flag.id: flag.signalled_at_us
              for flag in current_flags(made.shop, as_of_us=middle).flags}
    frozen = freeze_baseline(made.shop, period=None, by="ann", why="six weeks", at_us=middle)
    assert frozen.decision.until_us is not None and frozen.decision.until_us <= middle
    later = {flag.id: flag.signalled_at_us
             for flag in current_flags(made.shop, as_of_us=made.sim.end_us).flags}
    assert before.items() <= later.items()
    found = about(made, current_flags(made.shop, as_of_us=made.sim.end_us).flags)
    assert found and found[0].expected_after is not None
    assert found[0].expected_after < 1.5 * usual_on_press(made)[1]
