from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.laney import p_prime_chart, u_prime_chart
from qc.stats.charts.shewhart_counts import p_chart, u_chart
from tests.published import case
from tests.reference.counts import prime_limits

P_CASES = ["p_np_ceramic_substrate", "p_variable_n_ishikawa_motors", "p_variable_n_ishikawa_p78"]
U_CASES = ["u_boards_samples_of_5", "u_ishikawa_wire_cracks"]
CASES = [(p_prime_chart, name, "p") for name in P_CASES] + [
    (u_prime_chart, name, "u") for name in U_CASES]


def _charted(chart, published):
    counts = published["data"].get("D", published["data"].get("c"))
    return chart(counts, np.broadcast_to(published["data"]["n"], len(counts)))


@pytest.mark.parametrize(("chart", "name", "letter"), CASES)
def test_limits_as_recomputed_to_ten_digits(chart, name: str, letter: str) -> None:
    published = case(name)
    found, wanted = _charted(chart, published), published["recomputed"]
    only = found.charts[0]
    assert found.sigma == pytest.approx(wanted["laney_sigma_z_1p128"], rel=1e-9)
    assert only.centre == pytest.approx(wanted[f"{letter}bar"], rel=1e-9)
    for array, side in [(only.lower, "LCL"), (only.upper, "UCL")]:
        np.testing.assert_allclose(array, wanted[f"laney_{letter}_prime_{side}"], rtol=1e-9)
    assert only.signalled().tolist() == published["signals"][f"laney_{letter}_prime_beyond"]


def test_sigma_z_divides_by_the_printed_factor_not_the_exact_one() -> None:
    published = case("p_variable_n_ishikawa_motors")
    exact = published["recomputed"]["laney_sigma_z_exact_d2"]
    found = _charted(p_prime_chart, published).sigma
    assert found / exact == pytest.approx(2 / np.sqrt(np.pi) / 1.128, rel=1e-9)


@pytest.mark.parametrize(("chart", "shares"), [(p_prime_chart, True), (u_prime_chart, False)])
def test_limits_agree_with_a_plain_loop(chart, shares: bool) -> None:
    rng = np.random.default_rng(3)
    n = rng.integers(500, 4000, 120)
    d = rng.binomial(n, rng.beta(30, 570, 120))
    found = chart(d, n)
    sigma_z, limits = prime_limits(d.tolist(), n.tolist(), shares=shares)
    assert found.sigma == pytest.approx(sigma_z, rel=1e-12)
    only = found.charts[0]
    np.testing.assert_allclose(np.c_[only.lower, only.upper], limits, rtol=1e-12)


def test_wider_than_chance_where_the_share_itself_varies() -> None:
    rng = np.random.default_rng(8)
    n = np.full(200, 5000)
    d = rng.binomial(n, rng.beta(50, 450, 200))
    plain, prime = p_chart(d, n), p_prime_chart(d, n)
    assert Caution.MORE_VARIATION in plain.cautions
    assert prime.cautions == ()
    assert len(plain.charts[0].signalled()) > 20
    assert len(prime.charts[0].signalled()) <= 2
    # a beta(50, 450) share has sigma 0.0134; chance adds 0.0042: together 3.3 times chance
    assert prime.sigma == pytest.approx(3.3, rel=0.15)


@pytest.mark.parametrize(("prime", "plain"), [(p_prime_chart, p_chart), (u_prime_chart, u_chart)])
def test_with_sigma_z_one_it_is_the_plain_chart(prime, plain) -> None:
    d, n = [3, 9, 4, 7, 12], [80, 120, 90, 100, 400]
    one, other = prime(d, n, sigma=1), plain(d, n)
    np.testing.assert_array_equal(one.charts[0].lower, other.charts[0].lower)
    np.testing.assert_array_equal(one.charts[0].upper, other.charts[0].upper)
    assert one.sigma == 1


def test_limits_are_cut_at_what_can_be() -> None:
    shares = p_prime_chart([0, 9, 10, 1], [10] * 4).charts[0]
    assert (shares.lower[0], shares.upper[0]) == (0, 1)
    assert (u_prime_chart([0, 90, 10, 1], [10] * 4).charts[0].lower == 0).all()


def test_known_values_leave_nothing_to_estimate() -> None:
    found = p_prime_chart([2, 30], [100, 100], centre=0.1, sigma=2)
    only = found.charts[0]
    assert (only.lower[0], only.upper[0]) == (0, pytest.approx(0.1 + 6 * 0.03))
    assert only.signalled().tolist() == [2]
    assert found.baseline is None
    assert Caution.TOO_FEW_POINTS not in found.cautions
    half = p_prime_chart([2, 30], [100, 100], centre=0.1)
    assert half.baseline is not None
    assert Caution.TOO_FEW_POINTS in half.cautions


