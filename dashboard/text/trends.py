"""Words of the Trends page: what is asked first, what moved, what it costs, before and after."""

from __future__ import annotations

from dashboard import formats
from dashboard.text import DIMENSION_WORDS as DIMENSIONS
from dashboard.text import kind_in_sentence, kind_name, level_name, with_capital
from qc.desk.before_after import BeforeAfter, Narrowed
from qc.desk.moved import BEFORE_DAYS, LEAST_PIECES, NOW_DAYS, LargestChanges, Moved

IN_DAYS, SINCE_FIRST = "in {n} days", "in all records"
AS_LONG_BEFORE = "the {n} days before"

FIRST_LOOK_LABEL = "At a glance"
YIELD_ASKED, YIELD_OF_ASKED = "Right the first time", "Free of {what}"
YIELD_WORDS = (
    "of {n} pieces {period} (95 %, as much as days vary: {low_high}); usual for this work {usual},"
    " {apart}"
)
LATER_TOO = (
    ". Seen at the first look; {n} more only later (after 24 h or a wash), ranked below and not"
    " counted here"
)
ONLY_LATER = "Seen only later"
ONLY_LATER_WORDS = (
    "at the first look on none of {n} pieces {period}; on {late} only after 24 h or a wash, which"
    " not every piece is looked at after: no rate of all pieces says how often"
)
WHOLE_WEEKS = "in whole weeks from {day}"
NOT_APART, APART = "not told from luck", "apart by more than luck"
TOO_FEW = "Too uncertain to say"
TOO_FEW_WORDS = "{bad} of {n} pieces {period}: anything from {low_high} without it is possible"
TOO_FEW_TITLE = "Too uncertain for a rate"
TOO_FEW_HELP = (
    "{bad} of {n} pieces {period} with {what}. With so few, the share without it may be anything"
    " from {low_high} (95 %, Wilson, 1927). A longer period has more pieces."
)
MOVING_ASKED = "Is it moving?"
MOVING_WORDS = {
    "rose": "▲ {times} as many", "fell": "▽ {times} as many", "luck": "Not beyond luck",
    "nothing": "Cannot be told",
}
MOVING_FOOT = "{times} as many with {what} as in {before}, for the same work ({low_high})"
MOVING_BESIDE = ". Off usual over all records, see beside; against those days alone luck can do it"
MOVING_NOTHING = "too little like work in {before} to compare with"
COST_ASKED = "What it costs"
COST_OF = "{period}; {hundred} in a hundred pieces; usual {usual}, {apart}"
COST_NOT_SAID = "Not said"
COST_SET = "Say what a piece with a defect costs"
MOST_ASKED, MOST_ASKED_COST = "What shows most", "What costs most"
MOST_WORDS = "{n} of {all} defects ({share})"
MOST_WORDS_COST = "{cost}, {n} of {all} defects ({share})"
NOTHING_SHOWS = "No defect"
TO_BEFORE_AFTER, TO_RECORDS, TO_RANKING = "Before and after", "In Records", "Ranked below"
ALL_IN_RECORDS = "All of them, in Records"
MONTHS, MONTH_PDF, MONTH_XLSX = "A month for the review:", "PDF", "XLSX"
TAKE_OUT, TAKE_CSV, TAKE_XLSX = "Take this ranking out", "as CSV", "as XLSX"

MOVED_HEADING = "Largest changes since last week"
MOVED_TITLE = "What moved by more than luck"
MOVED_UNIT = (
    "defects of the last {now} days, times what the {before} days before give for the same work;"
    " the bar is the 95 % interval"
)
MOVED_MORE = "▲ {what}: {n} defects in {days} days where its own weeks before would give {expected}"
MOVED_FEWER = (
    "▽ {what}: {n} defects in {days} days where its own weeks before would give {expected}"
)
MOVED_RATIO = ", {times} as many ({low_high})."
MOVED_NONE_TITLE = "Nothing moved by more than luck"
MOVED_NONE_HELP = (
    "{n} levels of {dimensions} were each held against their own {before} days before, at equal"
    " work. None differs by more than luck and the usual ups and downs of weeks explain."
)
MOVED_TOO_LITTLE_TITLE = "Too little to compare yet"
MOVED_TOO_LITTLE_HELP = (
    f"A level is compared once it has {LEAST_PIECES} pieces of like work both in the last"
    f" {NOW_DAYS} days and in the {BEFORE_DAYS} days before."
)
MOVED_ONE_CAUSE = "One cause can move several of them: they share pieces. Cases names the cause."
MOVED_HEADS = ("Level", "Defects", "Pieces", "Expected", "Times", "95 % interval", "p", "Verdict",
               "")
