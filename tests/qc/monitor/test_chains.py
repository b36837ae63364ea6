"""What is one change becomes one flag, and what is not stays two.

Which defects heat, time and pressure bring about, and in which direction, is common practice, no
source: it is the table of causes that the trade's list ships with.
"""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.domain.flags import FactorShare
from qc.domain.instants import DAY_US
from qc.monitor.bonds import bond
from qc.monitor.chains import Known, united
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


def share(name, level, weight=0.9):
    return FactorShare(name=name, level=level, weight=weight)


def days(day, spread=1.0):
    """When a change began, with its interval."""
    return {"changed_at_us": int(day * DAY_US), "low_us": int((day - spread) * DAY_US),
            "high_us": int((day + spread) * DAY_US)}


def rate(kind="lifted_edge", **more):
    """A rise of a defect, with an identity of its own."""
    factor = more.pop("factor", share("press", more.pop("press", "P4")))
    made = finding("defect_rate", kind, **more)
    return replace(made, factor=factor,
                   id_text=f"defect_rate|{kind}|{factor.name}|{factor.level}|"
                           f"{made.signalled_at_us}")


def platen(error_c=-5.0, *, characteristic="temperature_error_c", **more):
    return finding("calibration", characteristic, **{
        "platen": "upper", "before": 0.0, "after": error_c, "expected_after": 0.0, "unit": "degC",
        "gain": 20.0, "day": 35.0, "signalled": 50.0, **more})


def dwell(now_s=12.0, **more):
    return finding("setting", "dwell_s", **{
        "before": 15.0, "after": now_s, "expected_after": 15.0, "unit": "s", "day": 39.0,
        "signalled": 43.0, **more})


def shifted(**more):
    factor = more.pop("factor", share("operator", "O3"))
    return replace(finding("placement", "dx_mm", unit="mm", after=5.0, **more), factor=factor,
                   id_text=f"placement|dx_mm|{factor.level}")


def told(findings, **more):
    return sorted((f.kind, f.characteristic, tuple(sorted(f.also)))
                  for f in united(findings, **more))


# -- one change in several kinds of defect --


def test_two_kinds_from_one_press_at_one_time_are_one_flag_of_the_stronger():
    found = united([rate("incomplete_cure", gain=8.0, signalled=41.0),
                    rate("lifted_edge", gain=20.0, signalled=44.0)])
    assert [(f.characteristic, f.also) for f in found] == [("lifted_edge", ("incomplete_cure",))]
    assert (found[0].signalled_at_us, found[0].renewed_at_us) == (41 * DAY_US, 44 * DAY_US)
    assert found[0].id_text.startswith("defect_rate|incomplete_cure|press|P4")


def test_another_press_or_another_time_is_another_flag():
    assert len(united([rate(), rate("incomplete_cure", press="P5")])) == 2
    assert len(united([rate(), rate("incomplete_cure", day=70.0, signalled=72.0)])) == 2


def test_two_unrelated_faults_at_once_on_one_press_stay_two():
    """Dirt and cold have no cause in common, nor have a heavy and a light pressure."""
    assert len(united([rate("contamination"), rate("lifted_edge")])) == 2
    assert len(united([rate("contamination"), platen()])) == 2
    assert len(united([rate("crushed_pile"), rate("incomplete_cure")])) == 2
    assert told([rate("contamination"), rate("lifted_edge", signalled=44.0), platen()]) == [
        ("calibration", "temperature_error_c", ("lifted_edge",)),
        ("defect_rate", "contamination", ())]


def test_the_same_person_months_apart_is_two_flags():
    who = share("operator", "Ana")
    assert len(united([rate("missing_element", factor=who),
                       rate("missing_element", factor=who, day=100.0, signalled=103.0)])) == 2


def test_one_persons_kinds_with_a_cause_in_common_are_one_flag():
    who = share("operator", "Ana")
    peeled_hot = [rate(kind, factor=who) for kind in ("missing_element", "carrier_residue")]
    assert len(united(peeled_hot)) == 1
    assert len(united([peeled_hot[0], rate("misplacement", factor=who)])) == 2


def test_whatever_shows_in_one_lot_is_the_lots():
    lot = share("transfer_lot", "L7")
    assert len(united([rate(kind, factor=lot) for kind in ("colour_shift", "torn_transfer")])) == 1


def test_kinds_of_the_shops_own_must_start_together():
    own = rate("a_kind_of_our_own")
    assert len(united([own, rate("lifted_edge")])) == 1
    assert len(united([own, rate("lifted_edge", day=46.0, signalled=47.0)])) == 2


