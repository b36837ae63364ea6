"""Backups: whole, checked, noted, never over something else."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from qc.errors import InputError, StoreError
from qc.store import Store, open_store
from qc.store.backup import back_up
from qc.store.backup_notes import last_backup, note_file
from qc.store.checking import check_store
from qc.store.inspections import read_looks
from tests.qc.store.made import LOADED, add, look

LATER = LOADED * 2


def test_a_backup_is_a_whole_store(sqlite_store: Store, tmp_path: Path) -> None:
    add(sqlite_store, [look("a"), look("b")])
    made = back_up(sqlite_store, str(tmp_path / "kept.db"))
    copy = open_store(str(made))
    assert read_looks(copy, as_of_us=LATER).equals(read_looks(sqlite_store, as_of_us=LATER))
    assert check_store(copy) == []
    copy.close()


def test_the_newest_backup_that_is_still_there_counts(sqlite_store: Store, tmp_path: Path) -> None:
    where = sqlite_store.location
    assert last_backup(where) is None
    first = back_up(sqlite_store, str(tmp_path / "one.db"))
    second = back_up(sqlite_store, str(tmp_path / "two.db"))
    assert note_file(where).read_text().splitlines() == [str(first), str(second)]
    assert last_backup(where) == str(second)
    second.unlink()
    assert last_backup(where) == str(first)


def test_nothing_is_written_over(sqlite_store: Store, tmp_path: Path) -> None:
    (tmp_path / "kept.db").write_text("mine")
    with pytest.raises(InputError, match="exists already; name a new file"):
        back_up(sqlite_store, str(tmp_path / "kept.db"))
    with pytest.raises(InputError, match="is not a folder"):
        back_up(sqlite_store, str(tmp_path / "no" / "kept.db"))
    assert (tmp_path / "kept.db").read_text() == "mine"


def test_a_backup_while_others_save_is_one_moment_of_the_store(
    sqlite_store: Store, tmp_path: Path
) -> None:
    stop = threading.Event()

    def save() -> None:
        at = 0
        while not stop.is_set():
            add(sqlite_store, [look(f"p{at}")], new_codes=None)
            at += 1

    saving = threading.Thread(target=save)
    saving.start()
    try:
        copies = [back_up(sqlite_store, str(tmp_path / f"{at}.db")) for at in range(3)]
    finally:
        stop.set()
        saving.join()
    for path in copies:
        copy = open_store(str(path))
        assert check_store(copy) == []
        copy.close()


@pytest.mark.postgres
def test_a_server_is_backed_up_by_its_own_tools(postgres_place: str, tmp_path: Path) -> None:
    served = open_store(postgres_place, create=True)
    with pytest.raises(StoreError, match="with the server's own tool, for example pg_dump"):
        back_up(served, str(tmp_path / "kept.db"))
    served.close()
