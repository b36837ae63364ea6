"""Wording of the records of a job, a shift and a month; the rest is in `reports.wording`."""

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

# a month -------------------------------------------------------------------------------------
MONTH_UNDER = "Pressed from {start} to {end}. As known on {when} ({zone})."
MONTH_STILL = "It is still going on."
MONTH_NO_PIECES = "none of the pieces pressed in this month"
MONTH_BEFORE = "The month before"
MONTH_BEFORE_NONE = "no piece of it was looked at"
MONTH_RIGHT = "{good} of {n}; with a defect {bad}: {share} (95 % interval {low} to {high})"
MONTH_PICTURE, MONTH_PICTURE_TITLE = "The share day by day", "Pieces with a defect, by day"
MONTH_IN_ORDER = "in tolerance"
MONTH_MOVED = "At equal work"
MONTH_VERDICTS = {
    "fell": "fewer with a defect than the month before, by more than luck",
    "rose": "more with a defect than the month before, by more than luck",
    "luck": "no change that luck could not make", "nothing": "nothing to compare",
}
MONTH_RATIO = "{verdict}: {ratio} times (95 % {low} to {high})"
MONTH_COST, MONTH_COST_WORDS = "What they cost", (
    "{total} at {each} for a piece with a defect; the month before {before}"
)
MONTH_DEFECTS_NOTE = (
    "A piece with two kinds stands in two rows. Expected: what the shop's usual rates give the same"
    " mix of fabric, transfer and place. Ratio: defects over expected, with its exact 95 % interval"
    " (Garwood, 1936)."
)
MONTH_RANKED = {
    "press": "Defects by press", "fabric": "Defects by fabric", "transfer": "Defects by transfer",
    "location": "Defects by place",
}
MONTH_RANKED_NOTE = (
    "Expected: what the rest of its mix usually gives. Than its mix: said only where it differs"
    " after allowing for how many were compared (Benjamini & Hochberg, 1995)."
)
MONTH_FLAGS, MONTH_FLAGS_NOTE = "What was off", (
    "Signalled in the month, or not done with before it. In brackets: the number of the flag."
)
MONTH_FLAGS_NONE = "No flag was open in this month."
MONTH_CAUSE, MONTH_WORKED = "cause: {cause}", "after the action: {verdict}"
MONTH_FLAG_STATES = {"open": "open", "ended": "over, not closed", "closed": "closed {when}",
                     "worked_on": "open, in work"}
MONTH_PLATENS, MONTH_PLATENS_NOTE = "Platens", (
    "Out: surveys that found a tolerance exceeded by the shop's rule. Orders: service orders opened"
    " and closed in the month."
)
MONTH_DAYS, MONTH_DAYS_NOTE = "Day by day", (
    "Expected: pieces with a defect at the usual rates of the day's work. Interval of the share:"
    " Wilson (1927), 95 %. Month against month: {source}"
)
MONTH_COLUMNS = {
    "kind": "Defect", "defects": "Defects", "before": "Month before", "expected": "Expected",
    "ratio": "Ratio", "interval": "95 % interval", "stands_out": "Than its mix", "n": "Pieces",
    "press": "Press", "fabric": "Fabric", "transfer": "Transfer", "location": "Place",
    "signalled_at": "Signalled ({zone})", "what": "What",
    "found": "Found and done", "state": "Now", "platen": "Platen",
    "surveys": "Surveys", "out": "Out", "opened": "Orders opened", "closed": "closed",
    "stands": "As it stands", "day": "Day", "weekday": "",
    "n_defective": "With a defect", "share": "Share",
}
