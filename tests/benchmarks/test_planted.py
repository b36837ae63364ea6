"""The benchmark of planted faults: both ways give the same flags, the rules judge as they say,
a stopped run goes on."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import poisson_means_test

from demo_data.random_shops import random_spec
from demo_data.shop import SimulatedShop, simulate
from qc.domain.flags import FactorShare, Flag
from qc.domain.instants import DAY_US
from tests.benchmarks import planted
from tests.benchmarks.direct import flags_directly, flags_through_files
from tests.benchmarks.judging import Honest, judged, luck_of, work_of
from tests.benchmarks.planted_table import HEADINGS, read_lines, row_of, table
from tests.demo_data.counting import kind_counts


def shop_with(kind: str, seed: int, n_pieces: int = 20_000) -> SimulatedShop:
    spec = random_spec(np.random.default_rng(seed), fault=kind, n_pieces=n_pieces, n_presses=4)
    return simulate(spec, seed)


@pytest.mark.parametrize(("kind", "seed", "stacked"), [("changed_dwell", 2, False),
                                                       ("cold_corner", 14, True)])
def test_flags_without_files_are_those_through_files(
    kind: str, seed: int, stacked: bool
) -> None:
    shop = shop_with(kind, seed, n_pieces=12_000)
    assert ("pieces" in shop.frames["inspections"]) == stacked
    flags = flags_directly(shop)
    assert flags
    assert [facts(flag) for flag in flags] == [facts(flag) for flag in flags_through_files(shop)]


def facts(flag: Flag) -> Flag:
    """A flag without its sentences, which the desk words in the shop's own units."""
    return replace(flag, message="", next_step="", sure="", settle=None)


@pytest.fixture(scope="module")
def press_shop() -> SimulatedShop:
    return shop_with("press_fault", 1)


def flag_of(shop: SimulatedShop, **changes: object) -> Flag:
    """A flag that is right about the shop's fault, but for what is changed."""
    fault = shop.truth[0]
    right = Flag(
        id="1", kind="defect_rate", characteristic=fault.characteristic, direction="up",
        press=fault.level, platen=None, zone=None,
        signalled_at_us=fault.start_us + 3 * DAY_US, changed_at_us=fault.start_us,
        changed_between_us=(fault.start_us - DAY_US, fault.start_us + DAY_US), ended_at_us=None,
        factor=FactorShare(name=fault.factor, level=fault.level, weight=1.0), other_factors=(),
        before=0.01, after=0.03, expected_after=0.01, unit="per piece", pieces_at_risk=100,
        also=(), message="", next_step="", urgency=1.0,
    )
    return replace(right, **changes)  # type: ignore[arg-type]


def fate(shop: SimulatedShop, *flags: Flag) -> tuple[bool, bool, int, int]:
    """Flagged, right, how many false, how many doubled."""
    said = judged(shop, flags)
    fault = said["faults"][0]
    return fault["flagged"], fault["right"], len(said["false"]), len(said["doubled"])


def test_a_flag_of_the_cause_is_right(press_shop: SimulatedShop) -> None:
    said = judged(press_shop, [flag_of(press_shop)])["faults"][0]
    assert (said["flagged"], said["right"], said["held"]) == (True, True, True)
    assert said["delay_days"] == pytest.approx(3.0)
    assert 0 < said["delay_pieces"] < press_shop.truth[0].n_pieces
    assert 0 < said["delay_expected"] < press_shop.truth[0].usual


def test_the_whole_shop_for_one_press_is_flagged_but_not_right(press_shop: SimulatedShop) -> None:
    shop_wide = flag_of(press_shop, factor=FactorShare(name="shop", level=None, weight=1.0))
    assert fate(press_shop, shop_wide) == (True, False, 0, 0)


@pytest.mark.parametrize(
    "changes",
    [
        {"characteristic": "scorch"},
        {"signalled_at_us": 0},
        {"ended_at_us": 0},
        {"factor": FactorShare(name="press", level="nowhere", weight=1.0)},
        {"factor": FactorShare(name="zone", level="top", weight=1.0)},
    ],
    ids=["another defect", "before the fault", "ended before", "another press", "unknown factor"],
)
def test_everything_else_is_false(press_shop: SimulatedShop, changes: dict[str, object]) -> None:
    assert fate(press_shop, flag_of(press_shop, **changes)) == (False, False, 1, 0)


def test_either_level_of_a_fault_at_two_things_is_right() -> None:
    shop = shop_with("first_pieces_one_press", 2, n_pieces=12_000)
    own = (shop.truth[0].factor, shop.truth[0].level)
    for name, level in (own, *shop.truth[0].within):
        flag = flag_of(shop, factor=FactorShare(name=name, level=level, weight=1.0))
        assert fate(shop, flag) == (True, True, 0, 0)
    elsewhere = flag_of(shop, factor=FactorShare(name="press", level="none of them", weight=1.0))
    assert fate(shop, elsewhere) == (False, False, 1, 0)


