"""Open cases that touch a stream: the stretch each is about."""

from __future__ import annotations

from collections.abc import Iterable

from qc.domain.flags import Flag, named_causes
from qc.domain.streams import Stream

KIND_OF = {"defects": "defect_rate", "placement": "placement", "setting": "setting",
           "platen": "calibration", "check": ""}


def touching(flags: Iterable[Flag], stream: Stream) -> tuple[Flag, ...]:
    """The flags that are about what a stream counts or measures, in work it holds.

    A stream of the whole shop holds all work; any other one the work of its level, and what a flag
    puts down to the whole shop.
    """
    return tuple(flag for flag in flags if flag.kind == KIND_OF[stream.subject]
                 and _same_thing(flag, stream) and _same_work(flag, stream))


def _same_thing(flag: Flag, stream: Stream) -> bool:
    named = (flag.characteristic, *flag.also)
    if stream.subject == "platen":
        spread = "spread" in flag.characteristic
        return flag.platen == stream.platen and spread == (stream.of == "spread_c")
    return stream.of in ("", "together") or stream.of in named


def _same_work(flag: Flag, stream: Stream) -> bool:
    if stream.by == "shop":
        return True
    if stream.by == "press" and flag.press == stream.level:
        return True
    if stream.by == "zone":
        return flag.zone == stream.level
    return any(cause.name == "shop" or (cause.name, cause.level) == (stream.by, stream.level)
               for cause in named_causes(flag.factor, flag.other_factors))
