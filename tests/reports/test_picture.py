"""The whole picture: what it says and marks, its forms, its size, the same bytes each time."""

from __future__ import annotations

import re
import struct
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.desk.chart_change import ChartChange
from qc.errors import InputError
from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Chart, ControlChart, make_chart, names_of
from qc.stats.charts.cusum import cusum_chart
from qc.stats.charts.shewhart_counts import u_chart
from qc.stats.charts.short_run import deviation_chart
from reports.picture.charts.drawing import chart_sheet
from reports.picture.charts.tables import MOST_ROWS
from reports.picture.page import sheet_html
from reports.picture.palette import BY_PAGE, DARK, LIGHT
from reports.picture.png import PIXELS, sheet_png
from reports.picture.sheet import NARROW, WIDE
from reports.picture.writing import check_picture_place, write_picture
from tests.reports.charts_made import chart_svg, dwell, file_chart, lifted, plain_chart
from tests.reports.made import HOSTILE

SVG = "{http://www.w3.org/2000/svg}"


def drawn(svg: str) -> ElementTree.Element:
    """The picture, read as the XML it must be."""
    return ElementTree.fromstring(svg)


def words(svg: str) -> str:
    """All text in a picture, in reading order."""
    root = drawn(svg)
    return " ".join(" ".join(text.itertext()) for text in root.iter(f"{SVG}text"))


def filled(svg: str, colour: str) -> list[str]:
    """Paths filled with a colour."""
    return [path.get("d", "") for path in drawn(svg).iter(f"{SVG}path")
            if path.get("fill") == colour]


def pixels(png: bytes) -> tuple[int, int]:
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def test_a_quiet_chart_says_so_and_lies_flat() -> None:
    svg = chart_svg(dwell())
    text = words(svg)
    assert "No point signals a change." in text
    assert "limits come from all 25 points" in text
    assert "Method: ISO 7870-2:2013" in text
    assert "Data: log.csv, dwell_s; 25 points." in text
    assert LIGHT["alarm"] not in svg
    assert LIGHT["ground"] not in svg  # the corner is down


def test_a_signal_is_said_drawn_and_lifts_the_corner() -> None:
    chart = dwell(rise=3.0, baseline=Baseline(first=1, last=16))
    svg = chart_svg(chart)
    marked = chart.chart.charts[0].signalled().tolist()
    assert len(marked) == 9
    assert "of 25 points signal a change, the first at 17." in words(svg)
    assert f"{', '.join(map(str, marked[:6]))} and" in words(svg)
    triangles = sum(path.count("z") for path in filled(svg, LIGHT["alarm"]))
    # in the panels; then one in the verdict and one in the words below
    in_panels = sum(int(np.count_nonzero(part.signals)) for part in chart.chart.charts)
    assert triangles == in_panels + 2
    assert LIGHT["ground"] in svg


def test_points_below_point_down_and_patterns_are_diamonds() -> None:
    x = np.r_[np.tile([0.5, -0.5], 12), -4.0, np.full(9, 0.4)]
    chart = file_chart(_individuals(x), value="x", rules="nelson")
    assert set(names_of(int(chart.chart.charts[0].signals[24]))) == {"outside_limits"}
    svg = chart_svg(chart)
    assert "points in a row" in words(svg)
    assert filled(svg, LIGHT["watch-soft"])
    down = [path for path in filled(svg, LIGHT["alarm"]) if re.search(r"l6\.4 -11\.2", path)]
    assert down


def test_the_baseline_the_change_and_what_was_left_out_are_named() -> None:
    chart = dwell(rise=3.0, baseline=Baseline(first=1, last=16, excluded=(
        Excluded(at=3, reason="clamp slipped"),)))
    chart = file_chart(chart.chart, value="dwell_s", change=ChartChange(at=17, first=16, last=18))
    text = words(chart_svg(chart))
    assert "limits come from points 1 to 16" in text
    assert "left out of the limits: 3 (clamp slipped)" in text
    assert "the change most likely began at 17 (90 % between 16 and 18)" in text


def test_given_limits_are_said_to_be_given() -> None:
    chart = file_chart(_individuals(np.array([1.0, -1.0, 0.5])), value="x")
    assert "centre and spread were given" in words(chart_svg(chart))


def test_shares_are_in_per_cent_and_the_band_steps() -> None:
    svg = chart_svg(lifted([100, 50, 200, 100], [3, 2, 9, 20]))
    text = words(svg)
    assert "lifted edges of inspected" in text
    assert "fraction nonconforming %" in text
    assert "centre 7.556 %" in text
    assert "limits, which differ from point to point" in text
    band = filled(svg, LIGHT["accent-soft"])[0]
    assert band.count("L") == 15  # two corners for each of four samples, above and below


