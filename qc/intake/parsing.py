"""Rows of a file as records in stored units, with every reason to reject one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from qc.domain.records import INSPECTIONS, MACHINE_CHECKS, PLATEN_READINGS, Field
from qc.errors import InputError
from qc.intake.checks import (
    check_inspections,
    check_lists,
    check_machine,
    check_readings,
    held_unsaid,
)
from qc.intake.columns import CHECK_UNITS, Plan, Source, plan_columns
from qc.intake.defects import COLUMNS, findings_of_counts, findings_of_texts
from qc.intake.numbers import numbers_of
from qc.intake.rows import Rules, categories, read_field, read_numbers
from qc.intake.table import Bools, Ints, RawTable
from qc.intake.texts import Problems, Texts

_COUNT = Field(name="count", kind="whole", low=0, high=1_000_000)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parsed:
    """The records of a file.

    ``frame``: columns of the kind in stored units. ``findings``: row (position in ``frame``), kind,
    zone, extent_mm, n. ``row_of``: which row of the file (0-based) each record is; ``line_of``: the
    line that row begins on. ``rejects``: (line, reason) by row of the file.
    ``faults``: by row of the file, each reason with the field it is about ('' where it is about the
    row). ``new_codes``: codes not on their lists yet. ``counts_like``: of unknown columns, whether
    every cell is a whole number or blank, and whether one is above 0. ``n_held``: records that are
    taken as on hold because they have a defect and say nothing of what was done.
    """

    kind: str
    frame: pd.DataFrame
    findings: pd.DataFrame
    row_of: Ints
    line_of: Ints
    n_read: int
    rejects: dict[int, tuple[int, str]]
    warnings: tuple[str, ...]
    new_codes: dict[str, tuple[str, ...]]
    counts_like: dict[str, tuple[bool, bool]]
    faults: dict[int, tuple[tuple[str, str], ...]]
    n_held: int = 0


def parse(
    raw: RawTable, kind: str, *, zone: ZoneInfo, known: Mapping[str, frozenset[str]],
    new_codes: bool, now_us: int, as_read: bool = False, ignore: Sequence[str] = (),
) -> Parsed:
    """Read a whole file's rows.

    Raises
    ------
    InputError
        The file cannot be read as this kind: columns missing, given twice, with an unknown unit,
        or an unknown column of counts that could be a misspelt kind of defect.
    """
    plan = plan_columns(raw.columns, kind, kinds=known["kinds"], ignore=ignore)
    rules = Rules(zone=zone, known=known, new_codes=new_codes, now_us=now_us, as_read=as_read)
    return united([parse_part(raw, plan, rules)])


def parse_part(raw: RawTable, plan: Plan, rules: Rules) -> Parsed:
    """Read a part of a file; `united` makes the parts one."""
    rules = replace(rules, decimal_comma=raw.decimal_comma)
    problems = Problems(len(raw))
    for at, given in raw.ragged.items():
        problems.add(at, f"the row has {len(given)} cells, the header {len(raw.columns)}; check its"
                         " quotes and separators")
    frame, findings, unsaid = _values(raw, plan, rules, problems)
    parsed = _parsed(raw, plan, rules, frame, findings, problems)
    return replace(parsed, n_held=held_unsaid(parsed.frame, unsaid[~problems.wrong]))


def _values(
    raw: RawTable, plan: Plan, rules: Rules, problems: Problems
) -> tuple[pd.DataFrame, pd.DataFrame, Bools]:
    """The records, their findings, and which of them say nothing of what was done."""
    columns: dict[str, pd.Series] = {}
    written = pd.Series(dtype="category")
    for source in plan.sources:
        texts = Texts.of(raw.cells[source.position])
        if source.field.name == "quantity" and plan.kind is MACHINE_CHECKS:
            written, texts = _stored_quantities(texts)
        if texts.all_blank and not source.field.required and len(raw):
            continue
        columns[source.field.name] = read_field(source, texts, rules, problems)
    frame = pd.DataFrame(columns, index=pd.RangeIndex(len(raw)))
    _fill_defaults(frame, plan)
    findings = _findings(raw, plan, rules, problems)
    unsaid = (frame["disposition"].isna().to_numpy() if "disposition" in frame
              else np.ones(len(frame), dtype=bool))
    if plan.kind is INSPECTIONS:
        frame = check_inspections(frame, findings, problems)
    elif plan.kind is MACHINE_CHECKS:
        frame = check_machine(frame, plan, written, problems)
    else:
        check_lists(plan.kind, frame, problems)
    if plan.kind is PLATEN_READINGS and not rules.as_read:
        check_readings(frame, plan, problems)
    return frame, findings, unsaid


def _stored_quantities(texts: Texts) -> tuple[pd.Series, Texts]:
    lower = [text.casefold() for text in texts.texts]
    stored = ["pressure_kpa" if text in CHECK_UNITS else text for text in lower]
    return categories(lower, texts), Texts(texts.codes, stored)


def _fill_defaults(frame: pd.DataFrame, plan: Plan) -> None:
    for field in plan.kind.fields:
        if field.default is None:
            continue
        if field.name not in frame:
            frame[field.name] = _constant(field.default, len(frame))
        elif frame[field.name].isna().any():
            column = frame[field.name]
            if field.is_text:
                column = column.astype(object)
            frame[field.name] = column.fillna(field.default)
    if plan.kind is INSPECTIONS:
        seen = frame["inspected_at"]
        frame["pressed_at"] = frame["pressed_at"].fillna(seen) if "pressed_at" in frame else seen


def _constant(value: str | int, n: int) -> pd.Series:
    if isinstance(value, str):
        codes = np.zeros(n, dtype=int)
        return pd.Series(pd.Categorical.from_codes(codes, categories=pd.Index([value])))
    return pd.Series(np.full(n, value, dtype=np.int64))


def _findings(raw: RawTable, plan: Plan, rules: Rules, problems: Problems) -> pd.DataFrame:
    if plan.defects is not None:
        kinds = None if rules.new_codes else rules.known["kinds"]
        return findings_of_texts(Texts.of(raw.cells[plan.defects]), kinds, problems,
                                 decimal_comma=rules.decimal_comma)
    counts: dict[str, Ints] = {}
    for position, kind in plan.kind_columns:
        texts = Texts.of(raw.cells[position])
        if not texts.all_blank:
            source = Source(field=_COUNT, position=position,
                            header=raw.columns[position].strip(), unit=None)
            values = np.nan_to_num(read_numbers(source, texts, rules, problems)).astype(np.int64)
            counts[kind] = values[texts.codes]
    return findings_of_counts(counts)


def _parsed(
    raw: RawTable, plan: Plan, rules: Rules, frame: pd.DataFrame, findings: pd.DataFrame,
    problems: Problems,
) -> Parsed:
    kept = np.flatnonzero(~problems.wrong)
    if len(kept) < len(frame):
        place = np.full(len(frame), -1, dtype=np.int64)
        place[kept] = np.arange(len(kept))
        findings = findings.assign(row=place[findings["row"].to_numpy(dtype=np.int64)])
        findings = findings[findings["row"] >= 0].reset_index(drop=True)
        frame = frame.iloc[kept].reset_index(drop=True)
    lines = raw.lines.tolist()
    rejects = {raw.first_row + at: (lines[at], problems.reason(at))
               for at in sorted(problems.of_row)}
    return Parsed(
        kind=plan.kind.name, frame=frame, findings=findings, row_of=raw.first_row + kept,
        line_of=raw.lines[kept], n_read=len(raw), rejects=rejects, warnings=plan.warnings,
        new_codes=_new_codes(frame, findings, plan, rules) if rules.new_codes else {},
        counts_like=_counts_like(raw, plan, rules),
        faults={raw.first_row + at: tuple(found) for at, found in problems.by_field.items()},
    )


def _new_codes(
    frame: pd.DataFrame, findings: pd.DataFrame, plan: Plan, rules: Rules
) -> dict[str, tuple[str, ...]]:
    used = {field.listed: frame[field.name] for field in plan.kind.fields
            if field.listed and field.name in frame}
    if plan.kind is INSPECTIONS:
        used["kinds"] = findings["kind"]
    found = {name: set(column.dropna().unique()) - rules.known[name or ""]
             for name, column in used.items()}
    return {name: tuple(sorted(codes)) for name, codes in found.items() if name and codes}


def _counts_like(raw: RawTable, plan: Plan, rules: Rules) -> dict[str, tuple[bool, bool]]:
    if plan.kind is not INSPECTIONS:
        return {}
    return {name or f"number {at + 1} (no name)": _whole_and_above_0(raw, at, rules)
            for at, name in plan.unknown}


def _whole_and_above_0(raw: RawTable, position: int, rules: Rules) -> tuple[bool, bool]:
    texts = [text for text in Texts.of(raw.cells[position]).texts if text]
    numbers = numbers_of(texts, decimal_comma=rules.decimal_comma)
    whole = bool((np.floor(numbers) == numbers).all())
    return whole, whole and bool((numbers > 0).any())


def united(parts: Iterable[Parsed]) -> Parsed:
    """The parts of one file as one; InputError if an unknown column could be a misspelt kind."""
    parts = list(parts)
    _refuse_counts(parts)
    if len(parts) == 1:
        return parts[0]
    first, findings, shift = parts[0], [], 0
    for part in parts:
        findings.append(part.findings.assign(row=part.findings["row"] + shift))
        shift += len(part.frame)
    return Parsed(
        kind=first.kind, frame=_stacked([part.frame for part in parts]),
        findings=pd.concat(findings, ignore_index=True)[list(COLUMNS)],
        row_of=np.concatenate([part.row_of for part in parts]),
        line_of=np.concatenate([part.line_of for part in parts]),
        n_read=sum(part.n_read for part in parts),
        rejects={row: why for part in parts for row, why in part.rejects.items()},
        faults={row: found for part in parts for row, found in part.faults.items()},
        warnings=first.warnings, counts_like={}, n_held=sum(part.n_held for part in parts),
        new_codes=_merged_codes([part.new_codes for part in parts]),
    )


def _refuse_counts(parts: list[Parsed]) -> None:
    names = {name for part in parts for name in part.counts_like}
    doubtful = sorted(
        name for name in names
        if all(part.counts_like[name][0] for part in parts)
        and any(part.counts_like[name][1] for part in parts))
    if doubtful:
        raise InputError([
            f"column {name!r} is unknown and holds only whole numbers: it could be a misspelt kind"
            f" of defect; correct its name, or leave it out with --ignore {name}"
            for name in doubtful])


def _stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """Frames on top of each other; text stays categories."""
    names = list(dict.fromkeys(name for frame in frames for name in frame.columns))
    return pd.DataFrame({name: _stacked_column([_or_missing(frame, name, frames)
                                                for frame in frames]) for name in names})


def _or_missing(frame: pd.DataFrame, name: str, frames: list[pd.DataFrame]) -> pd.Series:
    if name in frame:
        return frame[name]
    model = next(other[name] for other in frames if name in other)
    dtype = "Int64" if model.dtype == np.int64 else model.dtype
    return pd.Series(pd.NA if dtype == "Int64" else None, index=frame.index, dtype=dtype)


def _stacked_column(columns: list[pd.Series]) -> pd.Series:
    if all(isinstance(column.dtype, pd.CategoricalDtype) for column in columns):
        from pandas.api.types import union_categoricals

        return pd.Series(union_categoricals([column.array for column in columns]))
    return pd.concat(columns, ignore_index=True)


def _merged_codes(each: list[dict[str, tuple[str, ...]]]) -> dict[str, tuple[str, ...]]:
    names = {name for codes in each for name in codes}
    return {name: tuple(sorted({code for codes in each for code in codes.get(name, ())}))
            for name in names}


