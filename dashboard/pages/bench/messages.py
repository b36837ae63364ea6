"""What the bench and the server say to each other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from dashboard import formats, text
from dashboard.formats import Clock
from dashboard.text import bench as words
from qc.desk.bench import BenchLists, JobStanding
from qc.desk.flag_words import units_of_shop
from qc.desk.heat_limits import heat_caution
from qc.desk.recording import ACTIONS, Entry, Outcome
from qc.desk.shares import is_above
from qc.desk.shop import Shop
from qc.domain.flags import Flag
from qc.domain.kinds import WITHOUT_PLACE, defect_kinds, plain_name, suggested_disposition
from qc.domain.platens import PlatenHealth
from qc.domain.records import INSPECTIONS, STAGES, Field
from qc.errors import InputError
from qc.units import ShopUnits, from_stored, unit

SETTINGS = ("temperature_c", "dwell_s", "pressure_kpa", "pressure_dial", "peel_wait_s")
"""What the bench asks of the press's settings."""
_TEXT_LIMIT = 200


def lists_message(lists: BenchLists, shop: Shop, *, now_us: int, live: bool) -> dict[str, Any]:
    """What can be chosen, and what is known of it."""
    return {
        "now_ms": now_us / 1000, "live": live,
        "presses": _named(lists.presses), "fabrics": _named(lists.fabrics),
        "transfers": _named(lists.transfers),
        "places": {place: _place(known) for place, known in lists.places.items()},
        "jobs": {one.job: one.fields | {"ordered": one.ordered} for one in lists.jobs},
        "seen": {name: list(levels) for name, levels in lists.seen.items()},
        "kinds": {code: _kind(code) for code in lists.kinds},
        "settings": [_setting(name, units_of_shop(shop)) for name in SETTINGS],
        "measures": [_measure(name, units_of_shop(shop)) for name in words.MEASURES],
    }


def in_use_only(
    lists: BenchLists, gone: Mapping[str, Mapping[str, object]]
) -> BenchLists:
    """The lists without what is no longer used (by list and code)."""
    def left(known: dict[str, Any], kind: str) -> dict[str, Any]:
        return {code: value for code, value in known.items() if code not in gone[kind]}

    return replace(
        lists, presses=left(lists.presses, "presses"), fabrics=left(lists.fabrics, "fabrics"),
        transfers=left(lists.transfers, "transfers"), places=left(lists.places, "placements"),
        kinds=tuple(code for code in lists.kinds if code not in gone["kinds"]))


def standing_message(
    standing: JobStanding, recipe: Mapping[str, Any] | None, shop: Shop, *, job: str, now_us: int
) -> dict[str, Any]:
    """How the job stands, in words and on a strip, and what its recipe asks."""
    top = max(1.6 * max(standing.share or 0.0, standing.usual or 0.0, standing.high or 0.0), 0.05)
    return {
        "now_ms": now_us / 1000, "when": Clock(shop.zone).time(now_us), "loose": not job,
        "n": standing.n_pieces, "bad": standing.n_defective,
        "share": None if standing.share is None else formats.share(standing.share),
        "low": formats.share(standing.low), "high": formats.share(standing.high),
        "usual": None if standing.usual is None else formats.share(standing.usual),
        "above": is_above(standing.n_defective, standing.n_pieces, standing.usual),
        "strip": {name: None if value is None else min(value / top, 1.0) for name, value in (
            ("at", standing.share), ("low", standing.low), ("high", standing.high),
            ("usual", standing.usual))},
        "kinds": list(standing.kinds),
        "again": [{
            "piece": one.piece_id, "attempt": one.attempt, "location": one.location,
            "stage": one.stage, "kinds": [kind for kind, _ in one.found],
            "faults": "; ".join(_found(*each) for each in one.found),
            "pressed": words.PRESSED_AT.format(
                when=Clock(shop.zone).short_minute(one.pressed_at_us), press=one.press),
        } for one in standing.again],
        "recipe": None if recipe is None else _recipe(recipe, shop),
    }


