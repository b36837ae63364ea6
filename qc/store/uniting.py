"""Several saves of looks as one batch: their rows one after the other, columns typed by field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.records import FINDINGS, INSPECTIONS, Field
from qc.store.codes import NewCodes

Ints = npt.NDArray[np.int64]

WHOLE = frozenset({"instant", "whole"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Save:
    """Looks to save with their findings (``row`` is the position in ``looks``), by whom, when."""

    looks: pd.DataFrame
    findings: pd.DataFrame
    by: str
    at_us: int
    source: str | None
    new_codes: NewCodes | None


def united(saves: Sequence[Save]) -> tuple[pd.DataFrame, pd.DataFrame, Ints]:
    """Looks and findings of all saves, and for each look the position of its save."""
    lengths = np.array([len(save.looks) for save in saves])
    owner = np.repeat(np.arange(len(saves)), lengths)
    if len(saves) == 1:
        return saves[0].looks, saves[0].findings, owner
    first = np.cumsum(lengths) - lengths
    told = [(save.findings, int(start)) for save, start in zip(saves, first, strict=True)
            if len(save.findings)]
    findings = _joined([frame for frame, _ in told], FINDINGS.fields)
    rows = [row + start for frame, start in told for row in frame["row"].tolist()]
    looks = _joined([save.looks for save in saves], INSPECTIONS.fields)
    return looks, findings.assign(row=np.array(rows, dtype=np.int64)), owner


def _joined(frames: Sequence[pd.DataFrame], fields: Sequence[Field]) -> pd.DataFrame:
    columns = {}
    for field in fields:
        if any(field.name in frame.columns for frame in frames):
            values: list[Any] = []
            for frame in frames:
                values += (frame[field.name].tolist() if field.name in frame.columns
                           else [None] * len(frame))
            columns[field.name] = _typed(values, field)
    index = pd.RangeIndex(sum(len(frame) for frame in frames))
    return pd.DataFrame(columns, index=index) if columns else _empty(fields)


def _typed(values: list[Any], field: Field) -> Any:
    if field.is_text:
        return pd.Series(values, dtype=object)
    if field.kind in WHOLE:
        return pd.array(values, dtype="Int64")
    return np.array([np.nan if pd.isna(value) else value for value in values], dtype=np.float64)


def _empty(fields: Sequence[Field]) -> pd.DataFrame:
    return pd.DataFrame({field.name: _typed([], field) for field in fields})
