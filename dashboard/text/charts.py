"""The wording of the charts page. Plain trade words; numbers come in already formatted."""

from __future__ import annotations

QUESTIONS = "What to chart"
SUBJECT_LABEL = "What?"
SUBJECTS = {
    "defects": "Defects", "placement": "Where the print sits", "setting": "What was set",
    "platen": "Platens", "check": "Timers and gauges",
}
OF_LABELS = {
    "defects": "Which defect?", "placement": "Which way?", "setting": "Which setting?",
    "platen": "What of the platen?", "check": "Which timer or gauge?",
}
BY_LABEL, LEVEL_LABEL, PLATEN_LABEL = "Of whose work?", "Which one?", "Which platen?"
STEP_LABEL, PERIOD_LABEL = "One point for each", "Period, up to now"
MEASURES = {
    "together": "All three together", "dx_mm": "Sideways", "dy_mm": "Up and down",
    "rotation_deg": "Rotation", "temperature_c": "Temperature", "dwell_s": "Dwell",
    "pressure_kpa": "Gauge pressure", "pressure_dial": "Pressure dial",
    "offset_c": "Mean error", "spread_c": "Hottest minus coldest",
}
CHECKED = {"dwell_s": "Timer", "pressure_kpa": "Pressure gauge", "pressure_dial": "Pressure dial"}
STEPS = {"day": "day", "shift": "shift", "week": "week", "job": "job", "piece": "piece",
         "survey": "survey", "check": "check"}
TITLES = {
    "defects": "{what}{where}, by {step}", "placement": "{what}{where}, by {step}",
    "setting": "{what} set, less what the recipe asks{where}, by {step}",
    "platen": "{what}{where}, survey by survey", "check": "{what}, measured less set{where}",
}
TITLE_GAPS = "Good pieces between two with {what}{where}"
RUN_TO = "run to {when}"
TITLE_TOGETHER = "Where the print sits"
PIECES_WITH, DEFECTS_PER_PIECE = "Pieces with {what}", "Defects for each piece"
WHERE = {
    "shop": "", "press": " on press {level}", "station": " at station {level}",
    "operator": " in the work of {level}",
    "fabric": " on fabric {level}", "transfer": " with transfer {level}",
    "location": " at the place {level}", "transfer_lot": " with transfer lot {level}",
    "garment_lot": " on garment lot {level}", "zone": " at the {level} of the print",
}
WHERE_PLATEN = ", {platen} platen of {level}"

KINDS = {
    "mix": "Share, about the mix of work", "mix-u": "Defects a piece, about the mix of work",
    "p": "Share of pieces (p)", "u": "Defects a piece (u)",
    "p-exact": "Share of pieces, exact tails (p)", "u-exact": "Defects a piece, exact tails (u)",
    "p-prime": "Share, as wide as it usually scatters (p′)",
    "u-prime": "Defects a piece, as wide as they usually scatter (u′)",
    "g": "Good pieces between two (g)", "np": "Number of pieces (np)", "c": "Number of defects (c)",
    "t": "Time between two (t)", "individuals": "Single values and their steps",
    "xbar-s": "Means and the spread within", "ewma": "Weighted moving average (EWMA)",
    "cusum": "Cumulative sums (CUSUM)", "t2": "All values at once (T²)",
    "mewma": "All moving averages at once (MEWMA)",
}
HOW_TITLE = "How it is charted"
ADVISED, SHOWN_NOW, NOT_SUITED = "advised", "shown", "What does not suit, and why ({n})"

UNIT_SHARE, UNIT_RATE, UNIT_GAPS = "% of pieces", "defects for each piece", (
    "good pieces between one with it and the next; high is good news")
UNIT_SCORES = "distance from what the mix gives, in sigma of a point"
UNIT_T2 = "distance from the middle of all three, no unit"
UNIT_EACH = {"piece": "each measured piece", "survey": "each survey",
             "check": "mean of each round of checks", "day": "each day's one reading",
             "shift": "each shift's one reading", "week": "each week's one reading",
             "job": "each job's one reading"}
UNIT_MEAN = "mean of each {step}"
BAND, CENTRE, SEEN = "what the limits allow", "centre", "seen"
CENTRE_MIX = "what its mix gives"
ABOVE, BELOW, PATTERN = "▲ above", "▼ below", "■ pattern"
ABOVE_NAME, BELOW_NAME, PATTERN_NAME = "above the limits", "below the limits", "pattern of points"
LEFT_OUT = "left out of the limits"
LIMITS_FROM = "limits come from here"
CHANGE_BEGAN = "change began"
SECOND = {"moving range": "From one point to the next", "standard deviation": "Spread within"}

CALM = "No point signals a change."
SIGNALS_ONE = "1 of {of} points signals a change."
SIGNALS = "{n} of {of} points signal a change."
CHANGE_AT = "It most likely began {at}."
CHANGE_SURE = "It most likely began {at} (90 %: from {first} to {last})."
MOVED = "The level moved."

SAYS_TITLE = "Points that signal"
SAYS_NONE = "None: every point lies within the limits, and no pattern that is looked for is there."
SAYS_MOVED = (
    "None by itself. The level moved all the same: the points since then lie together at another"
    " level than those the limits come from, each of them still within its limits.")
SAYS_HEADS = ("Point", "Value", "Limits", "What it says", "")
OUTSIDE_WORDS = {"above": "above its limit: more than luck gives",
                 "below": "below its limit: less than luck gives"}
