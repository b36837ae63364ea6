"""A picture as a file: the form follows the file's ending."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from qc.desk.charting import FileChart
from reports.picture.page import chart_html
from reports.picture.png import chart_png
from reports.picture.sheet import chart_svg
from reports.writing import place_for, put_file

FORMS: dict[str, Callable[[FileChart], bytes]] = {
    ".svg": lambda chart: chart_svg(chart).encode(), ".png": chart_png, ".html": chart_html,
}


def check_picture_place(path: str | Path) -> Path:
    """The path, if a picture can be put there; InputError in words where it cannot."""
    return place_for(path, tuple(FORMS))


def write_picture(chart: FileChart, path: str | Path) -> Path:
    """Write the picture of a chart; where it is. A file of that name is replaced as a whole.

    Raises
    ------
    InputError
        Another ending, or a folder that cannot be written to.
    """
    place = check_picture_place(path)
    return put_file(FORMS[place.suffix.lower()](chart), place)
