"""What one survey shows of its tolerances, and how sure that is."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from qc.domain.instants import DAY_US
from qc.presses.conformity import conformity, spread_unjudged
from qc.presses.evenness import spread_risk, spread_uncertainty
from qc.presses.surveys import Limits, surveys_of
from tests.qc.presses.made import EVEN, T0, health_at, instruments, presses, readings, survey

LIMITS = Limits(temperature_tolerance_c=4.0, uniformity_tolerance_c=6.0)
SCATTER = {"probe_standard_c": 0.5, "offset_sigma_c": 0.6, "point_sigma_c": 0.8}


def decided_of(offset: float, size: float = 1.0, *, limits: Limits = LIMITS, guard: float = 1.0):
    (one,) = surveys_of(readings(survey(0, offset, pattern=np.array(EVEN) * size)))["P1", "upper"]
    return conformity(one, limits, guard=guard, **SCATTER)


def test_the_mean_by_hand() -> None:
    mean, _ = decided_of(3.0)
    u = math.sqrt(0.5**2 + 0.6**2)
    assert mean.uncertainty_c == pytest.approx(2 * u)
    assert (mean.accepted_to_c, mean.out_from_c) == (
        pytest.approx(4 - 2 * u), pytest.approx(4 + 2 * u))
    assert mean.risk == pytest.approx(norm.sf(4, 3, u) + norm.cdf(-4, 3, u))
    assert mean.decision == "not_shown"
    assert decided_of(-3.0)[0].risk == pytest.approx(mean.risk)


def test_the_spread_has_no_part_of_the_probe() -> None:
    """What a probe is off is the same at the hottest and at the coldest point."""
    _, spread = decided_of(0.0, size=2.0)
    assert spread.uncertainty_c == pytest.approx(2 * math.sqrt(2) * 0.8)
    assert spread.out_from_c - 6.0 == pytest.approx(6.0 - spread.accepted_to_c)
    assert spread.decision == "not_shown"  # 4.0 of 6.0, and only up to 3.7 is surely inside
    assert decided_of(3.5, size=2.0)[1] == spread


def test_simple_acceptance_takes_a_reading_as_it_is() -> None:
    assert [one.decision for one in decided_of(3.9, 2.9, guard=0.0)] == ["in_tolerance"] * 2
    assert [one.decision for one in decided_of(4.1, 3.1, guard=0.0)] == ["out"] * 2


def test_no_tolerance_no_decision() -> None:
    assert decided_of(9.0, limits=Limits()) == ()
    (only,) = decided_of(9.0, limits=Limits(uniformity_tolerance_c=6.0))
    assert only.what == "spread"


def test_the_risk_of_two_points_is_that_of_their_difference() -> None:
    error, sigma, tolerance = np.array([1.5, -2.5]), 0.7, 3.0
    variance = error.var(ddof=1)
    kept = (variance - sigma**2) / variance
    mean, sd = kept * 4.0, sigma * math.sqrt(2 * kept)
    wanted = norm.sf(tolerance, mean, sd) + norm.cdf(-tolerance, mean, sd)
    assert spread_risk(error, sigma, tolerance) == pytest.approx(wanted, abs=1e-6)


def test_the_risk_of_a_spread_holds_over_many_platens() -> None:
    """Platens of every size of pattern: of those with a stated risk about so many are beyond."""
    rng = np.random.default_rng(41)
    stated, beyond = [], []
    for _ in range(4000):
        true = rng.normal(0, rng.uniform(0.5, 2.5), 9)
        stated.append(spread_risk(true + rng.normal(0, 0.8, 9), 0.8, 4.0))
        beyond.append(np.ptp(true) > 4.0)
    stated, beyond = np.array(stated), np.array(beyond)
    for low, high in ((0.0, 0.1), (0.1, 0.4), (0.4, 0.7), (0.7, 0.95), (0.95, 1.0)):
        inside = (stated >= low) & (stated <= high)
        assert beyond[inside].mean() == pytest.approx(stated[inside].mean(), abs=0.13)


def test_a_flat_survey_carries_no_risk_and_a_steep_one_all() -> None:
    assert spread_risk(np.zeros(9), 0.8, 5.0) == 0.0
    assert spread_risk(np.linspace(-8, 8, 9), 0.8, 5.0) > 0.999
    moved = spread_risk(np.array(EVEN) * 2.5 + 100.0, 0.8, 5.0)
    assert moved == pytest.approx(spread_risk(np.array(EVEN) * 2.5, 0.8, 5.0))
    assert spread_uncertainty(0.5) == pytest.approx(math.hypot(0.5, 0.5))


def test_health_carries_the_decision_and_keeps_its_states() -> None:
    from qc.desk.platen_words import decision_words
    from qc.presses.health import platen_health

    frame = readings(survey(0, 3.9))
    (simple,) = health_at(1, frame)
    assert (simple.state, simple.decision) == ("watch", "in_tolerance")
    assert simple.rule == "simple acceptance, at most 50 % risk"
    (guarded,) = platen_health(frame, presses("P1"), instruments(), default_uncertainty_c=3.8,
                               as_of_us=simple.last_survey_at_us + 1, guard=1.0)
    assert (guarded.state, guarded.decision) == ("watch", "not_shown")
    assert guarded.risk == simple.risk == pytest.approx(norm.sf(0.1 / math.hypot(0.5, 0.6)),
                                                        abs=1e-6)
    assert decision_words(guarded) == (
        "mean cannot be shown (risk 45 %), spread in tolerance (under 1 %)")
    (out,) = health_at(1, readings(survey(0, 9.0)))
    assert (out.state, out.decision) == ("recalibrate", "out")
    assert "(risk over 99 %)" in decision_words(out)


def test_a_probe_too_uncertain_is_to_be_calibrated_first() -> None:
    from qc.desk.platen_words import decision_words

    tight = presses("P1", temperature_tolerance_c=3.0)
    (one,) = health_at(1, readings(survey(0, instrument=None)), tight)
    assert one.probe_first and one.state == "watch"
    assert "can prove ±3.0 °C: calibrate the probe first" in one.reason
    assert decision_words(one).endswith("calibrate the probe first")
    (good,) = health_at(1, readings(survey(0)), tight)
    assert not good.probe_first and "calibrate" not in good.reason


def test_no_survey_no_decision() -> None:
    (one,) = health_at(1, readings(), presses("P1"))
    assert one.decision is one.risk is None and one.conformity == () and not one.probe_first


@pytest.mark.parametrize("n", [1, 2, 4])
def test_few_points_can_show_a_spread_broken_never_kept(n: int) -> None:
    """Five points at least: centre and corners (common practice, no source)."""
    (kept,) = surveys_of(readings(survey(0, pattern=EVEN[:n])))["P1", "upper"]
    judged = conformity(kept, LIMITS, guard=0.0, **SCATTER)
    assert [one.what for one in judged] == ["mean"] and spread_unjudged(kept, LIMITS, judged)
    if n > 1:
        uneven = readings(survey(0, pattern=(-4.0, 4.0, 0.0, 0.0)[:n]))
        (broken,) = surveys_of(uneven)["P1", "upper"]
        assert conformity(broken, LIMITS, guard=0.0, **SCATTER)[1].decision == "out"
    (five,) = surveys_of(readings(survey(0, pattern=EVEN[:5])))["P1", "upper"]
    assert len(conformity(five, LIMITS, guard=0.0, **SCATTER)) == 2


def test_health_of_few_points_is_not_known() -> None:
    (one,) = health_at(1, readings(survey(0, pattern=[0.0])))
    assert (one.state, one.decision, one.spread_unjudged) == ("unknown", "not_shown", True)
    assert "at least 5 (common practice, no source)" in one.reason
    (later,) = health_at(5, readings(survey(0), survey(4, pattern=[0.0])))
    assert later.due_at_us == T0 + 7 * DAY_US  # one point is no check: a week from the full survey
    uneven = survey(0, pattern=[8.0, *[0.0] * 8])
    (still,) = health_at(5, readings(uneven, survey(4, pattern=[0.0])))
    assert (still.state, still.due_at_us) == ("overdue", T0 + 4 * DAY_US)
    assert "the last full survey found it 8.0 °C, beyond 6.0 °C" in still.reason
    (no_spread,) = health_at(1, readings(survey(0, pattern=[0.0])),
                             presses("P1", uniformity_tolerance_c=None))
    assert no_spread.state == "in_tolerance"
