"""The benchmarks still run, on a few rows; how fast they are is not judged here."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from qc.desk.looks import looks_counted
from qc.desk.shop import Shop
from qc.stats.runlength.ewma import ewma_run_length
from tests.benchmarks import looks, measuring, rows, run_lengths


def test_ratio_is_ours_over_plain() -> None:
    figures = measuring.side_by_side(
        lambda: time.sleep(0.05), lambda: time.sleep(0.01), n_turns=3
    )
    assert 1.5 < figures.ratio < 6
    assert figures.ratio_low <= figures.ratio <= figures.ratio_high
    assert figures.ours_s >= 0.05


@pytest.mark.parametrize(
    ("value", "wanted", "met"),
    [(0.31, {"at_least": 0.3}, True), (0.29, {"at_least": 0.3}, False),
     (10.0, {"at_most": 10.0}, True), (10.1, {"at_most": 10.0}, False)],
)
def test_verdict_says_whether_a_figure_is_met(
    value: float, wanted: dict[str, float], met: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    assert measuring.verdict("figure", value, **wanted) is met
    assert ("NOT MET" not in capsys.readouterr().out) is met


def test_rows_are_the_same_for_the_same_seed() -> None:
    first, second = (rows.inspection_rows(200, np.random.default_rng(7)) for _ in range(2))
    assert first.equals(second)
    assert first["defects"].ne("").sum() > 0


def test_the_plain_chain_is_that_of_the_same_chart(capsys: pytest.CaptureFixture[str]) -> None:
    ours = ewma_run_length(0.0, weight=0.2, width=2.7)
    assert run_lengths.plain_mean() == pytest.approx(ours.arl, rel=0.01)
    run_lengths.main(["--turns", "1"])
    assert capsys.readouterr().out.count(" ms, plain ") == len(run_lengths.PLANS)


def test_pages_of_looks_are_measured(tmp_path: Path) -> None:
    large, small = (looks.filled(tmp_path / f"{n}.db", n) for n in (9_000, 2_000))
    assert check_large(large) and len(looks.measure(large, small, (9_000, 2_000), 1)) > 5
    large.store.close()
    small.store.close()


def check_large(shop: Shop) -> bool:
    """Whether every question asked of the store has an answer."""
    return all(looks_counted(shop, asked, as_of_us=looks.FAR_US).n_looks
               for asked, _ in looks.questions(9_000).values())


def test_loading_is_measured() -> None:
    from tests.benchmarks import load

    assert load.measure(500, 1) > 0


def test_settings_are_measured() -> None:
    from tests.benchmarks import settings

    assert settings.measure(2_000, 1) > 0


def test_flags_are_measured(capsys: pytest.CaptureFixture[str]) -> None:
    from tests.benchmarks import flags

    ratio, peak_mb = flags.measure_shop(2_000, 1)
    assert ratio > 0
    assert peak_mb > 50
    assert flags.measure_update(2_000) > 0
    assert flags.measure_slots(4_000) > 0
    assert flags.measure_demo() > 0
    said = capsys.readouterr().out
    assert "2,000 rows" in said
    assert "demo shop" in said


def test_every_chart_is_measured(capsys: pytest.CaptureFixture[str]) -> None:
    from qc.desk.chart_kinds import KINDS
    from tests.benchmarks import charts

    for name in charts.CASES:
        charts.measure(name, 2_000, 1)
    assert capsys.readouterr().out.count("times the plain pass") == len(charts.CASES)
    assert set(KINDS) - {"q-p", "q-u"} <= set(charts.CASES)


def test_documents_are_measured(capsys: pytest.CaptureFixture[str]) -> None:
    from tests.benchmarks import documents

    ratio, _ = documents.measure(200, 1)
    assert ratio > 0
    assert "200 pieces" in capsys.readouterr().out


def test_saves_are_measured() -> None:
    from tests.benchmarks import saves

    assert saves.measure(1, 300) > 0


def test_pages_are_measured(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from tests.benchmarks import pages

    shops = [pages.kept_shop(tmp_path, n) for n in (600, 1_200)]
    assert pages.kept_shop(tmp_path, 600).end_us == shops[0].end_us  # made once, then kept
    ratios = pages.measure(shops, 1)
    assert all(ratio > 0 for ratio in ratios.values())
    said = capsys.readouterr().out
    assert said.count("making") == 2
    assert "Floor: every press" in said
