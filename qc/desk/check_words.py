"""Checks of timers and gauges in words and in the shop's units."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.flag_words import units_of_shop
from qc.desk.presses import press_checks
from qc.desk.shop import Shop
from qc.domain.decision_words import STATE_WORDS
from qc.domain.machine_checks import MachineCheck
from qc.monitor.phrases import capital, characteristic_words, quantity
from qc.units import ShopUnits


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLine:
    """The latest check of a timer or a gauge, each part in words; ``state`` as a code."""

    press: str
    what: str
    set_to: str
    off_by: str
    tolerance: str
    n: int
    state: str
    state_words: str
    checked_at_us: int


def check_lines(shop: Shop, *, as_of_us: int) -> tuple[CheckLine, ...]:
    """The latest check of every timer and gauge, those out of tolerance first."""
    units = units_of_shop(shop)
    return tuple(_line(one, units) for one in press_checks(shop, as_of_us=as_of_us))


def _line(one: MachineCheck, units: ShopUnits) -> CheckLine:
    def amount(value: float) -> str:
        return quantity(value, one.quantity, units)

    sign = "+" if one.error >= 0 else "−"
    return CheckLine(
        press=one.press, what=capital(characteristic_words(one.quantity)),
        set_to=amount(one.set_value), tolerance=f"±{amount(one.tolerance)}", n=one.n,
        off_by=f"{sign}{amount(abs(one.error))} (±{amount(one.uncertainty)})",
        state=one.state, state_words=STATE_WORDS[one.state], checked_at_us=one.checked_at_us,
    )
