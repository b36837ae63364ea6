"""Pulls of paper and film in words, the same for every face."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.presses import press_pulls
from qc.desk.shop import Shop
from qc.domain.pulls import PullCheck

GRIP_WORDS = ("not at all", "lightly", "firmly", "fully")
METHOD_WORDS = {"paper": "paper", "film": "pressure film"}
STATE_WORDS = {"uneven": "Uneven", "cannot_tell": "Cannot be told", "even": "Even"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PullLine:
    """The latest pulls at one place of work, each part in words; ``state`` as a code."""

    where: str
    method: str
    grips: str
    said: str
    state: str
    state_words: str
    pulled_at_us: int


def pull_lines(shop: Shop, *, as_of_us: int) -> tuple[PullLine, ...]:
    """The latest pulls at every press and station, uneven ones first."""
    return tuple(_line(one) for one in press_pulls(shop, as_of_us=as_of_us))


def _line(one: PullCheck) -> PullLine:
    where = one.press if one.station is None else f"{one.press}, station {one.station}"
    held: dict[int, list[str]] = {}
    for place, grip in one.grips:
        held.setdefault(grip, []).append(place.replace("_", " "))
    grips = "; ".join(f"{GRIP_WORDS[grip]}: {', '.join(places)}"
                      for grip, places in sorted(held.items()))
    return PullLine(where=where, method=METHOD_WORDS[one.method], grips=grips, said=_said(one),
                    state=one.state, state_words=STATE_WORDS[one.state],
                    pulled_at_us=one.pulled_at_us)


def _said(one: PullCheck) -> str:
    rounds = f"{one.n_rounds} round{'s' if one.n_rounds != 1 else ''}"
    chance = "" if one.chance is None else f", by luck {_percent(one.chance)}"
    if one.state == "uneven":
        return (f"weakest {one.weakest.replace('_', ' ')} in {rounds}{chance}: look at the pad and "
                "have the platen levelled")
    if one.state == "even":
        return f"no place is weaker than luck makes it in {rounds}{chance}"
    return f"grips differ in {rounds}; three rounds at the same places can tell"


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.005 else f"{100 * share:.0f} %"
