"""The shop's settings as a form: in the shop's units, kept together, with who changed them when."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from qc.config import SETTINGS, Setting, checked_value
from qc.config import setting as setting_named
from qc.desk.flag_words import units_of_shop
from qc.desk.keeping import check_name
from qc.desk.lists import plain_number
from qc.desk.shop import Shop, change_setting, reread
from qc.domain.instants import parse_instant
from qc.errors import FormError, InputError
from qc.store.settings import is_set, setting_changes
from qc.units import from_stored, to_stored, unit

QUANTITY = {"degC": "temperature_difference", "kPa": "gauge_pressure"}
"""Settings in these units are shown in the shop's own; every one of degC is a difference."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingShown:
    """A setting as a form shows it: texts in the shop's unit, ``low`` and ``high`` empty where
    nothing limits it."""

    setting: Setting
    text: str
    default: str
    symbol: str
    low: str
    high: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingStep:
    """A change of a setting, texts in the unit the shop reads now. ``was_default``: before it, the
    setting was as it came."""

    name: str
    before: str
    after: str
    was_default: bool
    by: str
    at_us: int


def settings_shown(shop: Shop) -> tuple[SettingShown, ...]:
    """Every setting as it stands."""
    return tuple(_shown(one, shop) for one in SETTINGS)


def settings_history(shop: Shop, *, as_of_us: int) -> tuple[SettingStep, ...]:
    """Every change of a setting up to a moment, newest first."""
    known = {one.name for one in SETTINGS}
    return tuple(
        SettingStep(
            name=change.name, by=change.by, at_us=change.at_us,
            was_default=change.before is None, after=_to_text(change.name, change.after, shop),
            before=_to_text(change.name, setting_named(change.name).default
                            if change.before is None else change.before, shop))
        for change in setting_changes(shop.store, as_of_us=as_of_us) if change.name in known)


def keep_settings(
    shop: Shop, texts: Mapping[str, str], *, by: str, at_us: int, meant: Collection[str] = ()
) -> tuple[Shop, tuple[str, ...]]:
    """Keep what was changed among these settings; the shop afterwards and the names changed.

    ``meant`` : settings that somebody was asked for, kept also where they stay at their default.

    Raises
    ------
    FormError
        What is wrong, at the settings it concerns; then none of them is kept.
    """
    check_name(by)
    values: dict[str, str] = {}
    wrong: dict[str, list[str]] = {}
    for name, text in texts.items():
        as_it_was = text.strip() == _to_text(name, shop.settings[name], shop)
        if as_it_was and (name not in meant or is_set(shop.store, name)):
            continue  # not touched: a value must not drift by being shown
        try:
            values[name] = _from_text(setting_named(name), text.strip(), shop)
        except InputError as refused:
            wrong[name] = list(refused.problems)
    if wrong:
        raise FormError(wrong)
    for name, value in values.items():
        change_setting(shop, name=name, value=value, by=by.strip(), at_us=at_us)
    return reread(shop), tuple(values)


def _shown(one: Setting, shop: Shop) -> SettingShown:
    suffix = _suffix(one, shop)
    symbol = unit(QUANTITY[one.unit], suffix).symbol if suffix else one.unit
    low, high = ("" if end is None else _to_text(one.name, plain_number(end), shop)
                 for end in (one.low, one.high))
    return SettingShown(setting=one, text=_to_text(one.name, shop.settings[one.name], shop),
                        default=_to_text(one.name, one.default, shop), symbol=symbol, low=low,
                        high=high)


def _suffix(one: Setting, shop: Shop) -> str:
    quantity = QUANTITY.get(one.unit)
    return units_of_shop(shop).suffix(quantity) if quantity else ""


def _to_text(name: str, value: str, shop: Shop) -> str:
    one = setting_named(name)
    suffix = _suffix(one, shop)
    if not suffix:
        return value
    shown = float(from_stored(float(value), QUANTITY[one.unit], suffix))
    return plain_number(shown)


def _checked(name: str, text: str) -> str:
    try:
        return checked_value(name, text)
    except InputError as refused:  # a form says the name of the setting beside it
        told = str(refused).removeprefix(f"{name} has ").removeprefix(f"{name} is ")
        raise InputError(told.replace("; write", " cannot be; write")) from None


def _from_text(one: Setting, text: str, shop: Shop) -> str:
    """The value as it is stored; InputError in the shop's unit."""
    if one.name == "baseline_from" and text:
        parse_instant(text, shop.zone)
    if one.kind != "number":
        return _checked(one.name, text)
    plain = text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
    suffix = _suffix(one, shop)
    try:
        number = float(plain)
    except ValueError:
        number = math.nan
    stored = float(to_stored(number, QUANTITY[one.unit], suffix)) if suffix else number
    try:
        # twelve digits: no trace of the arithmetic in what is kept
        return checked_value(one.name, plain if not suffix else f"{stored:.12g}")
    except InputError:
        shown = _shown(one, shop)
        raise InputError(f"{text!r} cannot be; allowed: {shown.low} to {shown.high}"
                         f" {shown.symbol}".rstrip()) from None
