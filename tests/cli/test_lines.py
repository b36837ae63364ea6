"""Paragraphs in the terminal: as wide as it, set in under their label, nothing of them read."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from qc.cli.lines import paragraph

WORDS = "Upper platen of press P6: 8.6 °C between its hottest and coldest point, was 2.6 °C."


def shown(text: str, *, first: str = "", width: int = 30) -> list[str]:
    console = Console(file=io.StringIO(), width=width)
    paragraph(console, text, first=first)
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined]


@pytest.mark.parametrize("width", [20, 30, 80])
def test_no_line_is_wider_than_the_terminal_and_no_word_is_lost(width: int) -> None:
    lines = shown(WORDS, width=width)
    assert max(map(len, lines)) <= width
    assert " ".join(lines) == WORDS


def test_a_number_keeps_its_unit() -> None:
    for width in range(12, 60):
        assert not any(line.endswith("8.6") for line in shown(WORDS, width=width))


@pytest.mark.parametrize(("first", "inset"), [
    ("1. ", "   "), ("   To do: ", "   "), ("    action: ", "    "), ("  ", "  "), ("Note: ", "  "),
    ("", ""),
])
def test_later_lines_stand_under_their_label(first: str, inset: str) -> None:
    head, *later = shown(WORDS, first=first)
    assert head.startswith(f"{first}Upper") and later
    assert all(line.startswith(inset) and line[len(inset)] != " " for line in later)


def test_words_in_brackets_are_words() -> None:
    assert shown("[red]x[/red] stays") == ["[red]x[/red] stays"]
