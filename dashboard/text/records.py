"""The wording of the records. Plain trade words; numbers come in formatted."""

from __future__ import annotations

import re
from collections.abc import Mapping

from dashboard import text
from qc.desk.loading import WrongCell
from qc.domain.kinds import plain_name

# looks: what is shown and found ------------------------------------------------------------
SWITCH = "What to do with records"
SHOW_LOOKS, SHOW_FILES = "Looks", "Bring files in"
FIND = "Narrow"
FIND_COUNT = "Narrow ({n})"
FROM_DAY, TO_DAY = "Pressed from", "to, that day included"
QUICK_PERIODS = {"7": "7 days", "30": "30 days", "90": "90 days", "all": "All there is"}
QUICK_LABEL = "Pressed in the last"
FIND_LABELS = {
    "piece": "Piece", "defect": "Defect", "zone": "Place on the print", "press": "Press",
    "station": "Station", "fabric": "Fabric", "transfer": "Transfer",
    "location": "Place on the garment", "size": "Size", "job": "Job", "operator": "Person",
    "transfer_lot": "Transfer lot", "garment_lot": "Garment lot",
    "disposition": "What is done with it", "shift": "Shift",
    "first": "Pressing",
}
ONLY_FIRST = "the first, as rates count"
ANY_DEFECT, SAID_NOTHING = "Any defect", "Not said"
EXACTLY = "exactly as written"
CLEAR = "Show all looks"
CHIP_OFF = "{name}: {level}. Take this away"
CHIP_SINCE, CHIP_UNTIL = "Pressed from", "Pressed before"
COUNTED = "{n} looks at {pieces} pieces"
COUNTED_ONE = "1 look"
COUNTED_MORE = "More than {n} looks"
COUNTED_SOME = "{n} looks found so far; counting all would take longer"
COUNTED_NONE = "No look fits"
NONE_HELP = "Take something away from what is asked, or show all looks."
NONE_BACKWARDS = "The period ends before it begins. Change one of its two days, or take one away."
TAKEN_BACK_HERE_ONE = "1 look at this piece was taken back; it counts no more:"
TAKEN_BACK_HERE = "{n} looks at this piece were taken back; they count no more:"
COUNT_MEANS = (
    "A piece may have several looks: after peeling, final, after a wash, and after pressing again."
    " Each is shown as it stands {when}; earlier versions are kept with it. Rates elsewhere count a"
    " piece once, by its first pressing."
)
AGAIN = "Look again"
NOT_SORTED = (
    "Too many looks to sort by {by}: they are in order of time. Narrow the list to at most {most}."
)
GRID_LABEL = "Looks at pieces"
OPEN_LOOK = "Open the look at {piece}"
GRID_WAITS = "Getting the list ready…"
COLUMNS = (
    ("piece", "Piece", 190), ("findings", "Found", 260), ("pressed_at", "Pressed", 180),
    ("disposition", "Done with it", 140), ("press", "Press", 115), ("fabric", "Fabric", 140),
    ("transfer", "Transfer", 140), ("location", "Place", 120), ("job", "Job", 110),
    ("operator", "Person", 110), ("transfer_lot", "Transfer lot", 125),
    ("garment_lot", "Garment lot", 125), ("size", "Size", 85), ("station", "Station", 95),
    ("look", "Look", 170), ("inspected_at", "Looked at", 180), ("version", "Version", 130),
)
STAGE_WORDS = {
    "after_peel": "after peeling", "final": "final", "after_24h": "after 24 h",
    "wash": "after a wash", "customer": "at the customer",
}
ATTEMPT = "{stage}, pressing {n}"
OF_BLOCK = "{bad} of {n} pieces"
CORRECTED = "corrected ({n})"
TAKE_CSV, TAKE_XLSX = "All as CSV", "All as XLSX"
TAKE_MEANS = (
    "What is found, in stored units, one row for each look; both files can be loaded again."
    " XLSX holds at most {most} looks."
)
TOO_MANY_FOR_XLSX = (
    "More than {most} looks: an XLSX of them would not be handy. Narrow the list, or take the CSV."
)
EMPTY_TITLE = "No looks yet"
EMPTY_HELP = "The first records get in by one of two ways."
EMPTY_WAYS = (
    ("Bring a file in", "/records?show=files",
     "Three months of inspection sheets, as CSV or XLSX, are enough to start."),
    ("Record at the bench", "/bench", "Every finished piece in two taps, from now on."),
)
EMPTY_DEMO = ("Or look around first: qc demo builds an invented shop in a file of its own.")

