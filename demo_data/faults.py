"""Planted faults, each a small function: what it does to rates, settings, prints and platens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from demo_data.placement import PLACEMENT_SD
from demo_data.plan import Floats
from demo_data.spec import Fault
from demo_data.starts import FRESH
from demo_data.truth import Planted
from demo_data.world import (
    Changes,
    PlatenChange,
    World,
    no_changes,
    planted,
    raise_rate,
    touched,
)
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES

LIFT_PER_DEGREE = 0.35
"""Invented: by how much a colder platen raises lifted edges and weak bonds, share per degC."""

Plant = Callable[[Fault, World, Changes], Planted]


def plant(world: World) -> tuple[Changes, tuple[Planted, ...]]:
    """Plant all faults of the shop; what they change and the truth about them."""
    changes = no_changes(len(world.spec.kinds), world.plan.n)
    truth = tuple(FAULTS[fault.kind](fault, world, changes) for fault in world.spec.faults)
    return changes, truth


def rate_fault(factor: str, note: str) -> Plant:
    """A fault that only raises a rate at one level of a factor, all at once."""

    def fault_of(fault: Fault, world: World, changes: Changes) -> Planted:
        at = touched(fault, world, factor)
        raise_rate(fault, world, changes, at.mask)
        return planted(fault, world, at, factor, note=note)

    return fault_of


def growing_fault(factor: str, growth: Callable[[Fault, Floats], Floats], note: str) -> Plant:
    """A fault that raises a rate slowly: ``growth`` gives the ratio from the days it has lasted."""

    def fault_of(fault: Fault, world: World, changes: Changes) -> Planted:
        at = touched(fault, world, factor)
        days = np.maximum(world.plan.pressed_us - at.start_us, 0) / DAY_US
        ratio = np.where(at.mask, growth(fault, days), 1.0)
        for k in world.rows(fault.characteristic):
            changes.multiplier[k] *= ratio
        usual = world.usual(fault.characteristic)
        return planted(
            fault, world, at, factor, extra=float((usual * (ratio - 1)).sum()), note=note)

    return fault_of


def creeping(fault: Fault, days: Floats) -> Floats:
    """Linearly up to ``ratio`` in ``size`` days."""
    return 1.0 + (fault.ratio - 1.0) * np.minimum(days / fault.size, 1.0)


def doubling(fault: Fault, days: Floats) -> Floats:
    """Twice as much every ``size`` days, up to ``ratio``."""
    return np.minimum(np.exp2(np.minimum(days / fault.size, 50.0)), fault.ratio)


def drifting_platen(fault: Fault, world: World, changes: Changes) -> Planted:
    """The upper platen gets colder day by day; edges lift and bonds stay weak with its error."""
    at = touched(fault, world, "press")
    days = np.maximum(world.plan.pressed_us - at.start_us, 0) / DAY_US
    factor = 1.0 + LIFT_PER_DEGREE * np.abs(fault.size) * days * at.mask
    usual = world.usual("lifted_edge")
    for k in (*world.rows("lifted_edge"), *world.rows("incomplete_cure")):
        changes.multiplier[k] *= factor
    changes.platens.append(PlatenChange(
        press=str(at.level), platen="upper", start_us=at.start_us, end_us=at.end_us,
        per_day_c=fault.size,
    ))
    return planted(
        fault, world, at, "press", characteristic="temperature_error_c", platen="upper",
        shows_in=("lifted_edge", "incomplete_cure", "temperature_error_c"), size=fault.size,
        usual=float((usual * at.mask).sum()), extra=float((usual * (factor - 1)).sum()),
        note="size is degC a day; edges and bonds get worse with the platen's error",
    )


def cold_corner(fault: Fault, world: World, changes: Changes) -> Planted:
    """One corner of the upper platen is cold; edges lift there."""
    at = touched(fault, world, "press")
    raise_rate(fault, world, changes, at.mask)
    row, col = divmod(ZONES.index(fault.zone or "bottom_right"), 3)
    changes.platens.append(PlatenChange(
        press=str(at.level), platen="upper", start_us=at.start_us, end_us=at.end_us,
        corner_c=fault.size, row=row + 1, col=col + 1,
    ))
    return planted(
        fault, world, at, "press", platen="upper",
        shows_in=(fault.characteristic, "temperature_spread_c"),
        note=f"that corner is {abs(fault.size):g} degC cold; all extra edges lift there",
    )


def operator_misplacement(fault: Fault, world: World, changes: Changes) -> Planted:
    """One person loads garments off to one side, at whatever press."""
    at = touched(fault, world, "operator")
    raise_rate(fault, world, changes, at.mask)
    changes.moved["dx_mm"][at.mask] += fault.size
    return planted(
        fault, world, at, "operator", shows_in=(fault.characteristic, "dx_mm"),
        note=f"prints sit {fault.size:g} mm to one side",
    )


def moved_prints(factor: str, note: str) -> Plant:
    """Prints sit off by ``size`` standard deviations of the shop's own placement in the direction
    of ``characteristic``; hardly one is beyond its tolerance for that."""

    def fault_of(fault: Fault, world: World, changes: Changes) -> Planted:
        at = touched(fault, world, factor)
        by = fault.size * PLACEMENT_SD[fault.characteristic]
        changes.moved[fault.characteristic][at.mask] += by
        also = "rotated" if fault.characteristic == "rotation_deg" else "misplacement"
        return planted(
            fault, world, at, factor, shows_in=(fault.characteristic, also), size=by,
            note=f"{note}; size is in the unit of the characteristic, "
                 f"{fault.size:g} sigma of the usual spread",
        )

    return fault_of


def changed_dwell(fault: Fault, world: World, changes: Changes) -> Planted:
    """Somebody shortened the timer of one press; it shows in the settings and in weak bonds."""
    at = touched(fault, world, "press")
    raise_rate(fault, world, changes, at.mask)
    changes.scaled["dwell_s"][at.mask] *= 1.0 - fault.size
    shows = dict.fromkeys((fault.characteristic, "dwell_s"))
    return planted(
        fault, world, at, "press", shows_in=tuple(shows),
        note=f"recorded dwell {fault.size:.0%} short",
    )


def cold_setting(fault: Fault, world: World, changes: Changes) -> Planted:
    """One person sets the temperature lower than the recipe, at whatever press."""
    at = touched(fault, world, "operator")
    raise_rate(fault, world, changes, at.mask)
    changes.moved["temperature_c"][at.mask] += fault.size
    return planted(
        fault, world, at, "operator", shows_in=(fault.characteristic, "temperature_c"),
        note=f"temperature set {abs(fault.size):g} degC low",
    )


def light_pressure(fault: Fault, world: World, changes: Changes) -> Planted:
    """One press is set to less pressure than the recipe says."""
    at = touched(fault, world, "press")
    raise_rate(fault, world, changes, at.mask)
    changes.scaled["pressure"][at.mask] *= 1.0 - fault.size
    return planted(
        fault, world, at, "press",
        shows_in=(fault.characteristic, "pressure_kpa", "pressure_dial"),
        note=f"pressure {fault.size:.0%} low on gauge or dial",
    )


def first_pieces(fault: Fault, world: World, changes: Changes) -> Planted:
    """The first pieces after every cold start and break are bad, on all presses or one."""
    within: tuple[tuple[str, str], ...] = ()
    level = FRESH
    if fault.kind == "first_pieces_one_press":
        at = touched(fault, world, "press")
        level = f"{at.level}, {FRESH}"
        within = (("press", str(at.level)), ("time_since_start", FRESH))
    else:
        at = touched(fault, world, "shop")
    codes, names = world.levels("time_since_start")
    at = replace(at, level=level, mask=at.mask & (codes == names.index(FRESH)))
    raise_rate(fault, world, changes, at.mask)
    return planted(
        fault, world, at, "time_since_start", within=within,
        note="pieces of the first minutes after a pause of that press",
    )


def mix_change(fault: Fault, world: World, changes: Changes) -> Planted:
    """More of one fabric from a day on: the plan did it already, and nothing is wrong."""
    at = touched(fault, world, "fabric")
    return planted(
        fault, world, at, "fabric", extra=0.0, expect_flag=False,
        note="honest: the shop's rate rises because more of the hard fabric is pressed",
    )


def press_mix_change(fault: Fault, world: World, changes: Changes) -> Planted:
    """One press gets more of one fabric from a day on: the plan did it already."""
    at = touched(fault, world, "press")
    return planted(
        fault, world, at, "press", extra=0.0, expect_flag=False,
        note=f"honest: that press runs more {fault.of}",
    )


FAULTS: dict[str, Plant] = {
    "drifting_platen": drifting_platen,
    "cold_corner": cold_corner,
    "weak_transfer_lot": rate_fault("transfer_lot", "every press that uses the lot sees it"),
    "operator_misplacement": operator_misplacement,
    "changed_dwell": changed_dwell,
    "bad_garment_lot": rate_fault("garment_lot", "every press that gets the lot sees it"),
    "press_fault": rate_fault("press", "one press, all fabrics and transfers"),
    "short_episode": rate_fault("press", "it came, lasted some days, and went"),
    "fabric_fault": rate_fault("fabric", "the mill changed the finish"),
    "location_fault": rate_fault("location", "a jig for one place on the garment"),
    "mix_change": mix_change,
    "press_mix_change": press_mix_change,
    "creeping_rate": growing_fault("press", creeping, "rises evenly to the full ratio"),
    "doubling_rate": growing_fault("press", doubling, "doubles again and again up to the ratio"),
    "first_pieces": first_pieces,
    "first_pieces_one_press": first_pieces,
    "one_zone": rate_fault("press", "all that is more is in one zone; no survey shows it"),
    "station_fault": rate_fault("station", "one of the two stations of a press"),
    "station_zone": rate_fault("station", "one zone of the prints of one station"),
    "size_fault": rate_fault("size", "garments of one size"),
    "transfer_fault": rate_fault("transfer", "all lots of one transfer"),
    "operator_fault": rate_fault("operator", "one person, at whatever press"),
    "shop_fault": rate_fault("shop", "the whole shop: a powder, an oven, the air"),
    "cold_setting": cold_setting,
    "light_pressure": light_pressure,
    "dwell_alone": changed_dwell,
    "placement_shift": moved_prints("operator", "one person loads off to one side"),
    "placement_height": moved_prints("press", "the stop of one press has moved"),
    "placement_turn": moved_prints("press", "prints of one press are turned"),
}
"""Every kind of fault that can be planted, by name."""
