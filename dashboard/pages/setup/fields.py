"""One field of a form, from what it may be: a choice, a list, a time, a number, words."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any
from zoneinfo import available_timezones

import dash_mantine_components as dmc
from dash.development.base_component import Component

from dashboard.text import setup as setup_text
from qc.desk.house_settings import SettingShown
from qc.desk.lists import FormField

FIELD, SETTING, GUIDE = "setup-field", "setup-setting", "guide-field"
"""The types of the fields of a list, of the settings, and of the first run."""
NOT_SAID = "\u2013"
"""The choice of none: a choice needs a value, and no code is a dash alone."""
_ORDER = ("label", "input", "description", "error")
LONG_LIST = 6
"""From here on a list can be searched by typing."""
NOT_ZONES = ("Etc/", "SystemV/", "US/", "posix/", "right/")


def list_field(
    one: FormField, kind: str = FIELD, *, likely: Sequence[str] = ()
) -> Component:
    """A field of a record; ``kind`` is the type of its id, ``likely`` what may be meant."""
    field = one.field
    common = _common(kind, field.name, setup_text.field_label(field.name), one.symbol,
                     _help(one), required=field.required)
    if one.fixed:
        return dmc.TextInput(**common, value=one.text, readOnly=True, className="fixed")
    if field.kind in ("choice", "yes_no"):
        codes = ("yes", "no") if field.kind == "yes_no" else field.choices
        return _select(common, [(code, setup_text.code_words(code)) for code in codes], one.text)
    if field.listed:
        return _select(common, [(code, code) for code in one.options], one.text,
                       may_be_empty=not field.required)
    if one.options or likely:
        return dmc.Autocomplete(**common, value=one.text, data=list(one.options or likely),
                                comboboxProps={"shadow": "md"})
    return dmc.TextInput(**common, value=one.text, inputProps=_keys(field.kind))


def setting_field(one: SettingShown, kind: str = SETTING) -> Component:
    """A setting of the shop."""
    setting = one.setting
    words = [setting.help, _span(one.low, one.high, one.symbol)]
    if setting.kind in ("number", "clock_times"):
        words.append(setup_text.DEFAULT.format(default=one.default))
    common = _common(kind, setting.name, setup_text.SETTING_LABELS[setting.name], one.symbol,
                     _joined(words))
    if setting.kind == "choice":
        return _select(common, [(code, setup_text.CHOICE_WORDS[code]) for code in setting.choices],
                       one.text, may_be_empty=False)
    if setting.kind == "zone":
        zones = zones_with(one.text)
        return _select(common, [(zone, zone.replace("_", " ")) for zone in zones], one.text,
                       may_be_empty=False)
    number = setting.kind == "number"
    return dmc.TextInput(**common, value=one.text, inputProps=_keys("number" if number else "text"))


@cache
def _zones() -> tuple[str, ...]:
    named = sorted(zone for zone in available_timezones()
                   if "/" in zone and not zone.startswith(NOT_ZONES))
    return ("UTC", *named)


def zones_with(zone: str) -> tuple[str, ...]:
    """The time zones to choose from, the one in force among them."""
    return _zones() if zone in _zones() else (zone, *_zones())


def _common(
    kind: str, name: str, label: str, symbol: str, words: str, *, required: bool = False
) -> dict[str, Any]:
    return {
        "id": {"type": kind, "name": name}, "size": "md", "withAsterisk": required,
        "label": f"{label}, {symbol}" if symbol else label, "description": words or None,
        "inputWrapperOrder": list(_ORDER),
    }


def _select(
    common: dict[str, Any], options: Sequence[tuple[str, str]], value: str, *,
    may_be_empty: bool = True,
) -> Component:
    # a long list is searched by typing, and what stands in its field is what is searched for: so
    # there nothing said is an empty field, never words that no code begins with
    is_long = len(options) > LONG_LIST
    empty = is_long and may_be_empty
    none = [(NOT_SAID, setup_text.NOTHING_SAID)] if may_be_empty and not is_long else []
    return dmc.Select(
        **common, value=value or (NOT_SAID if none else None), allowDeselect=False,
        searchable=is_long, clearable=empty, comboboxProps={"shadow": "md"}, maxDropdownHeight=360,
        placeholder=setup_text.NOTHING_SAID if empty else None,
        nothingFoundMessage=setup_text.NOT_FOUND,
        data=[{"value": code, "label": words} for code, words in (*none, *options)])


def _help(one: FormField) -> str:
    field = one.field
    if one.fixed:
        return ""
    span = "" if field.is_text else _span(one.low, one.high, one.symbol)
    hint = setup_text.TIME_HINT if field.kind == "instant" else ""
    return _joined([setup_text.HELP.get(field.name, ""), span, hint])


def _span(low: str, high: str, symbol: str) -> str:
    """The range in words; nothing where nothing limits it."""
    if not low and not high:
        return ""
    shape = (setup_text.RANGE if low and high else
             setup_text.RANGE_LOW if low else setup_text.RANGE_HIGH)
    return f"{shape.format(low=low, high=high)} {symbol}".strip()


def _joined(parts: Sequence[str]) -> str:
    """Sentences one behind the other, each with its full stop."""
    whole = [part.rstrip(".") for part in parts if part]
    return " ".join(f"{part[:1].upper()}{part[1:]}." for part in whole)


def _keys(kind: str) -> dict[str, str]:
    """Which keys a tablet shows, and no guesses of its own."""
    if kind == "instant":
        return {"type": "datetime-local", "autoComplete": "off"}
    shown = {"whole": "numeric", "text": "text", "code": "text"}.get(kind, "decimal")
    return {"inputMode": shown, "autoComplete": "off"}
