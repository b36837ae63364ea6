"""Presses, fabrics, transfers, places and own kinds that are no longer used, and used again.

They leave the lists people choose from; records keep them, files may name them, and what is known
of them is answered as before.
"""

from __future__ import annotations

from collections.abc import Mapping

from qc.desk.lists import one_listed
from qc.desk.own_kinds import kinds_of_shop
from qc.desk.shop import Shop
from qc.errors import InputError, NotFound
from qc.store.retiring import BRING_BACK, RETIRE, Retired, read_retired, take_list_step

__all__ = ["CAN_RETIRE", "Retired", "bring_back", "retire", "retired"]

CAN_RETIRE = ("presses", "fabrics", "transfers", "placements", "kinds")


def retired(shop: Shop, *, as_of_us: int | None = None) -> Mapping[str, Mapping[str, Retired]]:
    """What is no longer used as of a moment, by list and code."""
    found: dict[str, dict[str, Retired]] = {kind: {} for kind in CAN_RETIRE}
    for one in read_retired(shop.store, as_of_us=as_of_us):
        found[one.kind][one.code] = one
    return found


def retire(shop: Shop, kind: str, code: str, *, by: str, at_us: int) -> bool:
    """Say that an entry of a list is no longer used; False where that was said already.

    Raises
    ------
    InputError
        Entries of this list cannot be put away, or nobody is named.
    NotFound
        There is no such entry; the trade's own kinds of defect cannot be put away.
    """
    _check(shop, kind, code, at_us)
    return take_list_step(shop.store, kind, code, RETIRE, by=by, at_us=at_us)


def bring_back(shop: Shop, kind: str, code: str, *, by: str, at_us: int) -> bool:
    """Use it again; the same errors."""
    _check(shop, kind, code, at_us)
    return take_list_step(shop.store, kind, code, BRING_BACK, by=by, at_us=at_us)


def _check(shop: Shop, kind: str, code: str, at_us: int) -> None:
    if kind not in CAN_RETIRE:
        raise InputError(f"{kind!r} cannot be put away; there are: {', '.join(CAN_RETIRE)}")
    if kind != "kinds":
        one_listed(shop, kind, (code,), as_of_us=at_us)
    elif code not in {one.code for one in kinds_of_shop(shop)}:
        raise NotFound(f"{code!r} is not a kind of the shop's own")
