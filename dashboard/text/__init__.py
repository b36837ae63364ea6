"""All wording of the dashboard. Plain trade words; numbers come in already formatted.

Here: what several pages say, and the pages without a file of their own beside this one.
"""

from __future__ import annotations

from qc.domain.flags import Flag, named_causes
from qc.domain.kinds import plain_name

PRODUCT = "Peelcheck"
PAGES = {
    "/bench": "Bench", "/": "Floor", "/cases": "Cases", "/presses": "Presses", "/trends": "Trends",
    "/charts": "Charts", "/records": "Records", "/setup": "Set-up",
}
MORE_PAGES = ("/trends", "/charts", "/records", "/setup")
"""On a narrow screen these stand behind one button."""
MORE = "More"
PAGE_LEADS = {
    "/bench": "Every finished piece, in two taps.",
    "/": "Every press, as it stands now.",
    "/trends": "How many pieces come off right the first time, and which work costs most.",
    "/cases": "What changed that luck does not explain, most urgent first.",
    "/presses": "Whether each platen holds its heat, and when it must be looked at.",
    "/charts": "Any stream as a control chart, with what its limits rest on.",
    "/records": "Every look at a piece: find, correct, bring in, take out.",
    "/setup": "What the shop presses, on what, how, and how much false alarm it will bear.",
}
SKIP = "Skip to the page"
NAV_LABEL = "Pages"
TO_DARK, TO_LIGHT = "☾ Dark", "☀ Light"
TO_DARK_HINT, TO_LIGHT_HINT = "Turn the screen dark", "Turn the screen light"
AS_OF = "as of {}"
LOADING = "Counting…"
ALL_WORK = "any defect"
NOT_SAID = "not said"

DIMENSION_WORDS = {
    "defect": "defect", "press": "press", "fabric": "fabric", "transfer": "transfer",
    "location": "place on the garment", "operator": "person", "transfer_lot": "transfer lot",
    "garment_lot": "garment lot", "job": "job", "zone": "place on the print", "shift": "shift",
    "station": "station", "size": "size", "time_since_start": "time since start",
    "shop": "the whole shop",
}
PLATEN_WORDS = {"upper": "upper platen", "lower": "lower platen"}
DISPOSITION_WORDS = {
    "pass": "passed", "press_again": "press again", "scrap": "scrap", "hold": "on hold",
    "concession": "let through by agreement",
}
PRESS_STATE_WORDS = {
    "act": ("alarm", "Look at it"), "watch": ("watch", "Keep an eye on it"),
    "running": ("calm", "Running"), "quiet": ("quiet", "Quiet"),
    "unseen": ("quiet", "No pieces yet"),
}
PLATEN_STATE_WORDS = {
    "recalibrate": ("alarm", "Out of tolerance"), "overdue": ("alarm", "Check is late"),
    "watch": ("watch", "Close to its limit"), "unknown": ("quiet", "Not known"),
    "in_tolerance": ("calm", "Holds its heat"),
}
FLAG_KIND_WORDS = {
    "defect_rate": "More defects", "placement": "Print sits off", "setting": "Setting moved",
    "calibration": "Platen heat",
}

CHARACTERISTIC_WORDS = {
    "temperature_c": "Set temperature moved", "temperature_lower_c": "Lower temperature moved",
    "dwell_s": "Dwell moved", "pressure_kpa": "Gauge pressure moved",
    "pressure_dial": "Pressure dial moved", "dx_mm": "Print sits off sideways",
    "dy_mm": "Print sits too high or low", "rotation_deg": "Print sits turned",
}

PERIOD_WORDS = {"7": "7 days", "30": "30 days", "90": "90 days", "all": "All"}
STEP_WORDS = {"day": "By day", "week": "By week"}

PERIOD_LABEL, STEP_LABEL, KIND_LABEL = "Period, up to now", "One point for each", "Defect"
BY_LABEL, THEN_LABEL, THEN_NONE = "Ranked by", "and by", "nothing else"
BASELINE_HEADING = "What the usual rates rest on"
YOUR_NAME = "Your name"
BASELINE_WHY = "Why this period"
BASELINE_FREEZE = "Freeze this baseline"
BASELINE_MEANS = (
    "Frozen, it counts from now on; flags already signalled stay as they are. Your name and your "
    "reason are kept with it."
)
BASELINE_DONE = "Frozen. It counts from now on."
BASELINE_NO_WORK = "No pieces to propose a baseline from."
BASELINE_LOOKS_BACK = "This page looks back; a baseline is frozen on a page that shows now."
BASELINE_EARLIER = "Earlier baselines"
BASELINE_HEADS = ("Frozen on", "Period", "By", "Why")