# one look -----------------------------------------------------------------------------------
BACK_TO_LIST = "Back to the list"
LOOK_TITLE = "Piece {piece}"
LOOK_UNDER = "{stage}, {place}, {when}"
NO_PLACE = "no place said"
FIELD_WORDS = {
    "piece_id": "Piece", "attempt": "Pressing", "inspected_at": "Looked at",
    "pressed_at": "Pressed", "stage": "Look", "press": "Press", "station": "Station",
    "fabric": "Fabric", "transfer": "Transfer", "location": "Place on the garment",
    "size": "Size", "job": "Job", "garment_lot": "Garment lot", "transfer_lot": "Transfer lot",
    "operator": "Person", "inspector": "Looked at by", "temperature_c": "Temperature shown",
    "temperature_lower_c": "Lower platen shown", "dwell_s": "Dwell",
    "prepress_s": "Press before", "second_press_s": "Second press",
    "pressure_kpa": "Gauge pressure", "pressure_dial": "Pressure dial",
    "pressure_class": "Pressure, by feel",
    "peel_wait_s": "Wait before peeling", "cover": "Cover", "dx_mm": "Off to the right",
    "dy_mm": "Off downwards", "rotation_deg": "Turned clockwise",
    "disposition": "Done with it", "pieces": "Pieces", "defective": "Pieces with a defect",
    "note": "Note", "defects": "Found",
}
GROUPS = (
    ("Work", ("pressed_at", "inspected_at", "press", "station", "job", "operator", "inspector")),
    ("Garment and print", ("fabric", "garment_lot", "size", "transfer", "transfer_lot",
                           "location")),
    ("Set at the press", ("temperature_c", "temperature_lower_c", "dwell_s", "pressure_kpa",
                          "pressure_dial", "pressure_class", "prepress_s", "second_press_s",
                          "peel_wait_s", "cover")),
    ("Where the print sits", ("dx_mm", "dy_mm", "rotation_deg")),
    ("Outcome", ("disposition", "pieces", "defective", "note")),
)
NOT_SAID_HERE = "Not said: {names}."
FOUND_TITLE, FOUND_NOTHING = "What was found", "No defect."
FINDING_SIZE = "{extent} {unit}"
FINDING_COUNT = "{n} times"
FINDING_PIECES = "on {n} pieces"
VERSIONS_TITLE = "Versions"
VERSION_FIRST = "As first recorded"
VERSION_N = "Version {n}"
VERSION_BY = "{by}, {when}"
VERSION_WHY = "Why: {why}"
NOTHING = "nothing"
OTHERS_TITLE = "Other looks at this piece"
OTHERS_NONE = "This is the only one."
OTHER = "{stage}, {place}, {when}"
NO_SUCH_LOOK_TITLE = "There is no such look"
NO_SUCH_LOOK_HELP = "The link may be old or cut short. Find the piece in the list."

