"""What faults are planted in, which pieces each touches, and what all of them together change."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from demo_data.plan import Floats, Ints, Plan
from demo_data.rates import Rates
from demo_data.spec import Fault, ShopSpec
from demo_data.starts import start_levels
from demo_data.truth import Planted
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.errors import InputError

Bools = npt.NDArray[np.bool_]

ENOUGH = 15.0
"""A fault is of moderate size when the usual rate would give this many defects meanwhile."""

ENOUGH_PIECES = 300.0
"""The same for a fault that is measured and not counted, in pieces."""

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
    rates, (kinds, pieces). ``moved`` is added to measured placements and shown settings, ``scaled``
    multiplies shown settings; (pieces,) by column."""

    multiplier: Floats
    moved: dict[str, Floats]
    scaled: dict[str, Floats]
    zoned: list[tuple[int, int, Floats]] = field(default_factory=list)
    platens: list[PlatenChange] = field(default_factory=list)


def no_changes(n_kinds: int, n_pieces: int) -> Changes:
    """Nothing is wrong yet."""
    return Changes(
        multiplier=np.ones((n_kinds, n_pieces)),
        moved={name: np.zeros(n_pieces)
               for name in ("dx_mm", "dy_mm", "rotation_deg", "temperature_c")},
        scaled={name: np.ones(n_pieces) for name in ("dwell_s", "pressure")},
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class World:
    """What a fault is planted in."""

    spec: ShopSpec
    plan: Plan
    rates: Rates
    rng: np.random.Generator

    def us(self, day: float) -> int:
        whole = min(int(day), self.spec.days - 1)
        return int(self.plan.midnights_us[whole]) + int((day - whole) * DAY_US)

    def usual(self, characteristic: str) -> Floats:
        """Usual rate of a kind at the first look, (pieces,). Of something measured: as much as
        makes `ENOUGH_PIECES` count like `ENOUGH` defects."""
        rows = self.rows(characteristic, look="prompt")
        if rows:
            return self.rates.usual[rows].sum(axis=0)
        return np.full(self.plan.n, ENOUGH / ENOUGH_PIECES)

    def rows(self, kind: str, look: str | None = None) -> list[int]:
        kinds = enumerate(self.spec.kinds)
        return [k for k, one in kinds if one.code == kind and look in (None, one.look)]

    def levels(self, factor: str) -> tuple[Ints, tuple[str, ...]]:
        """Level of each piece, -1 for none, and the levels' names as flags write them."""
        if factor == "shop":
            return np.zeros(self.plan.n, dtype=np.int64), ("",)
        if factor == "time_since_start":
            return self._starts
        if factor == "station":
            presses = self.spec.presses
            owner = [press.code for press in presses for _ in press.stations]
            names = zip(owner, self.plan.names[factor], strict=True)
            return self.plan.code[factor], tuple(f"{press}/{name}" for press, name in names)
        return self.plan.code[factor], self.plan.names[factor]

    @cached_property
    def _starts(self) -> tuple[Ints, tuple[str, ...]]:
        return start_levels(self.plan.code["press"], self.plan.pressed_us)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touched:
    """The pieces a fault touches; the shop's level is None."""

    level: str | None
    mask: Bools
    start_us: int
    end_us: int | None


def touched(fault: Fault, world: World, factor: str) -> Touched:
    """The pieces of the fault's level while it lasts."""
    usual = world.usual(fault.characteristic)
    pressed = world.plan.pressed_us
    start, end = world.us(fault.day), None
    code, names = world.levels(factor)
    meanwhile = pressed >= start
    if fault.until_day is not None:
        end = world.us(fault.until_day)
        meanwhile &= pressed < end
    level = _level(fault, world, factor, usual * meanwhile)
    mask = (code == level) & meanwhile
    if fault.enough is not None:
        stop = _when_enough(pressed[mask], usual[mask], fault.enough)
        if stop is not None:
            end, mask = stop, mask & (pressed < stop)
    if factor.endswith("_lot") and mask.any():
        start = int(pressed[mask].min())
        last = int(pressed[mask].max())
        end = last if world.plan.end_us - last > 3 * DAY_US else None
    return Touched(level=names[level] or None, mask=mask, start_us=start, end_us=end)


def _level(fault: Fault, world: World, factor: str, usual: Floats) -> int:
    """The level named; else one with enough work. A lot is named by its transfer or fabric."""
    code, names = world.levels(factor)
    if fault.level in names:
        return names.index(fault.level)
    owner = OWNERS.get(factor, "")
    if owner and fault.level:
        return _next_lot(fault, world, factor, owner)
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


def planted(fault: Fault, world: World, at: Touched, factor: str, **more: object) -> Planted:
    """The truth about a fault that raises its characteristic's rate by its ratio at once."""
    usual = float((world.usual(fault.characteristic) * at.mask).sum())
    if not world.rows(fault.characteristic):
        usual = 0.0
    said: dict[str, object] = {
        "kind": fault.kind, "factor": factor, "level": at.level,
        "characteristic": fault.characteristic, "shows_in": (fault.characteristic,),
        "zone": fault.zone, "platen": None, "start_us": at.start_us, "end_us": at.end_us,
        "size": fault.ratio, "usual": usual, "extra": usual * (fault.ratio - 1),
        "n_pieces": int(at.mask.sum()), "expect_flag": True, "note": "",
    }
    return Planted(**(said | more))  # type: ignore[arg-type]


def raise_rate(fault: Fault, world: World, changes: Changes, mask: Bools) -> None:
    """Multiply the rate of the fault's kind at some pieces; with a zone, all that is more is
    there."""
    for k in world.rows(fault.characteristic):
        if fault.zone is None:
            changes.multiplier[k, mask] *= fault.ratio
        else:
            more = mask.astype(np.float64) * (fault.ratio - 1.0)
            changes.zoned.append((k, ZONES.index(fault.zone), more))