def test_both_sides_of_a_sum_are_on_one_scale_and_have_no_centre_line() -> None:
    x = np.r_[np.zeros(10), np.full(10, 2.0)]
    svg = chart_svg(file_chart(cusum_chart(x, centre=0.0, sigma=1.0), value="x"))
    text = words(svg)
    assert "upper CUSUM" in text and "lower CUSUM" in text
    assert "centre 0" not in text
    ticks = [t.text for t in drawn(svg).iter(f"{SVG}text") if t.get("text-anchor") == "end"]
    assert ticks[:len(ticks) // 2] == ticks[len(ticks) // 2:-1]


@pytest.mark.parametrize("n", [1, 2, 3, 5, 25, 149, 151, 500, 3000])
def test_a_picture_of_any_length(n: int) -> None:
    value = np.sin(np.arange(n)) * 2
    svg = chart_svg(file_chart(_chart(value), value="x"))
    assert "nan" not in svg.partition("</style>")[2]
    assert drawn(svg).get("viewBox")


@pytest.mark.parametrize("value", [
    [0.0, 0.0], [1e-12, 2e-12, 1e-12], [1e14, 1.00001e14], [-5.0, -5.0, -5.0], [np.nan, 1.0, 2.0],
])
def test_a_picture_of_any_size_of_numbers(value: list[float]) -> None:
    svg = chart_svg(file_chart(_chart(value), value="x")).partition("</style>")[2]
    assert "nan" not in svg and "inf" not in svg.replace("information", "")


def test_no_text_begins_outside_the_sheet() -> None:
    labels = tuple(f"shift {k} of the late crew" for k in range(30))
    chart = dwell(30, rise=3.0, baseline=Baseline(first=1, last=18))
    for width in (NARROW, 480, WIDE):
        svg = chart_svg(file_chart(chart.chart, labels=labels, value="dwell_s",
                                   subgroup="shift"), width=width)
        assert all(0 <= float(text.get("x", "")) <= width
                   for text in drawn(svg).iter(f"{SVG}text"))


@settings(max_examples=60, deadline=None)
@given(
    points=st.lists(st.tuples(*[st.floats(-1e9, 1e9)] * 3), min_size=1, max_size=40),
    lower=st.booleans(), width=st.sampled_from([NARROW, WIDE]),
)
def test_whatever_is_charted_stays_on_the_sheet(points, lower: bool, width: float) -> None:
    low, value, high = np.sort(np.array(points), axis=1).T
    made = make_chart("statistic", float(np.mean(value)), np.roll(value, 1),
                      low if lower else np.nan, high)
    svg = chart_svg(file_chart(_of(made), value="x"), width=width, carry_font=False)
    root = drawn(svg)
    height = float(root.get("height", ""))
    for path in root.iter(f"{SVG}path"):
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d", "")):
            assert -20 <= float(x) <= width + 20
            assert -20 <= float(y) <= height + 20


def test_names_from_a_file_cannot_become_markup_nor_fill_the_page() -> None:
    labels = HOSTILE + tuple(f"l{k}" for k in range(30 - len(HOSTILE)))
    made = _chart([9.0] * 30)
    chart = file_chart(made, labels=labels, subgroup=HOSTILE[6], value=HOSTILE[7],
                       file=HOSTILE[6])
    svg = chart_svg(chart)
    root = drawn(svg)
    assert float(root.get("height", "")) < 1500
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
        "svg", "title", "desc", "style", "rect", "path", "text", "tspan", "g"}
    html = sheet_html(chart_sheet(chart)).decode()
    assert "<script" not in html and "<img" not in html
    assert "&lt;script&gt;" in html


def test_colours_can_be_left_to_the_page() -> None:
    chart = dwell(rise=3.0)
    by_page = chart_svg(chart, colours=BY_PAGE)
    assert "var(--alarm)" in by_page
    assert not re.search("#[0-9a-f]{6}", by_page)
    assert DARK["sheet"] in chart_svg(chart, colours=DARK)


def test_the_page_forbids_every_request_and_holds_every_number() -> None:
    chart = dwell()
    html = sheet_html(chart_sheet(chart)).decode()
    assert "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; " \
        "font-src data:" in html
    assert "http" not in html.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")
    main, moving = chart.chart.charts
    assert html.count("<tr>") == len(main.value) + len(moving.value) + 2
    wanted = [f"{value:.4f}" for value in main.value] + [f"{value:.5f}" for value in moving.value]
    assert all(f">{text}<" in html for text in wanted)


