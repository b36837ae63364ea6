"""Shop settings: defaults, changes, refusals."""

from __future__ import annotations

import pytest

from qc.config import SETTINGS
from qc.errors import InputError
from qc.store import Store
from qc.store.settings import change_setting, read_settings


def test_a_new_store_has_every_default(store: Store) -> None:
    assert read_settings(store) == {known.name: known.default for known in SETTINGS}


def test_a_change_is_kept_and_told_in_the_log_once(store: Store) -> None:
    for _ in range(2):
        change_setting(store, name="timezone", value="America/Lima", by="ann", at_us=7)
    assert read_settings(store)["timezone"] == "America/Lima"
    assert store.change_number() == 1
    change_setting(store, name="timezone", value="UTC", by="ann", at_us=8)
    assert read_settings(store)["timezone"] == "UTC"


@pytest.mark.parametrize(("name", "value", "words"), [
    ("colour", "red", "there is no setting 'colour'"),
    ("timezone", "Mars/Base", "no time zone 'Mars/Base'"),
    ("false_flags_per_week", "-1", "allowed: 0.001 to 100"),
    ("temperature_unit", "k", "allowed: c, f"),
])
def test_what_a_setting_cannot_be(store: Store, name: str, value: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        change_setting(store, name=name, value=value, by="ann", at_us=7)
    assert store.change_number() == 0