RANK_HEADING = "Where the defects are"
RANK_ALL, RANK_AND = "All defects", " and "
RATE_WORDS = "{seen} of {n} pieces{weeks}, usual for this work {usual}. {out}"
KIND_COUNTED = "Seen at the first look; what shows only later is ranked below, not counted here."
NONE_OUTSIDE = "No point lies beyond three sigma."
SOME_OUTSIDE = "{n} of {of} {steps} lie beyond three sigma."
ONE_OUTSIDE = "1 of {of} {steps} lies beyond three sigma."
YIELD_OF_KIND = "Free of {what}"
RATE_HEADS = ("Pieces", "With the defect", "Share", "95 % interval", "Usual", "Within three sigma",
              "Verdict", "")
YIELD_HEADS = ("Pieces", "Right", *RATE_HEADS[2:])
RANK_HEADS = ("Defects", "Of all", "Running sum", "Pieces", "A piece", "Expected", "Ratio",
              "95 % interval", "Verdict", "")
DEFECTS = "Defects"
RANK_OF = " {share} of all, on {n} pieces"
PEER_OF = " on {n} pieces"
THIS_CASE = "▲ this case"
RATIO_WORDS = "{ratio} usual ({interval})"
RATIO_NOT_KNOWN = "nothing expected here to compare with"
ALREADY_OUT = "it has already"
RANK_MORE, RANK_FEWER = "▲ more than its mix", "▽ fewer than its mix"
RANK_MORE_PART, RANK_FEWER_PART = "▲ more than its {mix} explain", "▽ fewer than its {mix} explain"
RANK_ORDER, RANK_ORDERS = "In order", {"number": "By number", "ratio": "By ratio to its mix"}
MIX_WORDS = {"fabric": "fabrics", "transfer": "transfers", "location": "places"}
RANK_NONE_OUT = "Nothing stands out from what its mix of work explains."
RANK_OUT = "More than the mix of work explains: {names}."
RANK_OUT_PART = "More than its {mix} explain: {names}."
RANK_BETTER, RANK_NAMED, RANK_MORE_NAMES = "Fewer: {names}.", "{name} ({times})", " and {n} more"
RANK_TOO_FEW = (
    "Not enough data to say what stands out: {n} pieces; ratios are shown from {least} on."
)
RANK_SAME_PIECES = (
    "What is usual rests on these very pieces, so there is nothing to compare them with. A shorter"
    " period, or another ranking, has."
)
RECORD_HEADS = ("Piece", "Pressed", "Press", "Fabric", "Transfer", "Place", "Person",
                "Transfer lot", "Garment lot", "Job", "Defects", "What became of it")
YIELD_TITLE = "Right the first time"
YIELD_UNIT = "% of pieces, by {step} pressed"
RATE_TITLE = "Pieces with {what}"
RATE_UNIT = "% of pieces, by {step} pressed"
RANK_TITLE = "{what} by {by}"
RANK_UNIT = "times what the same work usually gives; 1 is usual, the bar is the 95 % interval"
RANK_UNIT_PART = (
    "times what work with the same {mix} usually gives, whatever its {by}; 1 is usual, the bar is"
    " the 95 % interval"
)
RANK_SOURCE = (
    "Ratio: defects over those the mix of {mix} would give at the shop's usual rates (indirect"
    " standardisation); interval: exact Poisson, Garwood (1936). Stands out: Benjamini & Hochberg"
    " (1995), 5 % of those named may be luck."
)
BAND = "three sigma about usual"
USUAL = "usual for this work"
SEEN = "seen"
STANDS_OUT = "outside the band"
NUMBERS = "The numbers"
SAVE, SAVE_AS = "Save", "Save {what}: {title}"
SAVE_FORMS = {"svg": "picture SVG", "png": "picture PNG", "csv": "numbers CSV"}
TOO_MANY = {
    "number": "The {shown} with the most defects are drawn, and all that stand out; the table has"
              " all {total}.",
    "ratio": "The first {shown} in this order are drawn, and all that stand out; the table has all"
             " {total}.",
}

