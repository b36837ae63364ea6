"""Words set line by line down a page."""

from __future__ import annotations

from dataclasses import dataclass, field

from reports.picture import svg
from reports.picture.palette import Palette
from reports.picture.type import wrapped

PAD = 20.0
SMALL, BODY = 13.0, 14.5
"""Sizes of text: on axes and in the foot, and elsewhere."""
LINE = 1.34
"""Height of a line of text over its size."""


@dataclass(slots=True)
class Page:
    """Parts of a drawing so far, and how far down they reach."""

    width: float
    colours: Palette
    parts: list[str] = field(default_factory=list)
    y: float = 0.0

    @property
    def right(self) -> float:
        return self.width - PAD

    @property
    def room(self) -> float:
        return self.width - 2 * PAD

    def lines(self, text: str, *, size: float, fill: str, left: float = PAD) -> None:
        """Wrapped text from ``left`` to the right edge."""
        for line in wrapped(text, size, self.right - left):
            self.y += size * LINE
            self.parts.append(svg.text(left, self.y - 0.34 * size, line, size=size,
                                       fill=self.colours[fill]))
