"""The wording of Set-up: its parts, the fields of every list, the settings, the first run."""

from __future__ import annotations

import re
from collections.abc import Mapping

PARTS = {
    "fabrics": "Fabrics", "transfers": "Transfers", "recipes": "Recipes", "presses": "Presses",
    "placements": "Places on the garment", "kinds": "Kinds of defect", "jobs": "Jobs",
    "instruments": "Instruments", "people": "People", "budget": "Alarm budget",
    "settings": "Shop and settings",
}
PART_LEADS = {
    "fabrics": "What is pressed on: fibre, surface, weight, and the most heat it takes.",
    "transfers": "What is pressed: film, foam, flock, print.",
    "recipes": "Heat, time, pressure and peel for each fabric with each transfer.",
    "presses": "The machines, how far they may be off, and how often they are checked.",
    "placements": "Where a print goes, how far off it may sit, how large it is.",
    "kinds": "What can be wrong with a piece: the trade's list and your own.",
    "jobs": "What is to be pressed; each has a job sheet to print.",
    "instruments": "Probes and gauges, and how far they can be trusted.",
    "people": "Everybody named in the records, and when last.",
    "budget": "How many false flags a week the shop will bear, and what that costs in days.",
    "settings": "Name, time zone, shifts, units, tolerances, windows, costs.",
}
ALL_PARTS = "All of Set-up"
PARTS_LABEL = "Parts of Set-up"
COUNT = {"one": "{n} on the list", "none": "none yet"}
YOUR_NAME_WHY = "Kept on this device, and with what you change."
LOOKS_BACK_TITLE = "This page looks back"
LOOKS_BACK = "Lists and settings are changed on a page that shows now."

ONE_OF = {
    "fabrics": "fabric", "transfers": "transfer", "recipes": "recipe", "presses": "press",
    "placements": "place", "jobs": "job", "instruments": "instrument",
}
ADD = "Add {a} {one}"
ADD_TITLE = "A new {one}"
KEEP_NEW, KEEP_CHANGE = "Keep this {one}", "Keep the change"
KEEP_RECIPE = "Keep as version {n}"
NONE_TITLE = "No {one} yet"
NONE_HELP = "Add the first one here, or bring a file in with its list: qc load FILE"
NEEDS_TITLE, NEEDS = "Not yet", "A recipe is for a fabric with a transfer: add {what} first."
A_LISTED = {"fabrics": "a fabric", "transfers": "a transfer"}
FIND = "Find"
NEWEST_SHOWN = "The {shown} newest, those in the house first: write in Find what else you look for."
SHOWN_OF = "{shown} of {total}: write in Find what you look for."
NOT_FOUND = "Nothing here is called that."
VERSIONED = "A change is a new version with your name; the old ones stay readable below."
VERSIONED_USE = (
    " Nothing is deleted: what is no longer used can be put away, and used again."
)
VERSIONED_RECIPE = (
    "A change gets the next version number and counts from now, or from the time you write. The"
    " old version stays as it is: pieces pressed under it are held against it."
)
CODE_ONLY = "Known from a file alone: nothing but its code is written down yet."
NOT_YET_VALID = "counts later"
IN_FORCE = "in force"
KEPT_NEW, KEPT_CHANGED = "{what} is kept.", "{what} is kept as version {n}; the one before stays."
KEPT_SAME = "Nothing was different, so nothing was kept."
CAUTION, CAUTION_MORE = " ▲ Caution: {what}.", " {n} more such, named above."
NOT_KEPT = "Nothing is kept yet: see what is marked."
OTHER_FIELDS = "More"
HISTORY = "Its versions"
VERSION, ALL_OF_VERSION = "Version {n}", "All of version {n}"
FILLED_FROM = "The form is filled with version {n}: look it over, then keep it as a new version."
WRITE_AGAIN = "Write version {n} into the form again"
WRITTEN_BY = "{by}, {when}"
CHANGED_TO = "{field}: {before} → {after}"
NOTHING_SAID = "not said"
SHEET_PDF, SHEET_HTML = "Print the job sheet", "as a page"
CHANGED_HEAD = "Last change"
RANGE, RANGE_LOW, RANGE_HIGH = "{low} to {high}", "{low} or more", "up to {high}"
DEFAULT = "usually {default}"
TIME_HINT = "In the shop's time zone."

