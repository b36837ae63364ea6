"""The wording of what is done about a case. Plain trade words; numbers come in formatted."""

from __future__ import annotations

from qc.domain.action_checks import VERDICT_HEADS
from qc.domain.cases import AGREED_CHANGE, FALSE_FLAG
from qc.domain.causes import RankedCause

WORK_TITLE = "What is done about it"
LOG_TITLE = "So far"
LOG_NOBODY = "Nobody has taken it up yet."
CHECK_TITLE = "Did it work?"
CHECK_FIGURE = "Before, during and since"
CHECK_UNIT = "% of pieces with {what}; bar: 95 % interval, upright line: usual for the work of then"
CHECK_UNIT_MEAN = (
    "mean distance from what was wanted,{symbol}; bar: 95 % interval, upright line: usual"
)
CHECK_AXIS, CHECK_AXIS_MEAN = "pieces with it, %", "distance from what was wanted,{symbol}"
CHECK_SOURCE = (
    "{method}: looking again after every piece keeps the risk of either wrong answer at {risk}."
    " Wald (1945); shares: Wilson (1927)."
)
CHECK_HEADS = ("When", "Pieces", "Seen", "95 % interval", "Usual")
CHECK_COMPARE = "Before and after this action, in Trends"
CHECK_NONE = "Once an action is recorded, the pieces pressed after it are checked here by itself."
PHASE_WORDS = {"before": "before", "during": "during the fault", "after": "since the action"}
VERDICT_TONES = {
    "came_back": "calm", "better": "watch", "not_back": "alarm", "too_early": "quiet",
    "no_answer": "quiet",
}
PART_OF = "Another case has explained it: see that one"
YOUR_NAME_NEEDED = "Say who you are first: your name is kept with the step."
NEEDED = {
    "cause": "Choose a cause, or write it in your own words, first.",
    "action": "Write what was done first.", "owner": "Write the name of who sees to it first.",
    "due": "Choose the day first.", "note": "Write the note first.",
    "reopen": "Write why it is opened again first.",
}
LOOKS_BACK = "This page looks back; steps are taken on a page that shows now."
DONE_WORDS = {
    "acknowledge": "Noted: you have seen it.", "contain": "The pieces are on hold.",
    "cause": "The cause is kept.", "action": "The action is kept; what is pressed from now on is"
    " checked by itself.", "owner": "The owner is kept.", "due": "The day is kept.",
    "note": "The note is kept.", "close": "The case is closed.",
    "reopen": "The case is open again.",
}
RUNGS = {
    "acknowledge": "Seen", "contain": "Pieces on hold", "cause": "Cause", "action": "Action",
    "owner": "Who sees to it", "due": "Until when", "note": "Anything worth keeping",
    "close": "Close", "reopen": "Open again",
}
BUTTONS = {
    "acknowledge": "I have seen it", "contain": "Hold {n} pieces", "cause": "Keep the cause",
    "action": "Keep the action", "owner": "Keep the owner", "due": "Keep the day",
    "note": "Keep the note", "close": "Close the case", "reopen": "Open it again",
}
SAY_ANEW = {
    "acknowledge": "Somebody else has seen it", "cause": "Another cause",
    "action": "Another action", "owner": "Give it to somebody else",
    "due": "Another day",
}
NOTHING_TO_HOLD = "Nothing of it is left in the house that is not on hold."
HELD_HINT = "A correction of each piece, kept with your name; nothing ships that is on hold."
CAUSE_CHOOSE, CAUSE_OWN = "The likeliest here first", "or in your own words"
CAUSE_GROUP, NO_CAUSE_GROUP = "Causes", "Nothing to put right"
NO_CAUSE_WORDS = {
    AGREED_CHANGE: "Agreed change: the new normal was meant", FALSE_FLAG: "False: nothing found",
}
FOUND_HERE = "{words} · found {times} here"
CHECK_FIRST = "Check first: {check}."
ACTION_WORDS, OWNER_NAME, DUE_DAY = "What was done", "Name", "Day"
NOTE_WORDS, REOPEN_WORDS = "Note", "Why"
CLOSE_NEEDS = "Before it can be closed, say its {missing}."
CLOSE_EARLY = "Too early to tell whether the action worked: closing does not wait for it."
CLOSED_EARLY = (
    "Whether it worked could not be told yet; the check below goes on, and a rise that comes back"
    " is flagged anew."
)
STILL_HELD_ONE = "1 piece of it is still on hold."
STILL_HELD = "{n} pieces of it are still on hold."
RELEASE = (
    "Closing releases none: look at each again, then correct in Records what is done with it."
)
TO_HELD = "Pieces on hold, in Records"
CLOSE_READY = "Its cause then counts for the order of causes in this shop."
DUE_IN = {0: "today", 1: "tomorrow", 3: "in 3 days", 7: "in a week", 14: "in two weeks"}
STATE_NEW, STATE_SEEN, STATE_HELD = "New", "Seen by {by}", "On hold"
STATE_OVERDUE, STATE_DUE, STATE_CLOSED = "Overdue since {when}", "Due {when}", "Closed by {by}"
STATE_EXPLAINED = "Explained by another"
CLOSED_LIST, EXPLAINED_LIST = "Closed ({n})", "Explained by another flag ({n})"
CLOSED_FOOT = "closed {when}; {cause}"
ON_THE_HOLD_LIST = "Each of them is on the hold list, which prints by itself."
CALL_FIRST = "{n} have left the house: decide whether the customer is called. They come first."
TAKING = "Preparing the list…"
BUSY = "preparing…"
TAKE_CSV, TAKE_XLSX = "Take the list (CSV)", "as XLSX"
TAKE_HTML, TAKE_PDF = "as a page", "as PDF to print"


def check_head(verdict: str) -> str:
    """The verdict alone, as a mark."""
    head = VERDICT_HEADS[verdict]
    return head[:1].upper() + head[1:]


def cause_label(cause: RankedCause) -> str:
    """A cause in the list, with how often it was found here."""
    words = cause.words[:1].upper() + cause.words[1:]
    if not cause.n_found:
        return words
    times = {1: "once", 2: "twice"}.get(cause.n_found, f"{cause.n_found} times")
    return FOUND_HERE.format(words=words, times=times)


def asked_for(step: str, said: str) -> str:
    """What to write first, where a step needs words and has none; else nothing."""
    return "" if said.strip() else NEEDED.get(step, "")
