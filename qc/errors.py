"""One tree of errors; each branch knows its exit code.

`qc.stats` raises ValueError; every other room raises one of these. A face turns them into words
or exit codes in one place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping


class QcError(Exception):
    """Anything the program refuses or cannot do, said in one line a person can act on."""

    exit_code = 2


class InputError(QcError):
    """A file, form or option cannot be used as given. Holds every problem found, not the first."""

    def __init__(self, problems: str | Iterable[str]) -> None:
        self.problems = (problems,) if isinstance(problems, str) else tuple(problems)
        super().__init__("; ".join(self.problems))


class NotFound(QcError):
    """What was asked for is not in the store."""


class Conflict(QcError):
    """Somebody else changed the record in between, or a different one has its identity."""

    exit_code = 1


class NotPermitted(QcError):
    """This person may not do this."""


class StoreError(QcError):
    """The store cannot be reached, is damaged, or is newer than the program."""

    exit_code = 3


class FormError(InputError):
    """A form cannot be kept as it is filled in. ``by_field``: what is wrong at each field; under
    '' what concerns the whole."""

    def __init__(self, by_field: Mapping[str, Iterable[str]]) -> None:
        self.by_field = {field: tuple(words) for field, words in by_field.items()}
        super().__init__(word for words in self.by_field.values() for word in words)
