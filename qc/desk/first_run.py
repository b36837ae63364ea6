"""The way from an empty store to the first record: what is done, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select

from qc.desk.shop import Shop
from qc.store.codes import known_codes
from qc.store.schema import inspections
from qc.store.settings import is_set

STEPS = ("shop", "press", "material", "record")


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstRun:
    """The steps that are done, of `STEPS`; the last is done once any look is recorded."""

    done: frozenset[str]

    @property
    def is_over(self) -> bool:
        """Whether the shop records pieces: then nobody needs the guide."""
        return "record" in self.done

    @property
    def next_step(self) -> str:
        """The first step that is not done; the last one when all are."""
        return next((step for step in STEPS if step not in self.done), STEPS[-1])


def first_run(shop: Shop) -> FirstRun:
    """How far the shop has come."""
    with shop.store.reading() as connection:
        recorded = connection.execute(select(inspections.c.number).limit(1)).first() is not None
    known = known_codes(shop.store)
    done = {
        # a name may have come from the command line: where the shop stands is asked all the same
        "shop": bool(shop.settings["shop_name"].strip()) and is_set(shop.store, "timezone"),
        "press": bool(known["presses"]),
        "material": bool(known["fabrics"] and known["transfers"]), "record": recorded,
    }
    return FirstRun(done=frozenset(step for step, is_done in done.items() if is_done))
