"""The flags of a simulated shop held against what was planted in it.

The rules, chosen to be no kinder than an outside judge who has the list of planted faults:

- A flag is *right* for a fault if its factor and level are the fault's own (or one of the two,
  where a fault sits at two things at once: the first pieces after a start, of one press), what it
  flags (its characteristic, or one it says it explains as well) is something the fault rightly
  shows in, it was signalled after the fault began, and the change it names had not ended before.
- It is *about* a fault if it flags something the fault shows in, was signalled after the fault
  began and not ended before, and names another cause that the fault is mixed with: of the pieces
  of the flagged level since the change at least a third are the fault's, or they hold at least
  half of the fault's pieces; or the fault is named among the other factors. So a lot that comes
  up with the same kind of defect by chance is not forgiven for the fault's sake.
- Every other flag is *false*: also one of the fault's own level for a kind of defect that the
  fault does not raise, one signalled before the fault, one of an honest change, one of ordinary
  variation between lots.
- A fault is *flagged* if any flag is right or about, and *right* if one of them is right. Its delay
  is to the first of them. *Held*: the 90 % interval of the first right flag holds the true start,
  or a moment between it and the first piece the fault touched, which nothing could tell apart.
- One cause, one flag: of the flags right or about, all but one for each fault are *doubled*, the
  misnamed ones beside a right one too. A flag that by the end says itself that another has
  explained it (part_of) is counted apart, as *part*. So nothing is hidden: flags = one for each
  fault flagged + doubled + parts + false.
- *Luck* is how likely so many defects of a fault would be by luck alone, to somebody who knows
  where and when it was, how hard the work was, and how much jobs, lots and levels honestly differ
  in that shop, but not how the level usually does: a fabric, a transfer or a place is held against
  its own pieces before, everything else against all other pieces. Pieces that another fault of the
  same kind touches tell nothing. Without honest differences it is the exact conditional test of two
  Poisson rates (Przyborowski & Wilenski 1940); they make the counts gamma-Poisson. Where even that
  shows nothing, nobody who looks at every level and every moment can.
- A fault is *moderate* if the usual rate gives at least 15 defects of its kind at its pieces
  while it lasts; a fault that is measured (platen, setting, placement) if it touches at least 300
  pieces. The others are counted apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import nbinom

from demo_data.shop import SimulatedShop
from demo_data.spec import ShopSpec
from demo_data.starts import start_levels
from demo_data.truth import Planted
from demo_data.world import ENOUGH, ENOUGH_PIECES
from qc.domain.flags import FactorShare, Flag
from qc.domain.instants import DAY_US
from qc.domain.kinds import defect_kinds
from tests.demo_data.counting import kind_counts

Bools = npt.NDArray[np.bool_]

WEEK_US = 7 * DAY_US
MIXED_SHARE, HELD_SHARE = 1 / 3, 1 / 2
ONLY_THEMSELVES = ("fabric", "transfer", "location")
"""Factors whose levels can only be held against their own past: the usual rates are theirs."""
LEVELS = ("press", "operator", "transfer_lot", "garment_lot", "fabric", "transfer", "location",
          "size")


@dataclass(frozen=True, slots=True, kw_only=True)
class Honest:
    """Coefficients of variation between jobs, lots and other levels of a shop."""

    job: float = 0.0
    lot: float = 0.0
    level: float = 0.0


def honest_of(spec: ShopSpec) -> Honest:
    """How much jobs, lots and levels differ by the make of a shop."""
    lot = spec.level_sd if spec.lot_sd is None else spec.lot_sd
    return Honest(job=spec.job_cv, lot=lot, level=spec.level_sd)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """First looks of a shop, (looks,): when pressed, how many pieces, the levels of each factor;
    ``usual`` defects by kind; the rows themselves."""

    rows: pd.DataFrame
    pressed_us: npt.NDArray[np.int64]
    pieces: npt.NDArray[np.float64]
    levels: dict[str, npt.NDArray[np.object_]]
    usual: pd.DataFrame

    def at(self, factor: str, level: str | None, start_us: int, end_us: int | None) -> Bools:
        """Which looks are at pieces of a level, pressed in a time."""
        inside = self.pressed_us >= start_us
        if end_us is not None:
            inside &= self.pressed_us <= end_us
        if level is not None and factor == "time_since_start" and ", " in level:
            press, level = level.split(", ", 1)  # the first pieces of one press
            inside &= self.levels["press"] == press
        return inside if level is None else inside & (self.levels[factor] == level)

    def touched(self, fault: Planted, end_us: int | None) -> Bools:
        """Which looks are at pieces of a fault, pressed up to a moment."""
        return self.at(fault.factor, fault.level, fault.start_us, end_us)


def work_of(shop: SimulatedShop) -> Work:
    """The first looks of a shop."""
    rows = shop.frames["inspections"]
    rows = rows[(rows["attempt"] == 1) & (rows["stage"] == "final")]
    rows = rows.drop_duplicates("piece_id")
    pressed = pd.to_datetime(rows["pressed_at"], utc=True).dt.tz_localize(None)
    pressed_us = pressed.to_numpy().astype("datetime64[us]").astype(np.int64)
    press = pd.factorize(rows["press"])[0].astype(np.int64)
    fresh, names = start_levels(press, pressed_us)
    levels = {name: rows[name].to_numpy(dtype=object) for name in LEVELS if name in rows}
    levels["time_since_start"] = np.array(names, dtype=object)[fresh]
    if "station" in rows:
        both = rows["press"].astype(str) + "/" + rows["station"].astype(str)
        levels["station"] = both.where(rows["station"].notna()).to_numpy(dtype=object)
    pieces = rows["pieces"].to_numpy(float) if "pieces" in rows else np.ones(len(rows))
    return Work(rows=rows, pressed_us=pressed_us, pieces=pieces, levels=levels,
                usual=shop.usual.loc[rows["piece_id"]])


def judged(
    shop: SimulatedShop, flags: Sequence[Flag], honest: Honest = Honest()
) -> dict[str, Any]:
    """What became of each fault, and the flags nothing planted explains."""
    work = work_of(shop)
    faults = [fault for fault in shop.truth if fault.expect_flag]
    in_order = sorted(flags, key=lambda flag: flag.signalled_at_us)
    mine = [[f for f in in_order if is_right(f, one) or is_about(f, one, work)] for one in faults]
    explained = {flag.id for found in mine for flag in found}
    false = [flag for flag in in_order if flag.id not in explained and flag.part_of is None]
    first = {_best(found, one).id for found, one in zip(mine, faults, strict=True) if found}
    parts = {flag.id for flag in in_order if flag.part_of is not None}
    return {
        "weeks": (shop.end_us - shop.start_us) / WEEK_US, "n_flags": len(in_order),
        "faults": [
            _fate(one, found, shop, work) | {"luck": luck_of(one, work, honest, faults)}
            for one, found in zip(faults, mine, strict=True)
        ],
        "doubled": [flag_said(flag, shop) for flag in in_order
                    if flag.id in explained - first - parts],
        "parts": [flag_said(flag, shop) for flag in in_order if flag.id in parts],
        "false": [flag_said(flag, shop) | _really(flag, work) for flag in false],
    }


def is_right(flag: Flag, fault: Planted) -> bool:
    """Does the flag name the fault as the cause of something it shows in?"""
    return _names(flag.factor, fault) and _in_time(flag, fault)


def is_about(flag: Flag, fault: Planted, work: Work) -> bool:
    """Does the flag flag the fault's work under another name?"""
    if not _in_time(flag, fault):
        return False
    if any(_names(rival, fault) for rival in flag.other_factors):
        return True
    if flag.factor.level is not None and flag.factor.name not in work.levels:
        return False
    flagged = work.at(flag.factor.name, flag.factor.level, flag.changed_at_us, flag.ended_at_us)
    touched = work.touched(fault, fault.end_us)
    both = float(work.pieces[flagged & touched].sum())
    return (both >= MIXED_SHARE * float(work.pieces[flagged].sum()) > 0
            or both >= HELD_SHARE * float(work.pieces[touched].sum()) > 0)


