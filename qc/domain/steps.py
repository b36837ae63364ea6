"""What steps that people take have in common: a name, and words of a fit length."""

from __future__ import annotations

from qc.errors import InputError

MOST_CHARACTERS, LONGEST_NAME = 2000, 200


def check_text(step: str, text: object) -> None:
    """Refuse a step without the words it needs, or with more than are kept (InputError)."""
    if not isinstance(text, str) or not text.strip():
        raise InputError(f"the step {step} needs a text; say it in a few words")
    if len(text) > MOST_CHARACTERS:
        raise InputError(f"the text of {step} has {len(text)} characters; at most "
                         f"{MOST_CHARACTERS} are kept")
