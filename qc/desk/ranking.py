"""Which defects, presses, fabrics ... cost most, and which do worse than their mix explains."""

from __future__ import annotations

from qc.desk.ranked_sums import Ranking, recorded_sums, tallied_sums
from qc.desk.shop import Shop
from qc.desk.tallied import recorded_later
from qc.domain.ranking import DIMENSIONS, Pareto
from qc.errors import InputError
from qc.monitor.ranking import rank_sums
from qc.store.codes import known_codes


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
