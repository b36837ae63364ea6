"""What a ranking counts: from the tallies where they know it, else from the records of the period.

The usual rates always come from the tally by mix of work, one row for each mix however long the
history is. The period's own counts come from the hourly tallies, unless it does not begin on an
hour or is asked by two dimensions that no tally holds together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.domain.counting import LATE, LOOKS, CountedPieces, count_once
from qc.domain.days import day_start_us
from qc.domain.instants import DAY_US, HOUR_US, from_us
from qc.monitor.ranking import Asked, Sums, asked_for, in_period, shift_labels, sums_of
from qc.store.inspections import read_findings, read_looks
from qc.store.sums import sum_tally
from qc.store.tallies import FACTORS

_COUNTED = ("piece_id", "location", "attempt", "stage", "inspected_at", "pressed_at", "pieces",
            "defective", "fabric", "transfer")
Words = dict[str, list[str | None]]
_ONCE: Words = {"look": [LOOKS[0], LATE]}
"""Under these two every piece counts once."""
_HAD: Words = {"look": list(LOOKS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """A ranking asked for; see `qc.desk.ranking.ranked_defects`."""

    by: tuple[str, ...]
    kinds: tuple[str, ...]
    since_us: int | None
    until_us: int | None

    @property
    def wanted_kinds(self) -> Words:
        return {"kind": list(self.kinds)} if self.kinds else {}


def recorded_sums(shop: Shop, ranking: Ranking, *, as_of_us: int) -> Sums:
    """All counts from the records as they were known at a moment."""
    return _sums_of_records(shop, ranking, as_of_us=as_of_us, since_us=None, until_us=None)


def tallied_sums(shop: Shop, ranking: Ranking, *, as_of_us: int) -> Sums:
    """The counts as they stand now."""
    source = _source(shop, ranking)
    if source is None:  # looks at one piece may give slightly different times of pressing
        since, until = ranking.since_us, ranking.until_us
        here = _sums_of_records(
            shop, ranking, as_of_us=as_of_us,
            since_us=None if since is None else since - DAY_US,
            until_us=None if until is None else until + DAY_US)
    else:
        here = source.sums()
    return replace(here, **_usual(shop, ranking))


def _sums_of_records(
    shop: Shop, ranking: Ranking, *, as_of_us: int, since_us: int | None, until_us: int | None
) -> Sums:
    by = ranking.by
    columns = dict.fromkeys([*_COUNTED, *(n for n in by if n not in ("defect", "zone", "shift"))])
    looks = read_looks(shop.store, columns=list(columns), as_of_us=as_of_us, since_us=since_us,
                       until_us=until_us)
    counted = count_once(looks, read_findings(
        shop.store, as_of_us=as_of_us, since_us=since_us, until_us=until_us))
    if "shift" in by:
        _add_shift(shop, counted)
    inside = in_period(counted.pieces, ranking.since_us, ranking.until_us)
    return sums_of(counted, by=by, kinds=ranking.kinds, inside=inside)


def _add_shift(shop: Shop, counted: CountedPieces) -> None:
    pressed_us = counted.pieces["pressed_at"].to_numpy(dtype=np.int64)
    counted.pieces["shift"] = shift_labels(pressed_us, shop.zone, shop.shift_minutes)


def _usual(shop: Shop, ranking: Ranking) -> dict[str, pd.DataFrame]:
    """Counts of the whole history by mix: what the usual rates come from."""
    asked = asked_for(ranking.by)
    keys = {"defect": "kind", "zone": "zone"}
    part = "zones" if "zone" in ranking.by else "defects"
    found = [keys[name] for name in asked.found]
    exposed = sum_tally(shop.store, "mix_tally", [*asked.mix, "look"],
                        where={"part": ["pieces"], **_HAD})
    faults = sum_tally(shop.store, "mix_tally", [*asked.mix, "look", *found],
                       where={"part": [part], **ranking.wanted_kinds})
    return {"usual_exposed": exposed,
            "usual_faults": faults.rename(columns={"kind": "defect"})}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """The tallies that hold what a ranking asks of its period; for a factor, its name there."""

    shop: Shop
    ranking: Ranking
    pieces: str
    faults: str
    level_of_pieces: str | None = None
    level_of_faults: str | None = None

    def sums(self) -> Sums:
        asked = asked_for(self.ranking.by)
        split = list(dict.fromkeys([*asked.split, *asked.mix]))
        nothing = pd.DataFrame()
        return Sums(
            pieces=self._pieces(asked.split, _ONCE), exposed=self._pieces([*split, "look"], _HAD),
            faults=self._faults(asked), usual_exposed=nothing, usual_faults=nothing)

    def _pieces(self, by: list[str], looks: Words) -> pd.DataFrame:
        factor = self.level_of_pieces
        where = dict(looks)
        if factor:
            where |= {"factor": [factor], "kind": [None]}
        return self._read(self.pieces, by, where, factor, ())

    def _faults(self, asked: Asked) -> pd.DataFrame:
        factor = self.level_of_faults
        where = dict(self.ranking.wanted_kinds)
        if factor:
            where |= {"factor": [factor]}
        return self._read(self.faults, [*asked.split, *asked.found], where, factor, ("kind",))

    def _read(
        self, table: str, by: list[str], where: Words, factor: str | None,
        named: tuple[str, ...],
    ) -> pd.DataFrame:
        keys = {"defect": "kind", "shift": "hour_us"} | ({factor: "level"} if factor else {})
        ranking = self.ranking
        found = sum_tally(
            self.shop.store, table, [keys.get(name, name) for name in by], where=where,
            since_us=ranking.since_us, until_us=ranking.until_us, named=named)
        found = found.rename(columns={key: name for name, key in keys.items() if name in by})
        if "shift" in by:
            hour_us = found["shift"].to_numpy(dtype=np.int64)
            found["shift"] = shift_labels(hour_us, self.shop.zone, self.shop.shift_minutes)
        return found


def _source(shop: Shop, ranking: Ranking) -> _Source | None:
    """Where the period's counts are; None where no tally holds them."""
    by = set(ranking.by)
    factors = by & set(FACTORS)
    apart = len(factors) + ("press" in by) + ("zone" in by)  # no tally holds two of these
    if apart > 1 or not _on_hours(shop, ranking):
        return None
    if factors:
        factor = factors.pop()
        return _Source(shop=shop, ranking=ranking, pieces="factor_tally", faults="factor_tally",
                       level_of_pieces=factor, level_of_faults=factor)
    by_day = not by & {"press", "shift"} and _on_days(shop, ranking)
    pieces = "day_tally" if by_day else "piece_tally"
    if "zone" in by:
        return _Source(shop=shop, ranking=ranking, pieces=pieces, faults="factor_tally",
                       level_of_faults="zone")
    return _Source(shop=shop, ranking=ranking, pieces=pieces, faults="defect_tally")


def _on_days(shop: Shop, ranking: Ranking) -> bool:
    """Whether the period is whole days of the shop."""
    ends = [us for us in (ranking.since_us, ranking.until_us) if us is not None]
    return all(day_start_us(us, shop.zone) == us for us in ends)


def _on_hours(shop: Shop, ranking: Ranking) -> bool:
    """Whether the period, and the shifts where they are asked for, begin on whole hours."""
    ends = [us for us in (ranking.since_us, ranking.until_us) if us is not None]
    if any(us % HOUR_US for us in ends):
        return False
    if "shift" not in ranking.by:
        return True
    offset = from_us(ends[0] if ends else 0, shop.zone).utcoffset()
    whole = offset is not None and offset.total_seconds() % 3600 == 0
    return whole and all(minute % 60 == 0 for minute in shop.shift_minutes)
