"""Factors: what a change may be put down to."""

from __future__ import annotations

FACTORS = (
    "press", "station", "operator", "transfer_lot", "garment_lot", "fabric", "transfer",
    "location", "size", "time_since_start", "press_start", "shop",
)
ZONED_FACTORS = ("press", "station")
"""Factors that can spoil one zone of the print: a corner of a platen, a jig, a pad."""

LEFT_OUT = (
    "press", "station", "operator", "transfer_lot", "garment_lot", "size", "time_since_start",
    "press_start",
)
"""Factors whose levels are measured by rates that leave their own pieces out."""

LOT_FACTORS = ("transfer_lot", "garment_lot")
WHOLE_OF = {"transfer_lot": "transfer", "garment_lot": "fabric", "station": "press"}
"""Factors whose levels are each part of one level of another."""

SELDOM_MISSING = 0.15
"""Lots have to be noted by somebody; a shop that does not for up to so large a share of its pieces
is one that does."""
