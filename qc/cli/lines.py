"""Paragraphs in the terminal: no wider than it, no number parted from its unit."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console

KEPT_SPACE = "\u00a0"
"""A space at which no line is broken."""


def paragraph(console: Console, text: str, *, first: str = "", style: str = "") -> None:
    """A paragraph as it is written, whatever stands in it.

    Parameters
    ----------
    first : what the first line begins with, a number or a label behind spaces; later lines are
        set in as far as its spaces, at least two, or as far as a number and its full stop.
    """
    later = "   " if re.match(r"\d", first) else " " * max(2, len(first) - len(first.lstrip()))
    together = re.sub(r"(?<=\d) (?=\S)", KEPT_SPACE, text)
    lines = textwrap.wrap(
        together, console.width, initial_indent=first, subsequent_indent=later if first else "",
        break_long_words=False, break_on_hyphens=False,
    )
    for line in lines:
        console.print(line.replace(KEPT_SPACE, " "), style=style or None, highlight=False,
                      markup=False, soft_wrap=True)
