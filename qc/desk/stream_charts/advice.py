"""Which kind of chart suits a stream, why, and why the others do not.

The numbers that decide are proposed starting values, no source, where no other is named.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.desk.stream_charts.counting import moves_of_mix, total_rate
from qc.desk.stream_charts.points import CountPoints, Points, ValuePoints, as_values
from qc.stats.charts.chart import Caution
from qc.stats.charts.counts import rates, shares, spread_cautions
from qc.stats.charts.shewhart_counts import ENOUGH_EXPECTED

RARE = 1.0
"""With fewer expected at a point most points are 0: what counts is how far apart they come."""
MIX_MOVES = 0.1
"""From here on one rate for all sets the limits a third of a sigma wrong, or more."""
STEPS_DIFFER = 1.25
"""Spread of the means over what the readings within them give, from which limits from within are
too narrow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One kind of chart for a stream. ``why`` : one sentence. ``advised`` : the one to take."""

    kind: str
    fits: bool
    why: str
    advised: bool = False


def advise(points: Points) -> tuple[Advice, ...]:
    """Every kind there is for such points: the advised one first, then others, then those that do
    not suit."""
    if isinstance(points, CountPoints):
        found = _counted(points)
    else:
        found = _together() if points.stream.of == "together" else _measured(as_values(points))
    return tuple(sorted(found, key=lambda one: (not one.advised, not one.fits)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Facts:
    """What decides: pieces with the defect expected at a usual point, and so on."""

    expected: float
    mix: float
    varies: bool
    alike: bool
    step: str
    what: str


def _facts(points: CountPoints) -> _Facts:
    counted = (rates if points.stream.per_unit else shares)(
        points.count, points.n, centre=None, baseline=None)
    return _Facts(
        expected=total_rate(points) * float(np.median(points.n)), mix=moves_of_mix(points),
        varies=Caution.MORE_VARIATION in spread_cautions(counted, estimated=True),
        alike=bool(np.ptp(points.n) == 0), step=points.stream.step,
        what="defects" if points.stream.per_unit else "pieces with it",
    )


def _counted(points: CountPoints) -> list[Advice]:
    facts = _facts(points)
    u = points.stream.per_unit
    best = _best(facts, u)
    seen = f"{facts.expected:.2g} {facts.what} at a usual {facts.step}"
    said = {
        ("mix-u" if u else "mix"): _mix_says(facts),
        ("u" if u else "p"): (facts.expected >= ENOUGH_EXPECTED and not facts.varies,
                              _plain_says(facts, seen)),
        ("u-exact" if u else "p-exact"): (not facts.varies, _exact_says(facts, seen)),
        ("u-prime" if u else "p-prime"): (facts.expected >= RARE, _prime_says(facts, seen)),
        "g": (True, f"Rare, {seen}: the good pieces between two say more than many points at 0."
              if facts.expected < RARE else f"Made for what is rare; here are {seen}."),
        "ewma": _small_shift(facts, "An EWMA of the distances from what the mix gives sees a small"
                                    " rise that lasts sooner, and shows the level as it is now."),
        "cusum": _small_shift(facts, "A CUSUM of the distances from what the mix gives sees a small"
                                     " rise that lasts sooner, and says when it began."),
        ("c" if u else "np"): (False, "Counts by themselves need as many pieces at every point;"
                               f" here {int(points.n.min())} to {int(points.n.max())} were"
                               " pressed."),
        "t": (False, "The time between two counts nights and idle presses too; the pieces between"
              " them do not."),
    }
    if facts.alike:
        said.pop("c" if u else "np")
    if best != "g" and facts.expected >= ENOUGH_EXPECTED:
        said["g"] = (False, said["g"][1])
    return [Advice(kind=kind, fits=fits or kind == best, why=why, advised=kind == best)
            for kind, (fits, why) in said.items()]


def _best(facts: _Facts, per_unit: bool) -> str:
    if facts.expected < RARE:
        return "g"
    if facts.mix >= MIX_MOVES:
        return "mix-u" if per_unit else "mix"
    if facts.varies:
        return "u-prime" if per_unit else "p-prime"
    if facts.expected < ENOUGH_EXPECTED:
        return "u-exact" if per_unit else "p-exact"
    return "u" if per_unit else "p"


def _mix_says(facts: _Facts) -> tuple[bool, str]:
    if facts.mix >= MIX_MOVES:
        return True, ("The work changes from point to point, easy one time and hard another: limits"
                      " about what each mix gives do not take hard work for a change.")
    return True, "The work hardly changes here, so limits about its mix say the same as plain ones."


def _plain_says(facts: _Facts, seen: str) -> str:
    if facts.varies:
        return "Counts vary more than chance alone, so plain limits would cry wolf."
    if facts.expected < ENOUGH_EXPECTED:
        return f"With only {seen}, three sigma gives several times the false signals meant."
    return f"With {seen} and no more variation than chance, plain limits are right."


def _exact_says(facts: _Facts, seen: str) -> str:
    if facts.varies:
        return "Exact tails are those of chance alone, and these counts vary more than that."
    return f"With {seen}, exact tails set the limits, not the bell shape."


def _prime_says(facts: _Facts, seen: str) -> str:
    if facts.expected < RARE:
        return f"With only {seen}, the scatter of points at 0 says nothing."
    if facts.varies:
        return "Counts vary more than chance alone: limits as wide as they usually scatter."
    return "Takes the scatter from the points; here it is no wider than chance."


def _small_shift(facts: _Facts, words: str) -> tuple[bool, str]:
    if facts.expected < RARE:
        return False, "With fewer than one at a usual point the distances are too lopsided for it."
    return True, words


def _measured(points: ValuePoints) -> list[Advice]:
    ratio = steps_differ(points)
    drifts = points.stream.of == "offset_c" and points.stream.subject == "platen"
    grouped = not points.single and int(points.n.min()) >= 2
    within = grouped and ratio <= STEPS_DIFFER
    best = "ewma" if drifts else "xbar-s" if within else "individuals"
    said = {
        "individuals": (True, _single_says(points, ratio)),
        "xbar-s": (within, _means_says(points, ratio)),
        "ewma": (True, "A platen drifts a little from week to week; an EWMA adds such small lasting"
                 " shifts up." if drifts else "Sees a small shift that lasts sooner than single"
                 " points do, and shows the level as it is now."),
        "cusum": (True, "Sees a small shift that lasts sooner than single points do, and says when"
                  " it began."),
        "t2": (False, "Judges several values of one piece together; this is one value." if
               points.stream.subject != "placement" else "Judges all three values of a piece"
               " together: choose that as what is measured."),
    }
    return [Advice(kind=kind, fits=fits, why=why, advised=kind == best)
            for kind, (fits, why) in said.items()]


def _single_says(points: ValuePoints, ratio: float) -> str:
    if points.single:
        return "Measured values one by one: each is its own point, its neighbour gives the spread."
    if ratio > STEPS_DIFFER:
        return (f"The means of a {points.stream.step} differ {ratio:.1f} times as much as the"
                " pieces within one explain, so their own steps give the spread.")
    return "The mean of each step as one value; the spread comes from step to step."


def _means_says(points: ValuePoints, ratio: float) -> str:
    if points.single:
        return "Needs several values at each point; here each point is one."
    if int(points.n.min()) < 2:
        return "Needs at least two values at every point; some have one."
    if ratio > STEPS_DIFFER:
        return (f"The means differ {ratio:.1f} times as much as the pieces within a"
                f" {points.stream.step} explain: limits from within would be too narrow.")
    return "Several values at each point: the spread within a point sets the limits of the means."


def _together() -> list[Advice]:
    return [
        Advice(kind="t2", fits=True, advised=True, why="Sideways, up-and-down and rotation belong"
               " together: one limit for all three, and the point says which of them it is."),
        Advice(kind="mewma", fits=True, why="The same for a small shift that lasts, as when a jig"
               " has moved a little."),
        Advice(kind="individuals", fits=False, why="One value at a time: choose one of the three as"
               " what is measured."),
    ]


def steps_differ(points: ValuePoints) -> float:
    """Standard deviation of the means over what the readings within them give it; 1 by chance."""
    free = len(points.rows) - len(points)
    if points.single or free < 1 or len(points) < 2:
        return 1.0
    means, rows = points.value[:, 0], points.rows[:, 0]
    within = float(((rows - means[points.point_of]) ** 2).sum()) / free
    between = float((points.n * (means - rows.mean()) ** 2).sum()) / (len(points) - 1)
    if within == 0:
        return 1.0 if between == 0 else float("inf")
    return float(np.sqrt(between / within))
