"""More published run lengths and limits, recalled; the status stands in the file."""

from __future__ import annotations

import pytest

from qc.stats.runlength.cusum import cusum_decision, cusum_run_length
from qc.stats.runlength.ewma import ewma_run_length, ewma_width
from tests.published import case

KNOWN = case("run_lengths_remembered")


@pytest.mark.parametrize("table", KNOWN["cusum"],
                         ids=lambda t: f"h {t['decision']}, start {t['head_start']}")
def test_cusum(table) -> None:
    plan = {name: table[name] for name in ("reference", "decision", "head_start", "sides")}
    for shift, arl, tolerance in zip(KNOWN["shift_sigma"], table["arl"], table["tolerance"],
                                     strict=False):
        assert cusum_run_length(shift, **plan).arl == pytest.approx(arl, abs=1.01 * tolerance)


def test_one_sided_cusum_in_control() -> None:
    table = KNOWN["one_sided_cusum_in_control"]
    for decision, arl in zip(table["decision"], table["arl"], strict=True):
        run = cusum_run_length(0, reference=table["reference"], decision=decision, sides="one")
        assert run.arl == pytest.approx(arl, abs=table["tolerance"])


def test_decisions_for_a_wanted_run_length() -> None:
    table = KNOWN["one_sided_cusum_decision"]
    for reference, decisions in table["by_reference"]:
        for arl, decision in zip(table["arl"], decisions, strict=True):
            found = cusum_decision(arl, reference=reference, sides="one")
            assert found == pytest.approx(decision, abs=table["tolerance"])
            run = cusum_run_length(0, reference=reference, decision=found, sides="one")
            assert run.arl == pytest.approx(arl, rel=1e-9)


def test_widths_for_a_wanted_run_length() -> None:
    table = KNOWN["ewma_width"]
    for arl, weight, width in table["designs"]:
        found = ewma_width(arl, weight=weight)
        assert found == pytest.approx(width, abs=table["tolerance"])
        assert ewma_run_length(0, weight=weight, width=found).arl == pytest.approx(arl, rel=1e-9)