MOVED_MORE_SHORT, MOVED_FEWER_SHORT = "▲ more than before", "▽ fewer than before"
MOVED_OF = " on {n} pieces, {expected} expected"

COST_HEADING = "What it costs"
COST_TITLE = "Cost of pieces with {what}"
COST_UNIT = "{currency}, by {step} pressed"
COST_UNIT_PLAIN = "the shop's money, by {step} pressed"
COST_SAID = "{total} {period}; at the usual rates of the same work it would have been {usual}."
COST_SOURCE = (
    "Each piece with {what} counted once at {each}, the shop's setting (defect_cost), whatever"
    " became of it: pressed again, scrapped or passed. A count of what was seen, so without an"
    " interval; the price is an average."
)
COST_NO_PRICE = "What defects cost is not said yet."
COST_NO_PRICE_LINK = "Set what a piece with a defect costs"
COST_SEEN, COST_USUAL = "cost", "at the usual rates"
COST_HEADS = ("Pieces with it", "Cost", "At the usual rates", "")
COST_RANKED = "The costliest, as ranked above"
COST_RANKED_HEADS = ("Defects", "Cost", "Of all", "More than its {mix} explain", "95 % interval",
                     "")
COST_RANKED_NOTE = (
    "A piece with two kinds of defect stands in two rows of a ranking by defect. What a mark (▲)"
    " stands at is more than that by more than luck."
)

BEFORE_AFTER_HEADING = "Before and after"
AT_LABEL, SPAN_LABEL, OF_LABEL = "From this day on", "Days each way", "Of"
SPAN_WORDS = {"7": "7", "14": "14", "28": "28", "84": "84"}
OF_ALL = "all work"
OF_GROUPS = {"press": "Press {}", "fabric": "Fabric {}", "transfer": "Transfer {}"}
BA_TITLE = "Pieces with {what}, {of}: before and after {when}"
BA_UNIT = "% of pieces; the bar is the 95 % interval"
BEFORE, AFTER, LIKE_BEFORE = "before", "after", "after, had it stayed as before"
BA_HEADS = ("Stretch", "Pieces", "With the defect", "Share", "95 % interval", "")
BA_PERIODS = {"before": "Before: {}", "after": "After: {}"}
BA_ADJUSTED = "After, times as many as before for the same work"
BA_MOVED = {
    "rose": "It rose by more than luck",
    "fell": "It fell by more than luck",
    "luck": "Not told from luck",
}
BA_ESTIMATE = (
    "{head}: after, {times} as many as before for the same work ({ratio_range}), a difference of"
    " {points} ({points_range})."
)
BA_MAY_BE = "It may have {low}, stayed as it was, or {high}."
BA_FALLEN, BA_FALLEN_ANY = "fallen by up to {share}", "fallen, nobody can say how far"
BA_RISEN, BA_RISEN_ANY = "risen by up to {share}", "risen, nobody can say how far"
BA_MIX = (
    "The work got {harder}: had it come out as before, it would have given {after} of pieces,"
    " where it gave {before} before. Allowing for that, "
)
BA_HARDER, BA_EASIER = "harder", "easier"
MIX_MATTERS = 1.05
"""From this ratio on a harder or easier mix is said first. A proposed starting value, no source."""
BA_NOT_WHY = (
    "That says that it moved about then, not why: whatever else changed then, changed with it."
)
BA_NO_PIECES = {
    "before": "No piece was pressed before, in this stretch: there is nothing to compare.",
    "after": "No piece was pressed after, in this stretch: there is nothing to compare.",
}
BA_NOTHING_ALIKE = (
    "Nothing of what was pressed after was pressed before on the same fabric, transfer and place:"
    " the mix cannot be allowed for, and nothing can be said."
)
BA_NONE_SEEN = "No piece with {what} on either side: nothing can be said of how they compare."
BA_PART = "Compared are {n} of {of} pieces after: the rest had no like work before."
BA_BY_USUAL = (
    "Less than half of what was pressed after had like work before, so each stretch was held"
    " against what its own work usually gives in this shop; how sure those rates are is not in the"
    " interval."
)
BA_SPREAD = "Days vary {times} times as much as chance alone, so the intervals are that much wider."
BA_FEW_DAYS = "Too few days to tell how much days vary: the intervals allow for chance alone."
BA_EMPTY_TITLE = "Nothing to compare"


