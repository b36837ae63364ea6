"""A shop: its open store with its settings, and what concerns the store as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import func, select

from qc import store as stores
from qc.config import clock_minutes, zone_of
from qc.domain.instants import from_us, iso
from qc.store import Store
from qc.store.backup import back_up as copy_store
from qc.store.checking import check_store
from qc.store.schema import case_steps, inspections, service_steps
from qc.store.settings import change_setting as set_one
from qc.store.settings import read_settings
from qc.store.tallies import rebuild_tallies


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

    def minute(self, instant_us: int) -> str:
        """An instant to the minute in the shop's zone, as it stands in a sentence."""
        return f"{from_us(instant_us, self.zone):%Y-%m-%d %H:%M}"


def open_shop(place: str, *, create: bool = False) -> Shop:
    """Open the shop whose store is at a SQLite path or database URL; StoreError if it cannot be."""
    store = stores.open_store(place, create=create)
    try:
        return Shop(store, read_settings(store))
    except BaseException:
        store.close()
        raise


def reread(shop: Shop) -> Shop:
    """The same open store with its settings as they are now."""
    return Shop(shop.store, read_settings(shop.store))


def change_setting(shop: Shop, *, name: str, value: str, by: str, at_us: int) -> Shop:
    """Set one setting; the shop as it is afterwards."""
    set_one(shop.store, name=name, value=value, by=by, at_us=at_us)
    return Shop(shop.store, read_settings(shop.store))


def newest_moment_us(shop: Shop) -> int:
    """The newest moment anything is dated: a look, or a step of a case or of a service order."""
    dated = (inspections.c.inspected_at, case_steps.c.taken_at, service_steps.c.taken_at)
    with shop.store.reading() as connection:
        return max(int(connection.scalar(select(func.max(column))) or 0) for column in dated)


def check(shop: Shop) -> tuple[str, ...]:
    """Everything wrong with the store, one line each; empty when file, audit chain, records and
    tallies are sound."""
    return tuple(check_store(shop.store))


def back_up(shop: Shop, path: str) -> Path:
    """Copy the store to a new file while work goes on; where the copy is."""
    return copy_store(shop.store, path)


def rebuild(shop: Shop, *, by: str, at_us: int) -> None:
    """Count the tallies anew from the records."""
    rebuild_tallies(shop.store, by=by, at_us=at_us)
