"""`qc capability --picture`: the form follows the ending, and nothing else changes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.cli.chart_made import csv_file
from tests.cli.running import Shell

BEGIN = {"svg": b"<svg ", "png": b"\x89PNG", "html": b"<!DOCTYPE html>"}
ONE = ["--value", "dx_mm", "--lower=-3", "--upper", "3", "--target", "0"]
TOGETHER = {
    "circle": ["--values", "dx_mm,dy_mm", "--radius", "3"],
    "rectangle": ["--values", "dx_mm,dy_mm", "--lower=-3,-3", "--upper", "3,3"],
    "one side": ["--values", "dx_mm,dy_mm", "--lower=-3,-3"],
}


@pytest.fixture
def log(tmp_path: Path) -> Path:
    generator = np.random.default_rng(5)
    return csv_file(tmp_path, {name: generator.normal(0.3, 1.1, 60).round(1).tolist()
                               for name in ("dx_mm", "dy_mm")})


@pytest.mark.parametrize("asked", [ONE, *TOGETHER.values()], ids=["one", *TOGETHER])
@pytest.mark.parametrize("ending", BEGIN)
def test_a_picture_is_written_beside_the_answer(shell: Shell, log: Path, asked: list[str],
                                                ending: str) -> None:
    place = log.with_name(f"picture.{ending}")
    plain = shell.run("capability", log, *asked, "--json")
    outcome = shell.run("capability", log, *asked, "--json", "--picture", place)
    assert (outcome.code, outcome.out) == (0, plain.out)
    assert f"picture: {place}" in outcome.err
    first = place.read_bytes()
    assert first.startswith(BEGIN[ending])
    shell.run("capability", log, *asked, "--picture", place)
    assert place.read_bytes() == first


@pytest.mark.parametrize("asked", [ONE, TOGETHER["circle"]])
def test_another_ending_is_one_line_before_the_file_is_read(shell: Shell, tmp_path: Path,
                                                            asked: list[str]) -> None:
    outcome = shell.run("capability", tmp_path / "not there.csv", *asked, "--picture",
                        tmp_path / "picture.pdf")
    assert (outcome.code, outcome.out, len(outcome.err.splitlines())) == (2, "", 1)
    assert "must end in .svg, .png, .html" in outcome.err


def test_no_picture_of_a_file_that_cannot_be_judged(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"dx_mm": ["1", "two"]})
    outcome = shell.run("capability", path, *ONE, "--picture", tmp_path / "picture.png")
    assert outcome.code == 2
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
