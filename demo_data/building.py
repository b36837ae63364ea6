"""The demo shop in a store, built through the same way in as everybody's files."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from demo_data.files import LISTS, RECORDS, WRITTEN_UP, write_files
from demo_data.shop import SimulatedShop
from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import Shop, change_setting, open_shop
from qc.errors import InputError, StoreError

Progress = Callable[[str], None]


def build_store(
    shop: SimulatedShop, place: Path, *, by: str, progress: Progress | None = None
) -> None:
    """Build the shop in a new SQLite file; the file appears only when it is complete.

    Lists are dated to the shop's start and records to its end, so that looking back to any moment
    between works, whatever this machine's clock says.

    Raises
    ------
    InputError
        Something is at the place already, the folder is not there, or a row was rejected.
    """
    if place.exists():
        raise InputError(f"{place} is there already; name a new file")
    if not place.absolute().parent.is_dir():
        raise InputError(f"{place} cannot be made: its folder is not there; make it first")
    try:
        with tempfile.TemporaryDirectory(prefix=".demo-", dir=place.absolute().parent) as folder:
            made = Path(folder) / "shop.db"
            _fill(shop, made, Path(folder), by, progress or (lambda _: None))
            made.rename(place)
    except OSError as error:
        raise InputError(f"{place} cannot be made: {error.strerror}; name another place") from None


def is_shop(place: Path, name: str) -> bool:
    """Is there an intact store of the shop of this name?"""
    try:
        found = open_shop(str(place))
    except StoreError:
        return False
    try:
        return found.name == name
    finally:
        found.store.close()


def _fill(
    shop: SimulatedShop, made: Path, folder: Path, by: str, progress: Progress
) -> None:
    progress("writing the shop's files")
    files = write_files(shop, folder)
    store = open_shop(str(made), create=True)
    try:
        for name, value in shop.settings.items():
            store = change_setting(store, name=name, value=value, by=by, at_us=shop.start_us)
        for kinds, at_us in ((LISTS, shop.start_us), (RECORDS, shop.end_us)):
            for kind in kinds:
                if kind in RECORDS:
                    progress(f"loading {len(shop.frames[kind]):,} rows of {kind}")
                _load(store, files[kind], by, shop.end_us if kind in WRITTEN_UP else at_us)
    finally:
        store.store.close()


def _load(shop: Shop, file: Path, by: str, at_us: int) -> None:
    report = load_files(shop, LoadRequest(paths=(str(file),)), by=by, at_us=at_us)
    if report.exit_code:
        said = report.files[0].error or f"{report.files[0].n_rejected} rows were rejected"
        raise InputError(f"the demo's own {file.name} did not load: {said}")
