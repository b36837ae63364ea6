"""The part of `qc presses` on what was set against the recipes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qc.cli.lines import paragraph

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.recipe_words import SettingLine, SettingsInWords

MOST_ROWS = 8
MOST_SENTENCES = 4
STYLE = {"outside": "red", "moves": "yellow", "not_shown": "yellow", "inside": "green"}
TITLE = "Settings against recipe"
CAPTION = ("outside: of the pieces held against a window, with the 95 % interval of that share "
           "(Wilson); off target: set less target, median (middle 90 %)")


def show_settings(words: SettingsInWords, console: Console) -> None:
    """The rows that need a look, worst first, and what could not be told; nothing where no recipe
    is loaded."""
    if not words.found.n_recipes:
        return
    wanted = [line for line in words.lines if line.row.needs_a_look]
    shown = wanted[:MOST_ROWS]
    if shown:
        console.print(_table(shown))
    for line in shown:
        paragraph(console, _sentence(line), style=STYLE[line.state])
    paragraph(console, _rest(words, len(wanted) - len(shown), len(words.lines) - len(wanted)))
    sentences = [*words.faults, *(f"Cannot be told: {sentence}" for sentence in words.untold)]
    for sentence in sentences[:MOST_SENTENCES]:
        paragraph(console, sentence)
    if len(sentences) > MOST_SENTENCES:
        paragraph(console, f"And {len(sentences) - MOST_SENTENCES} more that the Presses page has.")


def _table(lines: list[SettingLine]) -> Any:
    from rich.box import SIMPLE_HEAD
    from rich.markup import escape
    from rich.table import Table

    table = Table(title=f"{TITLE}, most pieces outside first", box=SIMPLE_HEAD,
                  padding=(0, 1, 0, 0), caption=CAPTION)
    table.add_column("press", overflow="fold", min_width=4)
    table.add_column("what", no_wrap=True)
    for heading in ("outside", "95 %"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("off target", overflow="fold")
    for line in lines:
        row = line.row
        table.add_row(
            escape(row.press), line.what, f"{row.n_outside:,} of {row.n_told:,}", _interval(line),
            escape(_off_by(line)) or "–", style=STYLE[line.state])
    return table


def _off_by(line: SettingLine) -> str:
    return f"{line.off_by} ({line.off_range})" if line.off_range else line.off_by


def _interval(line: SettingLine) -> str:
    low, high = line.row.share_low, line.row.share_high
    if low is None or high is None:
        return "–"
    ends = (f"{100 * share:.1f}".removesuffix(".0") for share in (low, high))
    return f"{'–'.join(ends)} %"


def _sentence(line: SettingLine) -> str:
    """Since when, by whom, on what, and what else is to be known of a row."""
    parts = [part for part in (line.when, f"by {line.who}" if line.who else "",
                               f"on {line.on}" if line.on else "", *line.notes) if part]
    return f"{line.row.press} {line.what}: {'; '.join(parts)}."


def _rest(words: SettingsInWords, n_more: int, n_good: int) -> str:
    """How much else was held against recipes."""
    period = f"in the last {words.period}"
    if not words.found.n_pieces:
        return f"{TITLE}: no piece was pressed {period}."
    more = f"{n_more} more with pieces outside; " if n_more else ""
    held = f"{n_good} settings of presses without a piece outside"
    return f"{TITLE}: {more}{held}, {words.found.n_pieces:,} pieces {period}."
