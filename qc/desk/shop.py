"""A shop: its open store with its settings."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from qc.config import clock_minutes, zone_of
from qc.domain.instants import iso
from qc.store import Store, open_store
from qc.store.settings import read_settings


@dataclass(frozen=True, slots=True)
class Shop:
    """An open store and the settings it had when opened."""

    store: Store
    settings: dict[str, str]

    @property
    def zone(self) -> ZoneInfo:
        return zone_of(self.settings["timezone"])

    @property
    def name(self) -> str:
        return self.settings["shop_name"]

    @property
    def shift_minutes(self) -> tuple[int, ...]:
        """Minutes after local midnight at which shifts begin."""
        return clock_minutes(self.settings["shift_starts"])

    def iso(self, instant_us: int) -> str:
        """An instant as ISO 8601 in the shop's zone."""
        return iso(instant_us, self.zone)


def open_shop(place: str, *, create: bool = False) -> Shop:
    """Open the shop whose store is at a SQLite path or database URL; StoreError if it cannot be."""
    store = open_store(place, create=create)
    return Shop(store, read_settings(store))
