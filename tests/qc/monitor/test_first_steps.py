"""What to do first: from the trade's table, in this shop's order, with its cautions."""

from dataclasses import replace

import pytest

from qc.domain.flags import FACTORS, FactorShare
from qc.domain.kinds import Cause, causes_of, defect_kinds
from qc.monitor.attribution import FAMILY_OF
from qc.monitor.first_steps import next_step
from tests.qc.monitor.test_chains import finding


def at(name, level="X1", characteristic="lifted_edge"):
    return replace(finding("defect_rate", characteristic),
                   factor=FactorShare(name=name, level=level, weight=0.9))


def own_cause(words):
    return Cause(code=words, defect="lifted_edge", words=words, family="", variable="",
                 direction="", rank=1, first_check="")


def test_a_bad_lot_is_set_aside():
    assert next_step(at("transfer_lot", "L7")).startswith(
        "Set transfer lot L7 aside; check first: compare a fresh lot")


def test_the_first_check_the_usual_action_and_whether_pressing_again_helps():
    step = next_step(at("press", "P4"))
    assert "check first: paper pull test" in step.lower()
    assert "pieces: re-press through a cover sheet, then re-check" in step
    assert "pressing again usually helps" in step


@pytest.mark.parametrize(("kind", "words"), [
    ("misplacement", "pressing again does not help"),
    ("incomplete_cure", "pressing again sometimes helps"),
    ("press_mark", "pressing again does not help (temporary box fades by itself)"),
    ("adhesive_halo", "pressing again does not help (usually worse)"),
])
def test_pressing_again_is_said_as_the_table_has_it(kind, words):
    assert words in next_step(at("shop", None, kind))


def test_what_is_checked_at_a_hot_press_has_its_caution():
    assert "trained people only, maker's manual first" in next_step(at("press"))
    assert "trained people" not in next_step(at("operator", characteristic="misplacement"))


@pytest.mark.parametrize(("factor", "kind", "words"), [
    ("garment_lot", "contamination",
     "Set garment lot X1 aside; check first garment lot X1: compare unpressed pieces"),
    ("transfer", "press_mark", "Check first transfer X1: compare unpressed sheets"),
    ("operator", "contamination", "Check first operator X1: watch two cycles together"),
    ("press", "torn_transfer", "Check first press X1: look over its platen"),
])
def test_a_place_without_a_usual_cause_is_looked_at_itself(factor, kind, words):
    """A dirty platen is no reason to suspect a lot of garments."""
    assert not [c for c in causes_of(kind) if c.family == FAMILY_OF[factor]]
    step = next_step(at(factor, characteristic=kind))
    assert step.startswith(words) and "suspect" not in step
    assert ("maker's manual first" in step) is (factor == "press")


def test_a_press_without_a_cause_of_its_own_is_looked_at_for_its_settings():
    step = next_step(at("press", characteristic="scorch", level="P1"))
    assert "suspect: controller reads low" in step
    assert "suspect: pressure high" in next_step(at("press", characteristic="press_mark"))


def test_what_comes_after_a_start_is_a_matter_of_warming_up():
    step = next_step(at("time_since_start", "first 15 min"))
    assert "suspect: cold lower platen at start-up" in step


def test_work_on_a_platen_is_for_a_qualified_person():
    platen = finding("calibration", "temperature_error_c", platen="upper", unit="degC")
    step = next_step(platen)
    for words in ("qualified person", "upper platen", "maker's manual first", "locked out",
                  "since its last good survey"):
        assert words in step


def test_a_setting_goes_back_to_the_recipe():
    step = next_step(finding("setting", "dwell_s", after=12.0, expected_after=15.0))
    assert step.startswith("Put the dwell back to the recipe, or record a new recipe version")
    assert "maker's manual first" in step


def test_the_shops_own_experience_comes_first():
    turned = tuple(reversed(causes_of("lifted_edge")))
    mine = [cause for cause in turned if cause.family == "press"]
    assert f"suspect: {mine[0].words}" in next_step(at("press"), lambda _: turned)
    found = next_step(at("press"), lambda _: (own_cause("loose hinge"),))
    assert "what it was last time (suspect: loose hinge)" in found


@pytest.mark.parametrize("kind", [*defect_kinds(), "a_kind_of_our_own"])
@pytest.mark.parametrize("factor", FACTORS)
def test_every_kind_and_factor_has_a_step(kind, factor):
    step = next_step(at(factor, None if factor == "shop" else "X1", kind))
    assert step.endswith(".") and step[0].isupper()
    assert "None" not in step and len(step) < 400
