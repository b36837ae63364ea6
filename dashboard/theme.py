"""Colours, type and spacing of the dashboard, once: for the style sheet and for the figures.

Meaning never rests on colour: each state also has a shape and a word (`SHAPES`). Hues are blue
green, brick and ochre, apart in lightness too, so that they stay apart for people who lack one kind
of cone; every text colour reaches WCAG AA on every ground it is used on. The tests measure both.
"""

from __future__ import annotations

import json

import plotly.graph_objects as go

Palette = dict[str, str]

LIGHT: Palette = {
    "ground": "#eee9df", "sheet": "#fbf9f4", "raised": "#ffffff",
    "ink": "#18282e", "soft": "#4a595f", "rule": "#d5cebf", "edge": "#77807f",
    "accent": "#0a5866", "accent-soft": "#d3e5e6", "on-accent": "#ffffff",
    "alarm": "#8f1d14", "alarm-soft": "#f9ddcf", "watch": "#8a6212", "watch-soft": "#f9edcb",
    "calm": "#0a5866", "calm-soft": "#d3e5e6", "quiet": "#586663", "quiet-soft": "#e3e3dd",
    "band": "#0c3a44", "band-ink": "#f6f1e6", "band-soft": "#b9cfd0", "thread": "#e0a13a",
    "shade": "rgba(24,40,46,0.10)",
}
DARK: Palette = {
    "ground": "#0f1719", "sheet": "#172225", "raised": "#1e2c30",
    "ink": "#edf2ef", "soft": "#aebbbc", "rule": "#2f4046", "edge": "#71858a",
    "accent": "#7ad0d9", "accent-soft": "#153f47", "on-accent": "#0b2227",
    "alarm": "#f98a5e", "alarm-soft": "#4a2416", "watch": "#f6d873", "watch-soft": "#42350f",
    "calm": "#7ad0d9", "calm-soft": "#153f47", "quiet": "#9fadac", "quiet-soft": "#2b383c",
    "band": "#0a262d", "band-ink": "#f1ede3", "band-soft": "#9fb8ba", "thread": "#e0a13a",
    "shade": "rgba(0,0,0,0.45)",
}
PALETTES: dict[str, Palette] = {"light": LIGHT, "dark": DARK}

SERIES = {
    "light": ("#0a5866", "#9a481f", "#b3801a", "#977bde", "#1c2828", "#4c9872"),
    "dark": ("#7ad0d9", "#e99888", "#fce486", "#8b76a1", "#96999d", "#348d3b"),
}
HEAT = {
    "light": ((0.0, "#1d5f8f"), (0.25, "#9cc3da"), (0.5, "#f7f3ea"), (0.75, "#eeb28d"),
              (1.0, "#a63509")),
    "dark": ((0.0, "#6db4e6"), (0.25, "#2c526b"), (0.5, "#1e2c30"), (0.75, "#7d4329"),
             (1.0, "#ffa27b")),
}
"""Cold to hot about the setpoint: blue, the paper's own colour, vermilion."""

SHAPES = {"alarm": "▲", "watch": "◆", "calm": "●", "quiet": "○"}

FONT = "'Atkinson Hyperlegible Next Variable', 'Segoe UI', Roboto, 'Noto Sans', sans-serif"
TYPE_REM = {
    "small": 0.84, "body": 1.0, "lead": 1.15, "head": 1.35, "title": 1.8, "sign": 2.3,
}
"""The type scale, in rem of a 17 px root: a bright room is read from further off."""


def style_sheet() -> str:
    """The colours and the type scale as CSS variables, for both schemes."""
    sizes = "".join(f"--type-{name}:{size}rem;" for name, size in TYPE_REM.items())
    blocks = [
        f':root[data-mantine-color-scheme="{scheme}"]{{color-scheme:{scheme};{_variables(palette)}}}'
        for scheme, palette in PALETTES.items()
    ]
    on_paper = f":root[data-mantine-color-scheme]{{color-scheme:light;{_variables(LIGHT)}}}"
    paper = f"@media print{{{on_paper}}}"
    return f":root{{{sizes}--font:{FONT};{_variables(LIGHT)}}}" + "".join([*blocks, paper])


def _variables(palette: Palette) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in palette.items())


def to_light() -> str:
    """What each dark colour of a figure is in the light scheme, as JSON: for paper."""
    pairs = {"#ffffff": "#000000", "#000000": "#ffffff"}  # ink on a heat colour turns with it
    pairs |= {DARK[name]: LIGHT[name] for name in DARK if DARK[name].startswith("#")}
    pairs |= dict(zip(SERIES["dark"], SERIES["light"], strict=True))
    pairs |= {dark: light for (_, dark), (_, light) in zip(HEAT["dark"], HEAT["light"],
                                                           strict=True)}
    return json.dumps(pairs)


def figure_template(scheme: str) -> go.layout.Template:
    """The look of every figure: no frame, few lines, numbers in the page's own type."""
    colours = PALETTES[scheme]
    axis = {
        "gridcolor": colours["rule"], "linecolor": colours["edge"], "zeroline": False,
        "tickcolor": colours["edge"], "ticks": "outside", "ticklen": 5, "automargin": True,
        "title": {"font": {"size": 14, "color": colours["soft"]}, "standoff": 10},
        "tickfont": {"size": 14, "color": colours["soft"]},
    }
    layout = go.Layout(
        font={"family": FONT, "size": 15, "color": colours["ink"]},
        paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(0,0,0,0)",
        colorway=list(SERIES[scheme]), margin={"l": 8, "r": 16, "t": 12, "b": 8},
        hoverlabel={
            "bgcolor": colours["ink"], "bordercolor": colours["ink"], "align": "left",
            "font": {"family": FONT, "size": 15, "color": colours["sheet"]},
        },
        legend={"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 14},
                "itemclick": False, "itemdoubleclick": False},
        xaxis=axis | {"showgrid": False, "showline": True}, yaxis=axis, hovermode="closest",
        dragmode=False, separators=". ", barcornerradius=3,
    )
    return go.layout.Template(layout=layout)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two #rrggbb colours, 1..21.

    Source
    ------
    WCAG 2.2, definitions of contrast ratio and relative luminance.
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [channel / 255 for channel in _channels(colour)]
    red, green, blue = (
        p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def ink_on(colour: str) -> str:
    """Black or white, whichever reads better on a colour."""
    return max("#000000", "#ffffff", key=lambda ink: contrast(ink, colour))


def between(stops: tuple[tuple[float, str], ...], at: float) -> str:
    """The colour of a scale at a place 0..1."""
    inside = min(max(at, 0.0), 1.0)
    for (low, first), (high, second) in zip(stops, stops[1:], strict=False):
        if inside <= high:
            part = (inside - low) / (high - low)
            mixed = (round(a + part * (b - a))
                     for a, b in zip(_channels(first), _channels(second), strict=True))
            return "#" + "".join(f"{channel:02x}" for channel in mixed)
    return stops[-1][1]