NOTHING_TITLE = "No pieces in this period"
NOTHING_HELP = "Choose a longer period, or record the first pieces."
CHARTS_EMPTY_TITLE = "Nothing to chart yet"
CHARTS_EMPTY_HELP = "Charts come from pieces, platen surveys and checks. Record the first ones."
BRING_IN, FILES_AT = "Bring in a file, in Records", "/records?show=files"
BEGIN = {"/bench": "Record a piece at the Bench", FILES_AT: BRING_IN}
BEGIN_FILE = "From a command line: qc load FILE"
RANK_EMPTY_TITLE = "No defects to rank"
RANK_EMPTY_HELP = "No piece in this period has a defect of this kind."
ERROR_TITLE = "This part could not be worked out"
ERROR_HELP = "The rest of the page still holds. Details are in the program's log."

RECORDS_TITLE = "The pieces behind it"
RECORDS_COUNT = (
    "{shown} with a defect; a piece with two kinds counts once here, twice in a ranking"
)
RECORDS_CUT = (
    "{total} with a defect, here the newest {shown}; a piece with two kinds counts once here, twice"
    " in a ranking"
)
RECORDS_NONE = "No piece with a defect here."
OPEN_RECORDS = "Show pieces"
CLOSE = "Close"

CASES_LIST = "Cases, most urgent first"
CASE_FOOT = "since {since}, {n} pieces touched"
BETWEEN = "{span} (90\u00a0%)"
NOW, NOW_USUAL = "Now", "usual {usual}; before {before}"
SIGNALLED, OVER_SINCE = "First seen", "over since {when}"
EVIDENCE_HEADS = ("Day", "Pieces", "Seen", "Expected", "")
PEER_HEADS = ("Pieces", "Seen", "Expected", "Ratio", "95 % interval")
CHANGED_ABOUT, INTERVAL_95 = "change began", "95 % interval of a day"
PIECE_HEADS = ("Piece", "Where it is", "Job", "Pressed", "Press", "Transfer lot", "Person",
               "Defects", "Done with it")
PIECES_CUT = (
    "The first {shown} of {total} are in this table, to be scrolled; the list to take has all."
)
PIECES_SCROLL = "{n} pieces: scroll the table to see them all."
PIECES_NONE = "No piece was pressed in the time concerned."
CASES_WAIT = (
    "The shop's whole history is being looked through. The first time this may take half a minute."
)
CASES_EMPTY_TITLE = "Nothing to watch yet"
CASES_EMPTY_HELP = "No piece is on record yet. What changes is named here once there are some."
CASES_NONE_TITLE = "Nothing is off"
CASES_NONE_HELP = "No change beyond luck was found in {pieces} pieces."
CASES_BUDGET = (
    "Watching {streams} streams. Expected false flags a week: {false}, that is one in {every}."
)
CASES_DELAY = "A doubling of a common defect is typically seen within {days}."
CASES_LOOKED = "Last looked {when}."
CASES_DELAY_UNKNOWN = "Too little is recorded to say how soon a doubling would be seen."
SINCE = "Since"
SURE_SOURCE = (
    "Share of the evidence: likelihood of each single change, all candidates together 100 %."
)
EVIDENCE_TITLE = "Seen against usual"
EVIDENCE_UNIT = "% of pieces with {what}, by day pressed"
EVIDENCE_SOURCE = (
    "Usual: the shop's rates for the same fabric, transfer and place, from its baseline period."
    " Shaded: when the change began, 90 % interval (start of a defect rate: Raftery & Akman, 1986)."
)
PEERS_TITLE = "Beside the others since then"
PEERS_UNIT = "times what the same work usually gives; the bar is the 95 % interval"
PEERS_SOURCE = "Ratio of seen over expected; interval: exact Poisson, Garwood (1936)."
WEIGHTS_TITLE = "What explains it"
WEIGHTS_UNIT, WEIGHTS_HEADS = "share of the evidence", ("Cause", "Share of the evidence")
FIRST_STEP = "Do this first"
PIECES_AT_RISK = "Pieces it touches"
BACK_TO_CASES = "All cases"
ENDED, OPEN = "Over", "Open"
NO_SUCH_FLAG_TITLE = "That is not here"
NO_SUCH_FLAG_HELP = "It may belong to another moment or another shop. Choose one from the list."
NO_SERIES = "No defect goes with this case: what was measured, and what was wanted, is above."
TO_PRESS = "See the platen"
AS_CHART = "As a control chart"