def test_moving_ranges_do_not_reach_over_a_point_left_out() -> None:
    d, n = np.array([10, 12, 80, 9, 13, 11]), np.full(6, 100)
    found = p_prime_chart(d, n, baseline=Baseline(
        first=1, last=6, excluded=(Excluded(at=3, reason="scorched sheet"),)))
    kept = np.array([10, 12, 9, 13, 11]) / 100
    centre = kept.mean()
    ranges = np.abs(np.diff(kept))[[0, 2, 3]] / np.sqrt(centre * (1 - centre) / 100)
    assert found.charts[0].centre == pytest.approx(centre)
    assert found.sigma == pytest.approx(ranges.mean() / 1.128)
    assert found.charts[0].signalled().tolist() == [3]


def test_narrower_than_chance_is_said() -> None:
    # the wire of the handbook varies less than chance: sigma_z 0.47
    found = _charted(u_prime_chart, case("u_ishikawa_wire_cracks"))
    assert Caution.NARROWED in found.cautions
    assert Caution.NARROWED not in _charted(p_prime_chart, case("p_np_ceramic_substrate")).cautions
    assert Caution.NARROWED not in p_prime_chart([3, 9, 4], [80] * 3, sigma=0.5).cautions


def test_counts_smoothed_by_hand_are_said_to_vary_too_little() -> None:
    found = u_prime_chart([49, 50, 51] * 10, [10] * 30)
    assert {Caution.LESS_VARIATION, Caution.NARROWED} <= set(found.cautions)


@pytest.mark.parametrize(("found", "caution"), [
    (p_prime_chart([0] * 25, [50] * 25), Caution.NOTHING_COUNTED),
    (p_prime_chart([50] * 25, [50] * 25), Caution.NO_VARIATION),
    (u_prime_chart([0] * 25, [50] * 25), Caution.NOTHING_COUNTED),
])
def test_none_and_all_give_limits_on_the_line_and_no_sigma(found, caution) -> None:
    only = found.charts[0]
    assert only.lower[0] == only.centre == only.upper[0]
    assert not only.signals.any()
    assert found.sigma is None
    assert found.cautions == (caution,)


def test_equal_shares_leave_no_width() -> None:
    # 0.1 pooled from decimals need not equal each 0.1 to the last bit
    found = p_prime_chart([7, 11, 23] * 10, [70, 110, 230] * 10, rules="nelson")
    assert found.sigma == 0
    assert Caution.NO_VARIATION in found.cautions
    assert not found.charts[0].signalled().size


def test_rules_are_looked_for_in_the_widened_sigma() -> None:
    n = np.full(12, 100)
    wide = p_prime_chart(np.full(12, 17), n, centre=0.1, sigma=3, rules="nelson").charts[0]
    # 0.17 is 2.33 sigma by chance alone and 0.78 of the widened sigma
    assert not wide.signalled("two_of_three").size
    assert wide.signalled("one_side").tolist() == [9, 10, 11, 12]


@pytest.mark.parametrize(("call", "message"), [
    (lambda: p_prime_chart([5], [4]), "n_defective is 5 at position 1; allowed: 0 to the number"),
    (lambda: p_prime_chart([5], [9]), "baseline has 1 point; a moving range needs at least 2"),
    (lambda: p_prime_chart([1, 1], [4, 0]), "n_inspected is 0 at position 2; allowed: whole num"),
    (lambda: p_prime_chart([1, 1.5], [4, 4]), r"n_defective is 1\.5 at position 2; allowed: who"),
    (lambda: p_prime_chart([1, 2], [4, 4], sigma=0), "sigma is 0; it must be a finite number abo"),
    (lambda: p_prime_chart([1, 2], [4, 4], centre=2), "centre is 2; it must be a share"),
    (lambda: u_prime_chart([], []), "n_defects has 0 values; it needs at least 1"),
    (lambda: u_prime_chart([1, -1], [4, 4]), "n_defects is -1 at position 2; allowed: whole nu"),
    (lambda: u_prime_chart([1, 1], [4, np.inf]), "n_units is inf at position 2; it must be a fin"),
    (lambda: u_prime_chart([1, 1], [4]), "n_defects has 2 values and n_units 1"),
    (lambda: u_prime_chart([1, 1], [4, 4], baseline=(2, 2)), "baseline has 1 point"),
    (lambda: u_prime_chart([1, 1], [4, 4], rules="some"), "rules is 'some'; allowed"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
