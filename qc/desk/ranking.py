"""Which defects, presses, fabrics ... cost most, and which do worse than their mix explains."""

from __future__ import annotations

from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.ranking import DIMENSIONS, Pareto
from qc.errors import InputError
from qc.monitor.ranking import in_period, rank_levels, shift_labels
from qc.store.codes import known_codes
from qc.store.inspections import read_findings, read_looks

_COUNTED = ("piece_id", "location", "attempt", "stage", "inspected_at", "pressed_at", "pieces",
            "defective", "fabric", "transfer")


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
    columns = dict.fromkeys([*_COUNTED, *(n for n in by if n not in ("defect", "zone", "shift"))])
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=list(columns))
    counted = count_once(looks, read_findings(shop.store, as_of_us=as_of_us))
    pieces = counted.pieces
    if "shift" in by:
        pressed_us = pieces["pressed_at"].to_numpy(dtype="int64")
        pieces["shift"] = shift_labels(pressed_us, shop.zone, shop.shift_minutes)
    rows = rank_levels(counted, by=by, kinds=kinds, since_us=since_us, until_us=until_us)
    inside = in_period(pieces, since_us, until_us)
    return Pareto(
        by=by, kinds=kinds, since_us=since_us, until_us=until_us, as_of_us=as_of_us,
        n_pieces=int(pieces["n"].to_numpy(dtype="int64")[inside].sum()),
        n_defects=sum(row.n_defects for row in rows), rows=rows,
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
