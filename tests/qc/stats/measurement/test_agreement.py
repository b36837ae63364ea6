from __future__ import annotations

import math

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.inter_rater import fleiss_kappa as library_fleiss

from qc.stats.measurement.agreement import (
    AgreementCaution,
    agreement_table,
    cohen_kappa,
    fleiss_kappa,
    judgement_counts,
)
from tests.published import case
from tests.reference.agreement import cohen, fleiss, left_out_error

COHEN = case("kappa_cohen_1960_1968")
FLEISS = case("kappa_fleiss_1971_30x6")
PRINTED = case("kappa_published")
NAMES = ("equal", "linear", "quadratic")


def test_cohen_1960_and_1968() -> None:
    table = COHEN["data"]["table"]
    plain = cohen_kappa(table)
    weighted = cohen_kappa(table, disagreement=COHEN["data"]["disagreement_weights"])
    # the standard errors of 1960, since replaced, are simple functions of these two shares
    po, pe, n = plain.observed, plain.expected, plain.n_pieces
    found = {
        "N": n, "po": po, "pe": pe, "kappa": plain.kappa, "weighted_kappa": weighted.kappa,
        "se_fleiss_cohen_everitt_1969": plain.standard_error,
        "se_cohen1960": math.sqrt(po * (1 - po) / n) / (1 - pe),
        "se0_cohen1960": math.sqrt(pe / (n * (1 - pe))),
    }
    for name, wanted in COHEN["published"].items():
        assert found[name] == pytest.approx(wanted["value"], abs=wanted["tolerance"]), name
    assert set(found) == set(COHEN["recomputed"])
    for name, wanted in COHEN["recomputed"].items():
        assert found[name] == pytest.approx(wanted, rel=1e-9), name


def test_fleiss_1971() -> None:
    found, wanted = fleiss_kappa(FLEISS["data"]["counts"]), FLEISS["recomputed"]
    for name, value in (("kappa", found.overall.kappa), ("z0", found.overall.z)):
        printed = FLEISS["published"][name]
        assert value == pytest.approx(printed["value"], abs=printed["tolerance"])
    np.testing.assert_allclose(found.share, wanted["p_j"], rtol=1e-9)
    np.testing.assert_allclose(found.piece_agreement, wanted["P_i"], rtol=1e-9)
    overall = found.overall
    assert (overall.observed, overall.expected, overall.kappa, overall.z,
            overall.standard_error_null) == pytest.approx(
        (wanted["Pbar"], wanted["Pe"], wanted["kappa"], wanted["z0"],
         wanted["se0_fleiss_nee_landis_1979"]), rel=1e-9)
    np.testing.assert_allclose([one.kappa for one in found.by_category],
                               wanted["kappa_by_category"], rtol=1e-9)
    # under no agreement each category's error is sqrt(2 / (N n (n - 1))): Fleiss, Nee & Landis
    np.testing.assert_allclose([one.standard_error_null for one in found.by_category],
                               math.sqrt(2 / (30 * 6 * 5)), rtol=1e-9)


@pytest.mark.parametrize("name", ["equal", "linear"])
def test_errors_and_test_as_printed(name) -> None:
    found = cohen_kappa(PRINTED["skin"]["table"], disagreement=name)
    for field, wanted in PRINTED["skin"][name].items():
        assert getattr(found, field) == pytest.approx(wanted, abs=0.00005), field


@pytest.mark.parametrize("name", NAMES)
def test_raw_judgements_as_printed(name) -> None:
    data = PRINTED["anxiety"]
    # neither judge used class 5, and the distances of the print leave it out
    table = agreement_table(data["first"], data["second"], categories=[1, 2, 3, 4, 6])
    found = cohen_kappa(table, disagreement=name)
    for field, wanted in data["cases"][name].items():
        assert getattr(found, field) == pytest.approx(wanted, rel=1e-6), field


def test_landis_and_koch_1977() -> None:
    wanted = PRINTED["sclerosis"]
    assert cohen_kappa(wanted["table"]).kappa == pytest.approx(wanted["kappa"], abs=0.0005)


def test_judges_missing_as_printed() -> None:
    wanted = PRINTED["four_judges"]
    found = fleiss_kappa(judgement_counts(wanted["judgements"], range(1, 6))).overall
    assert (found.kappa, found.standard_error) == pytest.approx(
        (wanted["kappa"], wanted["standard_error"]), abs=wanted["tolerance"])
    assert (found.low, found.high) == pytest.approx(
        (wanted["low"], wanted["high"]), abs=wanted["tolerance_of_ends"])
    assert np.isnan(found.standard_error_null)
    assert np.isnan(found.p_value)
    assert AgreementCaution.UNEQUAL_JUDGES in found.cautions


