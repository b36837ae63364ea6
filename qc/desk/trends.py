"""Rates over time with limits of the work done, and the pieces behind a number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.desk.chart_request import ChartRequest
from qc.desk.charting import FileChart
from qc.desk.shop import Shop
from qc.desk.tallied import counted_days
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US, from_us, to_us
from qc.domain.kinds import defect_kinds
from qc.domain.ranking import FINDING_DIMENSIONS
from qc.errors import InputError
from qc.monitor.ranking import in_period, shift_labels
from qc.stats.charts.chart import ControlChart, make_chart
from qc.stats.charts.mix import ENOUGH_FOR_SPREAD, MixLimits, mix_limits
from qc.stats.comparing.intervals import wilson_interval
from qc.store.codes import known_codes
from qc.store.inspections import read_findings, read_looks

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

STEPS = ("day", "week")
MOST_RECORDS = 50
"""Rows of a list behind a number: the newest; all of them are in Records."""
SPREAD_DAYS = 180
"""How much days vary is taken from the newest so many: what a shop was like long before says
little of it today, and would cost time. A proposed starting value, no source."""
SOURCE = (
    "p chart, ISO 7870-2:2013, three sigma about the rate the mix of fabric, transfer and place "
    "usually gives, widened for more than chance variation after Laney (2002), Quality "
    "Engineering 14, 531-537. "
    "Interval of a point, in the numbers: Wilson (1927), 95 %."
)
NO_LIMITS = MixLimits(lower=np.zeros(0), upper=np.zeros(0), spread=1.0)
_RECORD_COLUMNS = ("piece_id", "location", "attempt", "stage", "inspected_at", "pressed_at",
                   "press", "fabric", "transfer", "transfer_lot", "garment_lot", "operator", "job",
                   "disposition", "pieces", "defective")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RateTrend:
    """Share of pieces with a defect (of one kind, or any) in steps of time.

    Arrays have one entry for each step with pieces; shares are 0..1. ``usual`` is what the mix of
    each step would give at the shop's usual rates, ``lower`` and ``upper`` the limits about it.
    ``spread`` is how much more the shares vary than chance alone (1: not more). ``cautions`` are
    plain sentences.
    """

    step: str
    kind: str | None
    as_of_us: int
    start_us: Ints
    end_us: Ints
    n_pieces: Ints
    n_defective: Ints
    share: Floats
    low: Floats
    high: Floats
    usual: Floats
    lower: Floats
    upper: Floats
    outside: npt.NDArray[np.bool_]
    spread: float
    overall: float | None
    overall_usual: float | None
    cautions: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRecord:
    """One piece (or counted block of ``n``) behind a number."""

    piece_id: str
    pressed_at_us: int
    press: str
    fabric: str
    transfer: str
    location: str | None
    operator: str | None
    transfer_lot: str | None
    garment_lot: str | None
    job: str | None
    n: int
    defects: str
    disposition: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRecords:
    """Pieces with a defect behind a number, newest first; ``n_total`` rows were found in all."""

    rows: tuple[PieceRecord, ...]
    n_total: int


def defect_codes(shop: Shop) -> tuple[str, ...]:
    """Every defect kind of the shop: the trade's in their order, then its own by code."""
    own = known_codes(shop.store)["kinds"] - set(defect_kinds())
    return (*defect_kinds(), *sorted(own))


def rate_over_time(
    shop: Shop, *, as_of_us: int, step: str = "day", kind: str | None = None,
    since_us: int | None = None,
) -> RateTrend:
    """Share of pieces with a defect, by the day or week they were pressed in.

    Parameters
    ----------
    kind : a defect kind; None for pieces with any defect
    since_us : show steps from here on; usual rates come from the whole history all the same

    Notes
    -----
    A step's limits are those of a p chart whose centre is the rate its own mix of fabric,
    transfer and place would usually give, so that a day of hard work is not called a bad day.
    Where the standardised shares of the newest `SPREAD_DAYS` vary more from step to step than
    chance allows, the limits are widened by that factor (Laney), never narrowed.
    """
    if step not in STEPS:
        raise InputError(f"step is {step!r}; allowed: {', '.join(STEPS)}")
    judged_us = as_of_us - SPREAD_DAYS * DAY_US
    first_us = None if since_us is None else _start(shop, min(since_us, judged_us), step)
    days = counted_days(shop, as_of_us=as_of_us, kind=kind, since_us=first_us)
    day = days["day_us"].to_numpy(dtype=np.int64)
    start = np.array([_start(shop, us, step) for us in day.tolist()], dtype=np.int64)
    total = days.groupby(start)[["n", "n_defective", "expected"]].sum()
    total = total[total["n"] > 0]
    trend = _trend(total, step=step, kind=kind, as_of_us=as_of_us, shop=shop)
    return trend if since_us is None else cut(trend, since_us=since_us)