def whole_weeks(day: str) -> str:
    """Since when weeks count: the first may begin before the period."""
    return WHOLE_WEEKS.format(day=day)


def period_words(period: str) -> str:
    """A view's period, inside a sentence."""
    return SINCE_FIRST if period == "all" else IN_DAYS.format(n=period)


def narrowed_words(of: Narrowed) -> str:
    """What a comparison is narrowed to, inside a sentence."""
    if of.factor is None:
        return OF_ALL
    return f"{DIMENSIONS[of.factor]} {of.level}"


def moved_name(row: Moved) -> str:
    """A level that was compared, by name."""
    if row.dimension == "defect":
        return kind_name(row.level)
    return f"{with_capital(DIMENSIONS[row.dimension])} {level_name(row.dimension, row.level)}"


def moved_sentence(row: Moved) -> str:
    """One change in plain words."""
    words = MOVED_MORE if row.n_defects > row.expected else MOVED_FEWER
    said = words.format(what=moved_name(row), n=formats.count(row.n_defects), days=NOW_DAYS,
                        expected=formats.decimal(row.expected))
    return said + MOVED_RATIO.format(times=formats.times(row.ratio),
                                     low_high=formats.times_range(row.low, row.high))


def moved_none(found: LargestChanges) -> str:
    """What was compared where nothing moved."""
    names = dict.fromkeys(DIMENSIONS[row.dimension] for row in found.rows)
    *first, last = names
    listed = f"{', '.join(first)} and {last}" if first else last
    return MOVED_NONE_HELP.format(n=len(found.rows), dimensions=listed, before=BEFORE_DAYS)


def before_after_words(found: BeforeAfter) -> str:
    """What can and what cannot be said of a comparison."""
    what = kind_in_sentence(found.of.kind)
    for name, side in (("before", found.before), ("after", found.after)):
        if side.n_pieces == 0:
            return BA_NO_PIECES[name]
    compared = found.comparison
    if compared.n_inspected == 0:
        return BA_NOTHING_ALIKE
    if found.verdict == "nothing":
        return BA_NONE_SEEN.format(what=what)
    ratio, apart = compared.ratio, compared.difference
    mix = _mix_moved(found)
    head = BA_MOVED[found.verdict]
    said = [mix + BA_ESTIMATE.format(
        head=head[0].lower() + head[1:] if mix else head, times=formats.times(ratio.value),
        ratio_range=formats.times_range(ratio.low, ratio.high),
        points=formats.points(apart.value),
        points_range=formats.points_range(apart.low, apart.high))]
    said.append(BA_NOT_WHY if found.verdict != "luck" else _may_be(ratio.low, ratio.high))
    if compared.n_inspected < 0.95 * found.after.n_pieces:
        said.append(BA_PART.format(n=formats.count(compared.n_inspected),
                                   of=formats.count(found.after.n_pieces)))
    return " ".join(said)


def _may_be(low: float, high: float) -> str:
    fallen = BA_FALLEN_ANY if low <= 0 else BA_FALLEN.format(share=formats.share(1 - low, 0))
    risen = (BA_RISEN_ANY if high == float("inf")
             else BA_RISEN.format(share=formats.share(high - 1, 0)))
    return BA_MAY_BE.format(low=fallen, high=risen)


def _mix_moved(found: BeforeAfter) -> str:
    """What the mix alone did, where it did something and enough could be compared."""
    stayed, before = found.as_before, found.before.share
    most = found.comparison.n_inspected >= 0.5 * found.after.n_pieces
    if stayed is None or not before or not most or found.by_usual:
        return ""
    if 1 / MIX_MATTERS < stayed / before < MIX_MATTERS:
        return ""
    return BA_MIX.format(harder=BA_HARDER if stayed > before else BA_EASIER,
                         after=formats.share(stayed), before=formats.share(before))


def before_after_cautions(found: BeforeAfter) -> tuple[str, ...]:
    """What a reader must know before using the comparison."""
    said = [f"{with_capital(caution.value)}." for caution in found.comparison.cautions]
    if found.by_usual:
        said.append(BA_BY_USUAL)
    if not found.spread.is_known:
        said.append(BA_FEW_DAYS)
    elif found.spread.times > 1.15:
        said.append(BA_SPREAD.format(times=formats.decimal(found.spread.times)))
    return tuple(said)
