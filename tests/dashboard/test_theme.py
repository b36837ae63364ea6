"""Colours: WCAG 2.2 contrast of everything that is read, in both schemes."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from dashboard import theme
from dashboard.theme import HEAT, PALETTES, SERIES, SHAPES, between, contrast, ink_on

GROUNDS = ("ground", "sheet", "raised")
TEXTS = ("ink", "soft", "accent")
ASSETS = Path(theme.__file__).parent / "assets"


def test_contrast_of_known_colours() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 is the lightest grey that passes AA on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") < 4.5


@pytest.mark.parametrize(("scheme", "text", "ground"),
                         list(itertools.product(PALETTES, TEXTS, GROUNDS)))
def test_text_reads_on_every_ground(scheme: str, text: str, ground: str) -> None:
    assert contrast(PALETTES[scheme][text], PALETTES[scheme][ground]) >= 4.5


@pytest.mark.parametrize("scheme", PALETTES)
def test_states_read_on_their_own_ground_and_on_paper(scheme: str) -> None:
    colours = PALETTES[scheme]
    for tone in SHAPES:
        assert contrast(colours[tone], colours[f"{tone}-soft"]) >= 4.5, tone
        assert contrast(colours[tone], colours["sheet"]) >= 4.5, tone
        assert contrast(colours["ink"], colours[f"{tone}-soft"]) >= 4.5, tone
    assert contrast(colours["on-accent"], colours["accent"]) >= 4.5
    assert contrast(colours["band-ink"], colours["band"]) >= 4.5
    assert contrast(colours["band-soft"], colours["band"]) >= 4.5


@pytest.mark.parametrize("scheme", PALETTES)
def test_edges_of_controls_and_marks_can_be_seen(scheme: str) -> None:
    """WCAG 2.2, 1.4.11: 3:1 for what is needed to find a control or read a figure."""
    colours = PALETTES[scheme]
    for ground in GROUNDS:
        assert contrast(colours["edge"], colours[ground]) >= 3, ground
    for colour in SERIES[scheme]:
        assert contrast(colour, colours["sheet"]) >= 3


@pytest.mark.parametrize("scheme", HEAT)
def test_numbers_read_on_every_cell_of_a_map(scheme: str) -> None:
    for step in range(101):
        cell = between(HEAT[scheme], step / 100)
        assert contrast(ink_on(cell), cell) >= 4.5


def test_colours_between_stops() -> None:
    stops = ((0.0, "#000000"), (1.0, "#ffffff"))
    assert [between(stops, at) for at in (-1, 0, 0.5, 1, 2)] == [
        "#000000", "#000000", "#808080", "#ffffff", "#ffffff"]


def test_every_state_has_a_shape_of_its_own() -> None:
    assert len(set(SHAPES.values())) == len(SHAPES)


def test_the_style_sheet_uses_only_variables_that_exist() -> None:
    css = (ASSETS / "base.css").read_text(encoding="utf-8")
    made = set(re.findall(r"--([a-z-]+):", theme.style_sheet())) | {
        "corner", "heat-light", "heat-dark"}  # set where they are used
    assert set(re.findall(r"var\(--([a-z-]+)\)", css)) <= made


def test_nothing_is_asked_of_another_host() -> None:
    for asset in (*ASSETS.glob("*.css"), *ASSETS.glob("*.js")):
        assert not re.search(r"https?://|//[a-z]+\.", asset.read_text(encoding="utf-8")), asset
