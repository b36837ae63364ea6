"""The stretch that limits are proposed from: usual work, as near as can be to what it should be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from qc.desk.stream_charts.flagged import Aside, Here, touched
from qc.desk.stream_charts.judging import LEAST, Stretch, scores
from qc.desk.stream_charts.points import (
    CountPoints,
    Floats,
    GapPoints,
    Points,
    ValuePoints,
    as_gaps,
)
from qc.stats.charts.chart import FEW_POINTS
from qc.stats.charts.phase_one import SURE_OF_STEP, step_inside

AIMS: Mapping[str, str] = {
    "placement": "where the print should sit", "setting": "what the recipe asks",
    "offset_c": "its setpoint", "check": "what was set",
}
"""What a measured stream should be: its points are distances from it."""
EQUALLY_NEAR = 2.0
"""Standard errors within which two parts count as equally near; proposed, no source."""
SPREAD = "spread_c"

ONE_LEVEL = "The level did not move in these points."
ONLY_FREE = "Proposed is what no open flag or case is about."
NEAREST = "Of {n} parts between which the level moved, the nearest to {aim}."
EVENEST = "Of {n} parts between which the level moved, the one with the smallest spread."
FEWEST = "Of {n} parts between which the level moved, the one with the fewest defects."
EQUAL = " Of those equally good, the longest."
PART_OF_WORK = (
    "An open flag or case is about a part of this work in {n} of these points; without them too few"
    " are left, so they are taken in: the fault widens these limits a little.")
ALL_FLAGGED = (
    "No stretch is proposed: open flags or cases are about {flagged} of {of} points, and the best"
    " part of what is left has {n} in a row; limits need at least {least}.")
TOO_SHORT = (
    "No stretch is proposed: the level moved, and the part that is {best} has only {n} points;"
    " limits need at least {least}. A longer part that is worse would make what is off usual.")
BESTS = {SPREAD: "the most even", "defects": "the one with the fewest defects"}

Part = tuple[int, int]
"""First point of a part, 0-based, and the one after its last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What is proposed; ``stretch`` None: nothing, and ``why`` says why not."""

    stretch: Stretch | None
    why: tuple[str, ...]


def propose(points: Points, kind: str, aside: Iterable[Aside] = ()) -> Proposal:
    """The stretch without a step of its level that is nearest to what the work should be.

    ``aside`` : times that flags and cases are about; none of their points is proposed, except where
    a flag is about a part of the work only and too little is left without its time.

    Notes
    -----
    Steps are looked for one after the other, each by the running sum of the standardised points
    (as `qc.stats.charts.phase_one.judge_baseline` does), in what the steps found so far leave. Of
    measured values the part counts whose mean is nearest to its aim, of those that cannot be told
    apart from it the longest. Of counts the part with the fewest among those of `FEW_POINTS` and
    up, if there are any. A best part that is too short for limits leaves nothing to propose: a
    longer one that is worse would make what is off usual.
    """
    aside = tuple(aside)
    bounds = _bounds(scores(points, kind))
    here = touched(points, aside)
    first = _proposed(points, bounds, here)
    partly = tuple(one for one in aside if not one.whole)
    if not partly or first.stretch is not None:
        return first
    second = _proposed(points, bounds, touched(points, [one for one in aside if one.whole]))
    if second.stretch is None:
        return first
    n = int(here[second.stretch.first - 1:second.stretch.last].sum())
    return _with_why(second.stretch, (
        *second.why, *((PART_OF_WORK.format(n=n),) if n else ())))


def _proposed(points: Points, bounds: list[int], here: Here) -> Proposal:
    parts = list(_free(bounds, here))
    steps = tuple(bounds[1:-1])
    best, reason = _best(points, parts) if parts else ((0, 0), "")
    n = best[1] - best[0]
    if n < LEAST:
        said = ALL_FLAGGED.format(flagged=int(here.sum()), of=len(points), n=n, least=LEAST) if (
            here.any()) else TOO_SHORT.format(best=_best_words(points), n=n, least=LEAST)
        return Proposal(stretch=None, why=(said,))
    found = Stretch(first=best[0] + 1, last=best[1], excluded=(), by="proposed", steps=steps)
    return _with_why(found, (reason, *((ONLY_FREE,) if here.any() else ())))


def _with_why(stretch: Stretch, why: tuple[str, ...]) -> Proposal:
    return Proposal(why=why, stretch=Stretch(
        first=stretch.first, last=stretch.last, excluded=stretch.excluded, by=stretch.by,
        steps=stretch.steps, why=why))


def _free(bounds: Sequence[int], here: Here) -> Iterable[Part]:
    """The parts between the steps, cut where points are set aside."""
    edges = np.flatnonzero(np.diff(here.astype(np.int8))) + 1
    cuts = sorted({*bounds, *(int(edge) for edge in edges)})
    return (part for part in zip(cuts, cuts[1:], strict=False) if not here[part[0]])


def _best(points: Points, parts: list[Part]) -> tuple[Part, str]:
    """The best part, and why it is."""
    if isinstance(points, ValuePoints):
        best, equal = _nearest(points, parts)
        said = EVENEST if points.stream.of == SPREAD else NEAREST
    elif isinstance(points, CountPoints):
        best, equal, said = *_fewest(points, parts), FEWEST
    else:
        best, equal, said = *_furthest_apart(as_gaps(points), parts), FEWEST
    if len(parts) == 1:
        return best, ONE_LEVEL
    return best, said.format(n=len(parts), aim=_aim(points)) + (EQUAL if equal else "")


def _nearest(points: ValuePoints, parts: list[Part]) -> tuple[Part, bool]:
    """The part nearest to the aim, the longest of those that cannot be told from it; whether there
    are such."""
    sigma = _sigma(points.value, parts)
    means = [points.value[slice(*part)].mean(axis=0) for part in parts]
    spread = points.stream.of == SPREAD
    far = [float(mean[0] / sigma[0]) if spread else float(np.linalg.norm(mean / sigma))
           for mean in means]
    return _longest_of(parts, far, lambda k: 1.0 / _length(parts[k]))


def _fewest(points: CountPoints, parts: list[Part]) -> tuple[Part, bool]:
    """The part with the fewest over what its mix gives; of long parts, where there are any."""
    return min(_enough(parts), key=lambda part: (_level(points, part), -_length(part))), False


def _furthest_apart(points: GapPoints, parts: list[Part]) -> tuple[Part, bool]:
    """The part with the most good pieces between two: its points are few just because it is
    good."""
    return max(_enough(parts), key=lambda part: float(points.between[slice(*part)].mean())), False


def _enough(parts: list[Part]) -> list[Part]:
    return [part for part in parts if _length(part) >= FEW_POINTS] or [
        part for part in parts if _length(part) >= LEAST] or parts


def _longest_of(
    parts: list[Part], far: list[float], variance: Callable[[int], float]
) -> tuple[Part, bool]:
    nearest = min(range(len(parts)), key=lambda k: far[k])
    near = [k for k in range(len(parts)) if far[k] - far[nearest] <= EQUALLY_NEAR * np.sqrt(
        variance(k) + variance(nearest))]
    return max((parts[k] for k in near), key=_length), len(near) > 1


def _sigma(values: Floats, parts: list[Part]) -> Floats:
    """Spread of the points within the parts, a column each; 1 where nothing varies."""
    squares = sum(((values[slice(*part)] - values[slice(*part)].mean(axis=0)) ** 2).sum(axis=0)
                  for part in parts)
    free = max(sum(_length(part) - 1 for part in parts), 1)
    sigma: Floats = np.sqrt(np.asarray(squares, dtype=np.float64) / free)
    return np.where(sigma > 0, sigma, 1.0)


def _length(part: Part) -> int:
    return part[1] - part[0]


def _aim(points: Points) -> str:
    return AIMS.get(points.stream.of, AIMS.get(points.stream.subject, ""))


def _best_words(points: Points) -> str:
    stream = points.stream
    return BESTS.get(stream.of, BESTS.get(stream.subject, f"nearest to {_aim(points)}"))


def _bounds(z: Floats) -> list[int]:
    """Where the level moved: 0, the positions after which it did, and the number of points."""
    todo, bounds = [(0, len(z))], {0, len(z)}
    while todo:
        first, last = todo.pop()
        found = [step_inside(z[first:last, k]) for k in range(z.shape[1])]
        after, p_value = min(found, key=lambda one: one[1])
        if last - first >= LEAST and p_value < SURE_OF_STEP / z.shape[1] and after:
            bounds.add(first + after)
            todo += [(first, first + after), (first + after, last)]
    return sorted(bounds)


def _level(points: CountPoints, part: Part) -> float:
    """Counted over what the mix gives in a stretch."""
    at = slice(*part)
    expected = float((points.usual[at] * points.n[at]).sum())
    return float(points.count[at].sum()) / expected if expected > 0 else 0.0
