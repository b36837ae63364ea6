"""Taking a step of a case: from what a person says to a step in the store."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from qc.desk.cause_fit import fit
from qc.desk.flags import flag_evidence
from qc.desk.shop import Shop
from qc.desk.whereabouts import whereabouts
from qc.domain.cases import AGREED_CHANGE, FALSE_FLAG, OTHER_CAUSES, CaseFile, case_files
from qc.domain.causes import RankedCause, experience_of, ranked_causes
from qc.domain.flags import Flag
from qc.domain.instants import DAY_US, parse_due, parse_instant
from qc.domain.whereabouts import STATUSES, TO_BE_HELD
from qc.errors import InputError, NotFound
from qc.store.cases import NewStep, add_step, contain, read_cases, read_steps

CAUSE_WORDS = {
    "agreed change": AGREED_CHANGE, "agreed_change": AGREED_CHANGE, "agreed": AGREED_CHANGE,
    "false": FALSE_FLAG, "nothing found": FALSE_FLAG,
}
"""What people write for a cause that is none; more words may follow after a colon."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWanted:
    """A step as a person asks for it.

    ``text``: the words, the cause (code or words), the owner's name or the due date. ``when``:
    time of an action, if not now. ``seen``: newest step the person had before them (0: none).
    """

    flag_id: str
    step: str
    text: str = ""
    when: str = ""
    seen: int | None = None


def take_step(
    shop: Shop, wanted: StepWanted, *, by: str, at_us: int, known_us: int | None = None
) -> CaseFile:
    """Take a step of a flag's case; the case as it is afterwards.

    ``known_us``: up to when flags and the pieces they touch are looked up; default ``at_us``.

    Raises
    ------
    NotFound
        There is no such flag and no such case.
    InputError, Conflict
        As `qc.domain.cases.check_step` and `qc.store.cases.add_step` say.
    """
    case, known = case_file(shop, wanted.flag_id), known_us or at_us
    flag = case.flag if case else flag_evidence(shop, wanted.flag_id, as_of_us=known).flag
    new = NewStep(flag=flag, step=wanted.step, said=_said(shop, wanted, flag, at_us),
                  seen=wanted.seen)
    if wanted.step == "contain":
        return _contain(shop, new, by=by, at_us=at_us, known_us=known)
    return add_step(shop.store, new, by=by, at_us=at_us)


def case_file(shop: Shop, flag_id: str, *, as_of_us: int | None = None) -> CaseFile | None:
    """The steps of a flag's case; None where nobody took one."""
    return case_files(read_steps(shop.store, flag_id=flag_id, as_of_us=as_of_us)).get(flag_id)


def causes_here(shop: Shop, flag: Flag, *, as_of_us: int | None = None) -> tuple[RankedCause, ...]:
    """Causes of what a flag is about: those of what was flagged first, in the order this shop's
    closed cases give."""
    return _ranked(flag, experience_of(read_cases(shop.store, as_of_us=as_of_us).values()))


def _ranked(flag: Flag, found: dict[tuple[str, str], int]) -> tuple[RankedCause, ...]:
    """Of the kind flagged and, while the trade has no list for it, of what comes with it."""
    ranked: tuple[RankedCause, ...] = ()
    for kind in (flag.characteristic, *flag.also):
        mine = ranked_causes(kind, found, partial(fit, flag=flag))
        ranked += mine
        if any(one.cause for one in mine):
            break
    return ranked


def _said(shop: Shop, wanted: StepWanted, flag: Flag, at_us: int) -> dict[str, Any]:
    text = wanted.text.strip()
    if wanted.step == "cause":
        return _cause(shop, text, flag)
    if wanted.step == "due":
        return {"due_us": parse_due(text, shop.zone)}
    if wanted.step == "owner":
        return {"name": text}
    if wanted.step == "action":
        return {"words": text, "done_us": _done(wanted.when, shop, at_us)}
    return {"words": text} if text else {}


def _cause(shop: Shop, text: str, flag: Flag) -> dict[str, Any]:
    head, _, more = text.partition(":")
    none = CAUSE_WORDS.get(head.strip().casefold())
    if none:
        return {"source": none, "words": more.strip() or OTHER_CAUSES[none]}
    known = causes_here(shop, flag)
    same = next((one for one in known if text.casefold() in (one.code.casefold(),
                                                              one.words.casefold())), None)
    if same is not None and same.cause is not None:
        return {"source": "trade", "code": same.code, "defect": same.cause.defect,
                "words": same.words}
    return {"source": "own", "words": same.words if same else text,
            "defect": flag.characteristic}


def _done(when: str, shop: Shop, at_us: int) -> int:
    done = parse_instant(when, shop.zone) if when else at_us
    if done > at_us:
        raise InputError(f"the action is said to be at {shop.iso(done)}, which is still to come")
    if done < at_us - 3660 * DAY_US:
        raise InputError(f"the action is said to be at {shop.iso(done)}, over ten years ago")
    return done


def _contain(shop: Shop, new: NewStep, *, by: str, at_us: int, known_us: int) -> CaseFile:
    try:
        pieces = flag_evidence(shop, new.flag.id, as_of_us=known_us).pieces
    except NotFound:
        raise NotFound(f"flag {new.flag.id} is no longer raised; which pieces it touches is not "
                       "known any more") from None
    now = whereabouts(shop, pieces, as_of_us=at_us)
    n = pieces["n"].to_numpy(dtype=np.int64)
    counted = {status: int(n[(now["status"] == status).to_numpy()].sum()) for status in STATUSES}
    looks = now.loc[now["status"].isin(TO_BE_HELD) & (now["look"] > 0), "look"]
    said = {"pieces": counted, "n_pieces": sum(counted[status] for status in TO_BE_HELD)}
    return contain(shop.store, NewStep(flag=new.flag, step=new.step, said=said, seen=new.seen),
                   looks.to_numpy(dtype=np.int64), by=by, at_us=at_us)
