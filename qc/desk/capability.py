"""Capability of a measured characteristic, or of placements, in a file; no store needed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from qc.errors import InputError
from qc.intake.numbers import LARGEST, column_numbers
from qc.intake.reading import read_table
from qc.stats.capability.bivariate import BivariateCapability, bivariate_capability
from qc.stats.capability.bivariate_normal import Circle, Rectangle
from qc.stats.capability.specification import Specification
from qc.stats.capability.study import Capability, capability
from qc.stats.checks import Floats
from qc.stats.comparing.intervals import ShareInterval

Pair = tuple[float, float]
INDEX_WORDS = {
    "cp": "best the spread could do, if centred",
    "cpk": "best it could do where it stands",
    "pp": "as it was, if centred",
    "ppk": "as it was",
    "cpm": "as it was, measured from the target",
}
"""What each index says the process does against its limits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CapabilityRequest:
    """What to judge: names of columns, limits in their unit, and options; None where not given."""

    value: str
    lower: float | None = None
    upper: float | None = None
    target: float | None = None
    subgroup: str | None = None
    confidence: float = 0.95
    distribution: str | None = None
    sheet: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementRequest:
    """Two columns to judge together, against a rectangle or a circle; None where not given.

    ``lower``, ``upper``: of both columns. ``radius``: of a circle around ``target`` (0, 0).
    """

    values: tuple[str, str]
    lower: Pair | None = None
    upper: Pair | None = None
    radius: float | None = None
    target: Pair | None = None
    confidence: float = 0.95
    sheet: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FileCapability:
    """What was found of a column of a file, and the column. ``file`` : its name, without folder."""

    result: Capability
    values: Floats
    file: str
    request: CapabilityRequest

    @property
    def normal(self) -> bool:
        """Whether a normal distribution describes the values."""
        return self.result.fit is not None and self.result.fit.name == "normal"

    @property
    def nearest(self) -> tuple[float, float] | None:
        """The index that tells whether limits are kept, and where its interval begins (may be nan).

        ppk; by percentiles where the values are not normal; None where nothing varies.
        """
        by, ends, ppk = self.result.percentile, self.result.percentile_intervals, self.result.ppk
        if by is None or ppk is None:
            return None
        if self.normal:
            return ppk.value, ppk.low
        return by.ppk, math.nan if ends is None else ends.ppk[0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilePlacement:
    """What was found of two columns of a file, and the columns."""

    result: BivariateCapability
    x: Floats
    y: Floats
    file: str
    request: PlacementRequest


def capability_of_file(path: str, request: CapabilityRequest) -> FileCapability:
    """Judge a column of a CSV or XLSX file against its limits.

    Raises
    ------
    InputError
        No limit is given or limits contradict each other, the file cannot be read, a column is
        not there, a cell is blank or not a number, or there are too few values.
    """
    if request.lower is None and request.upper is None:
        raise InputError("qc capability needs a limit: give --lower, --upper or both")
    specification = _specification(request.lower, request.upper, request.target)
    table = read_table(path, sheet=request.sheet)
    values = column_numbers(table, request.value)
    member_of = None if request.subgroup is None else table.labels(request.subgroup)
    try:
        result = capability(values, specification, subgroup=member_of,
                            confidence=request.confidence, distribution=request.distribution)
    except ValueError as wrong:
        columns = {"values": request.value, "subgroup": request.subgroup}
        raise InputError(_in_words(str(wrong), columns)) from None
    return FileCapability(result=result, values=values, file=Path(path).name, request=request)


def placement_of_file(path: str, request: PlacementRequest) -> FilePlacement:
    """Judge two columns of a file together; errors as for `capability_of_file`."""
    region = _region(request)
    table = read_table(path, sheet=request.sheet)
    dx, dy = (column_numbers(table, name) for name in request.values)
    try:
        result = bivariate_capability(dx, dy, region, confidence=request.confidence)
    except ValueError as wrong:
        columns = dict(zip("xy", request.values, strict=True))
        raise InputError(_in_words(str(wrong), columns)) from None
    return FilePlacement(result=result, x=dx, y=dy, file=Path(path).name, request=request)


def parse_number(option: str, text: str | None) -> float | None:
    """'4.5' as a number; None where the option was not given."""
    if text is None:
        return None
    numbers = _numbers(text)
    if len(numbers) != 1:
        raise InputError(f"--{option} is {text!r}; write one number, as 4.5, at most {LARGEST:g}")
    return numbers[0]


def parse_pair(option: str, text: str | None) -> Pair | None:
    """'-6,6' as two numbers; None where the option was not given."""
    if text is None:
        return None
    numbers = _numbers(text)
    if len(numbers) != 2:
        raise InputError(f"--{option} is {text!r}; write two numbers, as -6,6, at most {LARGEST:g}")
    return numbers[0], numbers[1]


def parse_columns(text: str) -> tuple[str, str]:
    """'dx_mm,dy_mm' as two different names."""
    names = [name.strip() for name in text.split(",")]
    if len(names) != 2 or not all(names) or names[0] == names[1]:
        raise InputError(f"--values is {text!r}; write two columns, as dx_mm,dy_mm")
    return names[0], names[1]


def _numbers(text: str) -> list[float]:
    """The numbers between commas; none where one is not, or is larger than a cell may be."""
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        return []
    return numbers if all(abs(number) <= LARGEST for number in numbers) else []


def _region(request: PlacementRequest) -> Rectangle | Circle:
    limits = request.lower is not None or request.upper is not None
    if limits == (request.radius is not None):
        raise InputError("qc capability needs one region: give --radius, or --lower, --upper or"
                         " both, two numbers each")
    if request.radius is not None:
        try:
            return Circle(radius=request.radius, centre=request.target or (0.0, 0.0))
        except ValueError as wrong:
            raise InputError(f"--{wrong}") from None
    if request.target is not None:
        raise InputError("a rectangle takes no --target; with --radius it is the centre")
    lower, upper = request.lower or (None, None), request.upper or (None, None)
    x, y = (_specification(lower[k], upper[k], None) for k in (0, 1))
    return Rectangle(x=x, y=y)


def _specification(
    lower: float | None, upper: float | None, target: float | None
) -> Specification:
    try:
        return Specification(lower=lower, upper=upper, target=target)
    except ValueError as wrong:
        raise InputError(f"--{wrong}".replace("below upper", "below --upper")) from None


def _in_words(message: str, columns: Mapping[str, str | None]) -> str:
    """A message about an argument as one about the column or option it came from."""
    argument, _, rest = message.partition(" ")
    if columns.get(argument) is None:
        return f"--{message}"
    return f"column {columns[argument]!r} {rest}".replace("position", "row")


__all__ = [
    "INDEX_WORDS", "BivariateCapability", "Capability", "CapabilityRequest", "Circle",
    "FileCapability", "FilePlacement", "PlacementRequest", "Rectangle", "ShareInterval",
    "Specification", "capability_of_file", "parse_columns", "parse_number", "parse_pair",
    "placement_of_file",
]
