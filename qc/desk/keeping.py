"""Adding to a list or changing what stands there: one way in, the same as for a file."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from qc.desk.entering import SOURCE
from qc.desk.flag_words import units_of_shop
from qc.desk.heat_limits import heat_caution, recipes_too_hot
from qc.desk.lists import ListedRecord, key_fields, list_kind, one_listed, text_of
from qc.desk.shop import Shop
from qc.domain.records import FABRICS, RECIPES, Field, RecordKind
from qc.domain.steps import LONGEST_NAME
from qc.errors import Conflict, FormError, InputError
from qc.intake import RawTable, parse
from qc.store.codes import known_codes
from qc.store.records import add_records, keys_alike, read_listed

SEPARATOR = ";"
"""A form parts nothing by commas, so 12,5 is a number in it."""
LONGEST_CODE = 60
OF_A_FORM = (
    ("; every row needs it", ": it is needed"),
    ("; write a decimal point, or part cells by semicolons", ""),
)
"""Words for files, and what a form says instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordWritten:
    """A record of a list as somebody wrote it: texts by field, numbers in the shop's units; an
    empty text says nothing, a field that is not among them stays as it is.

    ``key``: which record it changes; None adds one. ``seen``: how many versions it had when the
    form was opened; None asks nothing.
    """

    kind: str
    texts: Mapping[str, str]
    key: tuple[str, ...] | None = None
    seen: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordKept:
    """What became of it: 'new', 'changed' (a new version), or 'same' (nothing was different);
    ``cautions``: what is to be known of it, whole sentences."""

    key: tuple[str, ...]
    became: str
    version: str
    cautions: tuple[str, ...] = ()


def keep_record(shop: Shop, written: RecordWritten, *, by: str, at_us: int) -> RecordKept:
    """Keep a record of a list; what stood there before stays readable.

    Raises
    ------
    FormError
        What is wrong, at the fields it concerns.
    NotFound
        The record to be changed is not there.
    Conflict
        Somebody else changed it since the form was opened.
    """
    kind = list_kind(written.kind)
    check_name(by)
    now = _standing(shop, written, at_us)
    texts = _texts(shop, kind, written, now, at_us)
    if now is None:
        _refuse_long({name: texts[name] for name in key_fields(kind.name)})
        _refuse_known(shop, kind, texts)
    raw = _table(shop, kind, texts, now)
    parsed = parse(raw, kind.name, zone=shop.zone, known=known_codes(shop.store), new_codes=False,
                   now_us=at_us)
    if parsed.rejects:
        raise FormError(_by_field(parsed.faults[0]))
    key = tuple(texts[name] for name in key_fields(kind.name))
    version = texts.get("version", str(now.n_versions + 1 if now else 1))
    if now is not None and not _differs(kind, parsed.frame, now):
        return RecordKept(key=key, became="same", version=version,
                          cautions=_cautions(shop, kind, parsed.frame, at_us))
    added = add_records(shop.store, kind.name, parsed.frame, by=by.strip(), at_us=at_us,
                        source=SOURCE)
    if added.conflict.any():
        raise Conflict("somebody else has just kept this version; look at it again")
    became = "same" if not added.n_loaded else "new" if now is None else "changed"
    return RecordKept(key=key, became=became, version=version,
                      cautions=_cautions(shop, kind, parsed.frame, at_us))


def _cautions(
    shop: Shop, kind: RecordKind, frame: pd.DataFrame, at_us: int
) -> tuple[str, ...]:
    """What is to be said of a recipe as it is written, or of the recipes of a fabric."""
    if kind is RECIPES:
        said = heat_caution(shop, frame.to_dict("records")[0])
        return (said,) if said else ()
    if kind is FABRICS:
        return recipes_too_hot(shop, str(frame["fabric"].iloc[0]), as_of_us=at_us)
    return ()


def check_name(by: str) -> None:
    """InputError where nobody is named or the name is too long to be kept."""
    if not by.strip():
        raise InputError("nobody is named; say who does it")
    if len(by) > LONGEST_NAME:
        raise InputError(f"the name has {len(by)} characters; at most {LONGEST_NAME} are kept")


def _standing(shop: Shop, written: RecordWritten, at_us: int) -> ListedRecord | None:
    if written.key is None:
        return None
    now = one_listed(shop, written.kind, written.key, as_of_us=at_us)
    if written.seen is not None and written.seen != now.n_versions:
        raise Conflict(f"{now.by} has changed it since this form was opened; open it again to see"
                       " what stands there now")
    return now


