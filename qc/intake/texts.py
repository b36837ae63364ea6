"""A column as its distinct texts: each is read once, however often it occurs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.intake.table import Bools, Cells, Ints

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Texts:
    """``texts``: the distinct cells without blanks around; ``codes``: which one each row has."""

    codes: Ints
    texts: list[str]

    @classmethod
    def of(cls, cells: Cells) -> Texts:
        codes, uniques = pd.factorize(cells)
        return cls(codes, [text.strip() for text in uniques.tolist()])

    @property
    def filled(self) -> Bools:
        """Of each distinct text, whether anything stands there."""
        return np.array([bool(text) for text in self.texts], dtype=bool)

    @property
    def all_blank(self) -> bool:
        return not any(self.texts)

    def spread(self, values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
        """A value for each row from one for each distinct text."""
        return values[self.codes]


class Problems:
    """What is wrong with each row of a table, in the order it was found."""

    def __init__(self, n_rows: int) -> None:
        self.n_rows = n_rows
        self.of_row: dict[int, list[str]] = {}
        self.by_field: dict[int, list[tuple[str, str]]] = {}

    def add(self, row: int, message: str, *, field: str = "") -> None:
        """Add a message, or several on lines of their own; ``field``: the one it is about."""
        self.of_row.setdefault(row, []).extend(message.split("\n"))
        self.by_field.setdefault(row, []).append((field, message))

    def reason(self, row: int) -> str:
        """All that is wrong with a row, joined by ``;``, which no single message contains."""
        each = dict.fromkeys(self.of_row[row])
        return "; ".join(message.replace(";", ",") for message in each)

    def where(self, wrong: Bools, message: str, *, field: str = "") -> None:
        """One message for every wrong row."""
        for row in np.flatnonzero(wrong).tolist():
            self.add(row, message, field=field)

    def of_texts(
        self, texts: Texts, messages: Sequence[str | None], *, field: str = ""
    ) -> None:
        """The message of a distinct text for every row that has it."""
        if not any(messages):
            return
        wrong = np.array([message is not None for message in messages], dtype=bool)
        for row in np.flatnonzero(wrong[texts.codes]).tolist():
            self.add(row, messages[texts.codes[row]] or "", field=field)

    @property
    def wrong(self) -> Bools:
        """Which rows have a problem."""
        mask = np.zeros(self.n_rows, dtype=bool)
        mask[list(self.of_row)] = True
        return mask


def quoted(text: str, longest: int = 60) -> str:
    """A cell as it is shown in a message."""
    return repr(text if len(text) <= longest else text[: longest - 3] + "...")