BOARD_TITLE = "Platens"
PRESSES_JUMPS_LABEL = "Parts of this page"
PRESSES_JUMPS = {
    "presses-board": "Board", "presses-platen": "Platen", "presses-service": "Service",
    "presses-due": "Checks", "presses-settings": "Settings",
}
NO_LONGER_USED = "No longer used ({n})"
MORE_IN_ORDER, ALL_IN_ORDER = "and {n} more in order", "In order ({n})"
DUE_TITLE = "Checks to come"
MAP_TITLE = "Where it is hot and cold"
MAP_UNIT = "{unit} above or below the setpoint, at each probed point"
MAP_SOURCE = (
    "Probe readings of the survey of {when}, {state}; instrument {instrument}. Between the points:"
    " bilinear, nothing beyond them. Seen from the operator's side: the first row is the far edge."
)
DRIFT_TITLE = "Drift"
OF_PLATEN = "{what}: {press}, {platen}"
DRIFT_UNIT = "mean error of each survey, {unit}"
DRIFT_SOURCE = (
    "Line: the likeliest since the last adjustment, by least squares; fan: 95 % over all lines the"
    " surveys allow (Hoeting et al. 1999). Band: the press's own tolerance."
)
MAP_WORDS = "Set to {set}. Coldest: {cold}. Hottest: {hot}."
MAP_ROW, MAP_COLUMN = "Row {}", "Column {}"
MAP_HOVER = "row %{customdata[0]}, column %{customdata[1]}: %{customdata[2]:+.1f}"
FAR, NEAR, LEFT, RIGHT = "far edge", "near edge", "left", "right"
OPERATOR_STANDS = "▲ the operator stands here"
COLDEST, HOTTEST = "coldest", "hottest"
TOLERANCE, FAN, FORECAST, LINE = "tolerance", "95 % of the forecast", "forecast", "drift"
SURVEY_NAMES = {"routine": "survey", "as_found": "as found", "as_left": "as left"}
DRIFT_HEADS = ("Survey", "State", "Mean error", "Hottest minus coldest", "EWMA", "Number")
EWMA_WORDS = {
    0: "EWMA of the surveys, each against those before it: {value}, inside ±{limit}.",
    1: "EWMA of the surveys, each against those before it: {value}, above {limit} since {since}:"
       " the mean has risen.",
    -1: "EWMA of the surveys, each against those before it: {value}, below −{limit} since {since}:"
        " the mean has fallen.",
}
EWMA_RUN = (" A platen that has not moved would signal once in {n} surveys, about {years} years at"
            " the set interval.")
