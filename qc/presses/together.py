"""Surveys of a platen taken together: an EWMA that sees small lasting moves, and its run length."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from qc.domain.platens import SurveyEwma
from qc.presses.surveys import Survey, since_adjustment
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.q_charts import q_chart
from qc.stats.runlength.ewma import ewma_width

RUN_LENGTH = 370.0
"""Surveys of an unmoved platen until a false signal, on average: as often as three-sigma limits."""
WEIGHT = 0.2
FEWEST = 3
DAYS_A_YEAR = 365.25


def surveys_together(
    found: Sequence[Survey], sigma: float, check_days: float
) -> SurveyEwma | None:
    """The EWMA of a platen's surveys since its last adjustment; None before the third.

    Parameters
    ----------
    found : surveys of one platen in order; sigma : standard deviation of a survey's mean, degC
    check_days : days between surveys, to say the run length in years

    Notes
    -----
    Each survey is held against the mean of those before it, the as-left one first, and is then
    independent of them and normal with ``sigma`` (a Q statistic with known sigma). About an
    as-left level known from one survey alone the same limits would signal falsely after 89
    surveys, not 370: the error of that survey is in every later difference. The price is that a
    move soon after the adjustment is learnt as the level. The run length holds where this platen
    scatters as the shop's do.

    Source
    ------
    Quesenberry (1991), J. Quality Technology 23(3), 213-224; Roberts (1959), Technometrics 1,
    239-250; limits for the run length: Crowder (1987), Technometrics 29, 401-407.
    """
    usable = [survey for survey in since_adjustment(list(found)) if not survey.partial]
    if len(usable) < FEWEST:
        return None
    return _ewma(tuple(survey.at_us for survey in usable),
                 tuple(survey.offset_c for survey in usable), sigma, check_days)


@lru_cache(maxsize=256)
def _ewma(
    at_us_of: tuple[int, ...], offsets: tuple[float, ...], sigma: float, check_days: float
) -> SurveyEwma:
    """The same of these surveys; kept, since a page asks for it until there are others."""
    scores = q_chart(list(offsets), sigma=sigma).charts[0].value[-(len(offsets) - 1):]
    width = _width()
    chart = ewma_chart(scores, weight=WEIGHT, width=width, limits="steady", centre=0.0, sigma=1.0)
    value_c = sigma * np.asarray(chart.charts[0].value)
    at_us = np.array(at_us_of[1:], dtype=np.int64)
    for array in (at_us, value_c):
        array.flags.writeable = False
    return SurveyEwma(
        at_us=at_us, value_c=value_c, limit_c=sigma * width * (WEIGHT / (2 - WEIGHT)) ** 0.5,
        run_length=RUN_LENGTH, years=RUN_LENGTH * check_days / DAYS_A_YEAR,
    )


@lru_cache(maxsize=1)
def _width() -> float:
    return ewma_width(RUN_LENGTH, weight=WEIGHT, limits="steady")