def _texts(
    shop: Shop, kind: RecordKind, written: RecordWritten, now: ListedRecord | None, at_us: int
) -> dict[str, str]:
    """The text of every field, as it stands where nothing is written; the key of what is changed
    stays, a recipe gets its version."""
    own = ("version", "valid_from") if kind is RECIPES else ()
    standing = {} if now is None else {
        field.name: text_of(field, now.values[field.name], shop)
        for field in kind.fields if field.name not in own}
    texts = {field.name: written.texts.get(field.name, standing.get(field.name, "")).strip()
             for field in kind.fields}
    if written.key is not None:
        texts |= dict(zip(key_fields(kind.name), written.key, strict=True))
    if kind is RECIPES:
        texts["version"] = _next_version(shop, texts)
        if now is not None and not texts["valid_from"]:
            texts["valid_from"] = shop.iso(at_us)
    return texts


def _next_version(shop: Shop, texts: Mapping[str, str]) -> str:
    pair = {name: texts[name] for name in key_fields(RECIPES.name)}
    used = {row.values["version"]
            for row in read_listed(shop.store, RECIPES.name, having=pair, every_version=True)}
    number = max([len(used), *(int(one) for one in used if one.isascii() and one.isdigit())])
    return str(number + 1)


def _refuse_long(codes: Mapping[str, str]) -> None:
    """A new code must be one that fits on a label, a list and a chart; files may have longer
    ones."""
    wrong = {name: [f"it has {len(code)} characters; write {LONGEST_CODE} at most, the rest under"
                    " its name"]
             for name, code in codes.items() if len(code) > LONGEST_CODE}
    if wrong:
        raise FormError(wrong)


def _refuse_known(shop: Shop, kind: RecordKind, texts: Mapping[str, str]) -> None:
    """Adding is not changing: what stands there already, or nearly so, is refused."""
    names = key_fields(kind.name)
    wanted = {name: texts[name] for name in names}
    for key, revision in keys_alike(shop.store, kind.name, wanted).items():
        if key != tuple(wanted.values()):
            raise FormError({names[-1]: [
                f"{' with '.join(key)} is on the list already, in other letters; write it the"
                " same way, or open it there to change it"]})
        if revision > 0:
            raise FormError({names[-1]: [
                f"{' with '.join(key)} is on the list already; open it there to change it"]})


def _table(
    shop: Shop, kind: RecordKind, texts: Mapping[str, str], now: ListedRecord | None
) -> RawTable:
    """One row, as a file would have it; what was not touched goes in exactly as it is stored."""
    columns, cells = [], []
    for field in kind.fields:
        exact = None if now is None else _untouched(field, texts[field.name], now, shop)
        if exact is None and field.units:
            columns.append(f"{field.base}_{units_of_shop(shop).suffix(field.kind)}")
        else:
            columns.append(field.name)
        cells.append(np.array([texts[field.name] if exact is None else exact], dtype=object))
    return RawTable(columns=tuple(columns), cells=tuple(cells), separator=SEPARATOR,
                    lines=np.array([1], dtype=np.int64))


def _untouched(field: Field, text: str, now: ListedRecord, shop: Shop) -> str | None:
    """The stored value where the text is the one the form showed; None where it was changed."""
    value: Any = now.values[field.name]
    if value is None or field.is_text or text != text_of(field, value, shop):
        return None
    return shop.iso(int(value)) if field.kind == "instant" else repr(value)


def _differs(kind: RecordKind, frame: pd.DataFrame, now: ListedRecord) -> bool:
    """Whether anything but a recipe's version and date is other than what stands there."""
    own = ("version", "valid_from") if kind is RECIPES else ()
    return any(not _same(frame[field.name].iloc[0] if field.name in frame else None,
                         now.values[field.name])
               for field in kind.fields if field.name not in own)


def _same(new: Any, old: Any) -> bool:
    if pd.isna(new) or old is None:
        return bool(pd.isna(new)) and old is None
    return bool(new == old) or (isinstance(old, float) and math.isclose(new, old, rel_tol=1e-9))


def _by_field(faults: Sequence[tuple[str, str]]) -> dict[str, list[str]]:
    """Reasons by field, in the words of a form."""
    found: dict[str, list[str]] = {}
    for field, words in faults:
        at_field = found.setdefault(field, [])
        told = _of_form(words)
        if told not in at_field:
            at_field.append(told)
    return found


def _of_form(words: str) -> str:
    for of_file, of_form in OF_A_FORM:
        words = words.replace(of_file, of_form)
    head, listed_, _ = words.partition(" is not on the list of ")
    if listed_:
        name = words.removeprefix(head + listed_).partition(";")[0]
        return f"{head} is not on the list of {name}; add it there first"
    return words
