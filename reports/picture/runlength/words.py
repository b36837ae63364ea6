"""Wording of the pictures of run lengths. Plain trade words; no sentence here computes anything."""

from __future__ import annotations

KIND = "How soon a chart signals"
TITLES = {
    "individuals": "individuals", "xbar-r": "means, with ranges",
    "xbar-s": "means, with standard deviations", "ewma": "weighted moving average (EWMA)",
    "cusum": "cumulative sums (CUSUM)", "t2": "several values at once (T²)",
    "mewma": "several moving averages at once (MEWMA)", "p": "share nonconforming (p)",
    "np": "number nonconforming (np)", "c": "number of defects (c)", "u": "defects per unit (u)",
    "g": "units between events (g)", "t": "time between events (t)",
}
POINTS = "points until the chart signals"
SHIFT, FACTOR = "shift, sigma of the plotted statistic", "rate of events, times the usual one"
DISTANCE = "shift, as a distance in the covariance of a point"
CALM = "With no change a false signal comes after {points}"
CHANGED = "{change} is signalled after {points}"
SHIFT_OF, RATE_OF = "a shift of {shift} sigma", "a rate {shift} times the usual one"
DISTANCE_OF = "a shift of {shift}"
ON_AVERAGE, AFTER, NEVER = "{n} points on average", "{n}", "more points than can be told"
AVERAGE = "the average; worked out at the dots, straight in between"
MEDIAN = "half of all runs have signalled by here"
BAND = "from 5 to 95 of 100 runs have signalled: within the band nine runs in ten end"
NO_CHANGE = "no change: {n} points on average between false signals"
NOT_SHOWN = "off the sheet, more points than can be told: {shifts}"
FOUND = "limit found for {arl} points between false signals: {limit}"
LIMITS = {
    "width": "{value} sigma from the centre", "decision": "decision interval {value}",
    "alpha": "a chance of {value} beyond the limits",
}
BETWEEN = ", that is {span}"
STEADY = "points are counted from the change, after long use without a signal"
ZERO = "the chart starts with the change"
DESIGN = "Chart: {options}."
TABLE = ("shift", "average", "deviation")
TABLE_FACTOR = "factor"
TABLE_TITLE = "points until a signal"
