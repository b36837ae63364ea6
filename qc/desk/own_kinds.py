"""Kinds of defect: the trade's list, and what a shop adds to it."""

from __future__ import annotations

from qc.desk.keeping import LONGEST_CODE, check_name
from qc.desk.shop import Shop
from qc.domain.kinds import defect_kinds, plain_name
from qc.errors import FormError
from qc.intake.defects import read_defects
from qc.store.codes import OwnKind, add_kind, own_kinds

__all__ = ["OwnKind", "add_own_kind", "kinds_of_shop"]


def kinds_of_shop(shop: Shop) -> tuple[OwnKind, ...]:
    """The kinds this shop added, in the order they were."""
    return tuple(kind for kind in own_kinds(shop.store) if kind.code not in defect_kinds())


def add_own_kind(shop: Shop, words: str, *, by: str, at_us: int) -> str:
    """Add a kind of defect from what a person calls it; the code it is kept under.

    Raises
    ------
    FormError
        Nothing is written, it cannot be a code, or it is known already.
    """
    check_name(by)
    code = "_".join(words.casefold().split())
    if not code:
        raise FormError({"kind": ["it is blank: it is needed"]})
    read = read_defects(code, None, decimal_comma=False)
    if read.problems or [entry[0] for entry in read.entries] != [code]:
        raise FormError({"kind": [f"{words.strip()!r} cannot be a kind; use letters, digits and"
                                  " blanks"]})
    if len(code) > LONGEST_CODE:
        raise FormError({"kind": [f"it has {len(code)} characters; write {LONGEST_CODE} at most"]})
    known = _known(shop).get(_letters(words))
    if known is not None or not add_kind(shop.store, code, by=by.strip(), at_us=at_us):
        called = plain_name(known or code)
        same = called.casefold() == words.strip().casefold()
        raise FormError({"kind": [f"{words.strip()!r} is on the list already"
                                  + ("" if same else f", as {called}")]})
    return code


def _known(shop: Shop) -> dict[str, str]:
    """Every kind by the letters of its code and by those of its name: people choose by the name."""
    codes = [*defect_kinds(), *(kind.code for kind in own_kinds(shop.store))]
    return {_letters(words): code for code in codes for words in (code, plain_name(code))}


def _letters(words: str) -> str:
    """What is left of words when case, blanks and points do not count."""
    return "".join(filter(str.isalnum, words.casefold()))
