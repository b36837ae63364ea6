"""Capability of a measured characteristic in a file; no store needed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from qc.errors import InputError
from qc.intake.numbers import column_numbers
from qc.intake.reading import read_table
from qc.intake.table import RawTable
from qc.stats.capability import Capability, capability
from qc.stats.specification import Specification


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


def capability_of_file(path: str, request: CapabilityRequest) -> Capability:
    """Judge a column of a CSV or XLSX file against its limits.

    Raises
    ------
    InputError
        No limit is given or limits contradict each other, the file cannot be read, a column is
        not there, a cell is blank or not a number, or there are too few values.
    """
    if request.lower is None and request.upper is None:
        raise InputError("qc capability needs a limit: give --lower, --upper or both")
    try:
        specification = Specification(lower=request.lower, upper=request.upper,
                                      target=request.target)
    except ValueError as wrong:
        raise InputError(f"--{wrong}".replace("below upper", "below --upper")) from None
    table = read_table(path, sheet=request.sheet)
    values = column_numbers(table, request.value)
    member_of = None if request.subgroup is None else filled_column(table, request.subgroup)
    try:
        return capability(values, specification, subgroup=member_of,
                          confidence=request.confidence, distribution=request.distribution)
    except ValueError as wrong:
        raise InputError(_in_words(str(wrong), request)) from None


def parse_numbers(option: str, text: str | None, n_wanted: int) -> tuple[float, ...] | None:
    """'-6,6' as as many numbers as wanted; None where the option was not given."""
    if text is None:
        return None
    parts = text.split(",")
    try:
        numbers = tuple(float(part) for part in parts)
    except ValueError:
        numbers = ()
    if len(numbers) != n_wanted or not all(map(math.isfinite, numbers)):
        wanted = "one number, as 4.5" if n_wanted == 1 else f"{n_wanted} numbers, as -6,6"
        raise InputError(f"--{option} is {text!r}; write {wanted}")
    return numbers


def filled_column(table: RawTable, name: str) -> list[str]:
    """The labels of a column; InputError where one is blank."""
    texts = [text.strip() for text in table.column(name).tolist()]
    if "" in texts:
        line = table.lines[texts.index("")]
        raise InputError(f"line {line}: {name} is blank; every row needs a subgroup")
    return texts


def _in_words(message: str, request: CapabilityRequest) -> str:
    """A message about an argument as one about the column or option it came from."""
    argument, _, rest = message.partition(" ")
    column = {"values": request.value, "subgroup": request.subgroup}.get(argument)
    if column is None:
        return f"--{argument} {rest}"
    return f"column {column!r} {rest}".replace("position", "row")
