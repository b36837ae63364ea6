from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts import names_of
from qc.stats.individuals import individuals_chart
from qc.stats.rules import RULE_SETS, pattern_signals, rule_set
from tests.published import case
from tests.reference.rules import nelson, western_electric

NELSON = {
    "N1": "outside_limits", "N2": "one_side", "N3": "trend", "N4": "alternating",
    "N5": "two_of_three", "N6": "four_of_five", "N7": "stratification", "N8": "mixture",
}
WESTERN_ELECTRIC = {
    "WE1": "outside_limits", "WE2": "two_of_three", "WE3": "four_of_five", "WE4": "one_side",
}
SEQUENCES = case("runs_rules")["rule_sequences"]


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda s: s["id"])
@pytest.mark.parametrize(("rules", "names"),
                         [("nelson", NELSON), ("western-electric", WESTERN_ELECTRIC)])
def test_sequences_signal_where_worked_out(sequence, rules, names) -> None:
    chart = individuals_chart(sequence["z"], centre=0, sigma=1, rules=rules).charts[0]
    found = {code: chart.signalled(name).tolist() for code, name in names.items()}
    assert found == {code: sequence["all_rules"][code] for code in names}


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda s: s["id"])
def test_mixture_needs_both_sides(sequence) -> None:
    # the reading without both sides differs from ours in at least one sequence
    chart = individuals_chart(sequence["z"], centre=0, sigma=1, rules="nelson").charts[0]
    assert set(chart.signalled("mixture")) <= set(sequence["all_rules"]["N8_any"])


@pytest.mark.parametrize(("rules", "slow"),
                         [("nelson", nelson), ("western-electric", western_electric)])
@pytest.mark.parametrize("seed", range(6))
def test_rules_agree_with_a_look_at_every_point(rules, slow, seed) -> None:
    # steps of a half and a spread of patterns, so that points on lines and ties are common
    rng = np.random.default_rng(seed)
    z = np.round(np.concatenate([
        rng.normal(0, 1.4, 300), rng.normal(0, 0.3, 60), np.cumsum(rng.choice([-0.5, 0.5], 80)) / 2,
        rng.choice([-1.5, 1.5], 60), np.tile([0.5, -0.5], 20),
    ]) * 2) / 2
    chart = individuals_chart(z, centre=0, sigma=1, rules=rules).charts[0]
    wanted = slow(z.tolist())
    assert [set(names_of(byte)) for byte in chart.signals] == wanted
    assert len(set().union(*wanted)) >= 4


def test_only_limits_marks_no_pattern() -> None:
    z = np.r_[np.full(40, 2.5), 3.5]
    chart = individuals_chart(z, centre=0, sigma=1).charts[0]
    assert chart.signalled().tolist() == [41]
    assert set(np.unique(chart.signals)) == {0, 1}


@pytest.mark.parametrize("n", range(1, 8))
def test_short_series_complete_no_long_pattern(n: int) -> None:
    signals = pattern_signals(np.full(n, 0.5), RULE_SETS["nelson"])
    assert not signals.any()


def test_turning_a_chart_over_keeps_its_signals() -> None:
    z = np.random.default_rng(3).normal(0, 1.3, 500)
    both = [pattern_signals(side, RULE_SETS["nelson"]) for side in (z, -z)]
    np.testing.assert_array_equal(*both)


def test_an_unknown_rule_set_is_named_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="rules is 'all'; allowed: limits, western-electric, nels"):
        rule_set("all")
