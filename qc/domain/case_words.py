"""A case's steps in words, for every face."""

from __future__ import annotations

from typing import Any

from qc.domain.cases import OTHER_CAUSES, CaseStep
from qc.domain.whereabouts import STATUS_WORDS

STEP_WORDS = {
    "open": "opened the case", "acknowledge": "saw it", "contain": "held pieces",
    "cause": "named the cause", "action": "acted", "owner": "gave it to", "due": "set it due",
    "note": "noted", "close": "closed it", "reopen": "opened it again",
}


def step_words(step: CaseStep, moment: Any) -> str:
    """What somebody did; ``moment`` writes an instant."""
    head, said = STEP_WORDS[step.step], step.said
    if step.step == "contain":
        return _contained(head, said)
    if step.step == "due":
        return f"{head} {moment(said['due_us'])}"
    if step.step == "owner":
        return f"{head} {said['name']}"
    if step.step == "action":
        when = f" ({moment(said['done_us'])})" if said["done_us"] != step.at_us else ""
        return f"{head}{when}: {said['words']}"
    if step.step == "cause":
        return f"{head}: {cause_words(said)}"
    words = said.get("words", "")
    return f"{head}: {words}" if words else head


def brief_words(step: CaseStep) -> str:
    """What somebody did, without its words and times."""
    head = STEP_WORDS[step.step]
    return f"{head} {step.said['name']}" if step.step == "owner" else head


def cause_words(said: Any) -> str:
    """A cause as it was named."""
    none = OTHER_CAUSES.get(said["source"])
    if none is None or said["words"] == none:
        return str(said["words"])
    return f"{none.partition(':')[0]}: {said['words']}"


def _contained(head: str, said: Any) -> str:
    pieces = said.get("pieces", {})
    parts = [f"{n:,} {STATUS_WORDS[status]}" for status, n in pieces.items()
             if n and status in ("shipped", "scrapped", "held")]
    rest = f" (besides {', '.join(parts)})" if parts else ""
    return f"{head}: {said.get('n_pieces', said.get('n_held', 0)):,}{rest}"
