"""What pieces with a defect cost: counts times what the shop says one costs on average."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.desk.shop import Shop
from qc.desk.trends import RateTrend
from qc.domain.ranking import Pareto

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What a piece with a defect costs on average, in the shop's money (``currency`` may be
    empty)."""

    each: float
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QualityCost:
    """Cost of a period, step by step as in the trend it is made of.

    ``cost`` and ``usual`` (what the usual rates of the same work would have cost) have an entry
    for each step. ``per_hundred``: of a hundred pieces looked at; None without pieces.
    """

    price: Price
    n_pieces: int
    n_defective: int
    total: float
    usual_total: float
    per_hundred: float | None
    cost: Floats
    usual: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelCost:
    """Cost of a ranked level. ``beyond``: what it costs more than its mix of work explains, with
    its 95 % interval; below 0 where it costs less."""

    level: tuple[str | None, ...]
    n_defects: int
    cost: float
    share: float | None
    beyond: float
    low: float
    high: float
    stands_out: bool


def price_of(shop: Shop) -> Price | None:
    """The shop's price of a piece with a defect; None where it was not said."""
    each = float(shop.settings["defect_cost"])
    return Price(each=each, currency=str(shop.settings["currency"])) if each > 0 else None


def quality_cost(trend: RateTrend, price: Price) -> QualityCost:
    """Every piece with a defect at the price, whatever became of it.

    A piece counts once, however many kinds it shows: use a trend of pieces with any defect.
    """
    n, bad = int(trend.n_pieces.sum()), int(trend.n_defective.sum())
    usual = trend.usual * trend.n_pieces * price.each
    return QualityCost(
        price=price, n_pieces=n, n_defective=bad, total=bad * price.each,
        usual_total=float(usual.sum()), per_hundred=100 * price.each * bad / n if n else None,
        cost=price.each * trend.n_defective.astype(np.float64), usual=usual,
    )


def level_costs(pareto: Pareto, price: Price) -> tuple[LevelCost, ...]:
    """The price of each ranked level, in the order of the ranking.

    A piece with two kinds of defect is in two rows of a ranking by defect, so rows may add up to
    more than the period cost.
    """
    return tuple(
        LevelCost(
            level=row.level, n_defects=row.n_defects, cost=row.n_defects * price.each,
            share=row.share, beyond=(row.n_defects - row.expected) * price.each,
            low=((row.ratio_low or 0.0) - 1) * row.expected * price.each,
            high=((row.ratio_high or 0.0) - 1) * row.expected * price.each,
            stands_out=row.stands_out,
        )
        for row in pareto.rows
    )
