"""Where a piece is now, as far as the records say."""

from __future__ import annotations

STATUSES = ("shipped", "in_house", "pressed_again_good", "held", "scrapped")
"""In the order in which somebody must act: call the customer, then walk the racks."""

STATUS_WORDS = {
    "shipped": "shipped", "in_house": "in house", "pressed_again_good": "pressed again, good",
    "held": "held", "scrapped": "scrapped",
}
TO_BE_HELD = ("in_house", "pressed_again_good")
"""What is still in the house and not yet out of the way."""
