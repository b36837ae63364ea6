"""Counted stacks: a job's pieces written down by the stack and not one by one."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

STACK_PIECES = (5, 40)
SAME = ("job", "size", "station", "transfer_lot", "garment_lot")
"""A row stands for pieces made under the same conditions."""

FIRST_LOOK = ("attempt == 1 and stage == 'final'")
MEASURED = "dx_mm"


def in_stacks(
    looks: pd.DataFrame, share: float, rng: np.random.Generator
) -> tuple[pd.DataFrame, pd.Series]:
    """Looks with the first looks of a share of the jobs as counted stacks.

    A stack is 5 to 40 pieces of one job, size, station and lot, one length for each job; its row
    has the columns ``pieces`` and ``defective`` and the total counts in ``defects``, says when the
    first piece was pressed and the last one looked at, and leaves the disposition to the reader.
    A measured piece stays a row of its own: what is measured belongs to one garment.

    Returns
    -------
    The rows, in no order, and for each piece_id the one it is written under.
    """
    looks = looks.assign(pieces=1, defective=_defective(looks).astype(np.int64))
    jobs = looks["job"].unique()
    length = pd.Series(rng.integers(STACK_PIECES[0], STACK_PIECES[1] + 1, len(jobs)), index=jobs)
    chosen = jobs[rng.random(len(jobs)) < share]
    stacked = looks.index.isin(looks.query(FIRST_LOOK).index) & looks["job"].isin(chosen)
    stacked &= looks[MEASURED].isna()
    mine = looks[stacked].sort_values(["job", "pressed_at"], kind="stable")
    number = _stack_numbers(mine, length)
    rows = _rows(mine, number)
    written = pd.Series(looks["piece_id"].unique(), index=looks["piece_id"].unique())
    written[mine["piece_id"].to_numpy()] = rows["piece_id"].to_numpy()[number]
    return pd.concat([looks[~stacked], rows], ignore_index=True), written


def _defective(looks: pd.DataFrame) -> npt.NDArray[np.bool_]:
    return looks["defects"].notna().to_numpy()


def _stack_numbers(pieces: pd.DataFrame, length: pd.Series) -> npt.NDArray[np.int64]:
    """Which stack each piece is on, numbered through."""
    conditions = pieces.groupby(list(SAME), dropna=False, sort=False)
    place = conditions.cumcount().to_numpy() // length[pieces["job"]].to_numpy()
    both = pd.MultiIndex.from_arrays([conditions.ngroup().to_numpy(), place])
    return np.asarray(pd.factorize(both)[0], dtype=np.int64)


def _rows(pieces: pd.DataFrame, number: npt.NDArray[np.int64]) -> pd.DataFrame:
    stacks = pieces.groupby(number, sort=True)
    rows = stacks.first()
    rows["inspected_at"] = stacks["inspected_at"].max()
    rows["inspected_us"] = stacks["inspected_us"].max()
    rows["pieces"] = stacks.size()
    rows["defective"] = stacks["defective"].sum()
    rows["disposition"] = None
    rows["defects"] = _counts(pieces["defects"].to_numpy(dtype=object), number, len(rows))
    of_job = rows.groupby("job", sort=False).cumcount() + 1
    rows["piece_id"] = rows["job"] + "-S" + of_job.map("{:03d}".format)
    return rows[pieces.columns]


def _counts(
    texts: npt.NDArray[np.object_], number: npt.NDArray[np.int64], n: int
) -> npt.NDArray[np.object_]:
    """``kind@zone*count`` for each stack: pieces with that kind in that zone; None for none."""
    found: list[dict[str, int]] = [{} for _ in range(n)]
    for at, text in zip(number.tolist(), texts.tolist(), strict=True):
        for entry in text.split(";") if isinstance(text, str) else ():
            place = entry.split("*")[0].split(":")[0]
            found[at][place] = found[at].get(place, 0) + 1
    said = np.full(n, None, dtype=object)
    for at, counts in enumerate(found):
        if counts:
            said[at] = ";".join(f"{place}*{k}" if k > 1 else place for place, k in counts.items())
    return said
