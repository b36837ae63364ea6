"""A flag reads like a good colleague: one sentence what, one sentence what to do first."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from qc.domain.flags import FactorShare
from qc.domain.kinds import defect_kinds
from qc.monitor.words import message, next_step
from tests.qc.monitor.test_chains import finding

LISBON = ZoneInfo("Europe/Lisbon")


def test_a_defect_rate_says_how_much_where_and_since_when():
    flag = finding("defect_rate", "lifted_edge", zone="bottom_left", day=20_000.5)
    assert message(flag, LISBON) == (
        "Lifted edge or corner at the bottom left on press P4: 3.0 % of pieces where 1.1 % would "
        "be usual since 04 Oct 2024 13:00."
    )


def test_a_rival_that_cannot_be_ruled_out_is_named():
    close = replace(
        finding("defect_rate", "lifted_edge"),
        factor=FactorShare(name="press", level="P4", weight=0.55),
        other_factors=(FactorShare(name="operator", level="Ana", weight=0.45),),
    )
    assert "operator Ana cannot be ruled out" in message(close, LISBON)
    assert "ruled out" not in message(finding("defect_rate", "lifted_edge"), LISBON)


def test_an_ended_change_says_so():
    assert ", until " in message(finding("defect_rate", "scorch", ended=45.0), LISBON)


def test_a_setting_is_held_against_the_recipe():
    dwell = finding("setting", "dwell_s", unit="s", before=15.0, after=12.0, expected_after=15.0)
    assert "12.0 s where the recipe says 15.0 s" in message(dwell, LISBON)
    assert "back to the recipe" in next_step(dwell)


def test_work_on_a_platen_is_for_a_qualified_person():
    platen = finding("calibration", "temperature_error_c", platen="upper", unit="degC")
    step = next_step(platen)
    assert "qualified person" in step
    assert "maker's manual comes first" in step


def test_a_bad_lot_is_set_aside():
    lot = replace(
        finding("defect_rate", "lifted_edge"),
        factor=FactorShare(name="transfer_lot", level="L7", weight=0.9),
    )
    assert next_step(lot).startswith("Set transfer lot L7 aside")


@pytest.mark.parametrize("kind", [*defect_kinds(), "a_kind_of_our_own"])
@pytest.mark.parametrize("factor", ["press", "operator", "transfer_lot", "fabric", "shop"])
def test_every_kind_and_factor_has_a_sentence(kind, factor):
    level = None if factor == "shop" else "X1"
    flag = replace(
        finding("defect_rate", kind), factor=FactorShare(name=factor, level=level, weight=0.9)
    )
    for text in (message(flag, LISBON), next_step(flag)):
        assert text.endswith(".")
        assert "None" not in text
        assert text[0].isupper()


def test_unknown_figures_are_said_in_words():
    flag = finding("defect_rate", "scorch", after=None, expected_after=None)
    assert "more than the usual rate" in message(flag, LISBON)


def test_a_rare_defect_keeps_its_digits():
    flag = finding("defect_rate", "scorch", after=0.00274, expected_after=0.000312)
    assert "0.27 % of pieces where 0.031 % would be usual" in message(flag, LISBON)
