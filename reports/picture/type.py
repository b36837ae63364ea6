"""The type of pictures: the bundled font, how wide words are in it, and where lines break.

The font is Atkinson Hyperlegible Next (SIL Open Font License, reports/fonts/LICENSE.txt): whole as
two TTF files for the PNG, and a part of it as WOFF2 that every SVG carries along, so that words
have the widths they were laid out with.
"""

from __future__ import annotations

import re
from base64 import b64encode
from functools import cache
from importlib.resources import files

FAMILY = "Atkinson Hyperlegible Next"
STACK = f"'{FAMILY}', 'Segoe UI', Roboto, 'Noto Sans', 'DejaVu Sans', sans-serif"
CAP = 0.67
"""Height of a capital letter, in em."""

_FIRST, _OTHER = 0x20, 0.6
_REGULAR = (
    280, 286, 301, 651, 592, 919, 731, 160, 299, 299, 485, 606, 210, 362, 210, 387, 648, 407, 548,
    576, 614, 588, 598, 510, 615, 595, 210, 210, 553, 628, 553, 480, 778, 626, 613, 645, 669, 569,
    552, 694, 694, 392, 512, 631, 541, 824, 693, 714, 592, 724, 614, 592, 558, 690, 593, 856, 623,
    575, 607, 317, 387, 344, 552, 372, 243, 525, 566, 485, 564, 538, 314, 558, 550, 252, 245, 492,
    262, 845, 550, 548, 566, 574, 349, 471, 326, 540, 461, 684, 481, 449, 460, 344, 237, 344, 555)
_BOLD = (
    312, 303, 390, 765, 610, 969, 725, 210, 335, 335, 485, 595, 271, 373, 272, 440, 659, 440, 579,
    600, 624, 607, 626, 537, 624, 571, 272, 272, 569, 612, 569, 547, 781, 678, 643, 658, 688, 597,
    566, 718, 701, 424, 561, 663, 552, 858, 717, 746, 629, 756, 650, 610, 607, 686, 644, 886, 685,
    650, 618, 340, 440, 344, 582, 400, 288, 552, 596, 510, 596, 563, 365, 593, 571, 300, 259, 555,
    318, 882, 571, 576, 596, 599, 376, 508, 376, 567, 530, 740, 539, 521, 505, 381, 254, 381, 537)
"""Advance widths of U+0020 to U+007E in thousandths of an em, from the font's own table."""
_COVERED = (
    (0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0xB4), (0xB6, 0x107), (0x10A, 0x113), (0x116, 0x11B),
    (0x11E, 0x123), (0x126, 0x127), (0x12A, 0x12B), (0x12E, 0x133), (0x136, 0x137),
    (0x139, 0x13E), (0x141, 0x148), (0x150, 0x155), (0x158, 0x15B), (0x15E, 0x165),
    (0x16A, 0x16B), (0x16E, 0x17E), (0x2009, 0x2009), (0x2013, 0x2014), (0x2018, 0x201A),
    (0x201C, 0x201E), (0x2022, 0x2022), (0x2026, 0x2026), (0x2212, 0x2212))
"""Characters the bundled font can draw; for others a font of the machine is needed."""


_WORD = re.compile(r"[^ \t\r\n]+")


def width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a text is, in the unit of ``size``; a close guess beyond plain letters."""
    table = _BOLD if bold else _REGULAR
    ems = sum(table[ord(c) - _FIRST] / 1000 if 0 <= ord(c) - _FIRST < len(table) else _OTHER
              for c in text)
    return size * ems


def cut(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """Text that fits the room; what is cut off shows as an ellipsis."""
    if width(text, size, bold=bold) <= room:
        return text
    while text and width(text + "…", size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def brief(text: str, most: int = 40) -> str:
    """A name on one line, of so many characters at most."""
    whole = " ".join(text.split())
    return whole if len(whole) <= most else whole[:most - 1].rstrip() + "…"


def wrapped(text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
    """Lines no wider than the room; a word wider than that is cut into pieces.

    Only plain spaces part words: a thin one holds the thousands of a number together.
    """
    lines: list[str] = []
    line = ""
    words = (part for word in _WORD.findall(text) for part in _pieces(word, size, room, bold))
    for word in words:
        longer = f"{line} {word}" if line else word
        if line and width(longer, size, bold=bold) > room:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines


def covered(text: str) -> bool:
    """Whether the bundled font can draw every character."""
    return all(any(low <= ord(c) <= high for low, high in _COVERED) for c in text)


@cache
def font_face() -> str:
    """The font as a rule of a style sheet that needs no other file."""
    font = files("reports").joinpath("fonts", "atkinson-hyperlegible-next-picture.woff2")
    data = b64encode(font.read_bytes()).decode("ascii")
    return (f"@font-face{{font-family:'{FAMILY}';font-weight:400 700;"
            f"src:url(data:font/woff2;base64,{data}) format('woff2')}}")


def _pieces(word: str, size: float, room: float, bold: bool) -> list[str]:
    pieces = []
    while width(word, size, bold=bold) > room and len(word) > 1:
        end = next((k for k in range(1, len(word)) if width(word[:k + 1], size, bold=bold) > room),
                   len(word))
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word]