def trend_chart(trend: RateTrend, labels: tuple[str, ...]) -> FileChart:
    """A trend as the chart that a picture takes, its steps named."""
    chart = ControlChart(
        kind="mix", source=trend.source, sigma=None, baseline=None, cautions=(),
        charts=(make_chart("share", trend.usual, trend.share, trend.lower, trend.upper),))
    request = ChartRequest(kind="mix", count="n_defective", size="n", subgroup=trend.step)
    return FileChart(chart=chart, labels=labels, file="", request=request, cautions=trend.cautions)


def _trend(
    total: pd.DataFrame, *, step: str, kind: str | None, as_of_us: int, shop: Shop
) -> RateTrend:
    n = total["n"].to_numpy(dtype=np.int64)
    bad = np.minimum(total["n_defective"].to_numpy(dtype=np.int64), n)
    usual = np.clip(total["expected"].to_numpy(dtype=np.float64) / n, 0, 1)
    start = total.index.to_numpy(dtype=np.int64)
    recent = start >= as_of_us - SPREAD_DAYS * DAY_US
    limits = mix_limits(bad, n, usual, spread_of=recent) if len(n) else NO_LIMITS
    share = bad / n
    ends = [np.array(part, dtype=np.float64) for part in _wilson(bad, n)]
    outside = (share > limits.upper + 1e-12) | (share < limits.lower - 1e-12)
    return RateTrend(
        step=step, kind=kind, as_of_us=as_of_us, start_us=start,
        end_us=_ends(shop, start, step), n_pieces=n, n_defective=bad, share=share, low=ends[0],
        high=ends[1], usual=usual, lower=limits.lower, upper=limits.upper, outside=outside,
        spread=limits.spread,
        overall=float(bad.sum() / n.sum()) if len(n) else None,
        overall_usual=float((usual * n).sum() / n.sum()) if len(n) else None,
        cautions=_cautions(len(n), limits.spread, step), source=SOURCE,
    )


def _wilson(bad: Ints, n: Ints) -> tuple[Floats, Floats]:
    if len(n) == 0:
        return np.zeros(0), np.zeros(0)
    interval = wilson_interval(bad, n)
    return np.atleast_1d(interval.low), np.atleast_1d(interval.high)


def _cautions(n_points: int, spread: float, step: str) -> tuple[str, ...]:
    found = []
    if n_points < ENOUGH_FOR_SPREAD:
        found.append(
            f"Only {n_points} {step}s with pieces: the band says what chance alone would give, and"
            " a usual rate from so little is itself uncertain."
        )
    if spread > 1.25:
        found.append(
            f"The {step}s vary {spread:.1f} times as much as chance alone, so the band is that much"
            " wider: something changes from one to the next."
        )
    return tuple(found)


def cut(trend: RateTrend, *, since_us: int = 0, until_us: int = 2**62) -> RateTrend:
    """The steps of a trend that end after a moment and begin before another."""
    keep = (trend.end_us > since_us) & (trend.start_us < until_us)
    names = ("start_us", "end_us", "n_pieces", "n_defective", "share", "low", "high", "usual",
             "lower", "upper", "outside")
    kept = {name: getattr(trend, name)[keep] for name in names}
    n, usual = kept["n_pieces"], kept["usual"]
    return replace(
        trend, **kept,
        overall=float(kept["n_defective"].sum() / n.sum()) if len(n) else None,
        overall_usual=float((usual * n).sum() / n.sum()) if len(n) else None,
    )


