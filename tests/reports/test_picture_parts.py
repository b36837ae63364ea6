"""The small parts of a picture: ticks, type, paths, colours."""

from __future__ import annotations

import re
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.theme import PALETTES, contrast
from reports.picture import svg
from reports.picture.axes import rows_of_names
from reports.picture.palette import BY_PAGE, DARK, LIGHT
from reports.picture.plot import Plot, band_paths, line_path, seen_once, span_paths, step_path
from reports.picture.ticks import MINUS, THIN, grouped, log_ticks, places, short, tidy_scale
from reports.picture.type import brief, covered, cut, width, wrapped

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def plot(n: int, *, low: float = 0.0, high: float = 10.0) -> Plot:
    """A hundred units wide and as high, its corner at 0, 0."""
    return Plot(left=0, top=0, width=100, height=100, n=n, low=low, high=high)


def places_of(path: str) -> list[tuple[float, float]]:
    """Corners of a path of absolute moves and lines."""
    numbers = [float(x) for x in NUMBER.findall(path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


@pytest.mark.parametrize(("low", "high", "about", "labels"), [
    (0, 10, 5, ["0", "2", "4", "6", "8", "10"]),
    (13.7, 16.3, 5, ["14.0", "14.5", "15.0", "15.5", "16.0"]),
    (-0.31, 0.42, 4, [f"{MINUS}0.2", "0", "0.2", "0.4"]),
    (0, 2_400_000, 3, ["0", f"1{THIN}000{THIN}000", f"2{THIN}000{THIN}000"]),
])
def test_ticks_are_round_and_inside(low, high, about, labels) -> None:
    scale = tidy_scale(low, high, about=about)
    assert [scale.label(at) for at in scale.at] == labels
    assert scale.power == 0


@given(low=st.floats(-1e12, 1e12), size=st.floats(1e-9, 1e12), about=st.integers(1, 12))
def test_ticks_stay_inside_and_tell_apart(low: float, size: float, about: int) -> None:
    scale = tidy_scale(low, low + size, about=about)
    slack = 1e-6 * (abs(low) + size)
    assert all(low - slack <= at <= low + size + slack for at in scale.at)
    if size > 1e-6 * abs(low):
        assert len(scale.at) <= 2.5 * about + 2
        assert len({scale.label(at) for at in scale.at}) == len(scale.at)


def test_positions_have_whole_ticks() -> None:
    for n in (1, 2, 5, 24, 25, 30, 999, 1_000_000):
        at = tidy_scale(1, n, about=10, whole=True).at
        assert all(tick == int(tick) for tick in at)
        assert len({b - a for a, b in zip(at, at[1:], strict=False)}) <= 1


def test_very_small_numbers_share_a_power_of_ten() -> None:
    scale = tidy_scale(0, 4.2e-7, about=4)
    assert scale.power == -7
    assert [scale.label(at) for at in scale.at] == ["0", "1", "2", "3", "4"]


@pytest.mark.parametrize(("value", "text"), [
    (0.0, "0"), (14.9774, "14.98"), (-0.00123456, f"{MINUS}0.001235"), (15.0, "15"),
    (1234567.0, f"1{THIN}234{THIN}567"), (-5.5e-11, f"{MINUS}5.500 × 10^{MINUS}11"),
    (float("nan"), "none"), (-0.0, "0"),
])
def test_numbers_in_sentences(value: float, text: str) -> None:
    assert short(value) == text


def test_minus_nothing_is_nothing() -> None:
    assert grouped(-0.001, 2) == "0.00"


@pytest.mark.parametrize(("reach", "decimals"), [(16.3, 4), (0.11, 6), (0, 0), (1e9, None)])
def test_columns_of_numbers_have_as_many_decimals(reach: float, decimals: int | None) -> None:
    assert places(reach, 6) == decimals


@given(text=st.text(max_size=300), room=st.floats(30, 400))
def test_lines_fit_and_lose_nothing(text: str, room: float) -> None:
    lines = wrapped(text, 14, room)
    assert re.sub("[ \t\r\n]", "", "".join(lines)) == re.sub("[ \t\r\n]", "", text)
    assert all(width(line, 14) <= room or len(line) == 1 for line in lines)


def test_cut_text_says_that_it_is_cut() -> None:
    assert cut("shift", 13, 100) == "shift"
    short_one = cut("a very long name of a shift", 13, 60)
    assert short_one.endswith("…")
    assert width(short_one, 13) <= 60
    assert brief(" two\nlines ") == "two lines"
    assert len(brief("w" * 5000)) == 40


def test_what_the_font_covers() -> None:
    assert covered("Größe Ł 12 µm".replace("µ", "u"))
    assert not covered("漢字")


def test_lines_break_where_a_point_has_no_value() -> None:
    path = line_path(plot(5), np.array([1.0, 2.0, np.nan, 4.0, 5.0]), 1)
    assert path.count("M") == 2
    assert "nan" not in path
    assert places_of(path) == [(10, 90), (30, 80), (70, 60), (90, 50)]


def test_a_band_steps_with_its_limits_in_the_middle_of_nothing() -> None:
    inner, outer = band_paths(plot(2), np.array([1.0, 2.0]), np.array([9.0, 8.0]), 1)
    assert outer is None
    assert places_of(inner) == [
        (0, 10), (50, 10), (50, 20), (100, 20), (100, 80), (50, 80), (50, 90), (0, 90)]


def test_a_limit_that_does_not_exist_leaves_the_band_open() -> None:
    inner, _ = band_paths(plot(1), np.array([np.nan]), np.array([5.0]), 1)
    assert places_of(inner) == [(0, 50), (100, 50), (100, 100), (0, 100)]


def test_equal_limits_are_one_step_however_many_points() -> None:
    limits = np.broadcast_to(np.float64(5), (100_000,))
    inner, outer = band_paths(plot(100_000), limits - 2, limits, 1)
    assert outer is None
    assert len(places_of(inner)) == 4


def test_crowded_points_keep_their_whole_span_and_their_middle_half() -> None:
    n = 100_000
    value = np.tile(np.linspace(2, 6, 100), n // 100)
    value[12_345], value[77_777] = 9.9, 0.1
    whole, half = span_paths(plot(n), value, 1)
    y = [y for _, y in places_of(whole)]
    assert min(y) == pytest.approx(1)   # 9.9 is seen
    assert max(y) == pytest.approx(99)  # and 0.1
    middle = {y for _, y in places_of(half)}
    assert all(49.5 < y < 70.5 for y in middle)
    assert len(whole) < 5_000


@given(st.lists(st.floats(0, 10) | st.just(float("nan")), min_size=300, max_size=700))
def test_no_crowded_value_lies_outside_its_column(values: list[float]) -> None:
    value = np.array(values)
    if np.isnan(value).all():
        return
    corners = places_of(span_paths(plot(len(value)), value, 1)[0])
    y = [y for _, y in corners]
    assert min(y) <= 100 - 10 * np.nanmax(value) + 0.06
    assert max(y) >= 100 - 10 * np.nanmin(value) - 0.06


def test_crowded_limits_show_what_they_share_and_what_any_reaches() -> None:
    n = 10_000
    upper = np.where(np.arange(n) % 2, 8.0, 6.0)
    inner, outer = band_paths(plot(n), np.full(n, 1.0), upper, 1)
    assert outer is not None
    assert min(y for _, y in places_of(inner)) == 40
    assert min(y for _, y in places_of(outer)) == 20


def test_a_crowded_centre_line_is_the_mean_of_its_column() -> None:
    n = 10_000
    path = step_path(plot(n), np.where(np.arange(n) % 2, 4.0, 6.0), 1)
    assert {y for _, y in places_of(path)} == {50}


def test_every_mark_is_drawn_and_those_on_one_pixel_once() -> None:
    x = np.array([1.0, 1.2, 5.0])
    y = np.array([2.0, 2.1, 7.0])
    assert len(seen_once(x, y, most=3)) == 3
    assert seen_once(x, y, most=2) == [(1, 2), (5, 7)]


def test_text_is_escaped_and_powers_are_raised() -> None:
    assert "<b>" not in svg.text(0, 0, "<b>&", size=10, fill="red")
    raised = svg.text(0, 0, f"1 × 10^{MINUS}7 mm", size=10, fill="red")
    assert "^" not in raised
    assert f">{MINUS}7</tspan>" in raised


@pytest.mark.parametrize(("mine", "scheme"), [(LIGHT, "light"), (DARK, "dark")])
def test_colours_are_those_of_the_screens(mine, scheme: str) -> None:
    assert mine == {name: PALETTES[scheme][name] for name in mine}
    assert mine.keys() == BY_PAGE.keys()


def test_paper_has_the_same_colours() -> None:
    css = files("reports").joinpath("paper.css").read_text(encoding="utf-8")
    for name in ("ink", "soft", "alarm"):
        assert f"--{name}: {LIGHT[name]};" in css
    page = files("reports").joinpath("paper.typ").read_text(encoding="utf-8")
    assert f'#let alarm = rgb("{LIGHT["alarm"]}")' in page


@pytest.mark.parametrize("palette", [LIGHT, DARK])
@pytest.mark.parametrize(("text", "ground"), [
    ("ink", "sheet"), ("soft", "sheet"), ("alarm", "sheet"), ("watch", "sheet"),
    ("alarm", "alarm-soft"), ("calm", "calm-soft"), ("band-ink", "band"), ("alarm", "accent-soft"),
])
def test_every_text_can_be_read_on_its_ground(palette, text: str, ground: str) -> None:
    assert contrast(palette[text], palette[ground]) >= 4.5  # WCAG 2.2, 1.4.3


@pytest.mark.parametrize("palette", [LIGHT, DARK])
@pytest.mark.parametrize("mark", ["ink", "alarm", "watch", "accent"])
def test_every_mark_stands_out_from_the_band(palette, mark: str) -> None:
    assert contrast(palette[mark], palette["accent-soft"]) >= 3  # WCAG 2.2, 1.4.11


@pytest.mark.parametrize(("low", "high", "labels"), [
    (0.9, 150.0, ["1", "2", "5", "10", "20", "50", "100"]),
    (0.9, 4e7, ["1", "10", "100", f"1{THIN}000", f"10{THIN}000", f"100{THIN}000",
                f"1{THIN}000{THIN}000", "10^7"]),
])
def test_ticks_by_ratio(low: float, high: float, labels: list[str]) -> None:
    scale = log_ticks(low, high, about=5)
    assert [scale.label(at) for at in scale.at] == labels


@given(low=st.floats(1e-3, 1e3), reach=st.floats(1.01, 1e9), about=st.integers(1, 12))
def test_ticks_by_ratio_stay_inside_and_few(low: float, reach: float, about: int) -> None:
    at = log_ticks(low, low * reach, about=about).at
    assert all(low * (1 - 1e-6) <= tick <= low * reach * (1 + 1e-6) for tick in at)
    assert len(at) <= 2 * about + 1


def test_names_above_a_field_do_not_lie_on_each_other() -> None:
    names = [(50.0, "lower limit 14"), (60.0, "target 15"), (62.0, "mean 15.1"), (380.0, "far")]
    placed = rows_of_names(names, 20, 400)
    assert [row for _, row, _ in placed] == [0, 1, 2, 0]
    assert all(x - width(text, 13, bold=True) / 2 >= 20 for x, _, text in placed)
    assert all(x + width(text, 13, bold=True) / 2 <= 400 for x, _, text in placed)
