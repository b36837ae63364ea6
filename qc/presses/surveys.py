"""Platen surveys: probe readings gathered into one offset, spread and map for each survey."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.platens import SPREAD_POINTS, PlatenMap, spot_on_platen
from qc.domain.records import PLATENS

Floats = npt.NDArray[np.float64]
Platen = tuple[str, str]
"""(press, upper or lower)."""

RANK = {"as_found": 0, "routine": 1, "as_left": 2}
"""Order of surveys at one time: what was found comes before what was left."""

NUMBERS = {"measured_at": np.int64, "row": np.int64, "col": np.int64, "setpoint_c": np.float64,
           "reading_c": np.float64}
USUAL_CHECK_DAYS = 7.0
"""Weekly survey where the shop has set no interval (common practice, no source)."""
PARTIAL_SHARE = 0.5
LOOK_BACK = 8
STEPS = 16
"""Points of a smooth map from one probed point to the next."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """One survey of one platen. ``error_c`` is reading minus setpoint of each point, degC.

    ``deviations`` : each point's error less their mean, by (row, column), degC.
    ``at_us`` is its last reading: before that the survey was not known. ``partial``: less than
    half the points of this platen's fullest recent survey, so its mean is not comparable.
    """

    press: str
    platen: str
    survey_id: str
    at_us: int
    state: str
    instrument: str | None
    setpoint_c: float
    row: npt.NDArray[np.int64]
    col: npt.NDArray[np.int64]
    error_c: Floats
    offset_c: float
    spread_c: float
    deviations: dict[tuple[int, int], float]
    partial: bool = False

    @property
    def n_points(self) -> int:
        return len(self.error_c)

    @property
    def shows_spread(self) -> bool:
        """Are there points enough to show that a spread is kept? Fewer can only show it broken."""
        return self.n_points >= SPREAD_POINTS

    @property
    def points(self) -> frozenset[tuple[int, int]]:
        """(row, column) of every point probed."""
        return frozenset(self.deviations)

    @property
    def coldest(self) -> tuple[int, int]:
        return self.point(int(np.argmin(self.error_c)))

    @property
    def hottest(self) -> tuple[int, int]:
        return self.point(int(np.argmax(self.error_c)))

    @property
    def coldest_spot(self) -> str:
        """The coldest point as the operator would point at it; of too few points its number."""
        row, col = self.coldest
        if not self.shows_spread:
            return f"row {row}, column {col}"
        return spot_on_platen(row, col, int(self.row.max()), int(self.col.max()))

    def point(self, i: int) -> tuple[int, int]:
        """(row, column) of the point at a position."""
        return int(self.row[i]), int(self.col[i])


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the shop asks of a press; None where it has not said."""

    temperature_tolerance_c: float | None = None
    uniformity_tolerance_c: float | None = None
    check_every_days: float | None = None
    heated_lower: bool = False

    @property
    def check_days(self) -> float:
        """Days between surveys: what the shop asks, else what is usual."""
        return USUAL_CHECK_DAYS if self.check_every_days is None else self.check_every_days


def surveys_of(
    readings: pd.DataFrame, *, as_of_us: int | None = None
) -> dict[Platen, list[Survey]]:
    """The surveys of each platen in order of time, as found before as left.

    ``readings`` has the columns of platen_readings in stored units; rows after ``as_of_us`` and
    rows without a reading are left out.
    """
    frame = readings[readings["reading_c"].notna() & readings["setpoint_c"].notna()]
    if as_of_us is not None:
        frame = frame[frame["measured_at"] <= as_of_us]
    out: dict[Platen, list[Survey]] = {}
    keys = ["press", "platen", "survey_id", "state"]
    frame = frame.assign(state=frame["state"].astype(object).fillna("routine"))
    number = frame.groupby(keys, sort=True, observed=True).ngroup().to_numpy()
    order = np.argsort(number, kind="stable")
    columns = {name: frame[name].to_numpy()[order] for name in (*keys, "instrument", *NUMBERS)}
    columns |= {name: columns[name].astype(kind) for name, kind in NUMBERS.items()}
    for rows in np.split(np.arange(len(frame)), np.flatnonzero(np.diff(number[order])) + 1):
        if len(rows):
            survey = _survey({name: column[rows] for name, column in columns.items()})
            out.setdefault((survey.press, survey.platen), []).append(survey)
    for platen, found in out.items():
        found.sort(key=lambda s: (s.at_us, RANK.get(s.state, 1), s.survey_id))
        out[platen] = _marked(found)
    return out


def _survey(points: dict[str, npt.NDArray]) -> Survey:
    error = points["reading_c"] - points["setpoint_c"]
    offset = float(error.mean())
    row, col = points["row"], points["col"]
    at = zip(row.tolist(), col.tolist(), strict=True)
    named = [str(probe) for probe in points["instrument"] if not pd.isna(probe)]
    return Survey(
        press=str(points["press"][0]), platen=str(points["platen"][0]),
        survey_id=str(points["survey_id"][0]), state=str(points["state"][0]),
        at_us=int(points["measured_at"].max()), instrument=named[0] if named else None,
        setpoint_c=float(points["setpoint_c"].mean()), row=row, col=col, error_c=error,
        offset_c=offset, spread_c=float(np.ptp(error)),
        deviations=dict(zip(at, (error - offset).tolist(), strict=True)),
    )


