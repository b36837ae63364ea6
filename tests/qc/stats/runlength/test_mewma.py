from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.runlength.ewma import ewma_run_length, ewma_width
from qc.stats.runlength.mewma import mewma_decision, mewma_run_length
from qc.stats.runlength.mewma_radial import radial_density
from tests.published import table
from tests.reference import mewma as slow

PRINTED = table("mewma_prabhu_runger_1997")
SHIFTS = ("0.5", "1", "1.5", "2", "3")


def design(row) -> dict:
    return {"n_variables": int(row["n_variables"]), "weight": float(row["weight"]),
            "decision": float(row["decision"])}


@pytest.mark.parametrize("row", PRINTED, ids=lambda r: f"p{r['n_variables']}-{r['weight']}")
def test_limits_as_printed(row) -> None:
    # printed from a Markov chain of few states, which lies up to 0.15 per cent above; nearly all
    # of the difference is at small weights, where its rings are widest
    given = design(row)
    limit = mewma_decision(200.0, n_variables=given["n_variables"], weight=given["weight"])
    assert limit == pytest.approx(given["decision"], rel=1.5e-3)
    assert mewma_run_length(0, **given).arl == pytest.approx(200, rel=0.01)


@pytest.mark.parametrize("row", PRINTED[:8], ids=lambda r: r["weight"])
def test_run_lengths_as_printed(row) -> None:
    # the cells of the printed chain move these by up to 1.4 per cent, most at large weights: the
    # next test finds the same size with a chain of the same kind
    for shift in SHIFTS:
        found = mewma_run_length(float(shift), **design(row)).arl
        assert found == pytest.approx(float(row[f"arl_{shift}"]), rel=0.015)


def test_a_coarse_chain_errs_as_the_printed_table_does() -> None:
    coarse = slow.shifted_chain(2, 0.8, 10.58, 0.5, 25)
    found = mewma_run_length(0.5, n_variables=2, weight=0.8, decision=10.58).arl
    printed = float(PRINTED[7]["arl_0.5"])
    assert 0.01 < printed / found - 1 < 0.02
    assert 0.01 < coarse / found - 1 < 0.02


@pytest.mark.parametrize(("n_variables", "weight", "decision"), [
    (2, 0.1, 8.64), (4, 0.3, 14.34), (10, 0.2, 24.0), (15, 0.6, 32.7)])
def test_rings_close_in_on_the_integral_equation(n_variables, weight, decision) -> None:
    found = mewma_run_length(0, n_variables=n_variables, weight=weight, decision=decision).arl
    far, near = (abs(slow.in_control_chain(n_variables, weight, decision, n) - found)
                 for n in (60, 240))
    assert near < 0.12 * far  # the error of rings falls with the square of their width
    assert near < 2e-3 * found


@pytest.mark.parametrize("limits", ["steady", "exact"])
@pytest.mark.parametrize("state", ["zero", "steady"])
@pytest.mark.parametrize(("n_variables", "weight", "decision"), [
    (2, 0.2, 9.65), (3, 0.1, 10.8), (6, 0.5, 18.4)])
def test_a_vanishing_shift_leads_to_the_chain_in_control(
    n_variables, weight, decision, limits, state
) -> None:
    # two coordinates against one: they share the law of a step and nothing else
    given = {"n_variables": n_variables, "weight": weight, "decision": decision,
             "limits": limits, "state": state}
    one, two = mewma_run_length(0, **given), mewma_run_length(1e-9, **given)
    assert two.arl == pytest.approx(one.arl, rel=1e-6)
    assert two.sdrl == pytest.approx(one.sdrl, rel=1e-6)
    assert two.percentiles == one.percentiles


@pytest.mark.parametrize(("limits", "shift"), [
    ("steady", 0.0), ("steady", 1.0), ("exact", 0.0), ("exact", 1.0), ("exact", 2.5)])
def test_simulated_runs_agree(limits: str, shift: float) -> None:
    n = 6000
    runs = slow.simulated_runs(np.random.default_rng(1), n, 3, 0.15, 9.0, shift,
                               exact=limits == "exact")
    found = mewma_run_length(shift, n_variables=3, weight=0.15, decision=9.0, limits=limits)
    assert abs(runs.mean() - found.arl) < 4 * found.sdrl / np.sqrt(n)
    assert runs.std() == pytest.approx(found.sdrl, rel=0.06)
    for each in found.percentiles:
        assert (runs < each.points).mean() - 0.02 < each.share < (runs <= each.points).mean() + 0.02


@pytest.mark.parametrize("shift", [1.0, 2.5])
def test_after_long_use_simulated_runs_agree(shift: float) -> None:
    runs = slow.simulated_runs_in_use(np.random.default_rng(2), 30_000, 2, 0.2, 7.0, shift)
    found = mewma_run_length(shift, n_variables=2, weight=0.2, decision=7.0, state="steady")
    assert abs(runs.mean() - found.arl) < 4 * found.sdrl / np.sqrt(len(runs))
    assert found.arl < mewma_run_length(shift, n_variables=2, weight=0.2, decision=7.0).arl


