"""Two stretches of time compared: the share before and after a moment, the mix allowed for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.desk.stream_charts.steps import steps_between
from qc.desk.tallied import CountedHours, counted_spans
from qc.domain.instants import DAY_US, HOUR_US
from qc.errors import InputError
from qc.stats.comparing.against_usual import compare_to_usual
from qc.stats.comparing.intervals import wilson_interval
from qc.stats.comparing.spread import Spread, spread_about
from qc.stats.comparing.stratified import StratifiedComparison, compare_in_strata
from qc.store.codes import known_codes

FILTERS = ("press", "fabric", "transfer")
"""What a comparison can be narrowed to one level of; the code lists are these plus s or es."""
_LISTS = {"press": "presses", "fabric": "fabrics", "transfer": "transfers"}
VERDICTS = ("fell", "rose", "luck", "nothing")
SURE = 0.05
ENOUGH_ALIKE = 0.5
"""With a smaller part of the pieces after on work that was done before, the usual rates help."""
SOURCE = (
    "Ratio and difference within each fabric, transfer and place: Mantel & Haenszel (1959), 95 %"
    " intervals after Greenland & Robins (1985) and Klingenberg (2014), widened by how much days"
    " vary beyond chance (Pearson). Shares: Wilson (1927). Whole hours; work that was done on one"
    " side alone is left out of the comparison."
)
SOURCE_BY_USUAL = (
    "Each stretch over what the usual rates of its fabric, transfer and place give, from all other"
    " records and taken as known; ratio of the two: exact 95 % interval (Breslow & Day, 1987),"
    " widened by how much days vary beyond chance (Pearson). Shares: Wilson (1927). Whole hours."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """From (inclusive) to until (exclusive), microseconds UTC."""

    from_us: int
    until_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowed:
    """What is compared: pieces with a kind of defect (None: any), of one level of a factor of
    `FILTERS` (None: all work)."""

    kind: str | None = None
    factor: str | None = None
    level: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One stretch as it was: whole counts, and the share with its interval (None: no pieces)."""

    stretch: Stretch
    n_pieces: int
    n_defective: int
    share: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeforeAfter:
    """Both sides, and the later against the earlier.

    ``verdict``, of `VERDICTS`: fell or rose by more than luck, not told from luck, or nothing to
    compare. ``spread``: how much more days vary than chance. ``by_usual``: too little work was
    done on both sides, so each was held against the shop's usual rates for its own.
    """

    of: Narrowed
    before: Side
    after: Side
    comparison: StratifiedComparison
    spread: Spread
    verdict: str
    as_of_us: int
    by_usual: bool = False

    @property
    def as_before(self) -> float | None:
        """The share after, had its work come out as before; None where that cannot be said."""
        ratio, n = self.comparison.ratio.value, self.comparison.n_inspected
        return self.comparison.n_defective / n / ratio if n and 0 < ratio < float("inf") else None

    @property
    def source(self) -> str:
        return SOURCE_BY_USUAL if self.by_usual else SOURCE


def around(at_us: int, days: int, *, as_of_us: int) -> tuple[Stretch, Stretch]:
    """As long before a moment as after it; the later stretch ends at the latest now.

    The hour of the moment itself belongs to neither side where it began before the moment.
    """
    first, last = at_us // HOUR_US * HOUR_US, -(-at_us // HOUR_US) * HOUR_US
    return (Stretch(from_us=first - days * DAY_US, until_us=first),
            Stretch(from_us=last, until_us=max(min(last + days * DAY_US, as_of_us + 1), last + 1)))


def before_after(
    shop: Shop, before: Stretch, after: Stretch, *, of: Narrowed, as_of_us: int
) -> BeforeAfter:
    """The shares of two stretches, and how far the later is from the earlier at equal work.

    Parameters
    ----------
    before, after : stretches that do not overlap; hours that begin inside them count
    of : what is compared

    Raises
    ------
    InputError
        The stretches overlap or are upside down, or the factor is not one of `FILTERS`.

    Notes
    -----
    The strata are the combinations of fabric, transfer and place. Where less than `ENOUGH_ALIKE`
    of the pieces after have like work before, each side is held against the usual rates of its own
    work instead, from the records of everything else. It says that a share moved, not why:
    whatever else changed at that moment changed with it.
    """
    _check(before, after, of)
    sides = [_days(shop, one, as_of_us) for one in (before, after)]
    counts = counted_spans(shop, [day for side in sides for day in side], as_of_us=as_of_us,
                           kind=of.kind, only=_only(of))
    is_before = counts.cells["span"] < len(sides[0])
    parts = [counts.cells[is_before], counts.cells[~is_before]]
    spread = _spread(parts, counts.usual)
    compared = _compared(*parts, spread=spread)
    by_usual = _by_usual(counts, parts, compared, spread=spread)
    compared = by_usual or compared
    return BeforeAfter(
        of=of, before=_side(parts[0], before), after=_side(parts[1], after), comparison=compared,
        spread=spread, verdict=verdict_of(compared), as_of_us=as_of_us,
        by_usual=by_usual is not None)


