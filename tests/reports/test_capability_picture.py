"""Pictures of capability: what they say and mark, any values, a million of them."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from qc.desk.capability import (
    CapabilityRequest,
    FileCapability,
    FilePlacement,
    PlacementRequest,
)
from reports.picture.capability.histogram import capability_sheet
from reports.picture.capability.placement import placement_sheet
from reports.picture.page import sheet_html
from reports.picture.palette import LIGHT
from reports.picture.sheet import NARROW, WIDE, sheet_svg
from tests.reports.capability_made import DWELL, one, two
from tests.reports.made import HOSTILE
from tests.reports.sheets_read import SVG, paths_of, root_of, words_of


def test_what_a_histogram_says(tmp_path: Path) -> None:
    found = one(tmp_path, DWELL, lower=14.0, upper=16.0, target=15.0)
    sheet = capability_sheet(found)
    text = words_of(sheet)
    n = int(np.count_nonzero(DWELL > 16) + np.count_nonzero(DWELL < 14))
    assert 1 < n < 20
    assert sheet.lifted and sheet.verdict.startswith(
        f"Too little room to the limits: {n} of 120 values lie outside,")
    for words in ("lower limit 14", "upper limit 16", "target 15", "mean 15.",
                  "bars 0.2 s wide (rule of Freedman and Diaconis", "in whole steps of 0.1 s",
                  "a normal distribution expects", f"outside the limits: {n} of 120",
                  "Method: ISO 22514-2", "Data: log.csv, dwell_s; 120 values."):
        assert words in text
    ppk = found.result.ppk
    assert ppk is not None
    assert f"{ppk.value:.2f} ({ppk.low:.2f} to {ppk.high:.2f})" in text


def test_bars_outside_are_open_and_each_has_a_triangle(tmp_path: Path) -> None:
    sheet = capability_sheet(one(tmp_path, DWELL, lower=14.0, upper=16.0))
    # one in the verdict, one in the words below, one for each bar outside
    n_bars = sum(path.count("M") for path in paths_of(sheet, LIGHT["sheet"]))
    assert n_bars >= 1
    assert sum(path.count("z") for path in paths_of(sheet, LIGHT["alarm"])) == n_bars + 2


@pytest.mark.parametrize(("limits", "tone"), [
    ((14.0, 16.0), "alarm"), ((12.0, 18.4), "calm"), ((12.0, 16.35), "watch")])
def test_only_too_little_room_lifts_the_corner(tmp_path: Path, limits, tone: str) -> None:
    found = one(tmp_path, DWELL, lower=limits[0], upper=limits[1])
    value, low = found.nearest or (0.0, 0.0)
    assert tone == ("alarm" if value < 1 else "calm" if low >= 1 else "watch")
    sheet = capability_sheet(found)
    assert (sheet.tone, sheet.lifted) == (tone, tone == "alarm")
    assert (LIGHT["ground"] in sheet_svg(sheet)) == sheet.lifted


def test_skewed_values_are_judged_by_percentiles(tmp_path: Path) -> None:
    x = np.random.default_rng(22).lognormal(0, 0.5, 300).round(3)
    found = one(tmp_path, x, "force", upper=5.0)
    assert not found.normal
    assert found.nearest is not None and found.result.percentile is not None
    assert found.nearest[0] == found.result.percentile.ppk
    text = words_of(capability_sheet(found))
    assert "by percentiles of the lognormal distribution" in text
    assert "Note: the values are not normal" in text


@pytest.mark.parametrize("values", [
    [5.0] * 30, [5.0, 5.1, 5.0, 5.2, 1e6], [1.0, 2.0], [1e-12, 2e-12, 3e-12], [-5.0, -5.0, 1e12]])
@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_any_values_stay_on_the_sheet(tmp_path: Path, values: list[float], width: float) -> None:
    root = root_of(capability_sheet(one(tmp_path, np.array(values), lower=4.0, upper=6.0)),
                   width=width)
    height = float(root.get("height", ""))
    for path in root.iter(f"{SVG}path"):
        assert "nan" not in path.get("d", "") and "inf" not in path.get("d", "")
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d", "")):
            assert -20 <= float(x) <= width + 20
            assert -20 <= float(y) <= height + 20
    assert all(0 <= float(text.get("x", "")) <= width for text in root.iter(f"{SVG}text"))


def test_equal_values_are_said_to_be(tmp_path: Path) -> None:
    sheet = capability_sheet(one(tmp_path, np.full(30, 5.0), lower=4.0, upper=6.0))
    assert sheet.tone == "watch"
    assert "30 values, all equal" in words_of(sheet)
    assert "?." not in words_of(sheet)


def test_what_a_scatter_says_and_marks(tmp_path: Path) -> None:
    generator = np.random.default_rng(3)
    x, y = generator.normal(0.4, 1.4, 150).round(1), generator.normal(-0.6, 1.2, 150).round(1)
    sheet = placement_sheet(two(tmp_path, x, y, radius=4.0))
    n = int(np.count_nonzero(np.hypot(x, y) > 4))
    assert n > 1
    text = words_of(sheet)
    assert f"outside: {n} of 150" in text
    assert "must lie within 4 mm of 0, 0 mm" in text
    assert "holds 99.7 % of the fitted distribution" in text
    assert "are expected outside" in text and "right and down are positive" in text
    # triangles: verdict, words, and every placement outside; discs: all others
    assert sum(path.count("z") for path in paths_of(sheet, LIGHT["alarm"])) == n + 2
    assert max(path.count("M") for path in paths_of(sheet, LIGHT["ink"])) == 150 - n


def test_down_is_down_for_placements_alone(tmp_path: Path) -> None:
    x, y = np.array([0.0, 0.1, -0.1, 0.2, 0.0]), np.array([0.0, 0.2, -0.2, 0.1, 5.0])
    heights = []
    for names in (("dx_mm", "dy_mm"), ("a_mm", "b_mm")):
        far = paths_of(placement_sheet(two(tmp_path, x, y, names, radius=4.0)), LIGHT["alarm"])
        heights.append(min(float(re.findall(r"M-?[\d.]+ (-?[\d.]+)", path)[0])
                           for path in far if len(path) < 60 and "M" in path and path != far[0]
                           and not path.startswith("M0 ")))
    assert heights[0] > heights[1]


@pytest.mark.parametrize("asked", [
    {"lower": (-2.0, -2.0)}, {"upper": (2.0, 90.0)}, {"lower": (-2.0, -9.0), "upper": (2.0, 9.0)}])
def test_any_rectangle(tmp_path: Path, asked) -> None:
    x = np.random.default_rng(5).normal(size=60)
    text = words_of(placement_sheet(two(tmp_path, x, 5 * x[::-1], **asked)))
    assert ("dx from" in text, "dx up to" in text) == (
        "upper" not in asked, "lower" not in asked)


def test_directions_of_two_units_have_scales_of_their_own(tmp_path: Path) -> None:
    x = np.random.default_rng(5).normal(size=60)
    found = two(tmp_path, x, 100 * x[::-1], ("dx_mm", "rotation_deg"), lower=(-4.0, -400.0))
    assert "scales of their own" in words_of(placement_sheet(found))


def test_one_direction_without_variation(tmp_path: Path) -> None:
    x = np.random.default_rng(5).normal(size=60)
    sheet = placement_sheet(two(tmp_path, x, 0 * x, radius=9.0))
    assert sheet.verdict.startswith("One direction does not vary")
    assert "nan" not in sheet_svg(sheet, carry_font=False)


def test_a_million_placements_are_few_marks_and_all_counted(tmp_path: Path) -> None:
    generator = np.random.default_rng(1)
    x, y = generator.normal(size=(2, 1_000_000))
    from qc.stats.capability.bivariate import bivariate_capability
    from qc.stats.capability.bivariate_normal import Circle

    result = bivariate_capability(x, y, Circle(radius=3.0))
    found = FilePlacement(result=result, x=x, y=y, file="log.csv",
                          request=PlacementRequest(values=("dx_mm", "dy_mm"), radius=3.0))
    sheet = placement_sheet(found)
    svg = sheet_svg(sheet, carry_font=False)
    assert len(svg) < 900_000
    assert "so many placements that they share fields" in words_of(sheet)
    n = int(result.outside.n_defective)
    assert n > 1500
    assert "those on one spot drawn once" in words_of(sheet)


def test_names_from_a_file_cannot_become_markup(tmp_path: Path) -> None:
    found = one(tmp_path, DWELL, lower=14.0)
    request = CapabilityRequest(value=HOSTILE[6], lower=14.0)
    hostile = FileCapability(result=found.result, values=found.values, file=HOSTILE[7],
                             request=request)
    html = sheet_html(capability_sheet(hostile)).decode()
    assert "<script" not in html and "<img" not in html


def test_the_page_has_the_numbers_as_tables(tmp_path: Path) -> None:
    found = one(tmp_path, DWELL, lower=14.0, upper=16.0)
    indices, bars = capability_sheet(found).tables()
    assert [row[0] for row in indices.rows] == ["cp", "cpk", "pp", "ppk"]
    assert sum(int(str(row[2])) for row in bars.rows) == 120
    html = sheet_html(capability_sheet(found)).decode()
    assert html.count("<table>") == 2
    shares, spread = placement_sheet(two(tmp_path, DWELL[:60], DWELL[60:], radius=16.0)).tables()
    assert [row[0] for row in shares.rows] == ["counted", "expected"]
    assert [row[0] for row in spread.rows] == ["dx", "dy"]
