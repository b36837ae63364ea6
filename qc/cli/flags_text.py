"""`qc flags` in the terminal: what a colleague would say, most urgent first."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from qc.cli.lines import paragraph
from qc.domain.flags import FACTORS, Flag, FlagList, StreamDelay
from qc.domain.instants import DAY_US, from_us

if TYPE_CHECKING:
    from rich.console import Console

NUMBERS = ("", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
NAME_WIDTH, DAYS_WIDTH = 18, 15
"""Characters of the columns of the table of delays, with their gaps."""


def show_flags(found: FlagList, zone: ZoneInfo, console: Console) -> None:
    """The flags, open ones first, with what the alarm budget promises."""
    open_flags = [flag for flag in found.flags if flag.is_open]
    ended = [flag for flag in found.flags if not flag.is_open]
    now = from_us(found.as_of_us, zone).strftime("%d %b %Y %H:%M")
    head = (f"Off now: {_flags(len(open_flags))}, most urgent first" if open_flags
            else "Nothing is off that is more than luck")
    paragraph(console, f"{head}. {_budget(found)} As of {now}.", style="bold")
    for number, flag in enumerate(open_flags, start=1):
        _show_flag(flag, zone, console, number)
    if ended:
        console.print("\nEnded, not yet closed", style="bold")
    for number, flag in enumerate(ended, start=len(open_flags) + 1):
        _show_flag(flag, zone, console, number)
    console.print()
    for caution in found.cautions:
        paragraph(console, f"Note: {caution}", style="yellow")
    paragraph(console, _watched(found), style="dim")


def show_delays(found: FlagList, console: Console) -> None:
    """Typical days to see a doubling: a row for each factor, the commonest defects beside."""
    if not found.delays:
        paragraph(console, "Too little is known yet to say how soon a doubling would be seen.")
        return
    from rich.table import Table

    kinds = _busiest(found.delays)[:max((console.width - NAME_WIDTH) // DAYS_WIDTH, 1)]
    table = Table(box=None, pad_edge=False)
    table.add_column("seen by", width=NAME_WIDTH - 2)
    for kind in kinds:
        table.add_column(kind.replace("_", " "), justify="right", width=DAYS_WIDTH - 2)
    for name in (name for name in FACTORS if any(one.factor == name for one in found.delays)):
        table.add_row(name.replace("_", " "), *(
            _middle(one for one in found.delays if (one.kind, one.factor) == (kind, name))
            for kind in kinds))
    paragraph(console, "Days of work until a doubling would be flagged, for the middle level of "
              "each:", style="bold")
    console.print(table)
    paragraph(console, f"'> 90': longer than a quarter of a year. {_budget(found)} A tripling "
              "shows sooner. Every stream: --delays --json.", style="dim")


def _show_flag(flag: Flag, zone: ZoneInfo, console: Console, number: int) -> None:
    console.print()
    paragraph(console, flag.message, first=f"{number}. ", style="bold" if flag.is_open else "")
    touches = f"Touches {_pieces(flag.pieces_at_risk)}{_began(flag, zone)}; flag {flag.id}."
    paragraph(console, f"{flag.sure} {touches}", first="   ")
    if flag.part_of is not None:
        paragraph(console, f"Explained since then by flag {flag.part_of}: see there.", first="   ")
        return
    paragraph(console, flag.next_step, first="   To do: ")
    if flag.settle:
        paragraph(console, flag.settle, first="   Then: ")


def _began(flag: Flag, zone: ZoneInfo) -> str:
    low, high = (from_us(us, zone) for us in flag.changed_between_us)
    if flag.changed_between_us[1] - flag.changed_between_us[0] < DAY_US:
        return ""
    return f" (began {low:%d %b} to {high:%d %b})"


def _pieces(n: int) -> str:
    return "1 piece" if n == 1 else f"{n:,} pieces"


def _flags(n: int) -> str:
    return "1 flag" if n == 1 else f"{n} flags"


def _budget(found: FlagList) -> str:
    """The alarm budget as people say it."""
    rate = found.false_flags_per_week
    weeks = round(1 / rate)
    if weeks <= 1:
        many = "one false flag" if rate == 1 else f"{rate:g} false flags"
        return f"By luck alone about {many} a week."
    said = NUMBERS[weeks] if weeks < len(NUMBERS) else str(weeks)
    return f"By luck alone about one false flag in {said} weeks."


def _watched(found: FlagList) -> str:
    line = f"{_pieces(found.n_pieces)}, {found.n_streams:,} streams watched."
    if found.doubling_delay_days is not None:
        whole = round(found.doubling_delay_days)
        days = "a day" if whole <= 1 else f"{whole} days"
        line += (f" A doubling of the most common defect on an ordinary press shows in about "
                 f"{days} (others: --delays).")
    return line


def _busiest(delays: Iterable[StreamDelay]) -> list[str]:
    """Kinds with most pieces first, by the factor that sees them best."""
    total: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for one in delays:
        total[one.kind][one.factor] += one.expected_per_day
    return sorted(total, key=lambda kind: -max(total[kind].values()))


def _middle(delays: Iterable[StreamDelay]) -> str:
    """The median over levels; a delay beyond the horizon counts as longest."""
    days = [one.days if one.days is not None else float("inf") for one in delays]
    if not days:
        return ""
    middle = statistics.median_high(days)
    return "> 90" if middle == float("inf") else f"{middle:.0f}"
