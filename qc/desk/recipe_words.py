"""Settings against recipe in words and in the shop's units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qc.desk.flag_words import units_of_shop
from qc.desk.recipes import AROUND, settings_against_recipe
from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, from_us
from qc.domain.recipes import (
    NAMED_QUANTITIES,
    PairWithout,
    RecipeFault,
    SettingDrift,
    SettingRow,
    SettingsAgainstRecipe,
)
from qc.monitor.phrases import DIGITS, capital, listed
from qc.units import ShopUnits, from_stored, unit

WHAT = {
    "temperature_c": "temperature shown", "actual_temperature_c": "actual temperature",
    "dwell_s": "dwell", "second_press_s": "second press", "pressure_kpa": "gauge pressure",
    "pressure_dial": "pressure dial", "pressure_class": "pressure class",
    "peel_wait_s": "peel wait", "cover": "cover",
}
UNIT_OF = {
    "temperature_c": "temperature_difference", "actual_temperature_c": "temperature_difference",
    "dwell_s": "duration", "second_press_s": "duration", "peel_wait_s": "duration",
    "pressure_kpa": "gauge_pressure",
}
AROUND_OF = AROUND | {"actual_temperature_c": AROUND["temperature_c"]}
MOST_NAMED = 3
MOST_PRESSES = 6
WITHOUT_LIMITS = frozenset({"second_press_s", "peel_wait_s"})
"""Quantities whose recipe has no fields for limits."""
WEEK = 7

UNTOLD = {
    "n_no_survey": "no survey of the upper platen in the {age} before",
    "n_other_kind": "pressure was recorded in another kind than the recipe's, and kinds are never"
                    " converted",
    "n_no_window": "the recipes give a target and no window",
    "n_not_recorded": "asked for by the recipes, not recorded",
}
WITHOUT = {
    "no_recipe": "{n:,} pieces without a recipe: {pairs}.",
    "not_yet_valid": "{n:,} pieces before their recipe counted: {pairs}.",
    "nothing_recorded": "{n:,} pieces without any setting recorded: {pairs}.",
}
FAULTS = {
    "inverted": "the window of its {what} is upside down and does not count",
    "target_outside": "the target of its {what} is outside its own window",
    "same_moment": "another version counts from the same moment; the one entered last is taken",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingLine:
    """One row in words; figures stay in ``row``. ``state`` : 'outside', 'moves', 'not_shown' or
    'inside'. ``off_by`` is the median of set less target, ``off_range`` the middle 90 % of it;
    empty: unknown, or a name. ``notes`` are sentences without their full stop."""

    row: SettingRow
    what: str
    state: str
    off_by: str
    off_range: str
    who: str
    on: str
    when: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsInWords:
    """Settings against recipe: ``lines`` as `SettingsAgainstRecipe.rows`; what could not be told
    (``untold``) and what is wrong with recipes (``faults``) in sentences. ``period`` : its length,
    ``survey_age`` : how long a survey speaks for the pieces after it; both as '30 days'."""

    found: SettingsAgainstRecipe
    lines: tuple[SettingLine, ...]
    untold: tuple[str, ...]
    faults: tuple[str, ...]
    period: str
    survey_age: str

    @property
    def heat_is_hidden(self) -> bool:
        """Was a platen outside a window that its display was inside?"""
        return any(line.row.n_hidden for line in self.lines)


def settings_in_words(
    shop: Shop, *, as_of_us: int, since_us: int | None = None
) -> SettingsInWords:
    """`settings_against_recipe` in words."""
    found = settings_against_recipe(shop, as_of_us=as_of_us, since_us=since_us)
    units = units_of_shop(shop)
    return SettingsInWords(
        found=found, lines=tuple(_line(row, shop, units) for row in found.rows),
        untold=(*_untold(found), *_without(found.without)), faults=tuple(_faults(found.faults)),
        period=_days((found.until_us - found.since_us) / DAY_US),
        survey_age=_days(found.survey_valid_days),
    )


def _days(n: float) -> str:
    return "1 day" if n == 1 else f"{n:g} days"


def _line(row: SettingRow, shop: Shop, units: ShopUnits) -> SettingLine:
    # where the platen is off and not what was set, it is nobody's doing
    people = () if row.quantity == "actual_temperature_c" else row.operators
    off_by, off_range = _off_by(row, units)
    return SettingLine(
        row=row, what=WHAT[row.quantity], state=_state(row), off_by=off_by, off_range=off_range,
        who=_few((f"{part.operator or 'nobody named'} {_of(part.n_outside, part.n_told)}"
                  for part in people), len(people)),
        on=_few((f"{part.fabric} with {part.transfer} {_of(part.n_outside, part.n_told)}"
                 for part in row.pairs), len(row.pairs)),
        when=_when(row, shop), notes=tuple(_notes(row, units)),
    )


def _state(row: SettingRow) -> str:
    if row.n_outside:
        return "outside"
    if row.drift is not None and row.drift.stands_out:
        return "moves"
    return "not_shown" if row.n_not_shown else "inside"


def _of(n: int, total: int) -> str:
    return f"{n:,} of {total:,}"


def _few(words: Iterable[str], n: int) -> str:
    """The first few, and how many more there are."""
    shown = [word for word, _ in zip(words, range(MOST_NAMED), strict=False)]
    return ", ".join([*shown, f"{n - MOST_NAMED} more"] if n > MOST_NAMED else shown)


def _off_by(row: SettingRow, units: ShopUnits) -> tuple[str, str]:
    """What was set less the target: median, and the ends of the middle 90 %."""
    if row.quantity in NAMED_QUANTITIES:
        return (f"{row.most_set}, not {row.most_asked}" if row.most_set else ""), ""
    if row.off_median is None or row.off_low is None or row.off_high is None:
        return "", ""
    low, high = (_signed(value, row.quantity, units) for value in (row.off_low, row.off_high))
    return _amount(row.off_median, row.quantity, units), f"{low} to {high}"


def _amount(value: float, quantity: str, units: ShopUnits, digits: int | None = None) -> str:
    """A difference with its sign and the shop's unit."""
    kind = UNIT_OF.get(quantity)
    symbol = "" if kind is None else f" {unit(kind, units.suffix(kind)).symbol}"
    return f"{_signed(value, quantity, units, digits)}{symbol}"


