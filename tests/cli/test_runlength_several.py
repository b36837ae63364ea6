"""`qc runlength` of charts of several variables, as a shell sees it."""

from __future__ import annotations

import pytest
from scipy import stats

from tests.cli.running import Shell
from tests.published import table


def test_run_lengths_of_a_multivariate_ewma(shell: Shell) -> None:
    row = table("mewma_prabhu_runger_1997")[1]
    shifts = ("0.5", "1", "1.5", "2", "3")
    said = shell.run("runlength", "--kind", "mewma", "--variables", 2, "--lambda", row["weight"],
                     "--decision", row["decision"], "--shift", ",".join(shifts), "--json")
    assert said.code == 0
    for shift, one in zip(shifts, said.json["rows"], strict=True):
        assert one["arl"] == pytest.approx(float(row[f"arl_{shift}"]), rel=0.01)


@pytest.mark.parametrize(("kind", "limit", "low", "high"), [
    ("mewma", "decision", 8.62, 8.65), ("t2", "alpha", 0.005, 0.005)])
def test_the_limit_for_a_wanted_run_length(shell: Shell, kind, limit, low, high) -> None:
    said = shell.run("runlength", "--kind", kind, "--variables", 2, "--for-arl", 200, "--shift",
                     "0", "--json")
    assert low <= said.json[limit] <= high
    assert said.json["rows"][0]["arl"] == pytest.approx(200, rel=1e-6)


def test_run_length_of_t2(shell: Shell) -> None:
    said = shell.run("runlength", "--kind", "t2", "--variables", 3, "--shift", "0,2", "--json")
    calm, shifted = said.json["rows"]
    share = stats.ncx2.sf(stats.chi2.isf(0.0027, 3), 3, 4)
    assert calm["arl"] == pytest.approx(1 / 0.0027)
    assert shifted["arl"] == pytest.approx(1 / share)


def test_a_limit_not_given_is_said(shell: Shell) -> None:
    said = shell.run("runlength", "--kind", "mewma", "--variables", 2, "--shift", "0,1")
    assert "decision limit 8.6335" in said.out
    assert "With no change a false signal comes after 200 points" in said.out


@pytest.mark.parametrize(("arguments", "message"), [
    (("--kind", "t2"), "a chart of kind 't2' needs --variables"),
    (("--kind", "mewma", "--variables", 0), "--variables is 0; it must be a whole number, 1..100"),
    (("--kind", "mewma", "--variables", 2, "--shift=-1"), "--shift is -1; it must be a distance"),
    (("--kind", "mewma", "--variables", 2, "--width", 3), "takes no --width"),
    (("--kind", "ewma", "--variables", 2), "a chart of kind 'ewma' takes no --variables"),
    (("--kind", "t2", "--variables", 2, "--alpha", 2), "--alpha is 2; it must be inside (0, 1)"),
])
def test_wrong_use_is_answered_in_one_line(shell: Shell, arguments, message) -> None:
    said = shell.run("runlength", *arguments)
    assert said.code == 2
    assert message in said.err
    assert said.err.count("\n") == 1
    assert not said.out
