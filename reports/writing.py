"""A document as a file: the form follows the file's ending, and the file is whole or not there."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from uuid import uuid4

from qc.errors import InputError
from reports.csv import render_csv
from reports.document import Document
from reports.html import render_html
from reports.pdf import render_pdf
from reports.xlsx import render_xlsx

FORMS: dict[str, Callable[[Document], bytes]] = {
    ".pdf": render_pdf, ".html": render_html, ".xlsx": render_xlsx, ".csv": render_csv,
}


def check_place(path: str | Path) -> Path:
    """The path, if a document can be put there: known ending, a folder that is there.

    Raises
    ------
    InputError
        With what is wrong and what to write instead.
    """
    return place_for(path, tuple(FORMS))


def place_for(path: str | Path, endings: Sequence[str]) -> Path:
    """The path, if a file with one of these endings can be put there."""
    place = Path(path)
    if place.suffix.lower() not in endings:
        raise InputError(f"{str(path)!r} must end in {', '.join(endings)}: the ending says what it "
                         "becomes")
    # os.path, since Path asks with an error where a name is too long
    if os.path.isdir(place):  # noqa: PTH112
        raise InputError(f"{place} is a folder; name a file in it")
    if not os.path.isdir(place.absolute().parent):  # noqa: PTH112
        raise InputError(f"{place} cannot be written: its folder is not there; make it first")
    return place


def write_document(document: Document, path: str | Path) -> Path:
    """Write a document; where it is. A file of that name is replaced, by a whole one or not at all.

    Raises
    ------
    InputError
        Another ending, a folder that cannot be written to, or more rows than the form can hold.
    """
    place = check_place(path)
    return put_file(FORMS[place.suffix.lower()](document), place)


def put_file(content: bytes, place: Path) -> Path:
    """Put a whole file in its place, or nothing; InputError where that cannot be."""
    begun = place.with_name(f".{uuid4().hex}.part")
    try:
        with begun.open("xb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        begun.replace(place)
    except OSError as error:
        raise InputError(f"{place} cannot be written ({error.strerror}); close it where it is "
                         "open, or name another place") from None
    finally:
        begun.unlink(missing_ok=True)
    return place
