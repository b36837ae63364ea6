from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.measurement.gauge import GaugeCaution, gauge_cube, gauge_study
from qc.stats.measurement.variance_components import ratio_interval
from tests.published import case
from tests.reference.anova import crossed_components

PUBLISHED = case("grr_houf_berman_10x3x3")
INTERVALS = case("gauge_intervals")
POOLED = case("gauge_msa_10x3x3")
CUBE = np.array(PUBLISHED["data"]["part_operator_repeat"], dtype=float)


def sample(rng: np.random.Generator, shape: tuple[int, int, int], sigmas) -> np.ndarray:
    """A study of invented parts and people with known standard deviations."""
    a, b, r = shape
    part, person, both, repeat = sigmas
    return (rng.normal(0, part, (a, 1, 1)) + rng.normal(0, person, (1, b, 1))
            + rng.normal(0, both, (a, b, 1)) + rng.normal(0, repeat, (a, b, r)))


def test_a_published_study_whose_interaction_is_pooled() -> None:
    found = gauge_study(np.array(POOLED["people_repeats_parts"]).transpose(2, 0, 1))
    assert found.interaction is None
    assert {name: getattr(found, name).deviation for name in POOLED["deviations"]} == pytest.approx(
        POOLED["deviations"], abs=POOLED["tolerance"])
    assert {line.name: line.sum_of_squares for line in found.table.lines} == pytest.approx(
        POOLED["sums_of_squares"], abs=POOLED["tolerance_of_squares"])
    assert found.n_classes == POOLED["n_classes"]


def test_houf_and_berman() -> None:
    found = gauge_study(CUBE, interaction="keep")
    pooled = gauge_study(CUBE, interaction="pool")
    values = {
        "var_components_raw": [one.raw for one in (
            found.parts, found.people, found.interaction, found.repeatability)],
        "gauge_RR_variance": found.gauge.variance,
        "reproducibility_variance": found.reproducibility.variance,
        "total_variance": found.total.variance,
        "percent_contribution": [100 * one.share for one in (
            found.parts, found.reproducibility, found.repeatability, found.gauge)],
        "percent_study_variation_grr": 100 * found.gauge.spread_share,
        "number_distinct_categories": found.n_classes,
        "reduced_var_components": [one.variance for one in (
            pooled.parts, pooled.people, pooled.repeatability)],
    }
    for name, value in values.items():
        wanted = PUBLISHED["published"].get(name)
        if wanted:
            assert value == pytest.approx(wanted["value"], abs=wanted["tolerance"]), name
        assert value == pytest.approx(PUBLISHED["recomputed"][name], rel=1e-9), name
    reduced = PUBLISHED["recomputed"]["reduced_model_no_interaction"]
    assert (pooled.parts.variance, pooled.people.variance, pooled.repeatability.variance
            ) == pytest.approx((reduced["part"], reduced["operator"], reduced["repeatability"]),
                               rel=1e-9)
    # every number of the file is checked here or in test_anova.py
    tables = {"SS", "df", "MS", "F", "p_values", "reduced_model_no_interaction"}
    assert set(values) | tables == set(PUBLISHED["recomputed"])


def test_intervals_as_printed() -> None:
    found = gauge_study(CUBE, confidence=INTERVALS["confidence"])
    for name in ("parts", "gauge"):
        for end, wanted in INTERVALS[name].items():
            assert getattr(getattr(found, name), end) == pytest.approx(
                wanted, abs=INTERVALS["tolerance"])


def test_agrees_with_the_plain_sums() -> None:
    rng = np.random.default_rng(90)
    for shape in ((5, 3, 2), (8, 2, 4), (3, 6, 3)):
        cube = sample(rng, shape, (3, 1, 0.7, 0.5)) + 50
        found = gauge_study(cube, interaction="keep")
        for name, wanted in crossed_components(cube.tolist()).items():
            assert getattr(found, name).variance == pytest.approx(wanted, rel=1e-9, abs=1e-12)


def test_repeatability_has_the_chi_square_interval() -> None:
    found = gauge_study(CUBE).repeatability
    assert (found.low, found.high) == pytest.approx(
        (60 * found.variance / stats.chi2.isf(0.025, 60),
         60 * found.variance / stats.chi2.ppf(0.025, 60)), rel=1e-9)
    assert found.method == "chi-square"
    assert found.deviation == math.sqrt(found.variance)


def test_the_interaction_is_pooled_by_its_p_value() -> None:
    kept = gauge_study(CUBE)
    assert kept.p_interaction == pytest.approx(PUBLISHED["recomputed"]["p_values"][2], rel=1e-9)
    assert kept.interaction is not None
    assert gauge_study(CUBE, pool_above=1e-7).interaction is None  # its p is 5.06e-7
    assert gauge_study(CUBE, pool_above=6e-7).interaction is not None
    rng = np.random.default_rng(91)
    without = sum(gauge_study(sample(rng, (10, 3, 3), (3, 1, 0, 1))).interaction is None
                  for _ in range(400))
    # p-values of no interaction are even over 0..1, so three studies in four pool
    assert without / 400 == pytest.approx(0.75, abs=0.065)


