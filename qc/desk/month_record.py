"""A month as the manager goes through it: the share, what moved, what was found and put right."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.before_after import BeforeAfter, Narrowed, Stretch, before_after
from qc.desk.case_list import CaseEntry, list_cases
from qc.desk.flags import current_flags
from qc.desk.piece_lists import by_disposition
from qc.desk.presses import judged_surveys, press_health
from qc.desk.quality_cost import Price, price_of
from qc.desk.ranking import ranked_defects
from qc.desk.service import service_orders
from qc.desk.shop import Shop
from qc.desk.trends import RateTrend, cut, rate_over_time
from qc.desk.whereabouts import pressed_between
from qc.domain.days import month_period
from qc.domain.flags import Flag
from qc.domain.platens import PlatenHealth
from qc.domain.ranking import Pareto, ParetoRow
from qc.errors import InputError

RANKED = ("press", "fabric", "transfer", "location")
"""What the month's defects are ranked by, beside their kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthKnown:
    """What has been worked out already: the flags that are not closed, and every case."""

    flags: tuple[Flag, ...]
    cases: tuple[CaseEntry, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthFlag:
    """A flag that was signalled, open or closed in the month; ``case``: what was done about it."""

    flag: Flag
    case: CaseEntry | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthPlaten:
    """A platen's month: surveys, those of them found out of tolerance, service orders opened and
    closed, and how it stands."""

    health: PlatenHealth
    n_surveys: int
    n_out: int
    n_opened: int
    n_closed: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MonthRecord:
    """A month's work as known at ``as_of_us``.

    ``against``: its share of pieces with a defect beside that of the month before, at equal work.
    ``days``: its share day by day, with limits. ``kinds`` and ``ranked`` (by dimension): defects
    against what their work usually gives; ``kinds_before``: defects of each kind in the month
    before. ``now``: pieces by newest disposition, most first. ``price``: of a piece with a defect,
    None where it was not said.
    """

    start_us: int
    end_us: int
    as_of_us: int
    against: BeforeAfter
    days: RateTrend
    kinds: Pareto
    kinds_before: dict[str | None, int]
    ranked: dict[str, tuple[ParetoRow, ...]]
    now: tuple[tuple[str | None, int], ...]
    price: Price | None
    flags: tuple[MonthFlag, ...]
    platens: tuple[MonthPlaten, ...]

    @property
    def is_over(self) -> bool:
        return self.as_of_us >= self.end_us


def month_record(
    shop: Shop, *, moment_us: int, as_of_us: int, known: MonthKnown | None = None
) -> MonthRecord:
    """The record of the month that a moment lies in; what is ``known`` is not looked up anew.

    Raises
    ------
    InputError
        The month begins after ``as_of_us``.
    """
    start_us, end_us = month_period(moment_us, shop.zone)
    if start_us >= as_of_us:
        raise InputError(f"the month of {shop.iso(start_us)} has not begun as of "
                         f"{shop.iso(as_of_us)}; name an earlier one")
    before_us, _ = month_period(start_us - 1, shop.zone)

    def ranked(by: str, since_us: int = start_us, until_us: int = end_us) -> Pareto:
        return ranked_defects(shop, by=(by,), as_of_us=as_of_us, since_us=since_us,
                              until_us=until_us)

    before = ranked("defect", before_us, start_us)
    _, there = pressed_between(shop, start_us, end_us, as_of_us=as_of_us)
    return MonthRecord(
        start_us=start_us, end_us=end_us, as_of_us=as_of_us,
        against=before_after(
            shop, Stretch(from_us=before_us, until_us=start_us),
            Stretch(from_us=start_us, until_us=min(end_us, as_of_us + 1)), of=Narrowed(),
            as_of_us=as_of_us),
        days=cut(rate_over_time(shop, as_of_us=as_of_us, since_us=start_us), until_us=end_us),
        kinds=ranked("defect"),
        kinds_before={row.level[0]: row.n_defects for row in before.rows},
        ranked={by: tuple(row for row in ranked(by).rows if row.n_pieces) for by in RANKED},
        now=by_disposition(there, there["n"]), price=price_of(shop),
        flags=_flags(known or _looked_up(shop, as_of_us), start_us, end_us),
        platens=_platens(shop, start_us, end_us, as_of_us),
    )


def _looked_up(shop: Shop, as_of_us: int) -> MonthKnown:
    return MonthKnown(flags=current_flags(shop, as_of_us=as_of_us).flags,
                      cases=list_cases(shop, as_of_us=as_of_us))


def _flags(known: MonthKnown, start_us: int, end_us: int) -> tuple[MonthFlag, ...]:
    """Flags that were signalled in the month, or were not done with before it, oldest first."""
    cases = {entry.case.flag_id: entry for entry in known.cases}
    flags = {entry.case.flag_id: entry.case.flag for entry in cases.values()}
    flags |= {flag.id: flag for flag in known.flags}
    found = []
    for flag_id, flag in flags.items():
        entry = cases.get(flag_id)
        closed = None if entry is None else entry.case.closed
        done_us = flag.ended_at_us if entry is None else closed.at_us if closed else None
        if flag.signalled_at_us < end_us and (done_us is None or done_us >= start_us):
            found.append(MonthFlag(flag=flag, case=entry))
    return tuple(sorted(found, key=lambda one: one.flag.signalled_at_us))


def _platens(
    shop: Shop, start_us: int, end_us: int, as_of_us: int
) -> tuple[MonthPlaten, ...]:
    """Platens that were surveyed or served in the month, or do not hold their tolerance."""
    orders = [one.order for one in service_orders(shop, as_of_us=as_of_us)]
    found = []
    for health in press_health(shop, as_of_us=as_of_us):
        surveys = [one for one in judged_surveys(shop, health.press, health.platen,
                                                 as_of_us=as_of_us)
                   if start_us <= one.at_us < end_us]
        mine = [one for one in orders
                if (one.press, one.platen) == (health.press, health.platen)]
        made = MonthPlaten(
            health=health, n_surveys=len(surveys),
            n_out=sum(one.good is False for one in surveys),
            n_opened=sum(start_us <= one.opened_at_us < end_us for one in mine),
            n_closed=sum(one.ended is not None and one.ended.step == "close"
                         and start_us <= one.ended.at_us < end_us for one in mine))
        if made.n_surveys or made.n_opened or made.n_closed or health.needs_service:
            found.append(made)
    return tuple(found)
