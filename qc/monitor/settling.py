"""The comparison that would tell two causes apart: change one, keep the other, see who is right.

Each factor is known by how it is changed in a shop, how it is kept, and what it lies inside of (a
lot inside its transfer, a station inside its press, everything inside the shop). What lies inside
of another can be changed with the other kept, never the other way round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr

from qc.domain.flags import FactorShare, worthy_rivals
from qc.monitor.findings import Finding
from qc.monitor.phrases import cause_words, characteristic_words, filled

OUTER = {"transfer_lot": "transfer", "garment_lot": "fabric", "station": "press"}
"""What a factor lies inside of; all lie inside the shop."""

CHANGE = {
    "job": "press {n} of the same work in another job",
    "time_since_start": "press {n} with the press warmed through",
    "transfer_lot": "press {n} with another lot of the same transfer",
    "garment_lot": "press {n} of another garment lot of the same fabric",
    "operator": "let another person press {n}",
    "station": "press {n} at another station of the same press",
    "press": "press {n} of the same work on another press",
    "size": "press {n} of another size",
    "location": "press {n} at another place of the garment",
    "transfer": "press {n} with another transfer (its own recipe)",
    "fabric": "press {n} of another fabric (its own recipe)",
    "zone": "look at the rest of the print on {n}",
}
"""How a factor is changed, the easiest first; the shop cannot be."""

KEEP = {
    "transfer_lot": "with transfer lot {}", "garment_lot": "on garment lot {}",
    "operator": "with operator {} at work", "station": "at station {}", "press": "on press {}",
    "size": "in size {}", "location": "at the place {}", "transfer": "with transfer {}",
    "fabric": "on fabric {}", "time_since_start": "in the {} after a start",
    "zone": "and look at the {} of the print", "job": "of job {}",
}

INSTRUMENTS = {
    "dwell_s": "a stopwatch", "temperature_c": "a contact probe",
    "temperature_lower_c": "a contact probe", "pressure_kpa": "a second gauge",
    "pressure_dial": "a paper pull at five places",
}
"""What a displayed setting is checked with. Common practice, no source."""

SIZES = (10, 20, 30, 50, 75, 100, 150, 200, 300, 400, 500, 700, 1000, 1500, 2000)
"""Numbers of pieces worth asking for."""

RISK = 0.1
"""Chance of a wrong answer that a comparison may leave, either way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A trial with ``changed`` at another level and ``kept`` as it was.

    If the fault still comes, ``kept`` is the cause; if it goes, ``changed`` is. Two levels of one
    factor are run side by side instead: the one with the fault is the cause.
    """

    changed: FactorShare
    kept: FactorShare

    @property
    def side_by_side(self) -> bool:
        return self.changed.name == self.kept.name

    def named(self, factor: str) -> FactorShare | None:
        """The one of the two that is of this factor."""
        return next((s for s in (self.changed, self.kept) if s.name == factor), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measure:
    """How much is run, and what counts as the fault still being there."""

    pieces: str
    still: str


def comparison(a: FactorShare, b: FactorShare) -> Comparison:
    """The easier of the trials that tell a cause from its rival.

    An inner factor stands before the outer one in `CHANGE`, so it is the inner one that changes.
    """
    ease = [*CHANGE, "shop"]
    changed, kept = sorted((a, b), key=lambda share: ease.index(share.name))
    return Comparison(changed=changed, kept=kept)


def settle(finding: Finding) -> str | None:
    """One sentence with the comparison that tells the cause from its strongest rival.

    None where no rival has a share of the evidence worth it.
    """
    rivals = worthy_rivals(finding.other_factors)
    if not rivals:
        return None
    trial = comparison(finding.factor, rivals[0])
    words = f"{_check_display(finding, trial)}{_trial_words(trial, _measure(finding))}"
    return f"To tell them apart, {words}."


def pieces_needed(after: float, usual: float) -> tuple[int, int] | None:
    """Pieces of a comparison, and from how many faulty ones on the rise is still there.

    Parameters
    ----------
    after, usual : float, shares of pieces, 0..1
        With the change and without.

    Returns
    -------
    tuple of int or None
        (n, c): c or more of n speak for the risen rate. None where 2000 pieces do not do.

    Notes
    -----
    Binomial; either answer is wrong in at most one case in ten. Pieces of one job resemble each
    other more than chance says, so this is the least.
    """
    if not 0 <= usual < after <= 1:
        return None
    for n in SIZES:
        least = np.arange(1, n + 1)
        missed, false = bdtr(least - 1, n, after), 1.0 - bdtr(least - 1, n, usual)
        good = (missed <= RISK) & (false <= RISK)
        if good.any():
            return n, int(least[np.argmax(good)])
    return None


def _measure(finding: Finding) -> _Measure:
    if finding.kind == "setting":
        return _Measure(pieces="the next job", still="settings still off")
    if finding.kind == "placement":
        return _Measure(pieces="ten pieces to measure", still="prints still off")
    after, usual = finding.after, finding.expected_after
    needed = None if after is None or usual is None else pieces_needed(after, usual)
    if needed is None:
        return _Measure(pieces="several jobs", still="rates still this high")
    n, least = needed
    more = "" if least == n else " or more"
    return _Measure(pieces=f"at least {n} pieces", still=f"{least}{more} with the fault")


def _check_display(finding: Finding, trial: Comparison) -> str:
    """A setting is what a display shows: another instrument comes first."""
    press = trial.named("press")
    if finding.kind != "setting" or press is None:
        return ""
    tool = INSTRUMENTS.get(finding.characteristic, "a second instrument")
    what = characteristic_words(finding.characteristic)
    return f"check the {what} shown at {cause_words(press)} with {tool}, then "


def _trial_words(trial: Comparison, measure: _Measure) -> str:
    kept, changed = cause_words(trial.kept), cause_words(trial.changed)
    press, person = trial.named("press"), trial.named("operator")
    if trial.side_by_side:
        return (f"run the same work for {kept} and for {changed}, {measure.pieces} each: "
                f"{measure.still} mark the cause")
    if press and person:
        return (f"let another person work {cause_words(press)}, or {cause_words(person)} another "
                f"press, for {measure.pieces}: {measure.still} mean that the fault stayed with "
                "its cause")
    return f"{_doing(trial, measure.pieces)}: {measure.still} point to {kept}, else {changed}"


def _doing(trial: Comparison, pieces: str) -> str:
    """The changed factor at another level, the kept one as it was."""
    words = CHANGE[trial.changed.name].format(n=pieces)
    outer = OUTER.get(trial.changed.name)
    if trial.kept.name == outer:
        return words.replace(f"the same {outer}", cause_words(trial.kept))
    if trial.kept.name == "shop":
        return words
    if trial.kept.level is None:
        return f"{words}, with {cause_words(trial.kept)}"
    return f"{words} {filled(KEEP, trial.kept.name, trial.kept.level)}"
