"""Flags and cases that touch a stream: the stretch each is about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.desk.stream_charts.points import Points
from qc.domain.flags import FactorShare, Flag, named_causes
from qc.domain.streams import Stream, press_of_station

KIND_OF = {"defects": "defect_rate", "placement": "placement", "setting": "setting",
           "platen": "calibration", "check": ""}
Here = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """The time a flag is about, which is no usual time; ``until_us`` None: it goes on.

    ``whole`` : the flag is about all of the stream's work, not about a part of it only.
    """

    from_us: int
    until_us: int | None
    whole: bool


def touching(flags: Iterable[Flag], stream: Stream) -> tuple[Flag, ...]:
    """The flags that are about what a stream counts or measures, in work it holds.

    A stream of the whole shop holds all work; any other one the work of its level, and what a flag
    puts down to the whole shop.
    """
    return tuple(flag for flag in flags
                 if _same_thing(flag, stream) and _same_work(flag, stream))


def asides(flags: Iterable[Flag], stream: Stream) -> tuple[Aside, ...]:
    """When flags touch a stream. A flag that ended, or that another has explained, was there."""
    return tuple(Aside(from_us=flag.changed_at_us, until_us=flag.ended_at_us,
                       whole=_whole(flag, stream)) for flag in touching(flags, stream))


def touched(points: Points, aside: Iterable[Aside]) -> Here:
    """Which points lie, at least in part, in a time set aside."""
    here = np.zeros(len(points), dtype=np.bool_)
    for one in aside:
        begun = points.end_us > one.from_us
        here |= begun if one.until_us is None else begun & (points.start_us <= one.until_us)
    return here


def _same_thing(flag: Flag, stream: Stream) -> bool:
    named = (flag.characteristic, *flag.also)
    if flag.kind != KIND_OF[stream.subject]:
        # a platen, a setting or a jig that is off, with the defects it makes
        return stream.is_counted and bool(flag.also) and stream.of in ("", *flag.also)
    if stream.subject == "platen":
        spread = "spread" in flag.characteristic
        return flag.platen == stream.platen and spread == (stream.of == "spread_c")
    return stream.of in ("", "together") or stream.of in named


def _same_work(flag: Flag, stream: Stream) -> bool:
    return stream.by == "shop" or _whole(flag, stream) or any(
        _station_of(cause, stream) for cause in _causes(flag))


def _whole(flag: Flag, stream: Stream) -> bool:
    """Whether all work of the stream is what the flag is about."""
    if stream.by == "press" and flag.press == stream.level and not any(
            _station_of(cause, stream) for cause in _causes(flag)):
        return True
    if stream.by == "zone":
        return flag.zone == stream.level
    return any(cause.name == "shop" or (cause.name, cause.level) == (stream.by, stream.level)
               or (stream.by == "station" and cause.name == "press"
                   and cause.level == press_of_station(stream.level))
               for cause in _causes(flag))


def _station_of(cause: FactorShare, stream: Stream) -> bool:
    """Whether a cause is one station of the stream's press."""
    return stream.by == "press" and cause.name == "station" and (
        press_of_station(cause.level or "") == stream.level)


def _causes(flag: Flag) -> tuple[FactorShare, ...]:
    return named_causes(flag.factor, flag.other_factors)