def _signed(value: float, quantity: str, units: ShopUnits, digits: int | None = None) -> str:
    kind = UNIT_OF.get(quantity)
    suffix = "" if kind is None else units.suffix(kind)
    # a difference of pressures scales like a pressure: gauge units have no zero of their own
    shown = value if kind is None else float(from_stored(value, kind, suffix))
    places = DIGITS.get(suffix, 1) if digits is None else digits
    rounded = round(shown, places) + 0.0  # + 0.0: no minus before zero
    return f"{rounded:{'+' if rounded else ''}.{places}f}".replace("-", "−")


def _when(row: SettingRow, shop: Shop) -> str:
    if row.first_us is None or row.last_us is None:
        return ""
    first, last = (from_us(us, shop.zone).strftime("%d %b") for us in (row.first_us, row.last_us))
    if not row.n_before_first:
        return f"{first} or earlier to {last}"
    return first if first == last else f"{first} to {last}"


def _notes(row: SettingRow, units: ShopUnits) -> Iterable[str]:
    if row.n_below and row.n_above:
        yield f"{row.n_below:,} below, {row.n_above:,} above"
    if row.n_hidden:
        yield f"{row.n_hidden:,} with the display inside its window: it is the platen that is off"
    if row.n_as_before:
        yield f"{row.n_as_before:,} still as the version before asked"
    if row.n_by_default:
        yield f"{row.n_by_default:,} by the shop's default window ({AROUND_OF[row.quantity]})"
    if row.n_not_shown:
        yield f"{row.n_not_shown:,} too near a limit for the survey's uncertainty"
    if row.drift is not None and row.drift.stands_out:
        yield _drift(row.drift, row.quantity, units)


def _drift(drift: SettingDrift, quantity: str, units: ShopUnits) -> str:
    low, high = (_signed(WEEK * value, quantity, units, 2) for value in (drift.low, drift.high))
    return f"moves {_amount(WEEK * drift.per_day, quantity, units, 2)} a week ({low} to {high})"


def _untold(found: SettingsAgainstRecipe) -> Iterable[str]:
    """One sentence for each reason and the presses it applies to."""
    at: dict[tuple[str, str], list[SettingRow]] = {}
    for row in found.untold:
        reason = next(name for name in UNTOLD if getattr(row, name))
        at.setdefault((reason, row.quantity), []).append(row)
    alike: dict[tuple[str, tuple[str, ...]], dict[str, int]] = {}
    for (reason, quantity), rows in at.items():
        presses = tuple(sorted(row.press for row in rows))
        n = sum(getattr(row, reason) for row in rows)
        alike.setdefault((reason, presses), {})[quantity] = n
    n_presses = len({row.press for row in (*found.rows, *found.untold)})
    for (reason, presses), pieces in alike.items():
        where = "at every press" if len(presses) == n_presses > 1 else f"at {_listed(presses)}"
        what = capital(listed([WHAT[quantity] for quantity in pieces]))
        why = UNTOLD[reason].format(age=_days(found.survey_valid_days))
        upto = "" if len(set(pieces.values())) == 1 else "up to "
        give = _give(tuple(pieces)) if reason == "n_no_window" else ""
        yield f"{what} {where}: {why} ({upto}{max(pieces.values()):,} pieces).{give}"


def _give(quantities: tuple[str, ...]) -> str:
    """What would give a window to those that have none."""
    names = list(dict.fromkeys(AROUND[name] for name in quantities if name in AROUND))
    settings = f"the setting{'s' if len(names) > 1 else ''} {listed(names)} would give one."
    limits = "" if WITHOUT_LIMITS & set(quantities) else "limits in the recipe or "
    return f" {capital(limits + settings)}"


def _listed(words: Sequence[str]) -> str:
    shown = list(words[:MOST_PRESSES])
    return listed([*shown, f"{len(words) - len(shown)} more"] if len(words) > len(shown) else shown)


def _without(pairs: tuple[PairWithout, ...]) -> Iterable[str]:
    for why, sentence in WITHOUT.items():
        mine = [pair for pair in pairs if pair.why == why]
        if mine:
            named = (f"{pair.fabric} with {pair.transfer} {pair.n_pieces:,}" for pair in mine)
            yield sentence.format(pairs=_few(named, len(mine)), n=sum(p.n_pieces for p in mine))


def _faults(faults: tuple[RecipeFault, ...]) -> Iterable[str]:
    for one in faults:
        version = f", version {one.version}" if one.version else ""
        wrong = FAULTS[one.what].format(what=WHAT.get(one.quantity or "", ""))
        yield f"Recipe of {one.fabric} with {one.transfer}{version}: {wrong}."
