"""Supplementary rules: patterns of points that chance rarely makes, each under its own name."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import blocks
from qc.stats.charts.chart import SIGNALS, SLACK, Caution, Signals, bit, standardised
from qc.stats.checks import Floats

Hits = npt.NDArray[np.bool_]

PATTERNS = SIGNALS[1:]
"""The rules that can be switched: all but ``outside_limits``, which is always on."""

COUNTS = range(3, 101)
"""How many points a rule of one's own may ask for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """Which rules are on, with the number of points each needs; None is off.

    ``outside_limits`` is always on. ``mixture`` needs points on both sides.
    """

    name: str
    source: str = ""
    two_of_three: bool = False
    four_of_five: bool = False
    one_side: int | None = None
    trend: int | None = None
    alternating: int | None = None
    stratification: int | None = None
    mixture: int | None = None

    @property
    def patterns(self) -> tuple[str, ...]:
        """Names of the rules that are on, beside ``outside_limits``."""
        return tuple(name for name in PATTERNS if getattr(self, name))

    @property
    def reach(self) -> int:
        """How many points before the newest one can decide about it."""
        return max((_n_points(name, getattr(self, name)) for name in self.patterns), default=1) - 1

    def in_words(self) -> dict[str, str]:
        """What each rule that is on looks for."""
        return {"outside_limits": WORDS["outside_limits"]} | {
            name: WORDS[name].format(n=getattr(self, name)) for name in self.patterns
        }


NELSON = "rules: Nelson (1984), J. Quality Technology 16(4), 237-239"
RULE_SETS: dict[str, RuleSet] = {
    rules.name: rules
    for rules in (
        RuleSet(name="limits"),
        RuleSet(
            name="western-electric",
            source="rules: Western Electric, Statistical Quality Control Handbook (1956)",
            two_of_three=True, four_of_five=True, one_side=8,
        ),
        RuleSet(
            name="nelson", source=NELSON, two_of_three=True, four_of_five=True, one_side=9,
            trend=6, alternating=14, stratification=15, mixture=8,
        ),
    )
}

WORDS: dict[str, str] = {
    "outside_limits": "a point beyond a control limit",
    "two_of_three": "two of three points beyond 2 sigma on one side, the newest among them",
    "four_of_five": "four of five points beyond 1 sigma on one side, the newest among them",
    "one_side": "{n} points in a row on one side of the centre line",
    "trend": "{n} points in a row, each above the one before, or each below it",
    "alternating": "{n} points in a row going up and down in turn",
    "stratification": "{n} points in a row within 1 sigma of the centre line",
    "mixture": "{n} points in a row beyond 1 sigma, on both sides of the centre line",
}

_ANY = frozenset(SIGNALS)
_NO_ZONES = frozenset({"outside_limits", "one_side", "trend", "alternating"})
_LIMITS = frozenset({"outside_limits"})
RECOMMENDED: dict[str, frozenset[str]] = {
    **dict.fromkeys(("individuals", "xbar-r", "xbar-s", "deviation", "standardised", "q", "t"),
                    _ANY),
    **dict.fromkeys(("p", "np", "c", "u", "p-prime", "u-prime", "mix", "g", "q-p", "q-u"),
                    _NO_ZONES),
    **dict.fromkeys(("ewma", "cusum", "t2", "mewma"), _LIMITS),
}
"""The rules that suit the main statistic of each kind of chart.

