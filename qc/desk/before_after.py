"""Two stretches of time compared: the share before and after a moment, the mix allowed for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.desk.floor import usual_shares
from qc.desk.shop import Shop
from qc.desk.tallied import counted_hours
from qc.domain.instants import DAY_US, HOUR_US
from qc.errors import InputError
from qc.stats.comparing.intervals import wilson_interval
from qc.stats.comparing.spread import Spread, spread_about
from qc.stats.comparing.stratified import StratifiedComparison, compare_in_strata
from qc.store.codes import known_codes

FILTERS = ("press", "fabric", "transfer")
"""What a comparison can be narrowed to one level of; the code lists are these plus s or es."""
_LISTS = {"press": "presses", "fabric": "fabrics", "transfer": "transfers"}
VERDICTS = ("fell", "rose", "luck", "nothing")
SURE = 0.05
SOURCE = (
    "Ratio and difference within each fabric, transfer and place: Mantel & Haenszel (1959), 95 %"
    " intervals after Greenland & Robins (1985) and Klingenberg (2014), widened by how much days"
    " vary beyond chance (Pearson). Shares: Wilson (1927). Whole hours; work that was done on one"
    " side alone is left out of the comparison."
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
    compare. ``spread``: how much more days vary than chance.
    """

    of: Narrowed
    before: Side
    after: Side
    comparison: StratifiedComparison
    spread: Spread
    verdict: str
    as_of_us: int
    source: str = SOURCE


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
    The strata are the combinations of fabric, transfer and place. It says that a share moved, not
    why: whatever else changed at that moment changed with it.
    """
    _check(before, after, of)
    counts = counted_hours(shop, as_of_us=as_of_us, kind=of.kind)
    usual = usual_shares(counts)
    cells = counts.cells[counts.cells["hour_us"] <= as_of_us]
    if of.factor is not None:
        cells = cells[cells[of.factor] == of.level]
    parts = [_inside(cells, one) for one in (before, after)]
    spread = _spread(parts, usual)
    compared = _compared(*parts, spread=spread)
    return BeforeAfter(
        of=of, before=_side(parts[0], before), after=_side(parts[1], after), comparison=compared,
        spread=spread, verdict=verdict_of(compared), as_of_us=as_of_us)


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


def _inside(cells: pd.DataFrame, one: Stretch) -> pd.DataFrame:
    hour = cells["hour_us"].to_numpy(dtype=np.int64)
    return cells[(hour >= one.from_us) & (hour < one.until_us)]


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
    both["day"] = both["hour_us"] // DAY_US
    both["expected"] = both["n"] * both["cell"].map(usual)
    days = both.groupby(["side", "day"])[["n", "n_defective", "expected"]].sum().reset_index()
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
