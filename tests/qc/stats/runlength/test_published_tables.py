"""Every row of the published average run lengths, at its printed and its recomputed value."""

from __future__ import annotations

import re

import numpy as np
import pytest

from qc.stats.charts.rules import RuleSet
from qc.stats.runlength.cusum import cusum_run_length, siegmund_arl
from qc.stats.runlength.ewma import ewma_run_length
from qc.stats.runlength.shewhart import shewhart_run_length
from tests.published import table

PRINTED = 6e-5
"""Recomputed values stand there with four decimals."""

ROWS = table("arl_tables")


NELSON_ALONE = {
    "test 2": RuleSet(name="one side", one_side=9),
    "test 3": RuleSet(name="trend", trend=6),
    "test 5": RuleSet(name="two of three", two_of_three=True),
    "test 7": RuleSet(name="stratification", stratification=15),
}


def _champ_woodall(design: str) -> RuleSet:
    """C134: rules 1, 3 and 4 of Champ & Woodall (1987)."""
    return RuleSet(name=design, two_of_three="2" in design, four_of_five="3" in design,
                   one_side=8 if "4" in design else None)


def _numbers(design: str) -> list[float]:
    return [float(number) for number in re.findall(r"=([\d.]+)", design)]


def _rows(chart: str) -> list[object]:
    found = [row for row in ROWS if row["chart"].startswith(chart)]
    return [pytest.param(row, id=f"{row['chart']} {row['design']} {row['shift_sigma']}")
            for row in found]


def _agrees(row: dict[str, str], arl: float) -> None:
    assert arl == pytest.approx(float(row["recomputed_exact_ARL"]), abs=PRINTED)
    if row["published_ARL"]:
        assert arl == pytest.approx(float(row["published_ARL"]),
                                    abs=float(row["published_tolerance"]))


@pytest.mark.parametrize("row", _rows("EWMA"))
def test_ewma(row: dict[str, str]) -> None:
    weight, width = _numbers(row["design"])
    _agrees(row, ewma_run_length(float(row["shift_sigma"]), weight=weight, width=width).arl)


@pytest.mark.parametrize("row", _rows("two-sided CUSUM"))
def test_two_sided_cusum(row: dict[str, str]) -> None:
    shift, (reference, decision, *start) = float(row["shift_sigma"]), _numbers(row["design"])
    if "Siegmund" in row["chart"]:
        _agrees(row, siegmund_arl(shift, reference=reference, decision=decision))
        return
    _agrees(row, cusum_run_length(shift, reference=reference, decision=decision,
                                  head_start=start[0] if start else 0.0).arl)


@pytest.mark.parametrize("row", _rows("one-sided CUSUM"))
def test_one_sided_cusum(row: dict[str, str]) -> None:
    reference, decision = _numbers(row["design"])
    _agrees(row, cusum_run_length(float(row["shift_sigma"]), reference=reference,
                                  decision=decision, sides="one").arl)


@pytest.mark.parametrize("row", _rows("Shewhart 3-sigma"))
def test_limits_alone(row: dict[str, str]) -> None:
    _agrees(row, shewhart_run_length(float(row["shift_sigma"])).arl)


@pytest.mark.parametrize("row", _rows("Shewhart with runs rules"))
def test_rule_sets(row: dict[str, str]) -> None:
    rules = _champ_woodall(row["design"])
    _agrees(row, shewhart_run_length(float(row["shift_sigma"]), rules=rules).arl)


@pytest.mark.parametrize("row", _rows("single supplementary test"))
def test_single_rules(row: dict[str, str]) -> None:
    rules = NELSON_ALONE.get(row["design"][:6])
    run = shewhart_run_length(0.0) if rules is None else shewhart_run_length(
        0.0, rules=rules, width=np.inf)
    _agrees(row, run.arl)


def test_every_row_is_checked() -> None:
    charts = {"EWMA", "two-sided CUSUM", "one-sided CUSUM", "Shewhart 3-sigma",
              "Shewhart with runs rules", "single supplementary test"}
    assert sum(len(_rows(chart)) for chart in charts) == len(ROWS) == 266
