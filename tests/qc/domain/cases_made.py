"""Flags and steps of cases, made by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from qc.domain.cases import OPEN, CaseFile, CaseStep, flag_to_json
from qc.domain.flags import FactorShare, Flag
from qc.domain.instants import DAY_US, HOUR_US

T0_US = 1_772_409_600_000_000
"""2026-03-02 00:00 UTC."""

FOUND: dict[str, Any] = {"source": "trade", "code": "K005", "defect": "lifted_edge",
                         "words": "cold spot in the platen"}
DONE: dict[str, Any] = {"words": "pad changed", "done_us": T0_US + DAY_US}
SAID: dict[str, dict[str, Any]] = {
    "acknowledge": {}, "contain": {"n_pieces": 3}, "cause": FOUND, "action": DONE,
    "owner": {"name": "Bo"}, "due": {"due_us": T0_US + 3 * DAY_US}, "note": {"words": "asked"},
    "close": {}, "reopen": {"words": "it is back"},
}


def flag(**changes: object) -> Flag:
    """Edges lift on press P2."""
    made = Flag(
        id="f1", kind="defect_rate", characteristic="lifted_edge", direction="up", press="P2",
        platen=None, zone=None, signalled_at_us=T0_US + 30 * HOUR_US, changed_at_us=T0_US,
        changed_between_us=(T0_US - HOUR_US, T0_US + HOUR_US), ended_at_us=None,
        factor=FactorShare(name="press", level="P2", weight=0.96),
        other_factors=(FactorShare(name="operator", level="Ana", weight=0.04),),
        before=0.01, after=0.06, expected_after=0.01, unit="per piece", pieces_at_risk=3,
        also=(), message="Edges lift on press P2.", next_step="Check first: the gauge.",
        urgency=1.0,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def case(*steps: str | tuple[str, Mapping[str, Any]], of: Flag | None = None,
         by: str = "ann") -> CaseFile:
    """A case with these steps, a minute apart; a step alone says what `SAID` has for it."""
    mine = of or flag()
    taken = [(OPEN, {"flag": flag_to_json(mine)})]
    taken += [(one, SAID[one]) if isinstance(one, str) else (one[0], dict(one[1]))
              for one in steps]
    return CaseFile(steps=tuple(
        CaseStep(number=at + 1, flag_id=mine.id, step=step, by=by,
                 at_us=T0_US + DAY_US + at * 60_000_000, said=said)
        for at, (step, said) in enumerate(taken)
    ))
