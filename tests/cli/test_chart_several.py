"""Charts of several variables in words: which of them make a point signal."""

from __future__ import annotations

from pathlib import Path

from tests.cli.chart_made import answered, csv_file, signalling
from tests.cli.running import Shell
from tests.published import case

GRAVEL = case("t2_gravel_56")["data"]["x"]


def _gravel(folder: Path) -> Path:
    return csv_file(folder, {"large": [row[0] for row in GRAVEL],
                             "medium": [row[1] for row in GRAVEL]})


def test_a_multivariate_ewma_says_which_variables_moved(shell: Shell, tmp_path: Path) -> None:
    path = _gravel(tmp_path)
    said = shell.run("chart", path, "--kind", "mewma", "--values", "large,medium")
    (chart,) = answered(shell.run("chart", path, "--kind", "mewma", "--values", "large,medium",
                                  "--json"))["charts"]
    first = signalling(chart)[0]
    # fewer large stones at first, and more of the medium ones: both lie off by themselves
    assert f"{first}: large is off by -0.7" in said.out
    assert "15: large is off by -1.184, medium is off by 2.319" in said.out


def test_t2_of_a_broken_pair_says_so(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {
        "large": [row[0] for row in GRAVEL] + [8.5],
        "medium": [row[1] for row in GRAVEL] + [92.5]})
    said = shell.run("chart", path, "--kind", "t2", "--values", "large,medium", "--baseline",
                     "1:56")
    assert "57: large by 4.5" in said.out
    assert "from where the others put it" in said.out
