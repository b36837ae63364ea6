"""Taking an option from a list, as a person does: again, when the list closes under the finger."""

from __future__ import annotations

from playwright.sync_api import Locator, TimeoutError

OPEN_MS, TAKE_MS = 5_000, 3_000
TRIES = 10


def choose(field: Locator, name: str, *, exact: bool = True) -> None:
    """Open the field's list and take the option of this name.

    An open calendar over the option swallows the first press and closes, an answer that arrives
    meanwhile may close the list: whoever sees that presses the field once more.
    """
    option = field.page.get_by_role("option", name=name, exact=exact).first
    for tries_left in reversed(range(TRIES)):
        try:
            if not option.is_visible():
                field.click(timeout=OPEN_MS)
                option.wait_for(timeout=OPEN_MS)
            option.click(timeout=TAKE_MS)
            return
        except TimeoutError:
            if not tries_left:
                raise
