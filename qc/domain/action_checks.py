"""Whether an action worked: what the tool found by itself, in figures and in one sentence."""

from __future__ import annotations

from dataclasses import dataclass, replace

from qc.units import ShopUnits, from_stored

VERDICTS = ("came_back", "better", "not_back", "too_early", "no_answer")
PHASES = ("before", "during", "after")
VERDICT_HEADS = {
    "came_back": "came back", "better": "better, but not back", "not_back": "not back",
    "too_early": "too early to tell", "no_answer": "cannot be told",
}
SYMBOLS = {"degC": " °C", "degF": " °F", "mm": " mm", "in": " in", "deg": "°", "kPa": " kPa",
           "psi": " psi", "bar": " bar", "s": " s", "share": " %"}
IN_UNITS_OF_SHOP = {
    "degC": ("temperature_difference", {"c": "degC", "f": "degF"}),
    "mm": ("length", {"mm": "mm", "in": "in"}),
    "kPa": ("gauge_pressure", {"kpa": "kPa", "psi": "psi", "bar": "bar"}),
}
"""What a stored unit measures, and the units it may be read in; means are deviations, so those of
temperatures are differences."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A stretch of the flagged stream. ``value`` is a share of pieces or a mean, in the check's
    unit, with its 95 % interval; nan where there is nothing. ``usual``: what would be usual."""

    name: str
    since_us: int
    until_us: int
    n_pieces: int
    value: float
    low: float
    high: float
    usual: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionCheck:
    """The check of the newest action of a case.

    ``seen``, ``usual``, ``raised``: what came after the action, what the usual value and that of
    the fault would have given: pieces with the defect where ``is_count``, else means in ``unit``
    ('share' for shares of the recipe's value). ``n_more``: about how many more pieces decide it.
    ``reason``: why there is no answer, a plain sentence.
    """

    verdict: str
    since_us: int
    is_count: bool = True
    unit: str = "share"
    seen: float = 0.0
    usual: float = 0.0
    raised: float = 0.0
    n_pieces: int = 0
    n_more: int | None = None
    risk: float = 0.05
    phases: tuple[Phase, ...] = ()
    method: str = ""
    cautions: tuple[str, ...] = ()
    reason: str = ""


def in_units(check: ActionCheck, units: ShopUnits) -> ActionCheck:
    """The check with its means in the units a shop reads."""
    if check.unit not in IN_UNITS_OF_SHOP:
        return check
    quantity, names = IN_UNITS_OF_SHOP[check.unit]
    suffix = units.suffix(quantity)

    def read(value: float) -> float:
        return float(from_stored(value, quantity, suffix))

    return replace(
        check, unit=names[suffix], seen=read(check.seen), usual=read(check.usual),
        raised=read(check.raised), phases=tuple(
            replace(one, value=read(one.value), low=read(one.low), high=read(one.high),
                    usual=read(one.usual)) for one in check.phases))


def check_sentence(check: ActionCheck) -> str:
    """The verdict with its numbers."""
    head = VERDICT_HEADS[check.verdict]
    if check.reason:
        return f"{head}: {check.reason.removesuffix('.')}"
    figures = _counts(check) if check.is_count else _means(check)
    if check.verdict != "too_early":
        return f"{head}: {figures}"
    if check.n_more is None:
        return f"{head}: {figures}"
    return (f"{head}: {figures}; about {check.n_more:,} more pieces needed if it is back "
            f"(risk {100 * check.risk:.0f} % of either wrong answer)")


def _counts(check: ActionCheck) -> str:
    if check.n_pieces == 0:
        return "no piece pressed since"
    return (f"{check.seen:.0f} where {check.usual:.1f} usual and {check.raised:.1f} at the raised "
            f"rate, on {check.n_pieces:,} pieces")


def _means(check: ActionCheck) -> str:
    if check.n_pieces == 0:
        return "nothing measured since"
    scale, symbol = (100 if check.unit == "share" else 1), SYMBOLS.get(check.unit, "")
    digits = 2 if check.unit in ("in", "bar") else 1
    seen, usual, bad = (f"{scale * value:+.{digits}f}{symbol}"
                        for value in (check.seen, check.usual, check.raised))
    return f"{seen} where {usual} usual and {bad} during the fault, on {check.n_pieces:,} pieces"
