"""Run length of charts of counts (p, np, c, u, g) from their exact distributions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import betainc, betaincc, gammainc, gammaincc, ndtri

from qc.stats.charts.chart import SLACK, Chart, bit, standardised
from qc.stats.charts.probability_limits import ALPHA, LEAST_ALPHA
from qc.stats.charts.rare_events import g_chart
from qc.stats.charts.rules import RuleSet, rule_set
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart
from qc.stats.checks import Floats, finite, inside_unit, positive
from qc.stats.runlength.following import followed_run
from qc.stats.runlength.result import Caution, RunLength, geometric_run, known_state, wanted_arl
from qc.stats.runlength.rule_chain import rules_chain, rules_chain_in_use
from qc.stats.runlength.zones import Zones, counted_zones, rule_lines

KINDS = ("p", "np", "c", "u", "g")
METHOD = "exact {} distribution"
CHAIN = "exact {} distribution in the Markov chain of what the rules remember"

Chances = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Law:
    """Chance of at most, and of more than, each count."""

    up_to: Chances
    above: Chances

    def of_each(self, k: Floats) -> Floats:
        """Chance of each count, from the nearer tail, so that small chances keep their digits."""
        lower, upper = self.up_to(k), self.above(k)
        before = k - 1
        each = np.where(lower < upper, lower - _or_none(k, self.up_to(np.maximum(before, 0))),
                        self._above_before(k) - upper)
        return np.maximum(each, 0.0)

    def _above_before(self, k: Floats) -> Floats:
        return np.where(k > 0, self.above(np.maximum(k - 1, 0)), 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counting:
    """How a kind of chart counts: its chart and scores of counts, and their law after a shift.

    ``unit`` : what a count is divided by before it is plotted. ``most`` : the largest count.
    """

    name: str
    chart: Callable[[Floats, str, float], Chart]
    scores: Callable[[Floats, str], Floats]
    law: Callable[[float], _Law]
    calm: float
    unit: float = 1.0
    most: float = np.inf


def count_run_length(
    shift: float, *, kind: str, centre: float, size: float | None = None,
    rules: str | RuleSet = "limits", limits: str = "sigma", alpha: float = ALPHA,
    state: str = "zero",
) -> RunLength:
    """Run length of a p, np, c, u or g chart whose centre is known.

    Parameters
    ----------
    shift : lasting change from the first point on. p, np, c, u: of the mean, in its in-control
        sigma of a plotted point. g: factor on the share of nonconforming units; 1: no change
    kind : one of `KINDS`
    centre : in-control mean of the plotted statistic. p: share, inside (0, 1); np: pieces in a
        sample; c: defects in a sample; u: defects in a unit; g: good units between two events
    size : pieces in each sample (p, np: whole, 1 and up) or units (u: above 0); not for c, g
    rules : name as for `qc.stats.charts.rules.rule_set`, or a rule set of one's own
    limits, alpha : as for the chart itself
    state : 'zero', or 'steady': the shift comes after long use without a signal; without rules
        the two are one

    Raises
    ------
    ValueError
        An argument is outside its range, or the shift leads to a mean that cannot be.

    Notes
    -----
    Which counts signal is asked of the chart itself, and their chance is exact: the run length
    is geometric. Rules make a chain as for `shewhart_run_length`, with ties: a count on the
    centre line is on neither side, equal neighbours are no step.

    Source
    ------
    Montgomery, Introduction to Statistical Quality Control, chapter 7 (operating characteristic
    of a p chart). Checked against its n = 50 example.
    """
    counting = _counting(kind, centre, size)
    chosen = rule_set(rules) if isinstance(rules, str) else rules
    law, accepted = counting.law(finite("shift", shift)), _accepted(counting, limits, alpha)
    blind = (Caution.NO_LOWER_LIMIT,) if accepted[0] == 0 else ()
    if not chosen.patterns:
        known_state(state)
        return geometric_run(_signal_chance(law, accepted), state=state, cautions=blind,
                             method=METHOD.format(counting.name))
    found = _rules_run(counting, chosen, law, accepted, limits=limits, state=known_state(state))
    return RunLength(arl=found.arl, sdrl=found.sdrl, percentiles=found.percentiles, state=state,
                     method=found.method, cautions=blind)


def count_alpha(
    arl: float, *, kind: str, centre: float, size: float | None = None,
    rules: str | RuleSet = "limits", state: str = "zero",
) -> float:
    """The largest alpha whose probability limits give at least this in-control run length.

    Counts come in steps, so the run length reached is mostly longer than the one wanted.
    Arguments as for `count_run_length`.

    Raises
    ------
    ValueError
        The rules alone signal sooner than that, or an argument is outside its range.
    """
    wanted = wanted_arl(arl)
    counting = _counting(kind, centre, size)

    def reached(log_alpha: float) -> bool:
        run = count_run_length(counting.calm, kind=kind, centre=centre, size=size, rules=rules,
                               limits="probability", alpha=float(np.exp(log_alpha)), state=state)
        return run.arl >= wanted

    low, high = np.log(LEAST_ALPHA) + 1e-12, np.log(0.999)
    if not reached(low):
        raise ValueError(f"arl is {arl:g}; no limits of this chart, with these rules, give it")
    while high - low > 1e-9:
        middle = (low + high) / 2
        low, high = (middle, high) if reached(middle) else (low, middle)
    return float(np.exp(low))


def count_limits(
    *, kind: str, centre: float, size: float | None = None, limits: str = "sigma",
    alpha: float = ALPHA,
) -> tuple[float, float]:
    """Lower and upper limit of the chart, as plotted; arguments as for `count_run_length`."""
    chart = _counting(kind, centre, size).chart(np.zeros(1), limits, alpha)
    return float(chart.lower[0]), float(chart.upper[0])


def _counting(kind: str, centre: float, size: float | None) -> _Counting:
    if kind not in KINDS:
        raise ValueError(f"kind is {kind!r}; allowed: {', '.join(KINDS)}")
    if (size is None) != (kind in ("c", "g")):
        raise ValueError(f"size is {size}; a chart of kind {kind!r}"
                         f" {'takes none' if size is not None else 'needs one'}")
    if kind in ("p", "np"):
        return _of_pieces(kind, centre, _whole_size(size or 0))
    if kind == "g":
        return _between_events(positive("centre", centre))
    area = 1.0 if size is None else positive("size", size)
    return _of_defects(kind, positive("centre", centre), area)


def _whole_size(size: float) -> int:
    if not (np.isfinite(size) and size >= 1 and size == np.floor(size)):
        raise ValueError(f"size is {size:g}; it must be a whole number from 1")
    return int(size)


def _of_pieces(kind: str, centre: float, n: int) -> _Counting:
    if kind == "np" and not 0 < centre < n:
        raise ValueError(f"centre is {centre:g}; it must be a number of pieces inside (0, {n})")
    share = inside_unit("centre", centre) if kind == "p" else centre / n
    unit, make = (float(n), p_chart) if kind == "p" else (1.0, np_chart)
    sigma = np.sqrt(share * (1 - share) / n)

    def chart(k: Floats, limits: str, alpha: float) -> Chart:
        return make(k, np.full(len(k), n), centre=centre, limits=limits, alpha=alpha).charts[0]

    def law(shift: float) -> _Law:
        changed = share + shift * sigma
        if not 0 <= changed <= 1:
            raise ValueError(f"shift is {shift:g}; it would make the share of nonconforming pieces"
                             f" {changed:g}, which must be 0..1")
        return _binomial(n, float(changed))

    return _Counting(name="binomial", chart=chart, law=law, calm=0.0, unit=unit, most=float(n),
                     scores=lambda k, _: standardised(k / n, share, float(sigma)))


def _of_defects(kind: str, centre: float, size: float) -> _Counting:
    mean = centre * size

    def chart(k: Floats, limits: str, alpha: float) -> Chart:
        if kind == "c":
            return c_chart(k, centre=centre, limits=limits, alpha=alpha).charts[0]
        return u_chart(k, np.full(len(k), size), centre=centre, limits=limits,
                       alpha=alpha).charts[0]

    def law(shift: float) -> _Law:
        changed = mean + shift * np.sqrt(mean)
        if changed < 0:
            raise ValueError(f"shift is {shift:g}; it would make the mean number of defects"
                             f" {changed / size:g}, which must be 0 and up")
        return _poisson(float(changed))

    return _Counting(name="Poisson", chart=chart, law=law, calm=0.0, unit=size,
                     scores=lambda k, _: standardised(k, mean, float(np.sqrt(mean))))


def _between_events(mean: float) -> _Counting:
    share, sigma = 1 / (1 + mean), np.sqrt(mean * (mean + 1))

    def chart(k: Floats, limits: str, alpha: float) -> Chart:
        return g_chart(k, centre=mean, limits=limits, alpha=alpha).charts[0]

    def law(shift: float) -> _Law:
        changed = share * shift
        if not 0 < changed <= 1:
            raise ValueError(f"shift is {shift:g}; as a factor it would make the share of"
                             f" nonconforming units {changed:g}, which must be inside (0, 1]")
        return _geometric(float(changed))

    def scores(k: Floats, limits: str) -> Floats:
        if limits == "sigma":
            return standardised(k, mean, float(sigma))
        normal: Floats = -ndtri(_geometric(share).above(k))  # as the chart holds them
        return normal

    return _Counting(name="geometric", chart=chart, law=law, calm=1.0, scores=scores)


def _binomial(n: int, share: float) -> _Law:
    def up_to(k: Floats) -> Floats:
        return np.where(k < n, betaincc(k + 1, np.maximum(n - k, 1), share), 1.0)

    def above(k: Floats) -> Floats:
        return np.where(k < n, betainc(k + 1, np.maximum(n - k, 1), share), 0.0)

    return _Law(up_to=up_to, above=above)


def _poisson(mean: float) -> _Law:
    return _Law(up_to=lambda k: gammaincc(k + 1, mean), above=lambda k: gammainc(k + 1, mean))


def _geometric(share: float) -> _Law:
    with np.errstate(divide="ignore"):  # a share of 1 leaves nothing above 0
        log_good = np.log1p(-share)
    return _Law(up_to=lambda k: -np.expm1((k + 1) * log_good),
                above=lambda k: np.exp((k + 1) * log_good))


def _or_none(k: Floats, chance: Floats) -> Floats:
    return np.where(k > 0, chance, 0.0)


def _accepted(counting: _Counting, limits: str, alpha: float) -> tuple[int, int]:
    """Smallest and largest count that does not signal, as the chart itself has it."""
    any_point = counting.chart(np.zeros(1), limits, alpha)
    near = np.arange(-2, 4)
    k = np.concatenate([np.floor(limit[0] * counting.unit) + near
                        for limit in (any_point.lower, any_point.upper)])
    k = np.unique(np.clip(k, 0, counting.most))
    signals = counting.chart(k, limits, alpha).signals & bit("outside_limits")
    kept = k[signals == 0]
    return int(kept[0]), int(kept[-1])


def _signal_chance(law: _Law, accepted: tuple[int, int]) -> float:
    low, high = (np.array([float(k)]) for k in accepted)
    below = law.up_to(low - 1)[0] if accepted[0] > 0 else 0.0
    return float(below + law.above(high)[0])


def _rules_run(
    counting: _Counting, rules: RuleSet, law: _Law, accepted: tuple[int, int], *, limits: str,
    state: str,
) -> RunLength:
    zones = _zones(counting, rules, law, accepted, limits)
    if state == "zero":
        chain = rules_chain(rules, zones)
    else:
        calm = _zones(counting, rules, counting.law(counting.calm), accepted, limits)
        chain = rules_chain_in_use(rules, calm, zones, zones)
    return followed_run(chain, state=state, method=CHAIN.format(counting.name))


def _zones(
    counting: _Counting, rules: RuleSet, law: _Law, accepted: tuple[int, int], limits: str
) -> Zones:
    """Each count inside the limits on its own, and all below and all above them as one each."""
    low, high = accepted
    k = np.arange(low, high + 1, dtype=np.float64)
    z = counting.scores(k, limits)
    sides = [np.sign(z + line) * (np.abs(z + line) > SLACK)
             for distance in rule_lines(rules) for line in (-distance, distance)]
    keys = np.stack([np.zeros(len(k)), *sides], axis=1)
    below = law.up_to(np.array([low - 1.0])) if low > 0 else np.zeros(1)
    beyond = (np.concatenate((below, law.of_each(k), law.above(np.array([float(high)])))))
    return counted_zones(["below", *map(tuple, keys.tolist()), "above"],
                         np.concatenate(([-np.inf], z, [np.inf])),
                         [True, *[False] * len(k), True], beyond)
