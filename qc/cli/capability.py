"""`qc capability`: does a measured characteristic keep its limits? No store needed."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli.pictures import Picture, check_picture, put_picture
from qc.cli.shared import Json, answer, say

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.capability import CapabilityRequest, PlacementRequest

SINGLE, TOGETHER = ("subgroup", "distribution"), ("radius",)
"""Options of one column alone, and of two together."""


def register(app: typer.Typer) -> None:
    """Add `qc capability`."""
    app.command("capability")(capability)


def _text_option(name: str, words: str, metavar: str = "X") -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def capability(
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or XLSX.")],
    value: Annotated[str | None, _text_option("--value", "Measured value.", "COLUMN")] = None,
    values: Annotated[str | None, _text_option(
        "--values", "Two values judged together, as dx_mm,dy_mm.", "COLUMN,COLUMN")] = None,
    lower: Annotated[str | None, _text_option("--lower", "Lower limit; X,Y for two.")] = None,
    upper: Annotated[str | None, _text_option("--upper", "Upper limit; X,Y for two.")] = None,
    target: Annotated[str | None, _text_option(
        "--target", "Value aimed at; X,Y is the centre of a circle.")] = None,
    radius: Annotated[str | None, _text_option(
        "--radius", "Two values must lie within this distance of the target.", "R")] = None,
    subgroup: Annotated[str | None, _text_option(
        "--subgroup", "Subgroup of each value.", "COLUMN")] = None,
    confidence: Annotated[float, typer.Option(help="Confidence of each interval.")] = 0.95,
    distribution: Annotated[str | None, _text_option(
        "--distribution", "Shape of the values instead of the stated rule.", "NAME")] = None,
    sheet: Annotated[str | None, _text_option("--sheet", "Sheet of an XLSX.", "NAME")] = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Capability and performance of a measured value: indices, intervals, share outside."""
    given = {"value": value, "values": values, "lower": lower, "upper": upper, "target": target,
             "radius": radius, "subgroup": subgroup, "distribution": distribution}
    _refuse_mixed(given)
    check_picture(picture)
    if values is None:
        _answer_single(file, _single_request(given, confidence, sheet), picture, as_json)
    else:
        _answer_together(file, _together_request(given, confidence, sheet), picture, as_json)


def _refuse_mixed(given: dict[str, str | None]) -> None:
    from qc.errors import InputError

    if (given["value"] is None) == (given["values"] is None):
        raise InputError("qc capability needs --value COLUMN, or --values COLUMN,COLUMN for two"
                         " judged together")
    one = given["values"] is None
    for name in TOGETHER if one else SINGLE:
        if given[name] is not None:
            raise InputError(f"--{'value' if one else 'values'} takes no --{name}")


def _single_request(
    given: dict[str, str | None], confidence: float, sheet: str | None
) -> CapabilityRequest:
    from qc.desk.capability import CapabilityRequest, parse_number

    lower, upper, target = (
        parse_number(name, given[name]) for name in ("lower", "upper", "target"))
    return CapabilityRequest(
        value=given["value"] or "", lower=lower, upper=upper, target=target,
        subgroup=given["subgroup"], distribution=given["distribution"], confidence=confidence,
        sheet=sheet)


def _together_request(
    given: dict[str, str | None], confidence: float, sheet: str | None
) -> PlacementRequest:
    from qc.desk.capability import PlacementRequest, parse_columns, parse_number, parse_pair

    lower, upper, target = (parse_pair(name, given[name]) for name in ("lower", "upper", "target"))
    return PlacementRequest(
        values=parse_columns(given["values"] or ""), lower=lower, upper=upper, target=target,
        radius=parse_number("radius", given["radius"]), confidence=confidence, sheet=sheet)


def _answer_single(
    file: str, request: CapabilityRequest, picture: str | None, as_json: bool
) -> None:
    from qc.cli.capability_json import single_json
    from qc.cli.capability_text import print_single
    from qc.desk.capability import capability_of_file

    found = capability_of_file(file, request)
    if picture is not None:
        from reports.picture.capability.histogram import capability_sheet

        put_picture(capability_sheet(found), picture)
    _say_and_answer(found.result, found.result.cautions, as_json, single_json,
                    lambda result, console: print_single(request.value, result, console))


def _answer_together(
    file: str, request: PlacementRequest, picture: str | None, as_json: bool
) -> None:
    from qc.cli.capability_json import together_json
    from qc.cli.capability_text import print_together
    from qc.desk.capability import placement_of_file

    found = placement_of_file(file, request)
    if picture is not None:
        from reports.picture.capability.placement import placement_sheet

        put_picture(placement_sheet(found), picture)
    _say_and_answer(found.result, found.result.cautions, as_json, together_json,
                    lambda result, console: print_together(request.values, result, console))


def _say_and_answer(
    result: Any, cautions: tuple[Enum, ...], as_json: bool, to_json: Callable[[Any], Any],
    to_text: Callable[[Any, Console], None],
) -> None:
    if as_json:  # the text has them in it
        for caution in cautions:
            say(f"note: {caution.value}")
    answer(result, as_json=as_json, to_json=to_json, to_text=to_text)