SAYS_MORE = "The newest {shown} of {n}; the numbers below have all."
OPEN = "Show records"
RULES_TITLE = "Also look for"
RULES_NONE = "Only its limits: points that carry earlier ones on make runs by themselves."
RULES_PRICE = "Each rule finds some changes sooner and costs more false signals: see the price."
RULE_MEANS = {
    "one_side": "a small shift of the level that lasts",
    "trend": "a slow rise or fall",
    "alternating": "two sources in turn, or somebody correcting too much",
    "two_of_three": "a shift that is not small", "four_of_five": "a small shift",
    "stratification": "a mixture within points, or limits too wide",
    "mixture": "two levels mixed",
}

COST_TITLE = "What these limits cost and find"
COST_CALM = "A false signal once in {points} points on average: {days}."
COST_MOVED = ("{change} is seen after {points} points on average ({days}); 19 of 20 within {late}"
              " points.")
COST_SLOW = "That is slow: {others} sees a small lasting change sooner."
SOONER = {"ewma": "an EWMA", "cusum": "a CUSUM", "mewma": "the chart of all moving averages"}
SOONER_OR = " or "
COST_SIZE = "{change} ({size})"
SECOND_SAYS = "{name}: {says}"
COST_NONE = "It cannot be worked out for these points."
COST_SOURCE = "By {method}, as if the limits were known exactly; days of the calendar at this pace."

BASE_TITLE = "What the limits come from"
BASE_BY = {"proposed": "Proposed: {stretch}, {n} points.",
           "chosen": "Chosen: {stretch}, {n} points."}
BASE_MOVED = "The level moved after {days}."
BASE_UNLOOKED = (
    "Flags are still being looked for: this rests on the points alone. What a flag is about is"
    " taken out once they are there.")
BASE_FIT = (
    "Nothing speaks against it: enough points, no step inside, neighbours not alike, no more"
    " variation than the chart allows.")
BASE_AGAINST = "Against it: {words}."
BASE_SIGNALS = "Points of it worth a look for their cause: {points}."
BASE_FROZEN = "Frozen on {day} by {by}: {why}. Limits come from {stretch}, {n} points."
BASE_FROZEN_AGAINST = "Known when it was frozen: {words}."
BASE_FROZEN_OUT = "Left out: {what} ({cause})."
BASE_NEW = "Propose new limits"
BASE_BACK = "Back to the frozen limits"
BASE_EARLIER = "Frozen before"
BASE_EARLIER_HEADS = ("Frozen on", "Chart", "Stretch", "By", "Why", "")
BASE_READ = "Show with these limits"
BASE_READING = "These limits counted before; newer ones were frozen since."
BASE_CHOOSE = "Take another stretch"
BASE_FROM, BASE_UNTIL, BASE_TAKE = "From day", "To day", "Take this stretch"
BASE_DAY_HINT = "2026-03-01"
BASE_PROPOSE = "Back to what is proposed"
BASE_BAD_DAY = "A day is written as 2026-03-01, the first before the last."
OUT_TITLE = "Leave a point out"
OUT_LEAD = "Only for a cause that was found; it stays in the picture."
OUT_POINT, OUT_CAUSE, OUT_TAKE = "Point", "Its cause", "Leave it out"
OUT_NEEDS = "Say what its cause was: a point is left out only for a cause that was found."
OUT_NOW = "{point} is left out: {cause}."
OUT_BACK = "Take it back in"
FREEZE_WHY, FREEZE = "Why this stretch", "Freeze these limits"
FREEZE_MEANS = (
    "Frozen, they hold for all points to come, until others are frozen. Name, reason and what was"
    " known are kept; earlier ones stay readable.")
FREEZE_FLAGGED = (
    "An open flag or case is about {n} of these points. Frozen, what is off there becomes the"
    " usual, and good work will be called bad. Take another stretch unless you know better.")
FREEZE_UNLOOKED = "Flags are still being looked for: wait for them before you freeze."
FROZEN_UNLOOKED = "Flags had not been looked for when it was frozen."
FROZEN_NOW = "Frozen. These limits count from now on."
LOOKS_BACK = "This page looks back; limits are frozen on a page that shows now."

CASES_TITLE = "Flags and cases that touch this stream"
CASES_LOOKING = "Flags are still being looked for; this takes up to a minute after a start."
CASES_NONE = "None does."
CASE_OPEN = "open since {since}, shaded in the chart"
CASE_ENDED = "{since} to {until}, ended; shaded in the chart"
CASE_EXPLAINED = "{since} to {until}, explained by another flag; shaded in the chart"
CASE_MARK, ENDED_MARK = "case {n}", "{n}, ended"
NOT_HERE = "Not here: {what}. Shown is what comes nearest."

HEADS = ("Pieces", "Value", "Centre", "Limits", "Verdict", "")
SIZES = {"platen": ("point probed", "points probed"), "check": ("reading", "readings"),
         "placement": ("piece", "pieces")}
HEAD_N = {"platen": "Points probed", "check": "Readings"}
NUMBERS_MORE = "The newest {shown} of {n}; the file of numbers has all."
MISSING_TITLE = "Not enough data for a chart"
NO_LIMITS_TITLE = "The points stand without limits"
NO_LIMITS = "No limits are drawn."
MISSING_LINK = "Look over all there is"
SOURCE_DATA = "{n} points, {first} to {last}."
IN_DAYS, IN_DAY, IN_HOURS, IN_YEARS = "{n} days", "1 day", "{n} hours", "{n} years"
NO_LIMIT = "none"
