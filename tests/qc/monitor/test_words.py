"""A flag reads like a good colleague: what and since when, how sure, in the shop's units."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from qc.domain.flags import FACTORS, FactorShare
from qc.domain.kinds import defect_kinds
from qc.monitor.scan import history_words
from qc.monitor.words import message, next_step, sure
from qc.units import ShopUnits
from tests.qc.monitor.test_chains import finding

LISBON = ZoneInfo("Europe/Lisbon")
INCHES = ShopUnits(temperature="f", length="in", pressure="psi")
KNOWN_WELL = {"low_us": 0, "high_us": 0}


def share(name, level, weight=0.9):
    return FactorShare(name=name, level=level, weight=weight)


def close_call(kind="defect_rate", characteristic="lifted_edge", **more):
    return replace(finding(kind, characteristic, **more), factor=share("press", "P4", 0.5),
                   other_factors=(share("operator", "Ana", 0.45), share("size", "M", 0.05)))


def test_a_defect_rate_says_how_much_where_and_since_when():
    flag = finding("defect_rate", "lifted_edge", zone="bottom_left", day=20_000.5)
    assert message(flag, LISBON) == (
        "Lifted edge or corner at the bottom left on press P4: 3.0 % of pieces where 1.1 % would "
        "be usual, since about 04 Oct 2024."
    )


def test_a_start_known_to_the_hour_is_said_to_the_hour():
    flag = finding("defect_rate", "lifted_edge", day=20_000.5, **KNOWN_WELL)
    assert message(flag, LISBON).endswith(", since 04 Oct 2024 13:00.")


def test_an_ended_change_says_from_when_until_when():
    said = message(finding("defect_rate", "scorch", day=20_000.5, ended=20_007.25), LISBON)
    assert said.endswith(", from about 04 Oct 2024 until 11 Oct 2024 07:00.")


def test_causes_that_cannot_be_told_apart_are_both_named():
    assert message(close_call(), LISBON).startswith(
        "Lifted edge or corner, either on press P4 or in the work of operator Ana: ")
    assert sure(close_call()) == (
        "More than luck; either press P4 (50 % of the evidence) or operator Ana (45 %): "
        "the records cannot tell them apart yet."
    )
    assert "size" not in message(close_call(), LISBON) + sure(close_call())


@pytest.mark.parametrize(("weight", "words"), [
    (0.997, "almost certainly press P4 (over 99 % of the evidence)"),
    (0.96, "almost certainly press P4 (96 % of the evidence)"),
    (0.85, "very likely press P4 (85 % of the evidence), else operator Ana (15 %)"),
    (0.7, "probably press P4 (70 % of the evidence), else operator Ana (30 %)"),
])
def test_how_sure_in_words(weight, words):
    flag = replace(finding("defect_rate", "scorch"), factor=share("press", "P4", weight),
                   other_factors=(share("operator", "Ana", 1 - weight),))
    assert sure(flag) == f"More than luck; {words}."


def test_thin_evidence_is_said_to_be_thin():
    assert sure(finding("defect_rate", "scorch", gain=4.0)).startswith("Perhaps still luck; if not")
    assert sure(finding("defect_rate", "scorch", gain=7.0)).startswith("Hardly luck; ")


def test_many_small_rivals_are_no_certainty():
    flag = replace(finding("defect_rate", "scorch"), factor=share("press", "P4", 0.4),
                   other_factors=tuple(share("size", str(i), 0.06) for i in range(10)))
    assert "perhaps press P4 (40 % of the evidence)." in sure(flag)


def test_several_characteristics_are_one_sentence():
    flag = finding("defect_rate", "lifted_edge", also=("incomplete_cure", "bubble"))
    assert message(flag, LISBON).startswith(
        "Lifted edge or corner, with incomplete cure and bubble, on press P4: ")


def test_a_platen_says_how_far_off_with_what_it_brings():
    platen = finding("calibration", "temperature_error_c", platen="upper", unit="degC",
                     before=0.25, after=-5.5, also=("lifted_edge", "incomplete_cure"))
    assert message(platen, LISBON).startswith(
        "Upper platen of press P4: 5.5 °C below the set temperature, was 0.2 °C above, since ")
    assert message(platen, LISBON).endswith(", and with it more lifted edge and incomplete cure.")
    assert sure(platen) == (
        "Measured by the platen's own surveys; the rise in lifted edge and incomplete cure fits it."
    )
    assert sure(replace(platen, also=())) == "Measured by the platen's own surveys."


def test_a_shop_that_reads_fahrenheit_gets_fahrenheit():
    """A difference of 5 K is 9 degF, without the 32; a set temperature has them."""
    platen = finding("calibration", "temperature_spread_c", platen="lower", before=2.0, after=5.0)
    assert "9.0 °F between its hottest and coldest point, was 3.6 °F" in message(
        platen, LISBON, INCHES)
    heat = finding("setting", "temperature_c", after=160.0, expected_after=150.0)
    assert "320.0 °F where the recipe says 302.0 °F" in message(heat, LISBON, INCHES)
    gauge = finding("setting", "pressure_kpa", after=413.6854, expected_after=275.7903)
    assert "60 psi where the recipe says 40 psi" in message(gauge, LISBON, INCHES)
    placed = finding("placement", "dx_mm", before=0.0, after=12.7, expected_after=0.0)
    assert "sit right by 0.50 in" in message(placed, LISBON, INCHES)


def test_a_setting_is_held_against_the_recipe():
    dwell = finding("setting", "dwell_s", unit="s", before=15.0, after=12.0, expected_after=15.0)
    assert message(dwell, LISBON).startswith(
        "Dwell on press P4: 12.0 s where the recipe says 15.0 s, since about ")
    assert message(replace(dwell, after=None), LISBON).startswith("Dwell on press P4: changed, ")


def test_what_the_pieces_together_do_not_show_is_said_of_the_jobs():
    """A change counts each job once: a long job may hide it in the mean of the pieces."""
    dwell = finding("setting", "dwell_s", before=9.7, after=10.04, expected_after=9.96,
                    shift=(("dwell_s", 0.55, 0.2, 0.9),))
    assert message(dwell, LISBON).startswith(
        "Dwell on press P4: 0.6 s more than before on the average of its jobs, where the recipe"
        " says 10.0 s, since about ")
    heat = finding("setting", "temperature_c", after=150.2, expected_after=150.0,
                   shift=(("temperature_c", -5.0, -6.0, -4.0),))
    assert "9.0 °F less than before on the average of its jobs" in message(heat, LISBON, INCHES)
    plain = replace(dwell, after=12.0, shift=(("dwell_s", 2.0, 1.5, 2.5),))
    assert "12.0 s where the recipe says 10.0 s" in message(plain, LISBON)


def test_a_rate_that_is_no_more_than_usual_by_now_says_so():
    flag = finding("defect_rate", "lifted_edge", after=0.01, expected_after=0.02)
    assert message(flag, LISBON).startswith(
        "Lifted edge or corner on press P4: 1.0 % of pieces by now, no more than the usual 2.0 %,")


@pytest.mark.parametrize(("characteristic", "by", "words"), [
    ("dx_mm", 5.0, "right by 5.0 mm"), ("dx_mm", -5.0, "left by 5.0 mm"),
    ("dy_mm", 3.0, "down by 3.0 mm"), ("dy_mm", -3.0, "up by 3.0 mm"),
    ("rotation_deg", 2.0, "turned clockwise by 2.0°"),
    ("rotation_deg", -2.0, "turned anticlockwise by 2.0°"),
])
def test_a_shift_says_which_way(characteristic, by, words):
    """The contract's signs: + right, + down seen from the front, + clockwise."""
    who = share("operator", "Nora")
    flag = replace(finding("placement", characteristic, before=0.5, after=0.5 + by,
                           expected_after=0.5), factor=who)
    assert message(flag, LISBON).startswith(
        f"Prints in the work of operator Nora sit {words}, since about ")