@pytest.mark.parametrize("row", PRINTED["small_tables"]["cases"])
def test_small_tables_as_printed(row) -> None:
    found = fleiss_kappa(row["counts"]).overall
    assert found.kappa == pytest.approx(row["kappa"], abs=row["tolerance"] or 1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_cohen_agrees_with_a_library_and_the_plain_sums(seed) -> None:
    rng = np.random.default_rng(seed)
    k = int(rng.integers(2, 7))
    table = rng.integers(0, 30, (k, k)) + 10 * np.eye(k, dtype=int)
    own = np.abs(np.subtract.outer(rng.uniform(0, 3, k), np.zeros(k))) * (1 - np.eye(k))
    apart = np.abs(np.subtract.outer(np.arange(k), np.arange(k)))
    for wanted, weights in (("equal", np.sign(apart)), ("linear", apart), ("quadratic", apart**2),
                            (own, own)):
        found = cohen_kappa(table, disagreement=wanted)
        slow = cohen(table.tolist(), weights.tolist())
        assert (found.kappa, found.standard_error, found.standard_error_null) == pytest.approx(
            slow, rel=1e-9)
        other = cohens_kappa(table, weights=weights) if wanted is not own else None
        if other is not None and not isinstance(wanted, np.ndarray) and wanted != "equal":
            assert (found.kappa, found.standard_error, found.standard_error_null, found.p_value
                    ) == pytest.approx((other.kappa, other.std_kappa, other.std_kappa0,
                                        other.pvalue_two_sided), rel=1e-9)
    simple = cohens_kappa(table)
    plain = cohen_kappa(table)
    assert (plain.kappa, plain.standard_error, plain.low, plain.high) == pytest.approx(
        (simple.kappa, simple.std_kappa, simple.kappa_low, simple.kappa_upp), rel=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_fleiss_agrees_with_a_library_and_the_plain_sums(seed) -> None:
    rng = np.random.default_rng(seed)
    counts = np.array([rng.multinomial(5, rng.dirichlet([1, 1, 1])) for _ in range(80)])
    found = fleiss_kappa(counts)
    assert found.overall.kappa == pytest.approx(library_fleiss(counts), rel=1e-9)
    assert found.overall.kappa == pytest.approx(fleiss(counts.tolist()), rel=1e-9)
    # leaving out one piece at a time estimates the same error, to the order 1 / n
    assert found.overall.standard_error == pytest.approx(left_out_error(counts.tolist()), rel=0.02)
    two = [[row[0], 5 - row[0]] for row in counts.tolist()]
    assert found.by_category[0].kappa == pytest.approx(fleiss(two), rel=1e-9)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(60)
    pair = np.array([[0.30, 0.06, 0.02], [0.05, 0.22, 0.05], [0.03, 0.07, 0.20]])
    truth = cohen((pair * 1e6).tolist(), (1 - np.eye(3)).tolist())[0]
    held = 0
    for _ in range(1000):
        found = cohen_kappa(rng.multinomial(150, pair.ravel()).reshape(3, 3))
        held += found.low <= truth <= found.high
    assert held / 1000 == pytest.approx(0.95, abs=0.02)
    # many judges: each piece has its own true shares; kappa of endless pieces from a large sample
    def sample(n: int) -> np.ndarray:
        return rng.multinomial(4, rng.dirichlet([0.6, 0.3, 0.4], n))

    truth, held = fleiss_kappa(sample(200_000)).overall.kappa, 0
    for _ in range(1000):
        one = fleiss_kappa(sample(60)).overall
        held += one.low <= truth <= one.high
    assert held / 1000 == pytest.approx(0.95, abs=0.025)


def test_error_under_no_agreement_is_the_spread_of_kappa_by_chance() -> None:
    rng = np.random.default_rng(61)
    rows, columns = np.array([0.6, 0.3, 0.1]), np.array([0.5, 0.2, 0.3])
    pairs = [cohen_kappa(rng.multinomial(200, np.outer(rows, columns).ravel()).reshape(3, 3),
                         disagreement="linear") for _ in range(1500)]
    assert np.std([one.kappa for one in pairs]) == pytest.approx(
        np.mean([one.standard_error_null for one in pairs]), rel=0.05)
    many = [fleiss_kappa(rng.multinomial(3, [0.7, 0.2, 0.1], 100)).overall for _ in range(1500)]
    assert np.std([one.kappa for one in many]) == pytest.approx(
        np.mean([one.standard_error_null for one in many]), rel=0.06)


def test_complete_and_unknown_agreement() -> None:
    complete = cohen_kappa([[20, 0], [0, 25]])
    assert (complete.kappa, complete.low, complete.high, complete.standard_error) == (1, 1, 1, 0)
    assert complete.cautions == (AgreementCaution.COMPLETE,)
    one = cohen_kappa([[40, 0], [0, 0]])
    assert np.isnan([one.kappa, one.low, one.high, one.z, one.p_value]).all()
    assert one.cautions == (AgreementCaution.ONE_CATEGORY,)
    many = fleiss_kappa([[4, 0], [4, 0]])
    assert np.isnan(many.overall.kappa)
    assert AgreementCaution.ONE_CATEGORY in many.overall.cautions
    assert fleiss_kappa([[3, 0], [0, 3]]).overall.kappa == 1


def test_a_rare_fault_makes_kappa_low_and_says_so() -> None:
    found = cohen_kappa([[190, 4], [4, 2]])
    assert found.observed == 0.96
    assert found.kappa < 0.35
    assert found.cautions == (AgreementCaution.MOSTLY_ONE,)
    assert AgreementCaution.FEW_PIECES in cohen_kappa([[9, 1], [2, 8]]).cautions


def test_no_interval_leaves_what_kappa_can_be() -> None:
    found = cohen_kappa([[9, 1], [0, 9]])
    assert found.high == 1.0
    assert cohen_kappa([[0, 5], [5, 0]]).low == -1.0


def test_order_of_judges_and_categories_does_not_matter() -> None:
    table = np.array(COHEN["data"]["table"])
    plain = cohen_kappa(table, disagreement="quadratic")
    for other in (table.T, table[::-1, ::-1]):
        same = cohen_kappa(other, disagreement="quadratic")
        assert (same.kappa, same.standard_error) == pytest.approx(
            (plain.kappa, plain.standard_error), rel=1e-12)
    mixed = table[[2, 0, 1]][:, [2, 0, 1]]
    assert cohen_kappa(mixed).kappa == pytest.approx(cohen_kappa(table).kappa, rel=1e-12)
    counts = np.array(FLEISS["data"]["counts"])
    assert fleiss_kappa(counts[::-1]).overall.standard_error == pytest.approx(
        fleiss_kappa(counts).overall.standard_error, rel=1e-12)


def test_judges_names_are_counted() -> None:
    table = agreement_table(["pass", "hold", "pass"], ["pass", "pass", "hold"], ["pass", "hold"])
    assert table.tolist() == [[1, 1], [1, 0]]
    counts = judgement_counts([["pass", "hold", None], ["pass", "pass"]], ["pass", "hold"])
    assert counts.tolist() == [[1, 1], [2, 0]]


@pytest.mark.parametrize(("call", "message"), [
    (lambda: cohen_kappa([[1, 2, 3], [4, 5, 6]]), r"table has shape \(2, 3\); it must be square"),
    (lambda: cohen_kappa([[3]]), r"table has shape \(1, 1\); it must be square, 2 x 2 or larger"),
    (lambda: cohen_kappa([[0, 0], [0, 0]]), "table holds 0 pieces; it needs at least 1"),
    (lambda: cohen_kappa([[1, -2], [0, 3]]), "table is -2 at position 2; allowed: whole numbers"),
    (lambda: cohen_kappa([[1, 0.5], [0, 3]]), r"table is 0\.5 at position 2"),
    (lambda: cohen_kappa([[1, np.nan], [0, 3]]), "table is nan at position 2"),
    (lambda: cohen_kappa([[1, 2], [2, 1]], disagreement="cubic"), "disagreement is 'cubic'; allo"),
    (lambda: cohen_kappa([[1, 2], [2, 1]], disagreement=[[1]]), r"disagreement has shape \(1, 1\)"),
    (lambda: cohen_kappa([[1, 2], [2, 1]], disagreement=[[0, -1], [1, 0]]), "disagreement is -1"),
    (lambda: cohen_kappa([[1, 2], [2, 1]], disagreement=[[1, 0], [0, 1]]), "must be 0 on the diag"),
    (lambda: cohen_kappa([[1, 2], [2, 1]], disagreement=np.zeros((2, 2))), "must be 0 on the diag"),
    (lambda: cohen_kappa([[1, 2], [2, 1]], confidence=1), "confidence is 1; it must be inside"),
    (lambda: fleiss_kappa([[1, 2]]), r"counts has shape \(1, 2\); it needs 2 pieces"),
    (lambda: fleiss_kappa([[3], [3]]), r"counts has shape \(2, 1\); it needs 2 pieces"),
    (lambda: fleiss_kappa([[1, 2], [0, 0]]), "judgements of a piece is 0 at position 2; allowed"),
    (lambda: fleiss_kappa([[1, 0], [0, 1]]), "no piece was judged twice"),
    (lambda: fleiss_kappa([[1, np.inf], [0, 1]]), "counts is inf at position 2"),
    (lambda: fleiss_kappa([[1, 2], [2, 1]], confidence=0), "confidence is 0; it must be inside"),
    (lambda: agreement_table(["a"], ["a", "a"], ["a"]), "first has 1 values and second 2"),
    (lambda: agreement_table(["a"], ["b"], ["a", "c"]), "judgement is 'b' at position 1; allowed"),
    (lambda: agreement_table(["a"], ["a"], ["a", "a"]), "categories has a name twice"),
    (lambda: judgement_counts([["a", "x"]], ["a", "b"]), "judgement is 'x' of piece 1; allowed"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