def _found(kind: str, zone: str | None) -> str:
    name = plain_name(kind).lower()
    return f"{name}, {words.ZONE_WORDS[zone]}" if zone else name


def signs_message(
    flags: tuple[Flag, ...], platens: tuple[PlatenHealth, ...], clock: Clock
) -> list[dict[str, str]]:
    """What speaks against the press or what it runs: each a tone, words and where to look."""
    found = []
    for one in platens:
        tone, state = text.PLATEN_STATE_WORDS[one.state]
        if tone in ("alarm", "watch"):
            found.append({"tone": tone, "words": words.PLATEN_SIGN.format(
                platen=text.with_capital(text.PLATEN_WORDS[one.platen]), state=state.lower()),
                "href": f"/presses?press={one.press}&platen={one.platen}"})
    return found + [{
        "tone": "alarm", "href": f"/cases?flag={flag.id}", "words": words.FLAG_SIGN.format(
            what=text.flag_headline(flag), since=clock.day(flag.changed_at_us))} for flag in flags]


def outcome_message(one: Outcome, shop: Shop) -> dict[str, Any]:
    """What became of an entry; a field is called as on the page."""
    why = one.why
    for written, label in _labels(shop).items():
        why = why.replace(written, label)
    return {"name": one.name, "kept": one.kept, "why": text.with_capital(why),
            "taken": one.taken, "version": one.version}


def _labels(shop: Shop) -> dict[str, str]:
    fields = [*(_setting(name, units_of_shop(shop)) for name in SETTINGS),
              *(_measure(name, units_of_shop(shop)) for name in words.MEASURES)]
    return {one["name"]: one["label"].lower() for one in fields}


def read_entries(message: Any) -> tuple[str, list[Entry], list[Outcome]]:
    """The device, its entries, and those refused because they cannot be read; from what a browser
    sent.

    Raises
    ------
    InputError
        It is not what the bench sends.
    """
    if not isinstance(message, dict) or not isinstance(message.get("entries"), list):
        raise InputError("entries are missing; the bench sends a list of them")
    entries: list[Entry] = []
    refused: list[Outcome] = []
    for one in message["entries"]:
        if not isinstance(one, dict):
            raise InputError("an entry is not an object")
        name = _text(one, "name")
        try:
            entries.append(_entry(one, name))
        except InputError as error:  # it must not keep those behind it waiting
            refused.append(Outcome(name=name, kept=False, why=str(error)))
    return _text(message, "device"), entries, refused


def _entry(one: Mapping[str, Any], name: str) -> Entry:
    fields, attempt, version = one.get("fields", {}), one.get("attempt", 1), one.get("version", 1)
    if not isinstance(fields, dict) or not all(
            isinstance(name, str) and isinstance(value, str) for name, value in fields.items()):
        raise InputError("an entry's fields are texts by name")
    if not isinstance(attempt, int) or not isinstance(version, int) or version < 1:
        raise InputError("attempt and version are whole numbers from 1")
    action, stage, by = _text(one, "action"), _text(one, "stage"), _text(one, "by").strip()
    if action not in ACTIONS or stage not in STAGES:
        raise InputError(f"action is {action!r} and stage {stage!r}; allowed actions: "
                         f"{', '.join(ACTIONS)}; stages: {', '.join(STAGES)}")
    if not by:
        raise InputError("by is empty; every entry says who looked")
    return Entry(name=name, action=action, piece_id=_text(one, "piece_id"),
                 attempt=attempt, location=_text(one, "location") or None, stage=stage, by=by,
                 fields=fields, version=version)


def _text(one: Mapping[str, Any], name: str) -> str:
    value = one.get(name) or ""
    if not isinstance(value, str) or len(value) > _TEXT_LIMIT:
        raise InputError(f"{name} is not a text of at most {_TEXT_LIMIT} letters")
    return value


