"""Platens with known drift: do the forecast, the due date, the risk and the start hold the truth?

    python -m tests.benchmarks.platens [--shops 300] [--seed 1]

Shops of random make (`tests.benchmarks.platen_shops`) are simulated and judged
(`tests.benchmarks.platen_judging`). Drifts of 0.05 to 0.3 degC a day, tolerances of 3 to 6 degC,
surveys of nine points every 3 to 14 days whose means scatter by 0.2 to 0.6 degC. Each platen is
judged once, as of a random survey after its last change. Shares are printed with their 95 % Wilson
intervals, flags a year with the exact Poisson interval.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

import numpy as np

from tests.benchmarks.measuring import heading, say, verdict
from tests.benchmarks.planted_table import share, weekly
from tests.benchmarks.platen_judging import Judged, Run, Start, Verdict, judged
from tests.benchmarks.platen_shops import KINDS, true_shop

RISKS = (0.0, 0.025, 0.1, 0.3, 0.5, 0.7, 0.9, 0.975, 1.0)


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shops", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args(arguments)
    heading("Platens with known drift", "tests.benchmarks.platens")
    report(shops(wanted.shops, wanted.seed))


def shops(n: int, seed: int) -> list[Judged]:
    """Simulate and judge shops."""
    out = []
    for number in range(n):
        rng = np.random.default_rng([seed, number])
        out.append(judged(true_shop(rng), rng))
        sys.stderr.write(f"\r{number + 1}/{n} shops")
    sys.stderr.write("\r")
    return out


def report(found: Sequence[Judged]) -> None:
    """All figures."""
    runs = [run for one in found for run in one.runs]
    _forecasts(runs)
    _due(runs)
    _risks([v for one in found for v in one.verdicts])
    _flags(found)
    _starts([start for one in found for start in one.starts])


def shown(runs: Sequence[Run]) -> list[Run]:
    """A drift is shown, the platen truly drifts, its crossing is still ahead, and the survey is not
    beyond the tolerance already."""
    return [r for r in runs if r.drift_shown and r.drifts and r.ahead and not r.said_out]


def _forecasts(runs: Sequence[Run]) -> None:
    ahead = shown(runs)
    given = [r for r in ahead if r.first is not None]
    say(f"\nforecast, of {len(runs)} platens")
    say(f"  drift shown, crossing ahead: {len(ahead)}; of these no crossing given:"
        f" {share(len(ahead) - len(given), len(ahead))}")
    verdict("crosses_between holds the crossing", _mean([r.covered for r in given]), at_least=0.85)
    say(f"    {share(sum(r.covered for r in given), len(given))}")
    for kind in KINDS:
        mine = [r for r in given if r.kind == kind]
        if mine:
            say(f"    {kind:15}{share(sum(r.covered for r in mine), len(mine))}")
    early = sum(r.first is not None and r.truth is not None and r.truth < r.first for r in given)
    say(f"  crossing before the interval: {share(early, len(given))}")
    say(f"  holds the crossing of the true offset, the probe's error included:"
        f" {share(sum(r.really_covered for r in given), len(given))}")
    closed = [r.last - r.first for r in given if r.last is not None and r.first is not None]
    say(f"  median width {np.median(closed):.1f} days; open-ended {len(given) - len(closed)};"
        f" median days to the crossing {np.median([r.truth for r in given]):.1f}")
    missed = [r.says - r.truth for r in given if r.says is not None and r.truth is not None]
    say(f"  said less true, days: median {np.median(missed):+.1f}, middle 80 %"
        f" {np.quantile(missed, 0.1):+.1f} to {np.quantile(missed, 0.9):+.1f}")
    _without(runs)


def _without(runs: Sequence[Run]) -> None:
    """Platens that do not drift, and those whose drift is not shown."""
    still = [r for r in runs if not r.drifts]
    said = sum(r.drift_shown for r in still)
    say(f"  no drift, but one is shown: {share(said, len(still))}")
    say(f"  no drift, but a crossing is said:"
        f" {share(sum(r.says is not None for r in still), len(still))}")
    unseen = [r for r in runs if r.drifts and r.ahead and not r.drift_shown and not r.said_out]
    told = [r for r in unseen if r.first is not None]
    say(f"  drift not shown, crossing ahead: {len(unseen)}; crossing said for {len(told)}, held"
        f" {share(sum(r.covered for r in told), len(told))}")


def _due(runs: Sequence[Run]) -> None:
    say("\ndue date")
    ahead = [r for r in shown(runs) if r.due is not None]
    late = [r for r in ahead if r.truth is not None and r.due is not None and r.due > r.truth]
    more = [r for r in late if r.truth is not None and r.due is not None and r.due > r.truth + 1]
    say(f"  drift shown: due after the crossing {share(len(late), len(ahead))}; by more than a day"
        f" {len(more)}")
    room = [r.truth - r.due for r in ahead if r.truth is not None and r.due is not None]
    say(f"  due before the crossing by, days: median {np.median(room):.1f}, lowest tenth"
        f" {np.quantile(room, 0.1):.1f}")
    sooner = [r for r in ahead if r.due is not None and r.due < r.check_days - 1e-6]
    say(f"  brought forward from the fixed interval: {share(len(sooner), len(ahead))}")
    unseen = [r for r in runs if r.drifts and r.ahead and not r.drift_shown and not r.said_out]
    late = [r for r in unseen if r.truth is not None and r.due is not None and r.due > r.truth]
    say(f"  drift not shown: due after the crossing {share(len(late), len(unseen))}")


def _risks(verdicts: Sequence[Verdict]) -> None:
    for what in ("mean", "spread"):
        mine = [v for v in verdicts if v.what == what]
        say(f"\nrisk that the true {what} is beyond its tolerance, of {len(mine)} surveys")
        out = [v for v in mine if v.said_out]
        inside = sum(not v.beyond for v in out)
        say(f"  measured beyond (said recalibrate): {len(out)}; truly inside"
            f" {share(inside, len(out))}; stated {_mean([1 - v.risk for v in out]):.1%}")
        _guarded(mine)
        say("  stated             surveys   mean stated   truly beyond")
        for low, high in zip(RISKS, RISKS[1:], strict=False):
            some = [v for v in mine if low <= v.risk < high or v.risk == high == 1.0]
            if some:
                stated, beyond = _mean([v.risk for v in some]), _mean([v.beyond for v in some])
                say(f"  {low:6.1%} to {high:6.1%}  {len(some):8}   {stated:11.1%}   {beyond:12.1%}")


def _guarded(verdicts: Sequence[Verdict]) -> None:
    passed = [v for v in verdicts if v.guarded == "in_tolerance"]
    failed = [v for v in verdicts if v.guarded == "out"]
    open_ones = len(verdicts) - len(passed) - len(failed)
    say(f"  guard band of U: in tolerance {len(passed)}, truly beyond"
        f" {share(sum(v.beyond for v in passed), len(passed))}; out {len(failed)}, truly inside"
        f" {share(sum(not v.beyond for v in failed), len(failed))}; cannot be shown"
        f" {share(open_ones, len(verdicts))}")


def _flags(found: Sequence[Judged]) -> None:
    years, false = sum(one.quiet_years for one in found), sum(one.false_flags for one in found)
    say(f"\nfalse calibration flags a year of one platen without a change: {weekly(false, years)}")


def _starts(starts: Sequence[Start]) -> None:
    say(f"\nstart of a change, of {len(starts)} flagged")
    for kind in sorted({start.kind for start in starts}):
        mine = [start for start in starts if start.kind == kind]
        verdict(f"{kind}: 90 % interval holds it", _mean([s.held for s in mine]), at_least=0.85)
        say(f"    {share(sum(s.held for s in mine), len(mine))}; begins too late"
            f" {sum(s.late for s in mine)}; median width"
            f" {np.median([s.width for s in mine]):.1f} days"
            f"; begins before a good survey at which nothing had changed"
            f" {sum(s.needless for s in mine)}")


def _mean(values: Sequence[float | bool]) -> float:
    return float(np.mean(values)) if len(values) else float("nan")


if __name__ == "__main__":
    main()
