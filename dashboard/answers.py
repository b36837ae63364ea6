"""What the pages ask the desk, kept while it is still good.

A quick answer (counts from tallies) is kept while the store has not changed, at most a minute.
A slow one (the flags, which read the whole history) is asked anew when the store has changed,
but not more often than once a minute, and at least every ten minutes; the pages say as of when.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Collection, Hashable, Mapping
from dataclasses import replace
from threading import Lock, RLock
from typing import Any, TypeVar

from qc.desk.action_checks import action_check
from qc.desk.baseline import (
    BaselineStanding,
    Period,
    baseline_standing,
    freeze_baseline,
    outdated,
)
from qc.desk.baseline_words import baseline_cautions
from qc.desk.case_list import cases_now
from qc.desk.case_steps import StepWanted, causes_here, take_step
from qc.desk.cases import Case, CasePiece, case_of
from qc.desk.check_words import CheckLine, check_lines
from qc.desk.delay_cost import delay_costs, delay_words
from qc.desk.entering import SurveyKept, SurveyWritten, enter_survey
from qc.desk.flags import current_flags
from qc.desk.floor import Floor, day_start, floor_now
from qc.desk.house_settings import keep_settings
from qc.desk.in_use import Retired, retired
from qc.desk.piece_maps import PressPieces, piece_maps
from qc.desk.presses import instrument_codes, latest_surveys, platen_drift, press_health, survey_map
from qc.desk.pull_words import PullLine, pull_lines
from qc.desk.ranking import ranked_defects
from qc.desk.recipe_words import SettingsInWords, settings_in_words
from qc.desk.scanning import records_number
from qc.desk.service import (
    OrderWanted,
    PlatensKnown,
    open_order,
    pressed_meanwhile,
    service_order,
    service_orders,
)
from qc.desk.service import take_step as take_service_step
from qc.desk.shop import Shop, reread
from qc.desk.trends import (
    PieceRecords,
    RateTrend,
    defect_codes,
    rate_over_time,
    records_behind,
)
from qc.domain.action_checks import ActionCheck
from qc.domain.cases import CaseFile
from qc.domain.causes import RankedCause
from qc.domain.flags import Flag, FlagList
from qc.domain.instants import DAY_US, SECOND_US
from qc.domain.platens import DriftSeries, PlatenHealth, PlatenMap
from qc.domain.ranking import Pareto
from qc.domain.service import OrderStanding, ServiceOrder

QUICK_US = 60 * SECOND_US
SLOW_LEAST_US = 60 * SECOND_US
SLOW_MOST_US = 600 * SECOND_US
MOST_KEPT = 64
MOST_KEPT_SLOW = 32
"""Slow answers are kept apart: a walk over many charts must not drop them."""

Answer = TypeVar("Answer")


class Answers:
    """The desk's answers for one shop; safe to ask from several threads at once."""

    def __init__(self, shop: Shop, *, as_of_us: int | None = None,
                 clock_us: Callable[[], int] = lambda: time.time_ns() // 1000) -> None:
        self._shop = shop
        self._shop_number = shop.store.change_number()
        self._fixed_us = as_of_us
        self._clock_us = clock_us
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._kept_slow: OrderedDict[Hashable, Any] = OrderedDict()
        self._at_work = 0
        self._newest_flags: FlagList | None = None
        self._locks: dict[Hashable, Lock] = {}
        self._guard = RLock()
        self._slow: tuple[int, int] | None = None

    @property
    def shop(self) -> Shop:
        """The shop with its settings as they are now."""
        number = self._shop.store.change_number()
        with self._guard:
            if number != self._shop_number:
                self._shop, self._shop_number = reread(self._shop), number
            return self._shop

    @property
    def is_live(self) -> bool:
        """Whether pages look at this moment, not back from a fixed one: then things can be done."""
        return self._fixed_us is None

    def quick_as_of_us(self) -> int:
        """As of when quick answers hold: this minute's beginning or the last change after it."""
        return self._fixed_us if self._fixed_us is not None else self._clock_us()

    def _quick_stamp(self) -> Hashable:
        minute = 0 if self._fixed_us is not None else self._clock_us() // QUICK_US
        return self._shop.store.change_number(), minute

    def slow_as_of_us(self) -> int:
        """As of when the slow answers hold."""
        return self._slow_stamp()[1]

    def _slow_stamp(self) -> tuple[int, int]:
        number = records_number(self._shop)
        with self._guard:
            if self._fixed_us is not None:
                self._slow = (number, self._fixed_us)
            elif self._slow is None or self._is_old(self._slow, number):
                self._slow = (number, self._clock_us())
            return self._slow

    def _is_old(self, stamp: tuple[int, int], number: int) -> bool:
        age_us = self._clock_us() - stamp[1]
        # what is being worked out is shared, though the store has changed since it was asked
        changed = stamp[0] != number and age_us > SLOW_LEAST_US and not self._at_work
        return age_us > SLOW_MOST_US or changed

    def _keep(self, key: Hashable, ask: Callable[[], Answer], *, slow: bool = False) -> Answer:
        kept, most = (self._kept_slow, MOST_KEPT_SLOW) if slow else (self._kept, MOST_KEPT)
        with self._guard:
            lock = self._locks.setdefault(key, Lock())
        with lock:  # the same question asked twice at once is answered once
            with self._guard:
                if key in kept:
                    kept.move_to_end(key)
                    return kept[key]
                self._at_work += slow
            try:
                found = ask()
            finally:
                with self._guard:
                    self._at_work -= slow
            with self._guard:
                kept[key] = found
                while len(kept) > most:
                    gone, _ = kept.popitem(last=False)
                    self._locks.pop(gone, None)
            return found

    def quick(self, key: Hashable, ask: Callable[[int], Answer]) -> Answer:
        """An answer from tallies or a few rows, as of now; ``key`` names the question."""
        as_of_us = self.quick_as_of_us()
        return self._keep((key, self._quick_stamp()), lambda: ask(as_of_us))

    def slow(self, key: Hashable, ask: Callable[[int], Answer]) -> Answer:
        """An answer that reads much of the history, as of `slow_as_of_us`."""
        stamp = self._slow_stamp()
        return self._keep((key, stamp), lambda: ask(stamp[1]), slow=True)

    def now_us(self) -> int:
        """This moment, for what somebody does now."""
        return self._clock_us()

    def since_us(self, period: str) -> int | None:
        """Where a period of so many days up to now begins: at a midnight, so that days are whole;
        None for all there is."""
        if period == "all":
            return None
        first = self.quick_as_of_us() - (int(period) - 1) * DAY_US
        return day_start(self.shop, first)

    def floor(self) -> Floor:
        """What every press does now."""
        return self.quick("floor", lambda now_us: floor_now(self.shop, as_of_us=now_us))

    def trend(self, *, step: str, kind: str, since_us: int | None) -> RateTrend:
        """A rate over time; ``kind`` empty: pieces with any defect."""
        return self.quick(("trend", step, kind, since_us), lambda now_us: rate_over_time(
            self.shop, as_of_us=now_us, step=step, kind=kind or None, since_us=since_us))

    def kinds(self) -> tuple[str, ...]:
        """The defect kinds that can be chosen."""
        return self.quick("kinds", lambda _: defect_codes(self.shop))

    def ranking(self, *, by: tuple[str, ...], kind: str, since_us: int | None) -> Pareto:
        """Ranked defects."""
        return self.quick(("ranking", by, kind, since_us), lambda now_us: ranked_defects(
            self.shop, by=by, as_of_us=now_us, kinds=(kind,) if kind else (), since_us=since_us))

    def records(self, *, since_us: int | None, until_us: int | None, kind: str,
                levels: tuple[tuple[str, str | None], ...]) -> PieceRecords:
        """The pieces behind a number."""
        key = ("records", since_us, until_us, kind, levels)
        return self.quick(key, lambda now_us: records_behind(
            self.shop, as_of_us=now_us, since_us=since_us, until_us=until_us,
            kind=kind or None, levels=dict(levels)))

    def health(self) -> tuple[PlatenHealth, ...]:
        """Every platen, most urgent first."""
        return self.quick("health", lambda now_us: press_health(self.shop, as_of_us=now_us))

    def retired(self) -> Mapping[str, Mapping[str, Retired]]:
        """What is no longer used, by list and code."""
        return self.quick("retired", lambda now_us: retired(self.shop, as_of_us=now_us))

    def checks(self) -> tuple[CheckLine, ...]:
        """The latest check of every timer and gauge, the worst first."""
        return self.quick("checks", lambda now_us: check_lines(self.shop, as_of_us=now_us))

    def pieces(self) -> tuple[PressPieces, ...]:
        """What the finished pieces say about each press."""
        return self.slow("pieces", lambda then_us: piece_maps(self.shop, as_of_us=then_us))

    def delays(self) -> dict[tuple[str, str], str]:
        """What waiting costs, by platen that needs service, in words."""
        return self.slow("delays", lambda then_us: {
            (one.press, one.platen): delay_words(one, self.shop)
            for one in delay_costs(self.shop, self.health(), as_of_us=then_us)})

    def orders(self) -> tuple[OrderStanding, ...]:
        """Every service order, open ones first."""
        return service_orders(self.shop, as_of_us=self.quick_as_of_us())

    def order(self, order_id: str) -> tuple[OrderStanding, tuple[CasePiece, ...]]:
        """One order, and the pieces pressed since the last good check where it was found out."""
        now_us = self.quick_as_of_us()
        one = service_order(self.shop, order_id, as_of_us=now_us)
        return one, pressed_meanwhile(self.shop, one, as_of_us=now_us) if one.pressed else ()

    def open_order(self, wanted: OrderWanted, *, by: str) -> ServiceOrder:
        """Open a service order, now, with what is at hand: nobody waits at a hot platen for flags
        to be worked out. The newest that were are as good: an order rests on the survey after it.
        """
        flags = self._newest_of("flags")
        known = PlatensKnown(
            flags=() if flags is None else self._not_closed(flags).flags,
            pieces=self._newest_of("pieces") or (), delays=self._newest_of("delays") or {})
        return open_order(self.shop, wanted, by=by, at_us=self._clock_us(), known=known,
                          known_us=self.quick_as_of_us())

    def _newest_of(self, name: str) -> Any:
        """The newest answer to a slow question, whatever its age; None where none was worked out.
        """
        with self._guard:
            mine = [(key[1], kept) for key, kept in self._kept.items()
                    if isinstance(key, tuple) and key[0] == name and len(key) == 2]
        return max(mine, key=lambda one: one[0][1], default=(None, None))[1]

    def service_step(self, order_id: str, step: str, words: str, *, by: str) -> OrderStanding:
        """Take a step of a service order, now."""
        return take_service_step(self.shop, order_id, step, words, by=by, at_us=self._clock_us())

    def enter_survey(self, written: SurveyWritten, *, by: str) -> SurveyKept:
        """Keep a survey that was written down."""
        return enter_survey(self.shop, written, by=by, at_us=self._clock_us())

    def surveys(self) -> dict[tuple[str, str], PlatenMap]:
        """The latest survey of every platen that has one."""
        as_of_us = self.quick_as_of_us()
        return self._keep(("surveys", self._quick_stamp()),
                          lambda: latest_surveys(self.shop, as_of_us=as_of_us))

    def instruments(self) -> tuple[str, ...]:
        """The instruments on the list."""
        return self._keep(("instruments", self._quick_stamp()),
                          lambda: instrument_codes(self.shop))

    def pulls(self) -> tuple[PullLine, ...]:
        """The latest pulls of paper and film, uneven ones first."""
        as_of_us = self.quick_as_of_us()
        return self._keep(("pulls", self._quick_stamp()),
                          lambda: pull_lines(self.shop, as_of_us=as_of_us))

    def settings_set(self) -> SettingsInWords:
        """What was set against the recipes: it reads a month of pieces, so it is a slow answer."""
        stamp = self._slow_stamp()
        return self._keep(("settings set", stamp, self._shop.store.change_number()),
                          lambda: settings_in_words(self.shop, as_of_us=stamp[1]), slow=True)

    def platen(self, press: str, platen: str) -> tuple[PlatenMap, DriftSeries]:
        """The latest map of a platen and its drift."""
        return self.quick(("platen", press, platen), lambda now_us: (
            survey_map(self.shop, press, platen, as_of_us=now_us),
            platen_drift(self.shop, press, platen, as_of_us=now_us)))

    def flags(self) -> FlagList:
        """What is off now and not closed as a case."""
        stamp = self._slow_stamp()
        found = self._keep(("flags", stamp), lambda: current_flags(self.shop, as_of_us=stamp[1]),
                           slow=True)
        with self._guard:
            if self._newest_flags is None or self._newest_flags.as_of_us < found.as_of_us:
                self._newest_flags = found
        return self._not_closed(found)

    def flags_if_known(self) -> FlagList | None:
        """The flags if they are at hand: a page that can do without does not wait."""
        with self._guard:
            found = self._kept_slow.get(("flags", self._slow_stamp()))
        return None if found is None else self._not_closed(found)

    def flags_newest(self) -> FlagList | None:
        """The flags looked for last, though newer ones may be due; None before the first time."""
        with self._guard:
            found = self._newest_flags
        return None if found is None else self._not_closed(found)

    def _not_closed(self, found: FlagList) -> FlagList:
        """A case closed since the flags were looked for is left out at once."""
        closed = {flag_id for flag_id, case in self.cases().items()
                  if case.closed is not None and case.closed.at_us >= found.as_of_us}
        left = tuple(flag for flag in found.flags if flag.id not in closed)
        return found if len(left) == len(found.flags) else replace(found, flags=left)

    def baseline(self) -> BaselineStanding:
        """What the usual rates rest on and what is proposed."""
        return self.slow("baseline", lambda now_us: baseline_standing(self.shop, as_of_us=now_us))

    def baseline_cautions(self) -> tuple[str, ...]:
        """What is to be said where the process was changed since what the usual rates rest on."""
        return self.slow("baseline cautions", lambda then_us: baseline_cautions(
            outdated(self.shop, as_of_us=then_us), self.shop))

    def freeze_baseline(self, period: Period, *, by: str, why: str) -> None:
        """Rest the usual rates on a period; what is slow is asked anew at once."""
        freeze_baseline(self.shop, period=period, by=by, why=why, at_us=self._clock_us())
        with self._guard:
            self._slow = None

    def keep_settings(
        self, texts: Mapping[str, str], *, by: str, meant: Collection[str] = ()
    ) -> tuple[str, ...]:
        """Keep settings that were changed, now; what is slow is asked anew at once."""
        _, changed = keep_settings(self.shop, texts, by=by, at_us=self._clock_us(), meant=meant)
        with self._guard:
            self._slow = None
        return changed

    def case(self, flag_id: str) -> Case:
        """A flag with what it rests on, and where its pieces are now."""
        stamp, now_us = self._slow_stamp(), self.quick_as_of_us()
        key = ("case", flag_id, stamp, self._shop.store.change_number())
        self._forget(key)
        return self._keep(
            key, lambda: case_of(self.shop, flag_id, as_of_us=stamp[1], now_us=now_us))

    def _forget(self, key: tuple[Hashable, ...]) -> None:
        """Let go of earlier answers to the same question: a case may hold 100 000 pieces."""
        with self._guard:
            old = [kept for kept in self._kept
                   if isinstance(kept, tuple) and kept[:2] == key[:2] and kept != key]
            for kept in old:
                del self._kept[kept]
                self._locks.pop(kept, None)

    def cases(self) -> dict[str, CaseFile]:
        """Every case with its steps, by flag."""
        return self.quick("cases", lambda now_us: cases_now(self.shop, as_of_us=now_us))

    def check(self, flag_id: str) -> ActionCheck | None:
        """Whether the newest action of a case worked; None where there is nothing to check."""
        stamp, case = self._slow_stamp(), self.cases().get(flag_id)
        if case is None or case.done_us is None:
            return None
        return self._keep(("check", stamp, flag_id, case.last),
                          lambda: action_check(self.shop, case, as_of_us=stamp[1]), slow=True)

    def causes(self, flag: Flag) -> tuple[RankedCause, ...]:
        """Causes of what a flag is about, the likeliest in this shop first."""
        now_us = self.quick_as_of_us()
        return self._keep(("causes", self._shop.store.change_number(), flag.id),
                          lambda: causes_here(self.shop, flag, as_of_us=now_us))

    def take_step(self, wanted: StepWanted, *, by: str) -> CaseFile:
        """Take a step of a case, now."""
        return take_step(self.shop, wanted, by=by, at_us=self._clock_us(),
                         known_us=self._slow_stamp()[1])