DRIFT_WORDS = "{slope} in 30 days (95 %: {low} to {high}){note}."
PIECES_MAP_TITLE = "What the finished pieces of {press} say"
PIECES_MAP_UNIT = "lifted edges and weak bonds by place on the platen, times what is usual"
PIECES_MAP_SOURCE = (
    "{n} pieces pressed since {since}, first looks; {unplaced} more defects have no place noted."
    " Usual: the same mix of fabric, transfer and place at the other presses. Too many: tail of the"
    " beta-binomial for the place among all defects of the press, jobs counted as clumps; by luck"
    " alone anywhere in the shop in one look of a hundred. A print is taken to lie in the middle"
    " and to fill the platen, unless the list of placements says its size and place."
)
PIECES_MAP_NOTHING = "No place of the platen has more of them than the rest by more than luck."
PIECES_MAP_WHY_NOT = "Nothing can be said yet: {why}."
PIECES_MAP_HEADS = ("Place", "Seen", "Usual", "Times", "")
SPOTS_TITLE = "The finished pieces point at"
SEEN_OF_USUAL, TOO_MANY_HERE = "{seen} seen<br>usual {usual}", "too many"
TIMERS_TITLE, TIMERS_GOOD = "Timers and gauges", "In tolerance ({n})"
TIMERS_HEADS = ("Press", "What", "Set to", "Off by", "Tolerance", "State", "Checked")
TIMERS_SOURCE = (
    "Mean of measured less set in the latest round, ± from how far readings of a round differ"
    " (k = 2). Cannot be shown: too near the tolerance for so few readings."
)
PULLS_TITLE = "Pressure at the corners"
PULLS_HEADS = ("Press", "With", "How it holds", "State", "What that says", "Pulled")
PULLS_SOURCE = (
    "Grips are ranks, not pressures. Two steps below the middle of a round are plain; less needs"
    " three rounds at the same places: Friedman (1937), 5 %."
)
PULL_TONES = {"uneven": "alarm", "cannot_tell": "watch", "even": "calm"}
CHECK_TONES = {"out": "alarm", "not_shown": "watch", "in_tolerance": "calm"}
SETTINGS_TITLE = "Settings against recipe"
SETTINGS_LEAD = "{n} pieces pressed in the last {period}, {with_recipe} of them with a recipe."
SETTINGS_HEADS = ("Press", "What", "Outside", "Off target", "When", "By whom, on what")
SETTINGS_OF = "{n} of {of}"
SETTINGS_BY, SETTINGS_ON = "By {}", "On {}"
SETTINGS_GOOD, SETTINGS_NONE = "No piece outside ({n})", "No piece was outside its window."
SETTINGS_GOOD_HEADS = ("Press", "What", "Pieces", "Off target", "State")
SETTINGS_STATES = {"inside": ("calm", "Inside"), "not_shown": ("watch", "Cannot be shown")}
SETTINGS_UNTOLD = "What cannot be told ({n})"
SETTINGS_SOURCE = (
    "Each piece once, a counted block as its pieces, against the version of the recipe that"
    " counted when it was pressed. Outside: of the pieces held against a window, their share and"
    " its 95 % interval (Wilson, 1927), as if each piece were set by itself. Off target: set less"
    " target, median and middle 90 %. Moves: Theil (1950) and Sen (1968) slope of the days'"
    " medians with its 95 % interval, where it stands out of all rows (Mann, 1945; Benjamini and"
    " Hochberg, 1995; 5 %). Actual temperature: the one shown plus the offset of the latest"
    " survey, at most {age} old; outside where it is so beyond the survey's uncertainty"
    " (k = 2). Gauge, dial and class of a pressure are never converted. The transfer supplier's"
    " sheet and the press maker's manual come before a recipe."
)
DUE_HEADS = ("Platen", "Due", "", "State", "Why")
DUE_IN, NO_DUE = "check due {}", "no check planned"
FIRST_DUE = "first survey due now"
MEAN_SHORT, SPREAD_SHORT, NOT_JUDGED = "mean", "spread", "not judged"
MEAN_ERROR, SPREAD, UNCERTAINTY = "Mean error", "Hottest minus coldest", "Uncertainty"
TOLERANCE_IS, UNCERTAINTY_IS = "tolerance {}", "of the probe, k = 2"
CROSSES, NO_CROSSING = "Mean leaves tolerance", "not in sight"
CROSSES_BETWEEN, OPEN_ENDED = "between {first} and {last} (95 %)", "not in sight"
DECISION, NOT_DECIDED, HOW_DECIDED = "Decision", "no tolerance", "How it is decided"
DECIDED_HEADS = ("", "Measured", "Tolerance", "Uncertainty", "In tolerance to", "Out beyond",
                 "Decision", "Risk")
NOTHING_ACCEPTED = "nothing"
DECIDED_WHAT = {"mean": "Mean error", "spread": "Hottest minus coldest"}
DECIDED_SOURCE = (
    "Rule: {rule} right at the limit (setting guard_factor). Risk: chance that the true value is"
    " beyond the tolerance. Uncertainty (k = 2): of the mean, the probe and how far surveys differ;"
    " of the spread, how far points do, since the probe is off by the same at both. JCGM 106:2012,"
    " ILAC-G8:09/2019."
)
INTERVAL = "Checked every {days} days. Advice (common practice, the setting stays): {said}."
INTERVAL_ADVICE = {
    "lengthen": "{good} checks in a row found it good and no drift is shown, so every {advised}"
                " days would do, unless the trade's weekly check or a customer asks for more",
    "halve": "the newest check found it out, so check every {advised} days until {needed} in a row"
             " are good",
    "keep": "keep to it, {good} checks in a row found it good and {needed} lengthen it",
}
INTERVAL_DRIFTS = ", but not while it drifts"
CHECK_DUE, LAST_SURVEY = "Next check", "last survey {}"
SURVEY_STATES = {"routine": "routine", "as_found": "as found", "as_left": "as left"}
CAUTION_TITLE = "Before anyone touches it"
CAUTION = (
    "Platens burn and closing presses crush. Switch off, isolate, lock and let it cool as the"
    " maker's manual says; work on heaters and wiring is for a qualified electrician. The manual"
    " and local codes come first."
)
NO_PLATENS_TITLE = "No platen surveys yet"
NO_PLATENS_HELP = (
    "Put your presses on the list in Set-up; then write the first survey of each platen down here."
)
NO_SURVEY_TITLE = "This platen has not been surveyed"
NO_SURVEY_HELP = (
    "Its first survey is due now: probe nine points at working heat and write them down below."
)
TO_SURVEY, TO_PRESSES = "Write the survey down", "Add a press"