def test_share_of_tolerance_and_classes() -> None:
    found = gauge_study(CUBE, tolerance=60)
    assert found.of_tolerance.value == pytest.approx(6 * found.gauge.deviation / 60, rel=1e-12)
    assert found.of_tolerance.low == pytest.approx(6 * math.sqrt(found.gauge.low) / 60, rel=1e-12)
    assert found.class_ratio.value == pytest.approx(7.317667, rel=1e-6)  # sqrt(2 parts / gauge)
    squares = np.array([line.mean_square for line in found.table.lines])
    ratio = ratio_interval(squares, np.array([9.0, 2, 18, 60]), np.array([1, 0, -1, 0]) / 9,
                           np.array([0, 1, 9, 20]) / 30)
    assert (found.class_ratio.low, found.class_ratio.high) == pytest.approx(
        (math.sqrt(2 * ratio.low), math.sqrt(2 * ratio.high)), rel=1e-9)
    assert (found.n_parts, found.n_people, found.n_repeats) == CUBE.shape
    assert gauge_study(CUBE).of_tolerance is None
    rng = np.random.default_rng(92)
    poor = gauge_study(sample(rng, (10, 3, 3), (0.01, 1, 0.5, 2)))
    assert poor.n_classes == 1
    assert GaugeCaution.FEW_CLASSES in poor.cautions


def test_the_whole_study_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(93)
    truth = {"parts": 9.0, "gauge": 1.0 + 0.25 + 0.49, "repeatability": 0.49, "total": 10.74}
    studies = [gauge_study(sample(rng, (10, 6, 3), (3, 1, 0.5, 0.7)), interaction="keep")
               for _ in range(400)]
    for name, wanted in truth.items():
        held = [getattr(one, name).low <= wanted <= getattr(one, name).high for one in studies]
        assert np.mean(held) == pytest.approx(0.95, abs=0.035), name
    ratio = math.sqrt(2 * 9 / 1.74)
    held = [one.class_ratio.low <= ratio <= one.class_ratio.high for one in studies]
    assert np.mean(held) == pytest.approx(0.95, abs=0.035)


def test_a_component_below_0_counts_as_0_and_is_said() -> None:
    rng = np.random.default_rng(94)
    alike = next(one for one in (gauge_study(sample(rng, (8, 3, 2), (3, 0, 0, 1)))
                                 for _ in range(50)) if one.people.raw < 0)
    assert alike.people.variance == 0
    assert alike.people.low == 0
    assert alike.people.high >= 0
    assert GaugeCaution.NEGATIVE_COMPONENT in alike.cautions
    assert alike.gauge.variance == alike.reproducibility.variance + alike.repeatability.variance
    for one in (alike.parts, alike.reproducibility, alike.gauge, alike.total):
        assert one.low <= one.variance <= one.high


def test_one_repeat_has_no_interaction_of_its_own() -> None:
    found = gauge_study(CUBE[:, :, :1])
    assert found.interaction is None
    assert np.isnan(found.p_interaction)
    assert GaugeCaution.ONE_REPEAT in found.cautions
    with_keep = gauge_study(CUBE[:, :, :1], interaction="keep")
    assert with_keep.interaction is None


def test_a_gauge_with_coarse_steps_is_said_to_show_nothing() -> None:
    flat = gauge_study(np.full((3, 2, 2), 0.1))
    assert flat.n_classes is None
    assert np.isnan(flat.class_ratio.value)
    assert np.isnan(flat.gauge.share)
    assert flat.cautions == (GaugeCaution.FEW_PEOPLE, GaugeCaution.NO_VARIATION)
    steps = gauge_study(np.repeat(np.arange(5.0), 6).reshape(5, 3, 2))  # parts alone differ
    assert steps.gauge.variance == 0
    assert steps.n_classes is None
    assert GaugeCaution.NO_VARIATION in steps.cautions


def test_unit_zero_and_order_do_not_matter() -> None:
    there = gauge_study(CUBE, tolerance=60)
    mixed = CUBE[::-1][:, [2, 0, 1]][:, :, ::-1]
    for other in (gauge_study(mixed, tolerance=60),
                  gauge_study(1.8 * CUBE + 32, tolerance=1.8 * 60)):
        assert other.class_ratio.value == pytest.approx(there.class_ratio.value, rel=1e-9)
        assert other.gauge.share == pytest.approx(there.gauge.share, rel=1e-9)
        assert other.of_tolerance.high == pytest.approx(there.of_tolerance.high, rel=1e-9)


def test_a_list_becomes_a_cube() -> None:
    part = ["b", "b", "a", "a", "b", "b", "a", "a"]
    person = ["x", "y", "x", "y", "y", "x", "y", "x"]
    cube = gauge_cube([1, 2, 3, 4, 5, 6, 7, 8], part, person)
    assert cube.tolist() == [[[1, 6], [2, 5]], [[3, 8], [4, 7]]]


@pytest.mark.parametrize(("call", "message"), [
    (lambda: gauge_study(CUBE[:1]), r"values has shape \(1, 3, 3\); it needs 2 levels or more"),
    (lambda: gauge_study(CUBE[:, :1]), r"values has shape \(10, 1, 3\); it needs 2 levels or more"),
    (lambda: gauge_study([1, 2, 3]), "values has 1 dimensions; it must have 3"),
    (lambda: gauge_study(np.where(CUBE == 37, np.nan, CUBE)), r"values is nan at \(1, 1, 1\)"),
    (lambda: gauge_study(CUBE, tolerance=0), "tolerance is 0; it must be a finite number above 0"),
    (lambda: gauge_study(CUBE, interaction="maybe"), "interaction is 'maybe'; allowed: auto, keep"),
    (lambda: gauge_study(CUBE, pool_above=1), "pool_above is 1; it must be inside"),
    (lambda: gauge_study(CUBE, confidence=0), "confidence is 0; it must be inside"),
    (lambda: gauge_cube([1, 2, 3], ["a", "a", "b"], ["x", "y", "x"]),
     "part b was measured 0 times by y; every person must measure every part as often, here 1"),
    (lambda: gauge_cube([1, 2], ["a"], ["x", "y"]), "values has 2 values and part 1"),
    (lambda: gauge_cube([1, np.inf], ["a", "b"], ["x", "x"]), "values is inf at position 2"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
