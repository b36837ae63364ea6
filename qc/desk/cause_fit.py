"""How well a usual cause fits what was flagged: the variable and its direction, or the factor.

The trade's order of causes speaks of a kind of defect alone. A flag says more: which setting or
platen is off and which way, or whose work and which lot the defects sit in. Causes of that come
first; what the shop's own closed cases found counts as before (`qc.domain.causes`).
"""

from __future__ import annotations

from qc.domain.flags import Flag
from qc.domain.kinds import Cause
from qc.monitor.attribution import FAMILY_OF
from qc.monitor.bonds import ANY_DIRECTION, FAMILIES, VARIABLES

MEASURED_SO = 24.0
"""How many times likelier than usual a cause is whose variable was itself measured off, the way the
cause says. This and the others: proposed starting values, no source."""
SAME_VARIABLE = 6.0
"""The same for a cause of that variable without a direction, or of one that may come with it."""
SITS_THERE, SITS_NEAR = 8.0, 3.0
"""The same for a cause that sits where the flag points, and for one that can bring it about."""
IN_ONE_ZONE = 2.0
"""The same, besides, for an uneven cause where the defects sit in one zone of the print."""
AT_A_PRESS = ("temperature", "pressure", "dwell", "warm-up")
"""What is near a press among the causes of settings: its heat, time and pressure."""


def fit(cause: Cause, flag: Flag) -> float:
    """How many times likelier than usual a cause is, given what was flagged; 1: it says nothing."""
    if flag.characteristic in VARIABLES:
        return _of_variable(cause, flag)
    return _of_factor(cause, flag)


def _of_variable(cause: Cause, flag: Flag) -> float:
    stands_for = VARIABLES[flag.characteristic]
    of = [name for name in stands_for if name in cause.variable]
    if not of:
        return 1.0
    ways = {name for name in of if _way(name, flag) in cause.direction}
    if ways & {stands_for[0], "sensor"}:
        return MEASURED_SO
    return SAME_VARIABLE if ways or _can_be(cause.direction, flag) else 1.0


def _way(variable: str, flag: Flag) -> str:
    """The direction a cause has in the table where it would show as what was flagged."""
    if flag.characteristic == "temperature_spread_c":
        return "uneven"
    is_high = flag.direction == "up"
    if variable == "sensor":  # a controller that reads low makes its platen hotter than set
        is_high = not is_high
    return "high" if is_high else "low"


def _can_be(direction: str, flag: Flag) -> bool:
    """Whether a cause does not go the other way; heat that is spread may be low or high."""
    spread = flag.characteristic == "temperature_spread_c"
    return spread or direction in (*ANY_DIRECTION, "uneven")


def _of_factor(cause: Cause, flag: Flag) -> float:
    name = flag.factor.name
    if name == "time_since_start":
        return MEASURED_SO if cause.variable == "warm-up" else 1.0
    family = FAMILY_OF.get(name)
    if family is None:
        return 1.0
    near = FAMILIES.get(name) or FAMILIES.get(family, ())
    there = SITS_THERE if cause.family == family else SITS_NEAR if cause.family in near else 1.0
    if family == "press" and there == SITS_NEAR and not _is_at_a_press(cause):
        return 1.0
    zoned = family == "press" and flag.zone is not None and cause.direction == "uneven"
    return there * (IN_ONE_ZONE if zoned else 1.0)


def _is_at_a_press(cause: Cause) -> bool:
    return any(name in cause.variable for name in AT_A_PRESS)
