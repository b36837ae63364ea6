"""Looks at the pieces: which defects came, what was done with the piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from demo_data.findings import Findings, all_findings, late_findings
from demo_data.plan import Ints
from demo_data.spec import ShopSpec
from demo_data.world import Changes, World
from qc.domain.instants import DAY_US, HOUR_US, SECOND_US

LATE_SHARE = {"after_24h": 0.08, "wash": 0.012}
MENDED = 0.86
"""Invented: share of the pieces pressed again that are good afterwards."""

WORST_FIRST = ("scrap", "hold", "press_again", "concession", "pass")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looks:
    """Rows of inspections: ``piece`` is the position in the plan; texts are object arrays."""

    piece: Ints
    attempt: Ints
    stage: npt.NDArray[np.object_]
    pressed_us: Ints
    inspected_us: Ints
    defects: npt.NDArray[np.object_]
    disposition: npt.NDArray[np.object_]

    def take(self, at: Ints) -> Looks:
        return Looks(**{name: getattr(self, name)[at] for name in self.__slots__})


def make_looks(world: World, changes: Changes, rng: np.random.Generator) -> tuple[Looks, Findings]:
    """All looks until the shop's end in the order they were made, and the first looks' findings."""
    plan, n = world.plan, world.plan.n
    found = all_findings(world, changes, rng)
    first = Looks(
        piece=np.arange(n), attempt=np.ones(n, dtype=np.int64),
        stage=np.full(n, "final", dtype=object), pressed_us=plan.pressed_us,
        inspected_us=plan.inspected_us, defects=found.texts(n),
        disposition=dispositions(world.spec, found, n, rng),
    )
    parts = [first, _pressed_again(first, rng)]
    parts += [_late(world, changes, first, stage, rng) for stage in LATE_SHARE]
    looks = Looks(**{
        name: np.concatenate([getattr(part, name) for part in parts]) for name in Looks.__slots__
    })
    order = np.argsort(looks.inspected_us, kind="stable")
    return looks.take(order[looks.inspected_us[order] <= plan.end_us]), found


def dispositions(
    spec: ShopSpec, found: Findings, n: int, rng: np.random.Generator
) -> npt.NDArray[np.object_]:
    """What is done with each piece: the gravest of what its defects ask for."""
    grave = np.full(n, WORST_FIRST.index("pass"))
    for k, kind in enumerate(spec.kinds):
        mine = found.piece[found.kind == k]
        names, shares = zip(*kind.dispositions.items(), strict=True)
        drawn = rng.choice([WORST_FIRST.index(name) for name in names], len(mine), p=shares)
        np.minimum.at(grave, mine, drawn)
    return np.array(WORST_FIRST, dtype=object)[grave]


def _pressed_again(first: Looks, rng: np.random.Generator) -> Looks:
    """The repair press of the pieces sent to it, some ten minutes to an hour and a half later."""
    again = first.take(np.flatnonzero(first.disposition == "press_again"))
    n = len(again.piece)
    pressed = again.inspected_us + rng.integers(600, 5400, n) * SECOND_US
    good = rng.random(n) < MENDED
    scorched = ~good & (rng.random(n) < 0.15)
    return Looks(
        piece=again.piece, attempt=np.full(n, 2), stage=again.stage, pressed_us=pressed,
        inspected_us=pressed + rng.integers(120, 900, n) * SECOND_US,
        defects=np.array([None, "lifted_edge", "scorch"], dtype=object)[~good + 1 * scorched],
        disposition=np.where(good, "pass", "scrap").astype(object),
    )


def _late(
    world: World, changes: Changes, first: Looks, stage: str, rng: np.random.Generator
) -> Looks:
    """Second looks at some of the pieces that passed: next working day, or after a wash test."""
    plan = world.plan
    chosen = (rng.random(plan.n) < LATE_SHARE[stage]) & (first.disposition == "pass")
    at = np.flatnonzero(chosen)
    found = late_findings(world, changes, stage, at, rng)
    days = 1 if stage == "after_24h" else rng.integers(2, 5, len(at))
    return Looks(
        piece=at, attempt=np.ones(len(at), dtype=np.int64),
        stage=np.full(len(at), stage, dtype=object), pressed_us=plan.pressed_us[at],
        inspected_us=_working_moment(world, plan.pressed_us[at], days, rng),
        defects=found.texts(plan.n)[at],
        disposition=dispositions(world.spec, found, plan.n, rng)[at],
    )


def _working_moment(
    world: World, pressed_us: Ints, days: Ints | int, rng: np.random.Generator
) -> Ints:
    """A moment in working hours that many days later, never on a Sunday."""
    midnights = world.plan.midnights_us
    day = np.searchsorted(midnights, pressed_us, side="right") - 1 + days
    weekday = (world.spec.until.weekday() - (world.spec.days - 1) + day) % 7
    day = day + (weekday == 6)
    beyond = np.maximum(day - (len(midnights) - 1), 0)
    midnight = midnights[np.minimum(day, len(midnights) - 1)] + beyond * DAY_US
    hours = (rng.uniform(8, 18, len(pressed_us)) * HOUR_US).astype(np.int64)
    moment = np.maximum(midnight + hours, pressed_us + DAY_US)
    return moment - moment % SECOND_US