# -- a cause with its consequences --


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
@pytest.mark.parametrize("signalled", [(41.0, 44.0, 50.0), (51.0, 44.0, 42.0), (45.0, 45.0, 45.0)])
def test_a_drifting_platen_is_one_flag_with_what_it_brings(order, signalled):
    three = [rate("incomplete_cure", signalled=signalled[0]),
             rate("lifted_edge", signalled=signalled[1]), platen(signalled=signalled[2])]
    found = united([three[i] for i in order])
    assert [(f.kind, set(f.also)) for f in found] == [
        ("calibration", {"lifted_edge", "incomplete_cure"})]
    first = min(three, key=lambda f: (f.signalled_at_us, f.id_text))
    assert (found[0].id_text, found[0].signalled_at_us) == (first.id_text, first.signalled_at_us)


@pytest.mark.parametrize(("error_c", "explained", "not_explained"), [
    (-5.0, ("lifted_edge", "incomplete_cure"), ("scorch", "dye_migration", "count_short")),
    (5.0, ("scorch", "dye_migration", "wrinkle"), ("lifted_edge", "incomplete_cure", "bubble")),
])
def test_cold_and_hot_platens_bring_different_defects(error_c, explained, not_explained):
    for kind in explained:
        assert len(united([rate(kind), platen(error_c)])) == 1, kind
    for kind in not_explained:
        assert len(united([rate(kind), platen(error_c)])) == 2, kind


def test_an_uneven_platen_is_cold_here_and_hot_there():
    uneven = platen(8.0, characteristic="temperature_spread_c")
    assert len(united([rate("lifted_edge"), uneven])) == 1
    assert len(united([rate("scorch"), uneven])) == 1
    assert len(united([rate("contamination"), uneven])) == 2


def test_a_changed_dwell_names_what_it_spoils_in_its_direction():
    assert told([dwell(12.0), rate("incomplete_cure")]) == [
        ("setting", "dwell_s", ("incomplete_cure",))]
    assert len(united([dwell(12.0), rate("scorch")])) == 2
    assert len(united([dwell(18.0), rate("scorch")])) == 1
    assert len(united([dwell(18.0), rate("incomplete_cure")])) == 2


def test_a_setting_shows_within_weeks_and_a_drift_takes_its_time():
    assert len(united([dwell(), rate("incomplete_cure", day=60.0, signalled=63.0)])) == 1
    late = rate("incomplete_cure", day=80.0, signalled=84.0)
    assert len(united([dwell(), late])) == 2
    assert len(united([platen(), late])) == 1


def test_a_consequence_may_be_dated_before_its_cause_but_not_long_before():
    week_before = rate("lifted_edge", day=40.0, signalled=42.0)
    assert len(united([week_before, platen(**days(47.0, 7.0))])) == 1
    assert len(united([rate("lifted_edge", day=20.0, signalled=22.0), platen(day=60.0)])) == 2


def test_both_platens_of_a_press_are_two_things():
    assert len(united([platen(), replace(platen(), platen="lower", id_text="lower")])) == 2
    spread = platen(8.0, characteristic="temperature_spread_c", signalled=52.0)
    assert len(united([platen(), spread])) == 1


def test_a_setting_put_up_against_a_cold_platen_stays_its_own_flag():
    assert len(united([platen(), finding("setting", "temperature_c", after=160.0,
                                         expected_after=150.0)])) == 2


def test_a_measured_shift_names_the_misplacement_it_causes():
    who = share("operator", "O3")
    both = [rate("misplacement", factor=who), rate("rotated", factor=who, signalled=43.0)]
    assert told([shifted(signalled=45.0), *both]) == [
        ("placement", "dx_mm", ("misplacement", "rotated"))]
    assert len(united([shifted(), rate("wrinkle", factor=who)])) == 2
    other = rate("misplacement", factor=share("operator", "O4"), units=np.arange(50, 60))
    assert len(united([shifted(), other])) == 2


# -- put down to something that coincides --


@pytest.mark.parametrize("other", [share("operator", "Ana"), share("transfer_lot", "L7"),
                                   share("station", "P4/left"), share("fabric", "FLEECE")])
def test_a_defect_put_down_to_what_coincides_joins_its_platen(other):
    """Nine in ten of the person's or the lot's pieces were pressed on that platen."""
    there = platen(units=np.arange(100))
    mostly = rate(factor=other, units=np.arange(10, 110))
    assert told([mostly, there]) == [("calibration", "temperature_error_c", ("lifted_edge",))]
    elsewhere = rate(factor=other, units=np.arange(90, 190))
    assert len(united([elsewhere, there])) == 2


