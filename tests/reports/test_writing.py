"""Files are whole or not there; what cannot be written is said in words."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from qc.errors import InputError
from reports import writing
from reports.writing import FORMS, write_document
from tests.reports.made import document


def _names(folder: Path) -> list[str]:
    return sorted(place.name for place in folder.iterdir())


@pytest.mark.parametrize("ending", [*FORMS, ".HTML", ".Csv", ".Pdf"])
def test_the_ending_chooses_the_form(ending: str, tmp_path: Path) -> None:
    place = write_document(document("x"), tmp_path / f"list{ending}")
    assert place.read_bytes() == FORMS[ending.lower()](document("x"))
    assert _names(tmp_path) == [place.name]


@pytest.mark.parametrize("name", ["list.txt", "list", "list.html.txt", ".html"])
def test_another_ending_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"must end in \.pdf, \.html, \.xlsx, \.csv"):
        write_document(document("x"), tmp_path / name)
    assert not _names(tmp_path)


def test_places_that_cannot_be_written_are_named(tmp_path: Path) -> None:
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(InputError, match="is a folder; name a file in it"):
        write_document(document("x"), tmp_path / "folder.csv")
    with pytest.raises(InputError, match="its folder is not there; make it first"):
        write_document(document("x"), tmp_path / "no" / "list.csv")
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="its folder is not there"):
        write_document(document("x"), tmp_path / "file" / "list.csv")
    with pytest.raises(InputError, match=r"cannot be written \("):
        write_document(document("x"), tmp_path / ("n" * 300 + ".csv"))
    assert _names(tmp_path) == ["file", "folder.csv"]


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no folder here refuses everybody")
def test_a_folder_that_refuses_everybody() -> None:
    with pytest.raises(InputError, match=r"/proc/self/list\.csv cannot be written \("):
        write_document(document("x"), "/proc/self/list.csv")


@pytest.mark.skipif(sys.platform == "win32" or not hasattr(os, "geteuid") or os.geteuid() == 0,
                    reason="this person may write everywhere")
def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(InputError, match="Permission denied"):
            write_document(document("x"), tmp_path / "list.csv")
    finally:
        tmp_path.chmod(0o700)


def test_an_older_file_is_replaced_as_a_whole(tmp_path: Path) -> None:
    place = tmp_path / "list.csv"
    place.write_text("old " * 10_000)
    write_document(document("x"), place)
    assert place.read_bytes() == FORMS[".csv"](document("x"))


def test_a_failure_on_the_way_leaves_the_older_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "list.csv"
    place.write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", full)
    with pytest.raises(InputError, match="No space left on device"):
        write_document(document("x"), place)
    assert place.read_text() == "old"
    assert _names(tmp_path) == ["list.csv"]
