"""What the documents say, in a form that tests can hold against the program."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md")
SHELLS = frozenset({"sh", "powershell"})

_FENCE = re.compile(r"^```(\w*)[ ]*([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_INLINE = re.compile(r"`([^`\n]+)`")
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ +(.+)$", re.MULTILINE)
_NOT_IN_ANCHORS = re.compile(r"[^\w\- ]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One fenced block: its language, the file name behind it, its text."""

    language: str
    file: str
    text: str


def text_of(document: str) -> str:
    """The whole document."""
    return (ROOT / document).read_text(encoding="utf-8")


def section(document: str, title: str) -> str:
    """The text under a heading of the second level, up to the next."""
    parts = re.split(r"^## +(.+)$", text_of(document), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))[title]


def blocks(document: str) -> list[Block]:
    """The fenced blocks, in order."""
    return [
        Block(language=found[1], file=found[2].strip(), text=found[3])
        for found in _FENCE.finditer(text_of(document))
    ]


def prose(document: str) -> str:
    """The document without its fenced blocks."""
    return _FENCE.sub("", text_of(document))


def example_files(document: str) -> dict[str, str]:
    """Files that the document shows whole: blocks with a file name behind their language."""
    return {block.file: block.text for block in blocks(document) if block.file}


def command_lines(document: str) -> list[list[str]]:
    """The `qc ...` lines of the shell blocks, split into arguments, without comments."""
    lines = (
        line.strip()
        for block in blocks(document) if block.language == "sh"
        for line in block.text.splitlines()
    )
    return [shlex.split(line, comments=True) for line in lines if line.startswith("qc ")]


def inline_code(document: str) -> set[str]:
    """Everything between single back-ticks."""
    return set(_INLINE.findall(prose(document)))


def links(document: str) -> list[str]:
    """Targets of links and pictures."""
    return _LINK.findall(prose(document))


def anchors(document: str) -> set[str]:
    """The names that headings can be linked by."""
    titles = (found[1].strip().lower() for found in _HEADING.finditer(prose(document)))
    return {_NOT_IN_ANCHORS.sub("", title).replace(" ", "-") for title in titles}
