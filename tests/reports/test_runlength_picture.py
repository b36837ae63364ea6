"""Pictures of run lengths: what they say, the band, ratios on both axes, what cannot be drawn."""

from __future__ import annotations

import re

import pytest

from qc.desk.running import RunRequest, run_lengths
from reports.picture.palette import LIGHT
from reports.picture.runlength.drawing import runlength_sheet
from reports.picture.sheet import NARROW, WIDE, Sheet
from tests.reports.sheets_read import SVG, paths_of, root_of, words_of


def sheet_of(kind: str, **asked) -> Sheet:
    return runlength_sheet(run_lengths(RunRequest(kind=kind, **asked)))


def test_what_it_says() -> None:
    sheet = sheet_of("ewma", weight=0.1, for_arl=370.0)
    assert sheet.verdict == ("With no change a false signal comes after 370 points on average;"
                             " a shift of 1 sigma is signalled after 9.74.")
    text = words_of(sheet)
    assert "limit found for 370 points between false signals: 2.70105 sigma" in text
    assert "no change: 370 points on average between false signals" in text
    assert "Chart: lambda 0.1, width 2.70105, limits steady." in text
    assert not sheet.lifted


def test_the_band_is_that_of_the_percentiles_on_a_scale_of_ratios() -> None:
    answer = run_lengths(RunRequest(kind="individuals", shifts=(0.0, 1.0, 2.0)))
    sheet = runlength_sheet(answer)
    band = next(path for path in paths_of(sheet, LIGHT["accent-soft"]) if path.count("L") == 5)
    y = [float(y) for _, y in re.findall(r"([\d.]+) ([\d.]+)", band)]
    upper, lower = y[:3], y[:2:-1]
    points = [[one.points for one in row.run.percentiles] for row in answer.rows]
    # equal ratios are equal lengths: the scale from two corners holds for all others
    from math import log

    scale = (upper[2] - upper[0]) / log(points[0][-1] / points[2][-1])
    for k in range(3):
        assert lower[k] - upper[k] == pytest.approx(
            scale * log(points[k][-1] / points[k][0]), abs=0.25)


def test_one_change_alone_is_a_bar() -> None:
    sheet = sheet_of("cusum", shifts=(1.0,))
    assert sheet.verdict == "A shift of 1 sigma is signalled after 10.4 points on average."
    assert "M" in "".join(paths_of(sheet, LIGHT["ink"]))


def test_a_rate_is_told_as_a_factor() -> None:
    sheet = sheet_of("t", limits="probability")
    assert "a rate 2 times the usual one is signalled" in sheet.verdict
    assert "rate of events, times the usual one" in words_of(sheet)
    assert sheet.tables()[0].columns[0].name == "factor"


def test_what_never_signals_is_said_and_not_drawn() -> None:
    answer = run_lengths(RunRequest(kind="individuals", width=8.0, shifts=(0.0, 3.0)))
    sheet = runlength_sheet(answer)
    assert answer.rows[0].run.arl > 1e12
    assert "off the sheet, more points than can be told: 0" in words_of(sheet)
    assert sheet.verdict.startswith("With no change a false signal comes after more points than")


@pytest.mark.parametrize("width", [NARROW, WIDE])
@pytest.mark.parametrize("asked", [
    {"kind": "g", "centre": 99.0}, {"kind": "ewma"}, {"kind": "t2", "n_variables": 2},
    {"kind": "individuals", "rules": "western-electric", "shifts": (-1.0, 0.0, 1.0)},
    {"kind": "individuals", "width": 9.0, "shifts": (0.0,)},
    {"kind": "cusum", "shifts": tuple(k / 4 for k in range(17))}])
def test_it_stays_on_the_sheet(asked, width: float) -> None:
    root = root_of(sheet_of(**asked), width=width)
    height = float(root.get("height", ""))
    for path in root.iter(f"{SVG}path"):
        assert "nan" not in path.get("d", "") and "inf" not in path.get("d", "")
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d", "")):
            assert -20 <= float(x) <= width + 20
            assert -20 <= float(y) <= height + 20
    assert all(0 <= float(text.get("x", "")) <= width for text in root.iter(f"{SVG}text"))


def test_the_table_has_every_row_to_six_digits() -> None:
    table = sheet_of("individuals", shifts=(0.0, 1.0)).tables()[0]
    assert table.rows[0][:3] == ("0", "370.398", "369.898")
    assert [column.name for column in table.columns][3:] == ["5 %", "25 %", "50 %", "75 %", "95 %"]


def test_rows_are_drawn_in_the_order_of_their_shifts() -> None:
    one, other = (words_of(sheet_of("individuals", shifts=shifts))
                  for shifts in ((0.0, 1.0, 2.0), (2.0, 0.0, 1.0)))
    assert one == other
