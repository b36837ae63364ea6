"""A picture as a file: the form follows the file's ending."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from reports.picture.page import sheet_html
from reports.picture.png import sheet_png
from reports.picture.sheet import Sheet, sheet_svg
from reports.writing import place_for, put_file

FORMS: dict[str, Callable[[Sheet], bytes]] = {
    ".svg": lambda sheet: sheet_svg(sheet).encode(), ".png": sheet_png, ".html": sheet_html,
}


def check_picture_place(path: str | Path) -> Path:
    """The path, if a picture can be put there; InputError in words where it cannot."""
    return place_for(path, tuple(FORMS))


def write_picture(sheet: Sheet, path: str | Path) -> Path:
    """Write a picture; where it is. A file of that name is replaced as a whole.

    Raises
    ------
    InputError
        Another ending, or a folder that cannot be written to.
    """
    place = check_picture_place(path)
    return put_file(FORMS[place.suffix.lower()](sheet), place)
