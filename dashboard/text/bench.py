"""The wording of the bench; `WORDS` goes to the browser as it is."""

from __future__ import annotations

TITLE = "Bench · Peelcheck"
WORK_LABEL = "What is on the bench"
PRINT_LABEL = "Where on the print"
FAULTS_LABEL = "What is wrong with it"
LAST_LABEL = "Just recorded"
JOB_LABEL = "How this job stands"
JOB, JOB_HINT = "Job", "scan, type or pick"
PRESS, OPERATOR, INSPECTOR = "Press", "Pressed by", "You"
MORE_WORK = "More: fabric, lots, settings…"
GOOD, GOOD_HINT = "Good", "nothing wrong"
STACK = "+{n}"
STACK_NAME = "{n} good pieces"
NO_PLACE = "no one place"
MORE_FAULTS = "Other faults…"
UNDO = "Undo"
KEYS = "Keys: G good, 1 to 9 the place as on a number pad, letters the faults, U undo"
KEYS_SWITCH = "Single keys work"
LIMITS_TITLE = "What is good enough"
LIMITS_NOTE = (
    "Proposed starting values, no source: the customer's limits and the supplier's sheet come"
    " first."
)
CAUTION = (
    "Platens burn and closing presses crush: gloves on, hands clear before it closes. The press"
    " maker's manual and local codes come first."
)
SIGNS_LABEL = "What is off on this press"
SIGNS_WAIT = "Looking for flags on this press…"
NO_SCRIPT = "This page needs JavaScript, which comes from this server alone."
WORK_TITLE = "What is on the bench"
DONE = "Done"
FABRIC, TRANSFER, PLACE = "Fabric", "Transfer", "Place on the garment"
TRANSFER_LOT, GARMENT_LOT, SIZE, STATION = "Transfer lot", "Garment lot", "Size", "Station"
STAGE = "Looked at"
STAGES = {
    "after_peel": "after peel", "final": "final look", "after_24h": "after 24 hours",
    "wash": "after wash", "customer": "at the customer's",
}
SETTINGS_TITLE = "What the press is set to"
SETTINGS_HINT = "Kept with every piece until you change it; leave empty what you do not know."
AS_RECIPE = "As the recipe says"
TEMPERATURE, DWELL, GAUGE, DIAL, PEEL_WAIT = (
    "Temperature", "Time", "Pressure", "Pressure dial", "Wait before peel")

WORDS: dict[str, object] = {
    "saved": "All saved", "saving": "Saving…",
    "waiting": "{n} waiting on this device", "away": "No connection: {n} waiting on this device",
    "away_none": "No connection; what you record waits on this device",
    "not_taken": "{n} not taken", "full": "This device has no room left to keep entries on.",
    "good": "Good", "goods": "{n} good",
    "taken_back": "taken back", "take_back": "Take back",
    "undo_newest": UNDO, "undo_before": "Undo the one before",
    "nothing": "Nothing recorded yet. Good is one tap; a fault is a place and a fault.",
    "piece": "piece {piece}", "try": "pressing {n}",
    "pick_place": "{fault}: tap where", "pick_fault": "{place}: tap what is wrong",
    "tap_place": "Tap the place on the print, then the fault.",
    "cancel": "Cancel",
    "again_now": "Pressed again: piece {piece} ({faults}). How is it now?",
    "again_title": "To be pressed again ({n})", "again_do": "It was pressed again",
    "add_fault": "Another fault on it", "adding": "Another fault on piece {piece}",
    "what_to_do": "What to do with it", "usual_way": "Usual: {what}.",
    "first_check": "Check: {what}.", "how_far": "How far, mm", "note": "Note",
    "measured": "Where it sits, and a note", "quoted": "“{note}”",
    "number": "Write a number from {low} to {high}.", "number_only": "Write a number.",
    "keep": "Keep", "one_saved": "saved", "one_waits": "waits on this device",
    "needs_work": "Say first what is on the bench: {what}.",
    "need_press": "a press", "need_fabric": "a fabric", "need_transfer": "a transfer",
    "need_name": "your name",
    "job_pieces": "{n} pieces", "job_piece": "1 piece", "job_of": "{n} of {of} pieces",
    "job_over": "{n} pieces, {more} more than ordered", "job_none": "no pieces yet",
    "job_unsaid": "Say the job, or fabric and transfer: its recipe and how it stands show here.",
    "loose": "Today, without a job: {what}",
    "job_bad": "{bad} with a fault", "job_share": "{share} (95 %: {low} to {high})",
    "job_usual": "usual for this work {usual}",
    "job_no_usual": "this work is new: nothing usual yet",
    "job_above": "above usual by more than luck", "job_waiting": "{n} more on this device",
    "job_stale": "as of {when}; no connection since",
    "signs_wait": SIGNS_WAIT,
    "no_signs": "Nothing is off on this press.", "signs_unknown": "Not known without a connection.",
    "refused_title": "Not taken", "discard": "Drop it",
    "retry": "Try again with what is set now", "looks_back":
    "This page looks back; pieces are recorded on a page that shows now.",
    "new_shop": "The shop has no {what} yet.", "to_setup": "Set up the shop",
    "limits_good": "Good", "limits_bad": "Not good", "limits_measure": "Measure",
    "place_within":
        "Within {dx} mm sideways, {dy} mm up or down, {turn}°, measured from {reference}.",
    "not_taken_card": "not taken: {why}",
    "recipe": "Recipe: {what}", "recipe_wait": "Looking for the recipe…",
    "no_recipe": "No recipe for this fabric and transfer.",
    "not_set": "not said",
}

DISPOSITION_BUTTONS = {
    "press_again": "Press again", "scrap": "Scrap", "hold": "Hold", "concession": "Let it through",
    "pass": "Good after all",
}
ZONE_WORDS = {
    "top_left": "top left", "top": "top", "top_right": "top right", "left": "left",
    "centre": "centre", "right": "right", "bottom_left": "bottom left", "bottom": "bottom",
    "bottom_right": "bottom right",
}
PRESSED_AT = "{when}, {press}"
MEASURES = {"dx_mm": "To the right, {}", "dy_mm": "Down, {}",
            "rotation_deg": "Turned clockwise, {}"}
PLATEN_SIGN = "{platen}: {state}"
FLAG_SIGN = "{what}, since {since}"
RECIPE_TOO_HOT = "▲ Ask before you press: {}"
RECIPE_PARTS = {"temperature": "{} {}", "dwell": "{} s", "pressure": "{} {}", "peel": "{} peel",
                "cover": "{}"}
