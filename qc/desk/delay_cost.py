"""What a day of delay costs, platen by platen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.desk.kept_surveys import known_surveys
from qc.desk.shop import Shop
from qc.desk.tallied import counted_hours
from qc.domain.delay_cost import HORIZON_DAYS, DelayCost, HeatEffect
from qc.domain.instants import DAY_US
from qc.domain.kinds import kinds_from_heat
from qc.domain.platens import PlatenHealth
from qc.monitor.mix import CELL_PIECES
from qc.presses.heat_effect import PressDays, errors_at, heat_effect
from qc.presses.surveys import Platen, Survey
from qc.units import Unit, unit

LATELY_DAYS = 14
DEFECT_WORDS = {"cold": "lifted edges and weak bonds", "hot": "defects of too much heat"}
LEAST_ERROR_C = 0.5
"""A platen nearer to its setpoint costs nothing that could be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """Pieces and defects by press, day and mix: a frame's columns as arrays."""

    presses: tuple[str, ...]
    press: np.ndarray
    day: np.ndarray
    cell: np.ndarray
    n: np.ndarray
    seen: np.ndarray

    def expected(self) -> np.ndarray:
        """Defects of each row at the shop's rates for its mix."""
        worked = np.bincount(self.cell, weights=self.n)
        found = np.bincount(self.cell, weights=self.seen)
        shop = self.seen.sum() / max(self.n.sum(), 1)
        rate = (found + CELL_PIECES * shop) / (worked + CELL_PIECES)
        return self.n * rate[self.cell]


