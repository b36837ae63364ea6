"""Flags of invented shops held against what was planted in them, through the store."""

from functools import cache

import pytest

from demo_data import DEMO_SEED, SECOND_SEED, demo_spec, second_spec, simulate
from demo_data.building import build_store
from qc.cli.flags import flag_json
from qc.desk.flags import current_flags, flag_evidence
from qc.desk.shop import open_shop
from qc.domain.flags import FACTORS, FLAG_KINDS
from qc.domain.instants import DAY_US
from qc.errors import NotFound


@pytest.fixture(scope="module")
def shops(tmp_path_factory):
    """The demo and the second shop, each in a store of its own, built when first asked for."""
    folder = tmp_path_factory.mktemp("flags")
    opened = []

    @cache
    def shop(name):
        spec, seed = {
            "demo": (demo_spec(), DEMO_SEED),
            "second": (second_spec(), SECOND_SEED),
        }[name]
        simulated = simulate(spec, seed)
        place = folder / f"{name}.db"
        build_store(simulated, place, by="test")
        opened.append(open_shop(str(place)))
        return simulated, opened[-1]

    yield shop
    for one in opened:
        one.store.close()


def flags_of(shops, name, days_before_end=0):
    simulated, shop = shops(name)
    return current_flags(shop, as_of_us=simulated.end_us - days_before_end * DAY_US).flags


def about(fault, flag):
    """A flag that names the fault's factor and level, for something it shows in."""
    named = (flag.factor.name, flag.factor.level) == (fault.factor, fault.level)
    return named and {flag.characteristic, *flag.also} & set(fault.shows_in)


@pytest.mark.parametrize("name", ["demo", "second"])
def test_every_planted_fault_is_flagged_with_its_factor_on_top(shops, name):
    simulated, _ = shops(name)
    flags = flags_of(shops, name)
    for fault in simulated.truth:
        if fault.expect_flag:
            assert any(about(fault, flag) for flag in flags), fault


@pytest.mark.parametrize("name", ["demo", "second"])
def test_one_fault_is_one_flag(shops, name):
    simulated, _ = shops(name)
    flags = flags_of(shops, name)
    for fault in simulated.truth:
        assert sum(bool(about(fault, flag)) for flag in flags) <= 1, fault


@pytest.mark.parametrize("name", ["demo", "second"])
def test_an_honest_change_of_mix_is_not_flagged(shops, name):
    simulated, _ = shops(name)
    honest = [fault for fault in simulated.truth if not fault.expect_flag]
    assert honest
    for flag in flags_of(shops, name):
        for change in honest:
            assert (flag.factor.name, flag.factor.level) != (change.factor, change.level)
            assert flag.factor.name != "shop"


@pytest.mark.parametrize("name", ["demo", "second"])
def test_false_flags_stay_near_the_budget(shops, name):
    simulated, shop = shops(name)
    weeks = (simulated.end_us - simulated.start_us) / (7 * DAY_US)
    allowed = float(shop.settings["false_flags_per_week"]) * weeks
    false = [
        flag
        for flag in flags_of(shops, name)
        if not any(about(fault, flag) for fault in simulated.truth)
    ]
    # Poisson: with a mean of 3.2 more than 7 come once in forty shops
    assert len(false) <= allowed + 2 * allowed**0.5


def test_identity_and_time_of_signal_stay_as_the_shop_goes_on(shops):
    earlier = {f.id: f.signalled_at_us for f in flags_of(shops, "demo", days_before_end=14)}
    later = {f.id: f.signalled_at_us for f in flags_of(shops, "demo")}
    kept = earlier.keys() & later.keys()
    assert len(kept) >= len(earlier) - 1
    assert {key: earlier[key] for key in kept} == {key: later[key] for key in kept}


def test_looking_back_uses_nothing_that_came_later(shops):
    simulated, _ = shops("demo")
    as_of = simulated.end_us - 40 * DAY_US
    for flag in flags_of(shops, "demo", days_before_end=40):
        assert flag.signalled_at_us <= as_of
        assert flag.changed_between_us[1] <= as_of


def test_the_pieces_at_risk_are_those_of_the_flag(shops):
    simulated, shop = shops("demo")
    lot = next(f for f in flags_of(shops, "demo") if f.factor.name == "transfer_lot")
    evidence = flag_evidence(shop, lot.id, as_of_us=simulated.end_us)
    assert set(evidence.pieces["transfer_lot"]) == {lot.factor.level}
    assert int(evidence.pieces["n"].sum()) == lot.pieces_at_risk
    top = evidence.by_level[0]
    assert top.level == lot.factor.level
    assert top.low > 1.5
    assert evidence.series.observed.sum() > evidence.series.expected.sum()


def test_an_unknown_flag_is_said_to_be_unknown(shops):
    simulated, shop = shops("demo")
    with pytest.raises(NotFound, match="no flag 'nothing'"):
        flag_evidence(shop, "nothing", as_of_us=simulated.end_us)


def test_the_json_has_the_contracts_keys_and_words(shops):
    simulated, shop = shops("demo")
    for flag in flags_of(shops, "demo"):
        said = flag_json(flag, shop)
        assert set(said) >= {
            "id", "kind", "press", "platen", "characteristic", "direction", "signalled_at",
            "changed_at", "changed_between", "factor", "other_factors", "before", "after",
            "expected_after", "unit", "pieces_at_risk", "message", "next_step", "ended_at", "state",
        }  # fmt: skip
        assert said["kind"] in FLAG_KINDS
        assert said["factor"]["name"] in FACTORS
        assert said["direction"] in ("up", "down")
        assert said["state"] == ("open" if said["ended_at"] is None else "ended")
        assert said["changed_between"][0] <= said["changed_at"] <= said["changed_between"][1]
        weights = [said["factor"]["weight"], *(f["weight"] for f in said["other_factors"])]
        assert sum(weights) == pytest.approx(1.0)
        assert said["message"].endswith(".")
        assert said["next_step"].endswith(".")


def test_an_empty_shop_has_no_flags_and_says_so(tmp_path):
    shop = open_shop(str(tmp_path / "new.db"), create=True)
    found = current_flags(shop, as_of_us=DAY_US)
    assert found.flags == ()
    assert "nothing can be flagged" in found.cautions[0]
    shop.store.close()
