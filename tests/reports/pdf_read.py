"""What is read off a PDF: by pdfium, which had no part in making it, and off its bytes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import pypdfium2
from pypdfium2 import raw

_STREAM = re.compile(rb"stream\r?\n.*?endstream", re.DOTALL)


@dataclass(frozen=True)
class Letter:
    """A letter that can be seen, and where it lies: points from the left and the bottom."""

    text: str
    left: float
    bottom: float
    right: float
    top: float


class Paper:
    """The pages of a PDF."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.pages = pypdfium2.PdfDocument(content)

    @cached_property
    def objects(self) -> bytes:
        """All that is not a stream of drawing or a font: what the file is and does."""
        return _STREAM.sub(b"", self.content)

    @cached_property
    def texts(self) -> list[str]:
        """The words of each page in reading order."""
        return [page.get_textpage().get_text_range().replace("\r", "") for page in self.pages]

    def n_tags(self, name: str) -> int:
        """How many elements of the kind the file tells a screen reader of."""
        return len(re.findall(rb"/StructElem/S/%s\b" % name.encode(), self.objects))

    def size(self, page: int) -> tuple[float, float]:
        return self.pages[page].get_size()

    def letters(self, page: int) -> Iterator[Letter]:
        text = self.pages[page].get_textpage()
        for at in range(text.count_chars()):
            shown = text.get_text_range(at, 1)
            if shown.strip():
                yield Letter(shown, *text.get_charbox(at))

    def shapes(self, page: int) -> list[tuple[float, float, float, float]]:
        """What is drawn beside letters: left, bottom, right, top."""
        return [thing.get_bounds() for thing in self.pages[page].get_objects()
                if thing.type == raw.FPDF_PAGEOBJ_PATH]

    def word(self, page: int, word: str) -> tuple[float, float, float, float]:
        """Where a word first stands."""
        letters = list(self.letters(page))
        line = "".join(letter.text for letter in letters)
        at = line.index("".join(word.split()))
        mine = letters[at:at + len("".join(word.split()))]
        return (min(one.left for one in mine), min(one.bottom for one in mine),
                max(one.right for one in mine), max(one.top for one in mine))


def dense(text: str) -> str:
    """Text without spaces and breaks, which a page puts where it wants."""
    return "".join(text.split())
