"""Is a platen's pressure even? Ranked pulls of paper or film, round by round.

Grips are ranks: they are compared within a round, never added up as if they were pressures.
"""

from __future__ import annotations

import pandas as pd
from scipy.stats import friedmanchisquare

from qc.domain.pulls import PULL_STATES, PullCheck
from qc.presses.checks import as_left_of, round_numbers

LATEST_ROUNDS = 8
FEWEST_ROUNDS = 3
MOST_CHANCE = 0.05
CLEAR_STEPS = 2
"""A grip so far below the middle of its round is plain without statistics (common practice, no
source)."""


def pull_checks(pulls: pd.DataFrame, *, as_of_us: int) -> tuple[PullCheck, ...]:
    """The latest rounds at every press and station, uneven ones first.

    Parameters
    ----------
    pulls : the columns of pull_checks; rows after ``as_of_us`` do not count, nor those of a round
        before the latest one made as left

    Notes
    -----
    Uneven: a place of the latest round is `CLEAR_STEPS` below its middle, or Friedman's test over
    the rounds at the same places leaves a chance below 5 %. With fewer than three such rounds and
    no plain difference it cannot be told.

    Source
    ------
    Friedman (1937), J. Amer. Stat. Assoc. 32, 675-701.
    """
    known = pulls[pulls["measured_at"] <= as_of_us]
    out = []
    for key, rows in known.groupby(["press", "station", "method"], dropna=False, observed=True,
                                   sort=True):
        press, station, method = (None if part != part else str(part) for part in key)
        found = _judged(rows)
        if found is not None:
            at_us, table, chance, state = found
            latest = table.iloc[-1].dropna()
            ranks = table.rank(axis=1).mean()
            out.append(PullCheck(
                press=str(press), station=station, method=str(method), pulled_at_us=at_us,
                n_rounds=len(table),
                grips=tuple((str(place), int(grip)) for place, grip in latest.items()),
                weakest=str(ranks[latest.index].idxmin()), chance=chance, state=state))
    return tuple(sorted(out, key=lambda one: (PULL_STATES.index(one.state), one.press)))


def _judged(rows: pd.DataFrame) -> tuple[int, pd.DataFrame, float | None, str] | None:
    """When the latest round was, rounds by places, the chance, and the state; None for one place
    alone."""
    rows = rows.sort_values("measured_at", kind="stable")
    number = round_numbers(rows)
    left = number[(rows["state"] == "as_left").to_numpy()]
    first = max(left.max(initial=0), number[-1] + 1 - LATEST_ROUNDS)
    rounds = [rows[number == one] for one in range(first, number[-1] + 1)]
    table = pd.DataFrame([
        as_left_of(one).groupby("place", observed=True)["grip"].median() for one in rounds])
    latest = table.iloc[-1].dropna()
    if len(latest) < 2:
        return None
    whole = table[latest.index].dropna()
    chance = None
    if len(whole) >= FEWEST_ROUNDS and len(latest) >= 3:
        if whole.nunique(axis=1).max() == 1:
            chance = 1.0
        else:
            chance = float(friedmanchisquare(*whole.to_numpy().T).pvalue)
    clear = float(latest.median() - latest.min()) >= CLEAR_STEPS
    if clear or (chance is not None and chance < MOST_CHANCE):
        state = "uneven"
    else:
        state = "cannot_tell" if chance is None and latest.nunique() > 1 else "even"
    return int(rounds[-1]["measured_at"].max()), table, chance, state