def test_records_that_are_sure_of_the_person_are_believed():
    there = platen(units=np.arange(100))
    half = {"units": np.arange(40, 140)}
    assert len(united([rate(factor=share("operator", "Ana", 0.99), **half), there])) == 2
    assert len(united([rate(factor=share("operator", "Ana", 0.6), **half), there])) == 1


def test_a_rival_that_could_not_be_ruled_out_is_enough():
    unsure = replace(rate(factor=share("operator", "Ana", 0.6)), units=np.arange(500, 510),
                     other_factors=(share("press", "P4", 0.3),))
    assert len(united([unsure, platen()])) == 1
    assert len(united([unsure, rate("incomplete_cure", signalled=44.0)])) == 1
    assert len(united([unsure, rate("contamination", signalled=44.0)])) == 2
    ruled_out = replace(unsure, other_factors=(share("press", "P4", 0.05),))
    assert len(united([ruled_out, rate("incomplete_cure", signalled=44.0)])) == 2


# -- ended and open, and what was shown stays --


def test_an_ended_and_an_open_one_are_open_together():
    over = rate("incomplete_cure", ended=48.0)
    (one,) = united([over, rate("lifted_edge", signalled=44.0)])
    assert one.ended_at_us is None
    (both,) = united([over, rate("lifted_edge", signalled=44.0, ended=52.0)])
    assert both.ended_at_us == 52 * DAY_US


def test_what_ended_weeks_before_is_another_change():
    assert len(united([rate(ended=44.0), rate(day=50.0, signalled=53.0)])) == 2
    assert len(united([platen(ended=52.0), rate(day=60.0, signalled=63.0)])) == 2


def put_down_to_others(**more):
    """Two consequences of one cold platen, put down to a person and to a lot that coincide."""
    return [
        rate("incomplete_cure", factor=share("operator", "Ana"), units=np.arange(90),
             **{"signalled": 41.0, **more}),
        rate("lifted_edge", factor=share("transfer_lot", "L7"), units=np.arange(90),
             **{"signalled": 44.0, **more}),
    ]


def test_of_two_flags_shown_apart_the_second_ends_as_part_of_the_first():
    """Both may have been worked on, so both stay; only one of them is open."""
    ana, lot = put_down_to_others()
    assert len(united([ana, lot])) == 2
    for order in itertools.permutations([ana, lot, platen(units=np.arange(100))]):
        one, other = sorted(united(order), key=lambda f: f.ended_at_us is not None)
        assert (one.kind, one.ended_at_us) == ("calibration", None)
        assert set(one.also) == {"incomplete_cure", "lifted_edge"}
        assert {one.id_text, other.id_text} == {ana.id_text, lot.id_text}
        assert (other.part_of, other.ended_at_us) == (one.id_text, 50 * DAY_US)
        assert one.part_of == ""


def test_what_comes_after_joins_the_flag_that_has_explained():
    both = [*put_down_to_others(), platen(units=np.arange(100))]
    late = rate("bubble", factor=share("transfer_lot", "L7"), day=46.0, signalled=51.0)
    open_ones = [f for f in united([*both, late]) if f.ended_at_us is None]
    assert [set(f.also) for f in open_ones] == [{"incomplete_cure", "lifted_edge", "bubble"}]


def test_an_effect_that_fits_two_flags_joins_one_and_leaves_the_other():
    first, second = platen(signalled=41.0), dwell(signalled=42.0)
    found = united([first, second, rate("incomplete_cure", signalled=50.0)])
    assert [f.part_of for f in found] == ["", ""]
    assert sum("incomplete_cure" in f.also for f in found) == 1


def test_signals_of_one_moment_are_joined_through_a_third():
    three = [*put_down_to_others(signalled=50.0), platen(units=np.arange(100), signalled=50.0)]
    for order in itertools.permutations(three):
        assert len(united(order)) == 1


def test_a_join_is_decided_on_what_was_known_then():
    """The first rise was put down to Ana when the second came, and only later to the press."""
    first, second = rate("incomplete_cure", signalled=41.0), rate("lifted_edge", signalled=44.0)
    assert len(united([first, second])) == 1

    def known(day, factor):
        return Known(at_us=int(day * DAY_US), factor=factor, other_factors=(), **days(40.0))

    apart = {first.id_text: (known(41.0, share("operator", "Ana")),
                             known(47.0, share("press", "P4")))}
    assert len(united([first, second], history=apart)) == 2
    in_time = {first.id_text: (known(41.0, share("operator", "Ana")),
                               known(43.0, share("press", "P4")))}
    assert len(united([first, second], history=in_time)) == 1


