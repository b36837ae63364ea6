"""Timers and gauges: what was measured against what was set.

A round is what was measured of a quantity of a press within half a day. Its mean error is held
against the tolerance with the uncertainty that repeated readings leave; the instrument's own error
is not in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.instants import DAY_US
from qc.domain.machine_checks import CHECK_STATES, MachineCheck

ROUND_US = DAY_US // 2
COVERAGE = 2.0

USUAL_SCATTER, USUAL_WEIGHT = {"dwell_s": 0.2, "pressure_kpa": 7.0, "pressure_dial": 0.2}, 5
"""Standard deviation of one reading where a press has not been read several times in a round: a
stopwatch by hand, a gauge read by eye; weighs as much as so many repeats. Proposed, no source."""


def machine_checks(
    checks: pd.DataFrame, tolerances: Mapping[str, float], *, as_of_us: int
) -> tuple[MachineCheck, ...]:
    """The latest round of every quantity of every press, those out of tolerance first.

    Parameters
    ----------
    checks : the columns of machine_checks in stored units; rows after ``as_of_us`` do not count,
        nor do those of a state as found that an as-left round of the same half day follows
    tolerances : by quantity, in its stored unit, each way
    """
    known = checks[(checks["measured_at"] <= as_of_us) & checks["measured_value"].notna()]
    out = []
    for key, rows in known.groupby(["press", "quantity"], sort=True, observed=True):
        press, quantity = (str(part) for part in key)
        out.append(_judged(press, quantity, rows, tolerances[quantity]))
    return tuple(sorted(out, key=lambda one: (CHECK_STATES.index(one.state), one.press)))


def _judged(press: str, quantity: str, rows: pd.DataFrame, tolerance: float) -> MachineCheck:
    rows = rows.sort_values("measured_at", kind="stable")
    number = round_numbers(rows)
    last = as_left_of(rows[number == number[-1]])
    squares, free = _repeats(rows, number)
    variance = (USUAL_WEIGHT * USUAL_SCATTER[quantity] ** 2 + squares) / (USUAL_WEIGHT + free)
    error = float(_errors(last).mean())
    uncertainty = COVERAGE * math.sqrt(variance / len(last))
    state = "in_tolerance" if abs(error) + uncertainty <= tolerance else "not_shown"
    return MachineCheck(
        press=press, quantity=quantity, checked_at_us=int(last["measured_at"].max()),
        n=len(last), set_value=float(last["set_value"].mean()), error=error,
        uncertainty=uncertainty, scatter=math.sqrt(squares / free) if free else None,
        tolerance=tolerance,
        state="out" if abs(error) > tolerance else state,
    )


def round_numbers(rows: pd.DataFrame) -> npt.NDArray[np.int64]:
    """The number of the round of each row, rows in order of time: another one begins where more
    than half a day lies between two."""
    at = rows["measured_at"].to_numpy(dtype=np.int64)
    return np.cumsum(np.diff(at, prepend=at[:1]) > ROUND_US)


def as_left_of(last: pd.DataFrame) -> pd.DataFrame:
    """A round without what was found before it was put right."""
    left = last[last["state"] == "as_left"]
    return left if len(left) else last


def _errors(rows: pd.DataFrame) -> np.ndarray:
    return (rows["measured_value"] - rows["set_value"]).to_numpy(dtype=np.float64)


def _repeats(rows: pd.DataFrame, number: npt.NDArray[np.int64]) -> tuple[float, int]:
    """Sum of squares and degrees of freedom of readings in one state at one setting of a round."""
    alike = pd.Series(_errors(rows), index=rows.index).groupby(
        [number, rows["state"], rows["set_value"]], observed=True)
    means, sizes = alike.transform("mean"), alike.size()
    squares = float(((_errors(rows) - means) ** 2).sum())
    return squares, int((sizes - 1).sum())
