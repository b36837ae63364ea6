from __future__ import annotations

from typing import Any

import pytest

from qc.stats.runlength.shewhart import shewhart_run_length
from tests.cli.running import Outcome, Shell
from tests.published import case, table

ROW = ("shift", "arl", "sdrl", "percentiles")
PERCENTILES = ("5", "25", "50", "75", "95")


def _answer(outcome: Outcome) -> dict[str, Any]:
    assert outcome.code == 0, outcome.err
    answer = outcome.json
    assert all(tuple(row) == ROW and tuple(row["percentiles"]) == PERCENTILES
               for row in answer["rows"])
    return answer


def _run(shell: Shell, *arguments: object) -> dict[str, Any]:
    return _answer(shell.run("runlength", *arguments, "--json"))


def _arl(answer: dict[str, Any]) -> list[float]:
    return [row["arl"] for row in answer["rows"]]


def test_an_ewma_as_published(shell: Shell) -> None:
    rows = [row for row in table("arl_tables") if row["design"] == "lambda=0.1 L=2.814"]
    answer = _run(shell, "--kind", "ewma", "--lambda", 0.1, "--width", 2.814,
                  "--shift", ",".join(row["shift_sigma"] for row in rows))
    assert answer["kind"] == "ewma"
    assert answer["state"] == "zero"
    assert [row["shift"] for row in answer["rows"]] == [float(row["shift_sigma"]) for row in rows]
    assert _arl(answer) == pytest.approx([float(row["recomputed_exact_ARL"]) for row in rows],
                                         abs=6e-5)


@pytest.mark.parametrize(("design", "options"), [
    ("k=0.5 h=5", []), ("k=0.5 h=5 S0=2.5", ["--head-start", 2.5])])
def test_a_cusum_as_published(shell: Shell, design: str, options: list[object]) -> None:
    rows = [row for row in table("arl_tables") if row["design"] == design
            and row["chart"].startswith("two-sided")]
    answer = _run(shell, "--kind", "cusum", "--reference", 0.5, "--decision", 5, *options,
                  "--shift", ",".join(row["shift_sigma"] for row in rows))
    assert _arl(answer) == pytest.approx([float(row["recomputed_exact_ARL"]) for row in rows],
                                         abs=6e-5)


def test_one_side_of_a_cusum(shell: Shell) -> None:
    answer = _run(shell, "--kind", "cusum", "--sides", "one", "--shift", 0)
    assert _arl(answer) == pytest.approx([930.8870], abs=6e-5)


@pytest.mark.parametrize("kind", ["individuals", "xbar-r", "xbar-s"])
def test_rules_as_published(shell: Shell, kind: str) -> None:
    # Champ & Woodall (1987), all four tests of Western Electric
    answer = _run(shell, "--kind", kind, "--rules", "western-electric", "--shift", "0,1,-1")
    assert _arl(answer)[0] == pytest.approx(91.75, abs=0.005)
    assert _arl(answer)[1] == pytest.approx(9.22, abs=0.005)
    assert _arl(answer)[2] == pytest.approx(_arl(answer)[1], rel=1e-12)


def test_rules_of_ones_own(shell: Shell) -> None:
    answer = _run(shell, "--kind", "individuals", "--rules", "one_side=7,trend", "--shift", "0.5",
                  "--state", "steady")
    wanted = shewhart_run_length(0.5, rules="one_side=7,trend", state="steady")
    assert answer["state"] == "steady"
    assert _arl(answer) == [wanted.arl]
    assert answer["rows"][0]["percentiles"]["50"] == wanted.percentiles[2].points


def test_a_p_chart_as_published(shell: Shell) -> None:
    known = case("oc_p_chart_n50")["recomputed"]
    shifts = [(p - 0.2) / (0.16 / 50) ** 0.5 for p in known["p"]]
    answer = _run(shell, "--kind", "p", "--centre", 0.2, "--size", 50,
                  "--shift", ",".join(map(repr, shifts)))
    assert _arl(answer) == pytest.approx(known["ARL"], rel=1e-9)


@pytest.mark.parametrize(("arguments", "usual", "n_rows"), [
    (["--kind", "np", "--centre", 10, "--size", 50], 0.0, 8),
    (["--kind", "c", "--centre", 4], 0.0, 8),
    (["--kind", "u", "--centre", 2, "--size", 2.5, "--limits", "probability"], 0.0, 8),
    (["--kind", "g", "--centre", 99, "--limits", "probability", "--alpha", 0.01], 1.0, 6),
    (["--kind", "g", "--centre", 2], 1.0, 5),  # four times a third of all units cannot be
    (["--kind", "p", "--centre", 0.9, "--size", 4], 0.0, 3),  # nor can a share above 1
    (["--kind", "t"], 1.0, 6), (["--kind", "individuals"], 0.0, 8), (["--kind", "ewma"], 0.0, 8),
    (["--kind", "cusum"], 0.0, 8)])
def test_usual_shifts_begin_with_no_change(shell: Shell, arguments, usual, n_rows) -> None:
    rows = _run(shell, *arguments)["rows"]
    assert rows[0]["shift"] == usual
    assert len(rows) == n_rows