def levels_to_compare(shop: Shop) -> tuple[tuple[str, str], ...]:
    """Every (factor, level) that a comparison can be narrowed to."""
    known = known_codes(shop.store)
    return tuple((factor, level) for factor in FILTERS for level in sorted(known[_LISTS[factor]]))


def verdict_of(compared: StratifiedComparison) -> str:
    """What may be said of the later stretch."""
    if compared.n_inspected == 0 or compared.n_defective + compared.reference_defective == 0:
        return "nothing"
    if not compared.judged_p < SURE or compared.ratio.low <= 1 <= compared.ratio.high:
        return "luck"
    return "fell" if compared.ratio.high < 1 else "rose"


def _check(before: Stretch, after: Stretch, of: Narrowed) -> None:
    for one in (before, after):
        if one.from_us >= one.until_us:
            raise InputError("a stretch ends before it begins")
    if before.until_us > after.from_us:
        raise InputError("the two stretches overlap; the later must begin where the earlier ends,"
                         " or after it")
    if of.factor is not None and of.factor not in FILTERS:
        raise InputError(f"cannot compare one {of.factor!r}; allowed: {', '.join(FILTERS)}")


def _only(of: Narrowed) -> dict[str, str]:
    return {} if of.factor is None else {of.factor: of.level or ""}


def _days(shop: Shop, one: Stretch, as_of_us: int) -> list[tuple[int, int]]:
    """The shop's days of a stretch, up to now; at least one, which may be empty."""
    until = min(one.until_us, as_of_us + 1)
    return steps_between(shop, one.from_us, until, "day") or [(one.from_us, one.from_us)]


def _side(cells: pd.DataFrame, one: Stretch) -> Side:
    n, bad = int(cells["n"].sum()), int(cells["n_defective"].sum())
    bad = min(bad, n)
    if n == 0:
        return Side(stretch=one, n_pieces=0, n_defective=0, share=None, low=None, high=None)
    share = wilson_interval(bad, n)
    return Side(stretch=one, n_pieces=n, n_defective=bad, share=float(share.share),
                low=float(share.low), high=float(share.high))


def _spread(parts: list[pd.DataFrame], usual: pd.Series) -> Spread:
    """How much days vary beyond chance within each side, at the usual rates of their work."""
    both = pd.concat([part.assign(side=number) for number, part in enumerate(parts)])
    both["expected"] = both["n"] * both["cell"].map(usual)
    days = both.groupby(["side", "span"])[["n", "n_defective", "expected"]].sum().reset_index()
    days = days[days["n"] > 0]
    if not len(days):
        return Spread(times=1.0, freedom=0, is_known=False)
    seen = np.minimum(days["n_defective"], days["n"])
    return spread_about(seen, days["expected"], days["n"], days["side"])


def _compared(before: pd.DataFrame, after: pd.DataFrame, *, spread: Spread) -> StratifiedComparison:
    sides = [part.groupby("cell")[["n_defective", "n"]].sum() for part in (after, before)]
    cells = sides[0].index.union(sides[1].index)
    if not len(cells):
        return compare_in_strata([0], [0], [0], [0], spread=spread.times)
    (d, n), (d0, n0) = (
        (np.minimum(side["n_defective"], side["n"]), side["n"])
        for side in (part.reindex(cells, fill_value=0) for part in sides))
    return compare_in_strata(d, n, d0, n0, spread=spread.times)


def _by_usual(
    counts: CountedHours, parts: list[pd.DataFrame], compared: StratifiedComparison, *,
    spread: Spread,
) -> StratifiedComparison | None:
    """Both sides against the usual rates of their work, where little of it is the same; None where
    enough is, or where the usual rates know no more of it."""
    if compared.n_inspected >= ENOUGH_ALIKE * parts[1]["n"].sum():
        return None
    others = counts.usual_without(pd.concat(parts))
    sides = []
    for part in (parts[1], parts[0]):
        rate = part["cell"].map(others)
        known = part[rate.notna()]
        n = int(known["n"].sum())
        sides.append((min(int(known["n_defective"].sum()), n), n,
                      float((known["n"] * rate[rate.notna()]).sum())))
    (d, n, expected), (d0, n0, expected_before) = sides
    if n <= compared.n_inspected or not (expected > 0 and expected_before > 0):
        return None
    return compare_to_usual(d, n, expected, d0, n0, expected_before, spread=spread.times)
