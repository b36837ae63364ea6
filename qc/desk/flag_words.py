"""Flags in the words of this shop: its units, and the causes it found most often before."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from qc.desk.cause_fit import fit
from qc.desk.shop import Shop
from qc.domain.causes import Experience, RankedCause, experience_of, ranked_causes
from qc.domain.flags import Flag
from qc.domain.kinds import Cause
from qc.monitor.findings import Finding
from qc.monitor.first_steps import next_step
from qc.monitor.phrases import quantity
from qc.monitor.scan import Scan
from qc.monitor.words import message, settle, sure
from qc.store.cases import read_cases
from qc.units import ShopUnits


def units_of_shop(shop: Shop) -> ShopUnits:
    """The units this shop reads, from its settings."""
    return ShopUnits(
        temperature=shop.settings["temperature_unit"], length=shop.settings["length_unit"],
        pressure=shop.settings["pressure_unit"],
    )


def measured_value(value: float, flag: Flag, units: ShopUnits) -> str:
    """A value of what is measured in a flag, in the unit the shop reads it in."""
    return quantity(value, flag.characteristic, units)


def in_words(found: Scan, shop: Shop) -> Scan:
    """The scan with every sentence of its flags said for this shop, as of its moment."""
    closed = read_cases(shop.store, as_of_us=found.flags.as_of_us).values()
    experience = experience_of(closed)
    ids = {finding.id_text: name for name, finding in found.findings.items()}
    said = tuple(
        replace(_said(flag, found.findings[flag.id], shop, experience),
                part_of=ids.get(found.findings[flag.id].part_of))
        for flag in found.flags.flags
    )
    return replace(found, flags=replace(found.flags, flags=said))


def _said(flag: Flag, finding: Finding, shop: Shop, experience: Experience) -> Flag:
    return replace(
        flag, message=message(finding, shop.zone, units_of_shop(shop)), sure=sure(finding),
        settle=settle(finding),
        next_step=next_step(finding, lambda defect: _in_order(defect, experience, flag)),
    )


def _in_order(defect: str, experience: Experience, flag: Flag) -> tuple[Cause, ...]:
    """The order of the case's list of causes: what to do first follows from it."""
    return tuple(_as_cause(defect, ranked)
                 for ranked in ranked_causes(defect, experience, partial(fit, flag=flag)))


def _as_cause(defect: str, ranked: RankedCause) -> Cause:
    """A cause in the shop's own words sits nowhere in the trade's table."""
    cause = ranked.cause or Cause(
        code=ranked.code, defect=defect, words=ranked.words, family="", variable="", direction="",
        rank=1, first_check=ranked.first_check,
    )
    if not ranked.n_found:
        return cause
    times = "once" if ranked.n_found == 1 else f"{ranked.n_found} times"
    return replace(cause, words=f"{cause.words}, found {times} before in this shop")