def test_an_interval_held_from_the_start_to_the_first_touched_piece(
    press_shop: SimulatedShop,
) -> None:
    fault = press_shop.truth[0]
    work = work_of(press_shop)
    first_us = int(work.pressed_us[work.touched(fault, None)].min())
    for low_us, high_us, held in (
        (first_us, first_us + DAY_US, True), (first_us + 1, first_us + DAY_US, False),
        (0, fault.start_us, True), (0, fault.start_us - 1, False),
    ):
        flag = flag_of(press_shop, changed_between_us=(low_us, high_us))
        assert judged(press_shop, [flag])["faults"][0]["held"] is held


def test_what_was_really_there_is_kept_with_a_false_flag(press_shop: SimulatedShop) -> None:
    end_us = press_shop.truth[0].start_us + 10 * DAY_US
    flag = flag_of(press_shop, characteristic="bubble", ended_at_us=end_us)
    false = judged(press_shop, [flag])["false"][0]
    work = work_of(press_shop)
    mask = work.at("press", flag.factor.level, flag.changed_at_us, end_us)
    said = work.rows["defects"][mask].fillna("").str.contains("bubble")
    assert said.sum() <= false["really_seen"] <= 3 * said.sum() + 1
    assert false["really_usual"] == pytest.approx(work.usual["bubble"][mask].sum())
    assert false["really_usual"] > 0


def test_a_second_flag_of_one_cause_is_doubled(press_shop: SimulatedShop) -> None:
    later = press_shop.truth[0].start_us + 5 * DAY_US
    second = flag_of(press_shop, id="2", signalled_at_us=later)
    assert fate(press_shop, second, flag_of(press_shop)) == (True, True, 0, 1)


def test_a_fault_named_only_as_a_rival_is_flagged_but_not_right(
    press_shop: SimulatedShop,
) -> None:
    fault = press_shop.truth[0]
    rival = FactorShare(name=fault.factor, level=fault.level, weight=0.3)
    other = FactorShare(name="operator", level="nobody", weight=0.7)
    flag = flag_of(press_shop, factor=other, other_factors=(rival,))
    assert fate(press_shop, flag) == (True, False, 0, 0)


def test_an_honest_change_is_not_to_be_flagged() -> None:
    shop = shop_with("mix_change", 1, n_pieces=6000)
    said = judged(shop, [flag_of(shop)])
    assert said["faults"] == []
    assert len(said["false"]) == 1


def test_a_stopped_run_goes_on_and_counts_nothing_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    judged_now = []

    def quick(task: planted.Task) -> planted.Line:
        judged_now.append(task[:2])
        return {"kind": task[0], "seed": task[1], "faults": [], "false": [], "doubled": [],
                "parts": [], "weeks": 10.0, "through": task[2], "enough": task[3]}

    monkeypatch.setattr(planted, "judge_one", quick)
    out = tmp_path / "out.jsonl"
    say = ["--out", str(out), "--kinds", "none", "--workers", "1"]
    planted.main([*say, "--shops", "2"])
    with out.open("a") as file:
        file.write('{"kind": "none", "se')  # killed while writing
    planted.main([*say, "--shops", "4"])
    assert [seed for _, seed in judged_now] == [100_000, 100_001, 100_002, 100_003]
    assert len(list(read_lines([out]))) == 4
    printed = capsys.readouterr()
    assert "| none | 4 |" in printed.out
    assert "4/4" not in printed.err
    assert "2/2 shops" in printed.err
    with pytest.raises(SystemExit):
        planted.main([*say, "--shops", "5", "--enough", "15"])
    assert "name another --out" in capsys.readouterr().err


def test_a_setting_that_another_takes_in_just_now_is_not_looked_at_again() -> None:
    """In this shop two shifts of dwell are looked at again in one slot, and one takes in the
    other."""
    line = planted.judge_one(("changed_dwell", 4105074, "direct", None, ""))
    assert [fault["right"] for fault in line["faults"]] == [True]


def test_no_two_shops_of_a_run_are_the_same() -> None:
    every = planted.tasks(planted.all_kinds(), 50, 1, way="direct", enough=None)
    seeds = [seed for _, seed, *_ in every]
    assert len(set(seeds)) == len(every) == 50 * len(planted.all_kinds())
    other = planted.tasks(["none"], 50, 2, way="direct", enough=None)
    assert not {seed for _, seed, *_ in other} & set(seeds)


def test_a_shop_that_keeps_no_job_numbers_is_the_same_shop_without_them() -> None:
    """Its clumps are runs of work then: no honest job is taken for a fault."""
    line = planted.judge_one(("press_fault", 4103007, "direct", None, "job,size"))
    assert line["without"] == "job,size"
    assert [fault["right"] for fault in line["faults"]] == [True]
    assert {one["kind"] for one in line["false"]} <= {"defect_rate"}