@pytest.mark.parametrize(("arguments", "name", "calm"), [
    (["--kind", "individuals", "--rules", "western-electric"], "width", 0),
    (["--kind", "ewma", "--lambda", 0.1, "--limits", "exact"], "width", 0),
    (["--kind", "cusum", "--reference", 0.25, "--head-start", 2], "decision", 0),
    (["--kind", "t"], "alpha", 1)])
def test_the_limit_for_a_wanted_run_length(shell: Shell, arguments, name, calm) -> None:
    answer = _run(shell, *arguments, "--for-arl", 80, "--shift", f"{calm},3")
    assert answer["for_arl"] == 80
    assert _arl(answer)[0] == pytest.approx(80, rel=1e-7)
    limits = ["--limits", "probability"] if name == "alpha" else []
    back = _run(shell, *arguments, *limits, f"--{name}", repr(answer[name]),
                "--shift", f"{calm},3")
    assert _arl(back) == pytest.approx(_arl(answer), rel=1e-12)


@pytest.mark.parametrize("arguments", [
    ["--kind", "p", "--centre", 0.2, "--size", 50], ["--kind", "np", "--centre", 10, "--size", 50],
    ["--kind", "c", "--centre", 9], ["--kind", "u", "--centre", 2, "--size", 3],
    ["--kind", "g", "--centre", 99]])
def test_counts_come_at_least_to_the_wanted_run_length(shell: Shell, arguments) -> None:
    answer = _run(shell, *arguments, "--for-arl", 370)
    assert answer["rows"][0]["arl"] >= 370
    assert answer["lower"] < answer["upper"]
    # the limits are those of that alpha: tails of at most half of it each
    assert answer["alpha"] >= 1 / 370


