"""From cells to values in stored units: a whole column at once, each distinct text once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.records import CHECK_QUANTITIES, Field
from qc.intake.cell_errors import ERRORS
from qc.intake.columns import CHECK_UNITS, Source
from qc.intake.numbers import not_a_number, numbers_of
from qc.intake.texts import Problems, Texts, quoted
from qc.intake.times import AHEAD_US, NO_TIME, times_of
from qc.units import from_stored, to_stored

LONGEST_TEXT = 10_000
GUARDED_STARTS = ("=", "+", "-", "@")
"""What a spreadsheet takes for a formula; lists taken out of here carry a ' in front of it."""
MAY_BE_AHEAD = frozenset({"due_at", "valid_from"})
_NUMBER = re.compile(r"[+-]?[\d .,:]*(?:[eE][+-]?\d+)? ?%?")
LIST_WORDS = {"presses": "press", "fabrics": "fabric", "transfers": "transfer"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What rows are read and judged by: the shop's zone, its lists, now; ``as_read``: somebody has
    said that readings far from their setpoint are what the instrument showed."""

    zone: ZoneInfo
    known: Mapping[str, frozenset[str]]
    new_codes: bool
    now_us: int
    as_read: bool = False
    decimal_comma: bool = False


def read_field(source: Source, texts: Texts, rules: Rules, problems: Problems) -> pd.Series:
    """The column of one field in its stored unit; what is wrong goes to its rows."""
    field = source.field
    if field.required:
        problems.of_texts(texts, [None if text else f"{source.header} is blank; every row needs it"
                                  for text in texts.texts], field=field.name)
    if field.is_text:
        return _text_column(source, texts, rules, problems)
    if field.kind == "instant":
        latest = None if field.name in MAY_BE_AHEAD else rules.now_us + AHEAD_US
        times = times_of(source.header, texts.texts, zone=rules.zone, latest_us=latest)
        problems.of_texts(texts, times.messages, field=field.name)
        return _whole_column(times.us == NO_TIME, times.us, texts)
    values = read_numbers(source, texts, rules, problems)
    if field.kind == "whole":
        missing = np.isnan(values)
        return _whole_column(missing, np.where(missing, 0, values).astype(np.int64), texts)
    return pd.Series(texts.spread(values))


def _whole_column(
    missing: npt.NDArray[np.bool_], values: npt.NDArray[np.int64], texts: Texts
) -> pd.Series:
    gone = missing[texts.codes]
    spread = values[texts.codes]
    if not gone.any():
        return pd.Series(spread)
    spread[gone] = 0
    return pd.Series(pd.arrays.IntegerArray(spread, gone))


def _text_column(source: Source, texts: Texts, rules: Rules, problems: Problems) -> pd.Series:
    field, values = source.field, [unguarded(text) for text in texts.texts]
    if field.kind in {"choice", "yes_no"}:
        values = [text.casefold() for text in values]
    problems.of_texts(texts, [_text_problem(source, text, rules) for text in values],
                      field=field.name)
    return categories(values, texts)


def unguarded(text: str) -> str:
    """A text as it was before a ' was put in front to keep spreadsheets from running it."""
    guarded = text[:1] == "'" and text.lstrip("'")[:1] in GUARDED_STARTS
    return text[1:] if guarded else text


def guarded(cell: str) -> str:
    """A cell of a file that no spreadsheet takes for a formula: `unguarded` gives it back.

    Numbers stay as they are: they are read without looking for a ', and run nothing. A cell that
    begins with ' is guarded already, and is read alike before and after.
    """
    runs = cell[:1] in (*GUARDED_STARTS, "\t", "\r") and not _NUMBER.fullmatch(cell)
    return f"'{cell}" if runs else cell


def categories(values: list[str], texts: Texts) -> pd.Series:
    """Text of each row as categories, missing where blank."""
    position: dict[str, int] = {}
    code_of = np.array([position.setdefault(text, len(position)) if text else -1
                        for text in values], dtype=np.int64)
    names = pd.Index(list(position), dtype="str")
    codes = code_of[texts.codes] if len(code_of) else texts.codes
    return pd.Series(pd.Categorical.from_codes(codes, categories=names))


def _text_problem(source: Source, text: str, rules: Rules) -> str | None:
    field, name = source.field, source.header
    if not text:
        return None
    if len(text) > LONGEST_TEXT:
        return f"{name} has {len(text)} characters; at most {LONGEST_TEXT}"
    if text in ERRORS and field.name != "note":
        return f"{name} is {quoted(text)}: a spreadsheet could not work it out; write the value"
    choices = ("yes", "no") if field.kind == "yes_no" else field.choices
    if choices and text not in choices:
        extra = tuple(CHECK_UNITS) if choices == CHECK_QUANTITIES else ()
        return f"{name} is {quoted(text)}; allowed: {', '.join(choices + extra)}"
    if field.listed and not rules.new_codes and text not in rules.known[field.listed]:
        return (f"{LIST_WORDS[field.listed]} {quoted(text)} is not on the list of"
                f" {field.listed}; correct it, load it with the {field.listed} first, or use"
                " --new-codes")
    return None


def read_numbers(
    source: Source, texts: Texts, rules: Rules, problems: Problems
) -> npt.NDArray[np.float64]:
    """One number in the stored unit for each distinct text."""
    written = numbers_of(texts.texts, decimal_comma=rules.decimal_comma)
    field = source.field
    stored = to_stored(written, field.kind, source.unit.suffix) if source.unit else written
    doubtful = np.isnan(stored) | outside(field, stored)
    if field.kind == "whole":
        doubtful |= np.floor(stored) != stored
    messages: list[str | None] = [None] * len(texts.texts)
    for at in np.flatnonzero(doubtful).tolist():
        if texts.texts[at]:
            messages[at] = _number_problem(source, texts.texts[at], stored[at], rules)
    problems.of_texts(texts, messages, field=field.name)
    stored = stored.copy()
    stored[doubtful] = np.nan
    return stored


def outside(field: Field, stored: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """Which values are out of range; a hair of slack, since 32 degF is 0 degC but for rounding."""
    low = -np.inf if field.low is None else field.low - 1e-9
    high = np.inf if field.high is None else field.high + 1e-9
    return (stored < low) | (stored > high)


def _number_problem(source: Source, text: str, stored: float, rules: Rules) -> str:
    name = source.header
    if np.isnan(stored):
        return f"{name} is {not_a_number(text, decimal_comma=rules.decimal_comma)}"
    if bool(outside(source.field, np.array([stored]))[0]):
        return f"{name} is {text}; allowed: {allowed_range(source)}"
    return f"{name} is {text}; it must be a whole number"


def allowed_range(source: Source) -> str:
    """The range of a field in the unit the file uses."""
    field, unit = source.field, source.unit
    ends = [end if end is None or unit is None else
            float(from_stored(float(end), field.kind, unit.suffix)) for end in
            (field.low, field.high)]
    symbol = f" {unit.symbol}" if unit else ""
    low, high = ("" if end is None else f"{end:.6g}" for end in ends)
    if not high:
        return f"{low} or more{symbol}"
    return f"up to {high}{symbol}" if not low else f"{low} to {high}{symbol}"