LABELS = {
    "fabric": "Fabric", "transfer": "Transfer", "press": "Press", "job": "Job",
    "instrument": "Instrument", "location": "Place on the garment", "name": "Name",
    "kind": "Kind", "version": "Version", "valid_from": "Counts from",
    "cotton_pct": "Cotton", "polyester_pct": "Polyester", "other_pct": "Other fibres",
    "surface": "Surface", "weight_gsm": "Weight", "heat_limit_c": "Most heat it takes",
    "temperature_c": "Temperature", "temperature_low_c": "Lowest temperature",
    "temperature_high_c": "Highest temperature", "dwell_s": "Time", "dwell_low_s": "Shortest time",
    "dwell_high_s": "Longest time", "pressure_kpa": "Pressure, gauge",
    "pressure_low_kpa": "Lowest pressure", "pressure_high_kpa": "Highest pressure",
    "pressure_dial": "Pressure, dial", "pressure_low_dial": "Lowest on the dial",
    "pressure_high_dial": "Highest on the dial", "pressure_class": "Pressure, in words",
    "peel": "Peel", "peel_wait_s": "Wait before the peel", "cover": "Cover",
    "second_press_s": "Second press", "heated_lower": "Lower platen heated",
    "platen_width_mm": "Platen, width", "platen_height_mm": "Platen, depth",
    "temperature_tolerance_c": "Mean may be off by", "uniformity_tolerance_c":
    "Hottest less coldest, at most", "check_every_days": "Days between checks",
    "uncertainty_c": "Uncertainty", "k": "Coverage factor k", "calibrated_at": "Calibrated",
    "due_at": "Calibration due", "sensor": "Class of sensor", "meter_c": "Part of the meter",
    "contact_c": "Part of the contact", "repeat_c": "Part of repeating", "ordered": "Ordered",
    "shipped_at": "Shipped", "reference": "Measured from", "part_measured": "Part of the print",
    "dx_tolerance_mm": "Sideways, each way", "dy_tolerance_mm": "Up or down, each way",
    "rotation_tolerance_deg": "Turned, each way", "print_width_mm": "Print, width",
    "print_height_mm": "Print, height", "platen_right_mm": "Centre right of the platen's",
    "platen_near_mm": "Centre nearer than the platen's",
}
"""What a field of the lists is called; a test asks for every one."""
HELP = {
    "fabric": "A short code, as on the bolt or the order.", "transfer": "A short code.",
    "press": "As it is called on the floor.", "job": "As on the order; a scanner types it.",
    "instrument": "As it is marked.", "location": "As people say it: left_chest, back.",
    "heat_limit_c": "Above this it glazes, melts or bleeds.",
    "valid_from": "Empty: from the beginning. A change without a time counts from now.",
    "pressure_kpa": "What the gauge shows. Gauge, dial and words are never converted.",
    "temperature_tolerance_c": "Mean of a survey from its setpoint, each way.",
    "uniformity_tolerance_c": "Over the points of one survey.",
    "k": "On the certificate, as a rule 2.",
    "sensor": "Without a certificate its class says how good it is.",
    "second_press_s": "Part of the recipe, not a repair.",
    "peel_wait_s": "From opening the press to the peel.",
    "platen_right_mm": "0: the print lies in the middle.",
    "reference": "Which seam or edge, as collar seam.",
    "part_measured": "Top edge, centre or bottom edge.",
    "shipped_at": "When the job left the house.",
    "cotton_pct": "Of the cloth, by weight.",
}
GROUPS = {
    "recipes": (
        ("For", ("fabric", "transfer")),
        ("Heat", ("temperature_low_c", "temperature_c", "temperature_high_c")),
        ("Time", ("dwell_low_s", "dwell_s", "dwell_high_s")),
        ("Pressure by the gauge", ("pressure_low_kpa", "pressure_kpa", "pressure_high_kpa")),
        ("Pressure by the dial, or in words",
         ("pressure_low_dial", "pressure_dial", "pressure_high_dial", "pressure_class")),
        ("Peel and what comes after", ("peel", "peel_wait_s", "cover", "second_press_s")),
    ),
}
"""Fields that stand together; a field that is in none stands behind them."""
COLUMNS = {
    "fabrics": ("name", "surface", "cotton_pct", "polyester_pct", "weight_gsm", "heat_limit_c"),
    "transfers": ("name", "kind"),
    "recipes": ("version", "temperature_c", "dwell_s", "pressure_kpa", "pressure_dial",
                "pressure_class", "peel"),
    "presses": ("name", "temperature_tolerance_c", "uniformity_tolerance_c", "check_every_days"),
    "placements": ("reference", "dx_tolerance_mm", "dy_tolerance_mm", "rotation_tolerance_deg"),
    "jobs": ("fabric", "transfer", "location", "ordered", "shipped_at"),
    "instruments": ("sensor", "uncertainty_c", "k", "due_at"),
}
"""What a list shows of each record, as far as anything is said."""

