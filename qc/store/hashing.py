"""64-bit fingerprints of rows, so that sameness and conflicts are judged on whole columns.

A row's fingerprint is the sum (modulo 2^64) of one mixed term for each value that is not missing.
So it does not depend on the order of columns, and a column added later, empty in older rows,
leaves their fingerprints as they were. Text goes through BLAKE2b, numbers through the
SplitMix64 finaliser: neither depends on a library's version, and stored fingerprints stay good.

Source
------
BLAKE2b: RFC 7693. SplitMix64: Steele, Lea, Flood (2014), Fast splittable pseudorandom number
generators, OOPSLA, figure 16 (mix64variant13).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.records import FINDINGS, INSPECTIONS, STAGES, Field, RecordKind

Hashes = npt.NDArray[np.uint64]
Ints = npt.NDArray[np.int64]

DECIMALS = 6
"""Numbers are compared to 1e-6 of their stored unit: 320 degF and 160 degC are the same value."""

LOOK_BITS = 10
"""Low bits of a look's identity: attempt and stage, exactly. The high 54 bits are its piece, so
that all looks at a piece lie together in the index."""
STAGE_BITS = 3


def mixed(values: Hashes) -> Hashes:
    """SplitMix64's finaliser, element by element."""
    x = (values ^ (values >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return x ^ (x >> np.uint64(31))


def text_hashes(texts: Iterable[str]) -> Hashes:
    """One fingerprint for each text."""
    digests = [blake2b(text.encode(), digest_size=8).digest() for text in texts]
    return np.frombuffer(b"".join(digests), dtype="<u8").astype(np.uint64)


@cache
def _salt(name: str) -> np.uint64:
    return np.uint64(text_hashes([name])[0])


def column_terms(field: Field, column: pd.Series) -> Hashes:
    """What each value of a column adds to its row's fingerprint; 0 where missing."""
    salt = _salt(field.name)
    if field.is_text:
        codes, uniques = pd.factorize(column)
        terms = mixed(text_hashes(np.asarray(uniques, dtype=object).tolist()) ^ salt)
        return np.append(terms, np.uint64(0))[codes]
    missing = column.isna().to_numpy()
    if field.kind in {"instant", "whole"}:
        bits = column.astype("Int64").fillna(0).to_numpy(dtype=np.int64).view(np.uint64)
    else:
        numbers = column.to_numpy(dtype=np.float64, na_value=np.nan)
        bits = (np.round(numbers, DECIMALS) + 0.0).view(np.uint64)
    terms = mixed(mixed(bits) ^ salt)
    terms[missing] = 0
    return terms


def row_sums(
    fields: Iterable[Field], frame: pd.DataFrame, key: Collection[str] = ()
) -> tuple[Hashes, Hashes]:
    """Sums of terms over all fields, and over those in ``key``; an absent column is missing."""
    total = np.zeros(len(frame), dtype=np.uint64)
    of_key = total.copy()
    for field in fields:
        if field.name in frame.columns:
            terms = column_terms(field, frame[field.name])
            total += terms
            if field.name in key:
                of_key += terms
    return total, of_key


def finding_hashes(
    fields: Iterable[Field], findings: pd.DataFrame, n_rows: int, row: str = "row"
) -> Hashes:
    """What the findings add to the fingerprints of their rows, whatever their order."""
    total = np.zeros(n_rows, dtype=np.uint64)
    if len(findings):
        terms = mixed(row_sums(fields, findings)[0])
        np.add.at(total, findings[row].to_numpy(dtype=np.int64), terms)
    return total


def signed(hashes: Hashes) -> Ints:
    """Finished fingerprints as the whole numbers a store keeps."""
    return mixed(hashes).view(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fingerprints:
    """Of each row: what makes it this record, and what it says."""

    identity: Ints
    content: Ints


def record_fingerprints(kind: RecordKind, frame: pd.DataFrame) -> Fingerprints:
    """Fingerprints of records other than looks."""
    content, identity = row_sums(kind.fields, frame, kind.identity)
    return Fingerprints(identity=signed(identity), content=signed(content))


def look_fingerprints(looks: pd.DataFrame, findings: pd.DataFrame) -> Fingerprints:
    """Fingerprints of looks with their findings (``row`` is the position in ``looks``).

    The identity holds the piece's fingerprint above, attempt and stage in the low bits. Two of
    ten million pieces share a fingerprint with a chance of 0.3 %; such a row would be refused as
    a conflict, never dropped unseen, because its contents differ.
    """
    content, piece = row_sums(INSPECTIONS.fields, looks, ("piece_id", "location"))
    content += finding_hashes(FINDINGS.fields, findings, len(looks))
    attempt = looks["attempt"].to_numpy(dtype=np.int64)
    stage = pd.Index(STAGES).get_indexer(pd.Index(looks["stage"].astype(object)))
    identity = piece_base(signed(piece)) | (attempt << STAGE_BITS) | stage
    return Fingerprints(identity=identity, content=signed(content))


def piece_base(identity: Ints) -> Ints:
    """The smallest identity of the looks at a piece."""
    return identity >> LOOK_BITS << LOOK_BITS


def chosen(prints: Fingerprints, at: Ints) -> Fingerprints:
    """Those of the rows at these positions."""
    return Fingerprints(identity=prints.identity[at], content=prints.content[at])