def _named(codes: Mapping[str, str | None]) -> dict[str, str]:
    return {code: name or code for code, name in codes.items()}


def _place(known: Mapping[str, Any]) -> dict[str, Any]:
    return {"dx": known.get("dx_tolerance_mm"), "dy": known.get("dy_tolerance_mm"),
            "turn": known.get("rotation_tolerance_deg"), "reference": known.get("reference"),
            "width": known.get("print_width_mm"), "height": known.get("print_height_mm")}


def _kind(code: str) -> dict[str, Any]:
    kind = defect_kinds().get(code)
    start = {"name": plain_name(code), "placed": code not in WITHOUT_PLACE,
             "first": suggested_disposition([code]),
             "again": suggested_disposition([code], attempt=2)}
    if kind is None:
        return start | {"what": "", "usual": "", "check": "", "mm": False, "good": "",
                        "not_good": "", "measure": ""}
    return start | {
        "what": kind.definition, "usual": kind.usual_disposition,
        "check": kind.first_checks.split(";")[0].strip(), "mm": "mm" in kind.unit,
        "good": kind.good, "not_good": kind.not_good, "measure": kind.how_to_measure,
    }


def _setting(name: str, units: ShopUnits) -> dict[str, Any]:
    """A field of the settings: its name as written with the shop's unit, label and unit."""
    field = INSPECTIONS.by_name[name]
    label = {"temperature_c": words.TEMPERATURE, "dwell_s": words.DWELL,
             "pressure_kpa": words.GAUGE, "pressure_dial": words.DIAL,
             "peel_wait_s": words.PEEL_WAIT}[name]
    if not field.units:
        return {"name": name, "label": label, "unit": ""} | _bounds(field, "")
    suffix = units.suffix(field.kind)
    return {"name": f"{field.base}_{suffix}", "label": label,
            "unit": unit(field.kind, suffix).symbol} | _bounds(field, suffix)


def _bounds(field: Field, suffix: str) -> dict[str, Any]:
    """From where to where a number can be right, as the page writes it; None: no end."""
    return {name: None if end is None
            else float(from_stored(end, field.kind, suffix)) if suffix else end
            for name, end in (("low", field.low), ("high", field.high))}


def _measure(name: str, units: ShopUnits) -> dict[str, Any]:
    field = INSPECTIONS.by_name[name]
    suffix = units.suffix(field.kind)
    return {"name": f"{field.base}_{suffix}",
            "label": words.MEASURES[name].format(unit(field.kind, suffix).symbol),
            } | _bounds(field, suffix)


def _recipe(recipe: Mapping[str, Any], shop: Shop) -> dict[str, Any]:
    """What a recipe asks: by field as the bench writes it, and in one line; with a caution where
    that is more heat than the fabric takes."""
    units, too_hot = units_of_shop(shop), heat_caution(shop, recipe)
    values: dict[str, str] = {}
    shown: dict[str, tuple[str, str]] = {}
    for name in SETTINGS:
        if recipe.get(name) is None:
            continue
        field, setting = INSPECTIONS.by_name[name], _setting(name, units)
        suffix = units.suffix(field.kind) if field.units else ""
        value = from_stored(float(recipe[name]), field.kind, suffix) if suffix else recipe[name]
        values[setting["name"]] = f"{float(value):.4g}"
        shown[name] = values[setting["name"]], setting["unit"]
    parts = [words.RECIPE_PARTS[part].format(*shown[name]) for part, name in (
        ("temperature", "temperature_c"), ("dwell", "dwell_s"), ("pressure", "pressure_kpa"))
        if name in shown]
    parts += [words.RECIPE_PARTS[part].format(recipe[part].replace("_", " "))
              for part in ("peel", "cover") if recipe.get(part)]
    said = [words.RECIPE_TOO_HOT.format(too_hot)] if too_hot else []
    return {"values": values, "words": ". ".join([", ".join(parts), *said])}