def _names(factor: FactorShare, fault: Planted) -> bool:
    return (factor.name, factor.level) in ((fault.factor, fault.level), *fault.within)


def _in_time(flag: Flag, fault: Planted) -> bool:
    shows = {flag.characteristic, *flag.also} & set(fault.shows_in)
    ended = flag.ended_at_us is not None and flag.ended_at_us < fault.start_us
    return bool(shows) and flag.signalled_at_us >= fault.start_us and not ended


def is_moderate(fault: Planted) -> bool:
    """Is there enough of the fault for it to be seen? See the rules above."""
    if fault.characteristic in defect_kinds():
        return fault.usual >= ENOUGH
    return fault.n_pieces >= ENOUGH_PIECES


def _fate(
    fault: Planted, found: list[Flag], shop: SimulatedShop, work: Work
) -> dict[str, Any]:
    """What was planted and what became of it."""
    said: dict[str, Any] = {
        "fault": fault.kind, "factor": fault.factor, "level": fault.level,
        "characteristic": fault.characteristic, "zone": fault.zone, "size": fault.size,
        "usual": fault.usual, "extra": fault.extra, "n_pieces": fault.n_pieces,
        "start_day": _day(fault.start_us, shop), "moderate": is_moderate(fault),
        "flagged": bool(found), "right": False, "held": False,
    }
    if not found:
        return said
    first, best = found[0], _best(found, fault)
    low, high = best.changed_between_us
    touched = work.touched(fault, first.signalled_at_us)
    first_touched_us = int(work.pressed_us[touched].min(initial=shop.end_us))
    kind = next((k for k in fault.shows_in if k in work.usual), None)
    return said | {
        "right": is_right(best, fault), "right_at_first": is_right(first, fault),
        "held": low <= first_touched_us and fault.start_us <= high,
        "delay_days": (first.signalled_at_us - fault.start_us) / DAY_US,
        "delay_pieces": float(work.pieces[touched].sum()),
        "delay_expected": None if kind is None else float(work.usual[kind][touched].sum()),
        "changed_between_days": [_day(low, shop), _day(high, shop)],
        "flag": flag_said(best, shop),
    }