def test_a_shift_in_several_directions_has_its_intervals():
    moved = (("dx_mm", 5.0, 4.2, 5.8), ("dy_mm", -2.0, -3.1, -0.9), ("rotation_deg", 0.1, -1, 1))
    said = message(replace(finding("placement", "dx_mm"), shift=moved), LISBON)
    assert "sit right by 5.0 mm (4.2 to 5.8 mm) and up by 2.0 mm (0.9 to 3.1 mm)," in said
    assert "clockwise" not in said
    turned = replace(finding("placement", "rotation_deg"), shift=(("rotation_deg", -2, -3, -1),))
    assert "sit turned anticlockwise by 2.0° (1.0 to 3.0°)," in message(turned, LISBON)


@pytest.mark.parametrize("kind", [*defect_kinds(), "a_kind_of_our_own"])
@pytest.mark.parametrize("factor", FACTORS)
def test_every_kind_and_factor_has_its_sentences(kind, factor):
    level = None if factor == "shop" else "X1"
    flag = replace(finding("defect_rate", kind), factor=share(factor, level))
    for text in (message(flag, LISBON), sure(flag), next_step(flag)):
        assert text.endswith(".") and text[0].isupper()
        assert "None" not in text and "{" not in text
    assert level is None or level in message(flag, LISBON)


def test_unknown_figures_are_said_in_words():
    flag = finding("defect_rate", "scorch", after=None, expected_after=None)
    assert "more than the usual rate" in message(flag, LISBON)
    platen = finding("calibration", "temperature_error_c", platen="upper", after=None)
    assert "temperature error has changed" in message(platen, LISBON)
    assert "sit off their place" in message(finding("placement", "dx_mm", after=None), LISBON)


def test_a_level_that_was_not_recorded_is_said_so():
    flag = replace(finding("defect_rate", "scorch"), factor=share("press", None))
    assert "press not recorded" in message(flag, LISBON)


def test_the_first_pieces_after_a_break():
    flag = replace(finding("defect_rate", "scorch"),
                   factor=share("time_since_start", "first 15 min"))
    assert "yellowing in the first 15 min after a start: 3.0 %" in message(flag, LISBON)
    assert "the first 15 min after a start (90 %" in sure(flag)
    one = replace(flag, factor=share("time_since_start", "P3, first 15 min"))
    assert "yellowing in the first 15 min after a start on press P3: 3.0 %" in message(one, LISBON)


def test_a_rare_defect_keeps_its_digits():
    flag = finding("defect_rate", "scorch", after=0.00274, expected_after=0.000312)
    assert "0.27 % of pieces where 0.031 % would be usual" in message(flag, LISBON)


@pytest.mark.parametrize(("days", "said"), [(0.0, "a day"), (0.9, "a day"), (1.6, "2 days"),
                                            (13.4, "13 days")])
def test_a_short_history_is_never_no_days(days: float, said: str) -> None:
    assert history_words(days) == said
