"""A flag in a few words, as a press card on the floor has it."""

from dataclasses import replace

from dashboard.text import flag_headline
from qc.domain.flags import FactorShare
from tests.cli.test_flags_text import FLAG


def test_one_cause_is_named_alone():
    assert flag_headline(FLAG) == "Lifted edge or corner: Press P4"


def test_causes_that_cannot_be_told_apart_are_both_on_the_card():
    unsure = replace(FLAG, factor=FactorShare(name="press", level="P4", weight=0.5), other_factors=(
        FactorShare(name="operator", level="Ana", weight=0.45),
        FactorShare(name="size", level="M", weight=0.05)))
    assert flag_headline(unsure) == "Lifted edge or corner: Press P4 or person Ana"
    leading = replace(unsure, factor=replace(unsure.factor, weight=0.7))
    assert flag_headline(leading) == flag_headline(FLAG)


def test_a_platen_is_headed_by_its_heat():
    platen = replace(FLAG, kind="calibration", platen="upper",
                     characteristic="temperature_spread_c")
    assert flag_headline(platen) == "Upper platen of P4 heats unevenly"