@pytest.mark.parametrize("n", [1, 2, 3, 4, 7, 60])
@pytest.mark.parametrize("weight", [0.1, 0.7])
def test_a_step_follows_the_noncentral_law(n: int, weight: float) -> None:
    at = np.array([1e-9, 1e-5, 1e-3, 0.05, 0.7, 3.0])
    to = np.array([1e-4, 0.02, 0.3, 0.9, 4.0])
    found = radial_density(at, to, n, weight)
    centre = ((1 - weight) * at / weight) ** 2
    wanted = [2 * to / weight**2 * stats.ncx2.pdf((to / weight) ** 2, n, c) for c in centre]
    np.testing.assert_allclose(found, wanted, rtol=1e-9, atol=1e-100)


@pytest.mark.parametrize("n_variables", [1, 2, 3, 5, 50])
@pytest.mark.parametrize("shift", [0.0, 1.5])
def test_weight_one_is_a_chart_without_memory(n_variables: int, shift: float) -> None:
    chance = stats.ncx2.sf(12.0, n_variables, shift**2) if shift else stats.chi2.sf(
        12.0, n_variables)
    found = mewma_run_length(shift, n_variables=n_variables, weight=1, decision=12.0)
    assert found.arl == pytest.approx(1 / chance, rel=1e-6)
    assert found.sdrl == pytest.approx(np.sqrt(1 - chance) / chance, rel=1e-5)


@pytest.mark.parametrize("limits", ["steady", "exact"])
def test_one_variable_is_an_ewma(limits: str) -> None:
    for shift in (0.0, 1.0):
        one = mewma_run_length(shift, n_variables=1, weight=0.2, decision=9.0, limits=limits)
        assert one == ewma_run_length(shift, weight=0.2, width=3.0, limits=limits)
    width = ewma_width(370, weight=0.2, limits=limits)
    limit = mewma_decision(370.0, n_variables=1, weight=0.2, limits=limits)
    assert limit == pytest.approx(width**2, rel=1e-8)


@pytest.mark.parametrize("limits", ["steady", "exact"])
@pytest.mark.parametrize("arl", [3.0, 200.0, 1e5])
@pytest.mark.parametrize(("n_variables", "weight"), [(2, 0.05), (4, 0.3), (30, 0.2)])
def test_the_limit_gives_the_wanted_run_length(arl, limits, n_variables, weight) -> None:
    given = {"n_variables": n_variables, "weight": weight, "limits": limits}
    limit = mewma_decision(arl, **given)
    assert mewma_run_length(0, decision=limit, **given).arl == pytest.approx(arl, rel=1e-8)


def test_without_a_limit_it_is_that_of_the_published_designs() -> None:
    found = mewma_run_length(0, n_variables=4, weight=0.2)
    assert found.arl == pytest.approx(200, rel=1e-8)


def test_larger_shifts_are_found_sooner_and_exact_limits_help() -> None:
    given = {"n_variables": 4, "weight": 0.1, "decision": 12.73}
    steady = [mewma_run_length(s, **given).arl for s in (0, 0.25, 0.5, 1, 2, 4)]
    exact = [mewma_run_length(s, limits="exact", **given).arl for s in (0, 0.25, 0.5, 1, 2, 4)]
    assert (np.diff(steady) < 0).all()
    assert (np.diff(exact) < 0).all()
    assert (np.array(exact) < steady).all()


@pytest.mark.parametrize(("arguments", "message"), [
    ({"shift": -1}, "shift is -1; it must be a distance, 0 or above"),
    ({"shift": np.nan}, "shift is nan; it must be a distance"),
    ({"n_variables": 0}, r"variables is 0; it must be a whole number, 1\.\.100"),
    ({"n_variables": 2.5}, r"variables is 2\.5"),
    ({"n_variables": 101}, "variables is 101"),
    ({"weight": 0}, r"weight is 0; it must be inside \(0, 1\]"),
    ({"weight": 1e-9}, "weight is 1e-09 with decision 9; too small a weight"),
    ({"decision": -2}, "decision is -2; it must be a finite number above 0"),
    ({"limits": "loose"}, "limits is 'loose'; allowed: exact, steady"),
    ({"state": "ready"}, "state is 'ready'; allowed: zero, steady"),
])
def test_wrong_input_is_named(arguments, message) -> None:
    given = {"shift": 1.0, "n_variables": 2, "weight": 0.1, "decision": 9.0} | arguments
    with pytest.raises(ValueError, match=message):
        mewma_run_length(given.pop("shift"), **given)


@pytest.mark.parametrize("arl", [1.0, 0.5, np.inf])
def test_a_run_length_that_cannot_be_wanted(arl: float) -> None:
    with pytest.raises(ValueError, match="arl is .*; it must be a number above 1"):
        mewma_decision(arl, n_variables=2)