def luck_of(
    fault: Planted, work: Work, honest: Honest, faults: Sequence[Planted]
) -> float | None:
    """See the rules above; None for what is measured, and for a fault of one zone."""
    if fault.characteristic not in work.usual or fault.zone is not None:
        return None
    clear = np.ones(len(work.rows), dtype=bool)
    for other in faults:
        if other is not fault and other.characteristic == fault.characteristic:
            clear &= ~work.touched(other, other.end_us)
    mine = work.touched(fault, fault.end_us)
    if fault.factor in ONLY_THEMSELVES:
        others = work.at(fault.factor, fault.level, 0, fault.start_us - 1)
    else:
        others = ~mine
    seen = np.asarray(kind_counts(work.rows, fault.characteristic))
    usual = work.usual[fault.characteristic].to_numpy()
    n, n_others = (int(seen[of & clear].sum()) for of in (mine, others))
    mean, mean_others = (float(usual[of & clear].sum()) for of in (mine, others))
    if mean <= 0 or mean_others <= 0:
        return 1.0
    variance = 1.0 / (n_others + 1) + _level_variance(fault, honest) + sum(
        _clumps(fault, work, honest, of & clear, usual) for of in (mine, others))
    mean *= (n_others + 1) / mean_others
    return float(nbinom.sf(n - 1, 1.0 / variance, 1.0 / (1.0 + variance * mean)))


def _level_variance(fault: Planted, honest: Honest) -> float:
    """How much a level may honestly differ from what it is held against."""
    if fault.factor in ONLY_THEMSELVES:
        return 0.0
    return (honest.lot if fault.factor.endswith("_lot") else honest.level) ** 2


def _clumps(
    fault: Planted, work: Work, honest: Honest, of: Bools, usual: npt.NDArray[np.float64]
) -> float:
    """Relative variance of the defects of some looks from jobs and lots that differ."""
    rows, expected = work.rows[of], usual[of]
    job = rows["job"].to_numpy(dtype=object)
    total = 0.0
    differ = {"job": honest.job, "transfer_lot": honest.lot, "garment_lot": honest.lot}
    for name, sd in differ.items():
        if name != fault.factor and name in rows:
            group = rows[name].where(rows[name].notna(), pd.Series(job, index=rows.index))
            total += sd**2 * float((pd.Series(expected).groupby(group.to_numpy()).sum() ** 2).sum())
    return total / float(expected.sum()) ** 2


def _best(found: Sequence[Flag], fault: Planted) -> Flag:
    """The first flag that is right, else the first about the fault."""
    return next((flag for flag in found if is_right(flag, fault)), found[0])


def flag_said(flag: Flag, shop: SimulatedShop) -> dict[str, Any]:
    """A flag in few words, to look into failures."""
    return {
        "kind": flag.kind, "characteristic": flag.characteristic, "also": list(flag.also),
        "direction": flag.direction, "factor": flag.factor.name, "level": flag.factor.level,
        "weight": flag.factor.weight, "zone": flag.zone,
        "rivals": [[f.name, f.level, f.weight] for f in flag.other_factors[:3]],
        "signalled_day": _day(flag.signalled_at_us, shop),
        "changed_day": _day(flag.changed_at_us, shop),
        "ended_day": None if flag.ended_at_us is None else _day(flag.ended_at_us, shop),
        "before": flag.before, "after": flag.after, "expected_after": flag.expected_after,
        "pieces_at_risk": flag.pieces_at_risk,
    }


def _really(flag: Flag, work: Work) -> dict[str, float]:
    """Defects at the flagged level in the flagged time, seen and as the planted rates give them."""
    kind, factor = flag.characteristic, flag.factor
    if kind not in work.usual or (factor.level is not None and factor.name not in work.levels):
        return {}
    mask = work.at(factor.name, factor.level, flag.changed_at_us, flag.ended_at_us)
    seen = kind_counts(work.rows[mask], kind).sum()
    return {"really_seen": float(seen), "really_usual": float(work.usual[kind][mask].sum())}


def _day(at_us: int, shop: SimulatedShop) -> float:
    return round((at_us - shop.start_us) / DAY_US, 2)