All of them where it is roughly normal and its points are independent. Counts are skewed, so what
lies between one and two sigma is not what the rules suppose: Nelson (1984) recommends only his
tests 1 to 4 for them. A point that remembers those before it (EWMA, CUSUM) or measures a distance
(T2) makes runs by itself: its limit alone counts. The second chart of a pair (ranges, standard
deviations) is held against its limits alone.
"""


def rule_set(names: str) -> RuleSet:
    """The rules of a set by its name, or single rules by theirs.

    Parameters
    ----------
    names : a name in `RULE_SETS`, or several names joined by commas, of sets and of single rules
        as in `PATTERNS`; a single rule counts as Nelson's does, or as told: ``one_side=8,trend``

    Raises
    ------
    ValueError
        A name is not known, a count is not one a rule can have, or two counts contradict.
    """
    if names in RULE_SETS:
        return RULE_SETS[names]
    counts: dict[str, Any] = {}
    sources = dict.fromkeys(_source(item) for item in _items(names))
    for item in _items(names):
        for name, count in _counts(names, item).items():
            if counts.setdefault(name, count) != count:
                raise ValueError(f"rules is {names!r}; it has {name} with {counts[name]} and with"
                                 f" {count} points: give it once")
    return RuleSet(name=names, source="; ".join(filter(None, sources)), **counts)


def rule_cautions(kind: str, rules: RuleSet) -> tuple[Caution, ...]:
    """A caution where rules are on that do not suit this kind of chart; they are applied all the
    same, because they were asked for."""
    suiting = RECOMMENDED[kind]
    return () if suiting.issuperset(rules.patterns) else (Caution.RULES_FOR_OTHERS,)


def _items(names: str) -> list[str]:
    return [item.strip() for item in names.split(",")]


def _source(item: str) -> str:
    name, _, count = item.partition("=")
    if name in RULE_SETS:
        return RULE_SETS[name].source
    if name not in PATTERNS:
        return ""
    return f"{NELSON}, but {item}" if count else NELSON


def _counts(names: str, item: str) -> dict[str, int]:
    name, own, count = item.partition("=")
    if name in RULE_SETS and not own:
        return {rule: getattr(RULE_SETS[name], rule) for rule in RULE_SETS[name].patterns}
    if name == "outside_limits" and not own:
        return {}
    if name not in PATTERNS:
        raise ValueError(f"rules is {names!r}; allowed: {', '.join(RULE_SETS)}, or any of"
                         f" {', '.join(PATTERNS)} joined by commas, not {item!r}")
    return {name: _own_count(name, count) if own else getattr(RULE_SETS["nelson"], name)}


def _own_count(name: str, count: str) -> int:
    if name in ("two_of_three", "four_of_five"):
        raise ValueError(f"rules has {name}={count}; its counts are in its name")
    if not (count.isascii() and count.isdigit() and int(count) in COUNTS):
        raise ValueError(f"rules has {name}={count}; allowed: a whole number of points,"
                         f" {COUNTS[0]}..{COUNTS[-1]}")
    return int(count)


def patterns_on(
    value: Floats, centre: float, sigma: Floats | float, rules: RuleSet
) -> Signals | None:
    """Patterns among plotted points; None, without a pass over them, where no rule is on."""
    if not rules.patterns:
        return None

    def z(at: slice) -> Floats:
        each = sigma[at] if isinstance(sigma, np.ndarray) and sigma.ndim else sigma
        return standardised(value[at], centre, each)

    return _in_blocks(len(value), z, rules)


def pattern_signals(z: Floats, rules: RuleSet) -> Signals:
    """Patterns among points, marked at every point that completes one.

    Parameters
    ----------
    z : float64, each point's distance from the centre line in its own sigma
    rules : the rules that are on

    Returns
    -------
    uint8, one for each point, bits as in `qc.stats.charts.chart.SIGNALS`; ``outside_limits`` is not
    among them, because a chart's limits need not be at three sigma.

    Notes
    -----
    Strict: a point on a line is not beyond it, one on the centre line belongs to neither side,
    equal neighbours break a trend. A pattern that goes on is marked again at each further point.
    In "r of m" the newest point must itself be beyond the line.

    Source
    ------
    Western Electric (1956), pp. 25-28; Nelson (1984), J. Quality Technology 16(4), 237-239.
    """
    return _in_blocks(len(z), lambda at: z[at], rules)


def _in_blocks(n: int, z: Callable[[slice], Floats], rules: RuleSet) -> Signals:
    """Signals of n points, block by block; each block looks back as far as a rule can reach."""
    signals = np.zeros(n, dtype=np.uint8)
    for at in blocks(n):
        early = max(0, at.start - rules.reach)
        found = signals[at]
        for name, hits in _patterns(z(slice(early, at.stop)), rules):
            found |= hits[at.start - early:].view(np.uint8) * np.uint8(bit(name))
    return signals


def _patterns(z: Floats, rules: RuleSet) -> Iterator[tuple[str, Hits]]:
    if rules.two_of_three:
        yield "two_of_three", _share_beyond(z, 2, needed=2, window=3)
    if rules.four_of_five:
        yield "four_of_five", _share_beyond(z, 1, needed=4, window=5)
    if rules.one_side:
        yield "one_side", _one_side(z, 0.0, rules.one_side)
    if rules.trend:
        yield "trend", _trend(z, rules.trend)
    if rules.alternating:
        yield "alternating", _alternating(z, rules.alternating)
    if rules.stratification:
        yield "stratification", _in_a_row(np.abs(z) < 1 - SLACK, rules.stratification)
    if rules.mixture:
        yield "mixture", _mixture(z, rules.mixture)


def _n_points(name: str, count: int) -> int:
    return {"two_of_three": 3, "four_of_five": 5}.get(name, count)


def _share_beyond(z: Floats, line: float, *, needed: int, window: int) -> Hits:
    above = _newest_of(z > line + SLACK, needed, window)
    return above | _newest_of(z < -line - SLACK, needed, window)


def _newest_of(beyond: Hits, needed: int, window: int) -> Hits:
    count = beyond.astype(np.uint8)
    for back in range(1, window):
        count[back:] += beyond[:-back]
    return beyond & (count >= needed)


def _one_side(z: Floats, line: float, length: int) -> Hits:
    above = _in_a_row(z > line + SLACK, length)
    return above | _in_a_row(z < -line - SLACK, length)


def _trend(z: Floats, length: int) -> Hits:
    up, down = _steps(z)
    return _in_a_row(up, length - 1) | _in_a_row(down, length - 1)


def _alternating(z: Floats, length: int) -> Hits:
    up, down = _steps(z)
    turns = np.zeros(len(z), dtype=bool)
    turns[1:] = (up[1:] & down[:-1]) | (down[1:] & up[:-1])
    return _in_a_row(turns, length - 2)


def _mixture(z: Floats, length: int) -> Hits:
    away = _in_a_row(np.abs(z) > 1 + SLACK, length)
    return away & ~_one_side(z, 1.0, length)


def _steps(z: Floats) -> tuple[Hits, Hits]:
    up, down = np.zeros(len(z), dtype=bool), np.zeros(len(z), dtype=bool)
    with np.errstate(invalid="ignore"):  # from one infinite distance to the next is no step
        step = np.diff(z)
    up[1:], down[1:] = step > SLACK, step < -SLACK
    return up, down


def _in_a_row(hits: Hits, length: int) -> Hits:
    """Whether each point and the ``length`` - 1 before it all hit; the window grows by doubling."""
    run, span = hits.copy(), 1
    while span < length:
        step = min(span, length - span)
        run[step:] &= run[:-step].copy()
        run[:step] = False
        span += step
    return run