# correcting ---------------------------------------------------------------------------------
FIX = "Correct this look"
FIX_LEAD = (
    "Write over what is wrong; what you leave alone stays as it is. The version before stays"
    " readable. Which piece, place and look it is cannot be corrected here."
)
FIX_WHY, FIX_KEEP = "Why", "Keep the correction"
FIX_NEEDS_NAME = "Say who you are first: your name is kept with the correction."
FIX_NEEDS_WHY = "Say why: the reason is kept with the correction."
FIX_FINDINGS = "What was found"
FIX_KIND, FIX_ZONE, FIX_EXTENT, FIX_N = "Defect {n}", "Place", "Size, {unit}", "How many"
FIX_MORE = "One more defect"
FIX_TIME_HINT = "as 2026-03-01T14:30"
FIX_NONE = "none"
FIX_USUAL = (
    "Found: {found}. Usual for that: {usual}. Here it says: {now}. Change it if something else was"
    " done with the piece."
)
FIX_USUAL_NOTHING = "nothing"
FIX_KEPT = "Kept as version {n}."
FIX_NOTHING = "Nothing is written otherwise than the record says."
LOOKS_BACK = "This page looks back; records are corrected and brought in on a page that shows now."
FIX_TAKE_BACK = "Take this look back"
FIX_TAKE_BACK_MEANS = (
    "For a look that should not be there at all: it counts no more, and stays readable."
)
TAKEN_BACK = "Taken back"
TAKEN_BACK_HELP = "It counts no more. To count the piece again, record it again."
MEANWHILE_TITLE = "Changed while you were writing"
MEANWHILE_LEAD = (
    "Nothing of yours is lost, and nothing of theirs. What you wrote still stands in the fields"
    " above. Look at what they changed, then keep yours on top of it or leave it."
)
MEANWHILE_BOTH = "You both changed {names}: yours would take the place of theirs."
FIX_KEEP_ON_TOP = "Keep mine on top of version {n}"
MEANWHILE_LEAVE = "Leave mine, show theirs"

# files --------------------------------------------------------------------------------------
DROP_TITLE = "Bring files in"
DROP_LEAD = "Drop CSV or XLSX files here, or"
DROP_CHOOSE = "Choose files"
DROP_LIMIT = "Several at once; at most {most} MB each. Nothing is kept until you say so."
DROP_KINDS = (
    "Inspections, platen surveys, checks of timers and gauges, pulls, recipes, and the lists of"
    " presses, fabrics, transfers, instruments, jobs and places: the kind is told from the columns."
)
DROP_WORDS = {
    "sending": "Sending {name}: {share} %", "sent": "Sent; reading…",
    "too_large": "{name} is larger than {most} MB.", "wrong": "{name}: only .csv, .tsv, .txt and"
    " .xlsx files can be read.", "failed": "{name} did not arrive: {why}. Try again.",
    "no_answer": "the server does not answer",
    "too_many": "At most {most} files at once.", "empty": "{name} is empty.",
}
FILES_NEEDS_NAME = "Say who you are first: your name is kept with the rows."
READING, STORING = "Reading {name}: {share}", "Storing {name}…"
CHECKED_TITLE = "What would happen"
LOADED_TITLE = "What happened"
CHECKED_LEAD = "This was a dry run. Nothing has been kept yet."
FILE_ROW = ("Rows read", "Would be kept", "Already there", "Rejected")
FILE_ROW_DONE = ("Rows read", "Kept", "Already there", "Rejected")
KIND_WORDS = {
    "inspections": "looks at pieces", "platen_readings": "platen surveys",
    "machine_checks": "checks of timers and gauges", "pull_checks": "pulls of paper or film",
    "recipes": "recipes", "presses": "list of presses", "fabrics": "list of fabrics",
    "transfers": "list of transfers", "instruments": "list of instruments",
    "jobs": "list of jobs", "placements": "list of places",
}
FILE_REFUSED = "Nothing of this file can be read"
WARNINGS_TITLE = "Worth knowing"
REJECTED_TITLE = "Rows that cannot be kept"
REJECTED_COUNT = f"{REJECTED_TITLE}: {{n}}"
REJECTED_SCROLL = "{n} cells are wrong: scroll the table to see them all."
REJECTED_HEADS = ("Line", "Column", "What stands there", "What is wrong")
REJECTED_CUT = "The first {shown} of {total} rejected rows; the rejects file has all."
REJECTS_TAKE = "Take the rejected rows (CSV)"
REJECTS_MEANS = "Put right there, that file can be brought in as it is."
WHOLE_ROW = "the whole row"
NEW_CODES = "Add these as new codes"
NEW_CODES_LEAD = (
    "They stand in the files, but on no list of this shop. A misspelt code is caught here: tick it"
    " only if all of them are right."
)
CODE_LISTS = {"presses": "Presses", "fabrics": "Fabrics", "transfers": "Transfers",
              "kinds": "Kinds of defect"}