def _start(shop: Shop, us: int, step: str) -> int:
    """Start of the local day or week (Monday) of an instant."""
    midnight = from_us(us, shop.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    if step == "week":
        midnight -= timedelta(days=midnight.weekday())
    return to_us(midnight)


def _ends(shop: Shop, start_us: Ints, step: str) -> Ints:
    days = 7 if step == "week" else 1
    # wall-clock arithmetic: a day of a clock change has 23 or 25 hours
    ends = [to_us(from_us(int(us), shop.zone) + timedelta(days=days)) for us in start_us]
    return np.array(ends, dtype=np.int64)


def records_behind(
    shop: Shop, *, as_of_us: int, since_us: int | None = None, until_us: int | None = None,
    kind: str | None = None, levels: dict[str, str | None] | None = None,
) -> PieceRecords:
    """The pieces with a defect that a point or bar counts.

    Parameters
    ----------
    since_us, until_us : pressed in this period (inclusive, exclusive)
    kind : only pieces with this kind
    levels : level of each dimension of `qc.domain.ranking.DIMENSIONS`; None is "not said"
    """
    asked = dict(levels or {})
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=list(_RECORD_COLUMNS),
                       since_us=_a_little_earlier(since_us))
    findings = read_findings(shop.store, as_of_us=as_of_us, since_us=_a_little_earlier(since_us))
    counted = count_once(looks, findings)
    pieces = counted.pieces
    keep = in_period(pieces, since_us, until_us) & (pieces["n_defective"].to_numpy() > 0)
    keep &= _with_faults(counted.faults, len(pieces), kind, asked)
    for name, level in asked.items():
        if name not in FINDING_DIMENSIONS:
            keep &= _is_level(_level_of(shop, pieces, name), level)
    return _records(pieces[keep], counted.faults)


def _a_little_earlier(since_us: int | None) -> int | None:
    # looks at one piece may give slightly different times of pressing; the first one counts
    return None if since_us is None else since_us - DAY_US


def _with_faults(
    faults: pd.DataFrame, n_pieces: int, kind: str | None, asked: dict[str, str | None]
) -> npt.NDArray[np.bool_]:
    chosen = np.ones(len(faults), dtype=bool)
    wanted = asked.get("defect", kind)
    narrowed = wanted is not None
    if wanted is not None:
        chosen &= (faults["kind"] == wanted).to_numpy()
    if kind is not None:
        chosen &= (faults["kind"] == kind).to_numpy()
    if "zone" in asked:
        chosen &= _is_level(faults["zone"], asked["zone"])
        narrowed = True
    if not narrowed:
        return np.ones(n_pieces, dtype=bool)
    found = np.zeros(n_pieces, dtype=bool)
    found[faults["at"].to_numpy()[chosen]] = True
    return found


def _level_of(shop: Shop, pieces: pd.DataFrame, name: str) -> pd.Series:
    if name != "shift":
        return pieces[name]
    pressed_us = pieces["pressed_at"].to_numpy(dtype=np.int64)
    return pd.Series(shift_labels(pressed_us, shop.zone, shop.shift_minutes), index=pieces.index)


def _is_level(values: pd.Series, level: str | None) -> npt.NDArray[np.bool_]:
    as_text = values.astype(object)
    chosen = as_text.isna() if level is None else as_text == level
    return chosen.to_numpy(dtype=bool)


def _records(pieces: pd.DataFrame, faults: pd.DataFrame) -> PieceRecords:
    newest = pieces.sort_values("pressed_at", ascending=False, kind="stable").head(MOST_RECORDS)
    mine = faults[faults["at"].isin(newest.index)]
    said = [_fault_words(*row) for row in zip(mine["kind"], mine["zone"], mine["n"], strict=True)]
    words = pd.Series(said, index=mine["at"].to_numpy(), dtype=object)
    joined = words.groupby(level=0, sort=False).agg("; ".join)
    return PieceRecords(
        n_total=len(pieces),
        rows=tuple(
            PieceRecord(
                piece_id=str(row["piece_id"]), pressed_at_us=int(row["pressed_at"]),
                press=str(row["press"]), fabric=str(row["fabric"]), transfer=str(row["transfer"]),
                n=int(row["n"]), defects=str(joined.get(at, "")),
                **{name: _said(row[name]) for name in (
                    "location", "operator", "transfer_lot", "garment_lot", "job", "disposition")},
            )
            for at, row in zip(newest.index, newest.to_dict("records"), strict=True)
        ),
    )


def _fault_words(kind: object, zone: object, n: int) -> str:
    """A finding as in a file: kind, zone, count."""
    place = f"@{zone}" if zone is not None and not pd.isna(zone) else ""  # type: ignore[call-overload]
    return f"{kind}{place}" + (f"*{n}" if n > 1 else "")


def _said(value: object) -> str | None:
    return None if value is None or pd.isna(value) else str(value)  # type: ignore[call-overload]
