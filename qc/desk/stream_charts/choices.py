"""What can be chosen, and a choice that is whole: what is missing or cannot be takes its usual."""

from __future__ import annotations

from dataclasses import dataclass, replace

from qc.desk.shop import Shop
from qc.desk.stream_charts.levels import station_levels
from qc.desk.stream_charts.surveying import checked_of, platens_of
from qc.desk.trends import defect_codes
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.domain.streams import LEVELS, MEASURES, PLATENS, STEPS, SUBJECTS, Stream
from qc.store.inspections import read_looks
from qc.store.tallies import read_factor_tally, read_piece_tally

STATIONS_US = 92 * DAY_US


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """What this shop has to choose from. ``levels`` by factor, ``platens`` and ``checked`` as pairs
    with the press."""

    kinds: tuple[str, ...]
    levels: dict[str, tuple[str, ...]]
    platens: tuple[tuple[str, str], ...]
    checked: tuple[tuple[str, str], ...]

    @property
    def is_empty(self) -> bool:
        """Whether no piece, survey or check is recorded."""
        return not (self.levels.get("press") or self.platens or self.checked)

    def levels_of(self, stream: Stream) -> tuple[str, ...]:
        """The levels a stream of this subject can be of."""
        if stream.subject == "platen":
            return tuple(dict.fromkeys(press for press, _ in self.platens))
        if stream.subject == "check":
            return tuple(press for press, what in self.checked if what == stream.of)
        return self.levels.get(stream.by, ())

    def works_of(self, subject: str) -> tuple[str, ...]:
        """Whose work a stream of a subject can be of; of stations only where any is noted."""
        return tuple(name for name in LEVELS[subject]
                     if name != "station" or self.levels.get("station"))

    def measures_of(self, stream: Stream) -> tuple[str, ...]:
        """What can be counted or measured of the subject."""
        if stream.subject == "defects":
            return ("", *self.kinds)
        if stream.subject == "check":
            known = {what for _, what in self.checked}
            return tuple(name for name in MEASURES["check"] if name in known) or MEASURES["check"]
        return MEASURES[stream.subject]

    def platens_of(self, press: str) -> tuple[str, ...]:
        """The surveyed platens of a press."""
        return tuple(platen for one, platen in self.platens if one == press)


def offered(shop: Shop, *, as_of_us: int) -> Offered:
    """Every level of every factor in the tallies, by name; lots the newest first. Stations, which
    have no tally, are those noted in the last quarter of a year."""
    pieces = read_piece_tally(shop.store)
    levels = {name: tuple(sorted(str(one) for one in pieces[name].dropna().unique()))
              for name in ("press", "fabric", "transfer", "location")}
    for name in ("operator", "transfer_lot", "garment_lot"):
        rows = read_factor_tally(shop.store, name)
        last = rows[rows["level"].notna()].groupby("level", observed=True)["hour_us"].max()
        order = last.sort_index() if name == "operator" else last.sort_values(ascending=False,
                                                                              kind="stable")
        levels[name] = tuple(str(one) for one in order.index)
    levels["station"] = _stations(shop, as_of_us)
    return Offered(
        kinds=defect_codes(shop), levels={**levels, "zone": ZONES, "shop": ()},
        platens=platens_of(shop, as_of_us=as_of_us), checked=checked_of(shop, as_of_us=as_of_us))


def _stations(shop: Shop, as_of_us: int) -> tuple[str, ...]:
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=("press", "station"),
                       since_us=as_of_us - STATIONS_US, having=("station",)).drop_duplicates()
    return tuple(sorted(station_levels(looks).tolist()))


def whole(stream: Stream, there: Offered) -> Stream:
    """The stream with every part it lacks, or cannot have, at its usual."""
    subject = stream.subject if stream.subject in SUBJECTS else SUBJECTS[0]
    found = replace(stream, subject=subject)
    found = replace(found, of=_one_of(stream.of, there.measures_of(found)),
                    by=_one_of(stream.by, there.works_of(subject)),
                    step=_one_of(stream.step, STEPS[subject]))
    levels = there.levels_of(found)
    level = "" if found.by == "shop" else _one_of(stream.level, levels)
    platens = there.platens_of(level) or PLATENS[:1]
    return replace(found, level=level, platen="" if subject != "platen" else _one_of(
        stream.platen, platens))


def _one_of(value: str, allowed: tuple[str, ...]) -> str:
    if value in allowed or not allowed:
        return value if value in allowed else ""
    return allowed[0]
