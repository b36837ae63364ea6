"""Wording of the pictures of capability. Plain trade words; no sentence here computes anything."""

from __future__ import annotations

KIND, KIND_TOGETHER = "Capability: one measured value", "Capability: two values together"
ROOM = {
    "calm": "Room enough to the limits:",
    "watch": "Room enough to the limits is not shown:",
    "alarm": "Too little room to the limits:",
}
EQUAL = "All values are equal, so that no index can be computed:"
EQUAL_ONE = "One direction does not vary, so that no share can be fitted:"
VALUES, PLACEMENTS = ("value", "values"), ("placement", "placements")
EXPECTED = ", {share} are expected to"
ENOUGH = (
    "room enough: 3 sigma to the nearer limit, an index of 1, with all of its interval;"
    " 1.33 is often asked for (common practice)"
)
ENOUGH_TOGETHER = (
    "room enough: no more outside than one centred value with an index of 1 has, with all of its"
    " interval; 1.33 is often asked for (common practice)"
)
BARS = "{n} values, in bars {width} wide (rule of Freedman and Diaconis, 1981{more})"
ALL_EQUAL = "{n} values, all equal"
WHOLE_STEPS = ", in whole steps of {step}"
WIDENED = ", widened to show all values"
BAR_OUTSIDE = "outside the limits: {n} of {all}, {share} ({low} to {high})"
NONE_OUTSIDE = "none of {all} values lies outside the limits ({low} to {high})"
NONE_OUTSIDE_TOGETHER = "none of {all} placements lies outside ({low} to {high})"
CURVE = (
    "as many as a {name} distribution expects in such a bar; {share} of it lies outside{interval}"
)
INTERVAL = " ({low} to {high})"
LOWER, UPPER, TARGET, MEAN = "lower limit", "upper limit", "target", "mean"
MEAN_IS = "mean {mean}; sigma {total}, {inherent} {within}"
NEIGHBOURS, SUBGROUPS = "between neighbours", "within subgroups"
INDICES = "indices"
INDEX_BARS = "indices with their {confidence} intervals, and 1 and 1.33 as stitches"
BY_PERCENTILES = "ppk*"
BY_PERCENTILES_WORDS = "as it was, by percentiles of the {name} distribution"
COUNT_AXIS = "values in each bar"
DATA = "Data: {file}, {columns}; {n} {what}."

INSIDE = "placements inside"
FIELDS = (
    "so many placements that they share fields: the stronger the colour, the more; up to {most}"
    " in one"
)
OUTSIDE = "outside: {n} of {all}, {share} ({low} to {high}){drawn}"
DRAWN_ONCE = ", those on one spot drawn once"
RECTANGLE, CIRCLE = "must lie within {x}, {y}", "must lie within {radius} of {centre}"
BETWEEN, FROM, UP_TO = "{name} {span}", "{name} from {low}", "{name} up to {high}"
ELLIPSE = "holds {content} of the fitted distribution: {long} by {short}, its middle at {centre}"
EXPECTED_OUTSIDE = "{share} are expected outside ({low} to {high})"
EQUIVALENT = "as much as one value with a cp of {value} would have outside ({low} to {high})"
FRONT = "as seen from the front: to the right and down are positive"
NOT_SQUARE = "the two directions are drawn on scales of their own"

TABLE_INDICES = ("index", "value", "low", "high", "what it says")
TABLE_BARS = ("from", "to", "values", "of these outside", "expected")
TABLE_SHARES = ("share outside", "share", "low", "high")
TABLE_SPREAD = ("value", "mean", "sigma", "Anderson-Darling p")