def test_a_long_table_is_cut_and_says_so() -> None:
    html = sheet_html(chart_sheet(dwell(5000))).decode()
    main = html.partition("individuals, s")[2].partition("</tbody>")[0]
    assert main.count("<tr>") == MOST_ROWS
    assert "400 of 5\u2009000 points" in html
    assert "qc chart --json has all points" in html


def test_a_limit_that_is_not_there_leaves_its_cell_empty() -> None:
    made = cusum_chart([1.0, 2.0], centre=0.0, sigma=1.0)
    html = sheet_html(chart_sheet(file_chart(made, value="x")))
    assert b'<td class="figure"></td>' in html


@pytest.mark.parametrize("ending", ["svg", "png", "html"])
def test_the_same_chart_gives_the_same_bytes(tmp_path: Path, ending: str) -> None:
    made = chart_sheet(dwell(rise=2.0))
    one, other = (write_picture(made, tmp_path / f"{name}.{ending}").read_bytes()
                  for name in ("one", "other"))
    assert one == other


def test_a_png_is_drawn_without_fonts_of_the_machine() -> None:
    png = sheet_png(chart_sheet(dwell()))
    width, height = pixels(png)
    assert width == PIXELS
    assert 0.8 < height / width < 2.5
    # without a font no letter is drawn, and the two would be one
    assert sheet_png(chart_sheet(file_chart(dwell().chart, value="smell_s"))) != png


def test_letters_the_font_lacks_are_asked_of_the_machine() -> None:
    assert pixels(sheet_png(chart_sheet(file_chart(_chart([1.0, 2.0]), value="漢字"))))[0] == PIXELS


@pytest.mark.parametrize("ending", [".pdf", ".jpg", "", ".svgz"])
def test_another_ending_is_refused_in_one_line(tmp_path: Path, ending: str) -> None:
    with pytest.raises(InputError, match=r"must end in \.svg, \.png, \.html"):
        check_picture_place(tmp_path / f"chart{ending}")


def test_a_picture_that_cannot_be_put_there_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="its folder is not there"):
        write_picture(chart_sheet(dwell()), tmp_path / "none" / "chart.svg")
    assert list(tmp_path.iterdir()) == []


def test_a_million_points_make_a_small_picture() -> None:
    x = np.random.default_rng(1).normal(size=1_000_000)
    x[600_000:] += 0.5
    chart = file_chart(_individuals(x), value="x")
    svg = chart_svg(chart)
    assert len(svg) < 500_000
    # every point beyond a limit is seen: each lies on a mark drawn for its pixel
    main, top = chart.chart.charts[0], int(np.argmax(x))
    n_marks = sum(path.count("z") for path in filled(svg, LIGHT["alarm"]))
    assert n_marks > 2_000
    assert main.signals[top]
    n_said = np.count_nonzero(main.signals | np.append(0, chart.chart.charts[1].signals))
    assert f"{n_said:,}".replace(",", "\u2009") in words(svg)


def test_varying_limits_at_a_million_points(tmp_path: Path) -> None:
    generator = np.random.default_rng(2)
    n = generator.integers(20, 200, 1_000_000)
    chart = file_chart(u_chart(generator.poisson(0.1 * n), n), count="k", size="n")
    path = write_picture(chart_sheet(chart), tmp_path / "u.svg")
    assert path.stat().st_size < 500_000
    assert "the span of those in each" in words(path.read_text(encoding="utf-8"))


def test_deviations_carry_the_unit_of_their_values() -> None:
    made = deviation_chart([10.1, 20.3, 10.0, 19.9], [10, 20, 10, 20])
    text = words(chart_svg(file_chart(made, value="width_mm", nominal="nominal_mm")))
    assert "deviation from nominal mm" in text


def _individuals(x: np.ndarray) -> ControlChart:
    from qc.stats.charts.individuals import individuals_chart

    return individuals_chart(x, centre=0.0, sigma=1.0, rules="nelson" if len(x) < 1000 else
                             "limits")


def _chart(value: object) -> ControlChart:
    return _of(plain_chart(value))  # type: ignore[arg-type]


def _of(made: Chart) -> ControlChart:
    return ControlChart(kind="individuals", source="made by hand", sigma=1.0, baseline=None,
                        charts=(made,), cautions=())
