"""Colours as people see them: CIELAB, CIEDE2000, and the sight of people who lack one cone."""

from __future__ import annotations

import math
from collections.abc import Sequence

Lab = Sequence[float]
WHITE = (0.95047, 1.0, 1.08883)  # D65, 2 degrees (IEC 61966-2-1)


def linear(colour: str) -> list[float]:
    """Linear RGB 0..1 of #rrggbb (IEC 61966-2-1)."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


def seen_by(matrix: Sequence[Sequence[float]], rgb: Sequence[float]) -> list[float]:
    """Linear RGB as it looks under a matrix, kept inside what a screen shows."""
    return [min(max(sum(m * c for m, c in zip(row, rgb, strict=True)), 0.0), 1.0)
            for row in matrix]


def lab(rgb: Sequence[float]) -> tuple[float, float, float]:
    """CIELAB of linear RGB (IEC 61966-2-1 primaries; CIE 15:2004)."""
    r, g, b = rgb
    xyz = (0.4124 * r + 0.3576 * g + 0.1805 * b, 0.2126 * r + 0.7152 * g + 0.0722 * b,
           0.0193 * r + 0.1192 * g + 0.9505 * b)
    x, y, z = (_root(value / white) for value, white in zip(xyz, WHITE, strict=True))
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def _root(t: float) -> float:
    return t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29


def ciede2000(one: Lab, other: Lab) -> float:
    """Difference of two CIELAB colours after Sharma, Wu & Dalal (2005), equations 2 to 22."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean_c = (math.hypot(a1, b1) + math.hypot(a2, b2)) / 2
    stretch = 1 + 0.5 * (1 - math.sqrt(mean_c**7 / (mean_c**7 + 25**7)))
    c1, c2 = math.hypot(stretch * a1, b1), math.hypot(stretch * a2, b2)
    h1, h2 = (_hue(stretch * a, b) for a, b in ((a1, b1), (a2, b2)))
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    if c1 * c2 and turn == -180 and h2 > h1:
        turn = 180.0
    d_l, d_c, d_h = l2 - l1, c2 - c1, 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn) / 2)
    mean_l, mean_c, hue = (l1 + l2) / 2, (c1 + c2) / 2, _mean_hue(h1, h2, c1 * c2)
    t = (1 - 0.17 * _cos(hue - 30) + 0.24 * _cos(2 * hue) + 0.32 * _cos(3 * hue + 6)
         - 0.20 * _cos(4 * hue - 63))
    s_l = 1 + 0.015 * (mean_l - 50) ** 2 / math.sqrt(20 + (mean_l - 50) ** 2)
    s_c, s_h = 1 + 0.045 * mean_c, 1 + 0.015 * mean_c * t
    r_t = (-2 * math.sqrt(mean_c**7 / (mean_c**7 + 25**7))
           * math.sin(math.radians(60 * math.exp(-(((hue - 275) / 25) ** 2)))))
    return math.sqrt((d_l / s_l) ** 2 + (d_c / s_c) ** 2 + (d_h / s_h) ** 2
                     + r_t * (d_c / s_c) * (d_h / s_h))


def _hue(a: float, b: float) -> float:
    return math.degrees(math.atan2(b, a)) % 360 if a or b else 0.0


def _mean_hue(h1: float, h2: float, chroma: float) -> float:
    if chroma == 0:
        return h1 + h2
    if abs(h1 - h2) <= 180:
        return (h1 + h2) / 2
    return (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))