FLOOR_SHOW = "Show"
FLOOR_SHOW_WORDS = {"all": "All presses", "attention": "Needs somebody"}
FLOOR_ALL_WELL_TITLE = "No press needs anybody"
FLOOR_ALL_WELL_HELP = "No open case touches a press, and every platen check is in time."
FLOOR_JOB = "job {job}"
FLOOR_ABOVE = ": above it by more than luck"
FLOOR_MORE = "and {n} more"
FLOOR_FLAG_SINCE = "since {}"
FLOOR_NEXT_CHECK, FLOOR_NO_CHECK = "Platen check due {}", "No platen check planned"
FLOOR_FIRST_CHECK = "First platen survey due now"
FLOOR_DUE = "check due {}"
FLOOR_LEGEND = (
    "Strip: upright mark = share of pieces with a defect, box = its 95 % interval (Wilson, 1927),"
    " dotted line = usual for this mix of fabric, transfer and place.",
    "A lifted corner = look here.",
)
FLOOR_NONE_TITLE = "No presses yet"
FLOOR_NONE_HELP = "A press shows here once a piece of it is recorded, or it is on the list."
FLOOR_ELSEWHERE = "Not tied to one press"
FLOOR_FLAGS_WAIT = "Looking for changes…"
TODAY, SHIFT = "Today", "This shift"
LAST_LOOK = "Last look {}"
NEVER_LOOKED = "No look recorded"
NO_PIECES = "no pieces"
FLOOR_OF, FLOOR_PIECES = " of ", "{n} pieces"
FLOOR_FEW, FLOOR_TOO_FEW = "{bad} of {n}", "too uncertain for a rate"
FLOOR_BENCH = "At the Bench"
FLOOR_GAUGES = "Pieces with a defect"
FLOOR_OPEN = "Show those with a defect: {press}, {label}"
FLOOR_USUAL = "usual {usual}"

MISSING_TITLE = "Nothing lives at this address"
MISSING_HELP = "The link may be old or cut short. These pages exist:"


def kind_name(code: str) -> str:
    """A defect kind for people."""
    return plain_name(code)


def kind_in_sentence(code: str | None) -> str:
    """A defect kind, or any, inside a sentence."""
    return plain_name(code).lower() if code else "any defect"


def level_name(dimension: str, level: str | None) -> str:
    """A level of a dimension for people."""
    if level is None:
        return NOT_SAID
    if dimension == "defect":
        return plain_name(level)
    if dimension in ("zone", "location"):
        return level.replace("_", " ")
    return f"from {level}" if dimension == "shift" else level


def factor_name(name: str, level: str | None) -> str:
    """A factor with its level, as a cause."""
    words = DIMENSION_WORDS.get(name, name.replace("_", " "))
    if level is None:
        return words[:1].upper() + words[1:]
    shown = level.replace("_", " ") if name == "zone" else level
    return f"{words[:1].upper()}{words[1:]} {shown}"


def with_capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def flag_headline(flag: Flag) -> str:
    """A flag in a few words: what it is and what it sits on."""
    first, *rivals = [factor_name(cause.name, cause.level)
                      for cause in named_causes(flag.factor, flag.other_factors)]
    where = " or ".join([first, *(words[:1].lower() + words[1:] for words in rivals)])
    if flag.kind == "calibration":
        platen = PLATEN_WORDS.get(flag.platen or "", "platen")
        what = "heats unevenly" if "spread" in flag.characteristic else "drifts"
        return f"{with_capital(platen)} of {flag.press} {what}"
    if flag.kind == "defect_rate":
        place = f", {flag.zone.replace('_', ' ')}" if flag.zone else ""
        return f"{kind_name(flag.characteristic)}{place}: {where}"
    what = CHARACTERISTIC_WORDS.get(flag.characteristic, FLAG_KIND_WORDS[flag.kind])
    return f"{what}: {where}"


def every_so_often(per_week: float) -> str:
    """How long it takes, on average, until one comes at so many a week."""
    weeks = 1 / per_week
    if weeks >= 1.5:
        return f"{weeks:.0f} weeks"
    return f"{max(round(7 * weeks), 1)} days" if weeks * 7 >= 1.5 else "a day"
