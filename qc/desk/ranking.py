"""Which defects, presses, fabrics ... cost most, and which do worse than their mix explains."""

from __future__ import annotations

from dataclasses import replace

from qc.desk.ranked_sums import Ranking, recorded_sums, tallied_sums
from qc.desk.shop import Shop
from qc.desk.tallied import recorded_later
from qc.domain.ranking import DIMENSIONS, Pareto, ParetoRow
from qc.errors import InputError
from qc.monitor.ranking import rank_sums
from qc.store.codes import known_codes

LEAST_PIECES = 50
"""With fewer pieces a ratio says nothing. A proposed starting value, no source."""


def ranked_defects(
    shop: Shop, *, by: tuple[str, ...], as_of_us: int, kinds: tuple[str, ...] = (),
    since_us: int | None = None, until_us: int | None = None,
) -> Pareto:
    """Defects ranked by one or two dimensions, with what the mix of each level would give.

    Parameters
    ----------
    by : names from `qc.domain.ranking.DIMENSIONS`
    as_of_us : only what was recorded as happening up to here counts
    kinds : defect kinds to rank; all when empty
    since_us, until_us : pressed in this period (inclusive, exclusive); usual rates come from the
        whole history all the same

    Raises
    ------
    InputError
        A dimension or kind is not known, a dimension is named twice or more than two are, or the
        period ends before it begins.
    """
    _check(shop, by, kinds, since_us, until_us)
    asked = Ranking(by=by, kinds=kinds, since_us=since_us, until_us=until_us)
    if recorded_later(shop, as_of_us):
        sums = recorded_sums(shop, asked, as_of_us=as_of_us)
    else:
        sums = tallied_sums(shop, asked, as_of_us=as_of_us)
    rows = rank_sums(sums, by=by)
    return Pareto(
        by=by, kinds=kinds, since_us=since_us, until_us=until_us, as_of_us=as_of_us,
        n_pieces=int(sums.pieces["n"].sum()), n_defects=sum(row.n_defects for row in rows),
        rows=rows,
    )


def in_order(pareto: Pareto, order: str) -> Pareto:
    """The ranking in one of `ORDERS`, its running sum with it.

    By ratio: first what stands out with more than its mix gives, last what stands out with fewer,
    each from the highest ratio down: a high ratio of few pieces is mostly luck.
    """
    if order != "ratio":
        return pareto
    rows, so_far = [], 0
    for row in sorted(pareto.rows, key=_by_ratio):
        so_far += row.n_defects
        cumulative = so_far / pareto.n_defects if pareto.n_defects else None
        rows.append(replace(row, cumulative=cumulative))
    return replace(pareto, rows=tuple(rows))


def tells_apart(pareto: Pareto) -> bool:
    """Whether the ratios compare anything: there are `LEAST_PIECES`, and the usual rates rest on
    more than the very pieces that are ranked."""
    return pareto.n_pieces >= LEAST_PIECES and any(
        abs(row.n_defects - row.expected) > 1e-6 for row in pareto.rows)


def _by_ratio(row: ParetoRow) -> tuple[int, float, int]:
    group = 1
    if row.stands_out:
        group = 0 if row.n_defects > row.expected else 2
    return group, -(row.ratio if row.ratio is not None else -1.0), -row.n_defects


def _check(
    shop: Shop, by: tuple[str, ...], kinds: tuple[str, ...], since_us: int | None,
    until_us: int | None,
) -> None:
    unknown = [name for name in by if name not in DIMENSIONS]
    if unknown:
        raise InputError(f"cannot rank by {unknown[0]!r}; allowed: {', '.join(DIMENSIONS)},"
                         " or two of them joined by a comma")
    if not 1 <= len(by) <= 2 or len(set(by)) != len(by):
        raise InputError(f"cannot rank by {','.join(by)!r}; give one dimension or two different"
                         " ones, as in press,defect")
    own = known_codes(shop.store)["kinds"] if kinds else frozenset()
    strange = [kind for kind in kinds if kind not in own]
    if strange:
        raise InputError(f"there is no defect kind {strange[0]!r}; known: {', '.join(sorted(own))}")
    if since_us is not None and until_us is not None and since_us >= until_us:
        raise InputError(f"the period is empty: since {shop.iso(since_us)} is not before until"
                         f" {shop.iso(until_us)}")
