"""Who is known by name: from the records and the changes, without a list to keep."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.shop import Shop
from qc.store.people import NEWEST, authors_named, inspectors_named, operators_named

MOST_COUNTED = NEWEST
"""Looks and changes are counted over the newest so many."""
ROLES = ("operator", "inspector", "author")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """A name with what was recorded under it: pieces pressed, looks taken (of the newest), changes
    made (of the newest); ``last_us`` is the newest of all."""

    name: str
    n_pressed: int
    n_looks: int
    n_changes: int
    last_us: int


def people(shop: Shop) -> tuple[Person, ...]:
    """Everybody named, those seen last first."""
    named = (operators_named(shop.store), inspectors_named(shop.store), authors_named(shop.store))
    counts: dict[str, dict[str, int]] = {}
    last: dict[str, int] = {}
    for role, found in zip(ROLES, named, strict=True):
        for one in found:
            counts.setdefault(one.name, {})[role] = one.n
            last[one.name] = max(last.get(one.name, 0), one.last_us)
    known = [
        Person(name=name, n_pressed=n.get("operator", 0), n_looks=n.get("inspector", 0),
               n_changes=n.get("author", 0), last_us=last[name])
        for name, n in counts.items()
    ]
    return tuple(sorted(known, key=lambda one: (-one.last_us, one.name)))
