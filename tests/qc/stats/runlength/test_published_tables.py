"""Every row of the published average run lengths, at its printed and its recomputed value."""

from __future__ import annotations

import re

import pytest

from qc.stats.runlength.cusum import cusum_run_length, siegmund_arl
from qc.stats.runlength.ewma import ewma_run_length
from tests.published import table

PRINTED = 6e-5
"""Recomputed values stand there with four decimals."""

ROWS = table("arl_tables")


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
