"""The wording of service orders and of a survey written down. Plain trade words."""

from __future__ import annotations

SERVICE_TITLE = "Service"
LOOKS_BACK = "This page looks back; orders are opened and surveys written on a page that shows now."
WORKING = "Working on it…"
NO_ORDER_NOW = "no service order of this platen is open any more"
YOUR_NAME_NEEDED = "Say who you are first: your name is kept with it."
NO_ORDER = "No service order is open for this platen."
OPEN_ORDER = "Make a service order"
OPENED = "Order {order} is open: print it, then survey as found."
ORDER_HEAD = "Service order {order}"
OPENED_BY = "Opened {when} by {by}. {why}"
PRINT = "Print the order"
PRINT_LIST = "With its list of {n} pieces, about {pages} pages more"
LIST_FILE = "Its list of {n} pieces, as CSV"
STATE_TONES = {
    "find": ("alarm", "Waits for the survey as found"),
    "leave": ("alarm", "Out as found: to be adjusted"),
    "found_few": ("alarm", "As found: too few points"),
    "order_wrong": ("alarm", "As left without as found"),
    "check": ("alarm", "Not in tolerance yet"),
    "check_few": ("alarm", "As left: too few points"),
    "ready": ("watch", "In tolerance: to be closed"),
    "closed": ("calm", "Closed"), "cancelled": ("quiet", "Cancelled"),
}
SURVEY_HEADS = {"found": "As found", "left": "As left", "check": "Check"}
NOT_YET = "not yet"
PRESSED = "Pieces meanwhile"
FOUND_SEVERAL = "Which counts"
STEP_LABEL = "What"
STEP_WORDS = {"done": "What was adjusted or repaired", "owner": "Who sees to it",
              "due": "By which day", "note": "What is to be known",
              "cancel": "Why it is cancelled"}
STEP_NEEDS = {
    "done": "Write what was adjusted or repaired, then write it down.",
    "owner": "Write who sees to it.", "due": "Choose the day by which it is to be done.",
    "note": "Write the note first.", "cancel": "Write why the order is cancelled.",
}
SURVEY_REFUSED = "Nothing is kept yet: {why}"
STEPS = {"done": "Adjusted or repaired", "owner": "Who sees to it", "due": "Until when",
         "note": "Note", "cancel": "Cancel the order: why"}
TAKE_STEP, CLOSE_ORDER = "Write it down", "Close the order"
TAKEN = "Written down."
CLOSED = "The order is closed. The drift begins anew from its survey as left."
STEPS_TITLE = "So far"
PAST_TITLE = "Earlier orders ({n})"
PAST_HEADS = ("Order", "Opened", "State", "As found", "As left", "Why")

SURVEY_TITLE = "Write down a survey"
SURVEY_LEAD = (
    "Soaked 15 to 45 minutes after the display first reached its set value. You stand at the near "
    "edge; leave empty what was not probed."
)
SETPOINT, INSTRUMENT, STATE, WHEN = "Setpoint, {unit}", "Instrument", "State", "When, if not now"
WHEN_HINT = "2026-03-01T14:30"
ROWS, COLUMNS = "Rows", "Columns"
POINT = "Row {row}, column {col}, {unit}"
AS_READ = "These readings are right although they look like the other unit"
SAVE_SURVEY = "Keep the survey"
KEPT = "Survey {survey} is kept, {n}."
KEPT_ALREADY = "Survey {survey} was kept already."
NO_INSTRUMENT = "not named"