RETIRE, BRING_BACK = "No longer used", "Use it again"
RETIRE_KIND, BRING_BACK_KIND = "No longer used: {what}", "Use {what} again"
RETIRED_SINCE = "No longer used since {when}, {by}."
RETIRED_LIST = "No longer used ({n})"
RETIRE_MEANS = (
    "What is no longer used leaves the lists people choose from, the Bench and the board of"
    " presses. Records keep it, and it can be used again."
)
NOW_RETIRED, NOW_BACK = "{what} is no longer used.", "{what} is used again."

KIND_HEADS = ("Kind", "What it is", "How bad", "Whose")
TRADE, OWN_KIND = "the trade", "{by}, {when}"
KIND_LABEL, KIND_HELP = "What you call it", "Letters, digits and blanks, as: glue spots."
ADD_KIND, KEEP_KIND = "A kind of your own", "Keep this kind"
KIND_MEANS = (
    "It can then be recorded, charted and flagged like the others. Its name stays: records hold it."
)
KIND_KEPT = "{what} is on the list now."
PEOPLE_HEADS = ("Name", "Pieces pressed", "Looks taken", "Changes made", "Last seen")
PEOPLE_HELP = (
    "There is no log-in: a name is what somebody wrote. Looks and changes are counted over the"
    " newest {n} of each."
)
PEOPLE_NONE_TITLE, PEOPLE_NONE = "Nobody yet", "Names come with the records."

SETTING_LABELS = {
    "timezone": "Time zone", "shop_name": "Name of the shop", "shift_starts": "Shifts begin at",
    "false_flags_per_week": "Alarm budget", "baseline_from": "Usual rates rest on work since",
    "temperature_unit": "Temperatures in", "length_unit": "Lengths in",
    "pressure_unit": "Gauge pressures in", "probe_uncertainty_c": "Probe without a record",
    "guard_factor": "Guard band", "dwell_tolerance_s": "Timer may be off by",
    "pressure_tolerance_kpa": "Gauge may be off by", "dial_tolerance": "Dial may be off by",
    "defect_cost": "Cost of a piece with a defect", "currency": "Money",
    "recipe_temperature_window_c": "Temperature, each way",
    "recipe_dwell_window_s": "Time, each way",
    "recipe_pressure_window_kpa": "Gauge pressure, each way", "recipe_dial_window":
    "Dial, each way", "recipe_peel_wait_window_s": "Peel wait, each way",
    "survey_valid_days": "A survey speaks for",
}
SETTING_GROUPS = {
    "Name, zone and shifts": ("shop_name", "timezone", "shift_starts"),
    "Units": ("temperature_unit", "length_unit", "pressure_unit"),
    "Platens, timers and gauges": (
        "probe_uncertainty_c", "guard_factor", "survey_valid_days", "dwell_tolerance_s",
        "pressure_tolerance_kpa", "dial_tolerance"),
    "Windows where a recipe has none": (
        "recipe_temperature_window_c", "recipe_dwell_window_s", "recipe_pressure_window_kpa",
        "recipe_dial_window", "recipe_peel_wait_window_s"),
    "Costs": ("defect_cost", "currency"),
}
BUDGET_SETTINGS = ("false_flags_per_week", "baseline_from")
CHOICE_WORDS = {
    "c": "°C", "f": "°F", "mm": "mm", "in": "inches", "kpa": "kPa", "psi": "psi", "bar": "bar",
}
KEEP_SETTINGS = "Keep these settings"
SETTINGS_KEPT = "Kept: {names}."
SETTINGS_HISTORY = "What was changed"
SETTINGS_HISTORY_NONE = "Nothing was changed yet: all is as it came."
SETTINGS_HEADS = ("When", "Setting", "Before", "After", "By")
AS_IT_CAME = "{value}, as it came"
ZONE_CAUTION = (
    "What is recorded keeps its moment; times in files without an offset are read in the new zone"
    " from then on."
)
COST_TITLE = "What the choice costs"
COST_WORDS = (
    "{false} false flags a week over all {streams} streams: one in {every}. A doubling of the most"
    " common defect at an ordinary press is typically seen within {days} of work."
)
COST_UNKNOWN = (
    "{false} false flags a week over all streams: one in {every}. Too little is recorded to say"
    " how soon a doubling would be seen."
)
COST_HEADS = ("False flags a week", "That is one in", "A doubling is seen within", "")
COST_CHOSEN, COST_TAKE = "● chosen", "Take {per_week} a week"
COST_TAKEN = "Written above; keep the settings to put it in force."
COST_LATER = "more than a quarter of a year"
COST_STREAMS = "By stream, as it is chosen now"
STREAM_HEADS = ("Stream", "Defect", "Usual a day", "A doubling is seen within")
COST_SOURCE = (
    "Days of work until a doubled rate is flagged in half the cases, at the traffic and the usual"
    " rates of the last four weeks; gamma-Poisson windows of every length. Other choices are"
    " reckoned on the changes found under the one in force."
)
DAYS, DAY = "{n} days", "1 day"
MOST_STREAMS_NOTE = "The {n} busiest of {total}."

