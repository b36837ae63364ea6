"""Every setting once: name, default, unit, help. The only reader of the environment.

Shop settings are kept in the store (a change is audited); the two process settings come from
the environment or the command line. Command-line help, checks and the documents derive from
this list.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from qc.errors import InputError

DEFAULT_STORE = "shop.db"
STORE_VARIABLE = "QC_STORE"
USER_VARIABLE = "QC_USER"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One shop setting. ``kind`` is 'text', 'number', 'zone', 'clock_times' or 'choice'."""

    name: str
    default: str
    kind: str
    help: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()


SETTINGS: tuple[Setting, ...] = (
    Setting(name="timezone", default="UTC", kind="zone",
            help="The shop's time zone; times without an offset are read in it"),
    Setting(name="shop_name", default="", kind="text", help="Shown on screens and reports"),
    Setting(name="shift_starts", default="06:00,14:00,22:00", kind="clock_times",
            help="Local times at which a shift begins"),
    Setting(name="false_flags_per_week", default="0.25", kind="number", unit="flags a week",
            low=0.001, high=100, help="How many false flags a week the shop will bear"),
    Setting(name="baseline_from", default="", kind="text",
            help="Start of the period the usual rates come from; empty: the first record"),
    Setting(name="temperature_unit", default="c", kind="choice", choices=("c", "f"),
            help="Unit temperatures are shown in"),
    Setting(name="length_unit", default="mm", kind="choice", choices=("mm", "in"),
            help="Unit lengths are shown in"),
    Setting(name="pressure_unit", default="kpa", kind="choice", choices=("kpa", "psi", "bar"),
            help="Unit gauge pressures are shown in"),
    Setting(name="probe_uncertainty_c", default="3.8", kind="number", unit="degC", low=0, high=50,
            help="Expanded uncertainty (k = 2) taken for a probe without a record of its own"),
    Setting(name="guard_factor", default="0", kind="number", unit="times U", low=0, high=1,
            help="Guard band when a platen is decided on: 0 takes a reading as it is (simple "
                 "acceptance), 1 keeps U away from the limit"),
    Setting(name="dwell_tolerance_s", default="0.5", kind="number", unit="s", low=0, high=600,
            help="How far a press's timer may be off a stopwatch, each way"),
    Setting(name="pressure_tolerance_kpa", default="35", kind="number", unit="kPa", low=0,
            high=2000, help="How far a press's gauge pressure may be off what is set, each way"),
    Setting(name="dial_tolerance", default="0.5", kind="number", unit="marks", low=0, high=100,
            help="The same for a pressure dial"),
    Setting(name="defect_cost", default="0", kind="number", low=0, high=1_000_000,
            help="What a piece with a defect costs on average, in the shop's money; 0: not said"),
    Setting(name="currency", default="", kind="text", help="The shop's money, as shown"),
    Setting(name="recipe_temperature_window_c", default="0", kind="number", unit="degC", low=0,
            high=100, help="Window each way of a recipe's temperature without limits; 0: none"),
    Setting(name="recipe_dwell_window_s", default="0", kind="number", unit="s", low=0, high=600,
            help="The same for a dwell and a second press; 0: none"),
    Setting(name="recipe_pressure_window_kpa", default="0", kind="number", unit="kPa", low=0,
            high=2000, help="The same for a gauge pressure; 0: none"),
    Setting(name="recipe_dial_window", default="0", kind="number", unit="marks", low=0, high=9,
            help="The same for a pressure dial; 0: none"),
    Setting(name="recipe_peel_wait_window_s", default="0", kind="number", unit="s", low=0,
            high=86400, help="The same for a peel wait, open to the harmless side; 0: none"),
    Setting(name="survey_valid_days", default="14", kind="number", unit="days", low=0.1, high=3660,
            help="How long a platen survey speaks for the pieces pressed after it"),
)
_BY_NAME = {setting.name: setting for setting in SETTINGS}


def setting(name: str) -> Setting:
    """The setting of this name; InputError names the known ones."""
    try:
        return _BY_NAME[name]
    except KeyError:
        known = ", ".join(_BY_NAME)
        raise InputError(f"there is no setting {name!r}; known settings: {known}") from None


def checked_value(name: str, value: str) -> str:
    """The value if the setting can take it; InputError says what is allowed."""
    wanted = setting(name)
    if wanted.kind == "zone":
        _check_zone(value)
    elif wanted.kind == "choice" and value not in wanted.choices:
        raise InputError(f"{name} is {value!r}; allowed: {', '.join(wanted.choices)}")
    elif wanted.kind == "number":
        _check_number(wanted, value)
    elif wanted.kind == "clock_times":
        clock_minutes(value)
    return value


def zone_of(value: str) -> ZoneInfo:
    """The time zone of this name; InputError if there is none."""
    _check_zone(value)
    return ZoneInfo(value)


def clock_minutes(value: str) -> tuple[int, ...]:
    """Minutes after midnight of '06:00,14:00'; InputError if one is not a clock time."""
    minutes = []
    for part in value.split(","):
        hour, colon, minute = part.strip().partition(":")
        sound = colon and hour.isdigit() and minute.isdigit()
        if not sound or int(hour) > 23 or int(minute) > 59:
            raise InputError(f"shift_starts has {part.strip()!r}; write clock times as 06:00,14:00")
        minutes.append(int(hour) * 60 + int(minute))
    return tuple(sorted(minutes))


def store_location(given: str | None) -> str:
    """Where the store is: the option, else QC_STORE, else shop.db in the current folder."""
    return given or os.environ.get(STORE_VARIABLE) or DEFAULT_STORE


def user_name(given: str | None = None) -> str:
    """Who is at the keyboard, for the audit log: the option, QC_USER, else the log-in name."""
    fallback = os.environ.get("USER") or os.environ.get("USERNAME") or "unknown"
    return given or os.environ.get(USER_VARIABLE) or fallback


def _check_zone(value: str) -> None:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            f"there is no time zone {value!r}; write it as Area/City, for example Europe/Lisbon"
        ) from None


def _check_number(wanted: Setting, value: str) -> None:
    try:
        number = float(value)
    except ValueError:
        number = float("nan")
    low = wanted.low if wanted.low is not None else float("-inf")
    high = wanted.high if wanted.high is not None else float("inf")
    if not low <= number <= high:
        raise InputError(f"{wanted.name} is {value!r}; allowed: {low:g} to {high:g} {wanted.unit}")
