"""The store: records, their versions, tallies and the audit log, in SQLite or PostgreSQL."""

from qc.store.base import Change, Store
from qc.store.opening import open_store

__all__ = ["Change", "Store", "open_store"]