def test_two_workers_write_what_one_writes(tmp_path: Path) -> None:
    lines = []
    for workers in (1, 2):
        out = tmp_path / f"{workers}.jsonl"
        both = [(kind, 1, "direct", None, "") for kind in ("none", "press_fault")]
        planted.run(both, out, workers, planted.judge_one)
        each = [json.loads(text) | {"seconds": 0} for text in out.read_text().splitlines()]
        lines.append(sorted(each, key=lambda line: line["kind"]))
    assert lines[0] == lines[1]
    assert lines[0][1]["faults"][0]["moderate"]


def test_the_table_states_shares_with_intervals() -> None:
    """Wilson interval of 9 of 10: 59.6 % to 98.2 %, e.g. by statsmodels' proportion_confint;
    exact Poisson interval of 2 events: 0.2422 to 7.2247 (Garwood 1936, tables)."""
    base = {"moderate": True, "right": True, "held": True, "delay_days": 2.0,
            "delay_pieces": 100.0, "delay_expected": 4.0, "luck": 1e-7}
    lines = [
        {"kind": "press_fault", "seed": n, "weeks": 10.0, "doubled": [], "parts": [],
         "false": [{}] * (n < 2),
         "faults": [base | {"flagged": n > 0, "luck": 1e-7 if n > 4 else 0.01}]}
        for n in range(10)
    ]
    lines.append(lines[3] | {"seed": 11, "faults": [base | {"flagged": True, "moderate": False}]})
    cells = dict(zip(HEADINGS, row_of("press_fault", lines), strict=True))
    assert cells["moderate"] == "10"
    assert cells["flagged"] == "9 of 10 = 90.0% (59.6% to 98.2%)"
    assert cells["false flags a week"] == "2 in 110 = 0.018 (0.002 to 0.066)"
    assert cells["flagged, not moderate"] == "1 of 1"
    assert cells["delay, days"] == "2.0"
    assert cells["no luck"].startswith("5 of 10 = ")
    assert cells["flagged of these"].startswith("5 of 5 = ")
    assert table(lines + lines).count("press_fault | 11 |") == 1


def test_luck_is_that_of_two_rates(press_shop: SimulatedShop) -> None:
    """Near the better test of two Poisson means that scipy has (Krishnamoorthy & Thomson 2004)."""
    whole, work = press_shop.truth[0], work_of(press_shop)
    fault = replace(whole, end_us=whole.start_us + 6 * DAY_US)
    mine = work.touched(fault, fault.end_us)
    seen = np.asarray(kind_counts(work.rows, fault.characteristic))
    usual = work.usual[fault.characteristic].to_numpy()
    other = poisson_means_test(int(seen[mine].sum()), usual[mine].sum(), int(seen[~mine].sum()),
                               usual[~mine].sum(), alternative="greater")
    luck = luck_of(fault, work, Honest(), [])
    assert luck is not None and 1e-12 < luck < 0.01
    assert luck == pytest.approx(other.pvalue, rel=0.7)
    assert luck_of(replace(fault, zone="top"), work, Honest(), []) is None
    wrong = replace(fault, factor="transfer", level=str(work.levels["transfer"][0]))
    assert (luck_of(wrong, work, Honest(), []) or 0.0) > luck


def test_luck_knows_how_much_jobs_and_levels_differ(press_shop: SimulatedShop) -> None:
    fault, work = press_shop.truth[0], work_of(press_shop)
    alone, jobs, levels = (
        luck_of(fault, work, honest, []) or 0.0
        for honest in (Honest(), Honest(job=0.4), Honest(job=0.4, level=0.2)))
    assert 0 < alone < jobs < levels < 1
    assert luck_of(fault, work, Honest(), [fault]) == alone
    assert luck_of(fault, work, Honest(), [replace(fault)]) == 1.0  # nothing left to tell by


def test_a_flag_that_another_explains_by_the_end_is_neither_doubled_nor_false(
    press_shop: SimulatedShop,
) -> None:
    part = flag_of(press_shop, id="2", characteristic="scorch", part_of="1")
    assert fate(press_shop, part, flag_of(press_shop)) == (True, True, 0, 0)
    assert len(judged(press_shop, [part, flag_of(press_shop)])["parts"]) == 1


def test_a_misnamed_flag_beside_a_right_one_is_doubled(press_shop: SimulatedShop) -> None:
    earlier = press_shop.truth[0].start_us + DAY_US
    misnamed = flag_of(press_shop, id="2", signalled_at_us=earlier,
                       factor=FactorShare(name="shop", level=None, weight=1.0))
    assert fate(press_shop, misnamed, flag_of(press_shop)) == (True, True, 0, 1)
    said = judged(press_shop, [misnamed, flag_of(press_shop)])["faults"][0]
    assert not said["right_at_first"]
    assert said["delay_days"] == pytest.approx(1.0)
