"""The effect of a platen's heat on defects."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from qc.domain.instants import DAY_US
from qc.domain.kinds import kinds_from_heat
from qc.presses.heat_effect import PressDays, errors_at, heat_effect
from qc.presses.surveys import surveys_of
from tests.qc.presses.made import T0, readings, survey

KINDS = ("lifted_edge",)


def days(rng: np.random.Generator, per_degree: float, *, drift: float = -0.08) -> PressDays:
    """Five presses, ninety days; the first drifts from day 30 on. Presses differ by themselves."""
    press = np.repeat(np.arange(5), 90)
    day = np.tile(np.arange(90), 5)
    error = np.where(press == 0, np.minimum(day - 30, 60) * (day > 30) * drift, 0.0)
    level = np.exp(rng.normal(0, 0.3, 5))[press]
    expected = rng.uniform(0.5, 3.0, len(press))
    mean = level * expected * (1 + per_degree * np.maximum(-error, 0))
    return PressDays(press=press, error_c=error, seen=rng.poisson(mean).astype(float),
                     expected=expected)


def test_the_interval_holds_the_truth() -> None:
    held = 0
    for seed in range(60):
        found = heat_effect(days(np.random.default_rng(seed), 0.35), kinds=KINDS, direction="cold")
        assert found is not None
        held += found.low <= 0.35 <= found.high
    assert held >= 52  # 57 at 95 %


def test_no_effect_is_seldom_told() -> None:
    told = 0
    for seed in range(60):
        found = heat_effect(days(np.random.default_rng(seed), 0.0), kinds=KINDS, direction="cold")
        assert found is not None
        told += found.is_told
    assert told <= 6  # 1.5 at 2.5 %


@pytest.mark.filterwarnings("ignore:The Identity link")
def test_it_agrees_with_a_general_fit_of_the_same_model() -> None:
    """Poisson regression with an identity link on a press of one level (statsmodels)."""
    made = days(np.random.default_rng(3), 0.35)
    one = made.press == 0
    alone = PressDays(press=made.press[one], error_c=made.error_c[one], seen=made.seen[one],
                      expected=made.expected[one])
    found = heat_effect(alone, kinds=KINDS, direction="cold")
    x = np.maximum(-alone.error_c, 0)
    design = np.column_stack([alone.expected, alone.expected * x])
    fit = sm.GLM(alone.seen, design,
                 family=sm.families.Poisson(sm.families.links.Identity())).fit()
    assert found is not None
    assert found.per_degree == pytest.approx(fit.params[1] / fit.params[0], abs=2e-3)


def test_a_press_that_was_always_worse_shows_nothing() -> None:
    """A cold press that never changed is no evidence: its level may have any reason."""
    rng = np.random.default_rng(4)
    press = np.repeat(np.arange(4), 80)
    error = np.where(press == 0, -4.0, 0.0)
    expected = np.full(len(press), 2.0)
    seen = rng.poisson(expected * np.where(press == 0, 3.0, 1.0)).astype(float)
    found = heat_effect(PressDays(press=press, error_c=error, seen=seen, expected=expected),
                        kinds=KINDS, direction="cold")
    assert found is not None
    assert not found.is_told


def test_the_other_direction_is_another_question() -> None:
    assert heat_effect(days(np.random.default_rng(5), 0.35), kinds=KINDS, direction="hot") is None


def test_clumped_defects_widen_the_interval() -> None:
    made = days(np.random.default_rng(6), 0.35)
    plain = heat_effect(made, kinds=KINDS, direction="cold")
    thrice = heat_effect(PressDays(press=made.press, error_c=made.error_c,
                                   seen=3 * made.seen, expected=made.expected),
                         kinds=KINDS, direction="cold")
    assert plain is not None and thrice is not None
    assert thrice.per_degree == pytest.approx(plain.per_degree, abs=1e-3)
    assert thrice.clumped == pytest.approx(3 * plain.clumped, rel=0.3)
    assert thrice.low == pytest.approx(plain.low, abs=0.03)


def test_errors_lie_on_the_line_between_surveys_and_end_at_an_adjustment() -> None:
    made = readings(survey(0, 0.0), survey(10, -4.0), survey(20, -8.0),
                    survey(21, 0.0, state="as_left"), survey(31, 0.0))
    (found,) = surveys_of(made).values()
    at = T0 + np.array([-30, 5, 15, 20, 21, 30, 60]) * DAY_US
    error = errors_at(found, at)
    assert np.isnan(error[[0, -1]]).all()
    assert error[1] == pytest.approx(-2.5)  # smoothed ends: -1 and -4
    assert error[2] == pytest.approx(-5.5)
    assert error[4] == pytest.approx(0.0)
    assert error[5] == pytest.approx(0.0)


def test_kinds_come_from_the_table_of_causes() -> None:
    assert kinds_from_heat("cold") == ("lifted_edge", "incomplete_cure")
    assert "scorch" in kinds_from_heat("hot")
