"""Sentences about heat in the unit the shop reads: further in, all of them are written in degC."""

from __future__ import annotations

import re

from qc.units import from_stored, unit

_IN_DEGC = re.compile(r"\b(from |at )?([±+−]?)(\d+(?:\.\d+)?) °C")


def in_heat_unit(words: str, suffix: str) -> str:
    """A sentence with every temperature in the unit with this suffix, 'c' or 'f', and with the
    decimals it has: after 'from' or 'at' it is a temperature, else a difference of two."""
    def said(found: re.Match[str]) -> str:
        word, sign, number = found.groups()
        quantity = "temperature" if word else "temperature_difference"
        there = float(from_stored(float(number), quantity, suffix))
        decimals = len(number.partition(".")[2])
        return f"{word or ''}{sign}{there:.{decimals}f} {unit(quantity, suffix).symbol}"

    return _IN_DEGC.sub(said, words)
