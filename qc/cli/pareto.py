"""`qc pareto`: ranked defects, each level against what its mix would give."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli.lines import paragraph
from qc.cli.shared import AsOf, Json, Store, answer, as_of_us, open_store

if TYPE_CHECKING:
    from rich.console import Console

    from qc.domain.ranking import Pareto, ParetoRow

By = Annotated[
    str, typer.Option("--by", metavar="DIM[,DIM]", help="defect, press, fabric, transfer, location,"
                      " operator, transfer_lot, garment_lot, job, zone, shift; or two of them."),
]
Kinds = Annotated[
    list[str] | None, typer.Option("--defect", metavar="KIND", show_default=False,
                                   help="Rank this kind of defect only; may be given again."),
]
Since = Annotated[
    str | None, typer.Option("--since", metavar="TIME", show_default=False,
                             help="Pieces pressed at or after this time."),
]
Until = Annotated[
    str | None, typer.Option("--until", metavar="TIME", show_default=False,
                             help="Pieces pressed before this time."),
]
MOST_LINES = 30
BAR_WIDTH = 4
"""So that the longest usual kinds stand on one line of 80 columns."""


def register(app: typer.Typer) -> None:
    """Add `qc pareto`."""
    app.command("pareto")(pareto)


def pareto(
    by: By = "defect", defect: Kinds = None, since: Since = None, until: Until = None,
    as_of: AsOf = None, json: Json = False, store: Store = None,
) -> None:
    """Rank defects, and tell which level does worse than its mix of work explains."""
    from qc.desk.ranking import ranked_defects
    from qc.domain.instants import parse_instant

    shop = open_store(store)
    result = ranked_defects(
        shop, by=tuple(part.strip() for part in by.split(",")), as_of_us=as_of_us(as_of, shop),
        kinds=tuple(defect or ()),
        since_us=None if since is None else parse_instant(since, shop.zone),
        until_us=None if until is None else parse_instant(until, shop.zone),
    )
    answer(result, as_json=json, to_json=_json, to_text=_text)


def _json(pareto: Pareto) -> dict[str, Any]:
    return {
        "by": list(pareto.by),
        "pieces": pareto.n_pieces,
        "rows": [_row_json(row) for row in pareto.rows],
    }


def _row_json(row: ParetoRow) -> dict[str, Any]:
    return {
        "level": list(row.level), "defects": row.n_defects, "pieces": row.n_pieces,
        "rate": row.rate, "share": row.share, "cumulative": row.cumulative,
        "expected": row.expected, "ratio": row.ratio, "ratio_low": row.ratio_low,
        "ratio_high": row.ratio_high, "stands_out": row.stands_out,
    }


def _text(pareto: Pareto, console: Console) -> None:
    from rich.table import Table

    if not pareto.rows:
        console.print(f"{pareto.n_pieces} pieces, nothing to rank")
        return
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), title=_title(pareto),
                  title_justify="left")
    for dimension in pareto.by:
        table.add_column(dimension, overflow="fold", min_width=6)
    table.add_column("", width=BAR_WIDTH, no_wrap=True)
    for heading in ("defects", "sum %", "pieces", "expected", "ratio (95 %)", ""):
        table.add_column(heading, justify="right", no_wrap=True)
    most = max(1, pareto.rows[0].n_defects)
    for row in pareto.rows[:MOST_LINES]:
        table.add_row(*_cells(row, most))
    console.print(table)
    _notes(pareto, console)


def _title(pareto: Pareto) -> str:
    what = ", ".join(pareto.kinds) or "defects"
    return f"{pareto.n_defects:,} {what} on {pareto.n_pieces:,} pieces"


def _cells(row: ParetoRow, most: int) -> tuple[str, ...]:
    bar = "█" * round(BAR_WIDTH * row.n_defects / most)
    return (
        *("(not said)" if name is None else name for name in row.level), bar,
        str(row.n_defects), _per_cent(row.cumulative), str(row.n_pieces), f"{row.expected:.1f}",
        _ratio(row), _verdict(row),
    )


def _verdict(row: ParetoRow) -> str:
    if not row.stands_out:
        return ""
    return "more" if row.n_defects > row.expected else "fewer"


def _per_cent(share: float | None) -> str:
    return "" if share is None else f"{100 * share:.0f}"


def _ratio(row: ParetoRow) -> str:
    if row.ratio is None or row.ratio_low is None or row.ratio_high is None:
        return "not known"
    return f"{row.ratio:.2f} ({row.ratio_low:.2f}-{row.ratio_high:.2f})"


def _notes(pareto: Pareto, console: Console) -> None:
    from qc.domain.ranking import mix_of

    left = len(pareto.rows) - MOST_LINES
    if left > 0:
        console.print(f"... and {left} more; --json has them all")
    paragraph(
        console, f"expected: what the mix of {', '.join(mix_of(pareto.by))} would give at the"
        " shop's usual rates. ratio: defects over expected, exact Poisson interval. more, fewer:"
        " differs from its mix, allowing for all levels compared (Benjamini-Hochberg, 5 %).",
        style="dim")
