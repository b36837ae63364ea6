"""Causes of what was flagged come first. Which cause fits which flag is common practice, no source;
the causes are those of the trade's table."""

from __future__ import annotations

from functools import partial

import pytest

from qc.desk.cause_fit import fit
from qc.domain.causes import ranked_causes
from qc.domain.flags import FactorShare, Flag
from qc.domain.kinds import Cause, causes_of, defect_kinds


def flag_of(kind: str, characteristic: str, direction: str = "up", factor: str = "press",
            zone: str | None = None) -> Flag:
    return Flag(
        id="x", kind=kind, characteristic=characteristic, direction=direction, press=None,
        platen=None, zone=zone, signalled_at_us=1, changed_at_us=0, changed_between_us=(0, 1),
        ended_at_us=None, factor=FactorShare(name=factor, level="A", weight=1.0),
        other_factors=(), before=None, after=None, expected_after=None, unit="", pieces_at_risk=1,
        also=(), message="", next_step="", urgency=1.0)


def order(flag: Flag, defect: str, found: dict[tuple[str, str], int] | None = None) -> list[str]:
    return [one.code for one in ranked_causes(defect, found, partial(fit, flag=flag))]


@pytest.mark.parametrize("characteristic, direction, defect, first", [
    ("dwell_s", "down", "incomplete_cure", "K015"), ("dwell_s", "up", "scorch", "K022"),
    ("dwell_s", "up", "dye_migration", "K053"), ("dwell_s", "down", "lifted_edge", "K002"),
    ("temperature_c", "down", "incomplete_cure", "K014"), ("temperature_c", "up", "scorch", "K021"),
    ("pressure_kpa", "down", "lifted_edge", "K003"), ("pressure_dial", "up", "press_mark", "K026"),
    ("temperature_c", "up", "wash_crack", "K057"), ("dwell_s", "down", "wash_crack", "K056"),
])
def test_a_setting_that_is_off_is_the_first_cause(
    characteristic: str, direction: str, defect: str, first: str
) -> None:
    assert order(flag_of("setting", characteristic, direction), defect)[0] == first


def test_a_platen_has_the_causes_of_its_heat_first() -> None:
    spread = order(flag_of("calibration", "temperature_spread_c"), "lifted_edge")
    assert spread[0] == "K005"  # a cold spot in the platen
    assert order(flag_of("calibration", "temperature_error_c", "down"), "lifted_edge")[0] == "K001"
    hot = order(flag_of("calibration", "temperature_error_c", "up"), "scorch")
    assert hot[:2] == ["K021", "K025"]  # too hot; a controller that reads low makes it so
    cold = order(flag_of("calibration", "temperature_error_c", "down"), "scorch")
    assert cold.index("K025") > 1


@pytest.mark.parametrize("factor, defect, first", [
    ("transfer_lot", "lifted_edge", "K013"), ("transfer", "carrier_residue", "K049"),
    ("garment_lot", "incomplete_cure", "K017"), ("fabric", "lifted_edge", "K009"),
    ("operator", "lifted_edge", "K007"), ("operator", "misplacement", "K030"),
    ("press", "lifted_edge", "K004"), ("station", "missing_element", "K039"),
    ("press", "incomplete_cure", "K014"), ("garment_lot", "garment_damage", "K070"),
    ("time_since_start", "incomplete_cure", "K020"), ("shop", "lifted_edge", "K001"),
])
def test_a_rise_has_the_causes_first_that_sit_where_it_points(
    factor: str, defect: str, first: str
) -> None:
    assert order(flag_of("defect_rate", defect, factor=factor), defect)[0] == first


def test_one_zone_speaks_for_what_is_uneven() -> None:
    def share(zone: str | None) -> float:
        flag = flag_of("defect_rate", "lifted_edge", zone=zone)
        listed = ranked_causes("lifted_edge", None, partial(fit, flag=flag))
        return sum(one.share for one in listed if one.cause and one.cause.direction == "uneven")

    assert share("top_left") > share(None)


def test_the_shop_s_own_cases_still_count() -> None:
    lot = flag_of("defect_rate", "lifted_edge", factor="transfer_lot")
    assert order(lot, "lifted_edge", {("lifted_edge", "K009"): 4})[0] == "K009"
    dwell = flag_of("setting", "dwell_s", "down")
    assert order(dwell, "incomplete_cure", {("incomplete_cure", "K016"): 1})[:2] == ["K015", "K016"]


def test_no_cause_is_lost_and_what_says_nothing_leaves_the_usual_order() -> None:
    flag = flag_of("setting", "dwell_s", "down")
    for defect in defect_kinds():
        assert set(order(flag, defect)) == {cause.code for cause in causes_of(defect)}
    shop = flag_of("defect_rate", "lifted_edge", factor="shop")
    assert order(shop, "lifted_edge") == [one.code for one in ranked_causes("lifted_edge")]
    own = Cause(code="wet tray", defect="lifted_edge", words="wet tray", family="", variable="",
                direction="", rank=1, first_check="")
    assert fit(own, shop) == 1.0
