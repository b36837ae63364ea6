"""Checks between the fields of a row."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.records import INSPECTIONS, RecordKind
from qc.intake.columns import CHECK_UNITS, Plan, Source
from qc.intake.rows import allowed_range, outside
from qc.intake.texts import Problems
from qc.units import from_stored, to_stored, unit

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

FAR_C, NEAR_C = 50.0, 25.0
"""A reading so far from its setpoint is asked about if in the other unit it would be so near.
Proposed values, no source."""

LIMITS = (("temperature_low_c", "temperature_c", "temperature_high_c"),
          ("dwell_low_s", "dwell_s", "dwell_high_s"),
          ("pressure_low_kpa", "pressure_kpa", "pressure_high_kpa"),
          ("pressure_low_dial", "pressure_dial", "pressure_high_dial"))
"""Of a recipe: the lower limit, the setting, the upper limit."""


def check_inspections(
    frame: pd.DataFrame, findings: pd.DataFrame, problems: Problems
) -> pd.DataFrame:
    """Times in order and counts that agree; fills what follows from other fields.

    ``defective`` is kept for blocks alone: of a single piece its findings say it.
    """
    _check_order(frame, problems)
    _check_counts(frame, findings, problems)
    single = (frame["pieces"] == 1).to_numpy(dtype=bool, na_value=True)
    if "defective" in frame:
        frame["defective"] = frame["defective"].astype("Int64").mask(single)
    has_defects = _any_finding(len(frame), findings)
    default = pd.Series(pd.Categorical.from_codes(has_defects.astype(int),
                                                  categories=pd.Index(["pass", "hold"])))
    given = frame.get("disposition")
    frame["disposition"] = default if given is None or given.isna().all() else (
        given.astype(object).where(given.notna(), default.astype(object)).astype("category"))
    return frame


def held_unsaid(frame: pd.DataFrame, unsaid: Bools) -> int:
    """How many records are on hold that do not say so (``unsaid``)."""
    if "disposition" not in frame:
        return 0
    return int(((frame["disposition"] == "hold").to_numpy() & unsaid).sum())


def _check_order(frame: pd.DataFrame, problems: Problems) -> None:
    pressed, seen = (frame[name].to_numpy(dtype="int64", na_value=0)
                     for name in ("pressed_at", "inspected_at"))
    both = frame["pressed_at"].notna().to_numpy() & frame["inspected_at"].notna().to_numpy()
    problems.where(both & (pressed > seen),
                   "pressed_at is after inspected_at; a piece is pressed before it is looked at")


def _any_finding(n_rows: int, findings: pd.DataFrame) -> Bools:
    return np.bincount(findings["row"].to_numpy(dtype=np.int64), minlength=n_rows) > 0


def _check_counts(frame: pd.DataFrame, findings: pd.DataFrame, problems: Problems) -> None:
    pieces = frame["pieces"].to_numpy(dtype=np.int64, na_value=1)
    given = frame["defective"] if "defective" in frame else pd.Series(pd.NA, index=frame.index)
    told = given.notna().to_numpy()
    defective = given.astype("Int64").to_numpy(dtype=np.int64, na_value=0)
    largest, total = _kind_counts(frame, findings)
    has = _any_finding(len(frame), findings)
    block = pieces > 1
    counts = {"pieces": pieces, "defective": defective, "largest": largest, "total": total}
    wrong = {
        "defective is blank; a block with defects needs the number of bad pieces":
            block & has & ~told,
        "defective is {defective}, more than the {pieces} pieces of the row; correct one of them":
            told & (defective > pieces),
        "a kind is counted on {largest} pieces, more than the block's {pieces}; put one right":
            block & (largest > pieces),
        "defective is {defective}, less than the largest count of a kind, {largest}; correct one of"
        " them": block & told & (defective < largest),
        "defective is {defective}, but no defect is named; name what was seen":
            told & ~has & (defective > 0),
        "defective is {defective}, more than all defects counted together, {total}; name every"
        " defect": block & told & has & (defective > total),
        "defective is 0, but defects are named; correct one of them":
            ~block & told & has & (defective == 0),
    }
    for message, rows in wrong.items():
        for row in np.flatnonzero(rows).tolist():
            problems.add(row, message.format(**{name: n[row] for name, n in counts.items()}))


def _kind_counts(frame: pd.DataFrame, findings: pd.DataFrame) -> tuple[Ints, Ints]:
    """Of each row: the largest count of one kind in one zone, and all counts together."""
    n_rows = len(frame)
    largest, total = np.zeros(n_rows, dtype=np.int64), np.zeros(n_rows, dtype=np.int64)
    in_block = frame["pieces"].to_numpy(dtype=np.int64, na_value=1)[findings["row"]] > 1
    some = findings[in_block]
    if len(some):
        each = some.groupby(["row", "kind", "zone"], dropna=False)["n"].sum()
        by_row = each.groupby(level="row")
        largest[by_row.max().index] = by_row.max()
        total[by_row.sum().index] = by_row.sum()
    return largest, total


def check_machine(
    frame: pd.DataFrame, plan: Plan, written: pd.Series, problems: Problems
) -> pd.DataFrame:
    """Values in the stored unit of their quantity; ``written`` is the quantity as the file has
    it."""
    headers = {source.field.name: source.header for source in plan.sources}
    for quantity in written.cat.categories:
        rows = np.flatnonzero((written == quantity).to_numpy())
        source = _quantity_source(quantity)
        if source is None:
            continue
        for name in ("set_value", "measured_value"):
            values = frame[name].to_numpy(dtype=np.float64, copy=True)
            as_written = values.copy()
            if quantity in CHECK_UNITS:
                values[rows] = to_stored(values[rows], "gauge_pressure", CHECK_UNITS[quantity])
                frame[name] = values
            for row in rows[outside(source.field, values[rows])].tolist():
                problems.add(row, f"{headers[name]} is {as_written[row]:.6g}, out of range for"
                                  f" {quantity}; allowed: {allowed_range(source)}")
    return frame


def _quantity_source(quantity: str) -> Source | None:
    """The field whose range holds for a quantity, in the unit written."""
    field = INSPECTIONS.by_name.get("pressure_kpa" if quantity in CHECK_UNITS else quantity)
    if field is None:
        return None
    suffix = CHECK_UNITS.get(quantity)
    own = unit("gauge_pressure", suffix) if suffix else (field.units or (None,))[0]
    return Source(field=field, position=0, header=quantity, unit=own)


def check_readings(frame: pd.DataFrame, plan: Plan, problems: Problems) -> None:
    """Readings that look as if they were written down in the other unit: asked about, never
    converted silently."""
    source = next(source for source in plan.sources if source.field.name == "reading_c")
    if source.unit is None:
        return
    reading, setpoint = (frame[name].to_numpy(dtype=np.float64)
                         for name in ("reading_c", "setpoint_c"))
    written = from_stored(reading, "temperature", source.unit.suffix)
    other = "c" if source.unit.suffix == "f" else "f"
    meant = to_stored(written, "temperature", other)
    asked = (np.abs(reading - setpoint) > FAR_C) & (np.abs(meant - setpoint) <= NEAR_C)
    for row in np.flatnonzero(asked).tolist():
        problems.add(row, f"{source.header} is {written[row]:.6g} ({reading[row]:.1f} °C), far from"
                          f" the setpoint {setpoint[row]:.1f} °C, but near it as"
                          f" °{other.upper()} ({meant[row]:.1f} °C): if it was read so, name the"
                          f" column reading_{other}, else load it with --as-read")


def check_lists(kind: RecordKind, frame: pd.DataFrame, problems: Problems) -> None:
    """Limits of a recipe in order; the shares of a fabric not above the whole."""
    if kind.name == "recipes":
        for names in LIMITS:
            _check_limits([name for name in names if name in frame], frame, problems)
    shares = [name for name in ("cotton_pct", "polyester_pct", "other_pct") if name in frame]
    if shares:
        total = frame[shares].sum(axis=1).to_numpy(dtype=np.float64)
        problems.where(total > 100.5, "cotton, polyester and other are more than 100 % together",
                       field=shares[0])


def _check_limits(names: list[str], frame: pd.DataFrame, problems: Problems) -> None:
    for low, high in combinations(names, 2):
        below = frame[high].to_numpy(dtype=float) < frame[low].to_numpy(dtype=float) - 1e-9
        problems.where(below, f"{high} is below {low}", field=high)
