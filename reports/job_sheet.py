"""A job's sheet on paper: what to press, how to set the press, and a code that a scanner types."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from qc.desk.job_sheet import SETTINGS, JobSheet
from qc.domain.instants import from_us
from qc.units import from_stored, unit
from reports import wording
from reports.cells import count, long_minute
from reports.document import (
    Block,
    Caution,
    Column,
    Document,
    Facts,
    Picture,
    Table,
    Title,
)
from reports.qr import LONGEST, qr_drawing


def sheet_document(sheet: JobSheet, *, shop_name: str, zone: ZoneInfo) -> Document:
    """The document."""
    as_of = from_us(sheet.as_of_us, zone)
    title = Title(
        over=shop_name, text=wording.JOB_TITLE.format(job=sheet.job),
        under=wording.JOB_KNOWN.format(when=long_minute(as_of), zone=zone.key))
    return Document(title=title, as_of=as_of, blocks=tuple(_blocks(sheet, zone)),
                    main=_settings(sheet, zone))


def _blocks(sheet: JobSheet, zone: ZoneInfo) -> Iterator[Block]:
    if len(sheet.job) <= LONGEST:
        yield Picture(svg=qr_drawing(sheet.job), heading=wording.JOB_SCAN,
                      words=wording.JOB_QR_WORDS.format(job=sheet.job),
                      source=wording.JOB_QR_SOURCE.format(job=sheet.job))
    yield Facts(pairs=tuple(_facts(sheet)))
    yield Caution(heading=wording.HOT, text=wording.HOT_WORDS)
    if sheet.too_hot:
        yield Caution(heading=wording.JOB_TOO_HOT,
                      text=wording.JOB_TOO_HOT_WORDS.format(what=sheet.too_hot))
    if sheet.recipe is None:
        yield Caution(heading=wording.JOB_NO_RECIPE, text=wording.JOB_NO_RECIPE_WORDS)


def _facts(sheet: JobSheet) -> Iterable[tuple[str, str]]:
    values = sheet.values
    yield wording.JOB_FABRIC, _named(values["fabric"], sheet.fabric, _fabric(sheet))
    yield wording.JOB_TRANSFER, _named(values["transfer"], sheet.transfer, _kind(sheet))
    yield wording.JOB_PLACE, _place(sheet)
    if values["ordered"] is not None:
        yield wording.JOB_ORDERED, count(int(values["ordered"]))
    limit = None if sheet.fabric is None else sheet.fabric["heat_limit_c"]
    if limit is not None:
        yield wording.JOB_HEAT_LIMIT, _shown(sheet, limit, "temperature")


def _named(
    code: str | None, row: Mapping[str, Any] | None, more: Iterable[str]
) -> str:
    """A code with its name and what else is known of it."""
    if code is None:
        return wording.NOT_SAID
    name = row["name"] if row is not None and row["name"] not in (None, code) else ""
    return ", ".join(part for part in (code, name, *more) if part)


def _fabric(sheet: JobSheet) -> Iterator[str]:
    row = sheet.fabric
    if row is None:
        return
    for name, words in wording.FIBRES.items():
        if row[name]:
            yield f"{row[name]:g} % {words}"
    if row["surface"]:
        yield str(row["surface"])


def _kind(sheet: JobSheet) -> Iterator[str]:
    if sheet.transfer is not None and sheet.transfer["kind"]:
        yield wording.place(str(sheet.transfer["kind"]))


def _place(sheet: JobSheet) -> str:
    code = sheet.values["location"]
    if code is None:
        return wording.NOT_SAID
    row, parts = sheet.place or {}, [wording.place(code)]
    if row.get("reference"):
        parts.append(wording.JOB_REFERENCE.format(reference=row["reference"]))
    if row.get("part_measured"):
        parts.append(wording.JOB_PART.format(part=row["part_measured"]))
    for name in ("dx_tolerance_mm", "dy_tolerance_mm"):
        if row.get(name) is not None:
            parts.append(wording.JOB_OFF[name].format(off=_shown(sheet, row[name], "length")))
    if row.get("rotation_tolerance_deg") is not None:
        parts.append(wording.JOB_OFF["rotation_tolerance_deg"].format(
            off=f"{row['rotation_tolerance_deg']:g}°"))
    return ", ".join(parts)


def _shown(sheet: JobSheet, value: float, quantity: str) -> str:
    suffix = sheet.units.suffix(quantity)
    return f"{float(from_stored(value, quantity, suffix)):.4g} {unit(quantity, suffix).symbol}"


def _settings(sheet: JobSheet, zone: ZoneInfo) -> Table:
    """The recipe's settings, with room for what was set; empty rows where there is no recipe."""
    names = wording.JOB_COLUMNS
    columns = (
        Column(key="setting", name=names["setting"]),
        Column(key="set_to", name=names["set_to"], kind="figure"),
        Column(key="from", name=names["from"], kind="figure"),
        Column(key="to", name=names["to"], kind="figure"),
        Column(key="as_set", name=names["as_set"], kind="write"),
    )
    rows: tuple[tuple[str | None, ...], ...]
    if sheet.recipe is None:
        rows = tuple((wording.JOB_SETTINGS[name], None, None, None, None) for name in SETTINGS)
        return Table(title=wording.JOB_TABLE_EMPTY, note=wording.JOB_NOTE, columns=columns,
                     rows=rows)
    rows = tuple(
        (wording.JOB_SETTINGS[one.name], _figure(wording.place(one.target), one.symbol),
         _figure(one.low, one.symbol), _figure(one.high, one.symbol), None)
        for one in sheet.settings)
    since = sheet.recipe.values["valid_from"]
    title = wording.JOB_TABLE.format(version=sheet.recipe.values["version"], by=sheet.recipe.by)
    if since is not None:
        title = f"{title}, {wording.JOB_SINCE.format(when=long_minute(from_us(since, zone)))}"
    return Table(title=title, note=f"{wording.JOB_FIRST} {wording.JOB_NOTE}", columns=columns,
                 rows=rows)


def _figure(shown: str, symbol: str) -> str | None:
    return f"{shown} {symbol}".strip() if shown else None
