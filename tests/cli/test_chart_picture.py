"""`qc chart --picture`: the form follows the ending, and nothing else changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.chart_made import csv_file
from tests.cli.running import Shell

BEGIN = {"svg": b"<svg ", "png": b"\x89PNG", "html": b"<!DOCTYPE html>"}


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return csv_file(tmp_path, {"dwell_s": [15, 15.2, 14.9, 15.1, 14.8, 15.0, 15.1, 18.5]})


@pytest.mark.parametrize("ending", ["svg", "png", "html", "SVG"])
def test_a_picture_is_written_beside_the_answer(shell: Shell, log: Path, ending: str) -> None:
    place = log.with_name(f"chart.{ending}")
    asked = ["chart", log, "--kind", "individuals", "--value", "dwell_s", "--json"]
    plain = shell.run(*asked)
    outcome = shell.run(*asked, "--picture", place)
    assert (outcome.code, outcome.out) == (0, plain.out)
    assert f"picture: {place}" in outcome.err
    assert place.read_bytes().startswith(BEGIN[ending.lower()])


@pytest.mark.parametrize("ending", ["svg", "png", "html"])
def test_the_same_file_gives_the_same_bytes(shell: Shell, log: Path, ending: str) -> None:
    made = []
    for name in ("one", "other"):
        place = log.with_name(f"{name}.{ending}")
        shell.run("chart", log, "--kind", "ewma", "--value", "dwell_s", "--picture", place)
        made.append(place.read_bytes())
    assert made[0] == made[1]


@pytest.mark.parametrize("name", ["chart.pdf", "chart.jpeg", "chart", "chart.svg.gz"])
def test_another_ending_is_one_line_before_the_file_is_read(shell: Shell, tmp_path: Path,
                                                            name: str) -> None:
    outcome = shell.run("chart", tmp_path / "not there.csv", "--kind", "individuals", "--value",
                        "x", "--picture", tmp_path / name)
    assert (outcome.code, outcome.out, len(outcome.err.splitlines())) == (2, "", 1)
    assert "must end in .svg, .png, .html" in outcome.err


@pytest.mark.parametrize("name", ["none/chart.svg", "folder.svg"])
def test_a_place_that_cannot_be(shell: Shell, log: Path, name: str) -> None:
    (log.parent / "folder.svg").mkdir()
    outcome = shell.run("chart", log, "--kind", "individuals", "--value", "dwell_s", "--picture",
                        log.parent / name)
    assert (outcome.code, outcome.out, len(outcome.err.splitlines())) == (2, "", 1)


def test_no_picture_of_a_file_that_cannot_be_charted(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": ["1", "two"]})
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x", "--picture",
                        tmp_path / "chart.png")
    assert outcome.code == 2
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


KINDS = {
    "xbar-r": "--value x --subgroup g", "p": "--count k --size n", "g": "--count k",
    "t": "--value hours", "cusum": "--value x", "t2": "--values x,hours", "q": "--value x",
    "mewma": "--values x,hours", "standardised": "--value x --part part",
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_of_every_shape_of_chart(shell: Shell, tmp_path: Path, kind: str) -> None:
    path = csv_file(tmp_path, {
        "x": [10, 11, 10.5, 9.5, 10.2, 11.1, 9.9, 10.4, 14, 10.1, 9.8, 10.6],
        "g": [k // 3 for k in range(12)], "k": [3, 1, 4, 1, 5, 9, 2, 6, 5, 3, 5, 8],
        "n": [50, 60, 55, 70, 64, 58, 49, 61, 53, 50, 66, 52], "part": ["a", "b"] * 6,
        "hours": [5, 80, 33, 12, 9, 41, 77, 3, 15, 28, 6, 19],
    })
    place = tmp_path / "chart.svg"
    outcome = shell.run("chart", path, "--kind", kind, *KINDS[kind].split(), "--picture", place)
    assert outcome.code == 0, outcome.err
    assert "nan" not in place.read_text(encoding="utf-8").partition("</style>")[2]


@pytest.mark.parametrize("kind", ["individuals", "cusum", "ewma"])
def test_a_change_is_dated_in_the_picture(shell: Shell, tmp_path: Path, kind: str) -> None:
    usual = [15.1, 14.8, 15.0, 15.3, 14.7, 15.2, 14.9, 15.0, 15.1, 14.9] * 2
    path = csv_file(tmp_path, {"dwell_s": usual + [x + 1.2 for x in usual[:10]]})
    place = tmp_path / "chart.svg"
    shell.run("chart", path, "--kind", kind, "--value", "dwell_s", "--baseline", "1:20",
              "--picture", place)
    assert "the change most likely began at 21" in place.read_text(encoding="utf-8")
