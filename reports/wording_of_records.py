"""Wording of the records of a job and of a shift; what documents share is in `reports.wording`."""

from __future__ import annotations

# a job ---------------------------------------------------------------------------------------
RELEASE_TITLE = "Release record: job {job}"
RELEASE_UNDER = "As known on {when} ({zone})."
FABRIC, TRANSFER, PLACE = "Fabric", "Transfer", "Place"
TRANSFER_LOT, GARMENT_LOT = "Transfer lot", "Garment lot"
PRESSES, PRESSED = "Pressed on", "Pressed"
PRESSED_FROM_TO = "from {first} to {last}"
ORDERED, LOOKED_AT = "Ordered", "Looked at"
AT_FIRST = "Right at the first pressing"
AT_FIRST_WORDS = "{good} of {n}; with a defect {bad} ({share}, 95 % interval {low} to {high})"
AT_FIRST_FEW = "{good} of {n}; too few for a share"
MAY_LEAVE = "Passed, or let through by agreement"
OF_ALL = "{n} of {all}"
SOME_NOT_SAID = "{levels}; of some pieces not said"
NONE_YET = "no piece looked at yet"
AGAINST = "What speaks against release"
AGAINST_NOTHING_TITLE = "Nothing in the records speaks against release"
AGAINST_NOTHING = (
    "Every piece looked at passed or was let through by agreement, as many as were ordered, and no"
    " open flag touches them. Whether the job leaves is for the person who may release it."
)
AGAINST_NOT_SAID = (
    "Every piece looked at passed or was let through by agreement, and no open flag touches them."
    " How many were ordered is not written down. Whether the job leaves is for the person who may"
    " release it."
)
AGAINST_NO_PIECES = "No piece of it was looked at."
AGAINST_FEWER = "{n} of {ordered} ordered pieces were looked at."
AGAINST_STATE = {
    "press_again": "{n} to be pressed again.", "hold": "{n} on hold.", "scrap": "{n} scrapped.",
    None: "{n} of which nobody said what is done with them.",
}
AGAINST_OTHER_PLACE = "{n} passed, but on garments held or scrapped for another place."
AGAINST_FLAG = "{message} It touches {n} of its pieces (flag {flag})."
AGAINST_FLAG_PERSON = "A flag about one person's work touches {n} of its pieces (flag {flag})."
AGAINST_COMPLAINT = "{n} looked at at the customer's: see the pieces."
AGAINST_PLATEN = "{platen} of press {press} is out of tolerance now: {reason}"
DEFECTS, DEFECTS_NOTE = "Found at the first pressing", (
    "A piece with two kinds stands in two rows. Now: what its newest look says."
)
LATE, LATE_WORDS = "Looked at later", {"after_24h": "after 24 h", "wash": "after a wash"}
PLATENS = "The presses' platens, as they stand"
PIECES, PIECES_NOTE = "Pieces", "In the order in which they were pressed."
SIGNED = "Decision"
SIGN_ROWS = ("Released, held or sent back", "Name", "When")
PLATEN_COLUMNS = {"press": "Press", "platen": "Platen", "state": "As it stands"}
JOB_COLUMNS = {
    "kind": "Defect", "n": "Pieces", "now": "Now", "look": "Look", "n_defective": "New defects on",
    "press": "Press", "what": "", "write": "To write",
    "piece_id": "Piece", "location": "Place", "transfer_lot": "Transfer lot",
    "garment_lot": "Garment lot", "pressed_at": "Pressed at ({zone})", "defects": "Found first",
    "disposition": "Now", "status": "Where it is",
}

# a shift -------------------------------------------------------------------------------------
SHIFT_TITLE = "Shift of {start}"
SHIFT_UNDER = "Pressed from {start} to {end}. As known on {when} ({zone})."
SHIFT_STILL = "It is still going on."
PIECES_MADE, NO_PIECES = "Looked at", "none of the pieces pressed in this shift"
DEFECTS_FOUND = "Defects"
DEFECTS_EXPECTED = "{n}, where this mix of work usually has {expected}"
NOW = "What became of them"
FLAGS_NEW, FLAGS_OPEN = "New in this shift", "Open besides"
FLAGS_NOTHING = "No flag is open."
FLAG_LINE = "{n}. {message} To do: {step}"
FLAGS = "What is off"
PLATENS_DUE = "Platens to see to"
SETTINGS, SETTINGS_NOTE = "Set outside the recipe", (
    "Off by: what was set less what the recipe asks, median of the pieces told."
)
BY_KIND, BY_KIND_NOTE = "Defects found", (
    "A piece with two kinds stands in two rows. Expected: what the shop's usual rates give the same"
    " mix of fabric, transfer and place."
)
BY_PRESS, BY_PRESS_NOTE = "By press", (
    "Ratio: defects over expected, with its exact 95 % interval (Garwood, 1936). A shift is short:"
    " a wide interval says that it cannot tell."
)
WAITING, WAITING_NOTE = "Waiting for somebody", (
    "To be pressed again, on hold, or nobody said what is done with it; the longest wait first."
)
WAITING_NONE = "Nothing waits: every piece has been decided on."
SHIFT_COLUMNS = {
    "kind": "Defect", "n": "Pieces", "n_defective": "With a defect", "defects": "Defects",
    "expected": "Expected", "ratio": "Ratio", "interval": "95 % interval", "press": "Press",
    "stands_out": "Than its mix", "what": "What", "outside": "Outside", "off_by": "Off by",
    "who": "Who", "on": "On", "piece_id": "Piece",
    "location": "Place", "job": "Job", "pressed_at": "Pressed at ({zone})", "found": "Found",
    "disposition": "Now", "done": "Done",
}
STANDS_OUT = {True: "more", False: "fewer"}