GUIDE_TITLE = "From nothing to the first record"
GUIDE_LEAD = "Four steps, about two minutes. What you skip can be filled in later."
GUIDE_STEPS = {
    "shop": "The shop", "press": "One press", "material": "One fabric, one transfer",
    "record": "The first piece",
}
GUIDE_DONE, GUIDE_NEXT, GUIDE_LATER = "done", "now", "after that"
GUIDE_KEEP = "Keep and go on"
GUIDE_PRESS_HELP = "Its tolerances and checks can follow under Presses."
GUIDE_RECIPE = "With its recipe, if you have the sheet at hand"
GUIDE_RECIPE_HELP = "The transfer supplier's sheet and the press maker's manual come first."
GUIDE_RECORD = "Record a piece at the Bench, or bring in the sheets you have."
GUIDE_BENCH, GUIDE_RECORDS = "Record the first piece", "Bring in a file"
GUIDE_DEMO = "Only looking? This opens an invented shop with ninety days of work:"
GUIDE_DEMO_COMMAND = "qc demo"
SHOP_NEEDS_NAME = "it needs a name; what is over the door will do"
GUIDE_LINK = "Nothing is recorded yet. Step {n} of 4: {step}"
GUIDE_GO = "Go on"
GUIDE_LIKELY = {
    "press": ("P1", "Left press", "Right press"),
    "fabric": ("cotton jersey", "cotton fleece", "cotton-polyester fleece", "polyester sports knit",
               "rib", "canvas"),
    "transfer": ("cut film", "foam film", "flock", "full-colour print", "powder print", "plastisol",
                 "sublimation", "reflective film"),
}
"""What may be meant, to be tapped; anything else can be written."""


def setting_words(name: str, kind: str, value: str, symbol: str) -> str:
    """A setting with what it is now, as one says it: temperatures in °F."""
    label = SETTING_LABELS[name]
    if kind == "choice":
        return f"{label} {CHOICE_WORDS[value]}"
    return f"{label}: {value.replace('_', ' ') if kind == 'zone' else value} {symbol}".rstrip(" :")


def one_of(kind: str) -> str:
    """A record of a list, in the singular."""
    return ONE_OF[kind]


def add_words(kind: str) -> str:
    """The way to one more record of a list."""
    one = one_of(kind)
    return ADD.format(a="an" if one[0] in "aeiou" else "a", one=one)


def field_label(name: str) -> str:
    """What a field is called; a field nobody named is its name with blanks."""
    return LABELS.get(name, name.replace("_", " ").capitalize())


def code_words(code: str) -> str:
    """A code of a choice as people read it."""
    return code.replace("_", " ")


def in_form(message: str, labels: Mapping[str, str]) -> str:
    """A message about columns, in the names the form gives them."""
    told = message
    if labels:
        names = "|".join(sorted(map(re.escape, labels), key=len, reverse=True))
        told = re.sub(rf"\b(?:{names})\b", lambda found: _inside(labels[found[0]]), message)
    return told[:1].upper() + told[1:]


def _inside(label: str) -> str:
    """A label inside a sentence."""
    return label[:1].lower() + label[1:]