def test_without_json_it_is_a_table_with_sentences(shell: Shell, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    outcome = shell.run("runlength", "--kind", "individuals", "--shift", "0,1")
    lines = outcome.out.splitlines()
    assert lines[0].split() == ["shift", "average", "deviation", "5", "%", "25", "%", "50", "%",
                                "75", "%", "95", "%"]
    assert lines[1].split() == ["0", "370.398", "369.898", "19", "107", "257", "513", "1109"]
    assert lines[3] == ("With no change a false signal comes after 370 points on average,"
                        " in half of all runs within 257, in 95 of 100 within 1109.")
    assert lines[4].startswith("A shift of 1 sigma is signalled after 43.9 points on average,")
    assert lines[-1].startswith("method: closed form")
    assert outcome.err == ""


def test_of_the_usual_shifts_one_sigma_is_told(shell: Shell) -> None:
    assert "A shift of 1 sigma is signalled" in shell.run("runlength", "--kind", "cusum").out
    assert "events 2 times the usual one" in shell.run("runlength", "--kind", "t").out


def test_the_found_limit_is_said_first(shell: Shell) -> None:
    out = shell.run("runlength", "--kind", "cusum", "--for-arl", 370, "--state", "steady").out
    assert out.startswith("--decision 4.78")
    assert "for an average run length of 370" in out.splitlines()[0]
    assert "Points are counted from the change, after long use without a signal." in out
    counted = shell.run("runlength", "--kind", "p", "--centre", 0.2, "--size", 50, "--for-arl",
                        370).out
    assert counted.startswith("--alpha 0.00502")
    assert "(limits 0.06 to 0.38)" in counted.splitlines()[0]


def test_factors_are_told_as_rates(shell: Shell) -> None:
    outcome = shell.run("runlength", "--kind", "g", "--centre", 99, "--shift", "1,3")
    assert "A rate of events 3 times the usual one is signalled after" in outcome.out
    assert outcome.err.splitlines() == [
        "note: there is no lower limit: a change downwards is not looked for"]


def test_a_run_too_long_to_be_told_is_null_and_said(shell: Shell) -> None:
    outcome = shell.run("runlength", "--kind", "cusum", "--decision", 40, "--shift", 0, "--json")
    row, = _answer(outcome)["rows"]
    assert row["arl"] is None
    assert row["percentiles"]["50"] is None
    assert "too long to be computed" in outcome.err
    told = shell.run("runlength", "--kind", "cusum", "--decision", 40, "--shift", 0).out
    assert "after more points than can be told" in told


@pytest.mark.parametrize(("arguments", "note"), [
    (["--kind", "xbar-r", "--size", 5], "--size changes nothing: the shift is in sigma of the"),
    (["--kind", "t", "--centre", 40], "--centre changes nothing: the run length does not"),
    (["--kind", "individuals", "--centre", -5, "--sigma", 2], "--sigma changes nothing: shifts"),
    (["--kind", "ewma", "--rules", "nelson"], "only the limits count: patterns are for points"),
    (["--kind", "cusum", "--rules", "trend"], "only the limits count: patterns are for points")])
def test_an_option_of_no_account_is_said_to_be_so(shell: Shell, arguments, note) -> None:
    outcome = shell.run("runlength", *arguments, "--json")
    assert note in outcome.err
    assert _arl(_answer(outcome)) == _arl(_run(shell, *arguments[:2]))
    assert shell.run("runlength", "--kind", "ewma", "--rules", "limits").err == ""


BAD = [
    ([], "Missing option '--kind'"),
    (["--kind", "pie"], "there are no run lengths of kind 'pie'; there are: individuals, xbar-r"),
    (["--kind", "p"], "a chart of kind 'p' needs --centre"),
    (["--kind", "p", "--centre", "0.1"], "a chart of kind 'p' needs --size"),
    (["--kind", "ewma", "--alpha", "0.1"], "a chart of kind 'ewma' takes no --alpha"),
    (["--kind", "c", "--centre", "4", "--head-start", "1"], "kind 'c' takes no --head-start"),
    (["--kind", "individuals", "--lambda", "0.1"], "kind 'individuals' takes no --lambda"),
    (["--kind", "individuals", "--shift", "0,one"], "--shift is '0,one'; write numbers joined by"),
    (["--kind", "individuals", "--shift", ""], "--shift is ''; write numbers joined by commas"),
    (["--kind", "individuals", "--shift", "0,inf"], "--shift is inf; it must be a finite number"),
    (["--kind", "individuals", "--shift", "nan"], "--shift is nan; it must be a finite number"),
    (["--kind", "individuals", "--rules", "all"], "--rules is 'all'; allowed: limits, western-e"),
    (["--kind", "ewma", "--rules", "all"], "--rules is 'all'; allowed: limits, western-electric"),
    (["--kind", "individuals", "--width", "0"], "--width is 0; it must be above 0"),
    (["--kind", "ewma", "--lambda", "2"], "--lambda is 2; it must be inside (0, 1]"),
    (["--kind", "ewma", "--limits", "wide"], "--limits is 'wide'; allowed: exact, steady"),
    (["--kind", "cusum", "--decision", "-1"], "--decision is -1; it must be a finite number"),
    (["--kind", "cusum", "--head-start", "6"], "--head-start is 6; it must be from 0 to below"),
    (["--kind", "cusum", "--sides", "left"], "--sides is 'left'; allowed: two, one"),
    (["--kind", "cusum", "--state", "old"], "--state is 'old'; allowed: zero, steady"),
    (["--kind", "p", "--centre", "0.2", "--size", "50", "--shift", "20"],
     "--shift is 20; it would make the share of nonconforming pieces 1.33137"),
    (["--kind", "p", "--centre", "0.2", "--size", "5.5"], "--size is 5.5; it must be a whole"),
    (["--kind", "g", "--centre", "0"], "--centre is 0; it must be a finite number above 0"),
    (["--kind", "g", "--centre", "5", "--shift", "0"], "--shift is 0; as a factor it would make"),
    (["--kind", "t", "--centre", "-5"], "--centre is -5; it must be a finite number above 0"),
    (["--kind", "ewma", "--centre", "inf"], "--centre is inf; it must be a finite number"),
    (["--kind", "cusum", "--sigma", "0"], "--sigma is 0; it must be a finite number above 0"),
    (["--kind", "p", "--centre", "0.1", "--size", "9", "--sigma", "1"], "takes no --sigma"),
    (["--kind", "xbar-r", "--size", "0"], "--size is 0; it must be a finite number above 0"),
    (["--kind", "ewma", "--for-arl", "1"], "--for-arl is 1; it must be a number above 1"),
    (["--kind", "ewma", "--for-arl", "500", "--width", "3"], "give --for-arl or --width, not both"),
    (["--kind", "c", "--centre", "4", "--for-arl", "99", "--limits", "sigma"],
     "--limits is 'sigma'; --for-arl looks for probability limits"),
    (["--kind", "individuals", "--rules", "trend", "--for-arl", "500"],
     "--for-arl is 500; with these rules it is below 421.599"),
    (["--kind", "cusum", "--for-arl", "1.1"], "--for-arl is 1.1; with this reference and head"),
    (["--kind", "individuals", "--value", "x"], "qc runlength does not know '--value'"),
    (["--kind", "ewma", "--lambda", "much"], "'--lambda'"),
]


@pytest.mark.parametrize(("arguments", "message"), BAD)
def test_wrong_use_is_one_clear_line(shell: Shell, arguments: list[str], message: str) -> None:
    outcome = shell.run("runlength", *arguments, "--json")
    assert outcome.code == 2
    assert message in outcome.err
    assert len(outcome.err.splitlines()) == 1
    assert outcome.out == ""


def test_a_shift_that_a_chart_does_not_look_for_is_said(shell: Shell) -> None:
    # three-sigma limits of rare times have no lower one: more frequent events stay unseen
    blind = shell.run("runlength", "--kind", "t", "--shift", "1,2")
    assert "after a factor of 2 a signal comes no sooner than with no change" in blind.err
    seeing = shell.run("runlength", "--kind", "t", "--shift", "1,0.5")
    assert "no sooner than with no change" not in seeing.err
    # a doubled rate: what the upper limit loses the lower one gains, to the last digit
    same = shell.run("runlength", "--kind", "t", "--shift", "1,2", "--limits", "probability")
    assert "after a factor of 2 a signal comes no sooner" in same.err