IGNORE = "Leave the column {name} out"
AS_READ = "Take readings as they are, also those that look like the other unit"
LOAD, LOAD_ONE = "Load {n} rows", "Load 1 row"
LOAD_NOTHING = "There is nothing to load"
FILES_ANEW = "Bring other files in"
SEE_LOOKS = "See the looks"
RUN_GONE = "These files are no longer here; bring them in again."
OTHER_WORDS = (
    ("correct it, or use --new-codes to add it", "correct it, or add it as a new code"),
    ("correct it, load it with the", "correct it, bring it in with the list of"),
    (" first, or use --new-codes", " first, or add it as a new code"),
    ("use --new-codes", "add it as a new code"),
    ("else load it with --as-read", "else tick that readings are taken as they are"),
    ("correct its name, or leave it out with --ignore",
     "correct its name, or leave out the column"),
    ("leave one out, or --ignore it", "leave one out"),
    ("(or --ignore ", "(or leave out the column "),
    ("a store; name it with --store", "a store, which is opened and not brought in"),
    ("correct the stored look with qc correct", "open the stored look and correct it"),
)
"""What a command line would be told, said for this page."""


FIELDS_IN_SENTENCE = {
    "pressed_at": "the time pressed", "inspected_at": "the time looked at",
    "dx_mm": "the distance off to the right", "dy_mm": "the distance off downwards",
    "rotation_deg": "the turn",
}
_FIELD = re.compile(r"\b(" + "|".join(sorted(FIELD_WORDS, key=len, reverse=True)) + r")\b(?!')")


def fields_named(message: str) -> str:
    """A message about fields of a look, with the words this page has for them. What somebody wrote
    is quoted in it and stays."""
    head, quote, rest = message.partition("'")
    return _FIELD.sub(lambda found: FIELDS_IN_SENTENCE.get(
        found[0], FIELD_WORDS[found[0]].lower()), head) + quote + rest


def level_name(name: str, level: str | None) -> str:
    """A level that looks are found by, for people."""
    if level is None:
        return SAID_NOTHING.lower()
    if name == "first":
        return ONLY_FIRST
    if name == "disposition":
        return text.DISPOSITION_WORDS.get(level, level)
    if name == "defect" and level == "any":
        return ANY_DEFECT.lower()
    return text.level_name(name, level)


def look_name(look: Mapping[str, object]) -> str:
    """Which look at its piece this is."""
    stage = STAGE_WORDS.get(str(look["stage"]), str(look["stage"]))
    attempt = look["attempt"]
    return stage if attempt == 1 else ATTEMPT.format(stage=stage, n=attempt)


def choice_name(field: str, value: str) -> str:
    """A value of a field with few values, for people."""
    if field == "disposition":
        return text.DISPOSITION_WORDS.get(value, value)
    if field == "stage":
        return STAGE_WORDS.get(value, value)
    return plain_name(value) if field == "kind" else value.replace("_", " ")


def wrong_here(cell: WrongCell) -> str:
    """What is wrong with a cell, beside its column and what stands in it."""
    message = cell.message
    for beginning in (f"{cell.column} is {cell.value!r}", f"{cell.column} is {cell.value}"):
        if cell.column and message.startswith((f"{beginning},", f"{beginning}:")):
            return said_here(message[len(beginning) + 1:].strip())
    return said_here(message)


def said_here(message: str) -> str:
    """A message of the loading, without words of the command line, as a sentence. The name of a
    column keeps its own letters."""
    said = reason_here(message)
    return said if "_" in said.partition(" ")[0] else text.with_capital(said)


def reason_here(message: str) -> str:
    """A message of the loading, without words of the command line."""
    for command, page in OTHER_WORDS:
        message = message.replace(command, page)
    return _NAME_KIND.sub(NO_KIND, message)


_NAME_KIND = re.compile(r"name the kind with --as \([^)]*\) or check the header: ")
NO_KIND = "check the names in its first row: "
