"""How plotted points fall into the zones that rules tell apart, and where inside them they lie.

Inside a zone a value is known by its place, the share of the zone's points below it. Places of a
continuous statistic are uniform whatever its distribution, so that ups and downs inside a zone are
one and the same integral for all of them. Values of a count are their own places.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import eval_legendre, ndtr, ndtri

from qc.stats.charts.rules import RuleSet
from qc.stats.checks import Floats
from qc.stats.runlength.automata import needs_steps
from qc.stats.runlength.quadrature import gauss

STEPS = (-1, 0, 1)
"""Down, level, up: how the next point may lie to the last one in the same zone."""

Spread = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceMoves:
    """Moves inside a zone between places of a continuous statistic.

    ``down``, ``up`` : (k, m), share of the zone's points that lie below, above each of k places,
    by the node they are at.
    """

    down: Floats
    up: Floats

    @property
    def n_from(self) -> int:
        """Number of places moved from."""
        return len(self.down)

    def each(self) -> tuple[Spread, Spread, Spread]:
        """What shares (n, k) become by going down, level (which has no chance) and up."""
        return (lambda mass: mass @ self.down, lambda mass: np.zeros((len(mass), len(self.up.T))),
                lambda mass: mass @ self.up)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountMoves:
    """Moves inside a zone between the values of a count; ``share`` : (m,) of its points at each."""

    share: Floats

    @property
    def n_from(self) -> int:
        """Number of values moved from."""
        return len(self.share)

    def each(self) -> tuple[Spread, Spread, Spread]:
        """What shares (n, m) become by going down, level and up."""
        def up(mass: Floats) -> Floats:
            spread: Floats = (np.cumsum(mass, axis=1) - mass) * self.share
            return spread

        def down(mass: Floats) -> Floats:
            spread: Floats = (mass.sum(axis=1, keepdims=True) - np.cumsum(mass, axis=1))
            return spread * self.share

        return down, lambda mass: mass * self.share, up


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zones:
    """Points by zone, from the lowest up.

    ``z`` : a value inside each zone, in sigma from the centre line. ``outside`` : beyond a limit.
    ``chance`` : (r,) of a point in each zone. ``share`` : for each zone, (m,) what of its points
    is at each node. ``moves`` : for each zone, how points move inside it.
    """

    z: tuple[float, ...]
    outside: tuple[bool, ...]
    chance: Floats
    share: tuple[Floats, ...]
    moves: tuple[PlaceMoves, ...] | tuple[CountMoves, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Continuous:
    """A continuous statistic: chance between two of its values, and the value at a place there."""

    between: Callable[[Floats, Floats], Floats]
    value: Callable[[float, float, Floats], Floats]


def normal(shift: float) -> Continuous:
    """Standard normal points whose mean is ``shift`` off the centre line."""
    def between(low: Floats, high: Floats) -> Floats:
        a, b = low - shift, high - shift
        # in the upper half tails are subtracted, so that small chances keep their digits
        chance: Floats = np.where(a > -b, ndtr(-a) - ndtr(-b), ndtr(b) - ndtr(a))
        return chance

    def value(low: float, high: float, place: Floats) -> Floats:
        below = ndtr(low - shift) + place * (ndtr(high - shift) - ndtr(low - shift))
        found: Floats = np.clip(shift + ndtri(below), low, high)
        return found

    return Continuous(between=between, value=value)


def rule_lines(rules: RuleSet) -> set[float]:
    """Distances from the centre line, in sigma, that the rules look at."""
    lines = {2.0} if rules.two_of_three else set()
    if rules.four_of_five or rules.stratification or rules.mixture:
        lines.add(1.0)
    if rules.one_side:
        lines.add(0.0)
    return lines


def edges(rules: RuleSet, limits: tuple[float, float]) -> Floats:
    """Edges of the zones, -inf and inf with them; ``limits`` in sigma (infinite: none).

    Where values inside a zone count, every line is an edge: short zones need few nodes.
    """
    wanted = {0.0, 1.0, 2.0} if needs_steps(rules) else rule_lines(rules)
    lines = {sign * line for line in wanted for sign in (-1, 1)}
    return np.array(sorted({*lines, *limits, -np.inf, np.inf}))


def nodes_for_zones(edge: Floats, limits: tuple[float, float], *points: Continuous) -> int:
    """Nodes that each zone needs for any of these distributions.

    The more of all points a zone inside the limits holds, the further run lengths vary in it:
    eight nodes for a third of them are good for nine digits, also where the mean moves on.
    """
    low, high = edge[:-1], edge[1:]
    within = (low >= limits[0]) & (high <= limits[1])
    largest = max(float(one.between(low[within], high[within]).max()) for one in points)
    return 5 + int(np.ceil(8 * largest))


def continuous_zones(
    edge: Floats, limits: tuple[float, float], points: Continuous, *, n_nodes: int,
    calm: Continuous | None = None,
) -> Zones:
    """Zones of a continuous statistic; ``moves`` from the nodes of ``calm`` where it is given."""
    low, high = edge[:-1], edge[1:]
    chance = points.between(low, high)
    node, share = gauss(0.0, 1.0, n_nodes)
    z = tuple(_inside(a, b) for a, b in zip(low, high, strict=True))
    moves = [moves_from(node, n_nodes)] * len(z)
    if calm is not None:
        moves = [moves_from(_place(points, a, b, calm.value(a, b, node)), n_nodes)
                 for a, b in zip(low, high, strict=True)]
    return Zones(z=z, outside=tuple(not limits[0] < value < limits[1] for value in z),
                 chance=chance, share=(share,) * len(z), moves=tuple(moves))


def counted_zones(keys: Sequence[object], z: Floats, outside: Sequence[bool],
                  chance: Floats) -> Zones:
    """Zones of a count: neighbouring values with the same key, each value a node."""
    first = [0, *(k for k in range(1, len(keys)) if keys[k] != keys[k - 1]), len(keys)]
    spans = [slice(a, b) for a, b in zip(first, first[1:], strict=False)]
    total = np.array([chance[span].sum() for span in spans])
    share = tuple(_shares(chance[span]) for span in spans)
    return Zones(z=tuple(float(z[span.start]) for span in spans),
                 outside=tuple(outside[span.start] for span in spans), chance=total, share=share,
                 moves=tuple(CountMoves(share=one) for one in share))


def moves_from(place: Floats, n: int) -> PlaceMoves:
    """Moves from k places in a zone, 0..1, to its n nodes.

    Down to a node goes the integral of its Lagrange polynomial from 0 to the place, written in
    Legendre polynomials, whose integral is (P(k+1) - P(k-1)) / (2 k + 1).
    """
    node, share = gauss(0.0, 1.0, n)
    k, x = np.arange(n), 2 * place[:, None] - 1
    integral = np.empty((len(place), n))
    integral[:, 0] = place
    integral[:, 1:] = (eval_legendre(k[1:] + 1, x) - eval_legendre(k[1:] - 1, x)) / (4 * k[1:] + 2)
    down = integral @ ((2 * k + 1) * eval_legendre(k, 2 * node[:, None] - 1)).T * share
    return PlaceMoves(down=down, up=share - down)


def _inside(low: float, high: float) -> float:
    if np.isinf(low) and np.isinf(high):
        return 0.5
    if np.isinf(low):
        return high - 1
    return low + 1 if np.isinf(high) else (low + high) / 2


def _place(points: Continuous, low: float, high: float, value: Floats) -> Floats:
    a, b = np.array(low), np.array(high)
    whole = float(points.between(a, b))
    if whole == 0:  # nothing falls here: any place will do
        return np.full(len(value), 0.5)
    return points.between(a, value) / whole


def _shares(chance: Floats) -> Floats:
    total = chance.sum()
    return chance / total if total > 0 else np.full(len(chance), 1 / len(chance))
