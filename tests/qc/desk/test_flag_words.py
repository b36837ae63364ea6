"""Flags in this shop's units and with this shop's experience, through a real store."""

from dataclasses import replace

import pytest

from qc.desk.flag_words import in_words, units_of_shop
from qc.desk.shop import change_setting, open_shop
from qc.domain.flags import FlagList
from qc.domain.instants import DAY_US
from qc.domain.kinds import causes_of
from qc.monitor.scan import Scan
from qc.store.cases import NewStep, add_step
from qc.units import ShopUnits
from tests.cli.test_flags_text import FLAG
from tests.qc.monitor.test_chains import finding


@pytest.fixture
def shop(tmp_path):
    opened = open_shop(str(tmp_path / "shop.db"), create=True)
    yield opened
    opened.store.close()


def scan_of(one, *, as_of_us=100 * DAY_US):
    flag = replace(FLAG, kind=one.kind, characteristic=one.characteristic)
    flags = FlagList(
        flags=(flag,), as_of_us=as_of_us, baseline_us=None, n_pieces=0, n_streams=0,
        false_flags_per_week=0.25, doubling_delay_days=None, cautions=(),
    )
    return Scan(flags=flags, findings={flag.id: one}, outcome=None)


def said(shop, one, **more):
    return in_words(scan_of(one, **more), shop).flags.flags[0]


def close_with(shop, cause, *, at_us):
    done = {"words": "put right", "done_us": at_us}
    for step, words in (("cause", cause), ("action", done), ("close", {})):
        add_step(shop.store, NewStep(flag=FLAG, step=step, said=words), by="lead", at_us=at_us)


def test_a_shop_without_settings_of_its_own_reads_stored_units(shop):
    assert units_of_shop(shop) == ShopUnits()


def test_the_units_are_the_shops(shop):
    for name, value in (("temperature_unit", "f"), ("length_unit", "in"), ("pressure_unit", "psi")):
        shop = change_setting(shop, name=name, value=value, by="lead", at_us=0)
    platen = finding("calibration", "temperature_error_c", platen="upper", before=None, after=-5.0)
    assert "9.0 °F below the set temperature" in said(shop, platen).message


def test_the_zone_is_the_shops(shop):
    shop = change_setting(shop, name="timezone", value="Asia/Kolkata", by="lead", at_us=0)
    one = finding("defect_rate", "scorch", day=20_000.0, low_us=0, high_us=0)
    assert "since 04 Oct 2024 05:30" in said(shop, one).message


def test_what_this_shop_found_before_is_suspected_first(shop):
    one = finding("defect_rate", "lifted_edge")
    usual = [cause for cause in causes_of("lifted_edge") if cause.family == "press"]
    assert f"suspect: {usual[0].words}" in said(shop, one).next_step
    close_with(shop, {"source": "trade", "code": usual[-1].code, "defect": "lifted_edge",
                      "words": usual[-1].words}, at_us=50 * DAY_US)
    found = f"suspect: {usual[-1].words}, found once before in this shop)"
    assert found in said(shop, one).next_step
    before = said(shop, one, as_of_us=49 * DAY_US)
    assert f"suspect: {usual[0].words}" in before.next_step


def test_every_sentence_is_said(shop):
    flag = said(shop, finding("defect_rate", "scorch"))
    assert flag.sure.startswith("More than luck; very likely press P4")
    assert flag.settle is None