def test_a_flag_put_down_to_its_press_only_later_ends_as_part_of_the_platens():
    cold = platen(signalled=41.0)
    rise = rate("incomplete_cure", signalled=44.0)
    ana = share("operator", "Ana")
    history = {rise.id_text: tuple(
        Known(at_us=int(day * DAY_US), factor=factor, other_factors=(), **days(40.0))
        for day, factor in ((44.0, ana), (48.0, ana), (52.0, share("press", "P4"))))}
    apart = replace(rise, units=np.arange(500, 600))
    first, second = united([cold, apart], history=history)
    assert (first.part_of, first.also) == ("", ("incomplete_cure",))
    assert (second.id_text, second.part_of) == (rise.id_text, cold.id_text)
    assert second.ended_at_us == 52 * DAY_US
    so_far = {rise.id_text: history[rise.id_text][:2]}
    assert [f.part_of for f in united([cold, apart], history=so_far)] == ["", ""]


KINDS = ("lifted_edge", "incomplete_cure", "scorch", "contamination", "misplacement", "own")
LEVELS = (share("press", "P4"), share("press", "P5"), share("operator", "Ana", 0.6),
          share("transfer_lot", "L7"), share("shop", None))


@st.composite
def any_finding(draw):
    day = draw(st.integers(30, 60))
    common = {
        "day": float(day), "signalled": float(day + draw(st.integers(0, 6))),
        "ended": draw(st.sampled_from([None, day + 8.0])),
        "units": np.arange(*draw(st.sampled_from([(0, 100), (10, 110), (80, 200)]))),
        "gain": float(draw(st.integers(4, 30))),
    }
    factor = draw(st.sampled_from(LEVELS))
    kind = draw(st.sampled_from(["defect_rate", "calibration", "setting", "placement"]))
    if kind == "calibration":
        made = platen(draw(st.sampled_from([-5.0, 5.0])), **common)
    elif kind == "setting":
        made = replace(dwell(draw(st.sampled_from([12.0, 18.0])), **common), factor=factor)
    elif kind == "placement":
        made = shifted(factor=factor, **common)
    else:
        made = rate(draw(st.sampled_from(KINDS)), factor=factor, **common)
        made = replace(made, other_factors=(share("press", "P4", draw(
            st.sampled_from([0.05, 0.3]))),))
    name = f"{made.kind}|{made.characteristic}|{made.factor.name}|{made.factor.level}|{day}"
    return replace(made, id_text=f"{name}|{made.signalled_at_us}")


shops = st.lists(any_finding(), max_size=9, unique_by=lambda f: f.id_text)


def outcome(found):
    return [(f.id_text, f.signalled_at_us, f.kind, f.characteristic, f.also, f.ended_at_us,
             f.part_of, len(f.units)) for f in found]


@settings(max_examples=300, deadline=None)
@given(shop=shops, data=st.data())
def test_the_order_of_findings_does_not_matter(shop, data):
    turned = data.draw(st.permutations(shop))
    assert outcome(united(turned)) == outcome(united(shop))


@settings(max_examples=300, deadline=None)
@given(shop=shops, day=st.integers(30, 66))
def test_an_identity_once_shown_is_there_ever_after(shop, day):
    by_then = [f for f in shop if f.signalled_at_us <= day * DAY_US]
    shown = {f.id_text: f.signalled_at_us for f in united(by_then)}
    later = {f.id_text: f.signalled_at_us for f in united(shop)}
    assert shown.items() <= later.items()
    assert all(at > day * DAY_US for name, at in later.items() if name not in shown)


@settings(max_examples=300, deadline=None)
@given(shop=shops)
def test_nothing_is_lost_and_nothing_said_twice(shop):
    found = united(shop)
    assert {f.characteristic for f in shop} == {
        c for f in found for c in (f.characteristic, *f.also)}
    assert len(found) <= len(shop)
    names = {f.id_text for f in found if not f.part_of}
    assert all(f.part_of in names and f.ended_at_us is not None for f in found if f.part_of)
    for one in found:
        assert len({one.characteristic, *one.also}) == 1 + len(one.also)


@settings(max_examples=300, deadline=None)
@given(a=any_finding(), b=any_finding())
def test_a_bond_is_the_same_both_ways(a, b):
    assert (bond(a, b) is None) is (bond(b, a) is None)
