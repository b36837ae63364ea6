"""A ranking of defects to take away: for the manager who asks for one pairing to be looked into."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from qc.domain.instants import from_us
from qc.domain.kinds import plain_name
from qc.domain.ranking import Pareto, ParetoRow, mix_of
from reports import wording
from reports.cells import count, long_minute
from reports.document import Cell, Column, Document, Facts, Paragraph, Table, Title

NUMBERS = ("share", "cumulative", "rate", "expected", "ratio", "ratio_low", "ratio_high")
MOST_NAMED = 5


def ranking_document(
    pareto: Pareto, *, shop_name: str, zone: ZoneInfo, price: float = 0.0, currency: str = ""
) -> Document:
    """The ranking as a document: what stands out in words, then every row with its numbers.

    ``price`` : what a piece with a defect costs, in ``currency``; 0: not said, and no cost is
    shown. Shares and ratios go out as numbers, levels as the codes they are stored by.
    """
    as_of = from_us(pareto.as_of_us, zone)
    by = wording.RANKING_AND.join(_dimension(name) for name in pareto.by)
    return Document(
        title=Title(over=shop_name, text=wording.RANKING_TITLE.format(by=by),
                    under=_under(pareto, zone, as_of)),
        blocks=(_facts(pareto), Paragraph(heading=wording.RANKING_HOW,
                                          text=_how(pareto.by))),
        main=_table(pareto, price, currency), as_of=as_of,
    )


def verdict(row: ParetoRow) -> str:
    """How a row stands beside its mix: 'more', 'fewer', or empty: not told from luck."""
    if not row.stands_out:
        return ""
    return "more" if row.n_defects > row.expected else "fewer"


def _under(pareto: Pareto, zone: ZoneInfo, as_of: datetime) -> str:
    kinds = ", ".join(plain_name(kind) for kind in pareto.kinds)
    what = wording.RANKING_KINDS.format(kinds=kinds) if kinds else wording.RANKING_ANY
    period = wording.RANKING_ALL if pareto.since_us is None else wording.RANKING_SINCE.format(
        since=long_minute(from_us(pareto.since_us, zone)))
    return wording.RANKING_UNDER.format(what=what, period=period, when=long_minute(as_of),
                                        zone=zone.key)


def _how(by: tuple[str, ...]) -> str:
    *first, last = (wording.RANKING_MIX[name] for name in mix_of(by))
    mix = f"{', '.join(first)} and {last}" if first else last
    return wording.RANKING_HOW_WORDS.format(mix=mix)


def _facts(pareto: Pareto) -> Facts:
    worse = [row for row in pareto.rows if verdict(row) == "more"]
    names = "; ".join(_level_words(pareto.by, row) for row in worse[:MOST_NAMED])
    pieces, defects, out = wording.RANKING_FACTS
    return Facts(pairs=((pieces, count(pareto.n_pieces)), (defects, count(pareto.n_defects)),
                        (out, names or wording.RANKING_NONE_OUT)))


def _level_words(by: tuple[str, ...], row: ParetoRow) -> str:
    return ", ".join(
        f"{_dimension(name)} {wording.NOT_SAID}" if level is None
        else plain_name(level) if name == "defect" else f"{_dimension(name)} {level}"
        for name, level in zip(by, row.level, strict=True))


def _dimension(name: str) -> str:
    return wording.DIMENSION_WORDS.get(name, name)


def _table(pareto: Pareto, price: float, currency: str) -> Table:
    names = wording.RANKING_COLUMNS
    levels = tuple(
        Column(key=name, name=_dimension(name).capitalize(),
               words=plain_name if name == "defect" else None) for name in pareto.by)
    money = () if not price else (Column(
        key="cost", kind="number",
        name=wording.RANKING_COST.format(currency=currency) if currency else names["cost"]),)
    columns = (
        *levels, Column(key="n_defects", name=names["n_defects"], kind="count"),
        Column(key="n_pieces", name=names["n_pieces"], kind="count"),
        *(Column(key=name, name=names[name], kind="number") for name in NUMBERS), *money,
        Column(key="stands_out", name=names["stands_out"],
               words=wording.RANKING_VERDICTS.__getitem__),
    )
    return Table(title=wording.RANKING_LIST, columns=columns,
                 rows=tuple(_row(row, price) for row in pareto.rows))


def _row(row: ParetoRow, price: float) -> tuple[Cell, ...]:
    numbers = (getattr(row, name) for name in NUMBERS)
    return (*row.level, row.n_defects, row.n_pieces,
            *(None if value is None else float(value) for value in numbers),
            *((row.n_defects * price,) if price else ()), verdict(row))