def delay_costs(
    shop: Shop, health: tuple[PlatenHealth, ...], *, as_of_us: int
) -> tuple[DelayCost, ...]:
    """What waiting costs for every platen that needs service, in the order of ``health``."""
    wanted = [one for one in health if one.needs_service and one.offset_c is not None]
    if not wanted:
        return ()
    surveys = known_surveys(shop, as_of_us=as_of_us).by_platen
    out = []
    for one in wanted:
        direction = "cold" if (one.offset_c or 0.0) < 0 else "hot"
        out.append(_cost(one, _Asked(shop, surveys, direction, as_of_us)))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class _Asked:
    """One direction of error, asked of the shop's records."""

    shop: Shop
    surveys: dict[Platen, list[Survey]]
    direction: str
    as_of_us: int

    def work(self) -> _Work:
        frames = [counted_hours(self.shop, as_of_us=self.as_of_us, kind=kind).cells
                  for kind in kinds_from_heat(self.direction)]
        cells = frames[0]  # the rows are those of all pieces, whatever the kind
        seen = sum((frame["n_defective"].to_numpy(dtype=np.float64) for frame in frames),
                   np.zeros(len(cells)))
        codes, names = cells["press"].factorize()
        return _Work(
            presses=tuple(map(str, names)), press=codes.astype(np.int64),
            day=cells["hour_us"].to_numpy(dtype=np.int64) // DAY_US,
            cell=cells["cell"].to_numpy(dtype=np.int64),
            n=cells["n"].to_numpy(dtype=np.float64), seen=seen,
        )

    def days(self, work: _Work, platen: str) -> PressDays:
        """Sums by press and day, with the platen's error at noon."""
        joint, of = np.unique(work.press * 10**6 + work.day, return_inverse=True)
        press, day = joint // 10**6, joint % 10**6
        error = np.full(len(joint), np.nan)
        for number, name in enumerate(work.presses):
            mine = press == number
            found = self.surveys.get((name, platen))
            if found:
                error[mine] = errors_at(found, day[mine] * DAY_US + DAY_US // 2)
        return PressDays(
            press=press, error_c=error, seen=np.bincount(of, weights=work.seen).astype(np.float64),
            expected=np.bincount(of, weights=work.expected()).astype(np.float64),
        )


def _cost(one: PlatenHealth, asked: _Asked) -> DelayCost:
    work = asked.work()
    lately = (work.day >= asked.as_of_us // DAY_US - LATELY_DAYS)
    if one.press in work.presses:
        lately &= work.press == work.presses.index(one.press)
    else:
        lately &= False
    a_day = float(work.n[lately].sum()) / LATELY_DAYS
    usual = float(work.expected()[lately].sum()) / LATELY_DAYS
    effect = heat_effect(asked.days(work, one.platen), kinds=kinds_from_heat(asked.direction),
                         direction=asked.direction)
    why = _why_not(one, effect, a_day, _degree(asked.shop))
    if why or effect is None:
        return DelayCost(press=one.press, platen=one.platen, effect=effect, n_pieces_a_day=a_day,
                         why_not=why)
    return _told(one, effect, usual, a_day)


def _degree(shop: Shop) -> Unit:
    """A degree as the shop reads it."""
    return unit("temperature_difference", shop.settings["temperature_unit"])


def _why_not(
    one: PlatenHealth, effect: HeatEffect | None, a_day: float, degree: Unit
) -> str:
    if not a_day:
        return f"nothing was pressed there in the last {LATELY_DAYS} days"
    if abs(one.offset_c or 0.0) < LEAST_ERROR_C:
        return "its mean is at the setpoint; what a cold spot costs is in its flag"
    if effect is None:
        return "too few defects, or platens too near their setpoints, to tell what heat does here"
    if not effect.is_told:
        return (f"the shop's own pieces cannot tell yet what heat does: from none to "
                f"{100 * effect.high * degree.factor:.0f} % more for each {degree.symbol}")
    return ""


def _told(one: PlatenHealth, effect: HeatEffect, usual: float, a_day: float) -> DelayCost:
    """Extra defects: the usual ones a day, times the effect, times how far the platen is off."""
    off = abs(one.offset_c or 0.0)
    sign = -1.0 if effect.direction == "cold" else 1.0
    slope, ends = sign * (one.slope_c_per_day or 0.0), one.slope_interval or (0.0, 0.0)
    slow, fast = sorted(sign * end for end in ends)
    days = np.arange(HORIZON_DAYS)

    def week(per_degree: float, by_day: float) -> float:
        return float((usual * per_degree * np.maximum(off + by_day * days, 0.0)).sum())

    return DelayCost(
        press=one.press, platen=one.platen, effect=effect, n_pieces_a_day=a_day,
        today=usual * effect.per_degree * off, low=usual * effect.low * off,
        high=usual * effect.high * off, week=week(effect.per_degree, slope),
        week_low=week(effect.low, slow), week_high=week(effect.high, fast),
    )


def delay_words(cost: DelayCost, shop: Shop) -> str:
    """What waiting costs in a sentence or two, in pieces and, where a cost is set, in money."""
    effect = cost.effect
    if cost.today is None or cost.week is None or effect is None:
        return f"What waiting costs cannot be told: {cost.why_not}."
    price = float(shop.settings["defect_cost"])
    money = ""
    if price:
        currency = shop.settings["currency"]
        ends = " to ".join(
            _amount(price * (end or 0.0)) for end in (cost.week_low, cost.week_high))
        money = f", {f'{currency} ' if currency else ''}{_amount(price * cost.week)} ({ends})"
    degree = _degree(shop)
    more, low, high = (f"{100 * share * degree.factor:.0f}"
                       for share in (effect.per_degree, effect.low, effect.high))
    return (
        f"If service waits: about {_amount(cost.today)} more defects a day "
        f"({_amount(cost.low)} to {_amount(cost.high)}), {_amount(cost.week)} in "
        f"{HORIZON_DAYS} days ({_amount(cost.week_low)} to {_amount(cost.week_high)}){money}. "
        f"From {cost.n_pieces_a_day:.0f} pieces a day and what heat does in this shop: "
        f"{more} % more {DEFECT_WORDS[effect.direction]} for each {degree.symbol} too "
        f"{effect.direction} (95 % {low} to {high} %)."
    )


def _amount(value: float | None) -> str:
    """A number in two digits that matter."""
    if value is None:
        return "not known"
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}"
