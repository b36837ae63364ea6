"""Sentences about heat in the unit of the shop, from the platen to the printed order."""

from __future__ import annotations

import pytest

from qc.desk.heat_words import in_heat_unit


@pytest.mark.parametrize(("suffix", "words", "shown"), [
    ("f", "Mean −5.0 °C from the setpoint is beyond ±5.5 °C; drifts −0.10 °C a day since then.",
     "Mean −9.0 °F from the setpoint is beyond ±9.9 °F; drifts −0.18 °F a day since then."),
    ("f", "mean +0.5 °C from 160 °C, spread 10.0 °C, 5 points, TP-1 (±1.5 °C)",
     "mean +0.9 °F from 320 °F, spread 18.0 °F, 5 points, TP-1 (±2.7 °F)"),
    ("f", "sensor without a certificate, class 1 at 160 °C: within ±1.5 °C",
     "sensor without a certificate, class 1 at 320 °F: within ±2.7 °F"),
    ("f", "19 % more for each °C too cold", "19 % more for each °C too cold"),
    ("c", "Mean −5.0 °C from 160 °C", "Mean −5.0 °C from 160 °C"),
])
def test_a_sentence_is_told_in_the_unit_of_the_shop(suffix: str, words: str, shown: str) -> None:
    assert in_heat_unit(words, suffix) == shown
