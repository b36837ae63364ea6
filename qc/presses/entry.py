"""What looks wrong with surveys as they come in: said, for the person who made them to answer."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise
from zoneinfo import ZoneInfo

import pandas as pd

from qc.domain.instants import from_us
from qc.presses.surveys import Survey, surveys_of

SHOWN = 4
"""Points that are named one by one; more are counted."""


def survey_cautions(
    readings: pd.DataFrame, own: Collection[str], zone: ZoneInfo
) -> tuple[str, ...]:
    """One sentence for each thing that looks wrong with the surveys that came in now.

    ``readings`` has the columns of platen_readings and holds earlier ones too, without which nobody
    can tell whether a platen was surveyed before it was adjusted; ``own`` are the ids of the new.
    Looked for: points missing of a grid, two surveys of a platen at one time, as left without as
    found.
    """
    said: list[str] = []
    for (press, platen), found in surveys_of(readings).items():
        where = f"the {platen} platen of press {press}"
        new = [survey for survey in found if survey.survey_id in own]
        said += [f"survey {survey.survey_id} of {where} lacks {gaps}"
                 for survey in new if (gaps := _gaps(survey))]
        said += _at_one_time(found, own, where, zone)
        said += _not_found_first(found, own, where)
    return tuple(said)


def _gaps(survey: Survey) -> str:
    """The points of its grid that a survey has not, in words."""
    there = set(zip(survey.row.tolist(), survey.col.tolist(), strict=True))
    rows, cols = sorted({r for r, _ in there}), sorted({c for _, c in there})
    missing = [(r, c) for r in rows for c in cols if (r, c) not in there]
    if not missing or not _is_grid(survey, len(rows) * len(cols)):
        return ""
    if len(missing) > SHOWN:
        return f"{len(missing)} points of its grid"
    return "the point at " + " and ".join(f"row {r}, column {c}" for r, c in missing)


def _is_grid(survey: Survey, n_of_grid: int) -> bool:
    """Were points meant to fill a grid? Five points, at the corners and the middle, were not."""
    return survey.n_points > n_of_grid / 2 and not (n_of_grid == 9 and survey.n_points == 5)


def _at_one_time(
    found: Sequence[Survey], own: Collection[str], where: str, zone: ZoneInfo
) -> Iterator[str]:
    for one, other in pairwise(found):
        is_new = one.survey_id in own or other.survey_id in own
        if is_new and (one.at_us, one.state) == (other.at_us, other.state):
            when = from_us(one.at_us, zone).strftime("%d %b %Y %H:%M")
            yield (f"surveys {one.survey_id} and {other.survey_id} of {where} were both made on"
                   f" {when}: put the time of one right")


def _not_found_first(
    found: Sequence[Survey], own: Collection[str], where: str
) -> Iterator[str]:
    states = ["", *(survey.state for survey in found)]
    for before, survey in zip(states, found, strict=False):
        if survey.survey_id in own and survey.state == "as_left" and before != "as_found":
            yield (f"survey {survey.survey_id} of {where} was left so, but what was found before"
                   " the adjustment is missing: nobody can tell which pieces it touches")
