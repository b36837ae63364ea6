"""What is one change becomes one flag, and what is not stays two."""

from dataclasses import replace

import numpy as np
import pytest

from qc.domain.flags import FactorShare
from qc.domain.instants import DAY_US
from qc.monitor.chains import united
from qc.monitor.findings import Finding


def finding(kind, characteristic, *, press="P4", day=40.0, signalled=42.0, ended=None, **more):
    return Finding(
        **{
            "id_text": f"{kind}|{characteristic}|{press}",
            "kind": kind,
            "characteristic": characteristic,
            "direction": "up",
            "zone": None,
            "platen": None,
            "signalled_at_us": int(signalled * DAY_US),
            "changed_at_us": int(day * DAY_US),
            "low_us": int((day - 1) * DAY_US),
            "high_us": int((day + 1) * DAY_US),
            "ended_at_us": None if ended is None else int(ended * DAY_US),
            "factor": FactorShare(name="press", level=press, weight=0.9),
            "other_factors": (),
            "before": 0.01,
            "after": 0.03,
            "expected_after": 0.011,
            "unit": "per piece",
            "gain": 12.0,
            "units": np.arange(5),
            **more,
        }
    )


def test_two_kinds_from_one_press_at_one_time_are_one_flag_of_the_stronger():
    found = united(
        [
            finding("defect_rate", "incomplete_cure", gain=8.0, signalled=41.0),
            finding("defect_rate", "lifted_edge", gain=20.0, signalled=44.0),
        ]
    )
    assert len(found) == 1
    assert found[0].characteristic == "lifted_edge"
    assert found[0].also == ("incomplete_cure",)
    assert found[0].signalled_at_us == 41 * DAY_US
    assert found[0].id_text == "defect_rate|incomplete_cure|P4"


def test_another_press_or_another_time_is_another_flag():
    here = finding("defect_rate", "lifted_edge")
    assert len(united([here, finding("defect_rate", "scorch", press="P5")])) == 2
    assert len(united([here, finding("defect_rate", "scorch", day=70.0, signalled=72.0)])) == 2


def test_a_cold_platen_names_the_defects_it_brings_about():
    platen = finding(
        "calibration", "temperature_error_c", platen="upper", signalled=50.0, day=35.0, gain=20.0
    )
    found = united([finding("defect_rate", "lifted_edge"), platen])
    assert [(f.kind, f.platen, f.also) for f in found] == [
        ("calibration", "upper", ("lifted_edge",))
    ]
    assert found[0].signalled_at_us == 42 * DAY_US


def test_a_platen_does_not_explain_what_heat_cannot():
    platen = finding("calibration", "temperature_error_c", platen="upper", day=35.0)
    assert len(united([finding("defect_rate", "count_short"), platen])) == 2


def test_a_platen_does_not_explain_what_was_there_long_before():
    platen = finding("calibration", "temperature_error_c", platen="upper", day=60.0, signalled=65.0)
    assert (
        len(united([finding("defect_rate", "lifted_edge", day=20.0, signalled=22.0), platen])) == 2
    )


def test_a_shorter_dwell_names_the_cure_it_spoils():
    dwell = finding("setting", "dwell_s", direction="down", unit="s", day=39.0)
    found = united([dwell, finding("defect_rate", "incomplete_cure")])
    assert [(f.kind, f.characteristic, f.also) for f in found] == [
        ("setting", "dwell_s", ("incomplete_cure",))
    ]


def test_a_measured_shift_supports_the_misplacement_it_causes():
    who = FactorShare(name="operator", level="O3", weight=0.9)
    rate = replace(finding("defect_rate", "misplacement"), factor=who)
    shift = replace(finding("placement", "dx_mm", unit="mm"), factor=who, id_text="placement")
    found = united([shift, rate])
    assert [(f.kind, f.characteristic, f.also) for f in found] == [
        ("defect_rate", "misplacement", ("dx_mm",))
    ]


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0)])
def test_the_order_of_findings_does_not_matter(order):
    three = [
        finding("defect_rate", "incomplete_cure", signalled=41.0, gain=8.0),
        finding("defect_rate", "lifted_edge", signalled=44.0, gain=20.0),
        finding("setting", "dwell_s", signalled=43.0, unit="s"),
    ]
    found = united([three[i] for i in order])
    assert [(f.kind, f.signalled_at_us) for f in found] == [("setting", 41 * DAY_US)]
    assert set(found[0].also) == {"incomplete_cure", "lifted_edge"}
