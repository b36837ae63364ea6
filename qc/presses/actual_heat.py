"""How far each piece's platen was from its display, by the latest survey before the pressing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.instants import DAY_US
from qc.presses.recipes import Coded
from qc.presses.surveys import Survey, surveys_of
from qc.presses.uncertainty import probe_uncertainty

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

PLATEN = "upper"
"""The platen whose temperature a recipe and a press's display speak of."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offsets:
    """Of each piece: surveyed mean less setpoint and its expanded uncertainty (k = 2), degC; nan
    where no survey speaks for it."""

    offset_c: Floats
    uncertainty_c: Floats


def offsets_at(
    press: Coded, pressed_us: Ints, readings: pd.DataFrame, instruments: pd.DataFrame, *,
    valid_days: float, default_uncertainty_c: float, as_of_us: int,
) -> Offsets:
    """The offset that counts for each piece.

    Parameters
    ----------
    readings, instruments : columns of their record kinds, stored units
    valid_days : a survey older than this at the pressing says nothing of it
    default_uncertainty_c : for a probe without a record of its own

    Notes
    -----
    The latest survey of the upper platen at or before the pressing counts, as left before as found
    where both are of one moment. Surveys of only some of the points are passed over: their mean is
    of other places. The offset is taken to be the same at every setpoint.
    """
    offset = np.full(len(pressed_us), np.nan)
    uncertainty = offset.copy()
    if len(pressed_us) == 0:
        return Offsets(offset_c=offset, uncertainty_c=uncertainty)
    valid_us = round(valid_days * DAY_US)
    earliest = int(pressed_us.min()) - valid_us
    found = surveys_of(readings, as_of_us=as_of_us)
    for code, name in enumerate(press.levels):
        surveys = [survey for survey in found.get((name, PLATEN), ())
                   if not survey.partial and survey.at_us >= earliest]
        mine = np.flatnonzero(press.codes == code) if surveys else np.zeros(0, dtype=np.int64)
        at_us = np.array([s.at_us for s in surveys], dtype=np.int64)
        latest = np.searchsorted(at_us, pressed_us[mine], side="right") - 1
        mine, latest = mine[latest >= 0], latest[latest >= 0]
        fresh = pressed_us[mine] - at_us[latest] <= valid_us
        mine, latest = mine[fresh], latest[fresh]
        offset[mine] = np.array([s.offset_c for s in surveys], dtype=np.float64)[latest]
        good_to = [_good_to(s, instruments, default_uncertainty_c) for s in surveys]
        uncertainty[mine] = np.array(good_to, dtype=np.float64)[latest]
    return Offsets(offset_c=offset, uncertainty_c=uncertainty)


def _good_to(survey: Survey, instruments: pd.DataFrame, default_c: float) -> float:
    return probe_uncertainty(
        survey.instrument, instruments, default_c=default_c, at_us=survey.at_us,
        at_c=survey.setpoint_c,
    ).expanded_c
