"""Defect kinds and their causes: the trade's list, shipped as two tables beside this file.

Definitions and causes are common practice, no source; the order of causes is a proposed
starting value that a shop replaces with its own experience.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

ZONES: tuple[str, ...] = (
    "top_left", "top", "top_right",
    "left", "centre", "right",
    "bottom_left", "bottom", "bottom_right",
)
"""Zones of the print as the operator at the press sees it, row by row."""


WITHOUT_PLACE = frozenset({
    "misplacement", "rotated", "wrong_garment", "wrong_art", "colour_shift", "odour_residue",
    "count_short", "label_covered", "press_mark",
})
"""Kinds that concern the whole piece or print: no place on the print is asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectKind:
    """One kind of defect: what it is, how bad, what is usually done with the piece.

    ``good``, ``not_good``: proposed starting values, no source; the customer's limits come first.
    """

    code: str
    name: str
    definition: str
    severity: str
    first_checks: str
    usual_disposition: str
    pressing_again_helps: str
    how_to_measure: str
    unit: str
    good: str
    not_good: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One usual cause of a defect kind. ``family`` is where it sits: settings, press, operator,
    fabric, transfer, blank or environment; ``rank`` 1 is looked at first. ``code`` is its row in
    the table."""

    code: str
    defect: str
    words: str
    family: str
    variable: str
    direction: str
    rank: int
    first_check: str


def _rows(name: str) -> list[dict[str, str]]:
    text = files("qc.domain").joinpath("data").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def defect_kinds() -> dict[str, DefectKind]:
    """The trade's defect kinds by code, in the order of the table."""
    return {
        row["defect_code"]: DefectKind(
            code=row["defect_code"], name=row["name"], definition=row["visual_definition"],
            severity=row["severity_class"], first_checks=row["first_checks"],
            usual_disposition=row["usual_disposition"], pressing_again_helps=row["repress_helps"],
            how_to_measure=row["how_to_measure"], unit=row["unit"], good=row["accept_level"],
            not_good=row["major_level"],
        )
        for row in _rows("defects.csv")
    }


@cache
def kinds_from_heat(direction: str) -> tuple[str, ...]:
    """The kinds of defect that the table puts down to too little heat ('cold') or too much
    ('hot')."""
    wanted = {"cold": "low", "hot": "high"}[direction]
    return tuple(dict.fromkeys(
        row["defect_code"] for row in _rows("causes.csv")
        if row["variable"] == "temperature" and row["direction"] == wanted))


@cache
def causes_of(defect: str) -> tuple[Cause, ...]:
    """The usual causes of a defect kind, best ranked first; empty for a shop's own kind."""
    found = [
        Cause(
            code=row["cause_id"], defect=row["defect_code"], words=row["cause_plain"],
            family=row["family"], variable=row["variable"], direction=row["direction"],
            rank=int(row["usual_rank"]), first_check=row["first_check"],
        )
        for row in _rows("causes.csv")
        if row["defect_code"] == defect
    ]
    return tuple(sorted(found, key=lambda cause: cause.rank))


def suggested_disposition(kinds: Iterable[str], *, attempt: int = 1) -> str:
    """What is usually done with a piece that shows these kinds of defect.

    Press again where that usually helps and was not done yet; scrap where the trade scraps or
    makes anew; else hold, for somebody to decide. Common practice, no source.
    """
    known = [defect_kinds().get(kind) for kind in kinds]
    if not known:
        return "pass"
    if any(kind is None or kind.severity.startswith("critical") for kind in known):
        return "hold"
    if any(kind.usual_disposition.startswith(("scrap", "re-make")) for kind in known if kind):
        return "scrap"
    helps = all(kind.pressing_again_helps.startswith("yes") for kind in known if kind)
    return "hold" if not helps else ("press_again" if attempt == 1 else "scrap")


def plain_name(code: str) -> str:
    """A kind's name for people; a shop's own kind is its code with spaces."""
    kind = defect_kinds().get(code)
    return kind.name if kind else code.replace("_", " ").capitalize()


def findings_in_words(findings: str) -> str:
    """Findings as they are kept ('lifted_edge@top_left*2;scorch') as people read them."""
    return "; ".join(filter(None, map(_finding_in_words, findings.split(";"))))


def _finding_in_words(entry: str) -> str:
    body, _, n = entry.strip().partition("*")
    code, _, place = body.partition("@")
    if not code:
        return ""
    zone = place.partition(":")[0].replace("_", " ")
    return plain_name(code) + (f", {zone}" if zone else "") + (f" ({n})" if n else "")
