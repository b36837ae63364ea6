"""Wording of the documents; that of the records of a job and a shift is in `wording_of_records`.

Plain trade words; numbers and times come in already formatted.
"""

from __future__ import annotations

from collections.abc import Iterable

from qc.domain.flags import FactorShare
from qc.domain.platens import HOT_PLATEN_CAUTION, LOCK_OUT_CAUTION
from qc.domain.whereabouts import STATUS_WORDS

NOT_SAID = "not said"

FACTOR_WORDS = {
    "press": "press {}", "station": "station {}", "operator": "operator {}",
    "transfer_lot": "transfer lot {}", "garment_lot": "garment lot {}", "fabric": "fabric {}",
    "transfer": "transfer {}", "location": "place {}", "size": "size {}",
    "zone": "{} of the print", "time_since_start": "time since start {}",
}
WHOLE_SHOP = "the whole shop"
PLATEN_WORDS = {"upper": "upper platen", "lower": "lower platen"}
DISPOSITION_WORDS = {
    "pass": "passed", "press_again": "press again", "scrap": "scrap", "hold": "on hold",
    "concession": "let through by agreement",
}

HOLD_TITLE = "Hold list: {where}"
KNOWN_UP_TO = "As known on {when} ({zone}). Flag {flag}."
KNOWN_AND_WHERE = (
    "Pieces as known on {when}, where they are as of {now} ({zone}). Flag {flag}."
)

WHAT, SINCE, SURE, STATE, SEEN, TOUCHED = (
    "What is off", "Since", "How sure", "Now", "First seen", "Pieces",
)
SINCE_BETWEEN = "{when}; with 90 % confidence between {first} and {last}"
STATE_OPEN, STATE_OVER = "still going on", "over since {when}"
PIECES_FROM_TO = "{n}, pressed between {first} and {last}"
PIECES_NONE = "none: no piece was pressed in the time concerned"

FIRST_STEP = "Do this first"
ON_THE_SHELVES = "On the shelves"
SHELVES = (
    "Find each piece, tick it and put it with the held pieces. Nothing on this list ships or is "
    "pressed again before the person who may release it has decided. If a piece is gone (shipped, "
    "scrapped, not found), write that beside it.\n"
    "Pieces that passed are on the list as well: they were pressed under the same conditions, and "
    "a weak bond may show only after a day or a wash."
)
DOUBT = "The cause is not settled"
DOUBT_WORDS = (
    "This list holds the pieces of {listed}. Should {others} be the cause, pieces that are not on "
    "it are touched too: look at the flag again before anything is released."
)
HOT = "Before anyone touches a press"
HOT_WORDS = HOT_PLATEN_CAUTION
WARM = "If a piece is pressed again or a press is checked"
WARM_WORDS = (
    "Going through the shelves needs no press. Pressing again and checking a setting do: platens "
    "burn at the first touch and closing presses crush. Only people trained on that press, gloves "
    "on, hands out of the closing path; fresh air where something smells or smokes. The press "
    "maker's manual, the transfer supplier's sheet, local codes and your site rules come first."
)

ORDER_TITLE = "Service order {number}: {platen}"
ORDER_KNOWN = "Opened {opened} by {by}. As known on {when} ({zone})."
ORDER_STATE, ORDER_WHY, ORDER_OWNER, ORDER_DUE = "Next", "Why", "Owner", "Due"
AS_FOUND, AS_LEFT, CHECK_SURVEY = "As found", "As left", "Check"
NOT_YET = "not yet"
LOCK_OUT, LOCK_OUT_WORDS = "Before anyone opens the machine", LOCK_OUT_CAUTION
ORDER_STEPS, ORDER_STEPS_NOTE = "What to do, in this order", "Tick, and write figures beside it."
ORDER_STEP, ORDER_FIGURES, ORDER_DONE = "Step", "Figures, name, time", "Done"
ORDER_DO = (
    "Survey as found, before anybody touches a setting: soaked 15 to 45 minutes after the display"
    " first reaches its set value, at the points of the last survey, with an instrument in date.",
    "If it is out: stop the press, hold the pieces since the last good check (listed when the"
    " survey is in), lock out, then adjust or repair.",
    "Survey as left, in the same state and with the same instrument.",
    "If it is in tolerance: guards back, first piece approved, close the order. If not: again from"
    " the second line.",
)
ORDER_GRID, ORDER_GRID_NOTE = "Readings", (
    "Row 1 is the far edge, column 1 the operator's left. Setpoint, instrument, time, name: "
    "write them above."
)
ORDER_ROW, ORDER_COLUMN = "Row", "Column {}"
ORDER_PIECES = "Pressed since the last good check"
ORDER_HISTORY, ORDER_WHEN, ORDER_WHO, ORDER_WHAT = "What was done", "When ({zone})", "Who", "What"

