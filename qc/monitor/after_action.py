"""Did it work? The rate after an action against the usual rate and the rate during the fault.

A sequential test between two hypotheses, so that the tool may look after every piece without
crying success too early: each hypothesis carries its own uncertainty on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, gammaln, stdtrit

from qc.stats.comparing.ratios import standardised_ratio

Floats = npt.NDArray[np.float64]

RISK = 0.05
"""Chance borne of either wrong answer: 'came back' of a rate that is still raised, and 'not back'
of one that is."""
USUAL_EVENTS = 16.0
"""Worth of the usual rates, in events: levels of a shop differ from it by about 1/4 (1/sqrt(16)).
A proposed starting value, no source."""
CLUMP_PRIOR, CLUMP_WEIGHT = 0.09, 20.0
"""Jobs differ by about 30 % (0.3 squared), believed as much as 20 of the squared expectations on
record; a proposed starting value, no source."""
FITS_NEITHER = {True: 0.025, False: 0.005}
"""Tail below which a value fits a hypothesis no more: once the odds are decided, and before (when
it is looked at again and again)."""
LEAST_GROUPS = 4
"""Groups before and during the fault from which their spread is believed at all."""


class Verdict(Enum):
    """What can be said; the value is its code."""

    CAME_BACK = "came_back"
    BETTER = "better"
    NOT_BACK = "not_back"
    TOO_EARLY = "too_early"


class CheckCaution(Enum):
    """What a reader must know; the value is the sentence to show."""

    NO_PAST = "the usual rate is the shop's: this level has hardly a past of its own"
    CLUMPED = "faults come in clumps here: more pieces are needed than by chance alone"
    ABOVE = (
        "nearer the usual than the fault, yet above the usual by more than chance: levels of a "
        "shop differ by about a quarter"
    )
    NO_RISE = "the rate during the fault was not above the usual: nothing to come back from"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """Faults seen and faults expected at the usual rates, over ``n_pieces``."""

    seen: float
    expected: float
    n_pieces: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterAction:
    """The answer, with what it rests on.

    ``usual`` and ``raised`` : what the after period would have shown at the level's usual value
    and at that of the fault (faults for a rate, the stream's unit for a mean); ``value`` what it
    showed, ``low`` and ``high`` its 95 % interval. ``log_odds`` : log likelihood ratio of 'still
    raised' over 'back'; decided at +- ``limit``. ``n_more`` : about how many more pieces decide,
    if it is back; 0 when decided, None where it cannot be said. ``clump`` : variance over mean.
    """

    verdict: Verdict
    value: float
    low: float
    high: float
    usual: float
    raised: float
    n_pieces: int
    n_more: int | None
    log_odds: float
    limit: float
    risk: float
    clump: float
    method: str
    cautions: tuple[CheckCaution, ...]


def check_rate(
    usual: Counted, during: Counted, after: Counted, *, clump: float = 1.0, risk: float = RISK
) -> AfterAction:
    """Has a raised fault rate come back since an action?

    Parameters
    ----------
    usual, during, after : the flagged level before the change, during the fault and since the
        action; ``expected`` at the usual rates of its mix of work
    clump : variance over mean of the counts, 1 and up
    risk : of each wrong answer, inside (0, 0.5)

    Raises
    ------
    ValueError
        A count or expectation is negative or not finite, nothing is expected during the fault,
        clump is below 1, or risk is outside (0, 0.5).

    Notes
    -----
    Faults after the action are Poisson with mean ``expected`` times a ratio. Back: the ratio is
    gamma distributed as the level's own past and `USUAL_EVENTS` events at the usual rate leave it;
    raised: as the fault leaves it (gamma with its events and expectation). The likelihood ratio of
    the two negative binomial laws is compared with Wald's limits +- log((1 - risk) / risk). It is
    a martingale under either law, so looking again after every piece does not raise the risk of
    either answer above risk / (1 - risk). A count that fits neither law (`FITS_NEITHER`) is called
    better. Counts are divided by ``clump`` throughout.

    Source
    ------
    Wald (1945), Annals of Mathematical Statistics 16, 117-186; mixtures and the maximal inequality:
    Ville (1939), Robbins (1970), Annals of Mathematical Statistics 41, 1397-1409 (from memory).
    """
    _check_counts(usual, during, after, clump, risk)
    back = (USUAL_EVENTS + usual.seen / clump, USUAL_EVENTS + usual.expected / clump)
    fault = (during.seen / clump, during.expected / clump)
    cautions = _cautions(usual, clump, back, fault)
    ratio = standardised_ratio(round(after.seen / clump), after.expected / clump)
    low, high = _counts_of(ratio.low, after), _counts_of(ratio.high, after)
    seen, exposure = after.seen / clump, after.expected / clump
    rises = fault[0] / fault[1] > back[0] / back[1]
    log_odds = _log_chance(seen, exposure, fault) - _log_chance(seen, exposure, back)
    limit = math.log((1 - risk) / risk)
    verdict = _verdict(log_odds, limit, seen, exposure, back, fault) if rises else Verdict.TOO_EARLY
    if verdict is Verdict.CAME_BACK and low > after.expected * back[0] / back[1]:
        cautions = (*cautions, CheckCaution.ABOVE)
    return AfterAction(
        verdict=verdict, value=after.seen, low=low, high=high,
        usual=after.expected * back[0] / back[1], raised=after.expected * fault[0] / fault[1],
        n_pieces=round(after.n_pieces),
        n_more=_more_pieces(verdict, log_odds + limit, back, fault, clump, during, after)
        if rises else None,
        log_odds=log_odds, limit=limit, risk=risk, clump=clump, cautions=cautions,
        method="sequential likelihood ratio of two gamma-Poisson laws (Wald's limits)",
    )


def clumping(
    seen: npt.ArrayLike, expected: npt.ArrayLike, job_size: npt.ArrayLike
) -> float:
    """Variance over mean of the faults of jobs as large as those given, 1 and up.

    Parameters
    ----------
    seen, expected : faults of each job on record, and what its phase's rate would give it
    job_size : faults that the raised rate would give each job of the period in question

    Notes
    -----
    Jobs differ by more than chance: their rates have a squared coefficient of variation, the
    excess of the squared residuals over the expectations in units of squared expectation, pulled
    towards `CLUMP_PRIOR` by `CLUMP_WEIGHT`. A job of mean m then has variance m + cv^2 m^2, and a
    sum of jobs cv^2 sum(m^2) / sum(m) more than its mean. The raised rate is taken, where clumps
    weigh most; at the usual rate the check is the more careful for it.
    """
    k, mean = np.asarray(seen, dtype=np.float64), np.asarray(expected, dtype=np.float64)
    size = np.asarray(job_size, dtype=np.float64)
    excess = float(((k - mean) ** 2 - mean).sum()) + CLUMP_WEIGHT * CLUMP_PRIOR
    squared_cv = max(0.0, excess / (float((mean**2).sum()) + CLUMP_WEIGHT))
    total = float(size.sum())
    return 1.0 + squared_cv * float((size**2).sum()) / total if total > 0 else 1.0


def check_mean(
    usual: npt.ArrayLike, during: npt.ArrayLike, after: npt.ArrayLike, *, n_pieces: int,
    risk: float = RISK,
) -> AfterAction | None:
    """Has a measured stream come back to its past? None where too little is known to ask.

    Parameters
    ----------
    usual, during, after : means of groups (jobs, say) before the change, during the fault and
        since the action, in the stream's unit; finite
    n_pieces : measured since the action

    Raises
    ------
    ValueError
        A mean is not finite, or risk is outside (0, 0.5).

    Notes
    -----
    Group means are normal with one standard deviation, pooled over the three periods. The mean
    since the action is compared with its predictive t law under either hypothesis, the limits as
    for `check_rate`.

    Source
    ------
    As for `check_rate`; predictive t law: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed.,
    section 3.2 (from memory).
    """
    old, bad, new = (_finite(name, values) for name, values in
                     (("usual", usual), ("during", during), ("after", after)))
    _check_risk(risk)
    df = sum(max(len(part) - 1, 0) for part in (old, bad, new))
    if min(len(old), len(bad)) < 1 or len(old) + len(bad) < LEAST_GROUPS or df < 2:
        return None
    spread = math.sqrt(sum(float(((part - part.mean()) ** 2).sum())
                           for part in (old, bad, new) if len(part)) / df)
    return _judged_mean(old, bad, new, spread=spread, df=df, n_pieces=n_pieces, risk=risk)


def _judged_mean(
    old: Floats, bad: Floats, new: Floats, *, spread: float, df: int, n_pieces: int, risk: float
) -> AfterAction:
    limit, n = math.log((1 - risk) / risk), len(new)
    usual, raised = float(old.mean()), float(bad.mean())
    value = float(new.mean()) if n else math.nan
    error = [spread * math.sqrt(1 / len(part) + 1 / max(n, 1)) for part in (old, bad)]
    log_odds, verdict = 0.0, Verdict.TOO_EARLY
    if n and spread > 0:
        log_odds = (_log_t((value - raised) / error[1], df) - math.log(error[1])
                    - _log_t((value - usual) / error[0], df) + math.log(error[0]))
        verdict = _of_odds(log_odds, limit)
        far = stdtrit(df, 1 - FITS_NEITHER[verdict is not Verdict.TOO_EARLY])
        off = [abs(value - mean) / e > far for mean, e in ((usual, error[0]), (raised, error[1]))]
        if all(off):
            between = min(usual, raised) < value < max(usual, raised)
            verdict = Verdict.BETTER if between else Verdict.NOT_BACK
    reach = float(stdtrit(max(df, 1), 0.975)) * spread / math.sqrt(max(n, 1))
    per_group = n_pieces / n if n else None
    return AfterAction(
        verdict=verdict, value=value, low=value - reach, high=value + reach, usual=usual,
        raised=raised, n_pieces=n_pieces,
        n_more=_more_measured(verdict, log_odds + limit, raised - usual, spread, per_group),
        log_odds=log_odds, limit=limit, risk=risk, clump=1.0, cautions=(),
        method="sequential likelihood ratio of two predictive t laws of group means",
    )


def _more_measured(
    verdict: Verdict, distance: float, shift: float, spread: float, per_group: float | None
) -> int | None:
    if verdict is not Verdict.TOO_EARLY:
        return 0
    if shift == 0 or per_group is None:
        return None
    groups = 2 * max(distance, 0.0) * (spread / shift) ** 2
    return max(1, math.ceil(groups * per_group))


def _log_t(t: float, df: int) -> float:
    """Log density of Student's t, without its constant."""
    return -(df + 1) / 2 * math.log1p(t * t / df)


def _log_chance(seen: float, exposure: float, law: tuple[float, float]) -> float:
    """Log chance of a count whose rate is gamma distributed, without what all laws share."""
    shape, rate = law
    if exposure == 0:
        return 0.0
    return float(gammaln(seen + shape) - gammaln(shape) + shape * math.log(rate / (rate + exposure))
                 - seen * math.log(rate + exposure))


def _verdict(
    log_odds: float, limit: float, seen: float, exposure: float, back: tuple[float, float],
    fault: tuple[float, float],
) -> Verdict:
    verdict = _of_odds(log_odds, limit)
    tail = FITS_NEITHER[verdict is not Verdict.TOO_EARLY]
    above_usual = _at_least(seen, exposure, back) < tail
    below_fault = 1 - _at_least(seen + 1, exposure, fault) < tail
    return Verdict.BETTER if above_usual and below_fault else verdict


def _of_odds(log_odds: float, limit: float) -> Verdict:
    if log_odds >= limit:
        return Verdict.NOT_BACK
    return Verdict.CAME_BACK if log_odds <= -limit else Verdict.TOO_EARLY


def _at_least(seen: float, exposure: float, law: tuple[float, float]) -> float:
    """Chance of so many or more (negative binomial tail)."""
    shape, rate = law
    return 1.0 if seen <= 0 else float(betainc(seen, shape, exposure / (rate + exposure)))


def _more_pieces(
    verdict: Verdict, distance: float, back: tuple[float, float], fault: tuple[float, float],
    clump: float, during: Counted, after: Counted,
) -> int | None:
    """Pieces until the odds will have gone the distance, if the rate is back."""
    if verdict is not Verdict.TOO_EARLY:
        return 0
    usual, raised = back[0] / back[1], fault[0] / fault[1]
    drift = raised - usual - usual * math.log(raised / usual)
    known = after if after.n_pieces > 0 and after.expected > 0 else during
    if drift <= 0 or known.n_pieces <= 0:
        return None
    return max(1, math.ceil(distance / drift * clump / (known.expected / known.n_pieces)))


def _counts_of(ratio: object, after: Counted) -> float:
    value = float(ratio) * after.expected  # type: ignore[arg-type]
    return value if math.isfinite(value) else 0.0


def _cautions(
    usual: Counted, clump: float, back: tuple[float, float], fault: tuple[float, float]
) -> tuple[CheckCaution, ...]:
    found = []
    if usual.expected < 1:
        found.append(CheckCaution.NO_PAST)
    if clump > 1.3:
        found.append(CheckCaution.CLUMPED)
    if fault[0] / fault[1] <= back[0] / back[1]:
        found.append(CheckCaution.NO_RISE)
    return tuple(found)


def _check_counts(
    usual: Counted, during: Counted, after: Counted, clump: float, risk: float
) -> None:
    for name, part in (("usual", usual), ("during", during), ("after", after)):
        for what in ("seen", "expected", "n_pieces"):
            value = getattr(part, what)
            if not math.isfinite(value) or value < 0:
                raise ValueError(f"{name}.{what} is {value}; it must be finite, 0 and up")
    if during.expected <= 0:
        raise ValueError("during.expected is 0; it must be above 0")
    if not clump >= 1 or not math.isfinite(clump):
        raise ValueError(f"clump is {clump}; it must be finite, 1 and up")
    _check_risk(risk)


def _check_risk(risk: float) -> None:
    if not 0 < risk < 0.5:
        raise ValueError(f"risk is {risk}; it must lie inside (0, 0.5)")


def _finite(name: str, values: npt.ArrayLike) -> Floats:
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if array.size and not np.isfinite(array).all():
        raise ValueError(f"{name} has a value that is not finite")
    return array
