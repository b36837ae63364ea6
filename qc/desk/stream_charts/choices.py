"""What can be chosen, and a choice that is whole: what is missing or cannot be takes its usual."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from qc.desk.shop import Shop
from qc.desk.stream_charts.levels import station_levels
from qc.desk.stream_charts.surveying import checked_of, platens_of
from qc.desk.trends import defect_codes
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.domain.ranking import MIX
from qc.domain.streams import LEVELS, MEASURES, PLATENS, STEPS, SUBJECTS, Stream
from qc.store.newest import has_level, newest_levels, newest_pressed, presses_seen
from qc.store.sums import sum_tally

STATIONS_US = 92 * DAY_US
LATELY = ("operator", "transfer_lot", "garment_lot")
MOST_COUNTS = 12_000
"""Newest counts, and looks, that are gone through for the levels of the newest work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """What this shop has to choose from. ``levels`` by factor, ``platens`` and ``checked`` as pairs
    with the press. ``is_known``: whether a person or lot was ever recorded, though too long ago to
    be offered."""

    kinds: tuple[str, ...]
    levels: dict[str, tuple[str, ...]]
    platens: tuple[tuple[str, str], ...]
    checked: tuple[tuple[str, str], ...]
    is_known: Callable[[str, str], bool]

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
    """The levels of every factor, by name; lots the newest first. Of people, lots and stations, of
    which ever more come and go, those of the newest work."""
    mixes = sum_tally(shop.store, "mix_tally", MIX, where={"part": ["pieces"]})
    levels = {name: tuple(sorted(str(one) for one in mixes[name].dropna().unique()))
              for name in MIX}
    for name in LATELY:
        newest = newest_levels(shop.store, name, at_most=MOST_COUNTS)
        levels[name] = tuple(sorted(newest) if name == "operator" else newest)
    levels |= {"press": tuple(presses_seen(shop.store)), "station": _stations(shop, as_of_us)}
    return Offered(
        kinds=defect_codes(shop), levels={**levels, "zone": ZONES, "shop": ()},
        platens=platens_of(shop, as_of_us=as_of_us), checked=checked_of(shop, as_of_us=as_of_us),
        is_known=lambda factor, level: has_level(shop.store, factor, level))


def _stations(shop: Shop, as_of_us: int) -> tuple[str, ...]:
    looks = newest_pressed(shop.store, as_of_us=as_of_us, columns=("press", "station"),
                           since_us=as_of_us - STATIONS_US, at_most=MOST_COUNTS)
    noted = looks[looks["station"].notna()].drop_duplicates()
    return tuple(sorted(station_levels(noted).tolist()))


def whole(stream: Stream, there: Offered) -> Stream:
    """The stream with every part it lacks, or cannot have, at its usual."""
    subject = stream.subject if stream.subject in SUBJECTS else SUBJECTS[0]
    found = replace(stream, subject=subject)
    found = replace(found, of=_one_of(stream.of, there.measures_of(found)),
                    by=_one_of(stream.by, there.works_of(subject)),
                    step=_one_of(stream.step, STEPS[subject]))
    levels = there.levels_of(found)
    older = (found.by in LATELY and stream.level not in levels
             and there.is_known(found.by, stream.level))
    level = ("" if found.by == "shop" else stream.level if older
             else _one_of(stream.level, levels))
    platens = there.platens_of(level) or PLATENS[:1]
    return replace(found, level=level, platen="" if subject != "platen" else _one_of(
        stream.platen, platens))


def _one_of(value: str, allowed: tuple[str, ...]) -> str:
    if value in allowed or not allowed:
        return value if value in allowed else ""
    return allowed[0]
