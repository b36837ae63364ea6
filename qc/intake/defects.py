"""The defects column: each distinct text is read once, then spread over its rows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.domain.kinds import ZONES
from qc.domain.records import FINDINGS
from qc.intake.table import Ints
from qc.intake.texts import Problems, Texts, quoted

_ENTRY = re.compile(
    r"(?P<kind>[^@:*;]+?)\s*(?:@\s*(?P<zone>[^@:*]*?)\s*(?::\s*(?P<extent>[^@:*]*?)\s*)?)?"
    r"(?:\*\s*(?P<n>\S+))?")
_EXTENT = re.compile(r"\d+(?:[.,]\d+)?")
_LARGEST_EXTENT_MM = FINDINGS.by_name["extent_mm"].high or 0.0
_LARGEST_N = int(FINDINGS.by_name["n"].high or 0)
COLUMNS = ("row", "kind", "zone", "extent_mm", "n")
Entry = tuple[str, str | None, float | None, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadDefects:
    """The entries of one text, and all that is wrong with it."""

    entries: tuple[Entry, ...]
    problems: tuple[str, ...]


def read_defects(text: str, kinds: frozenset[str] | None, *, decimal_comma: bool) -> ReadDefects:
    """Entries ``kind@zone:extent*n`` joined by ``;``. ``kinds`` None: any kind may stand there."""
    entries: list[Entry] = []
    problems: list[str] = []
    for part in filter(None, map(str.strip, text.split(";"))):
        found = _ENTRY.fullmatch(part)
        if found is None:
            problems.append(f"defects has {quoted(part)}; write kind, kind@zone or"
                            " kind@zone:extent_mm, with *count behind it")
            continue
        wrong = tuple(_wrong(found, part, kinds, decimal_comma=decimal_comma))
        problems.extend(wrong)
        if not wrong:
            extent = found["extent"]
            entries.append((found["kind"], found["zone"] or None,
                            float(extent.replace(",", ".")) if extent else None,
                            int(found["n"] or 1)))
    return ReadDefects(entries=tuple(entries), problems=tuple(problems))


def _wrong(
    found: re.Match[str], part: str, kinds: frozenset[str] | None, *, decimal_comma: bool
) -> Iterator[str]:
    kind, zone, extent, n = found["kind"], found["zone"], found["extent"], found["n"]
    if kinds is not None and kind not in kinds:
        yield unknown_kind(kind)
    if kinds is None and not re.fullmatch(r"[\w.-]+", kind):
        yield f"defect kind {quoted(kind)} cannot be a code; use letters, digits and _"
    placed = zone is not None and (zone or extent is None)  # kind@:6 has a size and no place
    if placed and zone not in ZONES:
        yield f"zone {quoted(zone)} of {quoted(part)} is unknown; zones: {' '.join(ZONES)}"
    if extent is not None:
        sound = _EXTENT.fullmatch(extent) and (decimal_comma or "," not in extent)
        if not sound or float(extent.replace(",", ".")) > _LARGEST_EXTENT_MM:
            yield (f"extent {quoted(extent)} of {quoted(part)} is not a number of mm from 0 to"
                   f" {_LARGEST_EXTENT_MM:g}")
    if n is not None and not (n.isascii() and n.isdigit() and 1 <= int(n[:9]) <= _LARGEST_N):
        yield (f"count {quoted(n)} of {quoted(part)} is not a whole number from 1 to {_LARGEST_N}")


def unknown_kind(kind: str) -> str:
    """What to say of a kind that is on no list."""
    return (f"defect kind {quoted(kind)} is not on the list; correct it, or use --new-codes to"
            " add it")


def findings_of_texts(
    texts: Texts, kinds: frozenset[str] | None, problems: Problems, *, decimal_comma: bool
) -> pd.DataFrame:
    """Findings of every row; what is wrong goes to its rows."""
    read = [read_defects(text, kinds, decimal_comma=decimal_comma) for text in texts.texts]
    problems.of_texts(texts, ["\n".join(one.problems) or None for one in read])
    count = np.array([len(one.entries) for one in read], dtype=np.int64)
    n_of_row = count[texts.codes]
    rows = np.repeat(np.arange(len(texts.codes)), n_of_row)
    first_entry = np.r_[0, np.cumsum(count)[:-1]] if len(count) else count
    entries = [entry for one in read for entry in one.entries]
    which = first_entry[texts.codes[rows]] + _places(n_of_row)
    columns = list(zip(*entries, strict=True)) or [(), (), (), ()]
    return _frame(rows, which, columns)


def findings_of_counts(counts: dict[str, Ints]) -> pd.DataFrame:
    """Findings of a file with one column of counts for each kind."""
    parts = []
    for kind, n in counts.items():
        rows = np.flatnonzero(n > 0)
        parts.append(pd.DataFrame({"row": rows, "kind": kind, "zone": None, "extent_mm": np.nan,
                                   "n": n[rows]}))
    found = [part for part in parts if len(part)]
    if not found:
        return _frame(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), [(), (), (), ()])
    return pd.concat(found, ignore_index=True).sort_values("row", kind="stable", ignore_index=True)


def _places(n_of_row: Ints) -> Ints:
    """0, 1, 2 ... within each row's entries."""
    ends = np.cumsum(n_of_row)
    return np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - n_of_row, n_of_row)


def _frame(rows: Ints, which: Ints, columns: list[tuple[object, ...]]) -> pd.DataFrame:
    kind, zone, extent, n = columns
    return pd.DataFrame({
        "row": rows,
        "kind": np.array(kind, dtype=object)[which],
        "zone": np.array(zone, dtype=object)[which],
        "extent_mm": np.array(extent, dtype=np.float64)[which],
        "n": np.array(n, dtype=np.int64)[which],
    })