def _marked(found: list[Survey]) -> list[Survey]:
    out: list[Survey] = []
    for i, survey in enumerate(found):
        usual = max((s.n_points for s in found[max(0, i - LOOK_BACK):i]), default=0)
        out.append(replace(survey, partial=survey.n_points < PARTIAL_SHARE * usual))
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsOverTime:
    """What the shop asked of a press, and since when: instants rise, the first counts from ever."""

    from_us: tuple[int, ...] = (0,)
    limits: tuple[Limits, ...] = (Limits(),)

    @property
    def now(self) -> Limits:
        """What is asked today."""
        return self.limits[-1]

    def at(self, instant_us: int) -> Limits:
        """What was asked at a moment."""
        return self.limits[max(bisect_right(self.from_us, instant_us) - 1, 0)]


def limits_of(presses: pd.DataFrame) -> dict[str, Limits]:
    """What the shop asks of each press on its list; of several versions the last row counts."""
    return {press: asked.now for press, asked in limits_over_time(presses).items()}


def limits_over_time(presses: pd.DataFrame) -> dict[str, LimitsOverTime]:
    """The same with every version, where the list has them (``from_us``, oldest first)."""
    found: dict[str, list[tuple[int, Limits]]] = {}
    for row in presses.to_dict("records"):
        found.setdefault(str(row["press"]), []).append((int(row.get("from_us", 0)), Limits(
            temperature_tolerance_c=number_or_none(row.get("temperature_tolerance_c")),
            uniformity_tolerance_c=number_or_none(row.get("uniformity_tolerance_c")),
            check_every_days=number_or_none(row.get("check_every_days")),
            heated_lower=row.get("heated_lower") == "yes",
        )))
    return {press: LimitsOverTime(from_us=tuple(at for at, _ in rows),
                                  limits=tuple(asked for _, asked in rows))
            for press, rows in found.items()}


def platens_of(limits: dict[str, Limits], surveyed: Iterable[Platen]) -> list[Platen]:
    """Every platen to speak of: those surveyed, and those that should be."""
    upper, lower = PLATENS
    wanted = set(surveyed) | {(press, upper) for press in limits}
    wanted |= {(press, lower) for press, asked in limits.items() if asked.heated_lower}
    return sorted(wanted)


def grid_of(found: Sequence[Survey]) -> tuple[int, int]:
    """Rows and columns to draw the last of some surveys on.

    Its own where they are filled; a survey of a few points is drawn where it lies among the points
    of those before it.
    """
    rows, cols = int(found[-1].row.max()), int(found[-1].col.max())
    if found[-1].shows_spread and found[-1].n_points == rows * cols:
        return rows, cols
    recent = found[-LOOK_BACK - 1:]
    return max(int(s.row.max()) for s in recent), max(int(s.col.max()) for s in recent)


def platen_map(
    survey: Survey, limits: Limits | None = None, grid_size: tuple[int, int] | None = None
) -> PlatenMap:
    """A survey as a grid of errors; ``grid_size``: rows and columns of it, as `grid_of` says."""
    asked = limits or Limits()
    grid = np.full(grid_size or (int(survey.row.max()), int(survey.col.max())), np.nan)
    grid[survey.row - 1, survey.col - 1] = survey.error_c
    grid.flags.writeable = False
    return PlatenMap(
        press=survey.press, platen=survey.platen, survey_id=survey.survey_id,
        surveyed_at_us=survey.at_us, state=survey.state, instrument=survey.instrument,
        setpoint_c=survey.setpoint_c, error_c=grid, surface_c=surface_of(grid),
        offset_c=survey.offset_c, spread_c=survey.spread_c, coldest=survey.coldest,
        hottest=survey.hottest, n_points=survey.n_points,
        temperature_tolerance_c=asked.temperature_tolerance_c,
        uniformity_tolerance_c=asked.uniformity_tolerance_c,
    )


def surface_of(error_c: Floats) -> Floats:
    """Errors between the probed points, `STEPS` to a gap, (rows, columns); read-only.

    Bilinear: nothing is hotter or colder than the points about it, and nothing is said beyond the
    outermost points or beside a missing one.
    """
    rows, cols = error_c.shape
    down = np.linspace(0, rows - 1, (rows - 1) * STEPS + 1)
    across = np.linspace(0, cols - 1, (cols - 1) * STEPS + 1)
    i, j = np.minimum(down.astype(int), max(rows - 2, 0)), np.minimum(
        across.astype(int), max(cols - 2, 0))
    y, x = (down - i)[:, None], (across - j)[None, :]
    i2, j2 = np.minimum(i + 1, rows - 1), np.minimum(j + 1, cols - 1)
    surface: Floats = ((1 - y) * ((1 - x) * error_c[np.ix_(i, j)] + x * error_c[np.ix_(i, j2)])
                       + y * ((1 - x) * error_c[np.ix_(i2, j)] + x * error_c[np.ix_(i2, j2)]))
    surface.flags.writeable = False
    return surface


def since_adjustment(found: list[Survey]) -> list[Survey]:
    """The surveys since the last adjustment: from the last as-left one, else all."""
    left = [i for i, survey in enumerate(found) if survey.state == "as_left"]
    return found[left[-1]:] if left else list(found)


def number_or_none(value: object) -> float | None:
    """A cell of a frame as a number; None where it is missing."""
    if value is None or pd.isna(value):  # type: ignore[call-overload]
        return None
    return float(value)  # type: ignore[arg-type]
