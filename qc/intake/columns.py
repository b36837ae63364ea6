"""From a header to a plan: which kind of record, which column is which field in which unit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from qc.domain.kinds import defect_kinds
from qc.domain.records import INSPECTIONS, RECORD_KINDS, UNIT_SUFFIXES, Field, RecordKind
from qc.errors import InputError
from qc.intake.names import OTHER_UNITS, quantity_bases, required_names, spelled, written_names
from qc.intake.reading import rejects_columns
from qc.units import Unit

CHECK_UNITS = {"pressure_psi": "psi", "pressure_bar": "bar"}
"""Quantities of machine_checks a file may write, besides the stored ones, with their unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The column a field is read from."""

    field: Field
    position: int
    header: str
    unit: Unit | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How to read the rows of a file.

    ``defects``: position of that column. ``kind_columns``: (position, kind) of columns of counts.
    ``unknown``: (position, name) of columns kept out.
    """

    kind: RecordKind
    sources: tuple[Source, ...]
    defects: int | None
    kind_columns: tuple[tuple[int, str], ...]
    unknown: tuple[tuple[int, str], ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        if not self.unknown:
            return ()
        names = ", ".join(repr(name) if name else f"number {at + 1} (no name)"
                          for at, name in self.unknown)
        return (f"unknown column kept out: {names}",)


def recognise(columns: Sequence[str]) -> str:
    """The kind of record a file's columns fit best.

    Raises
    ------
    InputError
        No column is a known one, or only ones that several kinds have.
    """
    names = {column.strip().casefold() for column in columns}
    found = {kind: len(names & _telling(kind)) for kind in RECORD_KINDS}
    most = max(found.values())
    best = [kind for kind, n in found.items() if n == most]
    complete = [kind for kind in best if not _missing(RECORD_KINDS[kind], names)]
    keyed = [kind for kind in best if names & _required_spellings(RECORD_KINDS[kind])]
    if most == 0 or not keyed:
        raise InputError(
            "the columns fit no kind of record; name the kind with --as"
            f" ({', '.join(RECORD_KINDS)}) or check the header: {', '.join(columns)}")
    return (complete or keyed)[0]


def _telling(kind: str) -> frozenset[str]:
    names = frozenset(written_names(kind))
    if kind == INSPECTIONS.name:
        return names | {"defects"} | frozenset(defect_kinds())
    return names


def _required_spellings(kind: RecordKind) -> set[str]:
    return {name for name, (field, _) in written_names(kind.name).items() if field.required}


def _missing(kind: RecordKind, names: set[str]) -> list[Field]:
    spellings = written_names(kind.name)
    there = {spellings[name][0].name for name in names if name in spellings}
    return [field for field in required_names(kind) if field.name not in there]


def plan_columns(
    columns: Sequence[str], kind: str, *, kinds: frozenset[str], ignore: Sequence[str] = ()
) -> Plan:
    """Match a header with a kind of record; ``kinds`` are the defect kinds known.

    Raises
    ------
    InputError
        Every reason to refuse the file that its header gives.
    """
    if kind not in RECORD_KINDS:
        raise InputError(f"{kind!r} is not a kind of record; known: {', '.join(RECORD_KINDS)}")
    record = RECORD_KINDS[kind]
    left_out = set(rejects_columns(tuple(columns)))
    names = [column.strip().casefold() for column in columns]
    ignored = {name.strip().casefold() for name in ignore}
    used = [(at, name) for at, name in enumerate(names)
            if at not in left_out and name not in ignored]
    problems = list(_refusals(record, used, kinds))
    if problems:
        raise InputError(problems)
    return _plan(record, used, columns, kinds)


def _plan(
    kind: RecordKind, used: list[tuple[int, str]], columns: Sequence[str], kinds: frozenset[str]
) -> Plan:
    spellings = written_names(kind.name)
    inspecting = kind is INSPECTIONS
    sources = tuple(
        Source(field=spellings[name][0], position=at, header=columns[at].strip(),
               unit=spellings[name][1])
        for at, name in used if name in spellings)
    counts = _kind_columns(used, spellings, kinds) if inspecting else []
    known = {source.position for source in sources} | {at for at, _ in counts}
    defects = next((at for at, name in used if name == "defects"), None) if inspecting else None
    unknown = tuple((at, columns[at].strip()) for at, _ in used
                    if at not in known and at != defects)
    return Plan(kind=kind, sources=sources, defects=defects, kind_columns=tuple(counts),
                unknown=unknown)


def _kind_columns(
    used: list[tuple[int, str]], spellings: dict[str, tuple[Field, Unit | None]],
    kinds: frozenset[str],
) -> list[tuple[int, str]]:
    code_of = {kind.casefold(): kind for kind in kinds}
    return [(at, code_of[name]) for at, name in used
            if name in code_of and name not in spellings]


def _refusals(
    kind: RecordKind, used: list[tuple[int, str]], kinds: frozenset[str]
) -> Iterator[str]:
    names = [name for _, name in used]
    missing = [spelled(field) for field in _missing(kind, set(names))]
    if missing:
        columns, it = ("column", "it") if len(missing) == 1 else ("columns", "them")
        yield (f"{kind.name} needs the {columns} {_listed(missing)}, and the file does not have"
               f" {it}; add {it} to its header row")
    yield from _twice(kind, names)
    yield from _wrong_units(kind, names)
    if kind is INSPECTIONS:
        yield from _defect_refusals(used, kinds)


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + f" and {names[-1]}"


def _twice(kind: RecordKind, names: list[str]) -> Iterator[str]:
    given: dict[str, list[str]] = {}
    for name in names:
        if name in written_names(kind.name):
            given.setdefault(written_names(kind.name)[name][0].name, []).append(name)
    for columns in given.values():
        if len(columns) > 1:
            yield f"one quantity is given twice, as {_listed(columns)}; leave one out"


def _wrong_units(kind: RecordKind, names: list[str]) -> Iterator[str]:
    bases = quantity_bases(kind.name)
    for name in names:
        if name in written_names(kind.name):
            continue
        base = max((one for one in bases if name == one or name.startswith(f"{one}_")),
                   key=len, default=None)
        ending = name[len(base) + 1:] if base else ""
        if base and (not ending or ending in UNIT_SUFFIXES | OTHER_UNITS):
            what = f"an unknown unit {ending!r}" if ending else "no unit in its name"
            yield (f"column {name!r} has {what}; write {' or '.join(bases[base])}"
                   f" (or --ignore {name})")


def _defect_refusals(used: list[tuple[int, str]], kinds: frozenset[str]) -> Iterator[str]:
    counts = [kind for _, kind in _kind_columns(used, written_names(INSPECTIONS.name), kinds)]
    has_defects = any(name == "defects" for _, name in used)
    if has_defects and counts:
        yield (f"the file has both defects and columns of kinds ({_listed(counts)}): a fault could"
               " be counted twice or not at all; leave one out, or --ignore it")
    if not has_defects and not counts:
        yield ("inspections needs the column defects (empty means none) or one column of counts"
               f" for each kind of defect ({', '.join(list(defect_kinds())[:3])}, ...)")
