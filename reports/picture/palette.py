"""The colours of pictures, the same as the dashboard's: for a light sheet, a dark one, a page."""

from __future__ import annotations

from collections.abc import Mapping

Palette = Mapping[str, str]

LIGHT: Palette = {
    "ground": "#eee9df", "sheet": "#fbf9f4", "ink": "#18282e", "soft": "#4a595f",
    "rule": "#d5cebf", "edge": "#77807f", "accent": "#0a5866", "accent-soft": "#d3e5e6",
    "alarm": "#8f1d14", "alarm-soft": "#f9ddcf", "watch": "#8a6212", "watch-soft": "#f9edcb",
    "calm": "#0a5866", "calm-soft": "#d3e5e6", "band": "#0c3a44", "band-ink": "#f6f1e6",
    "thread": "#e0a13a",
}
DARK: Palette = {
    "ground": "#0f1719", "sheet": "#172225", "ink": "#edf2ef", "soft": "#aebbbc",
    "rule": "#2f4046", "edge": "#71858a", "accent": "#7ad0d9", "accent-soft": "#153f47",
    "alarm": "#f98a5e", "alarm-soft": "#4a2416", "watch": "#f6d873", "watch-soft": "#42350f",
    "calm": "#7ad0d9", "calm-soft": "#153f47", "band": "#0a262d", "band-ink": "#f1ede3",
    "thread": "#e0a13a",
}
BY_PAGE: Palette = {name: f"var(--{name})" for name in LIGHT}
"""Colours left to the page the picture stands in, which knows whether it is light or dark."""


def variables(palette: Palette) -> str:
    """The colours as declarations of a style sheet."""
    return "".join(f"--{name}:{colour};" for name, colour in palette.items())