RECORD_TITLE = "Calibration record: press {press}"
RECORD_PERIOD = "From {since} to {until} ({zone}). Temperatures in {unit}."
RECORD_FROM_FIRST = "the first record"
RECORD_PLATEN, RECORD_STATE, RECORD_TOLERANCES = "Platen", "As it stands", "Tolerances"
RECORD_TOLERANCE_WORDS = (
    "mean within ±{mean} of the setpoint, hottest less coldest at most {spread}"
)
RECORD_RULE, RECORD_RULE_WORDS = "Rule", (
    "{rule} at its limit (ILAC-G8:09/2019); the chance that a true value is beyond its tolerance"
    " stands beside each survey (JCGM 106:2012)"
)
RECORD_DUE = "Next check"
RECORD_SURVEYS = "Surveys"
RECORD_SURVEYS_NOTE = (
    "Mean: of readings less setpoint. Uncertainty of the probe: expanded, k = 2. Risk: chance that"
    " a true value is beyond its limit."
)
RECORD_INSTRUMENTS, RECORD_ORDERS = "Instruments", "Service orders"
RECORD_CHECKS = "Timers and gauges, latest round"
RECORD_COLUMNS = {
    "platen": "Platen", "measured_at": "Measured ({zone})", "state": "State",
    "survey_id": "Survey", "instrument": "Instrument", "uncertainty": "U",
    "setpoint": "Setpoint", "offset": "Mean", "spread": "Spread", "points": "Points",
    "decision": "Decision, with its risk", "entered_by": "Entered by",
    "parts": "What its uncertainty is made up of", "calibrated_at": "Calibrated",
    "due_at": "Due", "order": "Order", "opened_at": "Opened ({zone})", "why": "Why",
    "done": "Done", "pieces": "Pieces meanwhile", "what": "What", "set_to": "Set to",
    "off_by": "Off by", "tolerance": "Tolerance",
}
SURVEY_STATE_WORDS = {"routine": "routine", "as_found": "as found", "as_left": "as left"}

JOB_TITLE = "Job sheet: {job}"
JOB_KNOWN = "As known on {when} ({zone})."
JOB_FABRIC, JOB_TRANSFER, JOB_PLACE = "Fabric", "Transfer", "Place"
JOB_ORDERED, JOB_HEAT_LIMIT = "Ordered", "Most heat it takes"
FIBRES = {"cotton_pct": "cotton", "polyester_pct": "polyester", "other_pct": "other fibres"}
JOB_REFERENCE, JOB_PART = "measured from {reference}", "to its {part}"
JOB_OFF = {"dx_tolerance_mm": "sideways within {off}", "dy_tolerance_mm": "up or down within {off}",
           "rotation_tolerance_deg": "turned within {off}"}
JOB_SCAN = "Scan into the job field of the Bench"
JOB_QR_WORDS = "A QR code; its text is {job}"
JOB_QR_SOURCE = "The code's text is: {job}"
JOB_FIRST = (
    "The transfer supplier's sheet and the press maker's manual come before this recipe. Soak the "
    "press, then have one cooled piece approved before the run."
)
JOB_TOO_HOT = "The heat of the recipe is in question"
JOB_TOO_HOT_WORDS = (
    "{what}. Do not press the run before whoever keeps the recipes has said what is right; try it "
    "on waste of the same cloth."
)
JOB_NO_RECIPE = "No recipe counts for this fabric with this transfer"
JOB_NO_RECIPE_WORDS = (
    "Set the press by the transfer supplier's sheet and the press maker's manual, try it on waste "
    "of the same cloth, and write down what was set: it can become the recipe."
)
JOB_TABLE, JOB_SINCE = "Recipe, version {version} by {by}", "counts since {when}"
JOB_TABLE_EMPTY = "As set"
JOB_NOTE = (
    "Gauge, dial and words never stand for each other. Write down what the press shows."
)
JOB_COLUMNS = {"setting": "Setting", "set_to": "Set to", "from": "From", "to": "To",
               "as_set": "As set"}
