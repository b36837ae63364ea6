"""The surveys of a shop's platens, taken apart once until another reading is recorded."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from qc.desk.kept_results import made_of
from qc.desk.shop import Shop
from qc.presses.repeatability import Repeatability, repeatability
from qc.presses.surveys import Platen, Survey, surveys_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownSurveys:
    """The surveys of each platen in order of time, and how far surveys differ in this shop."""

    by_platen: dict[Platen, list[Survey]]
    pooled: Repeatability


def known_surveys(shop: Shop, *, as_of_us: int) -> KnownSurveys:
    """What is known of all platens at a moment; not to be changed."""
    return made_of(shop, "platen_readings", _known, as_of_us=as_of_us)


def _known(readings: pd.DataFrame) -> KnownSurveys:
    by_platen = surveys_of(readings)
    return KnownSurveys(by_platen=by_platen, pooled=repeatability(by_platen))
