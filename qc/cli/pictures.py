"""`--picture FILE`, as every command takes it that draws: checked first, written, and said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from qc.cli.shared import say

if TYPE_CHECKING:
    from reports.picture.sheet import Sheet

Picture = Annotated[str | None, typer.Option(
    "--picture", metavar="FILE", show_default=False,
    help="Write a picture too: .svg, .png or .html by the ending.")]


def check_picture(place: str | None) -> None:
    """Say what is wrong with the place of the picture before anything long is begun."""
    if place is not None:
        from reports.picture.writing import check_picture_place

        check_picture_place(place)


def put_picture(sheet: Sheet, place: str) -> None:
    """Write a picture and say where."""
    from reports.picture.writing import write_picture

    say(f"picture: {write_picture(sheet, place)}")
