"""Planted faults, each a small function: what it does to rates, settings, prints and platens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from demo_data.plan import Floats, Ints, Plan
from demo_data.rates import Rates
from demo_data.spec import Fault, ShopSpec
from demo_data.truth import Planted
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.errors import InputError

Bools = npt.NDArray[np.bool_]

ENOUGH = 15.0
"""A fault is of moderate size when the usual rate would give this many defects meanwhile."""

LIFT_PER_DEGREE = 0.35
"""Invented: by how much a colder platen raises lifted edges and weak bonds, share per degC."""


OWNERS = {"transfer_lot": "transfer", "garment_lot": "fabric"}
"""What a lot is a lot of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatenChange:
    """A platen whose probe points leave the setpoint: ``per_day_c`` a day everywhere, or
    ``corner_c`` at once at the point (``row``, ``col``)."""

    press: str
    platen: str
    start_us: int
    end_us: int | None
    per_day_c: float = 0.0
    corner_c: float = 0.0
    row: int = 1
    col: int = 1


@dataclass(slots=True, kw_only=True, eq=False)
class Changes:
    """What all faults together do. ``multiplier`` and ``zoned`` (by zone position) act on the
    rates, (kinds, pieces); ``dx_mm`` and ``dwell_share`` are (pieces,)."""

    multiplier: Floats
    dx_mm: Floats
    dwell_share: Floats
    zoned: list[tuple[int, int, Floats]] = field(default_factory=list)
    platens: list[PlatenChange] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class World:
    """What a fault is planted in."""

    spec: ShopSpec
    plan: Plan
    rates: Rates
    rng: np.random.Generator

    def us(self, day: float) -> int:
        whole = min(int(day), self.spec.days - 1)
        return int(self.plan.midnights_us[whole]) + int((day - whole) * DAY_US)

    def first_look(self, kind: str) -> Floats:
        """Usual rate of a kind at the first look, (pieces,)."""
        rows = self.rows(kind, look="prompt")
        return self.rates.usual[rows].sum(axis=0)

    def rows(self, kind: str, look: str | None = None) -> list[int]:
        kinds = enumerate(self.spec.kinds)
        return [k for k, one in kinds if one.code == kind and look in (None, one.look)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touched:
    """The pieces a fault touches."""

    level: str
    mask: Bools
    start_us: int
    end_us: int | None


def plant(world: World) -> tuple[Changes, tuple[Planted, ...]]:
    """Plant all faults of the shop; what they change and the truth about them."""
    n = world.plan.n
    changes = Changes(
        multiplier=np.ones((len(world.spec.kinds), n)), dx_mm=np.zeros(n), dwell_share=np.ones(n),
    )
    truth = tuple(FAULTS[fault.kind](fault, world, changes) for fault in world.spec.faults)
    return changes, truth


def touched(fault: Fault, world: World, factor: str) -> Touched:
    """The pieces of the fault's level while it lasts."""
    usual = world.first_look(fault.characteristic)
    pressed = world.plan.pressed_us
    start, end = world.us(fault.day), None
    code = world.plan.code[factor]
    level = _level(fault, world, factor, usual * (pressed >= start))
    mask = (code == level) & (pressed >= start)
    if fault.until_day is not None:
        end = world.us(fault.until_day)
        mask &= pressed < end
    if fault.enough is not None:
        stop = _when_enough(pressed[mask], usual[mask], fault.enough)
        if stop is not None:
            end, mask = stop, mask & (pressed < stop)
    if factor.endswith("_lot") and mask.any():
        start = int(pressed[mask].min())
        last = int(pressed[mask].max())
        end = last if world.plan.end_us - last > 3 * DAY_US else None
    name = world.plan.names[factor][level]
    return Touched(level=name, mask=mask, start_us=start, end_us=end)


def _level(fault: Fault, world: World, factor: str, usual: Floats) -> int:
    """The level named; else one with enough work. A lot is named by its transfer or fabric."""
    names = world.plan.names[factor]
    if fault.level in names:
        return names.index(fault.level)
    owner = OWNERS.get(factor, "")
    if owner and fault.level:
        return _next_lot(fault, world, factor, owner)
    code = world.plan.code[factor]
    expected = np.bincount(code[code >= 0], usual[code >= 0], len(names))
    able = np.flatnonzero(expected >= ENOUGH)
    return int(world.rng.choice(able)) if len(able) else int(np.argmax(expected))


def _next_lot(fault: Fault, world: World, factor: str, owner: str) -> int:
    """The first lot of that transfer or fabric that comes into use on the day or later."""
    mine = world.plan.code[owner] == world.plan.names[owner].index(fault.level)
    lots, lot_of = np.unique(world.plan.code[factor][mine], return_inverse=True)
    first = np.full(len(lots), np.iinfo(np.int64).max)
    np.minimum.at(first, lot_of, world.plan.pressed_us[mine])
    later = np.flatnonzero(first >= world.us(fault.day))
    if len(later) == 0:
        raise InputError(f"no new lot of {fault.level!r} is used from day {fault.day:g} on")
    return int(lots[later[np.argmin(first[later])]])


def _when_enough(pressed: Ints, usual: Floats, enough: float) -> int | None:
    order = np.argsort(pressed, kind="stable")
    at = int(np.searchsorted(np.cumsum(usual[order]), enough))
    return int(pressed[order][at]) + 1 if at < len(order) else None


def _planted(fault: Fault, world: World, at: Touched, factor: str, **more: object) -> Planted:
    usual = world.first_look(fault.characteristic) * at.mask
    said: dict[str, object] = {
        "kind": fault.kind, "factor": factor, "level": at.level,
        "characteristic": fault.characteristic, "shows_in": (fault.characteristic,),
        "zone": fault.zone, "platen": None, "start_us": at.start_us, "end_us": at.end_us,
        "size": fault.ratio, "usual": float(usual.sum()),
        "extra": float(usual.sum()) * (fault.ratio - 1), "n_pieces": int(at.mask.sum()),
        "expect_flag": True, "note": "",
    }
    return Planted(**(said | more))  # type: ignore[arg-type]


def _raise_rate(fault: Fault, world: World, changes: Changes, mask: Bools) -> None:
    for k in world.rows(fault.characteristic):
        if fault.zone is None:
            changes.multiplier[k, mask] *= fault.ratio
        else:
            more = mask.astype(np.float64) * (fault.ratio - 1.0)
            changes.zoned.append((k, ZONES.index(fault.zone), more))


def _rate_fault(factor: str, note: str) -> Callable[[Fault, World, Changes], Planted]:
    """A fault that only raises a rate at one level of a factor."""

    def fault_of(fault: Fault, world: World, changes: Changes) -> Planted:
        at = touched(fault, world, factor)
        _raise_rate(fault, world, changes, at.mask)
        return _planted(fault, world, at, factor, note=note)

    return fault_of


def drifting_platen(fault: Fault, world: World, changes: Changes) -> Planted:
    """The upper platen gets colder day by day; edges lift and bonds stay weak with its error."""
    at = touched(fault, world, "press")
    days = np.maximum(world.plan.pressed_us - at.start_us, 0) / DAY_US
    factor = 1.0 + LIFT_PER_DEGREE * np.abs(fault.size) * days * at.mask
    usual = world.first_look("lifted_edge")
    for k in (*world.rows("lifted_edge"), *world.rows("incomplete_cure")):
        changes.multiplier[k] *= factor
    changes.platens.append(PlatenChange(
        press=at.level, platen="upper", start_us=at.start_us, end_us=at.end_us,
        per_day_c=fault.size,
    ))
    return _planted(
        fault, world, at, "press", characteristic="temperature_error_c", platen="upper",
        shows_in=("lifted_edge", "incomplete_cure", "temperature_error_c"), size=fault.size,
        usual=float((usual * at.mask).sum()), extra=float((usual * (factor - 1)).sum()),
        note="size is degC a day; edges and bonds get worse with the platen's error",
    )


def cold_corner(fault: Fault, world: World, changes: Changes) -> Planted:
    """One corner of the upper platen is cold; edges lift there."""
    at = touched(fault, world, "press")
    _raise_rate(fault, world, changes, at.mask)
    row, col = divmod(ZONES.index(fault.zone or "bottom_right"), 3)
    changes.platens.append(PlatenChange(
        press=at.level, platen="upper", start_us=at.start_us, end_us=at.end_us,
        corner_c=fault.size, row=row + 1, col=col + 1,
    ))
    return _planted(
        fault, world, at, "press", platen="upper",
        shows_in=(fault.characteristic, "temperature_spread_c"),
        note=f"that corner is {abs(fault.size):g} degC cold; all extra edges lift there",
    )


def operator_misplacement(fault: Fault, world: World, changes: Changes) -> Planted:
    """One person loads garments off to one side, at whatever press."""
    at = touched(fault, world, "operator")
    _raise_rate(fault, world, changes, at.mask)
    changes.dx_mm[at.mask] += fault.size
    return _planted(
        fault, world, at, "operator", shows_in=(fault.characteristic, "dx_mm"),
        note=f"prints sit {fault.size:g} mm to one side",
    )


def changed_dwell(fault: Fault, world: World, changes: Changes) -> Planted:
    """Somebody shortened the timer of one press; it shows in the settings and in weak bonds."""
    at = touched(fault, world, "press")
    _raise_rate(fault, world, changes, at.mask)
    changes.dwell_share[at.mask] *= 1.0 - fault.size
    return _planted(
        fault, world, at, "press", shows_in=(fault.characteristic, "dwell_s"),
        note=f"recorded dwell {fault.size:.0%} short",
    )


def mix_change(fault: Fault, world: World, changes: Changes) -> Planted:
    """More of one fabric from a day on: the plan did it already, and nothing is wrong."""
    at = touched(fault, world, "fabric")
    usual = float((world.first_look(fault.characteristic) * at.mask).sum())
    return _planted(
        fault, world, at, "fabric", usual=usual, extra=0.0, expect_flag=False,
        note="honest: the shop's rate rises because more of the hard fabric is pressed",
    )


FAULTS: dict[str, Callable[[Fault, World, Changes], Planted]] = {
    "drifting_platen": drifting_platen,
    "cold_corner": cold_corner,
    "weak_transfer_lot": _rate_fault("transfer_lot", "every press that uses the lot sees it"),
    "operator_misplacement": operator_misplacement,
    "changed_dwell": changed_dwell,
    "bad_garment_lot": _rate_fault("garment_lot", "every press that gets the lot sees it"),
    "press_fault": _rate_fault("press", "one press, all fabrics and transfers"),
    "short_episode": _rate_fault("press", "it came, lasted some days, and went"),
    "fabric_fault": _rate_fault("fabric", "the mill changed the finish"),
    "location_fault": _rate_fault("location", "a jig for one place on the garment"),
    "mix_change": mix_change,
}
"""Every kind of fault that can be planted, by name."""
