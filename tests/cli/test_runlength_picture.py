"""`qc runlength --picture`: every kind of chart, and nothing else changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import Shell

BEGIN = {"svg": b"<svg ", "png": b"\x89PNG", "html": b"<!DOCTYPE html>"}
KINDS = {
    "individuals": "--rules western-electric --shift=-1,0,1", "xbar-r": "--shift 1",
    "ewma": "--lambda 0.1 --for-arl 370 --shift 0,1", "cusum": "--shift 0,1 --state steady",
    "p": "--centre 0.1 --size 50 --for-arl 300", "c": "--centre 4", "g": "--centre 99",
    "t": "--limits probability", "t2": "--variables 2",
}


@pytest.mark.parametrize("ending", BEGIN)
def test_a_picture_is_written_beside_the_answer(shell: Shell, tmp_path: Path, ending: str) -> None:
    place = tmp_path / f"picture.{ending}"
    asked = ["runlength", "--kind", "ewma", "--shift", "0,1", "--json"]
    plain = shell.run(*asked)
    outcome = shell.run(*asked, "--picture", place)
    assert (outcome.code, outcome.out) == (0, plain.out)
    assert f"picture: {place}" in outcome.err
    first = place.read_bytes()
    assert first.startswith(BEGIN[ending])
    shell.run(*asked, "--picture", place)
    assert place.read_bytes() == first


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_of_every_shape_of_chart(shell: Shell, tmp_path: Path, kind: str) -> None:
    place = tmp_path / "picture.svg"
    outcome = shell.run("runlength", "--kind", kind, *KINDS[kind].split(), "--picture", place)
    assert outcome.code == 0, outcome.err
    drawn = place.read_text(encoding="utf-8").partition("</style>")[2]
    assert "nan" not in drawn
    assert "points until the chart signals" in drawn


def test_another_ending_is_one_line(shell: Shell, tmp_path: Path) -> None:
    outcome = shell.run("runlength", "--kind", "ewma", "--picture", tmp_path / "picture.gif")
    assert (outcome.code, outcome.out, len(outcome.err.splitlines())) == (2, "", 1)
    assert "must end in .svg, .png, .html" in outcome.err


@pytest.mark.parametrize(("asked", "said"), [
    ("--kind individuals --shift 0,1", "after 370 points on average"),
    ("--kind ewma --lambda 0.1 --for-arl 370 --shift 1", "after 9.74 points on average"),
    ("--kind individuals --width 4 --shift 0", "after 15790 points on average"),
])
def test_sentences_have_three_digits_or_four(shell: Shell, asked: str, said: str) -> None:
    assert said in shell.run("runlength", *asked.split()).out.replace("\n", " ")