JOB_SETTINGS = {
    "temperature_c": "Temperature", "dwell_s": "Time", "pressure_kpa": "Pressure, gauge",
    "pressure_dial": "Pressure, dial", "pressure_class": "Pressure, in words", "peel": "Peel",
    "peel_wait_s": "Wait before the peel", "cover": "Cover", "second_press_s": "Second press",
}

CALL = "Shipped already: call the customer?"
CALL_WORDS = (
    "{n} pieces have left the house. Whether the customer is told, and whether they come back, is "
    "for the person who may decide it; the jobs are below, those with most defects first. Write "
    "down who was called and when."
)
SHIPPED_BY_JOB, CALLED = "Shipped, by job", "Called"
BY_STATUS = "Where they are now"
BY_JOB, BY_PRESS, BY_DISPOSITION = "On the racks, by job", "By press", "By what became of them"
PIECES = "Pieces to hold"
PIECES_NOTE = (
    "Ordered by job, then by the time of pressing; what was scrapped or shipped comes last."
)
PIECES_COUNT = "Pieces"
WITH_DEFECT = "With a defect"
FIRST_PRESSED, LAST_PRESSED = "First pressed", "Last pressed"
FOUND = "Found"
COLUMN_WORDS = {
    "piece_id": "Piece", "location": "Place", "job": "Job", "press": "Press",
    "operator": "Operator", "transfer_lot": "Transfer lot", "garment_lot": "Garment lot",
    "status": "Where it is", "shipped_at": "Shipped at ({zone})",
    "pressed_at": "Pressed at ({zone})", "disposition": "What became of it", "defects": "Defects",
}


def where(share: FactorShare) -> str:
    """A candidate cause as it stands inside a sentence."""
    if share.level is None:
        return WHOLE_SHOP if share.name == "shop" else f"{share.name.replace('_', ' ')} {NOT_SAID}"
    level = share.level.replace("_", " ") if share.name == "zone" else share.level
    return FACTOR_WORDS.get(share.name, share.name.replace("_", " ") + " {}").format(level)


def listed(words: Iterable[str], last: str = "and") -> str:
    """Words in a row: a, b and c."""
    *head, end = words
    return f"{', '.join(head)} {last} {end}" if head else end


def disposition(code: str) -> str:
    return DISPOSITION_WORDS.get(code, code.replace("_", " "))


def status(code: str) -> str:
    return STATUS_WORDS.get(code, code.replace("_", " "))


def place(code: str) -> str:
    return code.replace("_", " ")


def survey_state(code: str) -> str:
    return SURVEY_STATE_WORDS.get(code, code)

RANKING_TITLE = "Where the defects are: by {by}"
RANKING_AND = " and "
RANKING_UNDER = "{what}, pressed {period}. As known on {when} ({zone})."
RANKING_ALL, RANKING_SINCE = "over all records", "since {since}"
RANKING_ANY, RANKING_KINDS = "All kinds of defect", "Only {kinds}"
RANKING_LIST = "Ranking"
RANKING_FACTS = ("Pieces looked at", "Defects", "More than their mix explains")
RANKING_NONE_OUT = "none by more than luck"
RANKING_HOW = "How to read it"
RANKING_HOW_WORDS = (
    "Defects are pairs of a piece and a kind: a piece with two kinds is in two rows. Expected is"
    " what the shop's usual rates give the same mix of {mix}; the ratio is"
    " defects over expected, with its exact 95 % interval (Garwood, 1936). 'Stands out' allows for"
    " how many rows were compared (Benjamini & Hochberg, 1995): one in twenty of those named may be"
    " luck."
)
RANKING_MIX = {"fabric": "fabrics", "transfer": "transfers", "location": "places"}
RANKING_COLUMNS = {
    "n_defects": "Defects", "share": "Of all", "cumulative": "Running sum", "n_pieces": "Pieces",
    "rate": "A piece", "expected": "Expected", "ratio": "Ratio", "ratio_low": "Ratio, low end",
    "ratio_high": "Ratio, high end", "cost": "Cost", "stands_out": "Stands out",
}
RANKING_COST = "Cost, {currency}"
RANKING_VERDICTS = {"more": "more than its mix", "fewer": "fewer than its mix", "": ""}
DIMENSION_WORDS = {
    "location": "place on the garment", "operator": "person", "transfer_lot": "transfer lot",
    "garment_lot": "garment lot", "zone": "place on the print",
}
